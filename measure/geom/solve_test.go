package geom

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// randomNormal is AᵀA of a random m × n matrix A, with A.
func randomNormal(rnd *rand.Rand, m, n int) (a *mat.Dense, s *mat.SymDense) {
	a = mat.NewDense(m, n, nil)
	for i := range m {
		for j := range n {
			// Columns differ in size as radians and millimetres do.
			a.Set(i, j, rnd.NormFloat64()*math.Pow(10, float64(j%4)-1))
		}
	}
	s = mat.NewSymDense(n, nil)
	s.SymOuterK(1, a.T())
	return a, s
}

// rows copies a symmetric matrix into a slice by rows.
func rows(s *mat.SymDense) []float64 {
	n := s.SymmetricDim()
	out := make([]float64, 0, n*n)
	for i := range n {
		for j := range n {
			out = append(out, s.At(i, j))
		}
	}
	return out
}

// Reference: gonum's mat.Cholesky (after LAPACK's potrf, potrs, potri).
func TestSymmetricAgainstGonum(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{1, 2, 3, 5, 8, 13, 34} {
		_, s := randomNormal(rnd, 3*n, n)
		b := mat.NewVecDense(n, nil)
		for i := range n {
			b.SetVec(i, rnd.NormFloat64())
		}
		var ref mat.Cholesky
		require.True(t, ref.Factorize(s))
		var x mat.VecDense
		require.NoError(t, ref.SolveVecTo(&x, b))
		a := rows(s)
		keepA, keepB := append([]float64(nil), a...), append([]float64(nil), b.RawVector().Data...)
		got, ok := SolveSymmetric(a, b.RawVector().Data)
		require.True(t, ok)
		require.Equal(t, keepA, a, "the matrix is kept")
		require.Equal(t, keepB, b.RawVector().Data, "the right side is kept")
		for i := range n {
			require.InEpsilon(t, x.AtVec(i), got[i], 1e-9, "n %d, x[%d]", n, i)
		}
		var inv mat.SymDense
		require.NoError(t, ref.InverseTo(&inv))
		cov, ok := InverseSymmetric(a, n)
		require.True(t, ok)
		for i := range n {
			for j := range n {
				scale := math.Sqrt(inv.At(i, i) * inv.At(j, j))
				require.InDelta(t, inv.At(i, j)/scale, cov[i*n+j]/scale, 1e-10, "n %d, inverse [%d][%d]", n, i, j)
			}
		}
	}
}

// The inverse of Hilbert's matrix has whole numbers: (−1)^(i+j) (i+j−1) C(n+i−1, n−j)
// C(n+j−1, n−i) C(i+j−2, i−1)², i, j from 1 (Choi, "Tricks or treats with the Hilbert
// matrix", Amer. Math. Monthly 90 (1983); the formula from memory, checked for n = 2 by hand:
// 4, −6, −6, 12).
func TestInverseOfHilbert(t *testing.T) {
	choose := func(n, k int) float64 {
		r := 1.0
		for i := range k {
			r = r * float64(n-i) / float64(i+1)
		}
		return math.Round(r)
	}
	for _, n := range []int{2, 3, 5, 7} {
		a := make([]float64, n*n)
		for i := range n {
			for j := range n {
				a[i*n+j] = 1 / float64(i+j+1)
			}
		}
		inv, ok := InverseSymmetric(a, n)
		require.True(t, ok)
		for i := 1; i <= n; i++ {
			for j := 1; j <= n; j++ {
				want := math.Pow(-1, float64(i+j)) * float64(i+j-1) * choose(n+i-1, n-j) * choose(n+j-1, n-i) * math.Pow(choose(i+j-2, i-1), 2)
				// Its condition number is 5e8 for n = 7: half of the sixteen digits remain.
				require.InEpsilon(t, want, inv[(i-1)*n+j-1], 1e-7, "n %d [%d][%d]", n, i, j)
			}
		}
	}
}

func TestSymmetricRefusesWhatIsNotPositive(t *testing.T) {
	for name, a := range map[string][]float64{
		"zero":          {0, 0, 0, 0},
		"negative":      {-1, 0, 0, 1},
		"indefinite":    {1, 2, 2, 1},
		"singular":      {1, 1, 1, 1},
		"not a number":  {math.NaN(), 0, 0, 1},
		"infinite":      {math.Inf(1), 0, 0, 1},
		"one row empty": {1, 0, 0, 0},
	} {
		_, ok := SolveSymmetric(a, []float64{1, 1})
		require.False(t, ok, "solve, %s", name)
		_, ok = InverseSymmetric(a, 2)
		require.False(t, ok, "inverse, %s", name)
	}
}

