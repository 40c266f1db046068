package picture

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/geom"
)

// BrokenEdge is the radius of the broken edge of a leaf: stamped and tumbled leaves carry
// about a tenth of a millimetre (common practice, no source). The light falls along it from
// the face's to the wall's, so the step that is seen lies inside the leaf's size.
const (
	BrokenEdge = 0.10 // mm
)

// How the light across an edge is modelled.
const (
	// The broken edge is the face turned outward. Of the face's light it shows, fully turned,
	// little on metal, which mirrors the dark side of the room, and most on paint, which
	// scatters.
	MetalEdge, AnyEdge, PaintEdge = 0.2, 0.45, 0.7
	brokenLookSigma               = 0.3

	// A side wall looks away from the light and stands in its own shadow.
	wallLook, wallLookSigma = 0.4, 0.2

	// What the model of the light leaves over (sharpening, gradients), of the contrast.
	modelMisfit = 0.01

	// Over how many samples beyond the blur that misfit hangs together.
	ModelMemory = 8
)

// OpticalBlur is the usual standard deviation of a phone picture's edge, px: lens, sensor
// and interpolation together, sharpening taken off.
const OpticalBlur = 0.7

// A Profile is light across an edge: samples at regular steps along the outward direction,
// each the median of several parallel lines, in linear light per channel.
type Profile struct {
	S     []float64 // mm from the guessed edge, outward positive
	V     [3][]float64
	noise float64 // of a sample

	sums  []profileSums // before each sample and after the last; nil until they are asked for
	fades []float64     // exp(−s), with them
}

// AcrossEdge samples lines square to an edge that runs from a to b on a face; out is the
// outward unit direction on the face.
func (f *Frame) AcrossEdge(cam *geom.Camera, a, b, out geom.Vec3, lo, hi, step float64, lines int) Profile {
	return f.Across(cam, func(k int, s float64) geom.Vec3 {
		return a.Add(b.Sub(a).Mul((float64(k) + 0.5) / float64(lines))).Add(out.Mul(s))
	}, lo, hi, step, lines)
}

// Across samples straight lines: line k is at at(k, s) at s millimetres outward.
func (f *Frame) Across(cam *geom.Camera, at func(k int, s float64) geom.Vec3, lo, hi, step float64, lines int) Profile {
	n := int(math.Round((hi-lo)/step)) + 1
	all := make([]float64, 4*n)
	p := Profile{S: all[:n:n]}
	for c := range p.V {
		p.V[c] = all[(c+1)*n : (c+2)*n : (c+2)*n]
	}
	// Each line in the picture, met at three places and followed by a parabola: off by thousandths of
	// a pixel, over the barrel and to both sides of it, 36 mm, by hundredths.
	in := make([]bent, lines)
	half := float64(n-1) / 2
	for k := range lines {
		o := at(k, 0)
		from, along := cam.R.Apply(o).Add(cam.T), cam.R.Apply(at(k, 1).Sub(o))
		place := func(i float64) measure.Pixel { return cam.Image(from.Add(along.Mul(lo + i*step))) }
		in[k] = bend(place(0), place(half), place(2*half), half)
	}
	col := make(colours, lines)
	for i := range n {
		p.S[i] = lo + float64(i)*step
		m := 0
		for k := range in {
			if q := in[k].at(float64(i)); f.Inside(q, 1) {
				col[m] = packed(f.RGB(q))
				m++
			}
		}
		for c, v := range col[:m].median() {
			p.V[c][i] = v
		}
	}
	// Noise from second differences, which pass over levels and slopes.
	d := make([]float64, 0, 3*n)
	for c := range 3 {
		for i := 1; i < n-1; i++ {
			d = append(d, math.Abs(p.V[c][i-1]-2*p.V[c][i]+p.V[c][i+1]))
		}
	}
	p.noise = math.Max(geom.Median(d)*1.4826/math.Sqrt(6), 0.001)
	// The model of the light is never exact: what it leaves is about a hundredth of the
	// contrast.
	lowest, highest := math.Inf(1), math.Inf(-1)
	for c := range 3 {
		for _, v := range p.V[c] {
			lowest, highest = min(lowest, v), max(highest, v)
		}
	}
	p.noise = math.Hypot(p.noise, modelMisfit*(highest-lowest))
	return p
}

