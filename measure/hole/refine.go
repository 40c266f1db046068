package hole

import (
	"leafgauge/measure/geom"
	"math"
	"slices"
)

// refine fits both circles together.
func (w *faceView) refine(h holeShape) holeSeen { return w.refineLike(h, 0, math.Inf(1)) }

// refineLike does so where the rim's radius is known before, mm with its standard uncertainty.
func (w *faceView) refineLike(h holeShape, rim, rimSigma float64) holeSeen {
	ppm := w.scale(h.u, h.v)
	t := w.table
	var cov []float64
	var seen holeSeen
	start := h.bore
	const still = 0.02 // mm, a fraction of the blur: a second look would see the same
	for range 2 {
		before := h
		// What each edge is seen over is fixed for a pass, and ends short of the other edge.
		reach := math.Max(6/ppm, spanReach)
		bu, bv, bk := w.thrown(h.u, h.v, h.depth)
		rimRing := w.ring(h.u, h.v, math.Max(h.rim-reach-0.2, 0.2), h.rim+reach+0.2, fine)
		boreRing := w.ring(bu, bv, math.Max(h.bore*bk-reach-0.3, 0.1), h.bore*bk+reach+0.2, fine)
		var rimSpans, boreSpans [ringSectors][2]float64
		for s := range ringSectors {
			r := h.rimAt(rimRing, s)
			b, _ := h.boreAt(w, rimRing, s)
			rimSpans[s] = [2]float64{math.Max(r-reach, b+2*t.spread), r + reach}
			outer, inner := h.boreAt(w, boreRing, s)
			boreSpans[s] = [2]float64{inner - reach, math.Min(outer+reach, h.rimAt(boreRing, s)-2*t.spread)}
		}
		for range 4 {
			var step float64
			h, cov, step = w.improve(h, rim, rimSigma, rimRing, boreRing, rimSpans, boreSpans, t)
			if step < 1e-3 {
				break
			}
		}
		seen = holeSeen{holeShape: h}
		for s := range ringSectors {
			r := h.rimAt(rimRing, s)
			seen.rimSeen += rimRing.evidence(s, r, r, t.spread) / ringSectors
			outer, inner := h.boreAt(w, boreRing, s)
			seen.boreSeen += boreRing.evidence(s, outer, inner, t.spread) / ringSectors
		}
		if math.Abs(h.u-before.u) < still && math.Abs(h.v-before.v) < still && math.Abs(h.rim-before.rim) < still {
			break
		}
	}
	copy(seen.cov[:], cov)
	for i := range 5 {
		seen.cov[3*5+i], seen.cov[i*5+3] = 0, 0
	}
	seen.bore, seen.cov[3*5+3] = start, boreUnseen*boreUnseen
	return seen
}

// focusOn sets how blurred edges are to what the rims' light agrees with best. Blur that is taken
// for larger than it is makes a bore look smaller, by a tenth of a pixel for a fifth.
func focusOn(views []*faceView, seen [][]holeSeen) {
	const first, ratio = 0.45, 1.3 // px
	var misfit [6]float64
	for k := range misfit {
		off := math.Log(first*math.Pow(ratio, float64(k))/edgeSpread) / edgeSpreadDoubt
		misfit[k] = off * off / 2
	}
	var t edgeTable // without shades, which no rim has
	for i, w := range views {
		ppm := w.scale(w.face.Width/2, w.face.Height/2)
		for _, h := range seen[i] {
			g := w.ring(h.u, h.v, h.rim-spanReach-0.1, h.rim+spanReach+0.1, fine)
			for k := range misfit {
				t.spread = first * math.Pow(ratio, float64(k)) / ppm
				for s := 0; s < ringSectors; s += 2 {
					if e, ok := g.edges(s, h.rim, h.rim, h.rim-spanReach, h.rim+spanReach, &t, false, false); ok {
						misfit[k] += math.Log(e.rss + g.noise*g.noise)
					}
				}
			}
		}
	}
	best := 1
	for k := 1; k+1 < len(misfit); k++ {
		if misfit[k] < misfit[best] {
			best = k
		}
	}
	at := float64(best)
	if bend := misfit[best-1] - 2*misfit[best] + misfit[best+1]; bend > 0 {
		at += math.Max(-1, math.Min(1, (misfit[best-1]-misfit[best+1])/2/bend))
	}
	for _, w := range views {
		w.table = newEdgeTable(first * math.Pow(ratio, at) / w.scale(w.face.Width/2, w.face.Height/2))
	}
}

// boreUnseen is the standard uncertainty, mm, of the radius of a bore that is not seen by
// itself and takes the size of the others.
const boreUnseen = 0.1

// spanReach is how far to either side of an edge its light is fitted, mm: over more than the
// fading of the light beside a bore.
const spanReach = 0.65

// depthSigma is how far the countersink's depth may differ from depthExpected, mm: cut deeper
// than the head needs, a cone of 90° instead of 82° (12 % of the depth), an edge broken.
const depthSigma = 0.08

// An edgeSeen is what one sector says, and how that hangs on the hole's five numbers.
type edgeSeen struct {
	e     sectorEdge
	jac   [2][5]float64
	shift float64 // of both edges together, mm, and its standard uncertainty
	sigma float64
}

