package hole

import (
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// A countersunk screw hole is two circles on one axis: the rim, where the countersink meets
// the leaf's face, and the bore, the through hole, whose upper edge lies deeper. Seen from
// the eye, a circle that is parallel to the face throws a circle onto the face (the eye is
// the centre of a similarity between parallel planes). So the whole hole is worked in the
// face's own plane: rim and bore are both circles there, the bore smaller by s = h/(h + z)
// and shifted away from the eye's foot point by (1 − s) times its distance from it, where h
// is the eye's height over the face and z the depth.

// countersinkTan is the tangent of half the countersink's angle: 82° included, the angle of
// flat heads of inch screws (ASME B18.6.1 and B18.6.3).
var countersinkTan = math.Tan(41 * math.Pi / 180)

// Limits of what is taken for a screw hole, mm. Hinge screws run from No. 6 to No. 14: head
// 7.1–12.9 mm (ASME B18.6.1, flat head), clearance hole 3.7–6.7 mm; the limits leave room for
// countersinks cut shallow or deep and for metric parts.
const (
	rimMin, rimMax   = 5.5, 15.0
	boreMin, boreMax = 2.6, 9.0
)

// edgeSpread is the standard deviation (px) of a sharp edge in a phone picture: optics,
// sensor pixel and the demosaic filter together, by common practice 0.6–1.2 px.
const edgeSpread = 0.85

// edgeSpreadDoubt is its standard uncertainty before a picture is seen, of its logarithm.
const edgeSpreadDoubt = 0.35

// bevelWidth is the usual break of a stamped or countersunk edge, mm (deburring by tumbling
// leaves 0.05–0.2 mm; common practice). It widens the edge and limits how well it is defined.
const bevelWidth = 0.1

const ringSectors = 36

// A ring is a straightened annulus of a face: linear light by sector of angle and radius
// about a centre in the face's plane.
type ring struct {
	cu, cv float64 // centre: from edge, from end, mm
	r0, dr float64 // radius of the first sample, step, mm
	n      int
	light  [ringSectors][]float64
	noise  float64 // standard deviation of one sample
}

// faceView is a face as seen by a camera.
type faceView struct {
	f          *picture.Frame
	cam        *geom.Camera
	face       geom.Face
	eu, ev, eh float64 // the eye in the face's coordinates: from edge, from end, height
	thickness  float64 // of the leaf, as far as its face tells, mm
	table      *edgeTable

	o, u, v geom.Vec3 // the face's corner and directions in the camera's own frame
}

// thicknessMin and thicknessMax bound a butt hinge's leaf, mm: 0.06 in cabinet butts to the
// 0.203 in of heavy 6 in hinges (ANSI/BHMA A156.1, from memory), with room.
const thicknessMin, thicknessMax = 1.3, 5.5

func newFaceView(f *picture.Frame, cam *geom.Camera, face geom.Face) *faceView {
	e := cam.Eye().Sub(face.O)
	w := &faceView{f: f, cam: cam, face: face, eu: e.Dot(face.U), ev: e.Dot(face.V), eh: e.Dot(face.N),
		// The outer edge lies on the table, so its face stands a thickness above it.
		thickness: math.Min(math.Max(face.O[2], thicknessMin), thicknessMax),
		o:         cam.R.Apply(face.O).Add(cam.T), u: cam.R.Apply(face.U), v: cam.R.Apply(face.V)}
	// The scale changes little over a leaf: one blur does for all its edges.
	ppm := w.scale(face.Width/2, face.Height/2)
	w.table = newEdgeTable(math.Hypot(edgeSpread/ppm, bevelWidth/3))
	return w
}

// project gives the picture of a place on the face.
func (w *faceView) project(fromEdge, fromEnd float64) measure.Pixel {
	return w.cam.Image(geom.Vec3{
		w.o[0] + fromEdge*w.u[0] + fromEnd*w.v[0],
		w.o[1] + fromEdge*w.u[1] + fromEnd*w.v[1],
		w.o[2] + fromEdge*w.u[2] + fromEnd*w.v[2],
	})
}

// scale is px per mm at a place, the geometric mean over directions in the face.
func (w *faceView) scale(fromEdge, fromEnd float64) float64 {
	p := w.project(fromEdge, fromEnd)
	q := w.project(fromEdge+1, fromEnd)
	r := w.project(fromEdge, fromEnd+1)
	return math.Sqrt(math.Abs((q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X)))
}

// thrown gives centre and shrinking of a circle at a depth as it appears in the face's plane.
func (w *faceView) thrown(fromEdge, fromEnd, depth float64) (u, v, s float64) {
	s = w.eh / (w.eh + depth)
	return w.eu + (fromEdge-w.eu)*s, w.ev + (fromEnd-w.ev)*s, s
}

// How finely a ring is sampled: for finding, or for measuring.
const (
	coarse = iota
	fine
)

// ring samples the annulus r0…r1 about a place. Fine steps are half a pixel along the radius
// and about a pixel and a half along the circle.
func (w *faceView) ring(cu, cv, r0, r1 float64, how int) *ring {
	ppm := w.scale(cu, cv)
	g := &ring{cu: cu, cv: cv, r0: r0, dr: 0.5 / ppm}
	most := 8
	if how == coarse {
		g.dr = math.Max(g.dr, 0.05)
		most = 2
	}
	g.n = int((r1-r0)/g.dr) + 1
	per := min(max(int(2*math.Pi*(r0+r1)/2*ppm/1.5/ringSectors+0.5), 1), most)
	span := float64(g.n-1) * g.dr
	all := make([]float64, ringSectors*g.n)
	for s := range ringSectors {
		l := all[s*g.n : (s+1)*g.n]
		g.light[s] = l
		for k := range per {
			a := 2 * math.Pi * (float64(s) + (float64(k)+0.5)/float64(per)) / ringSectors
			sin, cos := math.Sincos(a)
			// Along the ray the picture is met at three places and followed by a parabola:
			// perspective and distortion change slowly over a hole.
			at := func(r float64) measure.Pixel { return w.project(cu+r*cos, cv+r*sin) }
			w.f.AlongParabola(at(r0), at(r0+span/2), at(r0+span), l)
		}
		for i := range l {
			l[i] /= float64(per)
		}
	}
	g.noise = g.estimateNoise()
	return g
}

// estimateNoise is from second differences two samples (a pixel) apart, by the median of
// their sizes: edges and shading hardly enter.
func (g *ring) estimateNoise() float64 {
	var d []float64
	for s := 0; s < ringSectors; s += 3 {
		l := g.light[s]
		for i := 2; i+2 < g.n; i += 2 {
			d = append(d, math.Abs(l[i-2]-2*l[i]+l[i+2]))
		}
	}
	if len(d) == 0 {
		return 1e-3
	}
	// median |x| = 0.6745 σ for a normal x; the variance of l − 2l + l is 6.
	return math.Max(geom.Pick(d, len(d)/2)/0.6745/math.Sqrt(6), 1e-4)
}

// A sectorEdge is what one sector says of the places of an outer and an inner edge: the
// information matrix (1/mm²) and the gradient (1/mm) about where they were looked for.
type sectorEdge struct {
	rss      float64    // sum of squared residuals
	outside  float64    // linear light just outside the outer edge
	info     [3]float64 // outer·outer, outer·inner, inner·inner
	gradient [2]float64
}

// shift and sigma are for both edges moving together.
func (e sectorEdge) shift() (offset, sigma float64) {
	i := e.info[0] + 2*e.info[1] + e.info[2]
	if i <= 0 {
		return 0, math.Inf(1)
	}
	return (e.gradient[0] + e.gradient[1]) / i, 1 / math.Sqrt(i)
}

// An edgeTable holds the shapes that an edge's light is fitted with, blurred, by depth beyond
// the edge (positive inside) in steps of a fiftieth of the blur: beside edgeSteps light that rises
// from the edge inwards with two reaches, as on a table seen below a leaf; and its slopes.
type edgeTable struct {
	spread float64 // standard deviation of the blur, mm
	shades [tableSize][4]float64

	rows [160]edgeRow // room for the fits
}

const (
	tableStep  = 0.02 // spreads
	tableReach = 30.  // spreads to either side
	tableSize  = int(2*tableReach/tableStep) + 1
)

// edgeSteps is a step and its slope, at a blur of 1, by depth in steps of tableStep.
var edgeSteps = func() (t [tableSize][2]float64) {
	for i := range t {
		z := float64(i)*tableStep - tableReach
		t[i] = [2]float64{0.5 * (1 + math.Erf(z/math.Sqrt2)), math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)}
	}
	return t
}()

