package hole

// A Fit is one countersunk hole on a face, mm, with standard uncertainties that hold
// for a known camera and face.
type Fit struct {
	FromEdge, FromEnd float64
	SigmaPlace        float64
	Rim, SigmaRim     float64 // countersink's diameter at the face; 0 where there is none
	Bore, SigmaBore   float64 // through hole's diameter
	Filled            bool

	SharedRim, SharedBore float64 // further standard uncertainties, that all holes have together
}
