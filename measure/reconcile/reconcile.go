package reconcile

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

// Best combines the photos of one hinge with what was typed.
// Photos that could not be measured are passed over; without any, the readings stand alone.
//
// The numbers are a generalised least-squares estimate over all findings, with their full
// covariance, and all readings; height and open width of a likely trade size are drawn to it
// very softly (TradeTolerance). A reading that disagrees is explained by the likeliest slip
// and used as corrected where that is likely enough, else set aside: it is never dropped
// unsaid.
//
// The counter may have overruled some explanations, each named as Disagreement.Name does. An
// overruled reading stands as typed; what the photos say of the same length otherwise is set aside.
func Best(photos []measure.Result, typed measure.Readings, overrules []string) measure.Best {
	r := reconciler{}
	r.read(typed)
	// Explanations that are overruled are still shown, as such.
	r.overruled = r.readScaleBar(photos, overrules)
	r.sortOut(photos, typed, overrules)
	if len(r.hinges) > 1 {
		return r.undecided(typed)
	}
	for {
		r.explain()
		more := false
		for _, d := range r.found {
			if slices.Contains(overrules, d.Name()) && !r.forbidden(d.Quantity, d.Slip) {
				d.Applied, d.Overrule = false, true
				r.overruled = append(r.overruled, d)
				r.forbid = append(r.forbid, d.Name())
				more = true
			}
		}
		if !more {
			break
		}
	}
	best := r.solve()
	if r.printed && len(r.photos) > 0 && !r.bar.Known() {
		best.PrintDoubt = math.Hypot(measure.PrinterSigma, r.doubt)
	}
	r.believeWidth(&best)
	r.believeCorners(&best)
	best.Disagreements = append(best.Disagreements, r.overruled...)
	best.Notes, best.Rivals = r.notes, r.rivals
	for _, v := range r.rivals {
		best.Notes = append(best.Notes, sayRival(v))
	}
	r.compare(&best, typed)
	best.Nominal = measure.NearestTradeSize(best.Height, best.OpenWidth)
	slices.SortStableFunc(best.Disagreements, func(a, b measure.Disagreement) int { return cmp.Compare(b.Odds, a.Odds) })
	return best
}

// Thickness is the leaf's thickness by what was typed alone, a likely slip taken out that
// was not overruled: what Options.Thickness wants before a photo is measured. It is the zero
// Estimate where none was typed, or none that can be believed.
func Thickness(typed measure.Readings, overrules []string) measure.Estimate {
	return Best(nil, typed, overrules).Thickness
}

// reconciler holds one inquiry's findings and readings while they are weighed.
type reconciler struct {
	photos  []*witness       // of one hinge, aligned; the first is the reference
	others  []*witness       // photos that are not taken from: of several hinges, or the same picture again
	hinges  [][]int          // the photos by hinge, where they show several
	bar     measure.Estimate // as measured, beside the printed card; zero untold
	printed bool             // every photo has the printed card
	seen    *witness         // all photos together; nil without
	typed   []typedReading
	forbid  []string // overruled explanations
	apart   []measure.Disagreement
	notes   []string

	overruled []measure.Disagreement // shown as such

	// Set by explain.
	corrected *witness // seen, with the right reference
	scale     *scaleSlip
	doubt     float64 // of the photos' common scale, beyond what is in them
	found     []measure.Disagreement
	rivals    []measure.Rival
	pin       measure.Estimate // diameter, typed or usual
}

// typedReading is one length as typed, with what was found of it.
type typedReading struct {
	measure.Reading
	form  slipForm // how it came about
	used  bool
	aside bool
}

// see takes the photos in, the one that saw most and is surest first. The same picture sent again says no
// more: it counts once, as the larger of the two.
func (r *reconciler) see(photos []measure.Result) {
	r.printed = !slices.ContainsFunc(photos, func(p measure.Result) bool { return p.Status == measure.Measured && !p.ByPrintedCard() })
	for i, p := range photos {
		if p.Status != measure.Measured || p.Hinge == nil {
			continue
		}
		h := *p.Hinge
		w := newWitness(i+1, &h)
		if len(w.keys) == 0 {
			continue
		}
		if p.ByPrintedCard() {
			was, is := measure.Ratio{Value: 1, Sigma: 0}, measure.PrintScale(r.bar)
			if p.Card.PrintScale != nil {
				was = *p.Card.PrintScale
			}
			if r.printed && !r.bar.Known() { // wrong scales are weighed one by one
				is.Sigma = measure.PrinterSigma
			}
			w.reprint(was, is)
		}
		if k := slices.IndexFunc(r.photos, func(o *witness) bool { return samePicture(photos[o.photo-1], p) }); k >= 0 {
			again := w
			if p.Image.Width > photos[r.photos[k].photo-1].Image.Width {
				r.photos[k], again = w, r.photos[k]
			}
			r.others = append(r.others, again)
			r.notes = append(r.notes, fmt.Sprintf("photo %d is the same picture as photo %d: it counts once", again.photo, r.photos[k].photo))
			continue
		}
		r.photos = append(r.photos, w)
	}
	slices.SortStableFunc(r.photos, func(a, b *witness) int {
		return cmp.Or(cmp.Compare(len(b.keys), len(a.keys)), cmp.Compare(a.estimate("height").Sigma, b.estimate("height").Sigma))
	})
}