// A bent is a line in the picture as a parabola: where it starts, and how it goes on a step and
// how that changes, px.
type bent struct{ from, step, turn measure.Pixel }

// bend lays one through three places so many steps apart.
func bend(a, b, c measure.Pixel, steps float64) bent {
	x, y := (a.X-2*b.X+c.X)/(2*steps*steps), (a.Y-2*b.Y+c.Y)/(2*steps*steps)
	return bent{a, measure.Pixel{X: (c.X-a.X)/(2*steps) - 2*steps*x, Y: (c.Y-a.Y)/(2*steps) - 2*steps*y}, measure.Pixel{X: x, Y: y}}
}

func (l *bent) at(i float64) measure.Pixel {
	return measure.Pixel{X: l.from.X + i*(l.step.X+i*l.turn.X), Y: l.from.Y + i*(l.step.Y+i*l.turn.Y)}
}

// A Cut is where a profile's edge was found.
type Cut struct {
	At    float64 // mm outward from the guess: the leaf's edge as if it were not broken
	Sigma float64 // from the profile's noise, mm
	Step  float64 // contrast there, in the profile's noise
	// Misfit is what the model leaves there, root mean square, in the profile's noise.
	Misfit float64
	OK     bool
}

// rampIntegral is the integral of a step from 0 to 1 at 0, blurred by a Gaussian of standard deviation 1.
func rampIntegral(x float64) float64 {
	if x >= softReach {
		return x
	}
	return rampTable.At(x)
}

// softReach is how many standard deviations a blurred step reaches to either side: beyond,
// less than 4e-6 of it is left.
const softReach = 4.5

var (
	softTable = geom.NewCurve(-softReach, softReach, 2000, func(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) })
	rampTable = geom.NewCurve(-softReach, softReach, 2000, func(x float64) float64 {
		return x*0.5*math.Erfc(-x/math.Sqrt2) + math.Exp(-x*x/2)/math.Sqrt(2*math.Pi)
	})
)

// How many parts the light across an edge has: levels, with a glint of the broken edge one more, and
// with a shadow's rim beyond levelsRim.
const levels, levelsGlint, levelsRim = 6, 7, 10

// rimSoft is how soft a shadow's rim may be beside the picture's blur, mm: a lamp of a fifth of its
// distance throws the shadow of an edge 2 to 5 mm up with one of 0.4 to 1 mm to either side.
var rimSoft = [2]float64{0.4, 1.2}

// parts are a sample's shares of each part of the light, and behind them its light by channel.
type parts [levelsRim + 3]float64

// An Search tries places of a leaf's edge on one profile.
type Search struct {
	p               *Profile
	tan, wall, blur float64
	look, lookSigma float64 // of the broken edge, or the wall where that shows, of the face's light
	ties            [levelsRim]tie
	turn, mirrored  float64  // of a metal edge that hides its wall: how far outward of the face's end it turns to mirror the ground, mm, and that light, of the face's
	glint           float64  // of the broken edge, beyond the face's and the ground's light; 0 for none
	rim             float64  // where a shadow beyond the edge ends, mm; infinite where none is taken
	basis           *[]parts // room for the samples near the edge
}

// A tie holds a part of the light loosely to what metal looks like, or to nothing: its share of the
// normal matrix, and of the light by channel.
type tie struct {
	weight float64
	pull   [3]float64
}

// tie holds part k to a share of the face's light.
func (q *Search) tie(k int, share, sigma float64) {
	w := q.p.noise / sigma
	w *= w * ModelMemory
	q.ties[k].weight = w
	for c := range 3 {
		q.ties[k].pull[c] = w * share * q.p.V[c][0]
	}
}

