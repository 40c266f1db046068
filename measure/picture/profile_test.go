package picture

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"leafgauge/measure/geom"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// The tabled edge shapes against gonum's normal distribution and plain integration.
func TestEdgeShapes(t *testing.T) {
	for x := -6.0; x <= 6; x += 0.037 {
		require.InDelta(t, distuv.UnitNormal.CDF(x/0.8), soft(x, 0.8), 1e-5, "step at %g", x)
		// A ramp from −0.3 to 0.5, blurred by 0.4: the mean of steps between its ends.
		const a, b, s, n = -0.3, 0.5, 0.4, 400
		var sum float64
		for i := range n {
			sum += distuv.UnitNormal.CDF((x-a-(b-a)*(float64(i)+0.5)/n)/s) / n
		}
		require.InDelta(t, sum, rise(x, a, b, s), 1e-4, "ramp at %g", x)
		if x >= 0 {
			require.InDelta(t, math.Exp(-x), fade(x), 1e-5)
		}
	}
	require.Equal(t, 1.0, fade(-2))
	require.Less(t, fade(100), 2e-4)
}

// sRGB's transfer function: IEC 61966-2-1. Middle grey, 118, is 0.1812 (published tables; by hand
// ((118/255 + 0.055)/1.055)^2.4).
func TestLinear(t *testing.T) {
	require.Zero(t, Linear(0))
	require.Equal(t, 1.0, Linear(255))
	require.InDelta(t, 0.1812, Linear(118), 0.0001)
	require.InDelta(t, 10/255.0/12.92, Linear(10), 1e-6, "the straight part")
	for v := 0.0; v <= 255; v += 0.31 {
		code, _ := CodedSlope(Linear(v))
		require.InDelta(t, v, code, 0.1, "there and back")
	}
	require.Zero(t, Linear(-3))
	require.Equal(t, 1.0, Linear(300))
}

// soft is a step from 0 to 1 at 0, blurred by a Gaussian of standard deviation sigma.
func soft(x, sigma float64) float64 { return softTable.At(x / sigma) }

// rise is a straight ramp from 0 at a to 1 at b, blurred likewise.
func rise(x, a, b, sigma float64) float64 {
	return sigma / (b - a) * (rampIntegral((x-a)/sigma) - rampIntegral((x-b)/sigma))
}

// fade is exp(−x) for x ≥ 0, and 1 before.
func fade(x float64) float64 { return math.Exp(-math.Max(x, 0)) }

// A leafEdge is light across a leaf's edge as metal has it: the face, the broken edge of
// radius BrokenEdge at place e, the wall where it is seen (tan > 0), and the table with the
// leaf's contact shadow. Linear light.
type leafEdge struct {
	e, tan, wall         float64 // mm
	face, look, walled   float64 // light of face; of broken edge and wall, of the face's
	table, shadow, noise float64
}

func (l leafEdge) light(s float64) float64 {
	inner, foot := l.e-BrokenEdge, l.e
	end := l.look
	if l.tan > 0 {
		foot, end = l.e+l.wall*l.tan, l.walled
	}
	outer := l.e + BrokenEdge*math.Max(l.tan, 0)
	switch {
	case s < inner:
		return l.face
	case s < outer:
		t := (s - inner) / (outer - inner)
		return l.face * (1 + t*(end-1))
	case s < foot:
		return l.face * l.walled
	}
	return l.table * (1 - l.shadow*math.Exp(-(s-foot)))
}

// profile samples the edge with the picture's blur (mm) by plain convolution.
func (l leafEdge) profile(lo, hi, step, blur float64, rnd *rand.Rand) Profile {
	p := Profile{noise: math.Hypot(math.Max(l.noise, 0.001), modelMisfit*math.Abs(l.face-l.table))}
	for s := lo; s <= hi; s += step {
		var v, w float64
		for d := -4 * blur; d <= 4*blur; d += blur / 25 {
			g := math.Exp(-d * d / (2 * blur * blur))
			v, w = v+g*l.light(s+d), w+g
		}
		p.S = append(p.S, s)
		for c := range 3 {
			p.V[c] = append(p.V[c], v/w+l.noise*rnd.NormFloat64())
		}
	}
	return p
}