// undecided is what is believed while it isn't known which of several hinges it is about: nothing. What
// went in stays in the trace.
func (r *reconciler) undecided(typed measure.Readings) measure.Best {
	b := measure.Best{Said: append([]measure.Statement{}, typed.Statements...), Trace: []measure.Trace{},
		Disagreements: append(slices.Clone(r.apart), r.overruled...), Apart: r.hinges, Notes: r.notes}
	b.Leaves, b.Bearing = []measure.Leaf{}, measure.BearingUnknown
	for _, t := range r.typed {
		b.Trace = append(b.Trace, t.asideTrace())
	}
	b.Trace = append(b.Trace, r.unused()...)
	return b
}

// readScaleBar takes what the bar beside the printed card was measured to be. It returns the
// correction where it was overruled.
func (r *reconciler) readScaleBar(photos []measure.Result, overrules []string) []measure.Disagreement {
	at := r.pick(measure.QScaleBar)
	if len(at) == 0 || !slices.ContainsFunc(photos, measure.Result.ByPrintedCard) {
		return nil
	}
	t := &r.typed[at[0]]
	bar := measure.Estimate{Value: *t.Value, Sigma: t.U}
	d := measure.Disagreement{Quantity: measure.QScaleBar, Slip: measure.SlipPrintScale, Typed: typedText(t.Reading), Odds: 1e9, Applied: true,
		Sentence: fmt.Sprintf("the card's scale bar measures %s instead of 100 mm: it was printed at %.1f %%, and the photo's sizes are corrected by that", typedText(t.Reading), 100*float64(bar.Value/measure.PrintedBar))}
	if slices.Contains(overrules, d.Name()) {
		d.Applied, d.Overrule = false, true
		return []measure.Disagreement{d}
	}
	if !measure.PrintersOwn(bar) {
		r.apart = append(r.apart, d)
	}
	r.bar = bar
	return nil
}

// maxSame is how many readings of one quantity are weighed; more say no more.
const maxSame = 4

// read takes the readings in: each value once.
func (r *reconciler) read(typed measure.Readings) {
	count := map[measure.Quantity]int{}
	for _, x := range typed.Readings {
		if x.Value == nil || !(x.U > 0) || !(*x.Value > 0) || strings.HasPrefix(string(x.Quantity), "door") || x.Quantity == measure.QUnknown {
			continue
		}
		same := slices.ContainsFunc(r.typed, func(t typedReading) bool {
			return t.Quantity == x.Quantity && math.Abs(float64(*t.Value-*x.Value)) < 1e-6
		})
		if same || count[x.Quantity] >= maxSame {
			continue
		}
		count[x.Quantity]++
		x.U = named(x)
		r.typed = append(r.typed, typedReading{Reading: x})
	}
}

// named is the standard uncertainty of a reading, widened where it is a metric name of a hinge made in inches. Metric
// shops call 4 in 100 mm, 3 in 75, 3 1/2 in 90, 4 1/2 in 115, 5 in 125 and 6 in 150 (common practice, no source): a height or
// width in whole fives of millimetres within 2 % of a trade size may be that size.
func named(x measure.Reading) measure.Length {
	mm := x.Value.MM()
	metric := x.UnitAsTyped == "mm" || x.UnitAsTyped == "cm"
	if x.Quantity != measure.QHeight && x.Quantity != measure.QOpenWidth || !metric || x.Instrument == measure.Caliper || math.Abs(math.Remainder(mm, 5)) > 1e-6 {
		return x.U
	}
	near := math.Inf(1)
	for _, s := range measure.TradeSizes {
		for _, l := range []measure.Length{s.Height, s.Width} {
			if off := math.Abs(mm - l.MM()); off <= 0.02*l.MM() {
				near = math.Min(near, off)
			}
		}
	}
	if math.IsInf(near, 1) {
		return x.U
	}
	return measure.Length(math.Hypot(x.U.MM(), near))
}

// forbidden reports whether an explanation was overruled.
func (r *reconciler) forbidden(q measure.Quantity, slip string) bool {
	if slip == measure.SlipSwapped && (q == measure.QHeight || q == measure.QOpenWidth) {
		return slices.Contains(r.forbid, string(measure.QHeight)+":"+slip) || slices.Contains(r.forbid, string(measure.QOpenWidth)+":"+slip)
	}
	return slices.Contains(r.forbid, string(q)+":"+slip)
}

// pinned reports whether the counter believes readings of a quantity as typed: it overruled what was said
// against one of them, or that all of them are of another hinge.
func (r *reconciler) pinned(q measure.Quantity) bool {
	if r.forbidden(measure.QUnknown, measure.SlipOtherHinge) {
		return true
	}
	return slices.ContainsFunc(r.forbid, func(name string) bool { return strings.HasPrefix(name, string(q)+":") }) ||
		(q == measure.QHeight || q == measure.QOpenWidth) && r.forbidden(q, measure.SlipSwapped)
}

