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
	holesEven  = 0.07            // mm, standard uncertainty: as punched, and as found
	mostRim    = 0.75            // odds that an edge is off where the holes are uneven beyond that, at the most
	slightly   = 0.3             // mm off: worth a second look
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
	if off := math.Max(2*math.Abs(end), math.Abs(edge)); off > slightly && off < mostMoved {
		before := h.clone()
		var best *hingeFit
		most := 0
		ways := [][2]float64{{1, 0}, {1, 1}, {-1, 0}} // in or out, and whether it is looked for inside of a shadow
		if 2*math.Abs(end) > slightly {
			ways = ways[:2] // an end beyond a strip laid over the other would be as even
		}
		for _, way := range ways {
			*h = before.clone()
			h.moveEdges(end, edge, way[0])
			for k, off := range outside(end, edge) {
				if off > slightly {
					h.rim[k] = way[1] * off
				}
			}
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
	h.doubted = 2*math.Abs(end) > slightly || math.Abs(edge) > slightly
	if math.Max(2*math.Abs(end), math.Abs(edge)) < 2*holesEven {
		return true
	}
	h.doubtEdges(end, edge)
	return h.solve(12)
}

// doubtEdges takes into account that an edge may be a shadow's rim for what the holes say, too near for its
// own edge to be found inside of it: what is off is this, or the holes are uneven. It counts each by its odds, and
// the arcs beside the edge with it.
func (h *hingeFit) doubtEdges(end, edge float64) {
	var uncertain [6]float64
	for k, off := range outside(end, edge) {
		// A rim, in one of ten pictures, may be off by anything up to 2 mm.
		z := off / holesEven
		odds := 0.1 / 2 / (0.9 * 2 * math.Exp(-z*z/2) / (math.Sqrt(2*math.Pi) * holesEven))
		rim := mostRim * odds / (1 + odds)
		h.edgeMean[k] = rim * off
		uncertain[k] = math.Sqrt(rim*(1-rim)) * off
		if k%3 != geom.OuterEdge {
			uncertain[k] *= math.Sqrt2 // both leaves' together
		}
		h.edgeSigma[k] = math.Hypot(h.edgeSigma[k], uncertain[k])
	}
	var arcs [2][2]float64
	for _, q := range h.outline {
		if q.kind >= geom.FirstCorner {
			arcs[q.leaf][q.kind-geom.FirstCorner]++
		}
	}
	for i := range h.outline {
		if q := &h.outline[i]; q.kind >= geom.FirstCorner {
			corner := q.kind - geom.FirstCorner
			for _, k := range [2]int{geom.OuterEdge, geom.FirstEnd + corner} {
				q.sigma = math.Hypot(q.sigma, math.Hypot(uncertain[3*q.leaf+k], h.edgeMean[3*q.leaf+k])*math.Sqrt(arcs[q.leaf][corner]))
			}
		}
	}
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
	if 2*math.Abs(end) > slightly {
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

// outside is how far outside of each edge something was taken for it, if what the holes are off by is due to
// such: the edges that moveEdges moves in.
func outside(end, edge float64) (off [6]float64) {
	kind, leaf := geom.FirstEnd, 0
	if end < 0 {
		kind = geom.SecondEnd
	}
	if edge < 0 {
		leaf = 1
	}
	off[kind], off[3+kind] = 2*math.Abs(end), 2*math.Abs(end)
	off[3*leaf+geom.OuterEdge] = math.Abs(edge)
	return off
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
