package readings

import (
	"math"
	"slices"

	"leafgauge/measure"
)

// A single is an amount that no x joins to another, and what the rules below have found out of it.
type single struct {
	p           *parser
	a           amount
	first, last bool // of the sentence's amounts
	stop        int  // token of the next amount, or of the sentence's end

	before []label  // between the amount before and this one
	behind []*label // sizes named behind it: up to the next amount, and not past a comma or bracket

	thingBefore, thingBehind subject // what is spoken of on either side

	named    bool // a label before it says what size it is
	dim      dim
	thing    subject
	quantity measure.Quantity
	settled  bool // read, or found to be no reading
}

// singleRules are tried in this order, until one settles the amount. A later one may overrule
// an earlier.
var singleRules = []func(*single){
	(*single).labelBefore,
	(*single).labelTouching,
	(*single).labelBehind,
	(*single).saidAgain,
	(*single).bothWays,
	(*single).nextHole,
	(*single).eachLeaf,
	(*single).noQuantity,
	(*single).thingSpokenOf,
	(*single).newClause,
	(*single).doorBehind,
	(*single).leafByItsLabel,
	(*single).anotherThing,
	(*single).sheetGauge,
	(*single).doorCode,
	(*single).sizeOfThing,
	(*single).doorUnsaid,
	(*single).tooBig,
	(*single).otherDoor,
	(*single).noSuchHinge,
	(*single).oneCorner,
}

// one reads a single amount with the labels before and behind it.
func (p *parser) one(amounts []amount, k int, pre, rest []label, e int) {
	s := single{p: p, a: amounts[k], first: k == 0, last: k+1 == len(amounts), stop: next(amounts, k+1, e), before: pre}
	s.lookAround(rest)
	for _, rule := range singleRules {
		if rule(&s); s.settled {
			return
		}
	}
	if s.quantity == "" {
		p.unreadAmounts(s.a)
		return
	}
	p.addLength(s.quantity, s.a, s.dim == dNone)
}

// lookAround finds the labels behind, and what is spoken of on either side.
func (s *single) lookAround(rest []label) {
	s.thingBefore = s.p.carried
	for _, lb := range s.before {
		if lb.sub != sNone {
			s.thingBefore = lb.sub
		}
	}
	bracketed := s.p.kindAt(s.a.upt) == tOpen // "89 mm (height, in the middle)"
	for i := range rest {
		lb := &rest[i]
		if lb.tok >= s.stop || !bracketed && s.p.commaBetween(s.a.upt, lb.tok) {
			break
		}
		if lb.sub != sNone && s.thingBehind == sNone && !s.nextOnes(lb) {
			s.thingBehind = lb.sub
		}
		if lb.dim != dNone {
			s.behind = append(s.behind, lb)
		}
	}
}

// nextOnes reports a thing that is the next number's: ".100 thick and the pin is 5/16".
func (s *single) nextOnes(lb *label) bool {
	if s.last {
		return false
	}
	for j := s.a.upt; j < min(lb.tok, s.a.upt+20); j++ {
		if w := s.p.wordAt(j); w == "and" || w == "so" {
			return true
		}
	}
	return len(s.behind) > 0 && s.p.feedsNumber(lb.tok, s.stop)
}

// labelBefore takes the nearest label before the number that no other has: "height 3 1/2". A
// label in a clause that already has its number does not reach over the comma.
func (s *single) labelBefore() {
	for i := len(s.before) - 1; i >= 0; i-- {
		lb := &s.before[i]
		if lb.dim == dNone || lb.used {
			continue
		}
		if !s.first && s.p.commaBetween(lb.tok, s.a.tok) && !s.p.commaJustBefore(lb.tok, s.a.tok) {
			continue
		}
		s.dim, s.named, lb.used = lb.dim, true, true
		// "from edge to the dia" is a place, whatever of the hole it is measured to.
		if i > 0 && (lb.dim == dDiameter || lb.dim == dThick) && s.before[i-1].dim == dEdge && !s.before[i-1].used {
			s.dim = dEdge
		}
		return
	}
}