// believeWidth gives the leaves half of an open width that is believed as typed where the photo's own widths
// contradict it.
func (r *reconciler) believeWidth(best *measure.Best) {
	if !r.pinned(measure.QOpenWidth) || !best.OpenWidth.Known() || !slices.ContainsFunc(r.typed, func(t typedReading) bool { return t.Quantity == measure.QOpenWidth }) {
		return
	}
	half := measure.Estimate{Value: best.OpenWidth.Value / 2, Sigma: best.OpenWidth.Sigma / 2}
	best.Leaves = slices.Clone(best.Leaves)
	for i := range best.Leaves {
		if w := &best.Leaves[i].Width; w.Known() && math.Abs(measure.ZetaScore(half, *w)) > 3 {
			*w = half
		}
	}
}

// believeCorners has a radius that is believed as typed, of no leaf of its own, hold for both leaves whose
// corners the photo sees alike.
func (r *reconciler) believeCorners(best *measure.Best) {
	if !r.pinned(measure.QCornerRadius) || r.corrected == nil || len(best.Leaves) != 2 || len(r.pick(measure.QCornerRadius)) != 1 {
		return
	}
	seen := [2]measure.Estimate{r.corrected.estimate(measure.LeafKey(0, "corner_radius")), r.corrected.estimate(measure.LeafKey(1, "corner_radius"))}
	if !seen[0].Known() || !seen[1].Known() || math.Abs(float64(seen[0].Value-seen[1].Value)) > alikeRadii {
		return
	}
	best.Leaves = slices.Clone(best.Leaves)
	for i, l := range best.Leaves {
		if math.Abs(float64(l.CornerRadius.Value-seen[i].Value)) > alikeRadii {
			other := &best.Leaves[1-i]
			other.CornerRadius = l.CornerRadius
			for k := range best.Leaves {
				best.Leaves[k].Corners = cornersOf(best.Leaves[k].CornerRadius)
			}
			return
		}
	}
}

// alikeRadii is how far apart corners' radii may be that are alike, mm.
const alikeRadii = 1.0

// allowed leaves out every slip of a reading that is believed as typed; the others make it no surer.
func (r *reconciler) allowed(q measure.Quantity, forms []slipForm) []slipForm {
	if !r.pinned(q) {
		return noSurer(forms)
	}
	return slices.DeleteFunc(slices.Clone(forms), func(f slipForm) bool { return f.name != slipNone })
}

// explain weighs the explanations of every reading and of the photos.
func (r *reconciler) explain() {
	r.found, r.scale, r.doubt, r.rivals = slices.Clone(r.apart), nil, 0, nil
	for i := range r.typed {
		r.typed[i].used, r.typed[i].aside, r.typed[i].form = false, false, slipForm{}
	}
	sizes := r.explainSizes()
	r.corrected = r.seen
	if r.seen != nil && (r.scale != nil || r.doubt > 0) {
		r.corrected = r.seen.rescaled(r.scale)
		r.corrected.share(r.doubt)
	}
	r.explainBarrel()
	r.explainPin()
	r.explainThickness(sizes)
	r.explainCorners()
	r.explainHoles()
}

// pick returns the indices of the readings of some quantities that do not stand aside.
func (r *reconciler) pick(qs ...measure.Quantity) []int {
	var out []int
	for i, t := range r.typed {
		if !t.aside && slices.Contains(qs, t.Quantity) {
			out = append(out, i)
		}
	}
	return out
}

// A hypothesis is one explanation of the photos and the sizes typed as a whole.
type hypothesis struct {
	scale   *scaleSlip // the photos' scale is wrong
	apart   bool       // photo and readings are of two hinges
	choices []slipChoice
	logp    float64
	prior   []component // of height and open width before the readings
}

// name is the slip that the hypothesis takes for one, if any.
func (h hypothesis) name() string {
	switch {
	case h.apart:
		return measure.SlipOtherHinge
	case h.scale != nil:
		return h.scale.name
	}
	return slipNone
}

