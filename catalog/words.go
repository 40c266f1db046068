package catalog

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"leafgauge/measure"
)

// Both writes a length in inches and millimetres: "1/2 in (12.7 mm)", as a decimal where it
// is no 32nd, "3.43 in (87.1 mm)", small ones in thousandths, "0.012 in (0.30 mm)", and a
// door's, from a foot, in whole millimetres, "84 in (2134 mm)".
func Both(l measure.Length) string {
	if l < 0 {
		l = -l
	}
	off := math.Abs(l.MM() - math.Round(l.Inches()*32)*measure.Inch.MM()/32)
	switch {
	case l >= 12*measure.Inch && off < 0.5:
		return fmt.Sprintf("%s in (%.0f mm)", l.Fraction(32), l.MM())
	case l >= measure.Inch/16-0.06 && off < 0.06:
		return fmt.Sprintf("%s in (%s mm)", l.Fraction(32), l.Tenths())
	case l < measure.Inch/4:
		return thousandths(l)
	case l >= measure.Inch && off < 0.15:
		return fmt.Sprintf("%s in (%s mm)", l.Fraction(32), l.Tenths())
	}
	return fmt.Sprintf("%.2f in (%s mm)", l.Inches(), l.Tenths())
}

// thousandths writes a length as a caliper shows it: "0.086 in (2.18 mm)".
func thousandths(l measure.Length) string {
	return fmt.Sprintf("%.3f in (%.2f mm)", l.Inches(), l.MM())
}

// HolesLie says how the screw holes of a leaf lie, "in an arc" or "staggered"; "" of any other
// pattern.
func HolesLie(p measure.Pattern) string {
	switch p {
	case measure.PatternArc:
		return "in an arc"
	case measure.PatternStaggered:
		return "staggered"
	}
	return ""
}

// Count writes how many of something there are, "1 hinge" or "2 hinges".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Capital starts a text with a capital letter.
func Capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// probable is the least probability at which something that may be the matter is worth a
// sentence of its own.
const probable = 0.10

// fit writes j out for one stock hinge.
func (o *oldHinge) fit(old measure.Best, item *Item, j *judgement, w wanted) Fit {
	f := Fit{Item: *item, PDropsIn: j.p[isDropIn], Placement: j.placement.String(),
		Holes: []HoleFit{}, Work: []string{}, Reasons: []string{}, Warnings: []string{}, Also: []Alternative{},
		FireRated: w.door.FireRated, BelowFire: w.missesFire(item), points: w.points(item), drops: j.p[isDropIn]}
	f.Verdict, f.P = j.verdict()
	f.sits = f.Verdict
	f.gap, f.thickDoubt = o.gap(item, j), j.matter[tooThick]+j.matter[tooThin]
	f.Cost = j.cost
	for _, p := range f.points {
		f.Cost += p.cost
		if p.text != "" {
			f.Warnings = append(f.Warnings, p.text)
		}
		switch {
		case p.text == "":
		case p.severity == unlikeAsked:
			f.UnlikeAsked = append(f.UnlikeAsked, p.text)
		case p.severity >= overRule:
			f.Against = append(f.Against, p.text)
			if p.severity == overCustomer {
				f.Contradicts = append(f.Contradicts, p.text)
			}
		}
	}
	if w.handOpen(item) {
		f.handOpen = true
		f.PDropsIn *= pHandUnknown
		if f.Verdict != DoesNotSuit {
			f.P *= pHandUnknown
		}
	}
	o.holeFits(item, j, &f)
	o.reasons(old, item, j, &f)
	if f.FireRated {
		o.fireWork(item, j, &f)
	} else {
		o.work(item, j, &f)
	}
	if w.otherHand(item) {
		f.PDropsIn *= pHandMistold
		if f.Verdict != DoesNotSuit {
			f.Verdict, f.P, f.Work = DoesNotSuit, 1-pHandMistold, []string{}
			f.Reasons = append([]string{fmt.Sprintf("It is handed: %s; the door takes %s ones.", item.Handing, w.wish.Handing)}, f.Reasons...)
		}
	}
	return f
}

