package measure

import (
	"math"
	"slices"
)

// breakEdge is the radius of the broken edge of a leaf: stamped and tumbled leaves carry
// about a tenth of a millimetre (common practice, no source). The light falls along it from
// the face's to the wall's, so the step that is seen lies inside the leaf's size.
const (
	breakEdge = 0.10 // mm
)

// How the light across an edge is modelled.
const (
	// The broken edge is the face turned outward. Of the face's light it shows, fully turned,
	// little on metal, which mirrors the dark side of the room, and most on paint, which
	// scatters.
	metalEdge, anyEdge, paintEdge = 0.2, 0.45, 0.7
	brokenLookSigma               = 0.3

	// A side wall looks away from the light and stands in its own shadow.
	wallLook, wallLookSigma = 0.4, 0.2

	// What the model of the light leaves over (sharpening, gradients), of the contrast.
	modelMisfit = 0.01

	// Over how many samples beyond the blur that misfit hangs together.
	modelMemory = 8
)

// opticalBlur is the usual standard deviation of a phone picture's edge, px: lens, sensor
// and interpolation together, sharpening taken off.
const opticalBlur = 0.7

// A profile is light across an edge: samples at regular steps along the outward direction,
// each the median of several parallel lines, in linear light per channel.
type profile struct {
	s     []float64 // mm from the guessed edge, outward positive
	v     [3][]float64
	noise float64 // of a sample
}

// acrossEdge samples lines square to an edge that runs from a to b on a face; out is the
// outward unit direction on the face.
func (f *frame) acrossEdge(cam *camera, a, b, out vec3, lo, hi, step float64, lines int) profile {
	return f.across(cam, func(k int, s float64) vec3 {
		return a.add(b.sub(a).mul((float64(k) + 0.5) / float64(lines))).add(out.mul(s))
	}, lo, hi, step, lines)
}

// across samples the lines that at describes: line k at s millimetres outward.
func (f *frame) across(cam *camera, at func(k int, s float64) vec3, lo, hi, step float64, lines int) profile {
	n := int(math.Round((hi-lo)/step)) + 1
	p := profile{s: make([]float64, n)}
	for c := range 3 {
		p.v[c] = make([]float64, n)
	}
	var col [3][]float64
	for i := range n {
		s := lo + float64(i)*step
		p.s[i] = s
		for c := range col {
			col[c] = col[c][:0]
		}
		for k := range lines {
			q := cam.project(at(k, s))
			if !f.inside(q, 1) {
				continue
			}
			r, g, b := f.rgb(q)
			col[0], col[1], col[2] = append(col[0], r), append(col[1], g), append(col[2], b)
		}
		for c := range col {
			if len(col[c]) == 0 {
				p.v[c][i] = math.NaN()
				continue
			}
			p.v[c][i] = linearOf(medianOf(col[c]))
		}
	}
	// Noise from second differences, which pass over levels and slopes.
	var d []float64
	for c := range 3 {
		for i := 1; i < n-1; i++ {
			d = append(d, math.Abs(p.v[c][i-1]-2*p.v[c][i]+p.v[c][i+1]))
		}
	}
	p.noise = math.Max(medianOf(d)*1.4826/math.Sqrt(6), 0.001)
	// The model of the light is never exact: what it leaves is about a hundredth of the
	// contrast.
	lowest, highest := math.Inf(1), math.Inf(-1)
	for c := range 3 {
		for _, v := range p.v[c] {
			lowest, highest = math.Min(lowest, v), math.Max(highest, v)
		}
	}
	p.noise = math.Hypot(p.noise, modelMisfit*(highest-lowest))
	return p
}

