package readings

import (
	"slices"

	"leafgauge/measure"
)

// group returns how many amounts from k on are joined by x or "by".
func (p *parser) group(amounts []amount, k, e int) int {
	n := 1
	for n < 3 && k+n < len(amounts) {
		a, c := amounts[k+n-1], amounts[k+n]
		if c.junk || c.gauge {
			break
		}
		if p.timesCount(a, c) {
			break
		}
		triple := k+n+1 < len(amounts) || n == 2 // "3.50" / 3.50" / 0.085"", "3.5 - 3.5 - 1/4"
		if j := a.upt; c.tok == j+1 && (p.kindAt(j) == tSlash || p.kindAt(j) == tDash) && !p.gluedAt(j) && !p.gluedAt(c.tok) && triple && (n == 2 || amounts[k+2].tok == c.upt+1 && p.kindAt(c.upt) == p.kindAt(j)) {
			n++
			continue
		}
		joined := c.tok == a.upt && p.inFeet(a) && p.inFeet(c) && subjectWords[p.wordAt(c.upt)] == sDoor // "3/0 6/8 door"
		for j := a.upt; j < c.tok; j++ {
			t := p.toks[j]
			switch {
			case t.kind == tTimes || t.kind == tWord && (t.word == "by" || t.word == "mal" || t.word == "sur"):
				if joined {
					return n
				}
				joined = true
			case t.kind == tWord && (dimWords[t.word] != dNone || letterDims[t.word] != dNone || t.word == "about" || t.word == "open" || t.word == "leaf"), t.kind == tPoint, t.kind == tTilde, t.kind == tColon:
			default:
				return n
			}
		}
		if !joined {
			break
		}
		n++
	}
	return n
}

// inFeet reports a door's size written as 3/0 or 6/8.
func (p *parser) inFeet(a amount) bool {
	return a.unit == "ft in" || a.den > 0 && a.den < 12 && a.num > 1 && a.num < 10 && a.fraction == a.den && a.unit == ""
}

// A joint is two or three amounts joined by x, and what was found out of them.
type joint struct {
	p      *parser
	sizes  []amount
	pre    []label // between the amount before and these
	post   []label // from the last of them on, up to the next amount
	own    [3]dim  // what a label at each of them says
	named  int     // how many have one
	listed []dim   // the names of all, where they stand before or behind: "3.5 x 4 (h x w)"
	thing  subject
}

// pair reads two or three sizes joined by x.
func (p *parser) pair(sizes []amount, pre, rest []label, stop int) {
	j := joint{p: p, sizes: sizes, pre: pre}
	j.shareUnit()
	last := sizes[len(sizes)-1]
	inside := 0
	for inside < len(rest) && rest[inside].tok < stop {
		inside++
	}
	rest = rest[:inside]
	// A label right behind the last number is its own, unless the next number follows it.
	belongs := func(lb label) bool {
		return (lb.dim != dFolded || lb.tok == last.upt) && lb.tok <= last.upt+2 && !p.commaBetween(last.upt, lb.tok) && !p.feedsNumber(lb.tok, stop)
	}
	j.lookAround(rest, stop, belongs)
	j.thing = j.thingSpokenOf()
	if j.thing == sOther {
		p.unreadAmounts(sizes...)
		return
	}
	j.readList()
	dims := j.order()
	for m, a := range sizes {
		p.addLength(p.quantity(dims[m], j.thingAt(m, dims[m])), a, j.named == 0 && j.listed == nil)
	}
	if j.thing == sDoor {
		p.carried = sDoor
	}
	// Labels behind the pair belong to it.
	for i := range rest {
		if rest[i].tok < last.upt || belongs(rest[i]) {
			rest[i].used = true
		}
	}
}

// shareUnit: the unit typed last holds for those before it, where it makes sense.
func (j *joint) shareUnit() {
	for i := len(j.sizes) - 2; i >= 0; i-- {
		a, unit := j.sizes[i], j.sizes[i+1].unit
		if a.unit != "" || unit == "" || unit == "ft in" || a.fraction > 0 && unit != "in" {
			continue
		}
		with := a
		with.unit = unit
		if j.p.plausible(with, measure.QHeight) || j.p.plausible(with, measure.QDoorWidth) || !j.p.plausible(a, measure.QHeight) {
			j.sizes[i] = with
		}
	}
}

