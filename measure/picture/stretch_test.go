package picture

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// stretchesOf makes the stretches of an edge 56 mm long of light across it at a place along it, mm
// from its middle; s is outward.
func stretchesOf(light func(along, s float64) [3]float64, lo, hi, noise float64, rnd *rand.Rand) *Stretches {
	const blur, step, n = 0.075, 0.07, 14
	e := &Stretches{}
	for k := range n {
		along := (float64(k)+0.5)/n*56 - 28
		p := Profile{}
		least, most := math.Inf(1), 0.0
		for s := lo - 1.2; s <= hi+2; s += step {
			var sum [3]float64
			var w float64
			for d := -4 * blur; d <= 4*blur; d += blur / 10 {
				g := math.Exp(-d * d / (2 * blur * blur))
				w += g
				for c, v := range light(along, s+d) {
					sum[c] += g * v
				}
			}
			p.S = append(p.S, s)
			for c := range 3 {
				v := sum[c]/w + noise*rnd.NormFloat64()
				p.V[c] = append(p.V[c], v)
				least, most = min(least, v), max(most, v)
			}
		}
		p.noise = math.Hypot(math.Max(noise, 0.001), modelMisfit*(most-least))
		e.Pos = append(e.Pos, along)
		e.Searches = append(e.Searches, p.Search(PaintEdge, -0.2, 2.4, blur))
	}
	return e
}

// An edge too faint for any one stretch is found by all of them together.
func TestLinesOfAFaintEdge(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 3))
	const at, slope = 0.31, 0.004
	e := stretchesOf(func(along, s float64) [3]float64 {
		if s < at+slope*along {
			return [3]float64{0.50, 0.50, 0.50}
		}
		return [3]float64{0.51, 0.51, 0.52}
	}, -2.5, 2.5, 0.008, rnd)
	e.Scan(-2.5, 2.5)
	lines := e.Lines()
	require.NotEmpty(t, lines)
	require.InDelta(t, at, lines[0].At, 0.15)
}

// Nothing but noise is no edge.
func TestNoLines(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 4))
	e := stretchesOf(func(_, _ float64) [3]float64 { return [3]float64{0.5, 0.5, 0.5} }, -2.5, 2.5, 0.008, rnd)
	e.Scan(-2.5, 2.5)
	require.Empty(t, e.Lines())
}

// A shadow's rim on light ground is a stronger line than the edge of a leaf not much unlike the
// ground in the shadow; the edge is the one inside.
func TestEdgeInsideOfAShadow(t *testing.T) {
	brass, ground := [3]float64{0.17, 0.12, 0.055}, [3]float64{0.45, 0.45, 0.47}
	for _, c := range []struct {
		name        string
		soft, width float64
	}{{"hard", 0, 2.4}, {"soft", 0.5, 3}} {
		t.Run(c.name, func(t *testing.T) {
			rnd := rand.New(rand.NewPCG(5, 5))
			const edge = -3.2
			e := stretchesOf(func(_, s float64) (v [3]float64) {
				if s < edge {
					return brass
				}
				lit := 0.5 + 0.5*math.Erf((s-edge-c.width)/(math.Sqrt2*c.soft+1e-9))
				for k := range v {
					v[k] = ground[k] * (0.28 + 0.72*lit)
				}
				return v
			}, -Inwards, 2.5, 0.003, rnd)
			e.Scan(-Inwards, 2.5)
			lines := e.Lines()
			require.NotEmpty(t, lines)
			require.InDelta(t, edge+c.width, lines[0].At, 1, "the rim speaks loudest")
			got, ok := e.Shadowed(lines[0], -Inwards)
			require.True(t, ok)
			require.InDelta(t, edge, got.At, 0.1)
		})
	}
}
