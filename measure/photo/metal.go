package photo

import (
	"math"

	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
)

const (
	// onMetal is how far inside an edge the finder must still see leaf, mm. Its faces end within 1 to 2 mm of
	// the true edges: over the edges found right in testdata/photos and testdata/world at least nine tenths of such a line are
	// marked.
	onMetal = 3.0
	// leastMetal is the least share of that line.
	leastMetal = 0.5
)

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
	end := h.p[pHeight]/2 - onMetal
	for l, side := range [2]float64{1, -1} {
		if !h.leaves[l] {
			continue
		}
		w := h.p[pWidth0+l]
		out := side * (w - onMetal)
		least := math.Min(marked(-0.8*end, out, 0.8*end, out), math.Min(marked(end, side*0.3*w, end, side*0.75*w), marked(-end, side*0.3*w, -end, side*0.75*w)))
		if least < leastMetal {
			return true
		}
	}
	return false
}
