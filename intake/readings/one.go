package readings

import (
	"slices"

	"leafgauge/measure"
)

// one reads a single amount with the labels before and behind it.
func (p *parser) one(amounts []amount, k int, pre, rest []label, e int) {
	a := &amounts[k]
	stop := next(amounts, k+1, e)
	// Behind: up to the next amount, and not past a comma or bracket.
	var post []*label
	var postSub subject
	cut := false
	for i := range rest {
		lb := &rest[i]
		if lb.tok >= stop {
			break
		}
		if p.commaBetween(a.upt, lb.tok) && (cut || p.kindAt(a.upt) != tOpen) {
			cut = true
		}
		if cut {
			continue
		}
		if lb.sub != sNone && postSub == sNone {
			postSub = lb.sub
		}
		if lb.dim != dNone {
			post = append(post, lb)
		}
	}
	var d dim
	prefixed := false
	preSub := p.carried
	for i := len(pre) - 1; i >= 0; i-- {
		if pre[i].dim != dNone && !pre[i].used && d == dNone {
			// A label in a clause that already has its number does not reach over the comma.
			if k > 0 && p.commaBetween(pre[i].tok, a.tok) && !p.commaJustBefore(pre[i].tok, a.tok) {
				continue
			}
			d, prefixed = pre[i].dim, true
			pre[i].used = true
			if i > 0 && pre[i-1].dim != dNone && !pre[i-1].used && (d == dDiameter || d == dThick) && pre[i-1].dim == dEdge {
				d = pre[i-1].dim
			}
		}
	}
	for _, lb := range pre {
		if lb.sub != sNone {
			preSub = lb.sub
		}
	}
	if len(post) > 0 && prefixed {
		// "hole from edge to centre 13/32 from top": the label before wins, but a label that
		// touches the number and is not followed by a number of its own belongs to it.
		near := post[0]
		if near.tok == a.upt && (near.dim == d || !p.labelFeeds(near.tok, stop, amounts, k)) {
			near.used = true
			if near.dim != d && d != dSpacing && d != dEdge && d != dEnd {
				if !p.sameClause(pre, a.tok) {
					d = near.dim
				}
			}
		}
	} else if len(post) > 0 && !prefixed {
		// A letter or label that touches the next number is that number's: "3.5 w 4".
		near := post[0]
		d = near.dim
		near.used = true
		for _, lb := range post[1:] {
			if lb.dim == dEdge || lb.dim == dEnd || lb.dim == dSpacing {
				if d == dWidth || d == dHeight {
					break
				}
			}
			if lb.dim == d {
				lb.used = true
			}
			if lb.dim == dWidth && lb.sub == sLeaf {
				lb.used = true
			}
		}
	}
	sub := preSub
	if !prefixed || preSub == sNone {
		if postSub != sNone {
			sub = postSub
		}
	} else if postSub == sDoor && d != dNone && p.near(a.upt+5, a.upt, "door") && preSub == sHinge && p.plausible(*a, p.quantity(d, sDoor)) && !p.plausible(*a, p.quantity(d, sHinge)) {
		sub = sDoor
	}
	for _, lb := range post {
		if lb.used && lb.sub == sLeaf {
			sub = sLeaf
		}
	}
	for _, lb := range pre {
		if lb.used && lb.sub == sLeaf {
			sub = sLeaf
		}
	}
	if sub == sOther {
		if d == dNone || !(postSub == sOther) && preSub == sOther && p.carried == sOther {
			if d == dNone {
				p.unreadAmounts(amounts[k : k+1])
				return
			}
		}
		if postSub == sOther && p.wordAt(a.upt) != "" && dimWords[p.wordAt(a.upt)] == dNone {
			p.unreadAmounts(amounts[k : k+1])
			return
		}
		sub = sHinge
	}
	if a.unit == "gauge" && d == dNone {
		d = dThick
	}
	if a.whole && sub == sDoor && d == dNone && p.doorCode(*a) {
		return
	}
	q := p.quantity(d, sub)
	if d == dNone {
		q = p.guess(*a, sub, amounts, k)
	}
	// A door's size may be told without the word door, and a hinge's after a door was named.
	if d == dHeight || d == dWidth || d == dThick {
		switch door := p.quantity(d, sDoor); {
		case sub == sDoor && !p.plausible(*a, q) && p.plausible(*a, p.quantity(d, sHinge)):
			q = p.quantity(d, sHinge)
		case sub == sNone && !p.plausible(*a, q) && p.plausible(*a, door) && !p.explicable(*a, q):
			q = door
		case sub == sHinge && !named(pre, sHinge) && !p.plausible(*a, q) && !p.explicable(*a, q) && p.plausible(*a, door):
			q = door
		}
	}
	if q == measure.QUnknown && d == dNone && (sub == sHinge || sub == sLeaf) && a.unit != "" {
		q = measure.QHeight // refused with the reason, where no hinge is like that
	}
	if q == "" {
		p.unreadAmounts(amounts[k : k+1])
		return
	}
	p.addLength(q, *a, d == dNone)
}

// named reports whether the labels name the thing.
func named(labels []label, s subject) bool {
	return slices.ContainsFunc(labels, func(l label) bool { return l.sub == s })
}

