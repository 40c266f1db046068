package card

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// Where exactly an edge lies. A thin flat thing on a table does not end in a step of
// brightness: from inside to outside follow its face, the rounding of its edge, its side wall
// where that is turned to the camera, and the ground, darkened close to the foot. A camera
// blurs that in linear light, codes it with a gamma, sharpens it and keeps colour at half
// the size. An edge picked by gradient or half level is wrong by up to a few tenths of a pixel,
// differently on each side and for each colour; so the whole row of layers is fitted, seen
// through such a camera, to the straightened and averaged picture of the edge.

// A strip is the picture across an edge, straightened and averaged along it: sample k lies
// lo + k·step pixels from the expected edge along its outward normal. Gamma-coded values as in
// the picture: luma 0…255, chroma about 0.
type strip struct {
	lo, step  float64
	y, cb, cr []float64
	rows      int
}

func newStrip(lo, hi, step float64) *strip {
	n := int((hi-lo)/step+0.5) + 1
	v := make([]float64, 3*n)
	return &strip{lo: lo, step: step, y: v[:n], cb: v[n : 2*n], cr: v[2*n:]}
}

// add takes one more row, through the expected edge at a place along the normal.
func (s *strip) add(f *picture.Frame, at, normal measure.Pixel) {
	s.rows++
	w := 1 / float64(s.rows)
	n := len(s.y)
	p := measure.Pixel{X: at.X + s.lo*normal.X, Y: at.Y + s.lo*normal.Y}
	d := measure.Pixel{X: s.step * normal.X, Y: s.step * normal.Y}
	q := measure.Pixel{X: p.X + float64(n-1)*d.X, Y: p.Y + float64(n-1)*d.Y}
	if !f.Inside(p, 3) || !f.Inside(q, 3) {
		for k := range s.y {
			t := measure.Pixel{X: p.X + float64(k)*d.X, Y: p.Y + float64(k)*d.Y}
			cb, cr := f.Chroma(t)
			s.y[k] += w * (f.Luma(t) - s.y[k])
			s.cb[k] += w * (cb - s.cb[k])
			s.cr[k] += w * (cr - s.cr[k])
		}
		return
	}
	// As above, but with nothing to clamp, and chroma at every second sample only: it is kept at
	// half the size.
	x, y := p.X-0.5, p.Y-0.5
	plane, stride := f.Y, f.YStride
	out := s.y
	for k := range out {
		i, j := int(x), int(y)
		fx, fy := x-float64(i), y-float64(j)
		i += j * stride
		a, b := plane[i:i+2:i+2], plane[i+stride:i+stride+2:i+stride+2]
		v := (valueOf[a[0]]*(1-fx)+valueOf[a[1]]*fx)*(1-fy) + (valueOf[b[0]]*(1-fx)+valueOf[b[1]]*fx)*fy
		out[k] += w * (v - out[k])
		x, y = x+d.X, y+d.Y
	}
	kx, ky := 1/float64(int(1)<<f.Sx), 1/float64(int(1)<<f.Sy)
	x, y = p.X*kx-0.5, p.Y*ky-0.5
	dx, dy := 2*d.X*kx, 2*d.Y*ky
	blue, red := f.Cb, f.Cr
	stride = f.CStride
	outB, outR := s.cb, s.cr[:len(s.cb)]
	var lastB, lastR float64
	for k := 0; k < len(outB); k += 2 {
		i, j := int(x), int(y)
		fx, fy := x-float64(i), y-float64(j)
		i += j * stride
		g, h, m, l := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
		a, b := blue[i:i+2:i+2], blue[i+stride:i+stride+2:i+stride+2]
		cb := g*valueOf[a[0]] + h*valueOf[a[1]] + m*valueOf[b[0]] + l*valueOf[b[1]] - 128
		a, b = red[i:i+2:i+2], red[i+stride:i+stride+2:i+stride+2]
		cr := g*valueOf[a[0]] + h*valueOf[a[1]] + m*valueOf[b[0]] + l*valueOf[b[1]] - 128
		outB[k] += w * (cb - outB[k])
		outR[k] += w * (cr - outR[k])
		if k > 0 {
			outB[k-1] += w * ((cb+lastB)/2 - outB[k-1])
			outR[k-1] += w * ((cr+lastR)/2 - outR[k-1])
		}
		lastB, lastR = cb, cr
		x, y = x+dx, y+dy
	}
	if n%2 == 0 {
		s.cb[n-1] += w * (lastB - s.cb[n-1])
		s.cr[n-1] += w * (lastR - s.cr[n-1])
	}
}