func newEdgeTable(spread float64) *edgeTable {
	t := &edgeTable{spread: spread}
	const first = int((tableReach - 8) / tableStep) // before it is nothing
	for k, reach := range shadeReaches {
		q := spread / reach
		fade, every := math.Exp(q*q/2-q*(float64(first)*tableStep-tableReach)), math.Exp(-q*tableStep)
		for i := first; i < tableSize; i++ {
			e := fade
			if z := float64(i)*tableStep - tableReach - q; z < 8 {
				e *= 0.5 * (1 + math.Erf(z/math.Sqrt2))
			}
			t.shades[i][2*k], t.shades[i][2*k+1] = edgeSteps[i][0]-e, e/reach
			fade *= every
		}
	}
	return t
}

// shadeReaches are how far, in mm, the light on the table fades under a leaf's edge: the leaf
// lies up to two millimetres above the table, and half of a wide sky is lost within a
// fraction of that; close to the leaf's outer edge much less.
var shadeReaches = [2]float64{0.15, 0.6}

// slopeLength is the length, mm, over which a face's shading may change its light noticeably.
const slopeLength = 0.5

// edges fits the light of a sector between radii low and high, with edges at outer ≥ inner:
// level and slope outside, a step at the outer edge, a step at the inner one where the two
// differ, and within either a slope of its own, as the light fades down a countersink (taken for
// even it makes the rim look small), or, with shade, light that rises from the inner edge inwards.
// Fits of different edges compare by their rss only where low and high are the same. Where the
// edges belong is told on demand.
func (g *ring) edges(s int, outer, inner, low, high float64, t *edgeTable, shade, places bool) (sectorEdge, bool) {
	i0 := max(int(math.Ceil((low-g.r0)/g.dr)), 0)
	i1 := min(int((high-g.r0)/g.dr), g.n-1)
	m := i1 - i0 + 1
	if m < 9 || g.r0+float64(i1)*g.dr < outer+1.5*t.spread || g.r0+float64(i0)*g.dr > inner-1.5*t.spread {
		return sectorEdge{}, false
	}
	l := g.light[s][i0 : i1+1]
	rows := &t.rows
	if m > len(rows) {
		return sectorEdge{}, false
	}
	two := outer-inner > 0.3*t.spread
	// Linear terms first, then the two derivatives by place, which need their sizes. Without shade
	// there are but four, and one edge.
	terms := 4
	if shade {
		terms = 6
	}
	var n smallMatrix
	var b smallVector
	perStep := 1 / (t.spread * tableStep)
	at := func(depth float64) int {
		return min(max(int(depth*perStep+(tableReach/tableStep+0.5)), 0), tableSize-1)
	}
	for i, v := range l {
		x := g.r0 + float64(i0+i)*g.dr
		row := &rows[i]
		row.outer = at(outer - x)
		r1, r2 := (x-outer)/slopeLength, edgeSteps[row.outer][0]
		row.r[1], row.r[2] = r1, r2
		n[0][1] += r1
		n[0][2] += r2
		n[1][1] += r1 * r1
		n[1][2] += r1 * r2
		n[2][2] += r2 * r2
		b[0] += v
		b[1] += r1 * v
		b[2] += r2 * v
		if !shade {
			r3 := r1 * r2
			row.r[3] = r3
			n[0][3] += r3
			n[1][3] += r1 * r3
			n[2][3] += r2 * r3
			n[3][3] += r3 * r3
			b[3] += r3 * v
			continue
		}
		row.inner = at(inner - x)
		var r3 float64
		if two {
			r3 = edgeSteps[row.inner][0]
		}
		fade := &t.shades[row.inner]
		r4, r5 := fade[0], fade[2]
		row.r[3], row.r[4], row.r[5] = r3, r4, r5
		n[0][3] += r3
		n[0][4] += r4
		n[0][5] += r5
		n[1][3] += r1 * r3
		n[1][4] += r1 * r4
		n[1][5] += r1 * r5
		n[2][3] += r2 * r3
		n[2][4] += r2 * r4
		n[2][5] += r2 * r5
		n[3][3] += r3 * r3
		n[3][4] += r3 * r4
		n[3][5] += r3 * r5
		n[4][4] += r4 * r4
		n[4][5] += r4 * r5
		n[5][5] += r5 * r5
		b[3] += r3 * v
		b[4] += r4 * v
		b[5] += r5 * v
	}
	n[0][0] = float64(m)
	n[1][1] += 4 // the face's slope is small unless the light says otherwise
	for j := 2; j < terms; j++ {
		n[j][j] += 0.1
	}
	if !shade {
		n[3][3] += 0.9 // that of a countersink some twice as great
	}
	if !n.eliminate(terms) {
		return sectorEdge{}, false
	}
	c := n.solve(b, terms)
	left := func(v float64, row *edgeRow) float64 {
		v -= c[0]
		v -= c[1] * row.r[1]
		v -= c[2] * row.r[2]
		v -= c[3] * row.r[3]
		if shade {
			v -= c[4] * row.r[4]
			v -= c[5] * row.r[5]
		}
		return v
	}
	var ss float64
	if !places {
		for i, v := range l {
			e := left(v, &rows[i])
			ss += e * e
		}
		return sectorEdge{rss: ss}, true
	}
	// Information on the two places with the linear terms projected out.
	var cross [2]smallVector
	var square [3]float64
	var grad [2]float64
	for i, v := range l {
		row := &rows[i]
		e := left(v, row)
		ss += e * e
		d := c[2] * edgeSteps[row.outer][1] / t.spread
		cross[0].add(d, row)
		grad[0] += d * e
		square[0] += d * d
		if !shade {
			continue
		}
		var q float64
		if two {
			q = c[3] * edgeSteps[row.inner][1] / t.spread
		}
		q += c[4]*t.shades[row.inner][1] + c[5]*t.shades[row.inner][3]
		cross[1].add(q, row)
		grad[1] += q * e
		square[1] += d * q
		square[2] += q * q
	}
	// The penalties leave a gradient that is not quite orthogonal to the linear terms; it is
	// as small as they are.
	p0 := n.solve(cross[0], terms)
	var p1 smallVector
	if shade {
		p1 = n.solve(cross[1], terms)
	}
	for j := range terms {
		square[0] -= cross[0][j] * p0[j]
		square[1] -= cross[0][j] * p1[j]
		square[2] -= cross[1][j] * p1[j]
	}
	if shade && !two {
		terms--
	}
	// Samples lie half a pixel apart, so only about half of them are independent.
	noise := max(math.Sqrt(ss/float64(m-terms)), g.noise)
	v := 2 * noise * noise
	return sectorEdge{
		rss:      ss,
		outside:  c[0],
		info:     [3]float64{square[0] / v, square[1] / v, square[2] / v},
		gradient: [2]float64{grad[0] / v, grad[1] / v},
	}, true
}

