package measure

import (
	"math"
	"slices"
)

// breakEdge is the width and depth of the broken (bevelled) edge of a leaf: stamped and
// tumbled leaves carry about a tenth of a millimetre (common practice, no source). It shows
// as a thin line, and the outline seen is its outer flank.
const (
	breakEdge = 0.10 // mm
)

// How the light across an edge is modelled.
const (
	// The broken edge is the face's metal turned outward: from nearly black on polished metal
	// to as bright as the face on white paint, of the face's light.
	brokenLook, brokenLookSigma = 0.6, 0.4

	// What the model of the light leaves over (sharpening, gradients), of the contrast.
	modelMisfit = 0.01

	// Over how many resolved widths that misfit hangs together.
	modelMemory = 3
)

// opticalBlur is the standard deviation of a phone picture's edge, px: lens, sensor and
// interpolation together.
const opticalBlur = 0.85

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
	ok    bool
}

// soft is a step from 0 to 1 at 0, blurred by a Gaussian of standard deviation sigma.
func soft(x, sigma float64) float64 { return 0.5 * math.Erfc(-x/(sigma*math.Sqrt2)) }

// find fits the edge of a leaf's top face to a profile. tan is the tangent of the angle at
// which the eye looks at the edge, positive where the side wall shows; wall is the leaf's
// thickness and blur the edge's blur, mm.
//
// The light is a sum of parts with free levels: the face (a level and a slope), the broken
// edge, the side wall where it shows, and what lies beyond (a level, a slope, and a contact
// shadow that fades over a millimetre). For each place of the edge the levels are linear
// least squares; the place of least residual wins. The broken edge's level is tied loosely
// to the face's, since it is the same metal turned away from the light.
func (p profile) find(tan, wall, blur, lo, hi float64) cut {
	type trial struct {
		e    float64
		cost float64
	}
	n := len(p.s)
	for c := range 3 {
		for _, v := range p.v[c] {
			if math.IsNaN(v) {
				return cut{}
			}
		}
	}
	const m = 7
	basis := make([]float64, n*m)
	cost := func(e float64) float64 {
		inner := e - breakEdge
		outer := e + breakEdge*tan
		foot := outer
		if tan > 0 {
			foot = e + wall*tan
		}
		hasWall := tan > 0 && foot-outer > 0.5*blur
		for i, s := range p.s {
			b := basis[i*m : (i+1)*m]
			in := soft(inner-s, blur)
			out := soft(s-foot, blur)
			b[0] = in
			b[1] = in * (s - inner) / 3
			b[2] = soft(s-inner, blur) - soft(s-outer, blur)
			b[3] = out
			b[4] = out * (s - foot) / 3
			b[5] = out * math.Exp(-math.Max(0, s-foot)/1.0)
			b[6] = 0
			if hasWall {
				b[6] = soft(s-outer, blur) - soft(s-foot, blur)
			}
		}
		var total float64
		var normal [m * m]float64
		for i := range n {
			b := basis[i*m : (i+1)*m]
			for x := range m {
				for y := x; y < m; y++ {
					normal[x*m+y] += b[x] * b[y]
				}
			}
		}
		for c := range 3 {
			face := p.v[c][0]
			a := normal
			var rhs [m]float64
			for i := range n {
				b := basis[i*m : (i+1)*m]
				for x := range m {
					rhs[x] += b[x] * p.v[c][i]
				}
			}
			// Ties, in units of the noise: slopes are small, a wall looks away from the light:
			// 0.4 ± 0.25 of the face.
			tie := func(k int, want, sigma float64) {
				w := p.noise / sigma
				w *= w
				a[k*m+k] += w
				rhs[k] += w * want
			}
			tie(0, face, 0.5*face+0.05)
			tie(1, 0, 0.15*face+0.01)
			tie(2, brokenLook*face, brokenLookSigma*face+0.005)
			tie(3, face, 1)
			tie(4, 0, 0.3)
			tie(5, 0, 0.5)
			tie(6, 0.4*face, 0.25*face+0.01)
			for x := range m {
				for y := range x {
					a[x*m+y] = a[y*m+x]
				}
			}
			x, ok := solveSymmetric(a[:], rhs[:])
			if !ok {
				return math.Inf(1)
			}
			for i := range n {
				r := p.v[c][i]
				for k, b := range basis[i*m : (i+1)*m] {
					r -= b * x[k]
				}
				r /= p.noise
				// A sample far off (rust, a speck) counts no more than four sigmas.
				r2 := r * r
				if r2 > 16 {
					r2 = 16 + 2*(math.Sqrt(r2)-4)
				}
				total += r2
			}
			d := (x[2] - brokenLook*face) / (brokenLookSigma*face + 0.005)
			total += d * d
		}
		return total
	}
	best := trial{cost: math.Inf(1)}
	coarse := math.Max(0.6*blur, 0.03)
	var costs []float64
	for e := lo; e <= hi; e += coarse {
		c := cost(e)
		costs = append(costs, c)
		if c < best.cost {
			best = trial{e, c}
		}
	}
	if math.IsInf(best.cost, 0) {
		return cut{}
	}
	// Golden-section refinement round the best.
	a, b := best.e-coarse, best.e+coarse
	const g = 0.6180339887
	x1, x2 := b-g*(b-a), a+g*(b-a)
	c1, c2 := cost(x1), cost(x2)
	for b-a > 0.004 {
		if c1 < c2 {
			b, x2, c2 = x2, x1, c1
			x1 = b - g*(b-a)
			c1 = cost(x1)
		} else {
			a, x1, c1 = x1, x2, c2
			x2 = a + g*(b-a)
			c2 = cost(x2)
		}
	}
	e := (a + b) / 2
	c0 := math.Min(c1, c2)
	// Where the broken edge looks like the face or like what lies beyond, the edge could be at
	// either of its flanks: the mean and the spread over all places that fit about as well.
	// What the model leaves over is not independent from sample to sample; costs are scaled to
	// one for each resolved width.
	scale := math.Max(1, c0/float64(3*n)) * math.Max(1, blur/(p.s[1]-p.s[0])) * modelMemory
	var w0, w1, w2 float64
	fine := math.Max(0.1*blur, 0.01)
	for d := -2 * breakEdge; d <= 2*breakEdge; d += fine {
		w := math.Exp(-math.Max(0, cost(e+d)-c0) / (2 * scale))
		w0 += w
		w1 += w * d
		w2 += w * d * d
	}
	mean := w1 / w0
	e += mean
	sigma := math.Sqrt(math.Max(w2/w0-mean*mean, fine*fine/12))
	worst := medianOf(costs)
	edge := e > lo+coarse && e < hi-coarse
	return cut{at: e, sigma: sigma, step: (worst - c0) / float64(3*n), ok: edge && sigma < 0.15}
}