// lookAround finds the labels at each size and behind them all.
func (j *joint) lookAround(rest []label, stop int, belongs func(label) bool) {
	n := len(j.sizes)
	for _, lb := range rest {
		for m := range j.sizes {
			end := stop
			if m+1 < n {
				end = j.sizes[m+1].tok
			}
			if lb.dim != dNone && lb.tok >= j.sizes[m].upt && lb.tok < end && j.own[m] == dNone && (m < n-1 || belongs(lb)) {
				j.own[m] = lb.dim
				j.named++
			}
		}
		if lb.tok >= j.sizes[n-1].upt {
			j.post = append(j.post, lb)
		}
	}
}

// thingSpokenOf is what the sizes are of. Corners, pins, holes and barrels are not told by sizes
// joined by x: what speaks of them before is a hinge's, and behind ("4 x 4 square corners") says
// nothing.
func (j *joint) thingSpokenOf() subject {
	part := func(s subject) bool { return s == sCorner || s == sPin || s == sHole || s == sBarrel }
	thing, at := j.p.carried, j.p.begin
	for _, lb := range j.pre {
		if lb.sub != sNone {
			thing, at = lb.sub, lb.tok
		}
	}
	if thing == sDoor && j.p.commaBetween(at, j.sizes[0].tok) && j.bareHinge() {
		thing = sHinge // "5 doors, 3 hinges per door, 3.5 x 3.5"
	}
	if thing == sLeaf && j.p.commaBetween(at, j.sizes[0].tok) {
		thing = sHinge // "1/2 in from the end of the leaf, 3.5 x 3.5"
	}
	upt := j.sizes[len(j.sizes)-1].upt
	for _, lb := range j.post {
		if lb.sub != sNone && (!j.p.commaBetween(upt, lb.tok) || j.p.kindAt(upt) == tOpen && lb.tok <= upt+3) {
			if !part(lb.sub) && !(lb.sub == sOther && j.p.joins(upt, lb.tok)) { // "3 1/2 x 3 1/2 and the screws …"
				thing = lb.sub
			}
			break
		}
	}
	if part(thing) {
		return sHinge
	}
	return thing
}

// bareHinge reports sizes without a unit that a hinge has, and a door at most in feet.
func (j *joint) bareHinge() bool {
	for m, a := range j.sizes {
		q := [3]measure.Quantity{measure.QHeight, measure.QOpenWidth, measure.QThickness}[m]
		if a.unit != "" || !j.p.plausible(a, q) || m < 2 && a.value > 12 {
			return false
		}
	}
	return true
}

// readList: "height x width: 3.5 x 4", "3.5 x 4 (h x w)": the names come in the same order.
func (j *joint) readList() {
	if names := dimsOf(j.pre); len(names) == len(j.sizes) {
		j.listed = names
		return
	}
	if names := dimsOf(j.post); len(names) >= len(j.sizes) && j.named <= 1 {
		j.listed, j.named = names[:len(j.sizes)], 0
	}
}

// jointOrders say which size each amount is, or nil; the first that knows is believed, and where
// none does it is as the trade says them.
var jointOrders = []func(*joint) []dim{
	(*joint).ownLabels,
	func(j *joint) []dim { return j.listed },
	(*joint).onlyThird,
	(*joint).radiusThird,
	(*joint).doors,
}

func (j *joint) order() []dim {
	for _, say := range jointOrders {
		if dims := say(j); dims != nil {
			return dims
		}
	}
	return []dim{dHeight, dWidth, dThick}
}

// radiusThird: of "3.5 x 3.5 x 5/8" the last is the corners' radius: no leaf of a door's hinge is
// so thick, and corners are rounded to one of the two (common practice, no source).
func (j *joint) radiusThird() []dim {
	if len(j.sizes) != 3 || j.thing == sDoor || j.p.doorish(j.sizes) {
		return nil
	}
	a := j.sizes[2]
	if a.fraction == 0 || a.unit != "" && a.unit != "in" || a.value != 0.25 && a.value != 0.625 {
		return nil
	}
	return []dim{dHeight, dWidth, dRadius}
}

// ownLabels: "3.5 high x 4 wide", "h 3.5 x w 4". All but one must be named; a thickness alone leaves
// the other of two open.
func (j *joint) ownLabels() []dim {
	n := len(j.sizes)
	if j.named < n-1 || j.named == 1 && n == 2 && j.own[0] == dNone && j.own[1] == dThick {
		return nil
	}
	dims := slices.Clone(j.own[:n])
	// "h 3.5 x w 4": each name stands before its number.
	if d := dimsBeforeFirst(j.pre); d != dNone && j.own[n-1] == dNone {
		dims[0] = d
		copy(dims[1:], j.own[:n-1])
	}
	fillDims(dims)
	return dims
}