// valueOf are the samples' values as floating-point numbers, which are quicker looked up than made.
var valueOf = func() (t [256]float64) {
	for i := range t {
		t[i] = float64(i)
	}
	return t
}()

// clear makes s empty.
func (s *strip) clear() {
	clear(s.y)
	clear(s.cb)
	clear(s.cr)
	s.rows = 0
}

// merge takes all rows of o, which has the same samples.
func (s *strip) merge(o *strip) {
	if o.rows == 0 {
		return
	}
	s.rows += o.rows
	w := float64(o.rows) / float64(s.rows)
	for k := range s.y {
		s.y[k] += w * (o.y[k] - s.y[k])
		s.cb[k] += w * (o.cb[k] - s.cb[k])
		s.cr[k] += w * (o.cr[k] - s.cr[k])
	}
}

// light is the mean colour, linear, between two distances from the expected edge.
func (s *strip) light(from, to float64) geom.Vec3 {
	i := max(0, int(math.Ceil((from-s.lo)/s.step)))
	j := min(len(s.y)-1, int((to-s.lo)/s.step))
	var c geom.Vec3
	for k := i; k <= j; k++ {
		c = c.Add(geom.Vec3{
			picture.Linear(s.y[k] + 1.402*s.cr[k]),
			picture.Linear(s.y[k] - 0.344136*s.cb[k] - 0.714136*s.cr[k]),
			picture.Linear(s.y[k] + 1.772*s.cb[k]),
		})
	}
	return c.Mul(1 / float64(max(1, j-i+1)))
}

// steepest is the distance from the expected edge at which the picture changes fastest, how
// fast (levels per pixel, root sum square over luma and chroma), and whether that is an inner
// maximum. The slope is taken over two pixels, the width of a sharp edge.
func (s *strip) steepest() (d, slope float64, ok bool) {
	g := s.steepness(nil)
	at, ok := crest(g)
	if !ok {
		return 0, 0, false
	}
	return s.lo + at*s.step, math.Sqrt(g[int(at+0.5)]), true
}

// steepness appends the squared slope, (levels per px)², at each place, taken over a pixel to either
// side; 0 where that runs over an end.
func (s *strip) steepness(out []float64) []float64 {
	h := max(1, int(1/s.step+0.5))
	w := 1 / (2 * float64(h) * s.step)
	for i := range s.y {
		if i < h || i >= len(s.y)-h {
			out = append(out, 0)
			continue
		}
		a, b, c := s.y[i+h]-s.y[i-h], s.cb[i+h]-s.cb[i-h], s.cr[i+h]-s.cr[i-h]
		out = append(out, (a*a+b*b+c*c)*w*w)
	}
	return out
}

// crest is where a list has its greatest value, between places; not ok where it still rises towards
// an end of what is not zero.
func crest(g []float64) (at float64, ok bool) {
	best := 0
	for i, v := range g {
		if v > g[best] {
			best = i
		}
	}
	if best < 2 || best > len(g)-3 || g[best-1] == 0 || g[best+1] == 0 {
		return 0, false
	}
	u, v, w := g[best-1], g[best], g[best+1]
	if q := u - 2*v + w; q < 0 {
		return float64(best) + (u-w)/(2*q), true
	}
	return float64(best), true
}

