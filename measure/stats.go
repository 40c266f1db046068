package measure

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// errSingular says that the inputs do not determine the unknowns.
var errSingular = errors.New("measure: the inputs do not determine every unknown")

// WeightedMean is the mean of estimates weighted by 1/u², its standard uncertainty, the
// chi-square of the estimates about it, and the degrees of freedom. Estimates that were not
// measured are passed over; without any, the mean is the zero Estimate.
func WeightedMean(list ...Estimate) (mean Estimate, chiSquare float64, freedom int) {
	var sw, swx float64
	n := 0
	for _, e := range list {
		if !e.Known() {
			continue
		}
		w := 1 / float64(e.Sigma*e.Sigma)
		sw, swx, n = sw+w, swx+w*float64(e.Value), n+1
	}
	if n == 0 {
		return Estimate{}, 0, 0
	}
	mean = Estimate{Value: Length(swx / sw), Sigma: Length(1 / math.Sqrt(sw))}
	for _, e := range list {
		if e.Known() {
			r := float64((e.Value - mean.Value) / e.Sigma)
			chiSquare += r * r
		}
	}
	return mean, chiSquare, n - 1
}

// BirgeRatio is √(χ²/ν): near 1 where the estimates scatter as their uncertainties say.
func BirgeRatio(chiSquare float64, freedom int) float64 {
	if freedom <= 0 {
		return 0
	}
	return math.Sqrt(chiSquare / float64(freedom))
}

// ChiSquareLimit is the value that chi-square with the given degrees of freedom exceeds with
// probability p.
func ChiSquareLimit(p float64, freedom int) float64 {
	return distuv.ChiSquared{K: float64(freedom)}.Quantile(1 - p)
}

// ZetaScore is the difference of two estimates in combined standard uncertainties
// (ISO 13528): beyond 2 is a warning, beyond 3 calls for action.
func ZetaScore(a, b Estimate) float64 {
	return float64(a.Value-b.Value) / math.Hypot(float64(a.Sigma), float64(b.Sigma))
}

// EnScore is the difference of two values over their combined expanded uncertainties, k = 2
// (ISO 13528): up to 1 in size the two agree.
func EnScore(a, b Estimate) float64 { return ZetaScore(a, b) / 2 }

// solution is a generalised least-squares estimate.
type solution struct {
	x         []float64
	cov       *mat.SymDense
	gain      *mat.Dense // x = gain · y
	residual  []float64  // (y − A x) in its own standard uncertainty √(V − A C Aᵀ)
	chiSquare float64    // of all inputs
}

// generalLeastSquares solves y = A x + e, e with covariance v, by generalised least squares:
// C = (Aᵀ V⁻¹ A)⁻¹, x = C Aᵀ V⁻¹ y (JCGM 102 annex; Aitken 1935). A has a row an input.
func generalLeastSquares(a *mat.Dense, y []float64, v *mat.SymDense) (solution, error) {
	n, p := a.Dims()
	var cv mat.Cholesky
	if !cv.Factorize(v) {
		return solution{}, errSingular
	}
	var via, vinv mat.Dense
	if err := cv.SolveTo(&via, a); err != nil && !isCondition(err) {
		return solution{}, errSingular
	}
	eye := mat.NewDense(n, n, nil)
	for i := range n {
		eye.Set(i, i, 1)
	}
	if err := cv.SolveTo(&vinv, eye); err != nil && !isCondition(err) {
		return solution{}, errSingular
	}
	var normal mat.Dense
	normal.Mul(a.T(), &via)
	sym := mat.NewSymDense(p, nil)
	for i := range p {
		for j := i; j < p; j++ {
			sym.SetSym(i, j, (normal.At(i, j)+normal.At(j, i))/2)
		}
	}
	var cn mat.Cholesky
	if !cn.Factorize(sym) {
		return solution{}, errSingular
	}
	s := solution{cov: mat.NewSymDense(p, nil), gain: mat.NewDense(p, n, nil)}
	if err := cn.InverseTo(s.cov); err != nil && !isCondition(err) {
		return solution{}, errSingular
	}
	s.gain.Mul(s.cov, via.T())
	yv := mat.NewVecDense(n, y)
	var x, fit, r, vr mat.VecDense
	x.MulVec(s.gain, yv)
	s.x = append(s.x, x.RawVector().Data...)
	fit.MulVec(a, &x)
	r.SubVec(yv, &fit)
	vr.MulVec(&vinv, &r)
	s.chiSquare = mat.Dot(&r, &vr)
	var ac, aca mat.Dense
	ac.Mul(a, s.cov)
	aca.Mul(&ac, a.T())
	s.residual = make([]float64, n)
	for i := range n {
		// An input that alone decides its unknown has no residual to speak of.
		if free := v.At(i, i) - aca.At(i, i); free > 1e-6*v.At(i, i) {
			s.residual[i] = r.AtVec(i) / math.Sqrt(free)
		}
	}
	return s, nil
}

// isCondition reports gonum's warning of a badly conditioned, but solved, system.
func isCondition(err error) bool {
	var c mat.Condition
	return errors.As(err, &c)
}