// explainSizes weighs height, open width and leaf width, the photos' scale among them, and
// returns the distribution of height and open width that comes out.
func (r *reconciler) explainSizes() []component {
	at := r.pick(measure.QHeight, measure.QOpenWidth, measure.QLeafWidth)
	photo := r.given(r.seen.size(), at)
	after := photo.take(sizePrior())
	untold := r.printed && r.seen != nil && !r.bar.Known()
	if len(at) == 0 && !untold {
		return after
	}
	b := r.sizeBlock(at)
	all := r.hypotheses(&b, photo, after)
	top, odds := likeliest(all)
	if top.name() != slipNone {
		applied := odds >= suggestOdds && len(at) > 0 // trade sizes alone correct no photo
		r.noteWhole(top, odds, applied, photo, at)
		switch {
		case top.apart:
			return after
		case applied:
			r.scale = top.scale
		default:
			top = all[0]
		}
	}
	r.doubt = scaleDoubt(all, top, r.scale)
	b.prior = top.prior
	r.settle(at, &b, b.verdicts(top.choices), photo.scaledBy(r.scale))
	r.conflict(at, &b, top.choices)
	if !untold { // else the length of the card's bar says more than any size
		for length, q := range []measure.Quantity{measure.QHeight, measure.QOpenWidth} {
			var guesses []guess
			for _, h := range all {
				if h.apart || h.logp < top.logp-negligibleGuess {
					continue
				}
				b.prior = h.prior
				for _, g := range b.guesses(h.choices, length) {
					g.logp += h.logp - totalWeight(h.choices)
					guesses = append(guesses, g)
				}
			}
			b.prior = top.prior
			r.weighRivals(q, at, b.keys[length], guesses, sizeMatters)
		}
	}
	out := make([]component, 0, len(top.prior))
	for _, c := range top.prior {
		for n, i := range at {
			if f := r.typed[i].form; r.typed[i].used {
				c.observe(b.row(&f), f.scale*f.on.add, float64(*b.typed[n].Value), f.sigma*f.sigma)
			}
		}
		out = append(out, c)
	}
	return out
}

// given is the photos' word on the sizes, without what readings at at that are believed as typed contradict.
func (r *reconciler) given(s photoSize, at []int) photoSize {
	for _, i := range at {
		t := r.typed[i]
		seen, factor := &s.height, measure.Length(1)
		if t.Quantity != measure.QHeight {
			seen = &s.width
		}
		if t.Quantity == measure.QLeafWidth {
			factor = 2
		}
		typed := measure.Estimate{Value: factor * *t.Value, Sigma: factor * t.U}
		if r.pinned(t.Quantity) && seen.Known() && math.Abs(measure.ZetaScore(typed, *seen)) > 3 {
			*seen, s.cov = measure.Estimate{}, 0
		}
	}
	return s
}

// size is the photos' word on height and open width.
func (w *witness) size() (s photoSize) {
	if w == nil {
		return s
	}
	s = photoSize{height: w.estimate("height"), width: w.estimate("open_width")}
	if i, ok := w.at["height"]; ok {
		if j, ok := w.at["open_width"]; ok {
			s.cov = w.cov.At(i, j)
		}
	}
	return s
}

// sameAcross reports whether reading i is of a height or an open width and what was typed of the other is about as much:
// swapping two that are alike explains nothing.
func (r *reconciler) sameAcross(i int, at []int) bool {
	other := map[measure.Quantity]measure.Quantity{measure.QHeight: measure.QOpenWidth, measure.QOpenWidth: measure.QHeight}[r.typed[i].Quantity]
	same := false
	for _, k := range at {
		if r.typed[k].Quantity == other {
			if math.Abs((*r.typed[k].Value - *r.typed[i].Value).MM()) > sizeMatters {
				return false
			}
			same = true
		}
	}
	return same
}

// sizeBlock is the readings at at with the ways in which they may have come about.
func (r *reconciler) sizeBlock(at []int) slipBlock {
	barrel := r.seen.estimate("barrel_diameter")
	if !barrel.Known() {
		barrel = usualBarrel
	}
	b := slipBlock{keys: [2]measure.Key{"height", "open_width"}}
	for _, i := range at {
		b.typed = append(b.typed, r.typed[i].Reading)
		forms := sizeForms(r.typed[i].Reading, barrel)
		if r.sameAcross(i, at) {
			forms = slices.DeleteFunc(forms, func(f slipForm) bool { return f.name == measure.SlipSwapped })
		}
		b.forms = append(b.forms, r.allowed(r.typed[i].Quantity, forms))
	}
	for i, x := range b.typed {
		for j, y := range b.typed {
			if x.Quantity == measure.QHeight && y.Quantity == measure.QOpenWidth {
				b.pairs = append(b.pairs, [2]int{i, j})
			}
		}
	}
	return b
}

// hypotheses weighs the readings of b with the photos as they are, which comes first, with every
// scale that these may be wrong by, and as those of another hinge. after is the distribution of the
// sizes once the photos are seen.
func (r *reconciler) hypotheses(b *slipBlock, photo photoSize, after []component) []hypothesis {
	weigh := func(prior []component, slips int) hypothesis {
		b.prior = prior
		h := hypothesis{choices: b.weigh(slips), prior: prior}
		h.logp = totalWeight(h.choices)
		return h
	}
	all := []hypothesis{weigh(after, maxSlips)}
	if !photo.height.Known() && !photo.width.Known() {
		return all
	}
	prior := sizePrior()
	if !r.printed || !r.bar.Known() {
		for _, s := range scaleSlips(r.printed) {
			if r.forbidden(measure.QUnknown, s.name) {
				continue
			}
			h := weigh(photo.scaled(s.h, s.w).take(prior), 1)
			h.scale, h.logp = &s, math.Log(s.prior)+h.logp
			all = append(all, h)
		}
	}
	believed := func(t measure.Reading) bool { return r.pinned(t.Quantity) }
	if len(b.typed) > 0 && !slices.ContainsFunc(b.typed, believed) {
		b.prior = prior
		evidence := math.Inf(-1)
		for _, c := range after {
			evidence = logAdd(evidence, c.logw)
		}
		asTyped := make([]int, len(b.typed))
		h := hypothesis{apart: true, choices: []slipChoice{{asTyped, b.likelihood(asTyped)}}, prior: after}
		h.logp = math.Log(slipPriors[measure.SlipOtherHinge]) + evidence + h.choices[0].logp
		all = append(all, h)
	}
	return all
}