// A ledge is what is known of the thing whose edge is seen.
type ledge struct {
	scale     float64 // px per mm along the normal, at the top edge
	slant     float64 // slope of the line of sight against the vertical, along the outward normal; positive where the wall is hidden
	thickness float64 // mm
	rounding  float64 // radius of the edge's rounding, mm
}

// Parameters of an edge's layers; light is linear, 0…1, in red, green, blue.
const (
	edgeOffset  = 0  // of the top outline from the expected edge, px outward
	edgeFace    = 1  // the face's light
	edgeGround  = 4  // the ground's, far from the edge
	edgeWall    = 7  // the side wall's
	edgeGlint   = 10 // light that only the rounding catches, in units of the face's
	edgeShadow  = 11 // share of the ground's light that is missing at the foot
	edgeFade    = 12 // ln of the length over which the shadow falls to 1/e, or of a cast one's width, px
	edgeBlur    = 13 // ln of the blur's standard deviation, px
	edgeSharpen = 14 // gain of the camera's sharpening
	edgeRadius  = 15 // ln of the standard deviation that it sharpens against, px
	edgeParams  = 16
)

// An edgeState is a set of those parameters.
type edgeState [edgeParams]float64

// An edgeModel renders edges and keeps the buffers for it.
type edgeModel struct {
	ledge
	cast     bool // the shadow is one lamp's or the sun's, with an end, not what a wide sky leaves
	lo, step float64
	y        []float64 // as seen, of the strip's samples
	cb, cr   []float64

	// What follows has margin samples more at both ends.
	laid, aside          laidLayers // as rendered; with one parameter changed
	exposed              edgeState  // what lin, code, slope and the camera's filters are for
	exposedCast          bool
	lin                  [3][]float64 // linear red, green, blue
	code                 [3][]float64 // gamma-coded
	slope                [3][]float64 // of the code
	d                    [3][]float64 // a small change of the code, or of linear light
	pad                  []float64
	start                edgeStart // of the last fit, and the derivatives there: a side's pieces all start alike
	startJac             []float64
	blurFor              [2]float64 // sharpening and its radius
	luma, chroma         kernel     // what the camera does to coded values
	lumaBlur, chromaBlur kernel
}

// layers is what a sample sees of face, wall and ground, shares; of the glint, and how much of the
// ground's light the shadow takes where it is full.
type layers struct{ face, wall, ground, glint, shade float64 }

// laidLayers are those of all samples, for an offset, a fade and a blur, and 1 for a cast shadow.
type laidLayers struct {
	of    []layers
	given [4]float64
}

// An edgeStart is what the derivatives where a fit starts depend on.
type edgeStart struct {
	p, sigma edgeState
	cast     bool
	free     int // how many parameters are; a model is always fitted by the same of so many
}

// margin is how many samples are rendered beyond the strip so that the filters see no end.
const edgeMargin = 8

func newEdgeModel(s *strip, l ledge) *edgeModel {
	m := &edgeModel{ledge: l, lo: s.lo, step: s.step,
		lumaBlur: newKernel(lumaBlur / s.step), chromaBlur: newKernel(chromaBlur / s.step)}
	n := len(s.y) + 2*edgeMargin
	all := make([]float64, 3*len(s.y)+12*n+n+2*len(kernel{}.at))
	part := func(n int) []float64 {
		v := all[:n:n]
		all = all[n:]
		return v
	}
	m.y, m.cb, m.cr = part(len(s.y)), part(len(s.y)), part(len(s.y))
	for c := range 3 {
		m.lin[c], m.code[c], m.slope[c], m.d[c] = part(n), part(n), part(n), part(n)
	}
	m.pad = all
	sets := make([]layers, 2*n)
	m.laid.of, m.aside.of = sets[:n], sets[n:]
	m.laid.given[0], m.aside.given[0], m.blurFor[0], m.exposed[0] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	return m
}

// castPenumbra is the standard deviation of a cast shadow's end, of its width: a lamp a hand wide
// at arm's length.
const castPenumbra = 0.1

