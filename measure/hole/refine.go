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
	var cov []float64
	var seen holeSeen
	start, reach := h.bore, math.Max(6/w.scale(h.u, h.v), spanReach)
	const still = 0.02 // mm, a fraction of the blur: a second look would see the same
	for range 2 {
		before := h
		look := w.lookAt(h, reach)
		for range 4 {
			var step float64
			h, cov, step = look.improve(h, rim, rimSigma)
			if step < 1e-3 {
				break
			}
		}
		seen = holeSeen{holeShape: h, scatter: w.scatter(look.rimEdges(h), 0)}
		for s := range ringSectors {
			r := h.rimAt(look.rim, s)
			seen.rimSeen += look.rim.evidence(s, r, r, w.table.spread) / ringSectors
			outer, inner := h.boreAt(w, look.bore, s)
			seen.boreSeen += look.bore.evidence(s, outer, inner, w.table.spread) / ringSectors
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

// spans are the radii between which each sector's light is fitted.
type spans [ringSectors][2]float64

// A holeLook is the light about a hole's two circles, from about where they are.
type holeLook struct {
	w                   *faceView
	rim, bore           *ring
	rimSpans, boreSpans spans
}

// lookAt reads the light about a hole, each edge's as far as reach mm to either side. What each is seen
// over is fixed by it, and ends short of the other edge.
func (w *faceView) lookAt(h holeShape, reach float64) *holeLook {
	bu, bv, bk := w.thrown(h.u, h.v, h.depth)
	l := &holeLook{w: w,
		rim:  w.ring(h.u, h.v, math.Max(h.rim-reach-0.2, 0.2), h.rim+reach+0.2, fine),
		bore: w.ring(bu, bv, math.Max(h.bore*bk-reach-0.3, 0.1), h.bore*bk+reach+0.2, fine)}
	clear := 2 * w.table.spread
	for s := range ringSectors {
		r := h.rimAt(l.rim, s)
		b, _ := h.boreAt(w, l.rim, s)
		l.rimSpans[s] = [2]float64{math.Max(r-reach, b+clear), r + reach}
		outer, inner := h.boreAt(w, l.bore, s)
		l.boreSpans[s] = [2]float64{inner - reach, math.Min(outer+reach, h.rimAt(l.bore, s)-clear)}
	}
	return l
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
				t.blurBy(first * math.Pow(ratio, float64(k)) / ppm)
				for s := 0; s < ringSectors; s += 2 {
					if f, ok := g.fitRim(s, edgePlace{h.rim, h.rim, h.rim - spanReach, h.rim + spanReach}, &t); ok {
						misfit[k] += math.Log(f.squares() + g.noise*g.noise)
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

// rimDoubt is how far a sector's edge may lie from the rim's circle for reasons that its noise does
// not show, mm: it is an edge between two faces, rounded by bevelWidth.
const rimDoubt = 0.01

// clipped is the linear light beyond which a picture may be white for want of room (luma 249 of
// 255). Light that is truly four times as bright moves a blurred edge by as much as its blur's
// standard deviation.
const clipped = 0.95

// boreShare is how much a bore's edges count of what their noise alone would say: it is seen against a
// table in half shadow, its wall as bright as the countersink in one place and dark in the next, which
// puts them off by some 0.2 mm together; the rim tells the axis far better.
const boreShare = 0.05

// improve is one Gauss–Newton step, where the rim's radius is known before, mm with its standard
// uncertainty. It returns the covariance and the largest change, mm.
func (l *holeLook) improve(h holeShape, rim, rimSigma float64) (holeShape, []float64, float64) {
	w := l.w
	n := make([]float64, 25)
	b := make([]float64, 5)
	rims, bores := l.rimEdges(h), l.boreEdges(h)
	scatter := w.scatter(rims, rimDoubt)
	for _, o := range rims {
		v := o.sigma*o.sigma + scatter*scatter
		if o.e.outside > clipped {
			v += w.table.spread * w.table.spread
		}
		// Tukey's biweight.
		q := o.shift / (4.0 * math.Sqrt(v))
		if math.Abs(q) >= 1 {
			continue
		}
		o.addTo(n, b, (1-q*q)*(1-q*q)*o.sigma*o.sigma/v)
	}
	for _, o := range bores {
		o.addTo(n, b, boreShare)
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
	h = h.moved(d)
	h.depth = math.Max(0, h.depth)
	return h, cov, size
}

// moved is the shape with its five numbers changed by d.
func (h holeShape) moved(d [5]float64) holeShape {
	return holeShape{u: h.u + d[0], v: h.v + d[1], rim: h.rim + d[2], bore: h.bore + d[3], depth: h.depth + d[4]}
}

// rimEdges is what the sectors say of the rim.
func (l *holeLook) rimEdges(h holeShape) []edgeSeen {
	at := func(q holeShape, s int) (float64, float64) {
		r := q.rimAt(l.rim, s)
		return r, r
	}
	var all []edgeSeen
	for s := range ringSectors {
		r := h.rimAt(l.rim, s)
		if f, ok := l.rim.fitRim(s, edgePlace{r, r, l.rimSpans[s][0], l.rimSpans[s][1]}, l.w.table); ok {
			all = h.see(all, s, f, at)
		}
	}
	return all
}

// boreEdges is what they say of the bore.
func (l *holeLook) boreEdges(h holeShape) []edgeSeen {
	at := func(q holeShape, s int) (float64, float64) { return q.boreAt(l.w, l.bore, s) }
	var all []edgeSeen
	for s := range ringSectors {
		outer, inner := at(h, s)
		if f, ok := l.bore.fitBore(s, edgePlace{outer, inner, l.boreSpans[s][0], l.boreSpans[s][1]}, l.w.table); ok {
			all = h.see(all, s, f, at)
		}
	}
	return all
}

// see appends what a sector's fit says where that is any help; at gives where the two edges of a shape
// meet the sector.
func (h holeShape) see(all []edgeSeen, s int, f *edgeFit, at func(holeShape, int) (float64, float64)) []edgeSeen {
	o := edgeSeen{e: f.places()}
	if o.shift, o.sigma = o.e.shift(); o.sigma > spanReach {
		return all
	}
	outer, inner := at(h, s)
	const step = 1e-4 // mm, for the derivatives
	for i := range 5 {
		var d [5]float64
		d[i] = step
		a, b := at(h.moved(d), s)
		o.jac[0][i], o.jac[1][i] = (a-outer)/step, (b-inner)/step
	}
	return append(all, o)
}

// addTo adds what a sector says to the normal equations, weighted.
func (o *edgeSeen) addTo(n, b []float64, weight float64) {
	for i := range 5 {
		x, y := o.jac[0][i], o.jac[1][i]
		for j := range 5 {
			n[i*5+j] += weight * (x*(o.e.info[0]*o.jac[0][j]+o.e.info[1]*o.jac[1][j]) + y*(o.e.info[1]*o.jac[0][j]+o.e.info[2]*o.jac[1][j]))
		}
		b[i] += weight * (x*o.e.gradient[0] + y*o.e.gradient[1])
	}
}

// scatter is how far rims' sectors lie off beyond their noise, at least so much: the median of the shifts'
// sizes.
func (w *faceView) scatter(seen []edgeSeen, least float64) float64 {
	var sizes []float64
	for _, o := range seen {
		if o.sigma < w.table.spread {
			sizes = append(sizes, math.Abs(o.shift))
		}
	}
	if len(sizes) > 5 {
		slices.Sort(sizes)
		return math.Max(least, sizes[len(sizes)/2]/0.6745)
	}
	return least
}