// likeliest gives the likeliest hypothesis, variants of one name counted together, and its odds against
// the next best name.
func likeliest(all []hypothesis) (top hypothesis, odds float64) {
	sum := map[string]float64{}
	for _, h := range all {
		if old, ok := sum[h.name()]; ok {
			sum[h.name()] = logAdd(old, h.logp)
		} else {
			sum[h.name()] = h.logp
		}
	}
	top = all[0]
	for _, h := range all {
		if sum[h.name()] > sum[top.name()] || h.name() == top.name() && h.logp > top.logp {
			top = h
		}
	}
	next := math.Inf(-1)
	for n, l := range sum {
		if n != top.name() {
			next = max(next, l)
		}
	}
	return top, math.Exp(math.Min(20, sum[top.name()]-next))
}

// noteWhole notes a hypothesis that speaks against the photos or against all that was typed.
func (r *reconciler) noteWhole(top hypothesis, odds float64, applied bool, photo photoSize, at []int) {
	d := measure.Disagreement{Quantity: measure.QUnknown, Slip: top.name(), Odds: odds, Applied: applied, Typed: r.typedTexts(at)}
	d.Sentence = sayWhole(top.name(), top.scale, photo, r.typedBoth(at))
	if top.apart { // the thickness and the rest are the other hinge's too
		var every []int
		for i := range r.typed {
			r.typed[i].aside = true
			every = append(every, i)
		}
		d.Typed = r.typedTexts(every)
	}
	r.found = append(r.found, d)
}

// scaleDoubt is the relative standard uncertainty that the hypotheses leave of the photos' scale, about
// the one that was taken for it; nil: none is wrong.
func scaleDoubt(all []hypothesis, top hypothesis, scale *scaleSlip) float64 {
	of := func(s *scaleSlip) float64 {
		if s == nil {
			return 1
		}
		return s.h
	}
	sum, square, taken := 0.0, 0.0, of(scale)
	for _, h := range all {
		if p := math.Exp(h.logp - top.logp); !h.apart {
			off := of(h.scale)/taken - 1
			sum, square = sum+p, square+p*off*off
		}
	}
	return math.Sqrt(square / sum)
}

// usualBarrel stands for a barrel that no photo showed: 7/16 to 1/2 in is common (from memory).
var usualBarrel = measure.Estimate{Value: 11.5, Sigma: 2}

func (s photoSize) scaledBy(k *scaleSlip) photoSize {
	if k == nil {
		return s
	}
	return s.scaled(k.h, k.w)
}

// usualPin is the pin of a butt hinge, about 1/4 in (from memory, weak), with what a loosely
// rolled knuckle adds.
var usualPin = measure.Estimate{Value: 6.35, Sigma: 1}

// looseRoll is how loosely a leaf is rolled round its pin, as a standard deviation of the barrel's diameter
// in millimetres (common practice, no source).
const looseRoll = 0.3

// pinKey is the pin's diameter, which is no length of a measured hinge.
const pinKey measure.Key = "pin_diameter"

func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// settle records the verdicts on the readings at at.
func (r *reconciler) settle(at []int, b *slipBlock, verdicts []slipVerdict, photo photoSize) {
	swapped := -1
	for n, i := range at {
		t, v := &r.typed[i], verdicts[n]
		t.form, t.used = b.forms[n][0], true
		if v.form.name == slipNone {
			t.form = v.form // a form as typed, on the likeliest length
			continue
		}
		if v.none < showOdds {
			continue
		}
		applied := v.odds >= suggestOdds && !v.form.spread
		t.used, t.aside = applied, !applied
		t.form = v.form
		d := measure.Disagreement{Quantity: t.Quantity, Slip: v.form.name, Typed: typedText(t.Reading), Odds: v.odds, Applied: applied || v.form.spread}
		if !v.form.spread {
			c := v.form.corrected(*t.Value)
			d.Corrects = &c
		}
		if v.form.name == measure.SlipSwapped && (t.Quantity == measure.QHeight || t.Quantity == measure.QOpenWidth) {
			if swapped >= 0 { // said once for both
				e := &r.found[swapped]
				e.Typed += " and " + d.Typed
				e.Sentence = saySwapped(r, at, photo)
				e.Applied = e.Applied && d.Applied
				e.Odds = min(e.Odds, d.Odds)
				continue
			}
			swapped = len(r.found)
		}
		d.Sentence = r.say(t.Reading, v.form, d, photo)
		r.found = append(r.found, d)
	}
}