// holeFits places every new hole in the old leaf's frame, with its fate.
func (o *oldHinge) holeFits(item *Item, j *judgement, f *Fit) {
	centre := length((o.mean[atHeight] - item.Height.MM()) / 2)
	for l := range 2 {
		if o.holes[l] == 0 {
			continue
		}
		for k := range min(len(item.Holes), maxHoles) {
			h := item.Holes[k]
			if j.placement.turned {
				h.FromEnd = item.Height - h.FromEnd
			}
			h.FromEnd += centre
			hf := HoleFit{Leaf: l, Hole: k, New: h, Off: length(j.off[l][k])}
			for _, fate := range []HoleFate{HoleLands, HoleHalf, HoleClear} {
				if p := j.fates[l][k][fate]; p > hf.PFate {
					hf.Fate, hf.PFate = fate, p
				}
			}
			f.Holes = append(f.Holes, hf)
		}
	}
}

// reasons says why the verdict is what it is.
func (o *oldHinge) reasons(old measure.Best, item *Item, j *judgement, f *Fit) {
	say := func(format string, args ...any) { f.Reasons = append(f.Reasons, fmt.Sprintf(format, args...)) }
	dH := item.Height - old.Height.Value
	switch {
	case f.Verdict == DoesNotSuit && item.Mortise != "" && item.Mortise != "full mortise":
		say("It is a %s hinge; the old one lies in a cut-out on both sides.", item.Mortise)
	case f.Verdict == DoesNotSuit:
		say("Its size %s is too far from the old hinge's, %s.", item.Size(), oldSize(old))
	}
	say("Height: %s against %.2f ± %.2f mm, %s.", Both(item.Height), old.Height.Value.MM(), old.Height.Half95().MM(), bigger(dH))
	if o.knowWidth {
		w := length(o.mean[atWidth] + o.mean[atWidth+1])
		u := math.Sqrt(o.cov[atWidth][atWidth] + 2*o.cov[atWidth][atWidth+1] + o.cov[atWidth+1][atWidth+1])
		say("Open width: %s against %.2f ± %.2f mm, %s.", Both(item.OpenWidth), w.MM(), measure.Coverage95*u, bigger(item.OpenWidth-w))
	} else {
		say("The old hinge's width is not known.")
	}
	if item.Thickness > 0 {
		say("Leaf thickness: %s against %.2f ± %.2f mm, %s.", thousandths(item.Thickness),
			o.mean[atThick], measure.Coverage95*math.Sqrt(o.cov[atThick][atThick]), o.thickFrom)
	} else {
		say("The stock list does not give its leaf thickness.")
	}
	switch {
	case len(item.Holes) == 0:
		say("The stock list does not give its screw holes.")
	case o.holesUnknown:
		say("The old hinge's screw holes are not known: that they match is a guess of %.0f %%.", 100*pHolesUnknown)
	default:
		lands, worst := 0, measure.Length(0)
		for _, h := range f.Holes {
			if h.Fate == HoleLands {
				lands++
				worst = max(worst, h.Off)
			}
		}
		switch {
		case lands == len(f.Holes):
			say("All %d screw holes land in old ones, off by %s at most.", lands, Both(worst))
		case lands == 0:
			say("None of its %d screw holes lands in an old one.", len(f.Holes))
		default:
			say("%d of its %d screw holes land in old ones.", lands, len(f.Holes))
		}
	}
	switch {
	case old.Bearing == measure.BallBearing && item.Bearing == measure.PlainBearing:
		say("Plain bearing; the old hinge has ball bearings, which run lighter and wear less.")
	case old.Bearing == measure.PlainBearing && item.Bearing == measure.BallBearing:
		say("Ball bearing; the old hinge is plain.")
	}
	if f.Verdict == DropsIn && f.P < SureEnough {
		say("Below %.0f %% it is not sure enough to promise: one more answer would help.", 100*SureEnough)
	}
	if len(old.Leaves) == 1 {
		switch said(old.Said).first("leaf") {
		case "alike":
			say("Only one leaf was seen; the customer says that the other is like it.")
		case "lost":
			say("Only one leaf was seen; the other is lost and taken to be like it.")
		default:
			say("Only one leaf was seen; the other is taken to be like it.")
		}
	}
}