// medianOf sorts v and returns its middle.
func medianOf(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

// A cut is where a profile's edge was found.
type cut struct {
	at    float64 // mm outward from the guess: the leaf's edge as if it were not broken
	sigma float64 // from the profile's noise, mm
	step  float64 // contrast there, in the profile's noise
	cost  float64 // of the best place
	ok    bool
}

// soft is a step from 0 to 1 at 0, blurred by a Gaussian of standard deviation sigma.
func soft(x, sigma float64) float64 { return softTable.at(x / sigma) }

// rise is a straight ramp from 0 at a to 1 at b, blurred likewise.
func rise(x, a, b, sigma float64) float64 {
	return sigma / (b - a) * (rampIntegral((x-a)/sigma) - rampIntegral((x-b)/sigma))
}

// rampIntegral is the integral of soft for sigma 1.
func rampIntegral(x float64) float64 {
	if x >= 4.5 {
		return x
	}
	return rampTable.at(x)
}

// fade is exp(−x) for x ≥ 0, and 1 before.
func fade(x float64) float64 { return fadeTable.at(x) }

// A table holds a function at even steps; between them it is a straight line, outside its
// ends. The steps keep the error below 1e-5.
type table struct {
	from, scale float64
	v           []float64
}

func newTable(from, to float64, n int, f func(float64) float64) table {
	t := table{from, float64(n) / (to - from), make([]float64, n+1)}
	for i := range t.v {
		t.v[i] = f(from + float64(i)/t.scale)
	}
	return t
}

func (t *table) at(x float64) float64 {
	p := (x - t.from) * t.scale
	if p <= 0 {
		return t.v[0]
	}
	i := int(p)
	if i >= len(t.v)-1 {
		return t.v[len(t.v)-1]
	}
	return t.v[i] + (p-float64(i))*(t.v[i+1]-t.v[i])
}

var (
	softTable = newTable(-4.5, 4.5, 2000, func(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) })
	rampTable = newTable(-4.5, 4.5, 2000, func(x float64) float64 {
		return x*0.5*math.Erfc(-x/math.Sqrt2) + math.Exp(-x*x/2)/math.Sqrt(2*math.Pi)
	})
	fadeTable = newTable(0, 9, 2000, func(x float64) float64 { return math.Exp(-x) })
)

// levels is how many parts the light across an edge has.
const levels = 7

// An edgeSearch tries places of a leaf's edge on one profile.
type edgeSearch struct {
	p               *profile
	tan, wall, blur float64
	look            float64 // of the broken edge, of the face's light
	face            float64 // the face's light, mean of the channels
	basis           []float64
}

// cost is the residual, in the profile's noise, of the best levels for an edge at e.
//
// The light is a sum of parts with free levels: the face (a level and a slope), the broken
// edge, the side wall where it shows, and what lies beyond (a level, a slope, and a contact
// shadow that fades over a millimetre). The levels are linear least squares, loosely tied to
// what metal looks like.
func (q *edgeSearch) cost(e float64) float64 {
	p, n := q.p, len(q.p.s)
	// The rounded edge runs from inner, where the face ends, to outer, the last of it seen:
	// its end where the wall shows below it, else where the line of sight touches it. turned
	// is how far it has turned from the face towards the wall there.
	inner := e - breakEdge
	outer, foot, turned := e+breakEdge*q.tan, e+q.wall*q.tan, 1.0
	if q.tan <= 0 {
		c := 1 / math.Sqrt(1+q.tan*q.tan)
		outer = inner + breakEdge*(1+q.tan*c)/c
		foot, turned = outer, 1+q.tan*c
	}
	var normal [levels * levels]float64
	var rhs [3][levels]float64
	for i, s := range p.s {
		b := (*[levels]float64)(q.basis[i*levels:])
		fromOuter, fromFoot := soft(s-outer, q.blur), soft(s-foot, q.blur)
		edge := rise(s, inner, outer, q.blur) - fromOuter // a ramp that ends at outer
		in := 1 - fromOuter - turned*edge
		b[0] = in
		b[1] = in * (s - inner) / 3
		b[2], b[6] = turned*edge, 0
		if q.tan > 0 {
			b[2], b[6] = 0, edge+fromOuter-fromFoot
		}
		b[3] = fromFoot
		b[4] = fromFoot * (s - foot) / 3
		b[5] = fromFoot * fade(s-foot)
		for x := range levels {
			v := b[x]
			if v == 0 {
				continue
			}
			for y := x; y < levels; y++ {
				normal[x*levels+y] += v * b[y]
			}
			rhs[0][x] += v * p.v[0][i]
			rhs[1][x] += v * p.v[1][i]
			rhs[2][x] += v * p.v[2][i]
		}
	}
	// Ties, in units of the noise, and small slopes.
	brokenSigma, wallSigma := brokenLookSigma*q.face+0.005, wallLookSigma*q.face+0.01
	tie := func(k int, want, sigma float64) {
		w := p.noise / sigma
		w *= w * modelMemory
		normal[k*levels+k] += w
		if want != 0 {
			for c := range 3 {
				rhs[c][k] += w * want * p.v[c][0]
			}
		}
	}
	tie(0, 1, 0.5*q.face+0.05)
	tie(1, 0, 0.15*q.face+0.01)
	tie(2, q.look, brokenSigma)
	tie(3, 1, 1)
	tie(4, 0, 0.3)
	tie(5, 0, 0.5)
	tie(6, wallLook, wallSigma)
	// Cholesky's factor, upper, in place.
	for j := range levels {
		d := normal[j*levels+j]
		for k := range j {
			d -= normal[k*levels+j] * normal[k*levels+j]
		}
		if !(d > 0) {
			return math.Inf(1)
		}
		d = math.Sqrt(d)
		normal[j*levels+j] = d
		for i := j + 1; i < levels; i++ {
			v := normal[j*levels+i]
			for k := range j {
				v -= normal[k*levels+j] * normal[k*levels+i]
			}
			normal[j*levels+i] = v / d
		}
	}
	var total float64
	for c := range 3 {
		x := &rhs[c]
		for i := range levels {
			for k := range i {
				x[i] -= normal[k*levels+i] * x[k]
			}
			x[i] /= normal[i*levels+i]
		}
		for i := levels - 1; i >= 0; i-- {
			for k := i + 1; k < levels; k++ {
				x[i] -= normal[i*levels+k] * x[k]
			}
			x[i] /= normal[i*levels+i]
		}
		v := p.v[c]
		for i := range n {
			b := (*[levels]float64)(q.basis[i*levels:])
			r := (v[i] - b[0]*x[0] - b[1]*x[1] - b[2]*x[2] - b[3]*x[3] - b[4]*x[4] - b[5]*x[5] - b[6]*x[6]) / p.noise
			// A sample far off (rust, a speck) counts no more than four sigmas and a little.
			if r *= r; r > 16 {
				r = 16 + 2*(math.Sqrt(r)-4)
			}
			total += r
		}
		// What the ties cost counts as much as the samples that hang together.
		d := (x[2] - q.look*v[0]) / brokenSigma
		w := (x[6] - wallLook*v[0]) / wallSigma
		total += modelMemory * (d*d + w*w)
	}
	return total
}

