package geom

import "math"

// SolveSymmetric solves a·x = b for a symmetric positive definite a (n × n by rows) by
// Cholesky's method, and reports whether a was positive definite. a and b are kept.
func SolveSymmetric(a, b []float64) ([]float64, bool) {
	n := len(b)
	l, ok := cholesky(a, n)
	if !ok {
		return nil, false
	}
	x := append([]float64(nil), b...)
	substitute(l, x, n)
	return x, true
}

// cholesky gives the lower factor of a, by rows.
func cholesky(a []float64, n int) ([]float64, bool) {
	l := append([]float64(nil), a...)
	for j := range n {
		for k := range j {
			v := l[j*n+k]
			if v == 0 {
				continue
			}
			for i := j; i < n; i++ {
				l[i*n+j] -= l[i*n+k] * v
			}
		}
		d := l[j*n+j]
		if !(d > 0) || math.IsInf(d, 0) {
			return nil, false
		}
		d = math.Sqrt(d)
		for i := j; i < n; i++ {
			l[i*n+j] /= d
		}
	}
	return l, true
}

// substitute solves l·lᵀ·x = x in place.
func substitute(l, x []float64, n int) {
	for i := range n {
		for k := range i {
			x[i] -= l[i*n+k] * x[k]
		}
		x[i] /= l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k*n+i] * x[k]
		}
		x[i] /= l[i*n+i]
	}
}

// InverseSymmetric inverts a symmetric positive definite matrix. Rows and columns are scaled
// to a unit diagonal first, so that units as unlike as radians and millimetres do not cost
// digits.
func InverseSymmetric(a []float64, n int) ([]float64, bool) {
	scale := make([]float64, n)
	scaled := make([]float64, n*n)
	for i := range n {
		if !(a[i*n+i] > 0) {
			return nil, false
		}
		scale[i] = 1 / math.Sqrt(a[i*n+i])
	}
	for i := range n {
		for j := range n {
			scaled[i*n+j] = a[i*n+j] * scale[i] * scale[j]
		}
	}
	l, ok := cholesky(scaled, n)
	if !ok {
		return nil, false
	}
	inv := make([]float64, n*n)
	col := make([]float64, n)
	for j := range n {
		clear(col)
		col[j] = 1
		substitute(l, col, n)
		for i := range n {
			inv[i*n+j] = col[i] * scale[i] * scale[j]
		}
	}
	return inv, true
}

// A LeastSquares problem: residuals in units of their standard uncertainty, so that the
// inverse of JᵀJ is the covariance of the parameters.
type LeastSquares struct {
	// residuals appends all residuals for parameters p to r.
	Residuals func(p []float64, r []float64) []float64
	// derive writes the residuals' derivatives, by rows; nil: they are taken numerically by step.
	Derive  func(p []float64, jac []float64)
	Step    []float64 // of each parameter, for the numeric derivative
	Robust  float64   // Huber's limit in standard uncertainties; 0: none
	RobustN int       // only the first robustN residuals are down-weighted; 0: all
	Rounds  int       // at the most; 0: 30
	Enough  float64   // stops when a round lessens the cost by a smaller share; 0: 1e-9
}

// Solve improves p in place by Levenberg and Marquardt's method with Huber weights, and
// returns the covariance (n × n by rows), the root mean square of the weighted residuals
// and whether the normal matrix could be inverted.
func (q LeastSquares) Solve(p []float64) (cov []float64, rms float64, ok bool) {
	n := len(p)
	rounds := q.Rounds
	if rounds == 0 {
		rounds = 30
	}
	r := q.Residuals(p, nil)
	m := len(r)
	jac := make([]float64, m*n)
	weights := make([]float64, m)
	trial := make([]float64, n)
	buf := make([]float64, 0, m)
	weigh := func(r []float64) float64 {
		limit := len(r)
		if q.RobustN > 0 {
			limit = q.RobustN
		}
		var cost float64
		for i, v := range r {
			weights[i] = 1
			a := math.Abs(v)
			if q.Robust > 0 && i < limit && a > q.Robust {
				weights[i] = q.Robust / a
				cost += 2*q.Robust*a - q.Robust*q.Robust
				continue
			}
			cost += v * v
		}
		return cost
	}
	derive := func() {
		if q.Derive != nil {
			q.Derive(p, jac)
			return
		}
		for j := range n {
			keep := p[j]
			p[j] = keep + q.Step[j]
			buf = q.Residuals(p, buf[:0])
			p[j] = keep
			for i := range m {
				jac[i*n+j] = (buf[i] - r[i]) / q.Step[j]
			}
		}
	}
	normal := make([]float64, n*n)
	grad := make([]float64, n)
	build := func() {
		clear(normal)
		clear(grad)
		for i := range m {
			row, w := jac[i*n:(i+1)*n], weights[i]
			for a, ja := range row {
				if ja == 0 {
					continue
				}
				ja *= w
				grad[a] += ja * r[i]
				rest := row[a:]
				sums := normal[a*n+a:][:len(rest)]
				for b, jb := range rest {
					sums[b] += ja * jb
				}
			}
		}
		for a := range n {
			for b := range a {
				normal[a*n+b] = normal[b*n+a]
			}
		}
	}
	cost := weigh(r)
	lambda := 1e-4
	damped := make([]float64, n*n)
	moved := true // since the normal matrix was built
	for range rounds {
		derive()
		weigh(r)
		build()
		improved := false
		moved = false
		for range 8 {
			copy(damped, normal)
			for a := range n {
				damped[a*n+a] += lambda*normal[a*n+a] + 1e-12
			}
			d, solved := SolveSymmetric(damped, grad)
			if !solved {
				lambda *= 10
				continue
			}
			for a := range n {
				trial[a] = p[a] - d[a]
			}
			buf = q.Residuals(trial, buf[:0])
			c := weigh(buf)
			if c < cost {
				gain := (cost - c) / cost
				copy(p, trial)
				r = append(r[:0], buf...)
				cost, lambda, improved = c, math.Max(lambda/10, 1e-9), gain > math.Max(q.Enough, 1e-9)
				moved = improved // a last step that hardly gains hardly changes the matrix
				break
			}
			lambda *= 10
		}
		if !improved {
			break
		}
	}
	if moved {
		derive()
		weigh(r)
		build()
	}
	cov, ok = InverseSymmetric(normal, n)
	return cov, math.Sqrt(cost / math.Max(1, float64(m))), ok
}