// conflictOdds is how much likelier the best joint explanation must be than the one that was
// settled on, reading by reading, before the readings are said to contradict each other.
const conflictOdds = 100

// conflict notes readings of one quantity that can't all be right, where no explanation says
// which of them is wrong.
func (r *reconciler) conflict(at []int, b *slipBlock, choices []slipChoice) {
	forms := make([]int, len(at))
	for n, i := range at {
		if r.typed[i].aside {
			return // one of them stands aside already
		}
		forms[n] = slices.IndexFunc(b.forms[n], func(f slipForm) bool { return f.same(r.typed[i].form) })
	}
	top, chosen := math.Inf(-1), math.Inf(-1)
	for _, c := range choices {
		top = max(top, c.logp)
		if slices.Equal(c.forms, forms) {
			chosen = c.logp
		}
	}
	if top-chosen < math.Log(conflictOdds) {
		return
	}
	for n, i := range at {
		for m, j := range at[:n] {
			x, y := b.typed[m], b.typed[n]
			if x.Quantity != y.Quantity || r.typed[i].form.name != slipNone || r.typed[j].form.name != slipNone ||
				math.Abs(measure.ZetaScore(measure.Estimate{Value: *x.Value, Sigma: x.U}, measure.Estimate{Value: *y.Value, Sigma: y.U})) < 3 {
				continue
			}
			r.found = append(r.found, measure.Disagreement{Quantity: x.Quantity, Slip: measure.SlipConflict, Odds: math.Exp(math.Min(20, top-chosen)),
				Typed:    typedText(x) + " and " + typedText(y),
				Sentence: fmt.Sprintf("typed %s and %s %s; they can't both be right: ask which", typedText(x), typedText(y), spoken(x.Quantity))})
			return
		}
	}
}

// same reports whether two forms are one.
func (f slipForm) same(g slipForm) bool {
	return f.name == g.name && f.scale == g.scale && f.spread == g.spread && f.on.add == g.on.add && slices.Equal(f.on.keys, g.on.keys) && slices.Equal(f.on.coef, g.on.coef)
}

// corrected is what the reading says of its own quantity once the slip is taken out, in
// millimetres of what was measured.
func (f slipForm) corrected(typed measure.Length) measure.Length {
	c := 1.0
	if len(f.on.coef) == 1 {
		c = f.on.coef[0]
	}
	if len(f.on.coef) > 1 {
		return measure.Length(float64(typed)/f.scale - f.on.add)
	}
	return measure.Length((float64(typed)/f.scale - f.on.add) / c)
}

// rolled is the leaf's thickness by the barrel, whether seen or typed, with what it was seen by: a knuckle is the
// leaf rolled round the pin, so that barrel = pin + 2 × thickness. It is weak, about half a millimetre, for
// pins differ.
func (r *reconciler) rolled() (t measure.Estimate, source, text string) {
	barrel, source := r.corrected.estimate("barrel_diameter"), "barrel"
	if i := slices.IndexFunc(r.typed, func(t typedReading) bool { return t.Quantity == measure.QBarrelDiameter && t.used }); !barrel.Known() && i >= 0 {
		f := &r.typed[i].form
		barrel = measure.Estimate{Value: f.corrected(*r.typed[i].Value), Sigma: measure.Length(f.sigma / math.Abs(f.scale*f.on.coef[0]))}
		text = typedText(r.typed[i].Reading)
	}
	if !barrel.Known() || barrel.Value <= r.pin.Value {
		return measure.Estimate{}, "", ""
	}
	return measure.Estimate{Value: (barrel.Value - r.pin.Value) / 2, Sigma: measure.Length(math.Hypot(barrel.Sigma.MM(), r.pin.Sigma.MM())) / 2}, source, text
}

func (r *reconciler) explainThickness(sizes []component) {
	at := r.pick(measure.QThickness)
	if len(at) == 0 {
		return
	}
	b := slipBlock{keys: [2]measure.Key{"thickness", ""}, prior: thicknessPrior(sizes)}
	if e, _, _ := r.rolled(); e.Known() {
		for i := range b.prior {
			b.prior[i].observe([2]float64{1, 0}, 0, e.Value.MM(), e.Sigma.MM()*e.Sigma.MM())
		}
	}
	for _, i := range at {
		b.typed = append(b.typed, r.typed[i].Reading)
		b.forms = append(b.forms, r.allowed(measure.QThickness, thicknessForms(r.typed[i].Reading)))
	}
	choices := b.weigh(maxSlips)
	r.settle(at, &b, b.verdicts(choices), photoSize{})
	r.conflict(at, &b, choices)
	r.weighRivals(measure.QThickness, at, "thickness", b.guesses(choices, 0), thickMatters)
}

