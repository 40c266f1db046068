package measure

import "math"

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
func (s *strip) add(f *frame, at, normal Pixel) {
	s.rows++
	w := 1 / float64(s.rows)
	n := len(s.y)
	p := Pixel{at.X + s.lo*normal.X, at.Y + s.lo*normal.Y}
	d := Pixel{s.step * normal.X, s.step * normal.Y}
	q := Pixel{p.X + float64(n-1)*d.X, p.Y + float64(n-1)*d.Y}
	if !f.inside(p, 3) || !f.inside(q, 3) {
		for k := range s.y {
			t := Pixel{p.X + float64(k)*d.X, p.Y + float64(k)*d.Y}
			cb, cr := f.chroma(t)
			s.y[k] += w * (f.luma(t) - s.y[k])
			s.cb[k] += w * (cb - s.cb[k])
			s.cr[k] += w * (cr - s.cr[k])
		}
		return
	}
	// As above, but with nothing to clamp, and chroma at every second sample only: it is kept at
	// half the size.
	x, y := p.X-0.5, p.Y-0.5
	for k := range s.y {
		i, j := int(x), int(y)
		fx, fy := x-float64(i), y-float64(j)
		a := f.y[j*f.ys+i:]
		b := a[f.ys:]
		v := (float64(a[0])*(1-fx)+float64(a[1])*fx)*(1-fy) + (float64(b[0])*(1-fx)+float64(b[1])*fx)*fy
		s.y[k] += w * (v - s.y[k])
		x, y = x+d.X, y+d.Y
	}
	kx, ky := 1/float64(int(1)<<f.sx), 1/float64(int(1)<<f.sy)
	x, y = p.X*kx-0.5, p.Y*ky-0.5
	dx, dy := 2*d.X*kx, 2*d.Y*ky
	var lastB, lastR float64
	for k := 0; k < n; k += 2 {
		i, j := int(x), int(y)
		fx, fy := x-float64(i), y-float64(j)
		o := j*f.cs + i
		g, h, m, l := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
		cb := g*float64(f.cb[o]) + h*float64(f.cb[o+1]) + m*float64(f.cb[o+f.cs]) + l*float64(f.cb[o+f.cs+1]) - 128
		cr := g*float64(f.cr[o]) + h*float64(f.cr[o+1]) + m*float64(f.cr[o+f.cs]) + l*float64(f.cr[o+f.cs+1]) - 128
		s.cb[k] += w * (cb - s.cb[k])
		s.cr[k] += w * (cr - s.cr[k])
		if k > 0 {
			s.cb[k-1] += w * ((cb+lastB)/2 - s.cb[k-1])
			s.cr[k-1] += w * ((cr+lastR)/2 - s.cr[k-1])
		}
		lastB, lastR = cb, cr
		x, y = x+dx, y+dy
	}
	if n%2 == 0 {
		s.cb[n-1] += w * (lastB - s.cb[n-1])
		s.cr[n-1] += w * (lastR - s.cr[n-1])
	}
}

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
func (s *strip) light(from, to float64) vec3 {
	i := max(0, int(math.Ceil((from-s.lo)/s.step)))
	j := min(len(s.y)-1, int((to-s.lo)/s.step))
	var c vec3
	for k := i; k <= j; k++ {
		c = c.add(vec3{
			linearOf(s.y[k] + 1.402*s.cr[k]),
			linearOf(s.y[k] - 0.344136*s.cb[k] - 0.714136*s.cr[k]),
			linearOf(s.y[k] + 1.772*s.cb[k]),
		})
	}
	return c.mul(1 / float64(max(1, j-i+1)))
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
	n        int
	ch       [3][]float64 // gamma-coded red, green, blue; margin samples more at both ends
	y        []float64
	cb, cr   []float64
	tmp      []float64

	lumaBlur, chromaBlur kernel
}

// margin is how many samples are rendered beyond the strip so that the filters see no end.
const edgeMargin = 8

