package catalog

import (
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

// What is asked where no size would part the candidates and still the first is not sure.
const (
	otherLeafText    = "Please send one more photo that shows both leaves face up beside the card: the other leaf's corners and holes may differ from this one's. If the other leaf is lost, just write so."
	otherCornersText = "One leaf's corners could not be read: are the corners of both leaves square, or round, and if round, what is the radius of each: 1/4 in, 5/8 in or another?"
	otherPhotoText   = "Please send one more photo of the same hinge beside the card, from straight above in good light: a second view makes the sizes surer."
)

// askFurther asks for what keeps the first fit from being sure to drop in: the thickness, the leaf not
// seen, corners not read, or a second look; nil where it is sure or does not drop in anyway. Gain
// is the doubt that is left about it, in bits, which is the most that an answer can tell.
func askFurther(old measure.Best, fits []Fit, told ...measure.Quantity) *Question {
	if len(fits) == 0 || fits[0].Verdict != DropsIn || fits[0].P >= SureEnough {
		return nil
	}
	if fits[0].thickDoubt >= (1-fits[0].P)/2 { // no photo shows a leaf's thickness
		a := askings[0]
		if known := a.known(old); slices.Contains(told, a.quantity) || known.Known() && known.Sigma.MM() <= a.answer {
			return nil
		}
		return &Question{Quantity: a.quantity, Text: a.text, Gain: doubtBits(fits[0].P), Where: string(a.quantity), Other: a.other}
	}
	q := &Question{Quantity: QPhoto, Text: otherPhotoText, Gain: doubtBits(fits[0].P)}
	if len(old.Leaves) == 1 {
		switch said(old.Said).first("leaf") {
		case "lost":
			return nil // nothing more can be seen
		case "":
			q.Text = otherLeafText
			return q
		}
	}
	for _, l := range old.Leaves {
		if _, ok := radiusOf(l); !ok && !slices.Contains(told, measure.QCornerRadius) {
			q.Quantity, q.Text, q.Where = measure.QCornerRadius, otherCornersText, string(measure.QCornerRadius)
			return q
		}
	}
	if photosOf(old) > 1 {
		return nil // a second view is there
	}
	return q
}

// doubtBits is what is left to tell, in bits, of a thing that is probable to p.
func doubtBits(p float64) float64 {
	return math.Round(-1000*(p*math.Log2(p)+(1-p)*math.Log2(1-p))) / 1000
}

// photosOf counts the photos that were measured, the same picture sent twice among them.
func photosOf(old measure.Best) int {
	photos := map[string]bool{}
	for _, t := range old.Trace {
		if strings.HasPrefix(t.Source, "photo ") {
			photos[t.Source] = true
		}
	}
	return len(photos)
}
