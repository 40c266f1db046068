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
		joined := false
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

// pair reads two or three sizes joined by x.
func (p *parser) pair(group []amount, pre, rest []label, stop int) {
	// The unit typed last holds for those before it.
	for i := len(group) - 2; i >= 0; i-- {
		if group[i].unit == "" && group[i+1].unit != "" && group[i+1].unit != "ft in" {
			with := group[i]
			with.unit = group[i+1].unit
			if (with.fraction == 0 || with.unit == "in") && (p.plausible(with, measure.QHeight) || p.plausible(with, measure.QDoorWidth) || !p.plausible(group[i], measure.QHeight)) {
				group[i] = with
			}
		}
	}
	last := group[len(group)-1]
	var own [3]dim // labels at the members
	named := 0
	var post []label
	inside := 0
	for inside < len(rest) && rest[inside].tok < stop {
		inside++
	}
	rest = rest[:inside]
	// A label right behind the last number is its own, unless the next number follows it.
	belongs := func(lb label) bool {
		return lb.tok <= last.upt+2 && !p.commaBetween(last.upt, lb.tok) && !p.feedsNumber(lb.tok, stop)
	}
	for _, lb := range rest {
		for m := range group {
			end := stop
			if m+1 < len(group) {
				end = group[m+1].tok
			}
			if lb.dim != dNone && lb.tok >= group[m].upt && lb.tok < end && own[m] == dNone && (m < len(group)-1 || belongs(lb)) {
				own[m] = lb.dim
				named++
			}
		}
		if lb.tok >= last.upt {
			post = append(post, lb)
		}
	}
	sub := p.carried
	for _, lb := range pre {
		if lb.sub != sNone {
			sub = lb.sub
		}
	}
	for _, lb := range post {
		if lb.sub != sNone && (!p.commaBetween(last.upt, lb.tok) || p.kindAt(last.upt) == tOpen && lb.tok <= last.upt+3) {
			if lb.sub == sCorner || lb.sub == sPin || lb.sub == sHole || lb.sub == sBarrel {
				break
			}
			sub = lb.sub
			break
		}
	}
	if sub == sCorner || sub == sPin || sub == sHole || sub == sBarrel {
		sub = sHinge
	}
	if sub == sOther {
		p.unreadAmounts(group...)
		return
	}
	// "height x width: 3.5 x 4", "3.5 x 4 (h x w)": the names come in the same order.
	names := dimsOf(pre)
	if len(names) != len(group) {
		names = nil
		if d := dimsOf(post); len(d) >= len(group) && named <= 1 {
			names, named = d[:len(group)], 0
		}
	}
	dims := make([]dim, len(group))
	switch {
	case named >= len(group)-1 && named > 0 && len(group) > 1 && !(named == 1 && own[0] == dNone && own[len(group)-1] == dThick && len(group) == 2):
		copy(dims, own[:len(group)])
		// "h 3.5 x w 4": each name stands before its number.
		if dimsBeforeFirst(pre) != dNone && own[len(group)-1] == dNone {
			dims[0] = dimsBeforeFirst(pre)
			copy(dims[1:], own[:len(group)-1])
		}
		p.fillDims(dims)
	case names != nil:
		copy(dims, names)
	case len(names) == 0 && len(group) == 3 && named == 1 && own[2] == dThick:
		dims[0], dims[1], dims[2] = dHeight, dWidth, dThick
	}
	if dims[0] == dNone {
		if sub == sDoor || sub == sNone && p.doorish(group) {
			var ok bool
			if dims, ok = p.doorDims(group); ok {
				sub = sDoor
				if swapped := []dim{dims[1], dims[0]}; len(group) == 2 && group[0].value != group[1].value &&
					p.plausible(group[0], p.quantity(swapped[0], sDoor)) && p.plausible(group[1], p.quantity(swapped[1], sDoor)) {
					p.refuse(p.text[group[0].at:last.end], "taken as the door's width by its height; ask which is which")
				}
			} else {
				sub, dims = sHinge, nil
			}
		}
		if dims == nil || dims[0] == dNone {
			dims = []dim{dHeight, dWidth, dThick}[:len(group)]
		}
	}
	for m := range group {
		s := sub
		if s == sDoor && !p.plausible(group[m], p.quantity(dims[m], sDoor)) && p.plausible(group[m], p.quantity(dims[m], sHinge)) {
			s = sHinge
		}
		if s != sDoor && s != sLeaf && p.plausibleOnlyDoor(group[m], dims[m]) {
			s = sDoor
		}
		q := p.quantity(dims[m], s)
		p.addLength(q, group[m], named == 0 && names == nil)
	}
	if sub == sDoor {
		p.carried = sDoor
	}
	// Labels behind the pair belong to it.
	for i := range rest {
		if rest[i].tok < last.upt || belongs(rest[i]) {
			rest[i].used = true
		}
	}
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
func (p *parser) fillDims(dims []dim) {
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