// Blur of luma by reading it between pixels: a fraction t of the way it spreads by t(1 − t), on
// the average 1/6 px². It acts on coded values, where the edge model's own blur acts on light.
var lumaBlur = math.Sqrt(1.0 / 6)

// Blur of chroma kept at half size, as read back between its samples: a box of two pixels and a
// triangle of four, together a standard deviation of one pixel.
const chromaBlur = 1.0

// lay works out what each sample sees of the layers, which their lights don't change.
func (m *edgeModel) lay(p *edgeState, laid *laidLayers) []layers {
	given := [4]float64{p[edgeOffset], p[edgeFade], p[edgeBlur]}
	if m.cast {
		given[3] = 1
	}
	if given == laid.given {
		return laid.of
	}
	laid.given = given
	const strips = 4 // of the rounding
	sigma, fade := math.Exp(p[edgeBlur]), math.Exp(p[edgeFade])
	thick, r, t := m.thickness*m.scale, m.rounding*m.scale, m.slant
	// The rounding, as seen along the slanted line of sight and laid onto the top plane: its
	// surface leans by an angle from 0 to where it, or the whole edge, turns away from view.
	last := math.Pi / 2
	if t > 0 {
		last = math.Atan2(1, t)
	}
	var at [strips + 2]float64
	// Light from above falls with the lean from the face's to the wall's.
	var part [strips + 2]layers
	part[0].face = 1
	for k := range strips + 1 {
		sn, cs := math.Sincos(last * float64(k) / strips)
		at[k] = -r + r*sn - r*(1-cs)*t
		if k < strips {
			sn, cs = math.Sincos(last * (float64(k) + 0.5) / strips)
			part[k+1] = layers{face: cs, wall: 1 - cs, glint: sn}
		}
	}
	part[strips+1].wall = 1
	foot := -t * thick // of the wall, as it would be seen through the thing
	end := at[strips]  // where the ground begins
	if t < 0 {
		end = math.Max(end, -t*(thick-r))
	}
	at[strips+1] = end
	penumbra := math.Hypot(sigma, castPenumbra*fade)
	deep := math.Exp(-(end-foot)/fade) * math.Exp(sigma*sigma/(2*fade*fade))
	for i := range laid.of {
		x := m.lo + float64(i-edgeMargin)*m.step - p[edgeOffset]
		l := layers{ground: 1}
		for k, a := range at {
			q := geom.NormalCDF((x - a) / sigma)
			w := l.ground - q
			l.ground = q
			if w == 0 {
				continue
			}
			l.face += w * part[k].face
			l.wall += w * part[k].wall
			l.glint += w * part[k].glint
		}
		u := x - end
		switch {
		case m.cast:
			l.shade = l.ground * geom.NormalCDF((fade-u)/penumbra)
		case u > -5*sigma:
			l.shade = deep * math.Exp(-u/fade) * geom.NormalCDF(u/sigma-sigma/fade)
		}
		laid.of[i] = l
	}
	return laid.of
}

// shine gives the samples' linear light.
func (m *edgeModel) shine(p *edgeState, laid *laidLayers, lin *[3][]float64) {
	seen := m.lay(p, laid)
	for c := range lin {
		face, wall, ground := p[edgeFace+c], math.Max(0, p[edgeWall+c]), p[edgeGround+c]
		out := lin[c][:len(seen)]
		for i := range seen {
			l := &seen[i]
			out[i] = face*(l.face+p[edgeGlint]*l.glint) + wall*l.wall + ground*(l.ground-p[edgeShadow]*l.shade)
		}
	}
}

// Luma and chroma of coded red, green and blue (JFIF).
var lumaOf, blueOf, redOf = geom.Vec3{0.299, 0.587, 0.114}, geom.Vec3{-0.168736, -0.331264, 0.5}, geom.Vec3{0.5, -0.418688, -0.081312}