func oldSize(old measure.Best) string {
	if old.Nominal.Size != "" {
		return old.Nominal.Size
	}
	return fmt.Sprintf("%.1f x %.1f mm", old.Height.Value.MM(), old.OpenWidth.Value.MM())
}

func bigger(d measure.Length) string {
	switch {
	case d > 0.05:
		return Both(d) + " more"
	case d < -0.05:
		return Both(d) + " less"
	}
	return "the same"
}

// leafNames are how leaves are called: as a drawing of the hinge shows them (flat.Side).
var leafNames = [2]string{"left", "right"}

// LeafName calls leaf n, "left leaf" or "right leaf", as drawings show it.
func LeafName(n int) string { return leafNames[n&1] + " leaf" }

// gap is the widest gap that the hinge may leave: at the ends, at the back or at a corner of the cut-outs.
func (o *oldHinge) gap(item *Item, j *judgement) (widest measure.Length) {
	may := func(p float64, gap float64) {
		if p >= probable {
			widest = max(widest, length(gap))
		}
	}
	may(j.matter[tooShort], o.mean[atHeight]-item.Height.MM())
	if o.knowWidth {
		may(j.matter[tooNarrow], o.mean[atWidth]-item.OpenWidth.MM()/2)
	}
	for l := range 2 {
		r := item.Radius[l]
		if j.placement.exchanged {
			r = item.Radius[1-l]
		}
		may(j.matter[corner0Gap+l], diagonal*(r.MM()-o.mean[atRadius+l]))
	}
	return widest
}

// measureFirst says what has to be measured before anything is cut, where a difference of d mm is less than the old
// size is known to: there is no number to cut to. at is the size's place, over and under the probabilities that the new
// leaf is more or less than fits. It reports whether that is so.
func (o *oldHinge) measureFirst(f *Fit, at int, d, over, under float64, name, more, less string) bool {
	u := measure.Coverage95 * math.Sqrt(o.cov[at][at])
	if max(over, under) < probable || u <= math.Abs(d) {
		return false
	}
	may := more
	switch {
	case over >= probable && under >= probable:
		may += " or " + less
	case under > over:
		may = less
	}
	f.Work = append(f.Work, fmt.Sprintf("Measure the old %s before anything is cut: it is known to ± %s only, and the new leaf may be %s.", name, Both(length(u)), may))
	return true
}

// sizesFirst does that for height, width and thickness, and returns the probabilities of what can be sized.
func (o *oldHinge) sizesFirst(f *Fit, p [matters]float64, dH, dW, dT float64) [matters]float64 {
	if o.measureFirst(f, atHeight, dH, p[tooTall], p[tooShort], "hinge's height", "too long for its place", "too short") {
		p[tooTall], p[tooShort] = 0, 0
	}
	if o.knowWidth && o.measureFirst(f, atWidth, dW, p[tooWide], p[tooNarrow], "leaf's width", "too wide for its place", "too narrow") {
		p[tooWide], p[tooNarrow] = 0, 0
	}
	if o.measureFirst(f, atThick, dT, p[tooThick], p[tooThin], "leaf's thickness", "too thick", "too thin") {
		p[tooThick], p[tooThin] = 0, 0
	}
	return p
}