func (r *reconciler) explainCorners() {
	at := r.pick(measure.QCornerRadius, measure.QCornerDiameter)
	if len(at) == 0 {
		return
	}
	b := slipBlock{keys: [2]measure.Key{measure.LeafKey(0, "corner_radius"), measure.LeafKey(1, "corner_radius")}}
	leaves := 0
	if r.corrected != nil {
		c := component{p: [3]float64{1, 0, 1}}
		for i := range 2 {
			if e := r.corrected.estimate(b.keys[i]); e.Known() {
				c.m[i], c.p[2*i] = float64(e.Value), float64(e.Sigma*e.Sigma)
				leaves = i + 1
			}
		}
		b.prior = []component{c}
	}
	if leaves == 0 { // shares: common practice, no source
		leaves = 1
		cut := func(r, s, share float64) component {
			return component{m: [2]float64{r}, p: [3]float64{s * s, 0, 1}, logw: math.Log(share)}
		}
		b.prior = []component{cut(6.35, 0.3, 0.5), cut(15.875, 0.4, 0.3), cut(0.5, 0.5, 0.1), cut(9, 6, 0.1)}
	}
	for _, i := range at {
		t := r.typed[i].Reading
		own, other, factor := measure.SlipDiameter, 2.0, 1.0
		if t.Quantity == measure.QCornerDiameter {
			own, other, factor = measure.SlipRadius, 1, 2
		}
		var forms []slipForm
		for l := range leaves {
			k := b.keys[l]
			forms = append(forms, generalForms(t, oneLength(k, factor))...)
			forms = append(forms, slipOf(own, oneLength(k, other), float64(t.U)))
		}
		b.typed = append(b.typed, t)
		b.forms = append(b.forms, r.allowed(t.Quantity, forms))
	}
	choices := b.weigh(maxSlips)
	r.settle(at, &b, b.verdicts(choices), photoSize{})
	if leaves == 1 { // of one leaf or both alike: else which is meant is open too
		for _, q := range []measure.Quantity{measure.QCornerRadius, measure.QCornerDiameter} {
			r.weighRivals(q, at, b.keys[0], b.guesses(choices, 0), radiusMatters)
		}
	}
}

func (r *reconciler) explainBarrel() {
	at := r.pick(measure.QBarrelDiameter)
	if len(at) == 0 {
		return
	}
	b := slipBlock{keys: [2]measure.Key{"barrel_diameter", ""}}
	e := r.corrected.estimate("barrel_diameter")
	if !e.Known() {
		e = usualBarrel
	}
	b.prior = []component{{m: [2]float64{float64(e.Value)}, p: [3]float64{float64(e.Sigma * e.Sigma), 0, 1}}}
	for _, i := range at {
		t := r.typed[i].Reading
		b.typed = append(b.typed, t)
		b.forms = append(b.forms, r.allowed(measure.QBarrelDiameter, append(generalForms(t, oneLength("barrel_diameter", 1)),
			slipOf(measure.SlipRadius, oneLength("barrel_diameter", 0.5), float64(t.U)))))
	}
	r.settle(at, &b, b.verdicts(b.weigh(maxSlips)), photoSize{})
}

// explainPin weighs readings of the pin, of which a photo shows nothing: only the leaf rolled round it hangs on it.
func (r *reconciler) explainPin() {
	r.pin = usualPin
	at := r.pick(measure.QPinDiameter)
	if len(at) == 0 {
		return
	}
	b := slipBlock{keys: [2]measure.Key{pinKey, ""}, prior: []component{{m: [2]float64{usualPin.Value.MM()}, p: [3]float64{math.Pow(usualPin.Sigma.MM(), 2), 0, 1}}}}
	for _, i := range at {
		t := r.typed[i].Reading
		b.typed = append(b.typed, t)
		b.forms = append(b.forms, r.allowed(measure.QPinDiameter, append(generalForms(t, oneLength(pinKey, 1)), slipOf(measure.SlipRadius, oneLength(pinKey, 0.5), float64(t.U)))))
	}
	choices := b.weigh(maxSlips)
	r.settle(at, &b, b.verdicts(choices), photoSize{})
	if all := b.guesses(choices, 0); slices.ContainsFunc(at, func(i int) bool { return r.typed[i].used }) {
		top := slices.MaxFunc(all, func(x, y guess) int { return cmp.Compare(x.logp, y.logp) })
		r.pin = measure.Estimate{Value: measure.Length(top.mean), Sigma: measure.Length(math.Sqrt(top.variance + math.Pow(doubt(all, top.mean), 2) + looseRoll*looseRoll))}
	}
}

