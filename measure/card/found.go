package card

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/geom"
)

const (
	// ISO/IEC 7810 limits, 0.25 and 0.11 mm apart; makers aim at the middle, so triangular
	// between them (JCGM 100, 4.3.9).
	cardLongSigma, cardShortSigma = 0.051, 0.0225 // mm

	// What remains of a side's place after its wall and shadow have been modelled, common to the
	// whole side.
	cardBias = 0.005 // mm
)

// A Fit is the reference card as found. The world's origin lies on the table under the
// card's centre; x runs along its long side, y along its short side, z up.
type Fit struct {
	Kind    string
	Cam     geom.Camera      // K1 = 0 unless the card itself could tell
	Corners [4]measure.Pixel // as if square: (−x,−y), (+x,−y), (+x,+y), (−x,+y) in the world
	Points  []OutlinePoint   // of the outline that it is measured by, sub-pixel
	RMS     float64          // of the points about the fitted outline, px

	Height                float64 // of that outline over the table, mm
	Shape                 Shape   // of that outline
	LongSigma, ShortSigma float64 // standard uncertainties of its length and width, mm
	Bias                  float64 // of a whole side's place, mm

	Print measure.Ratio // scale of a printed card; zero for others
	White [3]float64    // linear light of white paper; zero where it isn't known

	FocalFrom  string
	focalSigma float64 // standard uncertainty of cam.F, px, before the hinge is seen
	Lens       Lens    // what was known before the card was seen
}

// An OutlinePoint is a sub-pixel place of an outline in the picture.
type OutlinePoint struct {
	At    measure.Pixel
	Sigma float64 // standard uncertainty along the outline's normal, px
}

// Side numbers the side of the card that a place is nearest to: +x, −x, +y, −y.
func Side(x, y, a, b float64) int {
	if math.Abs(x)-a > math.Abs(y)-b {
		if x > 0 {
			return 0
		}
		return 1
	}
	if y > 0 {
		return 2
	}
	return 3
}
