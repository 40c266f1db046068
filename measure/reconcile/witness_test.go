package reconcile

import (
	"math"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// JCGM 100:2008, example H.3: a thermometer's calibration line by least squares.
func TestLeastSquaresGUMH3(t *testing.T) {
	temperature := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160}
	n := len(b)
	a := mat.NewDense(n, 2, nil)
	v := mat.NewSymDense(n, nil)
	for i, x := range temperature {
		a.Set(i, 0, 1)
		a.Set(i, 1, x-20)
		v.SetSym(i, i, 1)
	}
	s, err := generalLeastSquares(a, b, v)
	require.NoError(t, err)
	// The example takes the variance from the residuals.
	sd := math.Sqrt(s.chiSquare / float64(n-2))
	require.InDelta(t, 0.000110096583, s.chiSquare, 1e-12)
	require.InDelta(t, 0.00350, sd, 5e-6)
	require.InDelta(t, -0.17120379, s.x[0], 1e-8)
	require.InDelta(t, 0.00218270, s.x[1], 1e-8)
	require.InDelta(t, 0.00287760, sd*math.Sqrt(s.cov.At(0, 0)), 1e-7)
	require.InDelta(t, 0.00066794, sd*math.Sqrt(s.cov.At(1, 1)), 1e-7)
	require.InDelta(t, -0.930, s.cov.At(0, 1)/math.Sqrt(s.cov.At(0, 0)*s.cov.At(1, 1)), 5e-4)
	at30 := s.x[0] + 10*s.x[1]
	u30 := sd * math.Sqrt(s.cov.At(0, 0)+100*s.cov.At(1, 1)+20*s.cov.At(0, 1))
	require.InDelta(t, -0.1494, at30, 5e-5)
	require.InDelta(t, 0.0041, u30, 5e-5)
}

// JCGM 100:2008, example H.2: resistance, reactance and impedance from correlated voltage,
// current and phase. The covariance is carried through the partial derivatives.
func TestTransformGUMH2(t *testing.T) {
	const volt, amp, phi = 4.999, 19.661e-3, 1.04446
	const uv, ui, up = 3.2e-3, 9.5e-6, 7.5e-4
	const rvi, rvp, rip = -0.36, 0.86, -0.65
	w := &witness{keys: []measure.Key{"v", "i", "phi"}, x: []float64{volt, amp, phi}, cov: mat.NewSymDense(3, []float64{
		uv * uv, rvi * uv * ui, rvp * uv * up,
		rvi * uv * ui, ui * ui, rip * ui * up,
		rvp * uv * up, rip * ui * up, up * up})}
	z := volt / amp
	r, x := z*math.Cos(phi), z*math.Sin(phi)
	w.transform([]measure.Key{"r", "x", "z"}, mat.NewDense(3, 3, []float64{
		r / volt, -r / amp, -x,
		x / volt, -x / amp, r,
		z / volt, -z / amp, 0}))
	u := func(k measure.Key) float64 { return math.Sqrt(w.cov.At(w.at[k], w.at[k])) }
	corr := func(a, b measure.Key) float64 { return w.cov.At(w.at[a], w.at[b]) / (u(a) * u(b)) }
	require.InDelta(t, 127.732, r, 5e-4)
	require.InDelta(t, 219.85, x, 5e-3)
	require.InDelta(t, 254.26, z, 5e-3)
	require.InDelta(t, 0.06998, u("r"), 5e-5)
	require.InDelta(t, 0.29572, u("x"), 5e-5)
	require.InDelta(t, 0.23660, u("z"), 5e-5)
	require.InDelta(t, -0.5915, corr("r", "x"), 5e-4)
	require.InDelta(t, -0.4906, corr("r", "z"), 5e-4)
	require.InDelta(t, 0.9928, corr("x", "z"), 5e-4)
}

// JCGM 100:2008, example H.1: the contributions of an end gauge's calibration, in nanometres,
// combine to 32.
func TestCombinedUncertaintyGUMH1(t *testing.T) {
	parts := []float64{25, 16.6, 6.7, 5.8, 3.9, 2.9}
	w := &witness{at: map[measure.Key]int{}, cov: mat.NewSymDense(len(parts), nil)}
	f := combination{}
	for i, u := range parts {
		k := measure.HoleKey(0, i, "part")
		w.keys, w.x, w.at[k] = append(w.keys, k), append(w.x, 0), i
		w.cov.SetSym(i, i, u*u)
		f.keys, f.coef = append(f.keys, k), append(f.coef, 1)
	}
	_, v, ok := w.of(f)
	require.True(t, ok)
	require.InDelta(t, 31.66, math.Sqrt(v), 0.06) // the contributions are printed to three figures
	require.InDelta(t, 32, math.Sqrt(v), 0.5)
}

// Two correlated inputs of one length: the minimum-variance mean by its closed form,
// w₁ = (u₂² − r u₁u₂)/(u₁² + u₂² − 2 r u₁u₂).
func TestLeastSquaresOfCorrelatedInputs(t *testing.T) {
	const u1, u2, r = 0.1, 0.3, 0.5
	s, err := generalLeastSquares(mat.NewDense(2, 1, []float64{1, 1}), []float64{10, 11},
		mat.NewSymDense(2, []float64{u1 * u1, r * u1 * u2, r * u1 * u2, u2 * u2}))
	require.NoError(t, err)
	w1 := (u2*u2 - r*u1*u2) / (u1*u1 + u2*u2 - 2*r*u1*u2)
	require.InDelta(t, w1*10+(1-w1)*11, s.x[0], 1e-9)
	require.InDelta(t, w1, s.gain.At(0, 0), 1e-9)
	_, err = generalLeastSquares(mat.NewDense(1, 2, []float64{1, 1}), []float64{1}, mat.NewSymDense(1, []float64{1}))
	require.ErrorIs(t, err, errSingular)
}

// Chi-square limits as NIST/SEMATECH e-Handbook of Statistical Methods § 1.3.6.7.4 prints the upper critical values: 5 % and
// 1 %, the second being where readings that contradict each other are widened. Telling photos of two hinges apart
// goes by 1 in 100,000, which no table has: there the tail is held against its closed form for 2 and 4 degrees of
// freedom, e^(−x/2) and (1 + x/2) e^(−x/2).
func TestChiSquareLimit(t *testing.T) {
	table := [][2]float64{{3.841, 6.635}, {5.991, 9.210}, {7.815, 11.345}, {9.488, 13.277}, {11.070, 15.086},
		{12.592, 16.812}, {14.067, 18.475}, {15.507, 20.090}, {16.919, 21.666}, {18.307, 23.209}}
	for i, row := range table {
		require.InDelta(t, row[0], ChiSquareLimit(0.05, i+1), 5e-4)
		require.InDelta(t, row[1], ChiSquareLimit(0.01, i+1), 5e-4)
	}
	require.InDelta(t, 10.828, ChiSquareLimit(0.001, 1), 5e-4)
	require.InDelta(t, 20.515, ChiSquareLimit(0.001, 5), 5e-4)
	require.InDelta(t, -2*math.Log(byChance), ChiSquareLimit(byChance, 2), 1e-6)
	x := ChiSquareLimit(byChance, 4)
	require.InDelta(t, 1, (1+x/2)*math.Exp(-x/2)/byChance, 1e-6)
}
