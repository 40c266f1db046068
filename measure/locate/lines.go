package locate

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure/geom"
)

// Where a hinge does not stand out from its ground as an area (black on black, half in a
// shadow, across a sheet's rim), its lines still do: two outer edges, the barrel's two sides
// midway between them, all parallel, and two ends square to those. They are looked for on the
// map turned by every angle, averaged along their length, which noise and texture do not survive.

const (
	lineWindow = 24.0 // mm of the lines looked at together: the lowest hinge's straight part
	lineStep   = 12   // mm from window to window
	lineBlur   = 4    // cells to either side that a step is averaged over, along the line
	lineTurn   = 2.0  // degrees from angle to angle: a line of 100 mm strays 0.9 mm at most
	leastLine  = 0.45 // of a line must show as one: texture reaches about a third
	mostLined  = 6    // candidates
)

// A lineMap is the map turned: column p lies along the lines, row q across them. Values are
// how much of a line passes there, 0…1.
type lineMap struct {
	w, h   int
	phi    float64
	x0, y0 float64 // place of the middle
	along  []float32
	across []float32 // lines square to those
}

// ByLines finds hinges of two leaves by their lines, likeliest first.
func (g *Ground) ByLines() []Hinge {
	half := g.half()
	clear := half.offCard(2)
	var found []Hinge
	for deg := 0.0; deg < 90; deg += lineTurn {
		m := half.turned(deg*math.Pi/180, clear)
		found = append(found, m.hinges()...)
		found = append(found, m.transposed().hinges()...)
	}
	slices.SortStableFunc(found, func(a, b Hinge) int { return cmp.Compare(b.Score, a.Score) })
	var out []Hinge
	for _, r := range found {
		if !slices.ContainsFunc(out, func(o Hinge) bool {
			return math.Hypot(o.Cx-r.Cx, o.Cy-r.Cy) < 4 && math.Abs(o.Height-r.Height) < 4 &&
				math.Abs(o.Width[0]-r.Width[0]) < 4
		}) {
			if out = append(out, r); len(out) == mostLined {
				break
			}
		}
	}
	return out
}

// turned gives the line map at angle phi.
func (g *Ground) turned(phi float64, clear *bitmap) *lineMap {
	s, c := math.Sincos(phi)
	mx, my := g.x0+float64(g.w-1)/2*g.cellSize, g.y0+float64(g.h-1)/2*g.cellSize
	as, ac := math.Abs(s), math.Abs(c)
	m := &lineMap{w: int(float64(g.w)*ac+float64(g.h)*as) + 1, h: int(float64(g.w)*as+float64(g.h)*ac) + 1, phi: phi, x0: mx, y0: my}
	n := m.w * m.h
	var v [3][]float32
	for k := range v {
		v[k] = make([]float32, n)
	}
	ok := make([]bool, n)
	for q := range m.h {
		for p := range m.w {
			dp, dq := float64(p)-float64(m.w-1)/2, float64(q)-float64(m.h-1)/2
			x, y := dp*c-dq*s+float64(g.w-1)/2, dp*s+dq*c+float64(g.h-1)/2
			i, j := int(x), int(y)
			if x < 0 || y < 0 || i+1 >= g.w || j+1 >= g.h || !clear.at(i, j) || !clear.at(i+1, j+1) || !clear.at(i+1, j) || !clear.at(i, j+1) {
				continue
			}
			fx, fy := float32(x-float64(i)), float32(y-float64(j))
			o, k := q*m.w+p, j*g.w+i
			for ch, a := range [3][]float32{g.r, g.g, g.b} {
				v[ch][o] = (a[k]*(1-fx)+a[k+1]*fx)*(1-fy) + (a[k+g.w]*(1-fx)+a[k+g.w+1]*fx)*fy
			}
			ok[o] = true
		}
	}
	m.along = lineSteps(v, ok, m.w, m.h, 1, m.w)
	m.across = lineSteps(v, ok, m.w, m.h, m.w, 1)
	return m
}