// profileSums are sums over a profile's first samples, of place s, light v by channel and
// f = exp(−s). Away from the edge the parts of the light are made of these alone.
type profileSums struct {
	n, s, ss, f, ff, sf float64
	v, vs, vf           [3]float64
}

// sumUp sets the sums.
func (p *Profile) sumUp() {
	p.sums, p.fades = make([]profileSums, len(p.S)+1), make([]float64, len(p.S))
	for i, s := range p.S {
		f := math.Exp(-s)
		p.fades[i] = f
		t := p.sums[i]
		t.n++
		t.s, t.ss = t.s+s, t.ss+s*s
		t.f, t.ff, t.sf = t.f+f, t.ff+f*f, t.sf+s*f
		for c := range t.v {
			v := p.V[c][i]
			t.v[c], t.vs[c], t.vf[c] = t.v[c]+v, t.vs[c]+v*s, t.vf[c]+v*f
		}
		p.sums[i+1] = t
	}
}

// An edgeShape is how the light of an edge is divided, mm outward as places are.
type edgeShape struct {
	// The rounded edge runs from inner, where the face ends, to outer, the last of it seen: its end where
	// the wall shows below it, else where the line of sight touches it. What lies beyond begins at foot.
	inner, outer, foot float64
	// At turn the rounded edge has turned by so much of the way from the face towards the wall.
	turn, turned float64
	fade         float64 // exp(foot): exp(−(s − foot)) = fade · exp(−s)
}

// shape divides the light for an edge at e.
func (q *Search) shape(e float64) edgeShape {
	h := edgeShape{inner: e - BrokenEdge, outer: e + BrokenEdge*q.tan, foot: e + q.wall*q.tan, turned: 1}
	if q.tan <= 0 {
		c := 1 / math.Sqrt(1+q.tan*q.tan)
		h.outer = h.inner + BrokenEdge*(1+q.tan*c)/c
		h.foot, h.turned = h.outer, 1+q.tan*c
	}
	h.turn = h.outer
	if q.mirrored > 0 {
		h.turn, h.turned = h.inner+q.turn, 1
	}
	h.fade = math.Exp(h.foot)
	return h
}

// A span says which samples are looked at one by one: those before near are the face's alone, those
// from far on what lies beyond.
type span struct{ near, far int }

// span gives that, and of how many parts the light is made.
func (q *Search) span(h *edgeShape) (sp span, m int) {
	p, n := q.p, len(q.p.S)
	step := p.S[1] - p.S[0]
	first := func(s float64) int { return min(max(int(math.Ceil((s-p.S[0])/step)), 0), n) }
	sp.near = first(h.inner - softReach*q.blur)
	sp.far = max(first(math.Max(h.outer, h.foot)+softReach*q.blur), sp.near)
	m = levels
	if q.glint > 0 {
		m = levelsGlint
	}
	if !math.IsInf(q.rim, 0) {
		sp.far, m = n, levelsRim
	}
	return sp, m
}

// light is where a part's row holds the light by channel.
const light = levelsRim

// A levelFit is the linear least squares for the levels: of each part's row the normal matrix's upper
// triangle, and behind it its light by channel; then the levels by channel.
type levelFit struct {
	m int // parts
	a [levelsRim]parts
	x [levelsRim][3]float64
}

// CostWithin is the residual, in the profile's noise, of the best levels for an edge at e; infinite
// where that is more than limit.
//
// The light is a sum of parts with free levels: the face (a level and a slope), the side wall where
// it shows, else the broken edge, and what lies beyond (a level, a slope, and a contact
// shadow that fades over a millimetre). The levels are linear least squares, loosely tied to
// what metal looks like.
func (q *Search) CostWithin(e, limit float64) float64 {
	h := q.shape(e)
	var f levelFit
	var sp span
	sp, f.m = q.span(&h)
	q.sumFar(&f, &h, sp)
	basis := q.sumNear(&f, &h, sp)
	for k, t := range q.ties[:f.m] {
		f.a[k][k] += t.weight
		for c := range 3 {
			f.a[k][light+c] += t.pull[c]
		}
	}
	if !f.solve() {
		return math.Inf(1)
	}
	if f.m > levelsGlint {
		for c := range 3 {
			if f.x[7][c]+f.x[8][c]+f.x[9][c] > 0 {
				return math.Inf(1) // a shadow is darker than the ground beyond
			}
		}
	}
	return q.misfit(&f, &h, sp, basis, limit)
}