// An edgeRow is one sample in an edge's fit.
type edgeRow struct {
	r            [6]float64 // the linear terms
	outer, inner int        // where both edges are in the table
}

// A smallMatrix is symmetric and positive definite, given by its upper half.
type (
	smallMatrix [6][6]float64
	smallVector [6]float64
)

// add adds d times a row's terms.
func (v *smallVector) add(d float64, row *edgeRow) {
	v[0] += d
	v[1] += d * row.r[1]
	v[2] += d * row.r[2]
	v[3] += d * row.r[3]
	v[4] += d * row.r[4]
	v[5] += d * row.r[5]
}

// eliminate brings the leading m × m to triangular form, to solve by.
func (n *smallMatrix) eliminate(m int) bool {
	for k := range m {
		if !(n[k][k] > 0) {
			return false
		}
		for i := k + 1; i < m; i++ {
			f := n[k][i] / n[k][k]
			n[i][k] = f
			for j := i; j < m; j++ {
				n[i][j] -= f * n[k][j]
			}
		}
	}
	return true
}

// solve solves n·x = b.
func (n *smallMatrix) solve(b smallVector, m int) (x smallVector) {
	for k := range m {
		for i := k + 1; i < m; i++ {
			b[i] -= n[i][k] * b[k]
		}
	}
	for i := m - 1; i >= 0; i-- {
		x[i] = b[i]
		for j := i + 1; j < m; j++ {
			x[i] -= n[i][j] * x[j]
		}
		x[i] /= n[i][i]
	}
	return x
}