// lineSteps gives how much of a line passes each cell in the direction whose cells lie run
// apart in memory; cells square to it lie side apart.
func lineSteps(v [3][]float32, ok []bool, w, h, run, side int) []float32 {
	n := w * h
	total := make([]float32, n)
	d := make([]float32, n)
	lines, length := h, w
	if run != 1 {
		lines, length = w, h
	}
	for ch := range v {
		a := v[ch]
		for o := side; o < n-side; o++ {
			d[o] = 0
			if ok[o-side] && ok[o+side] && ok[o] {
				d[o] = a[o+side] - a[o-side]
			}
		}
		for l := range lines {
			first := l * side
			var sum float32
			for k := range min(lineBlur, length) {
				sum += d[first+k*run]
			}
			for k := range length {
				if k+lineBlur < length {
					sum += d[first+(k+lineBlur)*run]
				}
				if k > lineBlur {
					sum -= d[first+(k-lineBlur-1)*run]
				}
				t := sum / (2*lineBlur + 1)
				total[first+k*run] += t * t
			}
		}
	}
	// A line is what stands out from what is usual here, by twice; at least by a grey level.
	var some []float64
	for o := 0; o < n; o += 7 {
		if ok[o] {
			some = append(some, float64(total[o]))
		}
	}
	if len(some) == 0 {
		return total
	}
	usual := float32(max(4*geom.Pick(some, len(some)/2), 3))
	for o, t := range total {
		total[o] = t / (t + usual)
	}
	// Only the crest of a step is a line: what its neighbours exceed counts for nothing.
	crest := make([]float32, n)
	for o := side; o < n-side; o++ {
		if total[o] >= total[o-side] && total[o] >= total[o+side] {
			crest[o] = total[o]
		}
	}
	// It may stray by a cell.
	out := make([]float32, n)
	for o := side; o < n-side; o++ {
		out[o] = max(crest[o-side], crest[o], crest[o+side])
	}
	return out
}

// transposed is the map turned by a right angle more: along and across change places.
func (m *lineMap) transposed() *lineMap {
	t := &lineMap{w: m.h, h: m.w, phi: m.phi + math.Pi/2, x0: m.x0, y0: m.y0,
		along: make([]float32, len(m.along)), across: make([]float32, len(m.across))}
	// Turned by 90°, p runs along the old q and q against the old p.
	for q := range t.h {
		for p := range t.w {
			o := p*m.w + (m.w - 1 - q)
			t.along[q*t.w+p], t.across[q*t.w+p] = m.across[o], m.along[o]
		}
	}
	return t
}

// hinges finds hinges whose barrel lies along p.
func (m *lineMap) hinges() []Hinge {
	// Sums from the start of each row, and of each column.
	rows := make([]float32, (m.w+1)*m.h)
	for q := range m.h {
		for p := range m.w {
			rows[q*(m.w+1)+p+1] = rows[q*(m.w+1)+p] + m.along[q*m.w+p]
		}
	}
	cols := make([]float32, m.w*(m.h+1))
	for q := range m.h {
		for p := range m.w {
			cols[(q+1)*m.w+p] = cols[q*m.w+p] + m.across[q*m.w+p]
		}
	}
	line := func(q, p0, p1 int) float64 {
		return float64(rows[q*(m.w+1)+p1]-rows[q*(m.w+1)+p0]) / float64(max(p1-p0, 1))
	}
	end := func(p, q0, q1 int) float64 {
		return float64(cols[q1*m.w+p]-cols[q0*m.w+p]) / float64(max(q1-q0, 1))
	}
	cell := 2 * groundCell
	window := int(lineWindow / cell)
	var out []Hinge
	prof := make([]float64, m.h)
	for p := 0; p+window <= m.w; p += lineStep {
		var peaks []int
		for q := range prof {
			prof[q] = line(q, p, p+window)
		}
		for q := 2; q < m.h-2; q++ {
			if v := prof[q]; v >= leastLine && v > prof[q-1] && v > prof[q-2] && v >= prof[q+1] && v >= prof[q+2] {
				peaks = append(peaks, q)
			}
		}
		var best Hinge
		for _, l := range likeliest(peaks, prof) {
			a, b0, b1, d, barrel := l.at[0], l.at[1], l.at[2], l.at[3], l.barrel
			// An end shows on both leaves, away from the corners.
			round := min(int(8/cell), (b0-a)/3)
			ends := func(p int) float64 {
				return math.Min(end(p, a+round, b0-2), end(p, b1+2, d-round))
			}
			firsts, lasts := m.ends(ends, p, window)
			sum := 0.0
			var bp0, bp1 int
			for _, f := range firsts {
				for _, l := range lasts {
					p0, p1 := f.at, l.at
					if n := float64(p1-p0) * cell; n < LeastHinge || n > MostHinge {
						continue
					}
					// The corners' largest radius of 16 mm left out.
					r := min(int(16/cell), (p1-p0)/3)
					outer := math.Min(line(a, p0+r, p1-r), line(d, p0+r, p1-r))
					mid := math.Min(line(b0, p0+3, p1-3), line(b1, p0+3, p1-3))
					if s := math.Min(f.share, l.share) * outer * math.Sqrt(mid*barrel); outer >= leastLine && mid >= leastLine/2 && s > sum {
						sum, bp0, bp1 = s, p0, p1
					}
				}
			}
			if sum > best.Score {
				axis := float64(b0+b1)/2 - float64(m.h-1)/2
				mid := float64(bp0+bp1)/2 - float64(m.w-1)/2
				sn, cs := math.Sincos(m.phi)
				best = Hinge{Cx: m.x0 + (mid*cs-axis*sn)*cell, Cy: m.y0 + (mid*sn+axis*cs)*cell, Phi: m.phi,
					Height: float64(bp1-bp0) * cell, Barrel: float64(b1-b0) * cell, Score: sum,
					Width: [2]float64{(float64(d) - float64(b0+b1)/2) * cell, (float64(b0+b1)/2 - float64(a)) * cell}}
			}
		}
		if best.Score > 0 {
			out = append(out, best)
		}
	}
	return out
}