// commaJustBefore allows "thickness, 0.086" with nothing between label and comma.
func (p *parser) commaJustBefore(i, j int) bool {
	return i+1 < j && p.kindAt(i+1) == tComma && j <= i+3
}

// sameClause reports whether the used label before stands right at the number.
func (p *parser) sameClause(pre []label, tok int) bool {
	for _, lb := range pre {
		if lb.used && tok-lb.tok <= 5 {
			return true
		}
	}
	return false
}

// labelFeeds reports whether the label at i stands right before the next amount.
func (p *parser) labelFeeds(i, stop int, amounts []amount, k int) bool {
	return k+1 < len(amounts) && p.feedsNumber(i, stop)
}

// feedsNumber reports whether nothing but "is", ":" and the like stands between token i and stop.
func (p *parser) feedsNumber(i, stop int) bool {
	if k := p.kindAt(stop); k != tNumber && k != tVulgar && k != tWord {
		return false
	}
	for j := i + 1; j < stop; j++ {
		t := p.toks[j]
		if t.kind == tColon || t.kind == tTilde || t.kind == tWord && (t.word == "is" || t.word == "of" || approxWords[t.word] || t.word == "was") {
			continue
		}
		return false
	}
	return true
}

func (p *parser) unreadAmounts(list []amount) {
	for _, a := range list {
		p.out.Unread = append(p.out.Unread, p.text[p.toks[a.tok].at:p.toks[a.upt-1].end])
	}
}

// quantity names a size of a thing.
func (p *parser) quantity(d dim, s subject) measure.Quantity {
	switch d {
	case dScale:
		return measure.QScaleBar
	case dRadius:
		return measure.QCornerRadius
	case dSpacing:
		return measure.QHoleSpacing
	case dEdge:
		return measure.QHoleFromEdge
	case dEnd:
		return measure.QHoleFromEnd
	case dOpen:
		return measure.QOpenWidth
	}
	switch s {
	case sDoor:
		switch d {
		case dHeight:
			return measure.QDoorHeight
		case dWidth:
			return measure.QDoorWidth
		case dThick:
			return measure.QDoorThickness
		}
	case sLeaf:
		if d == dWidth {
			return measure.QLeafWidth
		}
	case sBarrel:
		if d == dDiameter || d == dWidth || d == dThick {
			return measure.QBarrelDiameter
		}
	case sPin:
		if d == dDiameter || d == dWidth || d == dThick {
			return measure.QPinDiameter
		}
	case sHole:
		if d == dDiameter || d == dWidth {
			return measure.QHoleDiameter
		}
	case sSink:
		if d == dDiameter || d == dWidth {
			return measure.QUnknown
		}
	case sCorner:
		if d == dDiameter {
			return measure.QCornerDiameter
		}
	}
	switch d {
	case dHeight:
		return measure.QHeight
	case dWidth:
		return measure.QOpenWidth
	case dThick:
		return measure.QThickness
	case dDiameter:
		return measure.QUnknown
	}
	return ""
}

// guess says what an amount without a name is, from the thing spoken of and its size.
func (p *parser) guess(a amount, s subject, amounts []amount, k int) measure.Quantity {
	var order []measure.Quantity
	switch s {
	case sDoor:
		order = []measure.Quantity{measure.QDoorThickness, measure.QDoorWidth, measure.QDoorHeight}
	case sLeaf:
		order = []measure.Quantity{measure.QThickness, measure.QLeafWidth, measure.QHeight}
	case sBarrel:
		order = []measure.Quantity{measure.QBarrelDiameter}
	case sPin:
		order = []measure.Quantity{measure.QPinDiameter}
	case sHole:
		order = []measure.Quantity{measure.QHoleDiameter}
	case sCorner:
		order = []measure.Quantity{measure.QCornerRadius}
	}
	if s == sSink {
		return measure.QUnknown
	}
	if s != sCorner && s != sHole && s != sBarrel && s != sPin {
		order = append(order, measure.QHeight, measure.QThickness)
	}
	if a.whole && a.unit == "" && !(a.value >= 3 && a.value <= 6) && a.value < 60 && s != sDoor && s != sCorner && s != sBarrel && s != sPin && s != sHole {
		return "" // a bare count of something not named
	}
	for i, q := range order {
		if !p.plausible(a, q) {
			continue
		}
		if q == measure.QHeight && p.has(measure.QHeight) && s != sHinge {
			if !p.has(measure.QOpenWidth) && i >= 0 && p.plausible(a, measure.QOpenWidth) {
				return measure.QOpenWidth // "height 3 1/2 and 4"
			}
			return measure.QUnknown
		}
		return q
	}
	if a.unit == "" && a.whole {
		return ""
	}
	if p.explicable(a, measure.QHeight) && s != sDoor && (a.unit == "in" || a.unit == "mm" || a.unit == "cm") {
		return measure.QHeight
	}
	return measure.QUnknown
}

func (p *parser) has(q measure.Quantity) bool {
	n := len(p.out.Readings)
	for i := n - 1; i >= 0 && i >= n-8; i-- {
		if p.out.Readings[i].Quantity == q && p.out.Readings[i].At[0] >= p.toks[p.begin].at {
			return true
		}
	}
	return false
}