// A holeShape is what is fitted: centre of the axis on the face, radii and the depth of the
// bore's upper edge.
type holeShape struct {
	u, v, rim, bore, depth float64
}

// sectorSin and sectorCos are of the sectors' middles.
var sectorSin, sectorCos = func() (sin, cos [ringSectors]float64) {
	for s := range sin {
		sin[s], cos[s] = math.Sincos(2 * math.Pi * (float64(s) + 0.5) / ringSectors)
	}
	return
}()

// circleAt is the radius, from a ring's centre, at which a circle is met in direction a.
func circleAt(du, dv, r, sin, cos float64) float64 {
	along, across := du*cos+dv*sin, dv*cos-du*sin
	return along + math.Sqrt(max(r*r-across*across, 0))
}

// rimAt and boreAt predict the radius of the two edges in sector s of a ring.
func (h holeShape) rimAt(g *ring, s int) float64 {
	sin, cos := sectorSin[s], sectorCos[s]
	return circleAt(h.u-g.cu, h.v-g.cv, h.rim, sin, cos)
}

// boreAt gives the bore's upper edge and the nearer of it and its lower edge, which bounds
// what is seen through it.
func (h holeShape) boreAt(w *faceView, g *ring, s int) (outer, inner float64) {
	sin, cos := sectorSin[s], sectorCos[s]
	u, v, k := w.thrown(h.u, h.v, h.depth)
	outer = circleAt(u-g.cu, v-g.cv, h.bore*k, sin, cos)
	inner = outer
	if w.thickness > h.depth {
		u, v, k = w.thrown(h.u, h.v, w.thickness)
		inner = math.Min(outer, circleAt(u-g.cu, v-g.cv, h.bore*k, sin, cos))
	}
	return outer, inner
}

