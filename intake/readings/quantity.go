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
	for _, q := range order {
		if !p.plausible(a, q) {
			continue
		}
		if q == measure.QHeight && p.has(measure.QHeight) && s != sHinge {
			if !p.has(measure.QOpenWidth) && p.plausible(a, measure.QOpenWidth) {
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