// work names what is left for the installer, each with its size. What is only possible is
// said with its probability.
func (o *oldHinge) work(item *Item, j *judgement, f *Fit) {
	if f.Verdict == DoesNotSuit {
		return
	}
	add := func(p float64, format string, args ...any) {
		f.Work = append(f.Work, perhaps(p, fmt.Sprintf(format, args...)))
	}
	dH := item.Height.MM() - o.mean[atHeight]
	dW := item.OpenWidth.MM()/2 - o.mean[atWidth]
	dT := item.Thickness.MM() - o.mean[atThick]
	p := o.sizesFirst(f, j.matter, dH, dW, dT)
	if p[tooTall] >= probable {
		add(p[tooTall], "Lengthen both cut-outs by %s in all, half at each end.", Both(length(dH)))
	}
	if p[tooShort] >= probable {
		add(p[tooShort], "Each cut-out is %s longer than the new leaf: fill the gap with a glued wood slip, half of it at each end.", Both(length(dH)))
	}
	if p[tooWide] >= probable {
		if o.knowWidth {
			add(p[tooWide], "Each leaf is %s wider: let the barrel stand out by as much, or cut the backs of both cut-outs deeper, which moves every screw hole.", Both(length(dW)))
		} else {
			add(p[tooWide], "The old width is not known: both cut-outs may have to be widened.")
		}
	}
	if p[tooNarrow] >= probable {
		add(p[tooNarrow], "Each leaf is %s narrower: a gap as wide stays at the back of both cut-outs; fill it with a glued wood slip.", Both(length(dW)))
	}
	for l := range 2 {
		r := item.Radius[l]
		if j.placement.exchanged {
			r = item.Radius[1-l]
		}
		which := leafNames[l]
		dr := length(o.mean[atRadius+l]) - r
		if q := p[corner0Proud+l]; q >= probable {
			if !o.knowCorner[l] {
				add(q, "The %s leaf's old corners were not seen; where they are rounder than the new ones (%s), chisel the cut-out's corners to match.", which, cornerWords(r))
			} else {
				add(q, "Square the 2 corners of the %s leaf's cut-out with a chisel: old corners %s, new %s, %s to take off along each diagonal.",
					which, cornerWords(length(o.mean[atRadius+l])), cornerWords(r), Both(measure.Length(diagonal)*dr))
			}
		}
		if q := p[corner0Gap+l]; q >= probable {
			add(q, "2 corners of the %s leaf's cut-out stay open: old corners %s, new %s, a gap of %s along each diagonal; fill it.",
				which, cornerWords(length(o.mean[atRadius+l])), cornerWords(r), Both(measure.Length(diagonal)*dr))
		}
	}
	if p[tooThick] >= probable {
		add(p[tooThick], "Deepen each cut-out by %s. Left as it is, both leaves stand proud and the door's margin at the hinges grows by twice that: the latch side may bind.", Both(length(dT)))
	}
	if p[tooThin] >= probable {
		add(p[tooThin], "Shim under each leaf by %s (card or veneer). Left as it is, the margin at the hinges closes by twice that and the door may bind on the hinge side.", Both(length(dT)))
	}
	o.holeWork(item, f, add)
	if j.placement.turned {
		if item.PinKind == "loose" {
			add(1, "Turn the hinge end for end; draw its pin and put it in again from the top.")
		} else {
			add(1, "Turn the hinge end for end; its pin's head comes to the bottom then.")
		}
	}
}

// perhaps says a sentence of what is probable to p.
func perhaps(p float64, text string) string {
	if p >= 0.5 {
		return text
	}
	return "Perhaps (" + measure.Percent(p) + "): " + strings.ToLower(text[:1]) + text[1:]
}