// labelTouching weighs a label that touches the number from behind against the one before it.
// "hole from edge to centre 13/32 from top": the label before wins where it is near or says
// where a hole sits; "the width, I think, is some 3 1/2 tall": else the one behind does. A label
// that feeds the next number is that one's.
func (s *single) labelTouching() {
	for _, lb := range s.behind {
		if lb.dim == dTips && (s.last || !s.p.feedsNumber(lb.tok, s.stop)) {
			s.dim, lb.used = dTips, true
			return
		}
	}
	if !s.named || len(s.behind) == 0 {
		return
	}
	near := s.behind[0]
	if near.tok != s.a.upt || near.dim != s.dim && !s.last && s.p.feedsNumber(near.tok, s.stop) {
		return
	}
	near.used = true
	if s.dim == dFolded || s.dim == dTips {
		return
	}
	if near.dim == dFolded || near.dim == dTips || !s.dim.placesHole() && !s.sameClause() {
		s.dim = near.dim
	}
}

// sameClause reports whether the label before stands right at the number.
func (s *single) sameClause() bool {
	return slices.ContainsFunc(s.before, func(lb label) bool { return lb.used && s.a.tok-lb.tok <= 5 })
}

// labelBehind takes the first label behind the number where none stands before it: "3 1/2 tall".
// What else is said of the same size there is this number's too, and no later one's.
func (s *single) labelBehind() {
	if s.named || len(s.behind) == 0 || s.partsOwn() {
		return
	}
	s.dim = s.behind[0].dim
	s.behind[0].used = true
	for _, lb := range s.behind[1:] {
		if lb.dim.placesHole() && (s.dim == dWidth || s.dim == dHeight) {
			return
		}
		if lb.dim == s.dim || lb.dim == dWidth && lb.sub == sLeaf {
			lb.used = true
		}
	}
}

// saidAgain passes over a number without a name that repeats a size of the same sentence: "… 4 inches,
// so go with 4".
func (s *single) saidAgain() {
	if s.dim != dNone || s.first || !s.a.whole {
		return
	}
	for i := len(s.p.out.Readings) - 1; i >= 0 && i >= len(s.p.out.Readings)-4; i-- {
		r := s.p.out.Readings[i]
		if r.At[0] < s.p.toks[s.p.begin].at || r.Value == nil {
			return
		}
		if mm, _ := s.p.length(s.a, r.Quantity); near(mm, float64(*r.Value)) && s.p.near(s.a.tok, s.p.begin, "so") {
			s.settled = true
			return
		}
	}
}

// bothWays: "the height and the width are 4 inches", "3.5 both ways".
func (s *single) bothWays() {
	both := s.dim == dNone && s.p.wordAt(s.a.upt) == "both" && s.p.wordAt(s.a.upt+1) == "ways"
	if s.named && (s.dim == dWidth || s.dim == dHeight) {
		var seen [2]int // the tokens after which height and width are named
		for _, lb := range s.before {
			switch lb.dim {
			case dHeight:
				seen[0] = lb.tok + 1
			case dWidth:
				seen[1] = lb.tok + 1
			}
		}
		if from, to := min(seen[0], seen[1]), max(seen[0], seen[1]); from > 0 {
			both = s.p.wordAt(from) == "and" && to-from <= 4 && s.first
		}
	}
	if !both || s.thing == sDoor || s.thingBefore == sDoor {
		return
	}
	s.p.addLength(measure.QHeight, s.a, false)
	s.p.addLength(measure.QOpenWidth, s.a, false)
	s.settled = true
}

// nextHole: "first hole is 5/8 from the top, second 1 3/4 and third 2 7/8": what places one hole
// places the next.
func (s *single) nextHole() {
	if s.dim != dNone || len(s.p.out.Readings) == 0 {
		return
	}
	switch s.p.wordAt(s.a.tok - 1) {
	case "second", "third", "fourth", "fifth", "next", "last", "middle":
	default:
		return
	}
	r := s.p.out.Readings[len(s.p.out.Readings)-1]
	if r.At[0] < s.p.toks[s.p.begin].at {
		return
	}
	switch r.Quantity {
	case measure.QHoleFromEnd:
		s.dim = dEnd
	case measure.QHoleFromEdge:
		s.dim = dEdge
	}
}

// eachLeaf: "each wing 2", "1.75 each leaf" is its width, where that is in eighths of an inch as
// leaves go.
func (s *single) eachLeaf() {
	if s.dim != dNone || s.a.unit != "" || math.Mod(s.a.value*8, 1) != 0 || !s.p.plausible(s.a, measure.QLeafWidth) {
		return
	}
	leaf := func(i int) bool {
		w := s.p.wordAt(i - 1)
		return subjectWords[s.p.wordAt(i)] == sLeaf && (w == "each" || w == "per" || w == "one")
	}
	if leaf(s.a.tok-1) || leaf(s.a.upt+1) {
		s.dim, s.thingBefore, s.thingBehind = dWidth, sLeaf, sNone
	}
}

