package measure

import (
	"slices"
	"strconv"
	"strings"
)

// Best is what is believed of the old hinge once photos and readings were reconciled.
// Hinge.Covariance covers every length in it, thickness included.
type Best struct {
	Hinge
	Thickness Estimate    `json:"thickness,omitzero"`
	Said      []Statement `json:"said"` // statements that were taken over: finish, bearing, …

	Trace         []Trace        `json:"trace"`         // what went into each number
	Disagreements []Disagreement `json:"disagreements"` // most likely first
	ChiSquare     float64        `json:"chi_square"`    // of findings and readings about the best set
	Freedom       int            `json:"freedom"`

	// Apart holds the numbers of the photos by hinge where they show several: then no length is known.
	Apart [][]int `json:"apart,omitempty"`
	// Notes say in a sentence each what else to know of what was sent.
	Notes []string `json:"notes,omitempty"`

	// Rivals are the lengths of which what was typed leaves two values about as likely, each worth a question.
	Rivals []Rival `json:"rivals,omitempty"`

	// PrintDoubt is the relative standard uncertainty that the scale of the printed card leaves on every
	// length of the photos; 0 where another card was used or the bar beside it was measured.
	PrintDoubt float64 `json:"print_doubt,omitempty"`
}

// Trace is one input to one reconciled number.
type Trace struct {
	Quantity Key      `json:"quantity"`
	Source   string   `json:"source"` // "photo 1", "typed", "trade size"
	Text     string   `json:"text,omitempty"`
	Input    Estimate `json:"input"`
	Weight   float64  `json:"weight"`   // share of the final number, 0…1
	Residual float64  `json:"residual"` // (input − best) in standard uncertainties of that difference
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

// RivalOdds is how much likelier than the next the best value of a length must be for nobody to be asked.
const RivalOdds = 30

// A Rival is a length of which what was typed leaves two values that are about as likely.
type Rival struct {
	Quantity Quantity `json:"quantity"`
	Typed    string   `json:"typed"`
	Values   []Length `json:"values_mm"` // the likelier first
	Odds     float64  `json:"odds"`      // of the first against the second, less than RivalOdds
}

// Name is how an overrule calls the disagreement: "height:swapped".
func (d Disagreement) Name() string { return string(d.Quantity) + ":" + d.Slip }

// OfAnotherHinge reports whether the photo shows another hinge than was typed, so that nothing
// typed says how thick the leaf in the photo is.
func (b Best) OfAnotherHinge() bool {
	return slices.ContainsFunc(b.Disagreements, func(d Disagreement) bool { return d.Slip == SlipOtherHinge && !d.Overrule })
}

// PhotoNames names photos by their numbers: "photo 1", "photos 1 and 3".
func PhotoNames(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.Itoa(n)
	}
	if len(words) == 1 {
		return "photo " + words[0]
	}
	last := len(words) - 1
	return "photos " + strings.Join(words[:last], ", ") + " and " + words[last]
}

// Names of slips, as they stand in Disagreement.Slip and in an overrule ("height:swapped").
const (
	SlipSwapped     = "swapped"          // height typed for width, or from_end for from_edge
	SlipLeafWidth   = "leaf_width"       // one leaf's width for the open width
	SlipOpenWidth   = "open_width"       // the open width for one leaf's
	SlipUnit        = "unit"             // inches for millimetres or back, centimetres too
	SlipDecimal     = "decimal"          // a slipped decimal point
	SlipDigits      = "digits"           // two digits side by side exchanged
	SlipTips        = "with_tips"        // the pin's tips measured with the height
	SlipSixteenth   = "sixteenth"        // one mark of a rule misread
	SlipEighth      = "eighth"           // two marks
	SlipInch        = "inch"             // a quarter, half or whole inch, a whole centimetre
	SlipBarrelOut   = "barrel_left_out"  // the barrel not counted into the open width
	SlipBarrelTwice = "barrel_twice"     // the barrel counted twice
	SlipDiameter    = "diameter"         // a diameter typed for a radius
	SlipRadius      = "radius"           // a radius typed for a diameter
	SlipHoleEdge    = "hole_edge"        // to the edge of a hole, not its centre
	SlipCountersink = "countersink"      // the countersink's rim for the hole
	SlipBothLeaves  = "both_leaves"      // the thickness of both leaves together
	SlipUnexplained = "unexplained"      // wrong, and no usual slip explains it
	SlipWrongCard   = "wrong_card"       // the card beside the hinge is not ID-1
	SlipPrintScale  = "print_scale"      // a printed card at the wrong scale
	SlipOtherHinge  = "different_hinge"  // photo and readings are of two hinges
	SlipOtherPhoto  = "different_photos" // two photos show two hinges
	SlipSaid        = "said"             // a statement that the photo contradicts
	SlipConflict    = "conflict"         // readings that can't all be right, none likelier wrong
)
