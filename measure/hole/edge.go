package hole

import "math"

// A sectorEdge is what one sector says of the places of an outer and an inner edge: the
// information matrix (1/mm²) and the gradient (1/mm) about where they were looked for.
type sectorEdge struct {
	outside  float64    // linear light just outside the outer edge
	info     [3]float64 // outer·outer, outer·inner, inner·inner
	gradient [2]float64
}

// shift and sigma are for both edges moving together.
func (e sectorEdge) shift() (offset, sigma float64) {
	i := e.info[0] + 2*e.info[1] + e.info[2]
	if i <= 0 {
		return 0, math.Inf(1)
	}
	return (e.gradient[0] + e.gradient[1]) / i, 1 / math.Sqrt(i)
}

// An edgeTable holds the shapes that an edge's light is fitted with, blurred, by depth beyond
// the edge (positive inside) in steps of a fiftieth of the blur: beside edgeSteps light that rises
// from the edge inwards with two reaches, as on a table seen below a leaf; and its slopes.
type edgeTable struct {
	spread  float64 // standard deviation of the blur, mm
	perStep float64 // steps of the table to the millimetre
	shades  [tableSize][4]float64

	fit edgeFit // room for one at a time
}

// The table is as fine as a straight line between its steps needs to be right to 1e-4, and reaches to where
// the light's fading is over.
const (
	tableStep  = 0.02 // spreads
	tableReach = 30.  // spreads to either side
	tableSize  = int(2*tableReach/tableStep) + 1
)

// edgeSteps is a step and its slope, at a blur of 1, by depth in steps of tableStep.
var edgeSteps = func() (t [tableSize][2]float64) {
	for i := range t {
		z := float64(i)*tableStep - tableReach
		t[i] = [2]float64{0.5 * (1 + math.Erf(z/math.Sqrt2)), math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)}
	}
	return t
}()

func newEdgeTable(spread float64) *edgeTable {
	t := &edgeTable{}
	t.blurBy(spread)
	const first = int((tableReach - 8) / tableStep) // before it is nothing
	for k, reach := range shadeReaches {
		q := spread / reach
		fade, every := math.Exp(q*q/2-q*(float64(first)*tableStep-tableReach)), math.Exp(-q*tableStep)
		for i := first; i < tableSize; i++ {
			e := fade
			if z := float64(i)*tableStep - tableReach - q; z < 8 {
				e *= 0.5 * (1 + math.Erf(z/math.Sqrt2))
			}
			t.shades[i][2*k], t.shades[i][2*k+1] = edgeSteps[i][0]-e, e/reach
			fade *= every
		}
	}
	return t
}

// blurBy sets the blur, of the table's steps alone.
func (t *edgeTable) blurBy(spread float64) { t.spread, t.perStep = spread, 1/(spread*tableStep) }

// shadeReaches are how far, in mm, the light on the table fades under a leaf's edge: the leaf
// lies up to two millimetres above the table, and half of a wide sky is lost within a
// fraction of that; close to the leaf's outer edge much less.
var shadeReaches = [2]float64{0.15, 0.6}

// slopeLength is the length, mm, over which a face's shading may change its light noticeably.
const slopeLength = 0.5

// An edgePlace is where a sector's two edges are looked for, outer ≥ inner, and the radii low and high
// between which its light is fitted, mm. Fits of different edges compare only where low and high are the
// same.
type edgePlace struct{ outer, inner, low, high float64 }

// An edgeFit is the linear least squares for the light of one sector about a hole's edges: level and slope
// outside, a step at the outer edge, and within it
//   - of a rim a slope of its own, as the light fades down a countersink (taken for even it makes the
//     rim look small);
//   - of a bore a step at the inner edge where the two differ, and light that rises from there inwards.
type edgeFit struct {
	t     *edgeTable
	light []float64 // samples
	bore  bool      // else a rim: four terms and one edge
	two   bool      // the bore's edges differ
	terms int
	n     smallMatrix
	c     smallVector // levels
	noise float64     // of a sample
	rows  [160]edgeRow
}

// rimTerms and boreTerms are how many linear terms the light about each has.
const rimTerms, boreTerms = 4, 6