// noQuantity passes over the folded width and the height with tips: a hinge is not told by them.
func (s *single) noQuantity() {
	if s.dim == dFolded || s.dim == dTips {
		s.p.unreadAmounts(s.a)
		s.settled = true
	}
}

// newClause: "pin 0.25, 0.087 thick": a thickness behind a comma is the leaf's again.
func (s *single) newClause() {
	if s.dim == dThick && !s.named && s.thing == s.p.carried && (s.thing == sPin || s.thing == sBarrel) && !named(s.before, s.thing) && s.p.kindAt(s.a.tok-1) == tComma {
		s.thing = sHinge
	}
	if s.thing == sLeaf && s.dim == dNone && s.thing == s.p.carried && !named(s.before, sLeaf) && s.thingBehind == sNone && s.p.kindAt(s.a.tok-1) == tComma {
		s.thing, s.quantity = sHinge, "" // "jamb leaf is square, 3.5"
	}
}

// tooBig: what is no size of a pin, barrel or corner is the hinge's.
func (s *single) tooBig() {
	switch s.thing {
	case sPin, sBarrel, sCorner:
	case sHole: // of a clause before
		if s.thing != s.thingBefore || s.p.kindAt(s.a.tok-1) != tComma {
			return
		}
	default:
		return
	}
	if s.quantity != "" && s.quantity != measure.QUnknown && s.p.plausible(s.a, s.quantity) && !s.cornerOfHinge() {
		return
	}
	q := s.p.quantity(s.dim, sHinge)
	if s.dim == dNone {
		q = measure.QHeight
	}
	if (q == measure.QHeight || q == measure.QOpenWidth) && s.p.plausible(s.a, q) {
		s.quantity = q
	}
}

// cornerOfHinge: "3.5 round corner" is the size of a hinge that has such corners.
func (s *single) cornerOfHinge() bool {
	return s.thing == sCorner && s.dim == dNone && s.thingBefore != sCorner && !s.a.whole && s.a.unit == "" && tradeSize(s.a.value)
}

// oneCorner: a radius of one leaf alone is not the hinge's.
func (s *single) oneCorner() {
	if (s.quantity == measure.QCornerRadius || s.thingBefore == sCorner) && s.p.cornersDiffer(s.a.tok) {
		s.p.unreadAmounts(s.a)
		s.settled = true
	}
}

// otherDoor: a second door's size is not the door's.
func (s *single) otherDoor() {
	switch s.quantity {
	case measure.QDoorHeight, measure.QDoorWidth, measure.QDoorThickness:
		if s.p.has(s.quantity) {
			s.p.unreadAmounts(s.a)
			s.settled = true
		}
	}
}

// partsOwn reports a number that stands at its part, where the label behind feeds the next one:
// "corners 1/4 height 3 1/2".
func (s *single) partsOwn() bool {
	if s.last || len(s.before) == 0 || !s.p.feedsNumber(s.behind[0].tok, s.stop) {
		return false
	}
	switch lb := s.before[len(s.before)-1]; lb.sub {
	case sCorner, sBarrel, sPin:
		return s.p.feedsNumber(lb.tok, s.a.tok)
	}
	return false
}

// thingSpokenOf takes the thing named behind the number, as in "3 1/2 hinge", unless the size was
// named before it, and so was the thing.
func (s *single) thingSpokenOf() {
	s.thing = s.thingBefore
	if s.thingBehind != sNone && (!s.named || s.thingBefore == sNone) {
		s.thing = s.thingBehind
	}
}

// doorBehind: "hinges for a width of 32 in at the door" is the door's width, as no hinge has it.
func (s *single) doorBehind() {
	if s.named && s.thingBefore == sHinge && s.thingBehind == sDoor && s.p.near(s.a.upt+5, s.a.upt, "door") &&
		s.fits(sDoor) && !s.fits(sHinge) {
		s.thing = sDoor
	}
}

// fits reports whether the amount is a usual size of the thing.
func (s *single) fits(thing subject) bool { return s.p.plausible(s.a, s.p.quantity(s.dim, thing)) }

// leafByItsLabel: a label that is a leaf's by itself stays so, whatever is named after it: "from pin
// to edge of the hinge 1 3/4".
func (s *single) leafByItsLabel() {
	leafs := func(lb label) bool { return lb.used && lb.sub == sLeaf }
	if slices.ContainsFunc(s.before, leafs) || slices.ContainsFunc(s.behind, func(lb *label) bool { return leafs(*lb) }) {
		s.thing = sLeaf
	}
}

