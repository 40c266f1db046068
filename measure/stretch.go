package measure

import (
	"cmp"
	"math"
	"slices"
)

// edgeStretches are the stretches of one straight edge, searched together.
type edgeStretches struct {
	pos      []float64 // of each stretch's middle along the edge, mm from the edge's middle
	searches []*edgeSearch
	lo, step float64     // the places tried: lo + k·step outward, mm
	costs    [][]float64 // of each stretch at each place: twice the log of how much less likely than its best, in what is independent
}

// mostAgainst is how much one stretch may speak against a line: as a place four standard
// uncertainties off does. Rust or a speck on a stretch speaks no louder.
const mostAgainst = 16

// scan tries every place from lo to hi on every stretch.
func (e *edgeStretches) scan(lo, hi float64) {
	e.step = 0.03 // half a blur finds every dip; a wide search starts coarser
	for _, s := range e.searches {
		e.step = math.Max(e.step, s.blur)
	}
	if hi-lo < 2 {
		e.step *= 0.6
	}
	e.lo = lo
	e.costs = e.costs[:0]
	n := int((hi-lo)/e.step) + 1
	likely := n / 2
	for _, s := range e.searches {
		costs := make([]float64, n)
		// Where the last stretch was best, then every fourth place: beyond what speaks against a place at
		// the most, the cost of the others need not be known.
		best, limit := math.Inf(1), math.Inf(1)
		try := func(k int) {
			if costs[k] > 0 {
				return
			}
			costs[k] = s.costWithin(e.lo+float64(k)*e.step, limit)
			if costs[k] < best {
				best, likely = costs[k], k
				limit = best + mostAgainst*s.scale(best)
			}
		}
		try(likely)
		for from := range 4 {
			for k := from; k < n; k += 4 {
				try(k)
			}
		}
		for k := range costs {
			costs[k] = s.against(costs[k], best)
		}
		e.costs = append(e.costs, costs)
	}
}

// at gives what speaks against a place on stretch i, as scanned.
func (e *edgeStretches) at(i int, place float64) float64 {
	x := (place - e.lo) / e.step
	k := int(math.Floor(x))
	if k < 0 || k >= len(e.costs[i])-1 {
		return mostAgainst
	}
	t := x - float64(k)
	return e.costs[i][k]*(1-t) + e.costs[i][k+1]*t
}

// A line is a place that an edge's stretches may all have, and what speaks against it.
type edgeLine struct {
	at, slope float64 // mm outward at the edge's middle, and per mm along it
	against   float64 // mean of the stretches
}

// leastSeen is how much better than the usual line an edge must be.
const leastSeen = 3

// lines gives the lines along which the stretches' likely places lie, the likeliest first.
func (e *edgeStretches) lines() []edgeLine {
	n := len(e.costs[0])
	half := 0.0 // mm, of the edge's length
	for _, p := range e.pos {
		half = math.Max(half, math.Abs(p))
	}
	most := math.Min(1, 0.2*float64(n)*e.step) / half
	steep := 1.5 * e.step / half
	best := make([]edgeLine, n)
	for k := range best {
		best[k].against = math.Inf(1)
	}
	for slope := -most; slope <= most; slope += steep {
		for k := range n {
			sum := 0.0
			for i := range e.costs {
				sum += e.at(i, e.lo+float64(k)*e.step+slope*e.pos[i])
			}
			if sum /= float64(len(e.costs)); sum < best[k].against {
				best[k] = edgeLine{e.lo + float64(k)*e.step, slope, sum}
			}
		}
	}
	usual := make([]float64, n)
	for k := range usual {
		usual[k] = best[k].against
	}
	level := pick(usual, 3*n/4) // an edge's dip is no wider than half of the narrowest search
	var lines []edgeLine
	for k := 2; k < n-2; k++ {
		b := best[k].against
		if b < best[k-1].against && b <= best[k+1].against && level-b > leastSeen {
			lines = append(lines, best[k])
		}
	}
	slices.SortFunc(lines, func(a, b edgeLine) int { return cmp.Compare(a.against, b.against) })
	return lines
}

