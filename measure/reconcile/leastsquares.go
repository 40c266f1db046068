package reconcile

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ChiSquareLimit is the value that chi-square with the given degrees of freedom exceeds with
// probability p.
func ChiSquareLimit(p float64, freedom int) float64 {
	return distuv.ChiSquared{K: float64(freedom)}.Quantile(1 - p)
}

// errSingular says that the inputs do not determine the unknowns.
var errSingular = errors.New("measure: the inputs do not determine every unknown")

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
