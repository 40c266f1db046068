package catalog

import (
	"math"

	"leafgauge/measure"
)

// otherLeafText asks for the leaf that no photo has shown.
const otherLeafText = "Please send one more photo that shows both leaves face up beside the card: the other leaf's corners and holes may differ from this one's."

// askOtherLeaf asks for the leaf not seen where that is what keeps the first fit from being
// sure, or returns nil. Its worth is the doubt that the leaf leaves: the entropy of its being
// like the one seen.
func askOtherLeaf(old measure.Best, fits []Fit) *Question {
	if len(old.Leaves) != 1 || len(fits) == 0 || fits[0].Verdict != DropsIn || fits[0].P >= SureEnough {
		return nil
	}
	const p = pOtherLeafLike
	bits := -(p*math.Log2(p) + (1-p)*math.Log2(1-p)) * fits[0].P
	return &Question{Quantity: QPhoto, Text: otherLeafText, Gain: math.Round(bits*1000) / 1000}
}