// fitRim fits the light of sector s about a rim. It reports whether there is light enough to do so. The fit
// is good until the table's next.
func (g *ring) fitRim(s int, at edgePlace, t *edgeTable) (*edgeFit, bool) {
	f, from, ok := g.start(s, at, t)
	if !ok {
		return nil, false
	}
	f.bore, f.two, f.terms = false, false, rimTerms
	n := &f.n
	var b smallVector
	for i, v := range f.light {
		x := g.r0 + float64(from+i)*g.dr
		row := &f.rows[i]
		row.outer = t.index(at.outer - x)
		r1, r2 := (x-at.outer)/slopeLength, edgeSteps[row.outer][0]
		r3 := r1 * r2
		row.r[1], row.r[2], row.r[3] = r1, r2, r3
		n[0][1] += r1
		n[0][2] += r2
		n[0][3] += r3
		n[1][1] += r1 * r1
		n[1][2] += r1 * r2
		n[1][3] += r1 * r3
		n[2][2] += r2 * r2
		n[2][3] += r2 * r3
		n[3][3] += r3 * r3
		b[0] += v
		b[1] += r1 * v
		b[2] += r2 * v
		b[3] += r3 * v
	}
	return f, f.finish(b)
}

// fitBore does so about a bore.
func (g *ring) fitBore(s int, at edgePlace, t *edgeTable) (*edgeFit, bool) {
	f, from, ok := g.start(s, at, t)
	if !ok {
		return nil, false
	}
	f.bore, f.two, f.terms = true, at.outer-at.inner > 0.3*t.spread, boreTerms
	n := &f.n
	var b smallVector
	for i, v := range f.light {
		x := g.r0 + float64(from+i)*g.dr
		row := &f.rows[i]
		row.outer, row.inner = t.index(at.outer-x), t.index(at.inner-x)
		r1, r2 := (x-at.outer)/slopeLength, edgeSteps[row.outer][0]
		var r3 float64
		if f.two {
			r3 = edgeSteps[row.inner][0]
		}
		fade := &t.shades[row.inner]
		r4, r5 := fade[0], fade[2]
		row.r[1], row.r[2], row.r[3], row.r[4], row.r[5] = r1, r2, r3, r4, r5
		n[0][1] += r1
		n[0][2] += r2
		n[0][3] += r3
		n[0][4] += r4
		n[0][5] += r5
		n[1][1] += r1 * r1
		n[1][2] += r1 * r2
		n[1][3] += r1 * r3
		n[1][4] += r1 * r4
		n[1][5] += r1 * r5
		n[2][2] += r2 * r2
		n[2][3] += r2 * r3
		n[2][4] += r2 * r4
		n[2][5] += r2 * r5
		n[3][3] += r3 * r3
		n[3][4] += r3 * r4
		n[3][5] += r3 * r5
		n[4][4] += r4 * r4
		n[4][5] += r4 * r5
		n[5][5] += r5 * r5
		b[0] += v
		b[1] += r1 * v
		b[2] += r2 * v
		b[3] += r3 * v
		b[4] += r4 * v
		b[5] += r5 * v
	}
	return f, f.finish(b)
}

// start clears the table's fit for the samples of sector s that at takes in, of which the ring's from-th
// is the first, and reports whether these reach beyond both edges.
func (g *ring) start(s int, at edgePlace, t *edgeTable) (f *edgeFit, from int, ok bool) {
	from = max(int(math.Ceil((at.low-g.r0)/g.dr)), 0)
	to := min(int((at.high-g.r0)/g.dr), g.n-1)
	m := to - from + 1
	if m < 9 || g.r0+float64(to)*g.dr < at.outer+1.5*t.spread || g.r0+float64(from)*g.dr > at.inner-1.5*t.spread {
		return nil, 0, false
	}
	f = &t.fit
	if m > len(f.rows) {
		return nil, 0, false
	}
	f.t, f.light, f.noise, f.n = t, g.light[s][from:to+1], g.noise, smallMatrix{}
	return f, from, true
}

// index is where in the table a depth beyond an edge stands.
func (t *edgeTable) index(depth float64) int {
	return min(max(int(depth*t.perStep+(tableReach/tableStep+0.5)), 0), tableSize-1)
}