// render draws the edge into y, cb, cr.
func (m *edgeModel) render(p *edgeState) {
	m.expose(p)
	m.see(&m.code, &m.luma, &m.chroma)
}

// expose is what comes before the camera's filters, and these.
func (m *edgeModel) expose(p *edgeState) {
	if *p == m.exposed && m.cast == m.exposedCast {
		return
	}
	m.exposed, m.exposedCast = *p, m.cast
	m.shine(p, &m.laid, &m.lin)
	for c, lin := range m.lin {
		code, slope := m.code[c][:len(lin)], m.slope[c][:len(lin)]
		for i, v := range lin {
			code[i], slope[i] = picture.CodedSlope(v)
		}
	}
	// Sharpening and the chroma's blur act on the coded values; both are linear there.
	if given := [2]float64{p[edgeSharpen], p[edgeRadius]}; given != m.blurFor {
		m.luma, m.chroma = m.filters(p)
		m.blurFor = given
	}
}

// filters gives what the camera does to luma and chroma.
func (m *edgeModel) filters(p *edgeState) (luma, chroma kernel) {
	around := newKernel(math.Exp(p[edgeRadius]) / m.step)
	return m.lumaBlur.sharpened(p[edgeSharpen], &around), m.chromaBlur.sharpened(p[edgeSharpen], &around)
}

// see turns coded red, green and blue, or small changes of them, into y, cb, cr.
func (m *edgeModel) see(code *[3][]float64, luma, chroma *kernel) {
	luma.filter(code, lumaOf, m.pad, m.y)
	chroma.filter(code, blueOf, m.pad, m.cb)
	chroma.filter(code, redOf, m.pad, m.cr)
}

// derive makes y, cb, cr the derivatives by the k-th parameter, at p.
func (m *edgeModel) derive(p *edgeState, k int) {
	const h = 1e-3
	m.expose(p)
	q := *p
	q[k] += h
	switch k {
	case edgeSharpen, edgeRadius:
		luma, chroma := m.filters(&q)
		luma, chroma = luma.less(&m.luma, 1/h), chroma.less(&m.chroma, 1/h)
		m.see(&m.code, &luma, &chroma)
		return
	case edgeOffset, edgeFade, edgeBlur:
		m.shine(&q, &m.aside, &m.d)
		for c, d := range m.d {
			lin, slope := m.lin[c][:len(d)], m.slope[c][:len(d)]
			for i, v := range d {
				d[i] = (v - lin[i]) / h * slope[i]
			}
		}
	case edgeGlint, edgeShadow:
		for c, d := range m.d {
			slope, laid := m.slope[c][:len(d)], m.laid.of[:len(d)]
			face, ground := p[edgeFace+c], p[edgeGround+c]
			for i := range d {
				if k == edgeGlint {
					d[i] = slope[i] * (face * laid[i].glint)
				} else {
					d[i] = -slope[i] * (ground * laid[i].shade)
				}
			}
		}
	default: // light of one layer and one channel
		c := (k - edgeFace) % 3
		d := m.d[c]
		slope, laid := m.slope[c][:len(d)], m.laid.of[:len(d)]
		for i := range d {
			l, v := &laid[i], 0.0
			switch {
			case k < edgeGround:
				v = l.face + p[edgeGlint]*l.glint
			case k < edgeWall:
				v = l.ground - p[edgeShadow]*l.shade
			case p[k] > 0:
				v = l.wall
			}
			d[i] = slope[i] * v
		}
		m.luma.filterOne(d, lumaOf[c], m.pad, m.y)
		m.chroma.filterOne(d, blueOf[c], m.pad, m.cb)
		m.chroma.filterOne(d, redOf[c], m.pad, m.cr)
		return
	}
	m.see(&m.d, &m.luma, &m.chroma)
}

// A kernel is a symmetric filter by samples from its middle on, up to the n-th.
type kernel struct {
	n  int
	at [24]float64
}