// mostLines is how many lines of an edge are tried finely: its own, its wall's foot, a shadow's
// rim and one more.
const mostLines = 4

// near gives the least cost of each stretch within a step of a line.
func (e *edgeStretches) near(l edgeLine) []float64 {
	costs := make([]float64, len(e.searches))
	for i, s := range e.searches {
		costs[i] = math.Inf(1)
		for d := -e.step; d <= e.step; d += e.step / 4 {
			costs[i] = math.Min(costs[i], s.costWithin(l.at+l.slope*e.pos[i]+d, costs[i]))
		}
	}
	return costs
}

// weigh tries lines finely, and sorts them by what speaks against each.
func (e *edgeStretches) weigh(lines []edgeLine) {
	costs := make([][]float64, len(lines))
	for j, l := range lines {
		costs[j] = e.near(l)
		lines[j].against = 0
	}
	for i, s := range e.searches {
		best := math.Inf(1)
		for j := range lines {
			best = math.Min(best, costs[j][i])
		}
		for j := range lines {
			lines[j].against += s.against(costs[j][i], best) / float64(len(e.searches))
		}
	}
	slices.SortFunc(lines, func(a, b edgeLine) int { return cmp.Compare(a.against, b.against) })
}

// inwards is how far, mm, a rough hinge may reach over the leaf's edge: what does not look like
// the ground may be its shadow, which under a lamp or sun 35° up is 1.4 times as long as the
// leaf's face is high over the table, 2 to 5 mm.
const inwards = 6.0

// shadowed takes a line for the rim of the leaf's shadow and looks for the leaf's edge inside of
// it, from lo on. Where that explains the stretches better, it gives the edge and leaves the rim
// with the searches.
func (e *edgeStretches) shadowed(rim edgeLine, lo float64) (edge edgeLine, ok bool) {
	const narrow = 0.3 // mm: a narrower shadow can't be told from a wall
	if rim.at-narrow-lo < 6*e.step {
		return edge, false
	}
	setRim := func(off float64) {
		for i, s := range e.searches {
			s.rim = rim.at + rim.slope*e.pos[i] + off
		}
	}
	// It may be the edge, beside as soft a shadow of its own.
	var known []float64
	for _, w := range []float64{0.5, 1, 2} {
		setRim(w)
		costs := e.near(rim)
		for i := range known {
			costs[i] = math.Min(costs[i], known[i])
		}
		known = costs
	}
	best, bestOff := mostAgainst/2.0, math.Inf(1)
	for _, off := range []float64{0, -0.5, 0.5} { // a soft rim is no edge: it is found about where it is
		setRim(off)
		e.scan(lo, rim.at-narrow)
		lines := e.lines()
		if len(lines) == 0 {
			continue
		}
		lines = lines[:min(len(lines), mostLines)]
		e.weigh(lines)
		speaks := 0.0
		for i, c := range e.near(lines[0]) {
			speaks += e.searches[i].against(known[i], c) / float64(len(known))
		}
		if speaks > best {
			best, bestOff, edge = speaks, off, lines[0]
		}
	}
	setRim(bestOff)
	return edge, !math.IsInf(bestOff, 0)
}

// against gives how much speaks against a place that costs so much where another costs best: twice
// the log of how much less likely it is, at most mostAgainst.
func (q *edgeSearch) against(cost, best float64) float64 {
	if math.IsInf(cost, 0) {
		return mostAgainst
	}
	return min(max((cost-best)/q.scale(best), 0), mostAgainst)
}

// scale is how much of a difference in cost counts one where another place costs best: what the
// model leaves over is not independent from sample to sample.
func (q *edgeSearch) scale(best float64) float64 {
	return math.Max(1, best/float64(3*len(q.p.s))) * modelMemory
}