// findEdge finds an edge on a profile with the usual look of a broken edge.
func findEdge(p Profile, tan, wall, blur, lo, hi float64) Cut {
	return p.Find(AnyEdge, tan, wall, blur, lo, hi)
}

// The edge of a drawn leaf is found where it was drawn, and its uncertainty covers what the
// unknown look of its broken edge leaves open.
func TestFindLeafEdge(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 1))
	var own2, sum2, worst float64
	n := 0
	for range 200 {
		l := leafEdge{
			e: rnd.Float64()*0.8 - 0.4, tan: rnd.Float64()*0.6 - 0.3, wall: 2.4,
			face: 0.2 + 0.5*rnd.Float64(), noise: 0.003,
			look:   math.Max(0, AnyEdge+0.15*rnd.NormFloat64()),
			walled: math.Max(0.02, wallLook+0.1*rnd.NormFloat64()),
			shadow: 0.3 * rnd.Float64(),
		}
		for { // light or dark, but not the face's own light
			if l.table = 0.03 + 0.8*rnd.Float64(); math.Abs(l.table-l.face) > 0.12 {
				break
			}
		}
		const blur = 0.075 // mm: 0.75 px at 10 px/mm
		c := findEdge(l.profile(-2, 3.2, 0.07, blur, rnd), l.tan, l.wall, blur, -0.8, 0.8)
		if !c.OK {
			continue
		}
		n++
		err := c.At - l.e
		// As the fit takes it: the profile's own, and what an edge's look may shift it by.
		const edgeBias = 0.02 // mm
		u := math.Hypot(c.Sigma, edgeBias)
		own2 += err * err / (c.Sigma * c.Sigma)
		sum2 += err * err / (u * u)
		worst = math.Max(worst, math.Abs(err))
	}
	own, rms := math.Sqrt(own2/float64(n)), math.Sqrt(sum2/float64(n))
	t.Logf("%d of 200 found, rms of error/u %.2f (of the profile's own %.2f), worst %.3f mm", n, rms, own, worst)
	require.Greater(t, n, 180)
	require.Less(t, rms, 1.0)
	require.Less(t, own, 2.5)
	require.Less(t, worst, 0.12)
}

// No edge, or one that lies at the search's end, is not made up.
func TestFindNoLeafEdge(t *testing.T) {
	rnd := rand.New(rand.NewPCG(9, 1))
	away := leafEdge{e: 2.5, tan: -0.1, wall: 2.4, face: 0.4, look: 0.4, table: 0.7, noise: 0.003}
	c := findEdge(away.profile(-2, 3.2, 0.07, 0.075, rnd), away.tan, 2.4, 0.075, -0.8, 0.8)
	require.False(t, c.OK && c.Step >= LeastContrast, "%+v", c)
	flat := 0
	for range 20 {
		none := leafEdge{e: 9, face: 0.4, noise: 0.004}
		if c := findEdge(none.profile(-2, 3.2, 0.07, 0.075, rnd), -0.1, 2.4, 0.075, -0.8, 0.8); c.OK && c.Step >= LeastContrast {
			flat++
		}
	}
	require.LessOrEqual(t, flat, 1, "edges found in noise")
	outside := away.profile(-2, 3.2, 0.07, 0.075, rnd)
	outside.V[1][3] = math.NaN()
	require.Equal(t, Cut{}, findEdge(outside, 0, 2.4, 0.075, -0.8, 0.8), "beyond the picture")
}

