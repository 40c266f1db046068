package measure

import (
	"math"
	"slices"
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
	f          *frame
	cam        *camera
	face       leafFace
	eu, ev, eh float64 // the eye in the face's coordinates: from edge, from end, height
	thickness  float64 // of the leaf, as far as its face tells, mm
}

// thicknessMin and thicknessMax bound a butt hinge's leaf, mm: 0.06 in cabinet butts to the
// 0.203 in of heavy 6 in hinges (ANSI/BHMA A156.1, from memory), with room.
const thicknessMin, thicknessMax = 1.3, 5.5

func newFaceView(f *frame, cam *camera, face leafFace) *faceView {
	e := cam.eye().sub(face.o)
	return &faceView{f: f, cam: cam, face: face, eu: e.dot(face.u), ev: e.dot(face.v), eh: e.dot(face.n),
		// The outer edge lies on the table, so its face stands a thickness above it.
		thickness: math.Min(math.Max(face.o[2], thicknessMin), thicknessMax)}
}

// scale is px per mm at a place, the geometric mean over directions in the face.
func (w *faceView) scale(fromEdge, fromEnd float64) float64 {
	p := w.cam.project(w.face.at(fromEdge, fromEnd))
	q := w.cam.project(w.face.at(fromEdge+1, fromEnd))
	r := w.cam.project(w.face.at(fromEdge, fromEnd+1))
	return math.Sqrt(math.Abs((q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X)))
}

// thrown gives centre and shrinking of a circle at a depth as it appears in the face's plane.
func (w *faceView) thrown(fromEdge, fromEnd, depth float64) (u, v, s float64) {
	s = w.eh / (w.eh + depth)
	return w.eu + (fromEdge-w.eu)*s, w.ev + (fromEnd-w.ev)*s, s
}

// ring samples the annulus r0…r1 about a place. Steps are half a pixel along the radius and
// about a pixel and a half along the circle.
func (w *faceView) ring(cu, cv, r0, r1 float64) *ring {
	ppm := w.scale(cu, cv)
	g := &ring{cu: cu, cv: cv, r0: r0, dr: 0.5 / ppm}
	g.n = int((r1-r0)/g.dr) + 1
	per := min(max(int(2*math.Pi*(r0+r1)/2*ppm/1.5/ringSectors+0.5), 1), 8)
	span := float64(g.n-1) * g.dr
	for s := range ringSectors {
		g.light[s] = make([]float64, g.n)
		for k := range per {
			a := 2 * math.Pi * (float64(s) + (float64(k)+0.5)/float64(per)) / ringSectors
			sin, cos := math.Sincos(a)
			// Along the ray the picture is met at three places and followed by a parabola:
			// perspective and distortion change slowly over a hole.
			at := func(r float64) Pixel { return w.cam.project(w.face.at(cu+r*cos, cv+r*sin)) }
			p0, p1, p2 := at(r0), at(r0+span/2), at(r0+span)
			bx, by := -3*p0.X+4*p1.X-p2.X, -3*p0.Y+4*p1.Y-p2.Y
			ax, ay := 2*(p0.X-2*p1.X+p2.X), 2*(p0.Y-2*p1.Y+p2.Y)
			for i := range g.n {
				t := float64(i) / float64(g.n-1)
				l := w.f.luma(Pixel{p0.X + t*(bx+t*ax), p0.Y + t*(by+t*ay)})
				g.light[s][i] += linearOf(l) / float64(per)
			}
		}
	}
	g.noise = g.estimateNoise()
	return g
}

// estimateNoise is from second differences two samples (a pixel) apart, by the median of
// their sizes: edges and shading hardly enter.
func (g *ring) estimateNoise() float64 {
	var d []float64
	for s := range g.light {
		l := g.light[s]
		for i := 2; i+2 < g.n; i += 2 {
			d = append(d, math.Abs(l[i-2]-2*l[i]+l[i+2]))
		}
	}
	if len(d) == 0 {
		return 1e-3
	}
	slices.Sort(d)
	// median |x| = 0.6745 σ for a normal x; the variance of l − 2l + l is 6.
	return math.Max(d[len(d)/2]/0.6745/math.Sqrt(6), 1e-4)
}

