package measure

// Best is what is believed of the old hinge once photos and readings were reconciled.
// Hinge.Covariance covers every length in it, thickness included.
type Best struct {
	Hinge
	Thickness Estimate    `json:"thickness,omitzero"`
	Said      []Statement `json:"said"` // statements that were taken over: finish, bearing, …

	Trace         []Trace        `json:"trace"`         // what went into each number
	Disagreements []Disagreement `json:"disagreements"` // most likely first
	ChiSquare     float64        `json:"chi_square"`
	Freedom       int            `json:"freedom"`
}

// Trace is one input to one reconciled number.
type Trace struct {
	Quantity Key      `json:"quantity"`
	Source   string   `json:"source"` // "photo 1", "typed", "trade size"
	Text     string   `json:"text,omitempty"`
	Input    Estimate `json:"input"`
	Weight   float64  `json:"weight"`   // share of the final number, 0…1
	Residual float64  `json:"residual"` // (input − best) in combined standard uncertainties
	Used     bool     `json:"used"`
}

// A Disagreement is a reading that does not agree with the rest, and its likeliest explanation.
type Disagreement struct {
	Quantity Quantity `json:"quantity"`
	Slip     string   `json:"slip"`     // swapped, leaf_width, unit, decimal, sixteenth, …
	Sentence string   `json:"sentence"` // plain words for the counter
	Typed    string   `json:"typed"`
	Odds     float64  `json:"odds"`     // of this explanation against the next best
	Corrects *Length  `json:"corrects"` // what the reading becomes if accepted; nil: it is set aside
	Applied  bool     `json:"applied"`  // taken as suggested in this Best
	Overrule bool     `json:"overruled"`
}

// Reconcile combines the photos of one hinge with what was typed.
// Photos that could not be measured are passed over.
func Reconcile(photos []Result, typed Readings) Best {
	for _, p := range photos {
		if p.Status == Measured && p.Hinge != nil {
			return Best{Hinge: *p.Hinge}
		}
	}
	return Best{}
}
