package reconcile

import (
	"fmt"
	"math"
	"strings"

	"leafgauge/measure"
)

// sayInch says a length in inches to the nearest sixteenth, or to the thousandth where it is
// nowhere near one or small: "3 1/2 in", "0.086 in".
func sayInch(l measure.Length) string {
	in := l.Inches()
	if n := in * 16; in >= 0.5 && math.Abs(n-math.Round(n)) < 0.35 {
		return l.Fraction(16) + " in"
	}
	if in >= 1 {
		return fmt.Sprintf("%.2f in", in)
	}
	return fmt.Sprintf("%.3f in", in)
}

// sayBoth says a length in inches and millimetres.
func sayBoth(l measure.Length) string { return fmt.Sprintf("%s (%s mm)", sayInch(l), l.Tenths()) }

// sayLike says a length in the unit of the reading.
func sayLike(r measure.Reading, l measure.Length) string {
	switch r.UnitAsTyped {
	case "mm":
		return l.Tenths() + " mm"
	case "cm":
		return fmt.Sprintf("%.2f cm", float64(l)/10)
	}
	return sayInch(l)
}

// typedText is a reading as typed, with the unit that it was read in.
func typedText(r measure.Reading) string {
	unit := r.UnitAsTyped
	if unit == "" || unit == "ft in" || strings.HasSuffix(r.Text, unit) || strings.HasSuffix(r.Text, `"`) {
		return r.Text
	}
	return r.Text + " " + unit
}

// spoken is a quantity in plain words.
func spoken(q measure.Quantity) string {
	switch q {
	case measure.QHeight:
		return "high"
	case measure.QOpenWidth:
		return "wide"
	case measure.QLeafWidth:
		return "for one leaf's width"
	case measure.QThickness:
		return "thick"
	case measure.QCornerRadius:
		return "for the corner radius"
	case measure.QCornerDiameter:
		return "for the corner's diameter"
	case measure.QHoleFromEdge:
		return "from the edge to a hole"
	case measure.QHoleFromEnd:
		return "from the end to a hole"
	case measure.QHoleSpacing:
		return "between holes"
	case measure.QHoleDiameter:
		return "across a hole"
	case measure.QBarrelDiameter:
		return "across the barrel"
	}
	return strings.ReplaceAll(string(q), "_", " ")
}