// sumFar sets the sums over the samples away from the edge.
func (q *Search) sumFar(f *levelFit, h *edgeShape, sp span) {
	p, a := q.p, &f.a
	face, rest, all := &p.sums[sp.near], &p.sums[sp.far], &p.sums[len(p.S)]
	a[0][0] = face.n
	a[0][1] = (face.s - h.inner*face.n) / 3
	a[1][1] = (face.ss - h.inner*(2*face.s-h.inner*face.n)) / 9
	foot, fade := h.foot, h.fade
	k, s, fades := all.n-rest.n, all.s-rest.s, fade*(all.f-rest.f)
	a[3][3] = k
	a[3][4] = (s - foot*k) / 3
	a[3][5] = fades
	a[4][4] = (all.ss - rest.ss - foot*(2*s-foot*k)) / 9
	a[4][5] = (fade*(all.sf-rest.sf) - foot*fades) / 3
	a[5][5] = fade * fade * (all.ff - rest.ff)
	for c := range 3 {
		a[0][light+c], a[1][light+c] = face.v[c], (face.vs[c]-h.inner*face.v[c])/3
		v := all.v[c] - rest.v[c]
		a[3][light+c], a[4][light+c], a[5][light+c] = v, (all.vs[c]-rest.vs[c]-foot*v)/3, fade*(all.vf[c]-rest.vf[c])
	}
}

// sumNear adds the samples about the edge one by one, and gives their parts.
func (q *Search) sumNear(fit *levelFit, h *edgeShape, sp span) []parts {
	p, m, a := q.p, fit.m, &fit.a
	near, far := sp.near, sp.far
	if len(*q.basis) < far-near {
		*q.basis = make([]parts, far-near+far/8)
	}
	basis := (*q.basis)[:far-near]
	inner, outer, foot, turn, turned := h.inner, h.outer, h.foot, h.turn, h.turned
	perBlur, slope := 1/q.blur, q.blur/(turn-inner)
	red, green, blue := p.V[0][near:far], p.V[1][near:far], p.V[2][near:far]
	for i, s := range p.S[near:far] {
		b := &basis[i]
		fromOuter := softTable.At((s - outer) * perBlur)
		fromFoot := fromOuter
		if foot != outer {
			fromFoot = softTable.At((s - foot) * perBlur)
		}
		// A ramp that ends at turn.
		fromTurn := fromOuter
		if turn != outer {
			fromTurn = softTable.At((s - turn) * perBlur)
		}
		edge := slope*(rampIntegral((s-inner)*perBlur)-rampIntegral((s-turn)*perBlur)) - fromTurn
		in := 1 - fromTurn - turned*edge + q.mirrored*(fromTurn-fromOuter)
		b[0] = in
		b[1] = in * (s - inner) / 3
		b[2] = turned * edge
		if q.tan > 0 {
			b[2] = edge + fromOuter - fromFoot
		}
		b[3] = fromFoot
		b[4] = fromFoot * (s - foot) / 3
		b[5] = fromFoot
		if s > foot {
			b[5] *= h.fade * p.fades[near+i]
		}
		if m > levels {
			b[6] = softTable.At((s-inner)*perBlur) - fromOuter
		}
		if m > levelsGlint {
			b[7] = fromFoot * (1 - softTable.At((s-q.rim)*perBlur))
			b[8] = fromFoot * (1 - softTable.At((s-q.rim)/rimSoft[0]))
			b[9] = fromFoot * (1 - softTable.At((s-q.rim)/rimSoft[1]))
		}
		b[light], b[light+1], b[light+2] = red[i], green[i], blue[i]
		for x, v := range b[:m] {
			if v == 0 {
				continue
			}
			row := &a[x]
			for y := x; y < m; y++ {
				row[y] += v * b[y]
			}
			row[light] += v * b[light]
			row[light+1] += v * b[light+1]
			row[light+2] += v * b[light+2]
		}
	}
	return basis
}