// across samples the picture where the camera sees the line, in linear light, and leaves out
// what lies beyond the picture.
func TestAcross(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 400, 300))
	for y := range 300 {
		for x := range 400 {
			m.SetGray(x, y, color.Gray{uint8(x / 2)})
		}
	}
	f := NewFrame(m)
	cam := geom.Camera{F: 300, Cx: 200, Cy: 150, R: geom.Mat3{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, T: geom.Vec3{0, 0, 75}} // 4 px per mm
	level := func(k int, s float64) geom.Vec3 { return geom.Vec3{s, float64(k) - 3, 0} }
	p := f.Across(&cam, level, -20, 20, 0.5, 7)
	require.Len(t, p.S, 81)
	for i, s := range p.S {
		x := cam.Project(geom.Vec3{s, 0, 0}).X
		// Pixel i's centre lies at i + 1/2; the ramp's own steps are half a level.
		require.InDelta(t, Linear((x-0.5)/2), p.V[0][i], 0.004, "at %g mm", s)
	}
	p = f.Across(&cam, level, 40, 60, 0.5, 7)
	require.True(t, math.IsNaN(p.V[0][len(p.V[0])-1]), "beyond the picture")
	require.False(t, math.IsNaN(p.V[0][0]))
}

// pick and Median against sorting, with ties and NaN.
func TestPickAgainstSorting(t *testing.T) {
	rnd := rand.New(rand.NewPCG(31, 1))
	for n := 1; n < 400; n += 1 + n/9 {
		for round := range 20 {
			v := make([]float64, n)
			for i := range v {
				v[i] = math.Round(rnd.NormFloat64() * math.Pow(4, float64(round%6)))
			}
			sorted := slices.Sorted(slices.Values(v))
			k := rnd.IntN(n)
			require.Equal(t, sorted[k], geom.Pick(slices.Clone(v), k))
			require.Equal(t, (sorted[(n-1)/2]+sorted[n/2])/2, geom.Median(v))
		}
	}
	require.True(t, math.IsNaN(geom.Median(nil)))
	require.Equal(t, 1.0, geom.Median([]float64{2, math.NaN(), 1}), "NaN comes first")
}

// A metal leaf's rounded edge mirrors first the room, darker towards the horizon, then the ground:
// traced by the law of reflection, it is found where it is.
func TestMirroringEdge(t *testing.T) {
	const reflects, radius, blur, step = 0.55, BrokenEdge, 0.05, 0.004 // share, mm
	room := func(angle float64) float64 { return 0.25 + 0.75*math.Cos(angle) }
	for _, ground := range []float64{0.1, 0.4, 0.75} {
		for _, deg := range []float64{-35, -20, -8, 0} {
			eye := deg * math.Pi / 180
			tan := math.Tan(eye)
			outer := func(angle float64) float64 { // of the face's end, as seen on the face
				return radius * (math.Sin(angle) + (1-math.Cos(angle))*tan)
			}
			last := math.Pi/2 + eye            // where the line of sight touches it
			light := func(s float64) float64 { // s from the leaf's own edge
				d := s + radius
				switch {
				case d < 0:
					return reflects * room(eye)
				case d > outer(last):
					return ground * (1 - 0.4*math.Exp(-(d-outer(last))))
				}
				lo, hi := 0.0, last
				for range 40 {
					if mid := (lo + hi) / 2; outer(mid) < d {
						lo = mid
					} else {
						hi = mid
					}
				}
				if seen := 2*lo - eye; seen < math.Pi/2 {
					return reflects * room(seen)
				}
				return reflects * ground
			}
			p := Profile{noise: 0.004}
			for s := -1.6; s <= 2.4; s += 0.05 {
				var v, w float64
				for d := -4 * blur; d <= 4*blur; d += step {
					g := math.Exp(-d * d / (2 * blur * blur))
					v, w = v+g*light(s+d), w+g
				}
				p.S = append(p.S, s)
				for c := range 3 {
					p.V[c] = append(p.V[c], v/w)
				}
			}
			c := p.Find(MetalEdge, tan, 2.4, blur, -0.6, 0.6)
			require.True(t, c.OK)
			require.InDelta(t, 0, c.At, 0.015, "ground %g, eye at %g°", ground, deg)
		}
	}
}
