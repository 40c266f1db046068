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

// smeared reports whether the straight edges of some direction are all blurred: by movement in
// one direction, or by focus in all.
func smeared(f *picture.Frame, lines []reach, n int) bool {
	// 0.1 % of the picture's longer side: 0.3 mm where it shows 300 mm, like mostBlur.
	limit := math.Max(2.5, 0.001*float64(max(f.W, f.H)))
	const bins = 6
	var sharpest [bins]float64
	var count [bins]int
	reach := 6 * limit
	for _, l := range lines {
		if l.late || l.covered < 0.05*float64(max(f.W, f.H))/float64(n) {
			continue
		}
		normal := measure.Pixel{X: -l.d.Y, Y: l.d.X}
		st := newStrip(-reach, reach, 1)
		for _, p := range l.pieces {
			for t := p[0]; t < p[1]; t++ {
				at := measure.Pixel{X: (l.c.X + t*l.d.X) * float64(n), Y: (l.c.Y + t*l.d.Y) * float64(n)}
				if f.Inside(at, reach) {
					st.add(f, at, normal)
				}
			}
		}
		if st.rows < 10 {
			continue
		}
		s, ok := st.width()
		if !ok {
			continue
		}
		k := int((math.Atan2(l.d.Y, l.d.X)/math.Pi+2)*bins+0.5) % bins
		if count[k] == 0 || s < sharpest[k] {
			sharpest[k] = s
		}
		count[k]++
	}
	for k, c := range count {
		if c >= 3 && sharpest[k] > limit {
			return true
		}
	}
	return false
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