func newEdgeModel(s *strip, l ledge) *edgeModel {
	m := &edgeModel{ledge: l, lo: s.lo, step: s.step, n: len(s.y),
		lumaBlur: newKernel(lumaBlur / s.step), chromaBlur: newKernel(chromaBlur / s.step)}
	n := m.n + 2*edgeMargin
	for c := range m.ch {
		m.ch[c] = make([]float64, n)
	}
	m.y, m.cb, m.cr, m.tmp = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	return m
}

// castPenumbra is the standard deviation of a cast shadow's end, of its width: a lamp a hand wide
// at arm's length.
const castPenumbra = 0.1

// normalTable is the normal distribution function from −6 to 6 in steps of 1/64.
var normalTable = func() (t [12*64 + 2]float64) {
	for i := range t {
		t[i] = 0.5 * math.Erfc(-(float64(i)/64-6)/math.Sqrt2)
	}
	return t
}()

func normalCDF(x float64) float64 {
	x = (x + 6) * 64
	if !(x > 0) {
		return 0
	}
	if x >= 12*64 {
		return 1
	}
	i := int(x)
	return normalTable[i] + (x-float64(i))*(normalTable[i+1]-normalTable[i])
}

// codeTable is sRGB's coding of linear light 0…1 to 0…255 in steps of 1/4096 (IEC 61966-2-1).
var codeTable = func() (t [4098]float64) {
	for i := range t {
		v := float64(i) / 4096
		if v <= 0.0031308 {
			t[i] = 255 * 12.92 * v
		} else {
			t[i] = 255 * (1.055*math.Pow(v, 1/2.4) - 0.055)
		}
	}
	return t
}()

func coded(v float64) float64 {
	v *= 4096
	if !(v > 0) {
		return 0
	}
	if v >= 4096 {
		return 255
	}
	i := int(v)
	return codeTable[i] + (v-float64(i))*(codeTable[i+1]-codeTable[i])
}

// Blur of luma by reading it between pixels: a fraction t of the way it spreads by t(1 − t), on
// the average 1/6 px². It acts on coded values, where the edge model's own blur acts on light.
var lumaBlur = math.Sqrt(1.0 / 6)

// Blur of chroma kept at half size, as read back between its samples: a box of two pixels and a
// triangle of four, together a standard deviation of one pixel.
const chromaBlur = 1.0

