package readings

import "leafgauge/measure"

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
	case dFolded, dTips:
		return ""
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
func (p *parser) guess(a amount, s subject) measure.Quantity {
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
	if s == sDoor && a.whole && a.unit == "" && a.value < 15 {
		return "" // "door 7"
	}
	for _, q := range order {
		if !p.plausible(a, q) {
			continue
		}
		if q == measure.QHeight && p.has(measure.QHeight) && s != sHinge {
			if !p.has(measure.QOpenWidth) && p.plausible(a, measure.QOpenWidth) && p.besideNumber(a) {
				return measure.QOpenWidth // "height 3 1/2 and 4"
			}
			return ""
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

// besideNumber reports that nothing but "and", a comma or a label stands between a and the number
// before it.
func (p *parser) besideNumber(a amount) bool {
	for j := a.tok - 1; j >= p.begin && j >= a.tok-4; j-- {
		switch w := p.wordAt(j); {
		case p.kindAt(j) == tNumber || p.kindAt(j) == tVulgar:
			return true
		case w == "and" || w == "by" || w == "on" || p.kindAt(j) == tComma || p.kindAt(j) == tDouble || unitOf(w) != "" || dimWords[w] != dNone:
		default:
			return false
		}
	}
	return false
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
