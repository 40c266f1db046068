package photo

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure/card"
	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/locate"
)

const (
	leastPinPeak, leastLeafPeak = 0.15, 0.15
	mostPinEnds                 = 6
	// Heights above the table of what the finder's points lie on, mm: the top of a barrel, a leaf's face.
	pinEndHeight, leafHeight = 10.0, 3.0
	// usualPin is a barrel's diameter before it is measured, mm.
	usualPin = 11.5
	// Hinges are as long and leaves as wide as this, mm.
	leastHeight, mostHeight     = 30.0, 210.0
	leastLeaf, mostLeaf         = 8.0, 130.0
	leastAlong                  = 0.5 // share of the axis that must be marked as leaf or barrel
	leafStep                    = 1.0 // mm
	mostGuesses                 = 3
	cornerAlong, cornerAlongAll = 0.08, 3.0 // how far along the axis a leaf's corner may lie from the pin's end: share of the height, and mm
)

// guesses are hinges by the finder's pin ends, leaf corners and leaf faces, best first: hypotheses, whose
// edges must be found.
func guesses(m *finder.Maps, c card.Fit) []locate.Hinge {
	pins := m.Peaks(finder.PinEnd, leastPinPeak)
	pins = pins[:min(len(pins), mostPinEnds)]
	corners := m.Peaks(finder.LeafCorner, leastLeafPeak)
	marked := func(w geom.Vec3) bool {
		v, _ := m.At(finder.Leaf, c.Cam.Project(w))
		return v > 0.5
	}
	var out []locate.Hinge
	for i, a := range pins {
		for _, b := range pins[:i] {
			pa, pb := c.Cam.Onto(a.At, geom.Level(pinEndHeight)), c.Cam.Onto(b.At, geom.Level(pinEndHeight))
			along := pb.Sub(pa)
			along[2] = 0
			height := along.Norm()
			if !(height > leastHeight && height < mostHeight) {
				continue
			}
			d := along.Mul(1 / height)
			across := geom.Vec3{-d[1], d[0], 0} // phi + 90°
			on := 0.0
			const places = 15
			for k := range places {
				if marked(pa.Add(along.Mul((float64(k) + 0.5) / places))) {
					on++
				}
			}
			if on < leastAlong*places {
				continue
			}
			h := locate.Hinge{Cx: (pa[0] + pb[0]) / 2, Cy: (pa[1] + pb[1]) / 2, Phi: math.Atan2(d[1], d[0]), Height: height, Barrel: usualPin}
			h.Score = (a.Height + b.Height) / 2 * on / places
			for side, sign := range [2]float64{1, -1} {
				h.Width[side] = leafWidth(marked, pa, along, across.Mul(sign))
				var far []float64
				for _, q := range corners {
					w := c.Cam.Onto(q.At, geom.Level(leafHeight)).Sub(pa)
					t, u := w.Dot(d), sign*w.Dot(across)
					end := math.Min(math.Abs(t), math.Abs(t-height))
					if end < cornerAlong*height+cornerAlongAll && u > leastLeaf && u < mostLeaf && (h.Width[side] == 0 || math.Abs(u-h.Width[side]) < 0.2*u+3) {
						far = append(far, u)
					}
				}
				if len(far) > 0 { // corners are sharper than the marked face's rim
					slices.Sort(far)
					h.Width[side] = far[len(far)/2]
					h.Score *= 1.2
				}
			}
			if h.Width[0]+h.Width[1] > 0 {
				out = append(out, h)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b locate.Hinge) int { return cmp.Compare(b.Score, a.Score) })
	return out[:min(len(out), mostGuesses)]
}

// leafWidth is how far the marked leaf reaches from the axis that begins at pa, the middle of several ways
// across; 0 for none.
func leafWidth(marked func(geom.Vec3) bool, pa, along, way geom.Vec3) float64 {
	var reach []float64
	for _, t := range []float64{0.15, 0.3, 0.5, 0.7, 0.85} {
		from := pa.Add(along.Mul(t))
		from[2] = leafHeight
		last, gap := 0.0, 0.0
		for u := leafStep; u < mostLeaf && gap < 8; u += leafStep {
			if marked(from.Add(way.Mul(u))) {
				last, gap = u, 0
			} else {
				gap += leafStep
			}
		}
		reach = append(reach, last)
	}
	slices.Sort(reach)
	if w := reach[2]; w > leastLeaf {
		return w
	}
	return 0
}