// render draws the edge into y, cb, cr.
func (m *edgeModel) render(p *edgeState) {
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
	var light [strips + 3]vec3
	face := vec3{p[edgeFace], p[edgeFace+1], p[edgeFace+2]}
	wall := vec3{math.Max(0, p[edgeWall]), math.Max(0, p[edgeWall+1]), math.Max(0, p[edgeWall+2])}
	light[0] = face
	for k := range strips + 1 {
		sn, cs := math.Sincos(last * float64(k) / strips)
		at[k] = -r + r*sn - r*(1-cs)*t
		if k < strips {
			// Light from above falls with the lean from the face's to the wall's.
			sn, cs = math.Sincos(last * (float64(k) + 0.5) / strips)
			light[k+1] = wall.add(face.sub(wall).mul(cs)).add(face.mul(sn * p[edgeGlint]))
		}
	}
	foot := -t * thick // of the wall, as it would be seen through the thing
	end := at[strips]  // where the ground begins
	if t < 0 {
		end = math.Max(end, -t*(thick-r))
	}
	at[strips+1] = end
	light[strips+1] = wall
	ground := vec3{p[edgeGround], p[edgeGround+1], p[edgeGround+2]}
	shadow := p[edgeShadow]
	penumbra := math.Hypot(sigma, castPenumbra*fade)
	if !m.cast {
		shadow *= math.Exp(-(end-foot)/fade) * math.Exp(sigma*sigma/(2*fade*fade))
	}
	light[strips+2] = ground
	for i := range m.y {
		x := m.lo + float64(i-edgeMargin)*m.step - p[edgeOffset]
		var c vec3
		before := 1.0
		for k, a := range at {
			q := normalCDF((x - a) / sigma)
			w := before - q
			before = q
			c[0] += w * light[k][0]
			c[1] += w * light[k][1]
			c[2] += w * light[k][2]
		}
		u := x - end
		switch {
		case m.cast:
			before -= before * shadow * normalCDF((fade-u)/penumbra)
		case u > -5*sigma:
			before -= shadow * math.Exp(-u/fade) * normalCDF(u/sigma-sigma/fade)
		}
		m.ch[0][i] = coded(c[0] + before*ground[0])
		m.ch[1][i] = coded(c[1] + before*ground[1])
		m.ch[2][i] = coded(c[2] + before*ground[2])
	}
	for i := range m.y {
		r, g, b := m.ch[0][i], m.ch[1][i], m.ch[2][i]
		m.y[i] = 0.299*r + 0.587*g + 0.114*b
		m.cb[i] = -0.168736*r - 0.331264*g + 0.5*b
		m.cr[i] = 0.5*r - 0.418688*g - 0.081312*b
	}
	// Sharpening and the chroma's blur act on the coded values; both are linear there.
	around := newKernel(math.Exp(p[edgeRadius]) / m.step)
	for _, v := range [...][]float64{m.y, m.cb, m.cr} {
		copy(m.tmp, v)
		around.smooth(m.tmp, m.ch[0])
		for i := range v {
			v[i] += p[edgeSharpen] * (v[i] - m.tmp[i])
		}
	}
	m.lumaBlur.smooth(m.y, m.ch[0])
	m.chromaBlur.smooth(m.cb, m.ch[0])
	m.chromaBlur.smooth(m.cr, m.ch[0])
}

// A kernel is a Gaussian by samples from its middle on, up to the n-th, and the sum of both halves.
type kernel struct {
	n   int
	at  [16]float64
	sum float64
}

// newKernel has a standard deviation of sigma samples.
func newKernel(sigma float64) kernel {
	k := kernel{n: max(min(int(2.6*sigma+0.5), 15), 0), sum: 1}
	k.at[0] = 1
	for i := 1; i <= k.n; i++ {
		d := float64(i) / sigma
		k.at[i] = math.Exp(-d * d / 2)
		k.sum += 2 * k.at[i]
	}
	return k
}

// smooth blurs v in place, using buf; the ends repeat.
func (g *kernel) smooth(v, buf []float64) {
	n := g.n
	copy(buf, v)
	last := len(v) - 1
	for i := range v {
		s := buf[i]
		if i >= n && i+n <= last {
			w := buf[i-n : i+n+1]
			for k, f := range g.at[1 : n+1] {
				s += f * (w[n-1-k] + w[n+1+k])
			}
		} else {
			for k := 1; k <= n; k++ {
				s += g.at[k] * (buf[max(i-k, 0)] + buf[min(i+k, last)])
			}
		}
		v[i] = s / g.sum
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
	q := leastSquares{
		residuals: func(v, r []float64) []float64 {
			t := *p
			for i, k := range free {
				t[k] = v[i]
			}
			m.render(&t)
			for i := range s.y {
				j := i + edgeMargin
				r = append(r, (m.y[j]-s.y[i])/lumaSigma, (m.cb[j]-s.cb[i])/chromaSigma, (m.cr[j]-s.cr[i])/chromaSigma)
			}
			for i, k := range free {
				r = append(r, (v[i]-prior.mean[k])/prior.sigma[k])
			}
			return r
		},
		step:   make([]float64, len(free)),
		rounds: rounds,
		enough: 1e-4,
	}
	v := make([]float64, len(free))
	at := -1
	for i, k := range free {
		v[i] = p[k]
		q.step[i] = 1e-3
		if k == edgeOffset {
			at = i
		}
	}
	cov, rms, ok := q.solve(v)
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
