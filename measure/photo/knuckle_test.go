package photo

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// What may go round a barrel 100 mm long, with noise of three levels, where knuckles meet or beside
// it, as where those at the ends are longer.
func TestJoint(t *testing.T) {
	type paint func(x float64) (y, cb float64) // x mm from the joint
	metal := func(float64) (float64, float64) { return 120, 100 }
	gap := func(x float64) (float64, float64) {
		if x > -0.15 && x < 0.15 {
			return 40, 120
		}
		return metal(x)
	}
	band := func(y, cb float64, gaps bool) paint {
		return func(x float64) (float64, float64) {
			switch {
			case gaps && (x > -1.45 && x < -1.15 || x > 1.15 && x < 1.45):
				return 40, 120
			case x > -1.2 && x < 1.2:
				return y, cb
			}
			return metal(x)
		}
	}
	aslant := func(x float64) (float64, float64) { // one gap shows its floor, the other its near wall
		switch {
		case x > -0.65 && x < -0.35:
			return 40, 120
		case x > 1.1 && x < 1.4:
			return 100, 100
		}
		return metal(x)
	}
	rnd := rand.New(rand.NewPCG(3, 4))
	view := func(p paint, at float64) *barrelView {
		b := &barrelView{height: 100, step: 0.1}
		for r := range barrelRows {
			b.light[r] = make([]float64, 1001)
			for q := range b.sums {
				b.sums[q][r] = make([]float64, 1002)
			}
			for i := range b.light[r] {
				y, cb := p(float64(i)*b.step - at)
				for q, v := range [3]float64{y, cb, 128} {
					b.sums[q][r][i+1] = b.sums[q][r][i] + v + 3*rnd.NormFloat64()
				}
			}
		}
		return b
	}
	for name, s := range map[string]struct {
		paint      paint
		seen, ring bool
	}{
		"nothing":                           {metal, false, false},
		"a gap":                             {gap, true, false},
		"a dark ring":                       {band(60, 120, false), true, true},
		"a light ring":                      {band(200, 120, false), true, true},
		"a ring of another colour":          {band(126, 126, false), true, true},
		"a ring like the knuckles and gaps": {band(120, 100, true), true, true},
		"a ring like the knuckles, aslant":  {aslant, true, true},
		"a ring of another colour and gaps": {band(110, 126, true), true, true},
	} {
		for _, off := range []float64{0, 2.2, -1.5} {
			b := view(s.paint, 60+off)
			seen := b.joint(60, 2.5)
			require.Equal(t, s.seen, seen > 0.5, "%s, %g mm off: seen %.2f", name, off, seen)
			require.Equal(t, s.ring, b.ring(60, 2.5, b.stir(20, 22)), "%s, %g mm off", name, off)
		}
	}
}

// Two joints of four that show make five knuckles where nothing shows elsewhere; with a stain where other counts have a joint
// they don't.
func TestCountOfHiddenJoints(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	view := func(joints ...float64) *barrelView {
		b := &barrelView{height: 100, step: 0.1}
		for r := range barrelRows {
			b.light[r], b.sums[0][r] = make([]float64, 1001), make([]float64, 1002)
			for i := range b.light[r] {
				v := 120 + 3*rnd.NormFloat64()
				for _, at := range joints {
					if x := float64(i)*b.step - at; x > -0.15 && x < 0.15 {
						v -= 80
					}
				}
				b.sums[0][r][i+1] = b.sums[0][r][i] + v
			}
		}
		return b
	}
	for name, s := range map[string]struct {
		joints []float64
		count  int
	}{
		"all four":                   {[]float64{20, 40, 60, 80}, 5},
		"two of four":                {[]float64{40, 60}, 5},
		"one":                        {[]float64{40}, 0},
		"nothing":                    {nil, 0},
		"two of four, and at a half": {[]float64{40, 50, 60}, 0},
		"both of two":                {[]float64{100.0 / 3, 200.0 / 3}, 3},
	} {
		b := view(s.joints...)
		got := b.count(evenly, 0.5)
		if name == "two of four, and at a half" {
			require.NotEqual(t, 5, got, name)
			continue
		}
		require.Equal(t, s.count, got, name)
	}
}
