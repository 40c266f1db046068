package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// The package has no circle or ellipse fit of its own: corners, holes and outlines are all
// fitted by LeastSquares to geometric distances. So the worked circles below are fitted with
// the distance to a leaf's rounded corner (Face.outside), the ellipse with the parametric
// residuals of its source, and NIST's reference data check the solver and its covariance.

// fitCorner fits a rounded corner to places on the face: where the face's corner (as if
// square) lies and its radius. The arc's middle lies a radius in from both edges.
func fitCorner(t *testing.T, at [][2]float64, u, v, r float64) (mu, mv, radius, rms float64) {
	p := []float64{u, v, r}
	cov, rms, ok := LeastSquares{Step: []float64{1e-7, 1e-7, 1e-7}, Rounds: 200, Enough: 1e-15, Residuals: func(p, r []float64) []float64 {
		l := Face{Width: 100, Height: 100, Radius: [2]float64{p[2], 1}}
		for _, q := range at {
			r = append(r, l.Outside(3, q[0]-(p[0]-p[2]), q[1]-(p[1]-p[2])))
		}
		return r
	}}.Solve(p)
	require.True(t, ok)
	require.NotNil(t, cov)
	return p[0], p[1], p[2], rms
}

// Sources: Gander, Golub and Strebel, "Least-squares fitting of circles and ellipses", BIT 34
// (1994) 558–578: the six points (as its authors' readers give them in "fitcircle
// demonstration", MATLAB Central 15060); geometric fit: middle (4.7398, 2.9835), radius 4.7142,
// from memory. SciPy Cookbook, "Least squares circle": its six points and the result of
// scipy.optimize.leastsq as printed in full in the notebook of RamSaw/OptimizationMethods.
func TestCornerDistanceOnWorkedCircles(t *testing.T) {
	for _, s := range []struct {
		name      string
		at        [][2]float64
		start     [3]float64 // the algebraic fit, or the points' middle
		u, v, r   float64
		tolerance float64 // half a digit of the source's last, and a little for the solver
	}{
		{"Gander, Golub, Strebel", [][2]float64{{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}},
			[3]float64{5.3794, 7.2532, 3.0370}, 4.7398, 2.9835, 4.7142, 1e-4},
		{"SciPy Cookbook", [][2]float64{{9, 34}, {35, 10}, {-13, 6}, {10, -14}, {23, 27}, {0, -10}},
			[3]float64{64.0 / 6, 53.0 / 6, 20}, 10.50008746970535, 9.659948682813534, 23.3335276080614, 1e-6},
	} {
		u, v, r, _ := fitCorner(t, s.at, s.start[0], s.start[1], s.start[2])
		require.InDelta(t, s.u, u, s.tolerance, "%s, middle", s.name)
		require.InDelta(t, s.v, v, s.tolerance, "%s, middle", s.name)
		require.InDelta(t, s.r, r, s.tolerance, "%s, radius", s.name)

		// At the least sum of squares its three derivatives vanish: the middle's by hand.
		var gu, gv, gr float64
		for _, q := range s.at {
			d := math.Hypot(q[0]-u, q[1]-v)
			gu, gv, gr = gu+(d-r)*(u-q[0])/d, gv+(d-r)*(v-q[1])/d, gr+d-r
		}
		require.InDelta(t, 0, gu, 1e-5, s.name)
		require.InDelta(t, 0, gv, 1e-5, s.name)
		require.InDelta(t, 0, gr, 1e-5, s.name)
	}
}