// A fourLines is four lines as a hinge has them: outer edge, the barrel's sides, outer edge.
type fourLines struct {
	at     [4]int
	barrel float64 // how well the barrel's sides show, less what they are off the middle
	score  float64
}

// likeliest lists the best sets of four among the places where prof has its crests.
func likeliest(peaks []int, prof []float64) []fourLines {
	const (
		cell  = 2 * groundCell
		most  = 8 // sets that are worth looking for their ends
		off   = 4 // mm: how far the barrel may lie off the middle, by perspective
		apart = 8 // mm: least between the barrel and an outer edge
	)
	var out []fourLines
	for i, b := range peaks {
		for _, c := range peaks[i+1:] {
			wide := float64(c-b) * cell
			if wide < LeastBarrel || wide > MostBarrel {
				continue
			}
			for _, a := range peaks[:i] {
				if float64(b-a)*cell < apart {
					break
				}
				k, _ := slices.BinarySearch(peaks, max(b+c-a-int(2*off/cell), c+int(apart/cell)))
				for ; k < len(peaks) && peaks[k] <= b+c-a+int(2*off/cell); k++ {
					d := peaks[k]
					w := float64(d-a) * cell
					if w < LeastHinge || w > MostHinge {
						continue
					}
					t := float64(a+d-b-c) / 2 * cell
					barrel := math.Min(prof[b], prof[c]) * math.Exp(-t*t/18)
					score := math.Min(prof[a], prof[d]) * barrel
					if len(out) == most && score <= out[most-1].score {
						continue
					}
					at, _ := slices.BinarySearchFunc(out, score, func(l fourLines, s float64) int { return cmp.Compare(s, l.score) })
					out = slices.Insert(out, at, fourLines{[4]int{a, b, c, d}, barrel, score})
					out = out[:min(len(out), most)]
				}
			}
		}
	}
	return out
}

// A lineEnd is a place where lines may end.
type lineEnd struct {
	at    int
	share float64 // of a line square to them that shows
}

// ends lists the crests of share, which is of a line at p, before a window from p and after it.
func (m *lineMap) ends(share func(p int) float64, p, window int) (before, after []lineEnd) {
	reach := int(MostHinge / (2 * groundCell))
	list := func(from, to int) (out []lineEnd) {
		last, now := 0.0, share(from)
		for k := from; k < to; k++ {
			next := share(k + 1)
			if now >= leastLine && now > last && now >= next {
				out = append(out, lineEnd{k, now})
			}
			last, now = now, next
		}
		return out
	}
	return list(max(0, p+window-reach), p), list(p+window, min(m.w-1, p+reach))
}
