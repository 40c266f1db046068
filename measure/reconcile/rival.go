package reconcile

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"leafgauge/measure"
)

// How far two values of a length must lie apart to matter, mm: what a tape can tell apart with some
// certainty (four times the 0.54 mm that catalog takes for it), a hundredth of an inch of a leaf's thickness,
// and a step between the radii in use.
const (
	sizeMatters   = 2.2
	thickMatters  = 0.254
	radiusMatters = 2
)

// A guess is what one joint explanation makes of a length.
type guess struct {
	mean, variance, logp float64
	said                 float64 // by the first of the readings that says it, its slip taken out; else mean
}

// negligibleGuess is how much less likely than the likeliest an explanation is passed over, as a logarithm: ten
// thousand times, which at 2 mm off leaves 0.02 mm of doubt.
const negligibleGuess = 9.2

// guesses is what the likely ones of choices make of a length: 0 or 1 for the block's first or second.
func (b *slipBlock) guesses(choices []slipChoice, length int) (all []guess) {
	top := math.Inf(-1)
	for _, c := range choices {
		top = max(top, c.logp)
	}
	for _, c := range choices {
		if c.logp > top-negligibleGuess {
			mean, variance := b.given(c.forms, length)
			g := guess{mean, variance, c.logp, mean}
			for i, f := range slices.Backward(c.forms) {
				if form := &b.forms[i][f]; !form.spread && len(form.on.keys) == 1 && form.on.keys[0] == b.keys[length] {
					g.said = form.of(*b.typed[i].Value)
				}
			}
			all = append(all, g)
		}
	}
	return all
}

// given is a length's mean and variance where the readings came about by forms.
func (b *slipBlock) given(forms []int, length int) (mean, variance float64) {
	top := math.Inf(-1)
	list := make([]component, len(b.prior))
	for k, g := range b.prior {
		for i, f := range forms {
			if form := &b.forms[i][f]; !form.spread {
				g.observe(b.row(form), form.scale*form.on.add, float64(*b.typed[i].Value), form.sigma*form.sigma)
			}
		}
		list[k], top = g, max(top, g.logw)
	}
	var sum, square float64
	for _, g := range list {
		w, m := math.Exp(g.logw-top), g.m[length]
		sum, mean, square = sum+w, mean+w*m, square+w*(m*m+g.p[2*length])
	}
	mean /= sum
	return mean, square/sum - mean*mean
}

// sides groups guesses by their value: the likeliest value first, each with the weight of all that come within
// matters of it.
func sides(all []guess, matters float64) (values []guess) {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b guess) int { return cmp.Compare(b.logp, a.logp) })
	for _, g := range all {
		at := slices.IndexFunc(values, func(v guess) bool { return math.Abs(v.mean-g.mean) < matters })
		if at < 0 {
			values = append(values, g)
			continue
		}
		values[at].logp = logAdd(values[at].logp, g.logp)
	}
	slices.SortStableFunc(values, func(a, b guess) int { return cmp.Compare(b.logp, a.logp) })
	return values
}

// doubt is the standard uncertainty that the explanations leave about value: the root of the mean square
// of what the others make of it.
func doubt(all []guess, value float64) float64 {
	top := math.Inf(-1)
	for _, g := range all {
		top = max(top, g.logp)
	}
	sum, square := 0.0, 0.0
	for _, g := range all {
		w := math.Exp(g.logp - top)
		sum, square = sum+w, square+w*(g.mean-value)*(g.mean-value)
	}
	return math.Sqrt(square / sum)
}

// weighRivals notes where what was typed of a quantity leaves two values of it that are about as likely, and
// widens its readings by what the explanations leave open.
func (r *reconciler) weighRivals(q measure.Quantity, at []int, length measure.Key, all []guess, matters float64) {
	var of []int
	for _, i := range at {
		if r.typed[i].Quantity == q {
			of = append(of, i)
		}
	}
	if len(of) == 0 || len(all) == 0 || r.pinned(q) {
		return
	}
	values := sides(all, matters)
	for _, i := range of {
		t := &r.typed[i]
		if t.used && len(t.form.on.keys) == 1 && t.form.on.keys[0] == length {
			own := t.form.of(*t.Value)
			t.form.sigma = math.Hypot(t.form.sigma, math.Abs(t.form.scale*t.form.on.coef[0])*doubt(all, nearest(all, own)))
		}
	}
	if len(values) < 2 {
		return
	}
	odds := math.Exp(values[0].logp - values[1].logp)
	if odds >= measure.RivalOdds {
		return
	}
	v := measure.Rival{Quantity: q, Typed: r.typedTexts(of), Odds: odds, Values: []measure.Length{measure.Length(values[0].said), measure.Length(values[1].said)}}
	r.rivals = append(r.rivals, v)
}

// sayRival words a rival for the counter.
func sayRival(v measure.Rival) string {
	return fmt.Sprintf("typed %s %s: that may be %s or %s, the first %.0f times as likely", v.Typed, spoken(v.Quantity), sayBoth(v.Values[0]), sayBoth(v.Values[1]), math.Max(1, v.Odds))
}

// of is what a reading of one length makes of it once the slip is taken out, mm.
func (f slipForm) of(typed measure.Length) float64 {
	return (typed.MM()/f.scale - f.on.add) / f.on.coef[0]
}

// nearest is the mean of the guess that lies nearest to value.
func nearest(all []guess, value float64) float64 {
	return slices.MinFunc(all, func(a, b guess) int { return cmp.Compare(math.Abs(a.mean-value), math.Abs(b.mean-value)) }).mean
}