// rimDoubt and boreDoubt are how far a sector's edge may lie from the circle for reasons that
// its noise does not show, mm. A rim is an edge between two faces, rounded by bevelWidth. A
// bore is seen against a table in half shadow, its wall as bright as the countersink in one
// place and dark in the next.
const rimDoubt, boreDoubt = 0.01, 0.2

// clipped is the linear light beyond which a picture may be white for want of room (luma 249 of
// 255). Light that is truly four times as bright moves a blurred edge by as much as its blur's
// standard deviation.
const clipped = 0.95

const boreShare = 0.05

// improve is one Gauss–Newton step. It returns the covariance and the largest change, mm.
func (w *faceView) improve(h holeShape, rim, rimSigma float64, rimRing, boreRing *ring, rimSpans, boreSpans [ringSectors][2]float64, t *edgeTable) (holeShape, []float64, float64) {
	var all []edgeSeen
	add := func(g *ring, spans *[ringSectors][2]float64, shade bool, at func(holeShape, int) (float64, float64)) {
		for s := range ringSectors {
			outer, inner := at(h, s)
			e, ok := g.edges(s, outer, inner, spans[s][0], spans[s][1], t, shade, true)
			if !ok {
				continue
			}
			o := edgeSeen{e: e}
			if o.shift, o.sigma = e.shift(); o.sigma > spanReach {
				continue
			}
			const d = 1e-4
			for i := range 5 {
				q := h
				switch i {
				case 0:
					q.u += d
				case 1:
					q.v += d
				case 2:
					q.rim += d
				case 3:
					q.bore += d
				case 4:
					q.depth += d
				}
				a, b := at(q, s)
				o.jac[0][i], o.jac[1][i] = (a-outer)/d, (b-inner)/d
			}
			all = append(all, o)
		}
	}
	add(rimRing, &rimSpans, false, func(q holeShape, s int) (float64, float64) {
		r := q.rimAt(rimRing, s)
		return r, r
	})
	rims := len(all)
	add(boreRing, &boreSpans, true, func(q holeShape, s int) (float64, float64) { return q.boreAt(w, boreRing, s) })
	// Scatter beyond the noise, of rim and bore: the median of the shifts' sizes.
	scatter := [2]float64{rimDoubt, boreDoubt}
	for kind, part := range [2][]edgeSeen{all[:rims], all[rims:]} {
		var sizes []float64
		for _, o := range part {
			if o.sigma < t.spread {
				sizes = append(sizes, math.Abs(o.shift))
			}
		}
		if len(sizes) > 5 {
			slices.Sort(sizes)
			scatter[kind] = math.Max(scatter[kind], sizes[len(sizes)/2]/0.6745)
		}
	}
	n := make([]float64, 25)
	b := make([]float64, 5)
	for k, o := range all {
		kind := 0
		if k >= rims {
			kind = 1
		}
		v := o.sigma*o.sigma + scatter[kind]*scatter[kind]
		if o.e.outside > clipped {
			v += t.spread * t.spread
		}
		q := o.shift / (4.0 * math.Sqrt(v))
		if kind == 1 {
			q = 0
		}
		if math.Abs(q) >= 1 {
			continue
		}
		wt := (1 - q*q) * (1 - q*q) * o.sigma * o.sigma / v
		if kind == 1 {
			wt = boreShare
		}
		for i := range 5 {
			x, y := o.jac[0][i], o.jac[1][i]
			for j := range 5 {
				n[i*5+j] += wt * (x*(o.e.info[0]*o.jac[0][j]+o.e.info[1]*o.jac[1][j]) + y*(o.e.info[1]*o.jac[0][j]+o.e.info[2]*o.jac[1][j]))
			}
			b[i] += wt * (x*o.e.gradient[0] + y*o.e.gradient[1])
		}
	}
	// The depth expected: z − (rim − bore)/tan = 0 or z = thickness.
	pj := [5]float64{0, 0, 0, 0, 1}
	if (h.rim-h.bore)/countersinkTan < w.thickness {
		pj[2], pj[3] = -1/countersinkTan, 1/countersinkTan
	}
	pe := h.depthExpected(w.thickness) - h.depth
	for i := range 5 {
		for j := range 5 {
			n[i*5+j] += pj[i] * pj[j] / (depthSigma * depthSigma)
		}
		b[i] += pj[i] * pe / (depthSigma * depthSigma)
		n[i*5+i] += 1e-6
	}
	n[2*5+2] += 1 / (rimSigma * rimSigma)
	b[2] += (rim - h.rim) / (rimSigma * rimSigma)
	cov, ok := geom.InverseSymmetric(n, 5)
	if !ok {
		return h, nil, 0
	}
	var d [5]float64
	var size float64
	for i := range 5 {
		for j := range 5 {
			d[i] += cov[i*5+j] * b[j]
		}
		d[i] = math.Max(-0.3, math.Min(0.3, d[i]))
		size = math.Max(size, math.Abs(d[i]))
	}
	h.u += d[0]
	h.v += d[1]
	h.rim += d[2]
	h.bore += d[3]
	h.depth = math.Max(0, h.depth+d[4])
	return h, cov, size
}