// depthExpected is where the bore's upper edge should lie: where an 82° countersink from the
// rim meets it, but not below the leaf.
func (h holeShape) depthExpected(thickness float64) float64 {
	return math.Min(math.Max((h.rim-h.bore)/countersinkTan, 0), thickness)
}

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

// measureBore measures the bore of a refined hole by itself, about the rim's axis.
func (w *faceView) measureBore(h *holeSeen) {
	const reach = 3 * boreStep
	if r, sigma, ok := w.scanBores(h.holeShape, w.thickness, h.bore-reach, h.bore+reach, fine).near(h.bore, boreReach); ok {
		h.bore, h.cov[3*5+3] = r, sigma*sigma
	}
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

// evidence is how surely a sector's light changes between outside outer and inside inner:
// t²/(t² + 9) for a change of t standard deviations, one spread away from the edge and 0.35 mm on.
func (g *ring) evidence(s int, outer, inner, spread float64) float64 {
	mean := func(a, b float64) (float64, float64) {
		i0, i1 := max(int((a-g.r0)/g.dr+0.5), 0), min(int((b-g.r0)/g.dr+0.5), g.n-1)
		var t float64
		for i := i0; i <= i1; i++ {
			t += g.light[s][i]
		}
		n := float64(i1 - i0 + 1)
		return t / n, n
	}
	const length = 0.35
	a, na := mean(outer+spread, outer+spread+length)
	b, nb := mean(inner-spread-length, inner-spread)
	if !(na > 0 && nb > 0) {
		return 0
	}
	t2 := (a - b) * (a - b) / (2 * g.noise * g.noise * (1/na + 1/nb))
	return t2 / (t2 + 9)
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

// boreMisfit is how badly a ring's light agrees with a bore: the sum over the sectors of the
// logarithm of the residuals' sum of squares, which is the likelihood when each sector has a
// noise of its own.
func (w *faceView) boreMisfit(h holeShape, g *ring, spans *[ringSectors][2]float64, t *edgeTable, every int) float64 {
	var sum float64
	for s := 0; s < ringSectors; s += every {
		outer, inner := h.boreAt(w, g, s)
		// An edge beyond the span is held at its end, so that all bores are judged by the same
		// sectors.
		outer = math.Max(math.Min(outer, spans[s][1]-1.6*t.spread), spans[s][0]+1.6*t.spread)
		inner = math.Max(math.Min(inner, outer), spans[s][0]+1.6*t.spread)
		if e, ok := g.edges(s, outer, inner, spans[s][0], spans[s][1], t, true, false); ok {
			sum += math.Log(e.rss + g.noise*g.noise)
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
	var spans [ringSectors][2]float64
	for s := range ringSectors {
		_, inner := small.boreAt(w, g, s)
		outer, _ := large.boreAt(w, g, s)
		spans[s] = [2]float64{inner - beyond, math.Min(outer+beyond, h.rimAt(g, s)-2*t.spread)}
	}
	w.thickness = truly
	for x := low; x <= high+1e-9; x += boreStep {
		h.bore = x
		h.depth = h.depthExpected(w.thickness)
		sc.misfit = append(sc.misfit, w.boreMisfit(h, g, &spans, t, every))
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
