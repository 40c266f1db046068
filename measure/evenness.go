package measure

import "math"

// Screw holes of a butt hinge are punched by one tool for both leaves, and that evenly: the
// places along it are the same from either end, and lie as far from the outer edge on one leaf
// as on the other (common practice, no source; worn and hand-drilled ones are off by tenths).
// Where something lies over an edge, its own edge passes for the leaf's, and then the holes
// tell: they are even about another middle.
const (
	matchHoles = 1.0  // mm: how near to its image a hole is one
	uneven     = 1.2  // mm: off the middle by more than this, the edge is not the leaf's
	mostUneven = 40.0 // mm
)

// unevenHoles reports whether the holes show that an end or an outer edge of the fit is not
// the leaf's own.
func (h *hingeFit) unevenHoles() bool {
	height := h.p[pHeight]
	var ends [][2]float64 // for each hole and its image: how far off the middle, and a weight
	total := 0
	for _, leaf := range h.holes {
		total += len(leaf)
		for i, a := range leaf {
			for j, b := range leaf[:i+1] {
				w := 2.0
				if i == j {
					w = 1
				}
				ends = append(ends, [2]float64{(a.fromEnd + b.fromEnd - height) / 2, w})
			}
		}
	}
	if off, all := agreement(ends, total); all && math.Abs(off) > uneven {
		return true
	}
	if len(h.holes) < 2 {
		return false
	}
	// Leaf against leaf, the same way up or turned end for end.
	var straight, turned [][2]float64
	for _, a := range h.holes[0] {
		for _, b := range h.holes[1] {
			d := [2]float64{a.fromEdge - b.fromEdge, 1}
			if math.Abs(a.fromEnd-b.fromEnd) < matchHoles {
				straight = append(straight, d)
			}
			if math.Abs(a.fromEnd+b.fromEnd-height) < matchHoles {
				turned = append(turned, d)
			}
		}
	}
	least := min(len(h.holes[0]), len(h.holes[1]))
	a, aOK := agreement(straight, least)
	b, bOK := agreement(turned, least)
	even := aOK && math.Abs(a) <= uneven || bOK && math.Abs(b) <= uneven
	return !even && (aOK || bOK)
}

// agreement finds the offset that most pairs agree on, the smaller where two do as well, and
// whether at least three quarters of n do.
func agreement(pairs [][2]float64, n int) (off float64, ok bool) {
	best := 0.0
	for _, p := range pairs {
		sum, near := 0.0, []float64(nil)
		for _, q := range pairs {
			if math.Abs(p[0]-q[0]) < matchHoles/2 {
				sum += q[1]
				near = append(near, q[0])
			}
		}
		if m := medianOf(near); math.Abs(m) < mostUneven && (sum > best || sum == best && math.Abs(m) < math.Abs(off)) {
			best, off = sum, m
		}
	}
	return off, n >= 2 && best >= 0.75*float64(n)
}
