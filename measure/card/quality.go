package card

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/picture"
)

// quality gives the reasons why a picture as a whole cannot be measured, whatever is in it.
// Blur is not among them: it is judged where the card's or other straight edges are.
func quality(f *picture.Frame) []measure.Reason {
	var out []measure.Reason
	if max(f.W, f.H) < measure.LeastSide {
		out = append(out, measure.TooSmall)
	}
	// A sample of the luma's distribution is enough.
	var hist [256]int
	n := 0
	for y := 3; y < f.H; y += 7 {
		row := f.Y[y*f.YStride : y*f.YStride+f.W]
		for x := 2; x < f.W; x += 5 {
			hist[row[x]]++
			n++
		}
	}
	above := func(level int) (share float64) {
		for _, k := range hist[level:] {
			share += float64(k)
		}
		return share / float64(max(n, 1))
	}
	switch {
	// 40 of 255 is 2 % of full light: a phone's noise, some 3 levels, then hides edges between
	// things that differ by less than a third.
	case above(40) < 0.05:
		out = append(out, measure.TooDark)
	// Paper may be clipped to white; when more than half of everything is, edges are too.
	case above(253) > 0.5:
		out = append(out, measure.Glare)
	}
	return out
}

// leastStep is the least contrast, in proportion to the light, of an edge whose blur is
// judged: wood's grain is soft by nature and fainter than the edges of a card or a hinge.
const leastStep = 0.12

// width is the blur of a lone edge, as a Gaussian's standard deviation in px: step by slope.
func (s *strip) width() (sigma float64, ok bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range s.y {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	var slope float64
	for k := 2; k < len(s.y); k++ {
		slope = math.Max(slope, math.Abs(s.y[k]-s.y[k-2])/(2*s.step))
	}
	if hi-lo < 8 || hi-lo < leastStep*(hi+lo) || slope == 0 {
		return 0, false
	}
	return (hi - lo) / (slope * math.Sqrt(2*math.Pi)), true
}