// edgeShape is the light across a blurred step at distance x in spreads: 0 inside, 1 outside.
func edgeShape(x float64) float64 { return 0.5 * (1 + math.Erf(x/math.Sqrt2)) }

// A sectorEdge is what one sector says of the places of an outer and an inner edge: the
// information matrix (1/mm²) and the gradient (1/mm) about where they were looked for.
type sectorEdge struct {
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

// shadeReach is how far the light on the table fades under a leaf's edge, mm: the leaf lies a
// millimetre or two above the table, and half of a wide sky is lost within a fraction of that.
const shadeReach = 0.3

// edges fits the light of a sector within ±window of the edges at radii outer ≥ inner: level
// and slope outside, a step at the outer edge, a step at the inner one where the two differ,
// and, with shade, light that rises from the inner edge inwards as on a table below a leaf.
func (g *ring) edges(s int, outer, inner, spread, window float64, shade bool) (sectorEdge, bool) {
	i0 := max(int(math.Ceil((inner-window-g.r0)/g.dr)), 0)
	i1 := min(int((outer+window-g.r0)/g.dr), g.n-1)
	m := i1 - i0 + 1
	if m < 10 {
		return sectorEdge{}, false
	}
	l := g.light[s]
	terms := 3
	two := outer-inner > 0.3*spread
	if two {
		terms++
	}
	if shade {
		terms++
	}
	gauss := func(z float64) float64 { return math.Exp(-z*z/2) / (spread * math.Sqrt(2*math.Pi)) }
	row := func(x float64) (r [5]float64) {
		r[0], r[1] = 1, (x-outer)/window
		r[2] = edgeShape((outer - x) / spread)
		k := 3
		if two {
			r[k] = edgeShape((inner - x) / spread)
			k++
		}
		if shade {
			if x < inner {
				r[k] = 1 - math.Exp((x-inner)/shadeReach)
			}
		}
		return r
	}
	solve := func(n []float64, b []float64, t int) ([]float64, bool) { return solveSymmetric(n[:t*t], b[:t]) }
	n := make([]float64, 49)
	b := make([]float64, 7)
	rows := make([][5]float64, m)
	for i := range m {
		rows[i] = row(g.r0 + float64(i0+i)*g.dr)
		for j := range terms {
			for k := range terms {
				n[j*terms+k] += rows[i][j] * rows[i][k]
			}
			b[j] += rows[i][j] * l[i0+i]
		}
	}
	for j := 1; j < terms; j++ {
		n[j*terms+j] += 0.1
	}
	n[terms+1] += 4 // the slope is small unless the light says otherwise
	c, ok := solve(n, b, terms)
	if !ok {
		return sectorEdge{}, false
	}
	all := terms + 2
	clear(n)
	clear(b)
	var ss float64
	for i := range m {
		x := g.r0 + float64(i0+i)*g.dr
		var full [7]float64
		copy(full[:terms], rows[i][:terms])
		e := l[i0+i]
		for j := range terms {
			e -= c[j] * rows[i][j]
		}
		full[terms] = c[2] * gauss((outer-x)/spread)
		k := 3
		if two {
			full[terms+1] += c[3] * gauss((inner-x)/spread)
			k++
		}
		if shade && x < inner {
			full[terms+1] += c[k] * math.Exp((x-inner)/shadeReach) / shadeReach
		}
		ss += e * e
		for j := range all {
			for k := range all {
				n[j*all+k] += full[j] * full[k]
			}
			b[j] += full[j] * e
		}
	}
	for j := 1; j < terms; j++ {
		n[j*all+j] += 0.1
	}
	n[all+1] += 4
	// Eliminate the linear terms (Schur's complement), one by one.
	for k := range terms {
		p := n[k*all+k]
		if p <= 0 {
			return sectorEdge{}, false
		}
		for i := k + 1; i < all; i++ {
			q := n[i*all+k] / p
			for j := k; j < all; j++ {
				n[i*all+j] -= q * n[k*all+j]
			}
			b[i] -= q * b[k]
		}
	}
	// Samples lie half a pixel apart, so only about half of them are independent.
	noise := math.Max(math.Sqrt(ss/float64(m-terms)), g.noise)
	v := 2 * noise * noise
	t := terms
	return sectorEdge{
		info:     [3]float64{n[t*all+t] / v, n[t*all+t+1] / v, n[(t+1)*all+t+1] / v},
		gradient: [2]float64{b[t] / v, b[t+1] / v},
	}, true
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
	return along + math.Sqrt(math.Max(r*r-across*across, 0))
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
func (w *faceView) refine(h holeShape) holeSeen {
	ppm := w.scale(h.u, h.v)
	spread := math.Hypot(edgeSpread/ppm, bevelWidth/3)
	window := math.Max(6/ppm, 0.4)
	var cov []float64
	var seen holeSeen
	for range 2 {
		bu, bv, bk := w.thrown(h.u, h.v, h.depth)
		margin := window + 2.5/ppm
		rimRing := w.ring(h.u, h.v, math.Max(h.rim-margin, 0.2), h.rim+margin)
		boreRing := w.ring(bu, bv, math.Max(h.bore*bk-margin, 0.2), h.bore*bk+margin)
		for range 8 {
			var step float64
			h, cov, step = w.improve(h, rimRing, boreRing, spread, window)
			if step < 1e-4 {
				break
			}
		}
		seen = holeSeen{holeShape: h}
		for s := range ringSectors {
			r := h.rimAt(rimRing, s)
			seen.rimSeen += rimRing.evidence(s, r, r, spread) / ringSectors
			outer, inner := h.boreAt(w, boreRing, s)
			seen.boreSeen += boreRing.evidence(s, outer, inner, spread) / ringSectors
		}
	}
	for i := range seen.sigma {
		if cov != nil {
			seen.sigma[i] = math.Sqrt(cov[i*5+i])
		}
	}
	return seen
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

// depthSigma is how far the countersink's depth may differ from depthExpected, mm: cut deeper
// than the head needs, a cone of 90° instead of 82° (12 % of the depth), an edge broken.
const depthSigma = 0.3

// improve is one Gauss–Newton step. It returns the covariance and the largest change, mm.
func (w *faceView) improve(h holeShape, rimRing, boreRing *ring, spread, window float64) (holeShape, []float64, float64) {
	type obs struct {
		e     sectorEdge
		jac   [2][5]float64
		shift float64
		sigma float64
	}
	var all []obs
	add := func(g *ring, shade bool, at func(holeShape, int) (float64, float64)) {
		for s := range ringSectors {
			outer, inner := at(h, s)
			e, ok := g.edges(s, outer, inner, spread, window, shade)
			if !ok {
				continue
			}
			o := obs{e: e}
			if o.shift, o.sigma = e.shift(); o.sigma > window {
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
	add(rimRing, false, func(q holeShape, s int) (float64, float64) {
		r := q.rimAt(rimRing, s)
		return r, r
	})
	add(boreRing, true, func(q holeShape, s int) (float64, float64) { return q.boreAt(w, boreRing, s) })
	// Scatter beyond the noise: the median of the shifts' sizes.
	var sizes []float64
	for _, o := range all {
		if o.sigma < spread {
			sizes = append(sizes, math.Abs(o.shift))
		}
	}
	scatter := 0.01
	if len(sizes) > 5 {
		slices.Sort(sizes)
		scatter = math.Max(scatter, sizes[len(sizes)/2]/0.6745)
	}
	n := make([]float64, 25)
	b := make([]float64, 5)
	for _, o := range all {
		v := o.sigma*o.sigma + scatter*scatter
		t := o.shift / (4.0 * math.Sqrt(v))
		if math.Abs(t) >= 1 {
			continue
		}
		wt := (1 - t*t) * (1 - t*t) * o.sigma * o.sigma / v
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
	cov, ok := inverseSymmetric(n, 5)
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
