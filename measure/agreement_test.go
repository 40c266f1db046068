package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

func estimates(v ...float64) []Estimate {
	var list []Estimate
	for i := 0; i < len(v); i += 2 {
		list = append(list, Estimate{Length(v[i]), Length(v[i+1])})
	}
	return list
}

// Weighted means worked by x̄ = Σ(x/u²)/Σ(1/u²), u = (Σ1/u²)^−½, χ² = Σ((x−x̄)/u)² by hand to
// five figures; the means also against gonum's stat.Mean with weights 1/u².
func TestWeightedMean(t *testing.T) {
	for _, c := range []struct {
		name               string
		list               []Estimate
		mean, u, chi, birg float64
	}{
		{"agreeing", estimates(88.93, 0.10, 88.88, 0.03, 89.00, 0.40), 88.88472, 0.02866, 0.3128, 0.3955},
		{"two equal", estimates(10.0, 0.1, 10.2, 0.1), 10.1, 0.0707, 2.000, 1.4142},
		{"clash", estimates(88.93, 0.10, 92.10, 0.30), 89.247, 0.0949, 100.489, 10.024},
		{"one of four off", estimates(10.0, 0.1, 10.2, 0.1, 10.1, 0.1, 10.9, 0.1), 10.30, 0.05, 50, 4.0825},
	} {
		m, chi, nu := WeightedMean(c.list...)
		require.InDelta(t, c.mean, float64(m.Value), 5e-6*c.mean, c.name)
		require.InDelta(t, c.u, float64(m.Sigma), 5e-4*1, c.name)
		require.InDelta(t, c.chi, chi, 5e-4*math.Max(1, c.chi), c.name)
		require.InDelta(t, c.birg, BirgeRatio(chi, nu), 5e-4, c.name)
		require.Equal(t, len(c.list)-1, nu)
		var x, w []float64
		for _, e := range c.list {
			x, w = append(x, float64(e.Value)), append(w, 1/float64(e.Sigma*e.Sigma))
		}
		require.InDelta(t, stat.Mean(x, w), float64(m.Value), 1e-12*c.mean, "gonum")
	}
	m, chi, nu := WeightedMean(Estimate{}, Estimate{})
	require.False(t, m.Known())
	require.Zero(t, chi)
	require.Zero(t, nu)
}

// Normalised errors of the worked example of NIST Dataplot's page on the EN score (ISO 13528):
// X = 1 with expanded uncertainties 0.00869 of x and 0.01256 of X.
func TestEnScore(t *testing.T) {
	for x, want := range map[float64]float64{1.006: 0.393, 0.996: -0.262, 0.998: -0.131} {
		// Over the expanded uncertainties, k = 2, it is half the zeta score.
		got := ZetaScore(Estimate{Length(x), 0.00869 / 2}, Estimate{1, 0.01256 / 2}) / 2
		require.InDelta(t, want, got, 5e-4)
	}
}