// anotherThing passes over what a frame, a card or a screw measures. Where the size is named and
// the other thing is not right behind the number, it is the hinge's: "the jamb side height 3 1/2".
func (s *single) anotherThing() {
	if s.thing != sOther {
		return
	}
	w := s.p.wordAt(s.a.upt)
	if s.dim == dNone || w == "long" || s.thingBehind == sOther && w != "" && dimWords[w] == dNone {
		s.p.unreadAmounts(s.a)
		s.settled = true
		return
	}
	s.thing = sHinge
}

// sheetGauge: a gauge of sheet is a thickness, whatever is spoken of: "holes in 16 gauge steel".
func (s *single) sheetGauge() {
	if s.a.unit == "gauge" && s.dim == dNone {
		s.dim = dThick
	}
}

// doorCode reads 2868, a door of 2 ft 8 by 6 ft 8, as those write who make doors.
func (s *single) doorCode() {
	n := int(s.a.value)
	width, height := n/1000*12+n/100%10, n/10%10*12+n%10
	if !s.a.whole || s.thing != sDoor || s.dim != dNone || n < 1000 || n > 4999 || height < 72 || height > 108 {
		return
	}
	a := s.a
	a.unit, a.whole = "ft in", false
	a.value = float64(width)
	s.p.addLength(measure.QDoorWidth, a, false)
	a.value = float64(height)
	s.p.addLength(measure.QDoorHeight, a, false)
	s.settled = true
}

// sizeOfThing puts size and thing together; a size that nobody named is guessed.
func (s *single) sizeOfThing() {
	if s.dim == dNone {
		s.quantity = s.p.guess(s.a, s.thing)
		return
	}
	s.quantity = s.p.quantity(s.dim, s.thing)
}

// doorUnsaid: a door's size may be told without the word door, and a hinge's after a door was
// named. It is the other one's where it can only be that.
func (s *single) doorUnsaid() {
	if s.dim != dHeight && s.dim != dWidth && s.dim != dThick || s.p.plausible(s.a, s.quantity) {
		return
	}
	switch {
	case s.dim == dHeight && (s.thing == sNone || s.thing == sHinge && s.p.doorsSpokenOf()) && s.a.unit == "in" && s.a.decimals == 0 && s.fits(sDoor): // "80 in tall", whatever a hinge of 80 mm
		s.quantity = measure.QDoorHeight
	case s.thing == sDoor && s.fits(sHinge):
		s.quantity = s.p.quantity(s.dim, sHinge)
	case (s.thing == sNone || s.thing == sHinge && !named(s.before, sHinge)) && s.fits(sDoor) && !s.p.explicable(s.a, s.quantity):
		s.quantity = s.p.quantity(s.dim, sDoor)
	}
}

// noSuchHinge: a length of a hinge that could be none of its sizes is its height, which is then
// refused with the reason.
func (s *single) noSuchHinge() {
	if s.quantity == measure.QUnknown && s.dim == dNone && (s.thing == sHinge || s.thing == sLeaf) && s.a.unit != "" {
		s.quantity = measure.QHeight
	}
}

// named reports whether the labels name the thing.
func named(labels []label, s subject) bool {
	return slices.ContainsFunc(labels, func(l label) bool { return l.sub == s })
}

// commaJustBefore allows "thickness, 0.086" with nothing between label and comma.
func (p *parser) commaJustBefore(i, j int) bool {
	return i+1 < j && (p.kindAt(i+1) == tComma || letterDims[p.wordAt(i)] != dNone && p.kindAt(i+1) == tClose) && j <= i+3
}

// feedsNumber reports whether nothing but "is", ":" and the like stands between token i and stop.
func (p *parser) feedsNumber(i, stop int) bool {
	if k := p.kindAt(stop); k != tNumber && k != tVulgar && k != tWord {
		return false
	}
	for j := i + 1; j < stop; j++ {
		t := p.toks[j]
		if t.kind == tColon || t.kind == tTilde || t.kind == tWord && (t.word == "is" || t.word == "at" || t.word == "are" || t.word == "of" || approxWords[t.word] || t.word == "was") {
			continue
		}
		return false
	}
	return true
}

// unreadAmounts shows amounts that are no readings.
func (p *parser) unreadAmounts(amounts ...amount) {
	for _, a := range amounts {
		p.out.Unread = append(p.out.Unread, p.text[p.toks[a.tok].at:p.toks[a.upt-1].end])
	}
}