// newKernel is a Gaussian with a standard deviation of sigma samples.
func newKernel(sigma float64) kernel {
	k := kernel{n: max(min(int(2.6*sigma+0.5), 15), 0)}
	k.at[0] = 1
	sum := 1.0
	for i := 1; i <= k.n; i++ {
		d := float64(i) / sigma
		k.at[i] = math.Exp(-d * d / 2)
		sum += 2 * k.at[i]
	}
	for i := range k.n + 1 {
		k.at[i] /= sum
	}
	return k
}

// sharpened is the filter after a gain over what lies around.
func (g *kernel) sharpened(gain float64, around *kernel) kernel {
	out := kernel{n: min(g.n+around.n, len(g.at)-1)}
	for i := range g.n + 1 {
		out.at[i] = (1 + gain) * g.at[i]
	}
	for i := range out.n + 1 {
		for j := max(-g.n, i-around.n); j <= min(g.n, i+around.n); j++ {
			out.at[i] -= gain * g.at[max(j, -j)] * around.at[max(i-j, j-i)]
		}
	}
	return out
}

// less is the difference from o, times f.
func (g kernel) less(o *kernel, f float64) kernel {
	g.n = max(g.n, o.n)
	for i := range g.at {
		g.at[i] = f * (g.at[i] - o.at[i])
	}
	return g
}

// filter writes to out, shorter by a margin at both ends, what it makes of the channels mixed; their
// ends repeat.
func (g *kernel) filter(code *[3][]float64, mix geom.Vec3, buf, out []float64) {
	r := code[0]
	gr, b := code[1][:len(r)], code[2][:len(r)]
	in := buf[len(g.at):][:len(r)]
	for i, v := range r {
		in[i] = mix[0]*v + mix[1]*gr[i] + mix[2]*b[i]
	}
	g.pass(buf, len(r), out)
}

// filterOne does it with one channel alone, times share.
func (g *kernel) filterOne(code []float64, share float64, buf, out []float64) {
	in := buf[len(g.at):][:len(code)]
	for i, v := range code {
		in[i] = share * v
	}
	g.pass(buf, len(in), out)
}

// pass filters n values of buf, from len(at) on.
func (g *kernel) pass(buf []float64, n int, out []float64) {
	in := buf[len(g.at):][:n]
	for i := range g.n {
		buf[len(g.at)-1-i], buf[len(g.at)+n+i] = in[0], in[n-1]
	}
	half := g.at[1 : g.n+1]
	for i := range out {
		w := buf[len(g.at)+edgeMargin+i-g.n:][:2*g.n+1]
		s := g.at[0] * w[g.n]
		before, after := w[:g.n], w[g.n+1:][:len(half)]
		for k, f := range half {
			s += f * (before[g.n-1-k] + after[k])
		}
		out[i] = s
	}
}

// An edgePrior is what is taken of the parameters before a strip is fitted.
type edgePrior struct{ mean, sigma edgeState }

// Standard uncertainties that the model's simplicity leaves on a mean strip's samples, in
// levels; noise averages out.
const (
	lumaSigma   = 1.0
	chromaSigma = 1.5
)

// newEdgePrior guesses the layers from the strip's two ends.
func newEdgePrior(s *strip, l ledge) edgePrior {
	var q edgePrior
	hi := s.lo + float64(len(s.y)-1)*s.step
	face, ground := s.light(s.lo, math.Min(s.lo+3, -2)), s.light(hi-3, hi)
	q.sigma[edgeOffset] = 3
	for c := range 3 {
		q.mean[edgeFace+c], q.sigma[edgeFace+c] = face[c], 0.5
		q.mean[edgeGround+c], q.sigma[edgeGround+c] = ground[c], 0.5
		// A wall of the face's colour sees half the sky and some light off the ground.
		w := 0.3*face[c] + 0.1*ground[c]
		q.mean[edgeWall+c], q.sigma[edgeWall+c] = w, 0.6*w+0.002
	}
	q.sigma[edgeGlint] = 0.15
	// Under a wide sky the ground at a wall's foot loses half its light, and gets it back over
	// about half the wall's height.
	q.mean[edgeShadow], q.sigma[edgeShadow] = 0.5, 0.2
	q.mean[edgeFade], q.sigma[edgeFade] = math.Log(0.5*l.thickness*l.scale), 0.4
	// Phone pictures: a pixel's blur, sharpened moderately over one to two pixels.
	q.mean[edgeBlur], q.sigma[edgeBlur] = math.Log(0.8), 0.3
	q.mean[edgeSharpen], q.sigma[edgeSharpen] = 0.4, 0.25
	q.mean[edgeRadius], q.sigma[edgeRadius] = math.Log(1.4), 0.3
	return q
}

