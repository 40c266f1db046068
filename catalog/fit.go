package catalog

import (
	"slices"

	"leafgauge/measure"
)

// Verdict says how a stock hinge sits where the old one was, in the trade's words.
type Verdict string

const (
	DropsIn     Verdict = "drops in"
	NewHoles    Verdict = "same cut-out, new screw holes"
	CutOutWork  Verdict = "cut-out needs work"
	LeavesGap   Verdict = "leaves a gap"
	DoesNotSuit Verdict = "does not suit"
)

// predicate goes behind "which".
func (v Verdict) predicate() string {
	switch v {
	case NewHoles:
		return "fits the cut-out with new screw holes"
	case CutOutWork:
		return "needs work on the cut-out"
	}
	return string(v)
}

// HoleFate says what becomes of one hole of the new hinge.
type HoleFate string

const (
	HoleLands HoleFate = "lands in the old hole"
	HoleClear HoleFate = "clear of it, in fresh wood"
	HoleHalf  HoleFate = "half in it"
)

// A HoleFit is one new hole against the old ones.
type HoleFit struct {
	Leaf  int            `json:"leaf"`
	Hole  int            `json:"hole"`
	New   Hole           `json:"new"` // in the old leaf's frame
	Off   measure.Length `json:"off_mm"`
	Fate  HoleFate       `json:"fate"`
	PFate float64        `json:"p"`
}

// A Fit is one stock hinge judged against the old one.
type Fit struct {
	Item      Item      `json:"item"`
	Verdict   Verdict   `json:"verdict"`
	P         float64   `json:"p"` // probability that Verdict is right
	PDropsIn  float64   `json:"p_drops_in"`
	Placement string    `json:"placement"` // "as it was", "end for end", …
	Holes     []HoleFit `json:"holes"`
	Work      []string  `json:"work"`     // what is left for the installer, sized
	Reasons   []string  `json:"reasons"`  // why this verdict
	Warnings  []string  `json:"warnings"` // door, fire, handing, stock
	Cost      float64   `json:"cost"`     // expected work and risk; the ranking's order

	Also []Alternative `json:"also"` // what a good hand would mention beside it

	Against     []string `json:"against,omitempty"`      // of Warnings, what goes against what was said or a published least, or is not settled
	Contradicts []string `json:"contradicts,omitempty"`  // of Against, what the customer said: the counter confirms
	UnlikeAsked []string `json:"unlike_asked,omitempty"` // of Warnings, another look or bearing than was asked for
	FireRated   bool     `json:"fire_rated,omitempty"`   // the opening is: the counter confirms before it is approved
	BelowFire   string   `json:"below_fire,omitempty"`   // what the published least for that opening asks for and it is not

	handOpen   bool           // it is handed, and the door's hand is not known
	points     []point        // all that speaks against it
	sits       Verdict        // by its sizes alone, whatever its hand
	drops      float64        // probability that it drops in by its sizes alone
	thickDoubt float64        // probability that its leaves are too thick or too thin
	gap        measure.Length // the widest that it may leave
}

// AgainstSaid is what of f the counter confirms before it goes out: what goes against what the customer said,
// and that it does not suit at all.
func (f Fit) AgainstSaid() []string {
	if f.Verdict == DoesNotSuit {
		return append(slices.Clone(f.Contradicts), "It does not suit the place of the old one.")
	}
	return f.Contradicts
}

// Headline is the verdict in a line of its own: nothing simply drops in where it is less than is
// published for a fire door.
func (f Fit) Headline() string {
	switch {
	case f.BelowFire == "":
		return string(f.Verdict)
	case f.Verdict == DropsIn:
		return "fits the old cut-out but is below the published least for a fire door: " + f.BelowFire
	}
	return string(f.Verdict) + ", and below the published least for a fire door: " + f.BelowFire
}

// Short is Headline for a column.
func (f Fit) Short() string {
	switch {
	case f.BelowFire == "":
		return string(f.Verdict)
	case f.Verdict == DropsIn:
		return "fits, below a fire door's least"
	}
	return string(f.Verdict) + ", below a fire door's least"
}

// An Alternative is another stock hinge worth a word.
type Alternative struct {
	StockNumber string `json:"stock_number"`
	Text        string `json:"text"` // "the same with ball bearings, 12 on hand"
}

// A Question is the one whose answer would settle the proposal best.
type Question struct {
	Quantity measure.Quantity `json:"quantity"`
	Text     string           `json:"text"`            // one plain sentence to the customer
	Gain     float64          `json:"gain"`            // expected information, bits
	Where    string           `json:"where"`           // which drawing shows where to measure
	Other    string           `json:"other,omitempty"` // asks for the same in another way, for who could not answer
}

// Wishes are what the customer asked for.
type Wishes struct {
	Finish  string          `json:"finish"` // as said; "" no wish
	Bearing measure.Bearing `json:"bearing"`
	PinKind string          `json:"pin_kind"` // loose, fixed, non-removable; "" no wish
	Handing string          `json:"handing"`  // left, right; "" not known
	Spring  string          `json:"spring"`   // spring, none; "" not said
	Count   int             `json:"count"`    // hinges wanted; 0 not said
	Text    string          `json:"text"`     // as typed
}
