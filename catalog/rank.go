package catalog

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

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
	plain := entry{nil, math.Inf(1)} // the best that drops in at the likeliest sizes, whatever speaks against it
	for k := range stock {
		b, ok := o.outlineBound(&stock[k])
		drops := false
		if ok {
			newGeometry(&stock[k], &g)
			b, drops = o.bound(&g)
		}
		if len(few) == finalists && b >= worst && !(drops && b < plain.bound) {
			continue
		}
		b += w.cost(&stock[k])
		if drops && b < plain.bound {
			plain = entry{&stock[k], b}
		}
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

	if plain.item != nil && !slices.ContainsFunc(few, func(e entry) bool { return e.item == plain.item }) {
		few = append(few, plain)
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

	overtaken := standing(fits)
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
	if overtaken >= 0 && !slices.ContainsFunc(out, func(f Fit) bool { return f.Item.StockNumber == fits[overtaken].Item.StockNumber }) {
		out[len(out)-1] = fits[overtaken] // so that the counter can look at it
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
		out[i].unsettled(old)
		out[i].Also = alternatives(out[i], near, max(w.count, 1))
	}
	return out
}

// unsettled notes what a person has to settle before the hinge is sent: it never goes out unseen.
func (f *Fit) unsettled(old measure.Best) {
	var all []string
	if old.OfAnotherHinge() {
		all = append(all, "The photo and what was typed look like two different hinges: which of them is meant is not settled.")
	}
	if f.gap > mostGap && f.Verdict != DoesNotSuit {
		all = append(all, fmt.Sprintf("It leaves a gap of %s in the old cut-out: more than is filled without a second look.", Both(f.gap)))
	}
	f.Warnings, f.Against = append(f.Warnings, all...), append(f.Against, all...)
}

// surer is by how much likelier to drop in a fit behind the first must be to ask for a reason.
const surer = 0.10

// standing says in the first fit's reasons why it stands before one that drops in, and that it is
// first for all that goes against it. It returns the place of the one that drops in, or −1.
func standing(fits []Fit) int {
	first := &fits[0]
	say := func(format string, args ...any) { first.Reasons = append(first.Reasons, fmt.Sprintf(format, args...)) }
	behind := slices.IndexFunc(fits, func(f Fit) bool { return f.sits == DropsIn && f.drops > first.drops+surer })
	if behind > 0 {
		f := fits[behind]
		what := "all chances weighed, it leaves more work"
		if texts := f.heavier(*first); len(texts) > 0 {
			what = strings.NewReplacer("this one", f.Item.StockNumber, "This hinge", f.Item.StockNumber, "this hinge", f.Item.StockNumber).Replace(strings.Join(texts, " "))
		}
		say("It stands before %s, which would drop in (%s) but: %s", f.Item.StockNumber, measure.Percent(f.drops), strings.TrimSuffix(what, ".")+".")
	}
	if len(first.Against) > 0 && first.Verdict != DoesNotSuit {
		rest := slices.IndexFunc(fits, func(f Fit) bool { return len(f.Against) == 0 && f.Verdict != DoesNotSuit })
		switch {
		case len(fits) == 1: // no other was compared
		case rest < 0:
			say("It stands first, though it goes against what was said or published (see what to mind): so does every other hinge near this size.")
		default:
			say("It stands first, though it goes against what was said or published (see what to mind): the next that does not is %s, which %s.",
				fits[rest].Item.StockNumber, fits[rest].sits.predicate())
		}
	}
	return behind
}

// heavier are the sentences that speak against f and not as much against other, the weightiest first.
func (f Fit) heavier(other Fit) []string {
	var all []point
	for _, p := range f.points {
		same := slices.ContainsFunc(other.points, func(o point) bool { return o.kind == p.kind && o.cost >= p.cost })
		if p.text != "" && p.cost > 0 && !same {
			all = append(all, p)
		}
	}
	slices.SortStableFunc(all, func(a, b point) int { return cmp.Compare(b.cost, a.cost) })
	var texts []string
	for _, p := range all {
		texts = append(texts, p.text)
	}
	return texts
}