// solve finds the levels by Gauss's elimination in place, of the light by channel too; the matrix is
// symmetric. It reports whether the samples determine them.
func (f *levelFit) solve() bool {
	m, a := f.m, &f.a
	for j := range m {
		row := &a[j]
		if !(row[j] > 0) {
			return false
		}
		perPivot := 1 / row[j]
		for i := j + 1; i < m; i++ {
			v := row[i] * perPivot
			if v == 0 {
				continue
			}
			below := &a[i]
			for k := i; k < m; k++ {
				below[k] -= v * row[k]
			}
			below[light] -= v * row[light]
			below[light+1] -= v * row[light+1]
			below[light+2] -= v * row[light+2]
		}
	}
	for j := m - 1; j >= 0; j-- {
		row := &a[j]
		r, g, b := row[light], row[light+1], row[light+2]
		for k := j + 1; k < m; k++ {
			r, g, b = r-row[k]*f.x[k][0], g-row[k]*f.x[k][1], b-row[k]*f.x[k][2]
		}
		d := 1 / row[j]
		f.x[j] = [3]float64{r * d, g * d, b * d}
	}
	return true
}

// misfit sums the residuals in the noise, by channel: about the edge, where a wrong place tells most,
// of the face and of what lies beyond, and stops where they are more than limit. What the ties cost
// counts as much as the samples that hang together.
func (q *Search) misfit(f *levelFit, h *edgeShape, sp span, basis []parts, limit float64) float64 {
	p, n, m, x := q.p, len(q.p.S), f.m, &f.x
	var total [3]float64
	perNoise := 1 / p.noise
	for c := range 3 {
		d := (x[2][c] - q.look*p.V[c][0]) / q.lookSigma
		sum := ModelMemory * d * d
		for i := range basis {
			b := &basis[i]
			r := b[light+c] - b[0]*x[0][c] - b[1]*x[1][c] - b[2]*x[2][c] - b[3]*x[3][c] - b[4]*x[4][c] - b[5]*x[5][c]
			if m > levels {
				r -= b[6] * x[6][c]
			}
			if m > levelsGlint {
				r -= b[7]*x[7][c] + b[8]*x[8][c] + b[9]*x[9][c]
			}
			sum += robust(r * perNoise)
		}
		total[c] = sum
	}
	var level, slopes, shadow [3]float64
	for c := range 3 {
		slopes[c] = x[1][c] / 3
		level[c] = x[0][c] - h.inner*slopes[c]
	}
	const some = 16 // samples at a time
	for to := sp.near; to > 0; to -= some {
		if total[0]+total[1]+total[2] > limit {
			return math.Inf(1)
		}
		from := max(to-some, 0)
		red, green, blue := p.V[0][from:to], p.V[1][from:to], p.V[2][from:to]
		for i, s := range p.S[from:to] {
			total[0] += robust((red[i] - level[0] - slopes[0]*s) * perNoise)
			total[1] += robust((green[i] - level[1] - slopes[1]*s) * perNoise)
			total[2] += robust((blue[i] - level[2] - slopes[2]*s) * perNoise)
		}
	}
	for c := range 3 {
		slopes[c] = x[4][c] / 3
		level[c] = x[3][c] - h.foot*slopes[c]
		shadow[c] = h.fade * x[5][c]
	}
	for from := sp.far; from < n; from += some {
		if total[0]+total[1]+total[2] > limit {
			return math.Inf(1)
		}
		to := min(from+some, n)
		red, green, blue := p.V[0][from:to], p.V[1][from:to], p.V[2][from:to]
		fades := p.fades[from:to]
		for i, s := range p.S[from:to] {
			total[0] += robust((red[i] - level[0] - slopes[0]*s - shadow[0]*fades[i]) * perNoise)
			total[1] += robust((green[i] - level[1] - slopes[1]*s - shadow[1]*fades[i]) * perNoise)
			total[2] += robust((blue[i] - level[2] - slopes[2]*s - shadow[2]*fades[i]) * perNoise)
		}
	}
	if sum := total[0] + total[1] + total[2]; sum <= limit {
		return sum
	}
	return math.Inf(1)
}

