package hole

import "math"

// A sectorEdge is what one sector says of the places of an outer and an inner edge: the
// information matrix (1/mm²) and the gradient (1/mm) about where they were looked for.
type sectorEdge struct {
	rss      float64    // sum of squared residuals
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
	spread float64 // standard deviation of the blur, mm
	shades [tableSize][4]float64

	rows [160]edgeRow // room for the fits
}

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
	t := &edgeTable{spread: spread}
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

// shadeReaches are how far, in mm, the light on the table fades under a leaf's edge: the leaf
// lies up to two millimetres above the table, and half of a wide sky is lost within a
// fraction of that; close to the leaf's outer edge much less.
var shadeReaches = [2]float64{0.15, 0.6}

// slopeLength is the length, mm, over which a face's shading may change its light noticeably.
const slopeLength = 0.5

// edges fits the light of a sector between radii low and high, with edges at outer ≥ inner:
// level and slope outside, a step at the outer edge, a step at the inner one where the two
// differ, and within either a slope of its own, as the light fades down a countersink (taken for
// even it makes the rim look small), or, with shade, light that rises from the inner edge inwards.
// Fits of different edges compare by their rss only where low and high are the same. Where the
// edges belong is told on demand.
func (g *ring) edges(s int, outer, inner, low, high float64, t *edgeTable, shade, places bool) (sectorEdge, bool) {
	i0 := max(int(math.Ceil((low-g.r0)/g.dr)), 0)
	i1 := min(int((high-g.r0)/g.dr), g.n-1)
	m := i1 - i0 + 1
	if m < 9 || g.r0+float64(i1)*g.dr < outer+1.5*t.spread || g.r0+float64(i0)*g.dr > inner-1.5*t.spread {
		return sectorEdge{}, false
	}
	l := g.light[s][i0 : i1+1]
	rows := &t.rows
	if m > len(rows) {
		return sectorEdge{}, false
	}
	two := outer-inner > 0.3*t.spread
	// Linear terms first, then the two derivatives by place, which need their sizes. Without shade
	// there are but four, and one edge.
	terms := 4
	if shade {
		terms = 6
	}
	var n smallMatrix
	var b smallVector
	perStep := 1 / (t.spread * tableStep)
	at := func(depth float64) int {
		return min(max(int(depth*perStep+(tableReach/tableStep+0.5)), 0), tableSize-1)
	}
	for i, v := range l {
		x := g.r0 + float64(i0+i)*g.dr
		row := &rows[i]
		row.outer = at(outer - x)
		r1, r2 := (x-outer)/slopeLength, edgeSteps[row.outer][0]
		row.r[1], row.r[2] = r1, r2
		n[0][1] += r1
		n[0][2] += r2
		n[1][1] += r1 * r1
		n[1][2] += r1 * r2
		n[2][2] += r2 * r2
		b[0] += v
		b[1] += r1 * v
		b[2] += r2 * v
		if !shade {
			r3 := r1 * r2
			row.r[3] = r3
			n[0][3] += r3
			n[1][3] += r1 * r3
			n[2][3] += r2 * r3
			n[3][3] += r3 * r3
			b[3] += r3 * v
			continue
		}
		row.inner = at(inner - x)
		var r3 float64
		if two {
			r3 = edgeSteps[row.inner][0]
		}
		fade := &t.shades[row.inner]
		r4, r5 := fade[0], fade[2]
		row.r[3], row.r[4], row.r[5] = r3, r4, r5
		n[0][3] += r3
		n[0][4] += r4
		n[0][5] += r5
		n[1][3] += r1 * r3
		n[1][4] += r1 * r4
		n[1][5] += r1 * r5
		n[2][3] += r2 * r3
		n[2][4] += r2 * r4
		n[2][5] += r2 * r5
		n[3][3] += r3 * r3
		n[3][4] += r3 * r4
		n[3][5] += r3 * r5
		n[4][4] += r4 * r4
		n[4][5] += r4 * r5
		n[5][5] += r5 * r5
		b[3] += r3 * v
		b[4] += r4 * v
		b[5] += r5 * v
	}
	n[0][0] = float64(m)
	n[1][1] += 4 // the face's slope is small unless the light says otherwise
	for j := 2; j < terms; j++ {
		n[j][j] += 0.1
	}
	if !shade {
		n[3][3] += 0.9 // that of a countersink some twice as great
	}
	if !n.eliminate(terms) {
		return sectorEdge{}, false
	}
	c := n.solve(b, terms)
	left := func(v float64, row *edgeRow) float64 {
		v -= c[0]
		v -= c[1] * row.r[1]
		v -= c[2] * row.r[2]
		v -= c[3] * row.r[3]
		if shade {
			v -= c[4] * row.r[4]
			v -= c[5] * row.r[5]
		}
		return v
	}
	var ss float64
	if !places {
		for i, v := range l {
			e := left(v, &rows[i])
			ss += e * e
		}
		return sectorEdge{rss: ss}, true
	}
	// Information on the two places with the linear terms projected out.
	var cross [2]smallVector
	var square [3]float64
	var grad [2]float64
	for i, v := range l {
		row := &rows[i]
		e := left(v, row)
		ss += e * e
		d := c[2] * edgeSteps[row.outer][1] / t.spread
		cross[0].add(d, row)
		grad[0] += d * e
		square[0] += d * d
		if !shade {
			continue
		}
		var q float64
		if two {
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
	p0 := n.solve(cross[0], terms)
	var p1 smallVector
	if shade {
		p1 = n.solve(cross[1], terms)
	}
	for j := range terms {
		square[0] -= cross[0][j] * p0[j]
		square[1] -= cross[0][j] * p1[j]
		square[2] -= cross[1][j] * p1[j]
	}
	if shade && !two {
		terms--
	}
	// Samples lie half a pixel apart, so only about half of them are independent.
	noise := max(math.Sqrt(ss/float64(m-terms)), g.noise)
	v := 2 * noise * noise
	return sectorEdge{
		rss:      ss,
		outside:  c[0],
		info:     [3]float64{square[0] / v, square[1] / v, square[2] / v},
		gradient: [2]float64{grad[0] / v, grad[1] / v},
	}, true
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