// find fits the edge of a leaf's top face to a profile, between lo and hi. tan is the
// tangent of the angle at which the eye looks at the edge, positive where the side wall
// shows; wall is the leaf's thickness and blur the edge's blur, mm.
func (p profile) find(look, tan, wall, blur, lo, hi float64) cut {
	q := p.search(look, tan, wall, blur)
	if q == nil {
		return cut{}
	}
	return q.find(lo, hi)
}

// search prepares the search of a profile; nil where part of it lies outside the picture.
func (p *profile) search(look, tan, wall, blur float64) *edgeSearch {
	for c := range 3 {
		for _, v := range p.v[c] {
			if math.IsNaN(v) {
				return nil
			}
		}
	}
	q := &edgeSearch{p: p, look: look, tan: tan, wall: wall, blur: blur, basis: make([]float64, len(p.s)*levels)}
	q.face = (p.v[0][0] + p.v[1][0] + p.v[2][0]) / 3
	return q
}

func (q *edgeSearch) find(lo, hi float64) cut {
	n := len(q.p.s)
	blur := q.blur
	step := math.Max(blur, 0.03) // half a blur finds every dip; a wide search starts coarser
	if hi-lo < 2 {
		step *= 0.6
	}
	best, bestCost := 0.0, math.Inf(1)
	var costs []float64
	for e := lo; e <= hi; e += step {
		c := q.cost(e)
		costs = append(costs, c)
		if c < bestCost {
			best, bestCost = e, c
		}
	}
	if math.IsInf(bestCost, 0) || best <= lo+step || best >= hi-step {
		return cut{}
	}
	// A parabola through the best three, once more on a third of the step.
	for range 2 {
		step /= 3
		a, c := q.cost(best-step), q.cost(best+step)
		for best > lo && best < hi && (a < bestCost || c < bestCost) {
			if a < c {
				best, bestCost, c, a = best-step, a, bestCost, q.cost(best-2*step)
			} else {
				best, bestCost, a, c = best+step, c, bestCost, q.cost(best+2*step)
			}
		}
	}
	// Where the broken edge looks like the face or like what lies beyond, the edge could be at
	// either of its flanks: the mean and the spread over all places that fit about as well.
	// What the model leaves over is not independent from sample to sample; costs are scaled to
	// one for each resolved width.
	scale := math.Max(1, bestCost/float64(3*n)) * modelMemory
	var w0, w1, w2 float64
	fine := math.Max(0.25*blur, 0.012)
	for d := -2 * breakEdge; d <= 2*breakEdge; d += fine {
		w := math.Exp(-math.Max(0, q.cost(best+d)-bestCost) / (2 * scale))
		w0 += w
		w1 += w * d
		w2 += w * d * d
	}
	mean := w1 / w0
	sigma := math.Sqrt(math.Max(w2/w0-mean*mean, fine*fine/12))
	return cut{at: best + mean, sigma: sigma, cost: bestCost, step: (medianOf(costs) - bestCost) / float64(3*n), ok: sigma < 0.15}
}