// robust is r², but for a sample far off (rust, a speck), which counts no more than four
// sigmas and a little.
func robust(r float64) float64 {
	if r *= r; r > 16 {
		return 16 + 2*(math.Sqrt(r)-4)
	}
	return r
}

// Find fits the edge of a leaf's top face to a profile, between lo and hi. tan is the
// tangent of the angle at which the eye looks at the edge, positive where the side wall
// shows; wall is the leaf's thickness and blur the edge's blur, mm.
func (p Profile) Find(look, tan, wall, blur, lo, hi float64) Cut {
	q := p.Search(look, tan, wall, blur)
	if q == nil {
		return Cut{}
	}
	return q.Find(lo, hi)
}

// Search prepares the search of a profile; nil where part of it lies outside the picture.
func (p *Profile) Search(look, tan, wall, blur float64) *Search {
	for c := range 3 {
		for _, v := range p.V[c] {
			if math.IsNaN(v) {
				return nil
			}
		}
	}
	q := &Search{p: p, tan: tan, wall: wall, blur: blur, rim: math.Inf(1), basis: new([]parts)}
	if p.sums == nil {
		p.sumUp()
	}
	face := (p.V[0][0] + p.V[1][0] + p.V[2][0]) / 3
	q.glint = p.ridge()
	q.look, q.lookSigma = look, brokenLookSigma*face+0.005
	wallSeen := wallLook
	if look == MetalEdge {
		// Metal mirrors the ground in what is turned down: less bright than what the face mirrors
		// by as much as the ground is.
		n := len(p.S) - 1
		ground := (p.V[0][n] + p.V[1][n] + p.V[2][n]) / 3
		wallSeen = math.Min(0.6*ground/(face+0.01), 0.8)
		if tan <= 0 {
			// Leaning by θ it shows an eye at α what lies 2θ − α from straight above: first the room,
			// darker towards the horizon, then the ground.
			sin, cos := math.Sincos(math.Pi/4 + math.Atan(tan)/2)
			q.turn, q.mirrored = BrokenEdge*(sin+(1-cos)*tan), wallSeen
		}
	}
	if tan > 0 {
		q.look, q.lookSigma = wallSeen, wallLookSigma*face+0.01
	}
	// In units of the noise; small slopes.
	q.tie(0, 1, 0.5*face+0.05)
	q.tie(1, 0, 0.15*face+0.01)
	q.tie(2, q.look, q.lookSigma)
	q.tie(3, 1, 1)
	q.tie(4, 0, 0.3)
	q.tie(5, 0, 0.5)
	q.tie(6, 0, 1e-4+3*q.glint) // blurred by about as much
	for k := levelsGlint; k < levelsRim; k++ {
		q.tie(k, 0, 0.3)
	}
	return q
}