// whiteWall is the prior for a wall of a plastic's white core, which is anything from shaded to
// lit as well as the brightest things in the picture.
func (q edgePrior) whiteWall() edgePrior {
	for c := range 3 {
		q.mean[edgeWall+c], q.sigma[edgeWall+c] = 0.45, 0.35
	}
	return q
}

// castShadow is the prior for a shadow with an end: light that falls at 45°, give or take, leaves
// one as wide as the wall is high.
func (q edgePrior) castShadow(l ledge) edgePrior {
	q.mean[edgeShadow], q.sigma[edgeShadow] = 0.6, 0.25
	q.mean[edgeFade], q.sigma[edgeFade] = math.Log(math.Max(1-l.slant, 0.3)*l.thickness*l.scale), 0.6
	return q
}

// fit adjusts the parameters listed in free to the strip, starting at p, and returns the
// offset's standard uncertainty (px; scaled up where the model fits badly) and the root mean
// square of what is left, in units of lumaSigma and chromaSigma.
func (m *edgeModel) fit(s *strip, p *edgeState, prior *edgePrior, free []int, rounds int) (sigma, rms float64, ok bool) {
	state := func(v []float64) edgeState {
		t := *p
		for i, k := range free {
			t[k] = v[i]
		}
		return t
	}
	q := geom.LeastSquares{
		Residuals: func(v, r []float64) []float64 {
			t := state(v)
			m.render(&t)
			for i := range s.y {
				r = append(r, (m.y[i]-s.y[i])/lumaSigma, (m.cb[i]-s.cb[i])/chromaSigma, (m.cr[i]-s.cr[i])/chromaSigma)
			}
			for i, k := range free {
				r = append(r, (v[i]-prior.mean[k])/prior.sigma[k])
			}
			return r
		},
		Derive: func(v, jac []float64) {
			n := len(free)
			start := edgeStart{state(v), prior.sigma, m.cast, n}
			if start == m.start {
				copy(jac, m.startJac)
				return
			}
			t := start.p
			clear(jac[3*len(s.y)*n:])
			for j, k := range free {
				m.derive(&t, k)
				for i := range s.y {
					row := jac[3*i*n+j:]
					row[0], row[n], row[2*n] = m.y[i]/lumaSigma, m.cb[i]/chromaSigma, m.cr[i]/chromaSigma
				}
				jac[(3*len(s.y)+j)*n+j] = 1 / prior.sigma[k]
			}
			if t == *p {
				m.start, m.startJac = start, append(m.startJac[:0], jac...)
			}
		},
		Rounds: rounds,
		Enough: 1e-4,
	}
	v := make([]float64, len(free))
	at := -1
	for i, k := range free {
		v[i] = p[k]
		if k == edgeOffset {
			at = i
		}
	}
	cov, rms, ok := q.Solve(v)
	if !ok {
		return 0, 0, false
	}
	for i, k := range free {
		if math.IsNaN(v[i]) {
			return 0, 0, false
		}
		p[k] = v[i]
	}
	if at >= 0 {
		sigma = math.Sqrt(cov[at*len(free)+at]) * math.Max(1, rms)
	}
	return sigma, rms, true
}
