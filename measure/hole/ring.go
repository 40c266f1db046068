package hole

import (
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"math"
)

// ringSectors is into how many sectors a hole's circle is cut: of a countersink of 8 mm each is 0.7 mm long,
// a few pixels, and a spot of rust spoils two or three.
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