// say words one disagreement for the counter.
func (r *reconciler) say(t measure.Reading, f slipForm, d measure.Disagreement, photo photoSize) string {
	typed := fmt.Sprintf("typed %s %s", d.Typed, spoken(t.Quantity))
	witness := ""
	says := func(e measure.Estimate, what string) {
		if e.Known() {
			witness = fmt.Sprintf("; the photo says %s%s", sayLike(t, e.Value), what)
		}
	}
	switch t.Quantity {
	case measure.QHeight:
		says(photo.height, "")
	case measure.QOpenWidth:
		says(photo.width, " open")
	case measure.QLeafWidth:
		if photo.width.Known() {
			says(measure.Estimate{Value: photo.width.Value / 2, Sigma: photo.width.Sigma / 2}, "")
		}
	case measure.QBarrelDiameter:
		says(r.corrected.estimate("barrel_diameter"), "")
	case measure.QCornerRadius, measure.QCornerDiameter:
		if len(f.on.keys) == 1 {
			if e := r.corrected.estimate(f.on.keys[0]); e.Known() && e.Value > 2 {
				says(e, " radius")
			} else if e.Known() {
				witness = "; the photo shows a square corner"
			}
		}
	case measure.QHoleFromEdge, measure.QHoleFromEnd, measure.QHoleSpacing, measure.QHoleDiameter:
		if !f.spread {
			if m, v, ok := r.corrected.of(f.on); ok && f.name != measure.SlipHoleEdge {
				says(measure.Estimate{Value: measure.Length(m), Sigma: measure.Length(math.Sqrt(v))}, "")
			}
		}
	}
	corrected := ""
	if d.Corrects != nil {
		corrected = sayBoth(*d.Corrects)
	}
	why := ""
	switch f.name {
	case measure.SlipSwapped:
		why = "that is the height"
		if t.Quantity == measure.QHeight {
			why = "that is the width"
		}
		if t.Quantity == measure.QHoleFromEdge || t.Quantity == measure.QHoleFromEnd {
			why = "from the edge and from the end look swapped"
		}
	case measure.SlipLeafWidth:
		why = "that is one leaf"
	case measure.SlipOpenWidth:
		why = "that is both leaves, open"
	case measure.SlipUnit:
		why = fmt.Sprintf("that is in another unit: %s", corrected)
	case measure.SlipDecimal:
		why = fmt.Sprintf("the decimal point slipped: %s", corrected)
	case measure.SlipDigits:
		why = fmt.Sprintf("two digits were exchanged: %s", corrected)
	case measure.SlipTips:
		why = "that is with the tips of the pin"
	case measure.SlipSixteenth:
		why = fmt.Sprintf("the rule was misread by a sixteenth: %s", corrected)
	case measure.SlipEighth:
		why = fmt.Sprintf("the rule was misread by an eighth: %s", corrected)
	case measure.SlipInch:
		why = fmt.Sprintf("the rule was misread by %s: %s", sayStep(f.on.add), corrected)
	case measure.SlipBarrelOut:
		why = "the barrel was left out"
	case measure.SlipBarrelTwice:
		why = "the barrel was counted twice"
	case measure.SlipDiameter:
		why = fmt.Sprintf("that is the diameter; the radius is %s", corrected)
	case measure.SlipRadius:
		why = fmt.Sprintf("that is the radius; the diameter is %s", corrected)
	case measure.SlipHoleEdge:
		why = "that is to the edge of the hole, not its centre"
	case measure.SlipCountersink:
		why = "that is across the countersink"
	case measure.SlipBothLeaves:
		why = fmt.Sprintf("that is both leaves together; one is %s", corrected)
	case measure.SlipUnexplained:
		why = "no usual slip explains it, so it is set aside"
	}
	if !d.Applied {
		why = "perhaps " + why + "; it is not counted"
	}
	return typed + "; " + why + witness
}

func sayStep(mm float64) string {
	mm = math.Abs(mm)
	if mm == 10 {
		return "a centimetre"
	}
	switch mm {
	case 6.35:
		return "a quarter inch"
	case 12.7:
		return "half an inch"
	}
	return "an inch"
}

func saySwapped(r *reconciler, at []int, photo photoSize) string {
	var h, w *measure.Reading
	for _, i := range at {
		switch t := &r.typed[i]; t.Quantity {
		case measure.QHeight:
			h = &t.Reading
		case measure.QOpenWidth:
			w = &t.Reading
		}
	}
	if h == nil || w == nil {
		return "height and width look swapped"
	}
	s := fmt.Sprintf("typed %s high and %s wide; the two look swapped: %s high and %s wide", typedText(*h), typedText(*w),
		sayLike(*h, *w.Value), sayLike(*w, *h.Value))
	if photo.height.Known() && photo.width.Known() {
		s += fmt.Sprintf("; the photo says %s high and %s open", sayLike(*h, photo.height.Value), sayLike(*w, photo.width.Value))
	}
	return s
}

// sayWhole words a disagreement of the whole photo with the whole of what was typed.
func sayWhole(name string, s *scaleSlip, photo photoSize, typed string) string {
	seen := ""
	if photo.height.Known() && photo.width.Known() {
		seen = fmt.Sprintf("%s high and %s open", sayBoth(photo.height.Value), sayBoth(photo.width.Value))
	} else if photo.height.Known() {
		seen = sayBoth(photo.height.Value) + " high"
	}
	switch name {
	case measure.SlipWrongCard:
		return fmt.Sprintf("typed %s; the photo says %s, which fits if the card beside the hinge is %s and no ID-1 card: ask what card it is", typed, seen, s.text)
	case measure.SlipPrintScale:
		if typed == "" {
			return fmt.Sprintf("the photo says %s, which is no trade size, but is one if the card was printed at %.1f %% of its size: ask for the length of its scale bar", seen, 100*s.h)
		}
		return fmt.Sprintf("typed %s; the photo says %s, which fits if the card was printed at %.1f %% of its size: ask for the length of its scale bar", typed, seen, 100*s.h)
	}
	return fmt.Sprintf("typed %s; the photo says %s: they look like two different hinges", typed, seen)
}
