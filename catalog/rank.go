package catalog

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
)

const (
	// samples is how many hinges, old and new, a stock hinge is judged over. A probability of
	// 0.9 then has a standard error of 0.013.
	samples = 512
	// finalists are judged in full; the rest are known by the bound to be worse.
	finalists = 36
	// maxFits is how many fits are put to the counter, maxAlike how many of them may have the
	// same geometry and differ in finish or price only.
	maxFits  = 12
	maxAlike = 5
)

// alike is what hinges with one geometry have in common.
type alike struct {
	height, width, thick, tol measure.Length
	radius                    [2]measure.Length
	pattern                   string
	hole                      Hole // the first, for own lists
	holes                     int
	mortise                   string
}

func alikeOf(i *Item) alike {
	a := alike{i.Height, i.OpenWidth, i.Thickness, i.Tolerance, i.Radius, i.PatternID, Hole{}, len(i.Holes), i.Mortise}
	for k, h := range i.Holes { // any weights that tell patterns apart
		a.hole.FromEdge += h.FromEdge * measure.Length(1+k*k)
		a.hole.FromEnd += h.FromEnd * measure.Length(1+k*k*k)
	}
	return a
}

// Rank judges every stock hinge against the old one and returns the best few, best first:
// by the expected work and its risk, then by the customer's wishes, price and stock. It
// returns none where the old hinge's height is not known.
func Rank(old measure.Best, stock []Item, door Door, wish Wishes) []Fit {
	o, ok := newOldHinge(old)
	if !ok || len(stock) == 0 {
		return nil
	}
	w := wanting(old, door, wish)

	// A cheap bound for all, the full judgement for the few.
	type entry struct {
		item  *Item
		bound float64
	}
	var g geometry
	few := make([]entry, 0, finalists+1)
	worst := math.Inf(1)
	for k := range stock {
		b, ok := o.outlineBound(&stock[k])
		if ok {
			newGeometry(&stock[k], &g)
			b = o.bound(&g)
		}
		if len(few) == finalists && b >= worst {
			continue
		}
		b += w.cost(&stock[k])
		if len(few) == finalists && b >= worst {
			continue
		}
		at, _ := slices.BinarySearchFunc(few, b, func(e entry, b float64) int { return cmp.Compare(e.bound, b) })
		few = slices.Insert(few, at, entry{&stock[k], b})
		if len(few) > finalists {
			few = few[:finalists]
		}
		if len(few) == finalists {
			worst = few[finalists-1].bound
		}
	}

	o.draw(samples)
	devs := deviates(samples)
	seen := map[alike]*judgement{}
	fits := make([]Fit, 0, len(few))
	for _, e := range few {
		a := alikeOf(e.item)
		j := seen[a]
		if j == nil {
			newGeometry(e.item, &g)
			made := o.judge(&g, devs)
			j, seen[a] = &made, &made
		}
		fits = append(fits, o.fit(old, e.item, j, w))
	}
	slices.SortStableFunc(fits, func(a, b Fit) int {
		return cmp.Or(cmp.Compare(a.Cost, b.Cost), cmp.Compare(a.Item.StockNumber, b.Item.StockNumber))
	})

	out := make([]Fit, 0, maxFits)
	count := map[alike]int{}
	for i := range fits {
		a := alikeOf(&fits[i].Item)
		if count[a]++; count[a] > maxAlike {
			continue
		}
		if out = append(out, fits[i]); len(out) == maxFits {
			break
		}
	}
	var near []*Item // of a size that one of the fits has
	sizes := map[[2]measure.Length]bool{}
	for i := range out {
		sizes[[2]measure.Length{out[i].Item.Height, out[i].Item.OpenWidth}] = true
	}
	for k := range stock {
		if sizes[[2]measure.Length{stock[k].Height, stock[k].OpenWidth}] {
			near = append(near, &stock[k])
		}
	}
	for i := range out {
		out[i].Also = alternatives(out[i], near, max(w.count, 1))
	}
	return out
}
