package photo

import (
	"math"
	"slices"

	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/hole"
)

const (
	// onMetal is how far inside an edge the finder must still see leaf, mm. Its faces end within 1 to 2 mm of
	// the true edges: over the edges found right in testdata/photos and testdata/world at least nine tenths of such a line are
	// marked.
	onMetal = 3.0
	// leastMetal is the least share of that line.
	leastMetal = 0.5
	// leastHolePeak is how sure the finder must be of a hole.
	leastHolePeak = 0.3
	holeNear      = 3.0 // mm from the finder's place to the hole
)

// missesHoles reports whether the finder sees more holes on the leaves that were not found than were: then what was
// fitted is hardly the hinge, or its holes can't be measured.
func (h *hingeFit) missesHoles(seen *finder.Maps) bool {
	cam := h.camera(h.p)
	faces := h.faces()
	missed := 0
	near := math.Max(holeNear, 1.5*seen.PerPlace/cam.PxPerMM(faces[0].O))
	for _, q := range seen.Peaks(finder.Hole, leastHolePeak) {
		for l, face := range faces {
			a, b := face.Place(&cam, q.At)
			if a < 0 || b < 0 || a > face.Width-h.p[pBarrel]/2 || b > face.Height {
				continue
			}
			if !slices.ContainsFunc(h.holes[l], func(m hole.Fit) bool { return math.Hypot(m.FromEdge-a, m.FromEnd-b) < near }) {
				missed++
			}
		}
	}
	return missed > h.holeCount()
}

// offMetal reports whether an edge of a leaf was laid where the finder sees none: on a shadow's rim, a board's
// seam or a thing beside the hinge.
func (h *hingeFit) offMetal(seen *finder.Maps) bool {
	cam := h.camera(h.p)
	s, c := math.Sincos(h.p[pPhi])
	// marked is the share of leaf along a line between two places of the hinge: along the axis and away from it, mm.
	marked := func(t0, u0, t1, u1 float64) float64 {
		const places = 17
		sum, n := 0.0, 0.0
		for k := range places {
			w := (float64(k) + 0.5) / places
			t, u := t0+w*(t1-t0), u0+w*(u1-u0)
			p := cam.Project(geom.Vec3{h.p[pX] + t*c - u*s, h.p[pY] + t*s + u*c, 2})
			if v, ok := seen.At(finder.Leaf, p); ok {
				sum, n = sum+v, n+1
			}
		}
		return sum / math.Max(n, 1)
	}
	// Where the finder's places are wide, its faces' ends are as blurred.
	inside := math.Max(onMetal, 1.5*seen.PerPlace/cam.PxPerMM(h.faces()[0].O))
	end := h.p[pHeight]/2 - inside
	for l, side := range [2]float64{1, -1} {
		if !h.leaves[l] {
			continue
		}
		w := h.p[pWidth0+l]
		out := side * (w - inside)
		least := math.Min(marked(-0.8*end, out, 0.8*end, out), math.Min(marked(end, side*0.3*w, end, side*0.75*w), marked(-end, side*0.3*w, -end, side*0.75*w)))
		if least < leastMetal {
			return true
		}
	}
	return false
}
