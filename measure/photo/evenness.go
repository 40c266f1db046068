package photo

import (
	"math"
	"slices"

	"leafgauge/measure/geom"
	"leafgauge/measure/hole"
	"leafgauge/measure/picture"
)

// Screw holes of a butt hinge are punched by one tool for both leaves, and that evenly: the
// places along it are the same from either end, and lie as far from the outer edge on one leaf
// as on the other (common practice, no source; worn and hand-drilled ones are off by tenths).
// Where a hard shadow's rim or something laid over an edge passes for the leaf's edge, the holes
// tell: they are even about another middle.
const (
	slightly   = 0.3             // mm off the middle: worth a second look
	uneven     = 0.7             // mm off the middle: the edge is not the leaf's
	mostUneven = 12.0            // mm
	mostMoved  = picture.Inwards // mm: what may pass for an edge is the rim of the leaf's shadow
)

// findHolesEvenly finds the holes and, where they are uneven, looks for the edge that they speak
// against where they say that it is. It reports whether the holes found at last are even.
func (h *hingeFit) findHolesEvenly(f *picture.Frame) bool {
	look := func() (end, edge float64) {
		cam := h.camera(h.p)
		h.holes = hole.Find(f, &cam, h.faces())
		return h.unevenness()
	}
	end, edge := look()
	if off := math.Max(math.Abs(end), math.Abs(edge)); off > slightly && math.Max(2*math.Abs(end), math.Abs(edge)) < mostMoved {
		before := h.clone()
		var best *hingeFit
		most := 0
		ways := []float64{1, -1}
		if math.Abs(end) > slightly {
			ways = ways[:1] // an end beyond a strip laid over the other would be as even
		}
		for _, in := range ways {
			*h = before.clone()
			h.moveEdges(end, edge, in)
			ok := true
			for range 2 {
				const reach = 0.5
				h.outlineAround(f, reach)
				h.cornersAround(f, 1.5*reach)
				if h.restartCorners() {
					h.cornersAround(f, 1.5*reach)
				}
				h.barrelAround(f, 2*reach)
				ok = ok && h.solve(12)
			}
			newEnd, newEdge := look()
			if ok && h.seen() && h.endsSeen() && math.Hypot(newEnd, newEdge) <= math.Hypot(end, edge)/2 && len(h.outline) > most {
				now := h.clone()
				best, most = &now, len(h.outline)
			}
		}
		if best == nil {
			best = &before
		}
		*h = *best
		end, edge = h.unevenness()
	}
	if math.Abs(end) > uneven || math.Abs(edge) > uneven {
		return false
	}
	h.doubted = math.Abs(end) > slightly || math.Abs(edge) > slightly
	if !h.doubted {
		return true
	}
	// Either they are uneven or an edge is not where it seems to be.
	for k := range h.edgeSigma {
		off := 2 * end
		if k%3 == geom.OuterEdge {
			off = edge
		}
		h.edgeSigma[k] = math.Hypot(h.edgeSigma[k], off)
	}
	return h.solve(12)
}

// endsSeen reports whether both ends were seen on every leaf.
func (h *hingeFit) endsSeen() bool {
	for leaf, seen := range h.edgesSeen() {
		if h.leaves[leaf] && !((seen[geom.FirstEnd] || seen[geom.FirstCorner]) && (seen[geom.SecondEnd] || seen[geom.SecondCorner])) {
			return false
		}
	}
	return true
}

// moveEdges moves the edges that the holes speak against: in where what passes for an edge lies outside of it, or,
// with in −1, out where on the other side something within passes for it. end is how far the holes' middle lies off the leaves', towards the second end; edge how much
// farther from the outer edge leaf 0's holes lie than leaf 1's.
func (h *hingeFit) moveEdges(end, edge, in float64) {
	if math.Abs(end) > slightly {
		h.p[pHeight] -= in * 2 * math.Abs(end)
		s, c := math.Sincos(h.p[pPhi])
		h.p[pX] += end * c
		h.p[pY] += end * s
	}
	if math.Abs(edge) > slightly {
		// The leaves are of one width: one edge moves, the axis by half of that, the same way.
		h.p[pWidth0] -= in * math.Abs(edge) / 2
		h.p[pWidth1] -= in * math.Abs(edge) / 2
		s, c := math.Sincos(h.p[pPhi])
		h.p[pX] -= edge / 2 * -s
		h.p[pY] -= edge / 2 * c
	}
	copy(h.start[:], h.p)
}

// clone is a copy that fitting h further leaves as it is.
func (h *hingeFit) clone() hingeFit {
	c := *h
	c.p, c.outline, c.barrel = slices.Clone(h.p), slices.Clone(h.outline), slices.Clone(h.barrel)
	return c
}

// unevenness tells how far the holes' middle lies off the leaves' middle, towards the second
// end, and how much farther from the outer edge leaf 0's holes lie than leaf 1's, mm; 0 where the
// holes don't tell, infinite where there are many and they are even about nothing.
func (h *hingeFit) unevenness() (end, edge float64) {
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
				ends = append(ends, [2]float64{(a.FromEnd + b.FromEnd - height) / 2, w})
			}
		}
	}
	switch off, ok := agreement(ends, total); {
	case ok:
		end = off
	case total >= 3:
		return math.Inf(1), 0 // as many holes should be even about some middle
	}
	if len(h.holes) < 2 {
		return end, 0
	}
	// Leaf against leaf, the same way up or turned end for end.
	var straight, turned [][2]float64
	for _, a := range h.holes[0] {
		for _, b := range h.holes[1] {
			d := [2]float64{a.FromEdge - b.FromEdge, 1}
			if math.Abs(a.FromEnd-b.FromEnd) < hole.Near {
				straight = append(straight, d)
			}
			if math.Abs(a.FromEnd+b.FromEnd-height-2*end) < hole.Near {
				turned = append(turned, d)
			}
		}
	}
	least := min(len(h.holes[0]), len(h.holes[1]))
	a, aOK := agreement(straight, least)
	b, bOK := agreement(turned, least)
	switch {
	case aOK && (!bOK || math.Abs(a) <= math.Abs(b)):
		edge = a
	case bOK:
		edge = b
	}
	return end, edge
}

// agreement finds the offset that most pairs agree on, the smaller where two do as well, and
// whether at least three quarters of n do.
func agreement(pairs [][2]float64, n int) (off float64, ok bool) {
	best := 0.0
	for _, p := range pairs {
		sum, near := 0.0, []float64(nil)
		for _, q := range pairs {
			if math.Abs(p[0]-q[0]) < hole.Near/2 {
				sum += q[1]
				near = append(near, q[0])
			}
		}
		if m := geom.Median(near); math.Abs(m) < mostUneven && (sum > best || sum == best && math.Abs(m) < math.Abs(off)) {
			best, off = sum, m
		}
	}
	return off, n >= 2 && best >= 0.75*float64(n)
}