// finish solves for the levels, b being the light by terms. Slopes and steps are small unless the light says
// otherwise.
func (f *edgeFit) finish(b smallVector) bool {
	n := &f.n
	n[0][0] = float64(len(f.light))
	n[1][1] += 4
	for j := 2; j < f.terms; j++ {
		n[j][j] += 0.1
	}
	if !f.bore {
		n[3][3] += 0.9 // that of a countersink some twice as great as a face's
	}
	if !n.eliminate(f.terms) {
		return false
	}
	f.c = n.solve(b, f.terms)
	return true
}

// left is what the fit leaves of a sample.
func (f *edgeFit) left(i int) float64 {
	c, row := &f.c, &f.rows[i]
	v := f.light[i] - c[0]
	v -= c[1] * row.r[1]
	v -= c[2] * row.r[2]
	v -= c[3] * row.r[3]
	if f.bore {
		v -= c[4] * row.r[4]
		v -= c[5] * row.r[5]
	}
	return v
}

// squares is the sum of what is left, squared.
func (f *edgeFit) squares() (sum float64) {
	for i := range f.light {
		e := f.left(i)
		sum += e * e
	}
	return sum
}

// places tells where the edges belong, with the linear terms projected out.
func (f *edgeFit) places() sectorEdge {
	c, t := &f.c, f.t
	var ss float64
	var cross [2]smallVector
	var square [3]float64
	var grad [2]float64
	for i := range f.light {
		row := &f.rows[i]
		e := f.left(i)
		ss += e * e
		d := c[2] * edgeSteps[row.outer][1] / t.spread
		cross[0].add(d, row)
		grad[0] += d * e
		square[0] += d * d
		if !f.bore {
			continue
		}
		var q float64
		if f.two {
			q = c[3] * edgeSteps[row.inner][1] / t.spread
		}
		q += c[4]*t.shades[row.inner][1] + c[5]*t.shades[row.inner][3]
		cross[1].add(q, row)
		grad[1] += q * e
		square[1] += d * q
		square[2] += q * q
	}
	// The penalties leave a gradient that is not quite orthogonal to the linear terms; it is
	// as small as they are.
	p0 := f.n.solve(cross[0], f.terms)
	var p1 smallVector
	if f.bore {
		p1 = f.n.solve(cross[1], f.terms)
	}
	for j := range f.terms {
		square[0] -= cross[0][j] * p0[j]
		square[1] -= cross[0][j] * p1[j]
		square[2] -= cross[1][j] * p1[j]
	}
	terms := f.terms
	if f.bore && !f.two {
		terms--
	}
	// Samples lie half a pixel apart, so only about half of them are independent.
	noise := max(math.Sqrt(ss/float64(len(f.light)-terms)), f.noise)
	v := 2 * noise * noise
	return sectorEdge{
		outside:  c[0],
		info:     [3]float64{square[0] / v, square[1] / v, square[2] / v},
		gradient: [2]float64{grad[0] / v, grad[1] / v},
	}
}

// An edgeRow is one sample in an edge's fit.
type edgeRow struct {
	r            [6]float64 // the linear terms
	outer, inner int        // where both edges are in the table
}

// A smallMatrix is symmetric and positive definite, given by its upper half.
type (
	smallMatrix [6][6]float64
	smallVector [6]float64
)

// add adds d times a row's terms.
func (v *smallVector) add(d float64, row *edgeRow) {
	v[0] += d
	v[1] += d * row.r[1]
	v[2] += d * row.r[2]
	v[3] += d * row.r[3]
	v[4] += d * row.r[4]
	v[5] += d * row.r[5]
}

// eliminate brings the leading m × m to triangular form, to solve by.
func (n *smallMatrix) eliminate(m int) bool {
	for k := range m {
		if !(n[k][k] > 0) {
			return false
		}
		for i := k + 1; i < m; i++ {
			f := n[k][i] / n[k][k]
			n[i][k] = f
			for j := i; j < m; j++ {
				n[i][j] -= f * n[k][j]
			}
		}
	}
	return true
}

// solve solves n·x = b.
func (n *smallMatrix) solve(b smallVector, m int) (x smallVector) {
	for k := range m {
		for i := k + 1; i < m; i++ {
			b[i] -= n[i][k] * b[k]
		}
	}
	for i := m - 1; i >= 0; i-- {
		x[i] = b[i]
		for j := i + 1; j < m; j++ {
			x[i] -= n[i][j] * x[j]
		}
		x[i] /= n[i][i]
	}
	return x
}