// onlyThird: "3.5 x 3.5 x 0.086 thick", "4 x 4 x 5/8 R".
func (j *joint) onlyThird() []dim {
	if third := j.own[2]; len(j.sizes) == 3 && j.named == 1 && (third == dThick || third == dRadius) {
		return []dim{dHeight, dWidth, third}
	}
	return nil
}

// doors: a door's sizes, where a door is spoken of or they can be nothing else, if some order of
// them makes a door. Which of two is the width may be in doubt; then that is said too.
func (j *joint) doors() []dim {
	if j.thing != sDoor && (j.thing != sNone || !j.p.doorish(j.sizes)) {
		return nil
	}
	dims, ok := j.p.doorDims(j.sizes)
	if !ok {
		j.thing = sHinge
		return nil
	}
	j.thing = sDoor
	if first, last := j.sizes[0], j.sizes[len(j.sizes)-1]; len(dims) == 2 && first.value != last.value &&
		j.p.plausible(first, j.p.quantity(dims[1], sDoor)) && j.p.plausible(last, j.p.quantity(dims[0], sDoor)) {
		j.p.refuse(j.p.text[first.at:last.end], "taken as the door's width by its height; ask which is which")
	}
	return dims
}

// thingAt is what one of the sizes is of: a hinge's where only that fits, or only a door's.
func (j *joint) thingAt(m int, d dim) subject {
	p, a, thing := j.p, j.sizes[m], j.thing
	if thing == sDoor && !p.plausible(a, p.quantity(d, sDoor)) && p.plausible(a, p.quantity(d, sHinge)) {
		thing = sHinge
	}
	if thing != sDoor && thing != sLeaf && p.plausibleOnlyDoor(a, d) {
		thing = sDoor
	}
	return thing
}

func dimsOf(labels []label) []dim {
	var out []dim
	for _, l := range labels {
		if !l.used && (l.dim == dHeight || l.dim == dWidth || l.dim == dThick || l.dim == dOpen) {
			d := l.dim
			if d == dOpen {
				d = dWidth
			}
			if slices.Contains(out, d) {
				continue
			}
			out = append(out, d)
		}
	}
	return out
}

func dimsBeforeFirst(pre []label) dim {
	for i := len(pre) - 1; i >= 0; i-- {
		if pre[i].dim != dNone {
			return pre[i].dim
		}
	}
	return dNone
}

// fillDims gives the one unnamed member the size that is left over.
func fillDims(dims []dim) {
	for i, d := range dims {
		if d == dOpen {
			dims[i] = dWidth
		}
	}
	for i, d := range dims {
		if d != dNone {
			continue
		}
		for _, c := range []dim{dHeight, dWidth, dThick} {
			if !slices.Contains(dims, c) {
				dims[i] = c
				break
			}
		}
	}
}

// doorish reports whether sizes can only be a door's.
func (p *parser) doorish(group []amount) bool {
	big := 0
	for _, a := range group {
		if p.plausible(a, measure.QHeight) || p.plausible(a, measure.QThickness) {
			continue
		}
		if p.plausible(a, measure.QDoorWidth) || p.plausible(a, measure.QDoorHeight) {
			big++
		}
	}
	return big > 0 && big >= len(group)-1 && !p.typicalPair(group)
}

// typicalPair reports whether the group reads as a hinge after one slip of unit.
func (p *parser) typicalPair(group []amount) bool {
	for _, a := range group[:min(2, len(group))] {
		if !p.explicable(a, measure.QHeight) {
			return false
		}
	}
	return true
}

// doorDims orders a door's sizes: width × height × thickness, unless only another order
// makes a door.
func (p *parser) doorDims(group []amount) ([]dim, bool) {
	orders := [][]dim{{dWidth, dHeight, dThick}, {dHeight, dWidth, dThick}, {dThick, dWidth, dHeight}, {dThick, dHeight, dWidth}, {dWidth, dThick, dHeight}, {dHeight, dThick, dWidth}}
	if len(group) == 2 {
		orders = [][]dim{{dWidth, dHeight}, {dHeight, dWidth}, {dThick, dWidth}, {dWidth, dThick}, {dThick, dHeight}, {dHeight, dThick}}
	}
	for _, o := range orders {
		ok := true
		for m := range group {
			ok = ok && p.plausible(group[m], p.quantity(o[m], sDoor))
		}
		if ok {
			return o, true
		}
	}
	return nil, false
}

func (p *parser) plausibleOnlyDoor(a amount, d dim) bool {
	q := p.quantity(d, sHinge)
	return !p.plausible(a, q) && !p.explicable(a, q) && p.plausible(a, p.quantity(d, sDoor))
}
