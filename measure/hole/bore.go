package hole

import "math"

// measureBore measures the bore of a refined hole by itself, about the rim's axis.
func (w *faceView) measureBore(h *holeSeen) {
	const reach = 3 * boreStep
	if r, sigma, ok := w.scanBores(h.holeShape, w.thickness, h.bore-reach, h.bore+reach, fine).near(h.bore, boreReach); ok {
		h.bore, h.cov[3*5+3] = r, sigma*sigma
	}
}

// boreMisfit is how badly a ring's light agrees with a bore: the sum over the sectors of the
// logarithm of the residuals' sum of squares, which is the likelihood when each sector has a
// noise of its own.
func (w *faceView) boreMisfit(h holeShape, g *ring, spans *spans, every int) float64 {
	t := w.table
	var sum float64
	for s := 0; s < ringSectors; s += every {
		outer, inner := h.boreAt(w, g, s)
		// An edge beyond the span is held at its end, so that all bores are judged by the same
		// sectors.
		outer = math.Max(math.Min(outer, spans[s][1]-1.6*t.spread), spans[s][0]+1.6*t.spread)
		inner = math.Max(math.Min(inner, outer), spans[s][0]+1.6*t.spread)
		if f, ok := g.fitBore(s, edgePlace{outer, inner, spans[s][0], spans[s][1]}, t); ok {
			sum += math.Log(f.squares() + g.noise*g.noise)
		}
	}
	return sum
}

// A boreScan is how a hole's light disagrees with bores of rising radius, each as deep as its
// countersink would make it.
type boreScan struct {
	low    float64 // first radius, mm
	misfit []float64
}

const boreStep = 0.08 // mm: under the blur, so that a parabola through three steps is enough

// scanBores tries bores of radius low…high about the axis of h. How much of the light is looked
// at is as for a leaf of the given thickness.
func (w *faceView) scanBores(h holeShape, thickness, low, high float64, how int) boreScan {
	t := w.table
	sc := boreScan{low: low}
	every, beyond := 1, spanReach
	if how == coarse {
		every, beyond = 2, spanReach/2
	}
	small, large := h, h
	small.bore, large.bore = low, high
	truly := w.thickness
	w.thickness = thickness
	small.depth, large.depth = small.depthExpected(thickness), large.depthExpected(thickness)
	bu, bv, k := w.thrown(h.u, h.v, (small.depth+large.depth)/2)
	g := w.ring(bu, bv, math.Max(low*k-beyond-0.3, 0.1), high*k+beyond+0.3, how)
	var spans spans
	for s := range ringSectors {
		_, inner := small.boreAt(w, g, s)
		outer, _ := large.boreAt(w, g, s)
		spans[s] = [2]float64{inner - beyond, math.Min(outer+beyond, h.rimAt(g, s)-2*t.spread)}
	}
	w.thickness = truly
	for x := low; x <= high+1e-9; x += boreStep {
		h.bore = x
		h.depth = h.depthExpected(w.thickness)
		sc.misfit = append(sc.misfit, w.boreMisfit(h, g, &spans, every))
	}
	return sc
}

// near is the radius that agrees best of those within reach of mid, with its standard
// uncertainty; ok is false where none of them agrees better than its neighbours.
func (sc boreScan) near(mid, reach float64) (r, sigma float64, ok bool) {
	best := -1
	for i := 1; i+1 < len(sc.misfit); i++ {
		m := sc.misfit
		if math.Abs(sc.low+float64(i)*boreStep-mid) > reach || m[i] > m[i-1] || m[i] > m[i+1] {
			continue
		}
		if best < 0 || m[i] < m[best] {
			best = i
		}
	}
	if best < 0 {
		return mid, 0, false
	}
	m := sc.misfit[best-1 : best+2]
	bend := m[0] - 2*m[1] + m[2]
	if bend <= 0 {
		return mid, 0, false
	}
	return sc.low + (float64(best)+(m[0]-m[2])/2/bend)*boreStep, boreStep / math.Sqrt(bend), true
}
