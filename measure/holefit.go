package measure

// A holeFit is one countersunk hole on a face, mm, with standard uncertainties that hold
// for a known camera and face.
type holeFit struct {
	fromEdge, fromEnd float64
	sigmaPlace        float64
	rim, sigmaRim     float64 // countersink's diameter at the face; 0 where there is none
	bore, sigmaBore   float64 // through hole's diameter
	filled            bool

	sharedRim, sharedBore float64 // further standard uncertainties, that all holes have together
}