// explainHoles weighs readings of holes, each by itself, against every hole of the photos.
func (r *reconciler) explainHoles() {
	for _, i := range r.pick(measure.QHoleFromEdge, measure.QHoleFromEnd, measure.QHoleSpacing, measure.QHoleDiameter) {
		t := r.typed[i].Reading
		forms := r.holeForms(t)
		if len(forms) == 0 {
			continue // no photo to hold it against
		}
		forms = r.allowed(t.Quantity, forms)
		b := slipBlock{typed: []measure.Reading{t}, forms: [][]slipForm{forms}}
		var choices []slipChoice
		y := float64(*t.Value)
		for f, form := range forms {
			l := math.Log(form.prior)
			if form.spread {
				l += math.Log(spreadDensity(y))
			} else {
				m, v, ok := r.corrected.of(form.on)
				if !ok {
					continue
				}
				v = form.scale*form.scale*v + form.sigma*form.sigma
				d := y - form.scale*m
				l -= 0.5 * (math.Log(2*math.Pi*v) + d*d/v)
			}
			choices = append(choices, slipChoice{[]int{f}, l})
		}
		r.settle([]int{i}, &b, b.verdicts(choices), photoSize{})
	}
}

// holeForms are the ways in which a reading of a hole comes about: from each hole seen.
func (r *reconciler) holeForms(t measure.Reading) []slipForm {
	if r.corrected == nil {
		return nil
	}
	var forms []slipForm
	u := float64(t.U)
	each := func(f func(leaf, hole, n int)) {
		for l, leaf := range r.corrected.hinge.Leaves {
			for h := range leaf.Holes {
				f(l, h, len(leaf.Holes))
			}
		}
	}
	total := 0
	each(func(_, _, _ int) { total++ })
	if total == 0 {
		return nil
	}
	share := 1 / float64(total)
	put := func(on combination, prior float64, half measure.Key, across bool) {
		for _, f := range generalForms(t, on) {
			forms = append(forms, f.among(prior))
		}
		if !across {
			return
		}
		for _, sign := range []float64{-1, 1} { // to the near or the far edge of the hole
			if _, ok := r.corrected.at[half]; ok {
				edge := combination{append(slices.Clone(on.keys), half), append(slices.Clone(on.coef), sign*0.5), on.add}
				if t.Quantity == measure.QHoleSpacing {
					edge.coef[len(edge.coef)-1] = sign
				}
				forms = append(forms, slipOf(measure.SlipHoleEdge, edge, u).rarer(2).among(prior))
			}
		}
	}
	each(func(l, h, n int) {
		dia, sink := measure.HoleKey(l, h, "diameter"), measure.HoleKey(l, h, "countersink")
		edge, end := oneLength(measure.HoleKey(l, h, "from_edge"), 1), oneLength(measure.HoleKey(l, h, "from_end"), 1)
		far := combination{[]measure.Key{"height", measure.HoleKey(l, h, "from_end")}, []float64{1, -1}, 0}
		swap := func(on combination) {
			forms = append(forms, slipOf(measure.SlipSwapped, on, u).rarer(2).among(share))
		}
		switch t.Quantity {
		case measure.QHoleFromEdge:
			put(edge, share, dia, true)
			put(edge, share/10, sink, true)
			swap(end)
			swap(far)
		case measure.QHoleFromEnd:
			put(end, share/2, dia, true)
			put(far, share/2, dia, true)
			put(end, share/20, sink, true)
			put(far, share/20, sink, true)
			swap(edge)
		case measure.QHoleSpacing:
			for o := h + 1; o < n; o++ {
				p := share
				if o > h+1 {
					p /= 4
				}
				put(combination{[]measure.Key{measure.HoleKey(l, o, "from_end"), measure.HoleKey(l, h, "from_end")}, []float64{1, -1}, 0}, p, dia, true)
			}
		case measure.QHoleDiameter:
			put(oneLength(dia, 1), share, "", false)
			forms = append(forms, slipOf(measure.SlipCountersink, oneLength(sink, 1), u).among(share))
		}
	})
	// What the photo lacks can explain nothing.
	forms = slices.DeleteFunc(forms, func(f slipForm) bool { _, _, ok := r.corrected.of(f.on); return !ok && !f.spread })
	// "As typed" comes first: on the nearest hole.
	first := slices.IndexFunc(forms, func(f slipForm) bool { return f.name == slipNone })
	if first < 0 {
		return nil
	}
	nearest := math.Inf(1)
	for i, f := range forms {
		if f.name == slipNone {
			if m, _, _ := r.corrected.of(f.on); math.Abs(m-float64(*t.Value)) < nearest {
				nearest, first = math.Abs(m-float64(*t.Value)), i
			}
		}
	}
	forms[0], forms[first] = forms[first], forms[0]
	return forms
}

// typedBoth is the readings at at as typed, those in millimetres with the inches and the other way round.
func (r *reconciler) typedBoth(at []int) string {
	var list []string
	for _, i := range at {
		t := r.typed[i].Reading
		other := t.Value.Tenths() + " mm"
		if t.UnitAsTyped == "mm" || t.UnitAsTyped == "cm" {
			other = sayInch(*t.Value)
		}
		list = append(list, fmt.Sprintf("%s (%s) %s", typedText(t), other, spoken(t.Quantity)))
	}
	return strings.Join(list, ", ")
}

func (r *reconciler) typedTexts(at []int) string {
	var list []string
	for _, i := range at {
		list = append(list, typedText(r.typed[i].Reading))
	}
	return strings.Join(list, ", ")
}
