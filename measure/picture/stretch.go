package picture

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure/geom"
)

// Stretches are the stretches of one straight edge, searched together.
type Stretches struct {
	Pos      []float64 // of each stretch's middle along the edge, mm from the edge's middle
	Searches []*Search
	lo, Step float64     // the places tried: lo + k·step outward, mm
	costs    [][]float64 // of each stretch at each place: twice the log of how much less likely than its best, in what is independent
}

// MostAgainst is how much one stretch may speak against a line: as a place four standard
// uncertainties off does. Rust or a speck on a stretch speaks no louder.
const MostAgainst = 16

// Scan tries every place from lo to hi on every stretch.
func (e *Stretches) Scan(lo, hi float64) {
	e.Step = 0.03 // half a blur finds every dip; a wide search starts coarser
	for _, s := range e.Searches {
		e.Step = math.Max(e.Step, s.blur)
	}
	if hi-lo < 2 {
		e.Step *= 0.6
	}
	e.lo = lo
	e.costs = e.costs[:0]
	n := int((hi-lo)/e.Step) + 1
	likely := n / 2
	for _, s := range e.Searches {
		costs := make([]float64, n)
		// Where the last stretch was best, then every fourth place: beyond what speaks against a place at
		// the most, the cost of the others need not be known.
		best, limit := math.Inf(1), math.Inf(1)
		try := func(k int) {
			if costs[k] > 0 {
				return
			}
			costs[k] = s.CostWithin(e.lo+float64(k)*e.Step, limit)
			if costs[k] < best {
				best, likely = costs[k], k
				limit = best + MostAgainst*s.scale(best)
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

// At gives what speaks against a place on stretch i, as scanned.
func (e *Stretches) At(i int, place float64) float64 {
	x := (place - e.lo) / e.Step
	k := int(math.Floor(x))
	if k < 0 || k >= len(e.costs[i])-1 {
		return MostAgainst
	}
	t := x - float64(k)
	return e.costs[i][k]*(1-t) + e.costs[i][k+1]*t
}

// A line is a place that an edge's stretches may all have, and what speaks against it.
type Line struct {
	At, Slope float64 // mm outward at the edge's middle, and per mm along it
	Against   float64 // mean of the stretches
}

// leastSeen is how much better than the usual line an edge must be.
const leastSeen = 3

// Lines gives the lines along which the stretches' likely places lie, the likeliest first.
func (e *Stretches) Lines() []Line {
	n := len(e.costs[0])
	half := 0.0 // mm, of the edge's length
	for _, p := range e.Pos {
		half = math.Max(half, math.Abs(p))
	}
	most := math.Min(1, 0.2*float64(n)*e.Step) / half
	steep := 1.5 * e.Step / half
	best := make([]Line, n)
	for k := range best {
		best[k].Against = math.Inf(1)
	}
	for slope := -most; slope <= most; slope += steep {
		for k := range n {
			sum := 0.0
			for i := range e.costs {
				sum += e.At(i, e.lo+float64(k)*e.Step+slope*e.Pos[i])
			}
			if sum /= float64(len(e.costs)); sum < best[k].Against {
				best[k] = Line{e.lo + float64(k)*e.Step, slope, sum}
			}
		}
	}
	usual := make([]float64, n)
	for k := range usual {
		usual[k] = best[k].Against
	}
	level := geom.Pick(usual, 3*n/4) // an edge's dip is no wider than half of the narrowest search
	var lines []Line
	for k := 2; k < n-2; k++ {
		b := best[k].Against
		if b < best[k-1].Against && b <= best[k+1].Against && level-b > leastSeen {
			lines = append(lines, best[k])
		}
	}
	slices.SortFunc(lines, func(a, b Line) int { return cmp.Compare(a.Against, b.Against) })
	return lines
}

// MostLines is how many lines of an edge are tried finely: its own, its wall's foot, a shadow's
// rim and one more.
const MostLines = 4

// near gives the least cost of each stretch within a step of a line.
func (e *Stretches) near(l Line) []float64 {
	costs := make([]float64, len(e.Searches))
	for i, s := range e.Searches {
		costs[i] = math.Inf(1)
		for d := -e.Step; d <= e.Step; d += e.Step / 4 {
			costs[i] = math.Min(costs[i], s.CostWithin(l.At+l.Slope*e.Pos[i]+d, costs[i]))
		}
	}
	return costs
}

// Weigh tries lines finely, and sorts them by what speaks against each.
func (e *Stretches) Weigh(lines []Line) {
	costs := make([][]float64, len(lines))
	for j, l := range lines {
		costs[j] = e.near(l)
		lines[j].Against = 0
	}
	for i, s := range e.Searches {
		best := math.Inf(1)
		for j := range lines {
			best = math.Min(best, costs[j][i])
		}
		for j := range lines {
			lines[j].Against += s.against(costs[j][i], best) / float64(len(e.Searches))
		}
	}
	slices.SortFunc(lines, func(a, b Line) int { return cmp.Compare(a.Against, b.Against) })
}

// inwards is how far, mm, a rough hinge may reach over the leaf's edge: what does not look like
// the ground may be its shadow, which under a lamp or sun 35° up is 1.4 times as long as the
// leaf's face is high over the table, 2 to 5 mm.
const Inwards = 6.0

// Shadowed takes a line for the rim of the leaf's shadow and looks for the leaf's edge inside of
// it, from lo on. Where that explains the stretches better, it gives the edge and leaves the rim
// with the searches.
func (e *Stretches) Shadowed(rim Line, lo float64) (edge Line, ok bool) {
	const narrow = 0.3 // mm: a narrower shadow can't be told from a wall
	if rim.At-narrow-lo < 6*e.Step {
		return edge, false
	}
	setRim := func(off float64) {
		for i, s := range e.Searches {
			s.rim = rim.At + rim.Slope*e.Pos[i] + off
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
	best, bestOff := MostAgainst/2.0, math.Inf(1)
	for _, off := range []float64{0, -0.5, 0.5} { // a soft rim is no edge: it is found about where it is
		setRim(off)
		e.Scan(lo, rim.At-narrow)
		lines := e.Lines()
		if len(lines) == 0 {
			continue
		}
		lines = lines[:min(len(lines), MostLines)]
		e.Weigh(lines)
		speaks := 0.0
		for i, c := range e.near(lines[0]) {
			speaks += e.Searches[i].against(known[i], c) / float64(len(known))
		}
		if speaks > best {
			best, bestOff, edge = speaks, off, lines[0]
		}
	}
	setRim(bestOff)
	return edge, !math.IsInf(bestOff, 0)
}

// against gives how much speaks against a place that costs so much where another costs best: twice
// the log of how much less likely it is, at most MostAgainst.
func (q *Search) against(cost, best float64) float64 {
	if math.IsInf(cost, 0) {
		return MostAgainst
	}
	return min(max((cost-best)/q.scale(best), 0), MostAgainst)
}

// scale is how much of a difference in cost counts one where another place costs best: what the
// model leaves over is not independent from sample to sample.
func (q *Search) scale(best float64) float64 {
	return math.Max(1, best/float64(3*len(q.p.S))) * ModelMemory
}