// fireWork says of a fire-rated opening what differs, each with its size, and leaves the work to
// those who may do it.
// Source: NFPA 80 § 4.1.3, from pages on fire-door hinges: work at the site is limited to what the
// label service allows; cut-outs are factory or licensed-shop work.
func (o *oldHinge) fireWork(item *Item, j *judgement, f *Fit) {
	if f.Verdict == DoesNotSuit {
		return
	}
	say := func(p float64, format string, args ...any) {
		if p >= probable {
			f.Work = append(f.Work, perhaps(p, fmt.Sprintf(format, args...)))
		}
	}
	dH, dW, dT := item.Height.MM()-o.mean[atHeight], item.OpenWidth.MM()/2-o.mean[atWidth], item.Thickness.MM()-o.mean[atThick]
	p := o.sizesFirst(f, j.matter, dH, dW, dT)
	say(p[tooTall], "The new leaf is %s longer than the cut-outs.", Both(length(dH)))
	say(p[tooShort], "Each cut-out is %s longer than the new leaf.", Both(length(dH)))
	if o.knowWidth {
		say(p[tooWide], "Each leaf is %s wider than its cut-out.", Both(length(dW)))
	} else {
		say(p[tooWide], "The old width is not known: the new leaves may be wider than the cut-outs.")
	}
	say(p[tooNarrow], "Each leaf is %s narrower than its cut-out.", Both(length(dW)))
	for l := range 2 {
		r := item.Radius[l]
		if j.placement.exchanged {
			r = item.Radius[1-l]
		}
		was := cornerWords(length(o.mean[atRadius+l]))
		if !o.knowCorner[l] {
			was = "not seen"
		}
		say(max(p[corner0Proud+l], p[corner0Gap+l]), "The corners of the %s differ: old %s, new %s.", LeafName(l), was, cornerWords(r))
	}
	say(p[tooThick], "The new leaf is %s thicker than the cut-outs are deep.", Both(length(dT)))
	say(p[tooThin], "The new leaf is %s thinner than the cut-outs are deep.", Both(length(dT)))
	misses := 0
	for _, h := range f.Holes {
		if h.Fate != HoleLands {
			misses++
		}
	}
	switch {
	case o.holesUnknown || len(item.Holes) == 0:
		say(1, "Whether the screw holes are the old ones is not known.")
	case misses > 0:
		say(1, "%d of %d screw holes %s not where the old ones are.", misses, len(f.Holes), map[bool]string{true: "is", false: "are"}[misses == 1])
	}
	if len(f.Work) > 0 {
		say(1, "Cut-outs and screw holes of a labelled door are work for its label service or a licensed shop (NFPA 80 § 4.1.3): change nothing yourself.")
	}
	if j.placement.turned {
		say(1, "The hinge goes in end for end.")
	}
}

func (o *oldHinge) holeWork(item *Item, f *Fit, add func(p float64, format string, args ...any)) {
	var half, fresh int
	pHalf, pFresh := 1.0, 1.0
	for _, h := range f.Holes {
		switch h.Fate {
		case HoleHalf:
			half++
			pHalf = min(pHalf, h.PFate)
		case HoleClear:
			fresh++
			pFresh = min(pFresh, h.PFate)
		}
	}
	if half > 0 {
		add(max(pHalf, 0.5), "%s half in an old one: glue a hardwood plug into each old hole, let it dry, then drill the new lead hole.", Count(half, "new screw hole lies", "new screw holes lie"))
	}
	if fresh > 0 {
		add(max(pFresh, 0.5), "%s clear of the old ones: drill a lead hole for each into fresh wood.", Count(fresh, "new screw hole lies", "new screw holes lie"))
	}
	old := o.holes[0] + o.holes[1]
	if left := old - len(f.Holes); left > 0 && !o.holesUnknown && len(f.Holes) > 0 && half+fresh == 0 {
		add(1, "%d old screw holes stay empty under the new leaves.", left)
	}
	if o.holesUnknown && len(item.Holes) > 0 {
		add(1-pHolesUnknown, "New screw holes may be needed in both leaves: the old ones were not measured.")
	}
}

func cornerWords(r measure.Length) string {
	if r < 1 {
		return "square"
	}
	if nearEighth(r) {
		return r.Fraction(8) + " in radius"
	}
	return r.Tenths() + " mm radius"
}