// A linear problem has one answer: gonum's mat.QR gives it, and (AᵀA)⁻¹ its covariance.
func TestLeastSquaresAgainstQR(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 2))
	for _, n := range []int{1, 3, 6, 12} {
		m := 4 * n
		a, s := randomNormal(rnd, m, n)
		b := mat.NewDense(m, 1, nil)
		for i := range m {
			b.Set(i, 0, 3*rnd.NormFloat64())
		}
		var qr mat.QR
		qr.Factorize(a)
		var x mat.Dense
		require.NoError(t, qr.SolveTo(&x, false, b))
		q := LeastSquares{Step: make([]float64, n), Residuals: func(p, r []float64) []float64 {
			for i := range m {
				d := -b.At(i, 0)
				for j := range n {
					d += a.At(i, j) * p[j]
				}
				r = append(r, d)
			}
			return r
		}}
		for j := range n {
			q.Step[j] = 1e-3
		}
		p := make([]float64, n)
		cov, rms, ok := q.Solve(p)
		require.True(t, ok)
		var ref mat.Cholesky
		require.True(t, ref.Factorize(s))
		var inv mat.SymDense
		require.NoError(t, ref.InverseTo(&inv))
		var sum float64
		for i := range m {
			d := -b.At(i, 0)
			for j := range n {
				d += a.At(i, j) * x.At(j, 0)
			}
			sum += d * d
		}
		require.InEpsilon(t, math.Sqrt(sum/float64(m)), rms, 1e-6)
		for j := range n {
			u := math.Sqrt(inv.At(j, j))
			require.InDelta(t, x.At(j, 0), p[j], 1e-4*u, "n %d, parameter %d", n, j)
			require.InEpsilon(t, inv.At(j, j), cov[j*n+j], 1e-6, "n %d, variance %d", n, j)
		}
	}
}

// Source: JCGM 100:2008 (GUM), H.3, calibration of a thermometer: intercept −0.1712 ± 0.0029 °C,
// slope 0.00218 ± 0.00067, correlation −0.930, s 0.0035 °C.
func TestLeastSquaresOnGUMLine(t *testing.T) {
	at := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160}
	p := []float64{0, 0}
	const s = 0.0035
	cov, rms, ok := LeastSquares{Step: []float64{1e-6, 1e-6}, Residuals: func(p, r []float64) []float64 {
		for i := range at {
			r = append(r, (p[0]+p[1]*(at[i]-20)-b[i])/s)
		}
		return r
	}}.Solve(p)
	require.True(t, ok)
	require.InDelta(t, -0.1712, p[0], 0.00005)
	require.InDelta(t, 0.00218, p[1], 0.000005)
	require.InDelta(t, 0.0029, math.Sqrt(cov[0]), 0.00005)
	require.InDelta(t, 0.00067, math.Sqrt(cov[3]), 0.000005)
	require.InDelta(t, -0.930, cov[1]/math.Sqrt(cov[0]*cov[3]), 0.0005)
	// The GUM divides by n − 2, the root mean square by n.
	require.InDelta(t, 0.0035, s*rms*math.Sqrt(11.0/9), 0.00005)
}

// Rosenbrock's valley ("An automatic method for finding the greatest or least value of a
// function", Comput. J. 3 (1960)): from (−1.2, 1) to (1, 1).
func TestLeastSquaresOnRosenbrock(t *testing.T) {
	p := []float64{-1.2, 1}
	_, rms, ok := LeastSquares{Step: []float64{1e-7, 1e-7}, Rounds: 200, Residuals: func(p, r []float64) []float64 {
		return append(r, 10*(p[1]-p[0]*p[0]), 1-p[0])
	}}.Solve(p)
	require.True(t, ok)
	require.InDelta(t, 0, rms, 1e-6)
	require.InDelta(t, 1, p[0], 1e-5)
	require.InDelta(t, 1, p[1], 1e-5)
}

// n readings of 0 and one far off: Huber's mean solves −n·m + k = 0, so m = k/n however far
// the stray lies (by hand).
func TestLeastSquaresBoundsAStray(t *testing.T) {
	const n, k = 20, 2.0
	for _, stray := range []float64{10, 1000, 1e6} {
		p := []float64{0.5}
		_, _, ok := LeastSquares{Step: []float64{1e-4}, Robust: k, Residuals: func(p, r []float64) []float64 {
			for range n {
				r = append(r, p[0])
			}
			return append(r, p[0]-stray)
		}}.Solve(p)
		require.True(t, ok)
		require.InDelta(t, k/n, p[0], 1e-3, "stray at %g", stray)
	}
	// Residuals beyond robustN, such as prior knowledge, keep their full weight.
	p := []float64{0}
	_, _, ok := LeastSquares{Step: []float64{1e-4}, Robust: k, RobustN: 1, Residuals: func(p, r []float64) []float64 {
		return append(r, p[0], p[0]-10)
	}}.Solve(p)
	require.True(t, ok)
	// −m + … : the first is down-weighted beyond 2, the second is not: 2 + (m − 10) = 0.
	require.InDelta(t, 8, p[0], 1e-3)
}

// A parameter that nothing depends on has no covariance, and solve says so.
func TestLeastSquaresReportsWhatIsNotDetermined(t *testing.T) {
	p := []float64{1, 2}
	_, _, ok := LeastSquares{Step: []float64{1e-4, 1e-4}, Residuals: func(p, r []float64) []float64 {
		return append(r, p[0], p[0]-1, p[0]+1)
	}}.Solve(p)
	require.False(t, ok)
	require.InDelta(t, 0, p[0], 1e-6)
	require.Equal(t, 2.0, p[1])
}