// Source: the same paper's ellipse: the six points with (6, 2) and (8, 4); geometric fit: middle
// (2.6996, 3.8160), semi-axes 6.5187 and 3.0319, turned by 0.3596 rad, distances of 1.1719 together
// (root of the sum of squares); points and results from memory. As in the paper each point has its
// foot on the ellipse as an unknown: 13 unknowns, 16 residuals.
func TestLeastSquaresOnWorkedEllipse(t *testing.T) {
	at := [][2]float64{{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}, {6, 2}, {8, 4}}
	p := make([]float64, 5+len(at))
	copy(p, []float64{4, 5, 5, 3, 0.5})
	for i, q := range at {
		s, c := math.Sincos(p[4])
		dx, dy := q[0]-p[0], q[1]-p[1]
		p[5+i] = math.Atan2((dy*c-dx*s)/p[3], (dx*c+dy*s)/p[2])
	}
	step := make([]float64, len(p))
	for i := range step {
		step[i] = 1e-7
	}
	_, rms, ok := LeastSquares{Step: step, Rounds: 2000, Enough: 1e-14, Residuals: func(p, r []float64) []float64 {
		s, c := math.Sincos(p[4])
		for i, q := range at {
			sf, cf := math.Sincos(p[5+i])
			x, y := p[2]*cf, p[3]*sf
			r = append(r, q[0]-p[0]-c*x+s*y, q[1]-p[1]-s*x-c*y)
		}
		return r
	}}.Solve(p)
	require.True(t, ok)
	// The sum is flat about its least: a thousandth in the semi-axes changes it by a millionth.
	for i, want := range []float64{2.6996, 3.8160, 6.5187, 3.0319, 0.3596} {
		require.InDelta(t, want, p[i], 2e-3, "unknown %d", i)
	}
	require.InDelta(t, 1.1719, rms*math.Sqrt(float64(2*len(at))), 1e-4)
}

// Source: NIST/ITL Statistical Reference Datasets, nonlinear regression: Misra1a (lower level of
// difficulty) and MGH10 (higher), certified values and standard deviations, from NIST's starts; of
// MGH10 only the nearer, for the far one needs more damping than a round tries, and no hinge is
// started a factor of three hundred off. LeastSquares takes residuals in standard uncertainties: here of 1, so that NIST's
// standard deviations are those of its covariance times the residual standard deviation.
func TestLeastSquaresOnNISTData(t *testing.T) {
	for _, s := range []struct {
		name         string
		x, y         []float64
		model        func(p []float64, x float64) float64
		starts       [][]float64
		want, sigma  []float64
		sumOfSquares float64
	}{
		{
			name:   "Misra1a",
			x:      []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0},
			y:      []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78},
			model:  func(p []float64, x float64) float64 { return p[0] * (1 - math.Exp(-p[1]*x)) },
			starts: [][]float64{{500, 0.0001}, {250, 0.0005}},
			want:   []float64{2.3894212918e+02, 5.5015643181e-04}, sigma: []float64{2.7070075241, 7.2668688436e-06},
			sumOfSquares: 1.2455138894e-01,
		},
		{
			name:   "MGH10",
			x:      []float64{50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 100, 105, 110, 115, 120, 125},
			y:      []float64{34780, 28610, 23650, 19630, 16370, 13720, 11540, 9744, 8261, 7030, 6005, 5147, 4427, 3820, 3307, 2872},
			model:  func(p []float64, x float64) float64 { return p[0] * math.Exp(p[1]/(x+p[2])) },
			starts: [][]float64{{0.02, 4000, 250}},
			want:   []float64{5.6096364710e-03, 6.1813463463e+03, 3.4522363462e+02},
			sigma:  []float64{1.5687892471e-04, 2.3309021107e+01, 7.8486103508e-01}, sumOfSquares: 8.7945855171e+01,
		},
	} {
		for i, start := range s.starts {
			p := append([]float64(nil), start...)
			step := make([]float64, len(p))
			for k := range step {
				step[k] = 1e-7 * s.want[k]
			}
			cov, rms, ok := LeastSquares{Step: step, Rounds: 20000, Enough: 1e-14, Residuals: func(p, r []float64) []float64 {
				for k, x := range s.x {
					r = append(r, s.model(p, x)-s.y[k])
				}
				return r
			}}.Solve(p)
			require.True(t, ok, "%s, start %d", s.name, i+1)
			n := float64(len(s.x))
			require.InEpsilon(t, s.sumOfSquares, rms*rms*n, 1e-6, "%s, start %d: sum of squares", s.name, i+1)
			for k := range p {
				sigma := math.Sqrt(cov[k*len(p)+k] * rms * rms * n / (n - float64(len(p))))
				require.InDelta(t, s.want[k], p[k], 1e-3*s.sigma[k], "%s, start %d: b%d", s.name, i+1, k+1)
				require.InEpsilon(t, s.sigma[k], sigma, 1e-3, "%s, start %d: standard deviation of b%d", s.name, i+1, k+1)
			}
		}
	}
}