// ridge is by how much a thin bright line stands over the light to both sides of it, as the broken
// edge of metal does where it mirrors a lamp; 0 where there is none. A camera's sharpening lifts an
// edge's lighter side, too, by up to a fifth of the contrast.
func (p *Profile) ridge() float64 {
	const beside, halo, least = 0.5, 0.3, 0.1 // mm to either side; of the contrast; of the light
	ridge := 0.0
	var before, after []float64
	for _, v := range p.V {
		top := 0
		for i := range v {
			if v[i] > v[top] {
				top = i
			}
		}
		before, after = before[:0], after[:0]
		for i, s := range p.S {
			switch d := s - p.S[top]; {
			case d < -beside && d > -3*beside:
				before = append(before, v[i])
			case d > beside && d < 3*beside:
				after = append(after, v[i])
			}
		}
		if len(before) > 0 && len(after) > 0 {
			a, b := geom.Median(before), geom.Median(after)
			if over := v[top] - math.Max(a, b); over > math.Max(halo*math.Abs(a-b), least*math.Max(a, b))+5*p.noise {
				ridge = math.Max(ridge, over)
			}
		}
	}
	return ridge
}

// Find gives the likeliest place between lo and hi, mm outward of the guess.
func (q *Search) Find(lo, hi float64) Cut {
	n := len(q.p.S)
	blur := q.blur
	step := math.Max(blur, 0.03) // half a blur finds every dip; a wide search starts coarser
	if hi-lo < 2 {
		step *= 0.6
	}
	coarse := step
	best, bestCost := 0.0, math.Inf(1)
	limit := math.Inf(1) // costs beyond need not be known
	costs := make([]float64, 0, int((hi-lo)/step)+2)
	for e := lo; e <= hi; e += step {
		c := q.CostWithin(e, limit)
		costs = append(costs, c)
		if c < bestCost {
			best, bestCost = e, c
			limit = c + math.Max(30*q.scale(c), 2*LeastContrast*float64(3*n))
		}
	}
	if math.IsInf(bestCost, 0) || best <= lo+step || best >= hi-step {
		return Cut{}
	}
	// Nearer yet on a third of the step, and of that.
	for range 2 {
		step /= 3
		a, c := q.CostWithin(best-step, bestCost), q.CostWithin(best+step, bestCost)
		for best > lo && best < hi && (a < bestCost || c < bestCost) {
			if a < c {
				best, bestCost, c, a = best-step, a, bestCost, q.CostWithin(best-2*step, a)
			} else {
				best, bestCost, a, c = best+step, c, bestCost, q.CostWithin(best+2*step, c)
			}
		}
	}
	// Where the broken edge looks like the face or like what lies beyond, the edge could be at
	// either of its flanks: the mean and the spread over all places that fit about as well.
	// What the model leaves over is not independent from sample to sample; costs are scaled to
	// one for each resolved width. Between two places that are out of the question none is tried.
	scale := q.scale(bestCost)
	out := bestCost + 30*scale
	tried := func(k int) float64 {
		if k < 0 || k >= len(costs) {
			return q.CostWithin(lo+float64(k)*coarse, out)
		}
		return costs[k]
	}
	k := int(math.Floor((best - 2*BrokenEdge - lo) / coarse))
	before, after := tried(k), tried(k+1)
	var w0, w1, w2 float64
	fine := math.Max(0.25*blur, 0.012)
	for d := -2 * BrokenEdge; d <= 2*BrokenEdge; d += fine {
		for best+d > lo+float64(k+1)*coarse {
			k++
			before, after = after, tried(k+1)
		}
		if before > out && after > out && math.Abs(d) > coarse {
			continue
		}
		w := math.Exp(-math.Max(0, q.CostWithin(best+d, bestCost+80*scale)-bestCost) / (2 * scale)) // none beyond
		w0 += w
		w1 += w * d
		w2 += w * d * d
	}
	mean := w1 / w0
	sigma := math.Sqrt(math.Max(w2/w0-mean*mean, fine*fine/12))
	return Cut{At: best + mean, Sigma: sigma, Misfit: math.Sqrt(bestCost / float64(3*n)), Step: (geom.Median(costs) - bestCost) / float64(3*n), OK: sigma < 0.15}
}

// LeastContrast is how much better, per sample and in its noise, an edge must explain a
// profile than no edge there: white paint on white paper reaches about one.
const LeastContrast = 0.3
