package readings

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// limits are the sizes, in millimetres, that a quantity takes: usual is where a number
// without a unit is looked for, possible is beyond what is refused.
type limits struct{ usualLow, usualHigh, low, high float64 }

// Common practice, no source: from the smallest cabinet butt to a 6 in hinge of a heavy door,
// with room on either side.
var sizeLimits = map[measure.Quantity]limits{
	measure.QHeight:         {38, 205, 19, 310},
	measure.QOpenWidth:      {25, 205, 12, 310},
	measure.QLeafWidth:      {12, 105, 6, 160},
	measure.QThickness:      {1.2, 5.6, 0.5, 9},
	measure.QCornerRadius:   {1.5, 26, 0.5, 45},
	measure.QCornerDiameter: {3, 52, 1, 90},
	measure.QHoleFromEdge:   {3, 60, 1, 110},
	measure.QHoleFromEnd:    {3, 150, 1, 300},
	measure.QHoleSpacing:    {8, 140, 4, 300},
	measure.QHoleDiameter:   {2, 13, 1, 25},
	measure.QBarrelDiameter: {5, 26, 3, 45},
	measure.QPinDiameter:    {3, 15, 1.5, 30},
	measure.QDoorThickness:  {15, 80, 9, 160},
	measure.QDoorWidth:      {240, 1600, 150, 3000},
	measure.QDoorHeight:     {900, 3200, 300, 6000},
	measure.QScaleBar:       {20, 260, 10, 400},
	measure.QUnknown:        {0.1, 10000, 0.01, 100000},
}

var unitMM = map[string]float64{"in": 25.4, "mm": 1, "cm": 10, "m": 1000, "ft": 304.8, "ft in": 25.4, "thou": 0.0254}

// usGauge is the thickness of sheet by US manufacturers' gauge number, in inches (a value
// from memory). A gauge number is ambiguous, so it is given a wide uncertainty.
var usGauge = map[int]float64{7: 0.1793, 8: 0.1644, 9: 0.1495, 10: 0.1345, 11: 0.1196, 12: 0.1046, 13: 0.0897, 14: 0.0747, 16: 0.0598}

// gaugeU is the standard uncertainty of a gauge number in millimetres: one number off (about
// 0.4 mm), taken as limits of a uniform distribution.
const gaugeU = 0.23

// plausible reports whether the amount, as it would be read, is a usual size of q.
func (p *parser) plausible(a amount, q measure.Quantity) bool {
	l, ok := sizeLimits[q]
	if !ok {
		return false
	}
	mm, _ := p.length(a, q)
	return mm >= l.usualLow && mm <= l.usualHigh
}

// explicable reports whether one slip of unit or decimal makes the amount a usual size of q.
func (p *parser) explicable(a amount, q measure.Quantity) bool {
	l, ok := sizeLimits[q]
	if !ok || a.unit == "ft" || a.unit == "ft in" || a.unit == "m" {
		return false
	}
	mm, unit := p.length(a, q)
	if mm > longestHinge && a.unit != "" && p.doorsSpokenOf() { // "a 36 inch wide, 96 inch tall door"
		switch q {
		case measure.QOpenWidth:
			q = measure.QDoorWidth
		case measure.QHeight:
			q = measure.QDoorHeight
		}
	}
	for other, f := range map[string]float64{"in": 25.4, "mm": 1, "cm": 10} {
		if v := mm / unitMM[unit] * f; other != unit && v >= l.usualLow && v <= l.usualHigh {
			if a.fraction > 0 && other != "in" {
				continue // nobody types millimetres as fractions
			}
			if q == measure.QCornerRadius && math.Abs(v-6.35) > 1.6 && math.Abs(v-15.875) > 1.6 {
				continue // no usual cutter
			}
			return true
		}
	}
	for _, f := range []float64{0.1, 10, 0.01, 100} {
		v := mm * f
		switch q {
		case measure.QCornerRadius:
			if math.Abs(v-6.35) > 0.2 && math.Abs(v-15.875) > 0.3 {
				continue
			}
		case measure.QHeight, measure.QOpenWidth, measure.QLeafWidth:
			// Only where a trade size comes out.
			half := v / 12.7
			if q == measure.QLeafWidth {
				half = v / 6.35
			}
			if math.Abs(half-math.Round(half)) > 0.08 {
				continue
			}
		}
		if a.fraction == 0 && v >= l.usualLow && v <= l.usualHigh {
			return true
		}
	}
	return false
}

// length is the amount in millimetres as a reading of q, with the unit it was read in.
func (p *parser) length(a amount, q measure.Quantity) (mm float64, unit string) {
	unit = a.unit
	v := a.value
	if unit == "gauge" {
		return usGauge[int(v)] * 25.4, "in"
	}
	l := sizeLimits[q]
	usual := func(v float64, u string) bool {
		mm := v * unitMM[u]
		return mm >= l.usualLow && mm <= l.usualHigh
	}
	if a.decimal > 0 { // 1,524: thousand, unless only the decimal comma makes sense
		u := unit
		if u == "" {
			u = "mm"
		}
		if !usual(a.value, u) && (usual(a.decimal, u) || unit == "" && usual(a.decimal, "in")) {
			v = a.decimal
		}
	}
	if unit == "mil" { // a thousandth of an inch, or workshop talk for a millimetre
		unit = "thou"
		if usual(v, "mm") && !usual(v, "thou") {
			unit = "mm"
		}
	}
	if unit == "ft" && a.prime && !strings.HasPrefix(string(q), "door") && q != measure.QUnknown {
		unit = "in" // one prime typed for two
	}
	if unit != "" {
		return v * unitMM[unit], unit
	}
	// Two foot eight is said and written 2/8 or 2-8, three foot 3/0, by those who make doors.
	if (q == measure.QDoorWidth || q == measure.QDoorHeight) && a.den > 0 && a.den < 12 && a.num > 1 && a.num < 10 && a.fraction == a.den && v < 10 {
		return float64(a.num*12+a.den) * 25.4, "ft in"
	}
	if a.fraction > 0 {
		if a.improper && !usual(v, "in") && usual(float64(a.num)/float64(a.den), "in") {
			v = float64(a.num) / float64(a.den)
		}
		return v * 25.4, "in"
	}
	if p.general != "" && usual(v, p.general) {
		return v * unitMM[p.general], p.general
	}
	if usual(v, "in") {
		// 8.9 is no hinge in inches but a 3 1/2 in one in centimetres.
		if (q == measure.QHeight || q == measure.QOpenWidth) && a.decimals == 1 && !tradeSize(v) && tradeSize(v/2.54) {
			return v * 10, "cm"
		}
		return v * 25.4, "in"
	}
	for _, u := range []string{"mm", "cm"} {
		if u == "cm" && v < 2 {
			break // 0.269 is inches, if too many
		}
		if usual(v, u) {
			return v * unitMM[u], u
		}
	}
	if q == measure.QThickness && usual(v, "thou") && a.decimals == 0 {
		return v * unitMM["thou"], "thou"
	}
	if (q == measure.QDoorHeight || q == measure.QDoorWidth) && usual(v, "ft") && v < 12 {
		return v * unitMM["ft"], "ft"
	}
	if q == measure.QDoorHeight && usual(v, "m") {
		return v * 1000, "m"
	}
	if v >= 12.5 {
		return v, "mm"
	}
	return v * 25.4, "in"
}

// tradeSize reports whether v inches is a nominal size, in half inches from 2 to 6.
func tradeSize(v float64) bool {
	n := math.Round(v * 2)
	return n >= 4 && n <= 12 && math.Abs(v*2-n) <= 0.03*2
}

// longestHinge is the longest that a hinge may be where a door is spoken of too, in mm: 14 in.
const longestHinge = 355.6

// addLength adds a reading of q, or refuses it with the reason.
func (p *parser) addLength(q measure.Quantity, a amount, bare bool) {
	mm, unit := p.length(a, q)
	text := p.text[a.at:a.end]
	shown := text
	if a.upt > a.tok && p.toks[a.upt-1].end > a.end {
		shown = p.text[a.at:p.toks[a.upt-1].end]
	}
	name := strings.ReplaceAll(string(q), "_", " ")
	if q == measure.QUnknown {
		name = "a size"
	}
	if a.unit == "gauge" && mm == 0 {
		p.refuse(shown, "not a sheet gauge that is known; give the thickness in inches or millimetres")
		return
	}
	l := sizeLimits[q]
	switch {
	case a.negative:
		p.refuse("-"+shown, name+" can't be negative")
		return
	case mm <= 0:
		p.refuse(shown, name+" can't be zero")
		return
	case (mm < l.low || mm > l.high) && !p.explicable(a, q):
		p.refuse(shown, fmt.Sprintf("%s can't be %s", name, plainMM(mm)))
		return
	}
	kind, u := p.uncertainty(a, q, mm, unit, bare)
	value := measure.Length(trim(mm))
	p.out.Readings = append(p.out.Readings, measure.Reading{Quantity: q, Value: &value, UnitAsTyped: unit,
		U: measure.Length(math.Round(u*1e4) / 1e4), Instrument: kind, Text: text, At: [2]int{a.at, a.end}})
}

// plainMM writes a length to four digits, without powers of ten.
func plainMM(mm float64) string {
	digits := func(v float64) string {
		v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return digits(mm) + " mm (" + digits(mm/25.4) + " in)"
}

// Standard uncertainties in millimetres, before the step of the digits is added.
const (
	// caliperU: maximum permissible error 0.05 mm of a vernier up to 300 mm (DIN 862), taken
	// as uniform limits: 0.05/√3.
	caliperU = 0.05 / 1.7320508
	// handU is what a hand adds by holding a caliper on a worn or painted hinge
	// (common practice, no source).
	handU = 0.04
	// tapeU: a class II rule or tape, 0.5 mm on lengths up to a metre (MID annex MI-008),
	// taken as uniform limits: 0.5/√3.
	tapeU = 0.5 / 1.7320508
	// nominalU: the general linear tolerance of ±1/16 in (ANSI/BHMA A156.26 § 3.1, a sister
	// standard) by which a hinge may differ from the size it is called, as uniform limits.
	nominalU = 25.4 / 16 / 1.7320508
	// approxFactor widens what was typed as "about" (common practice, no source).
	approxFactor = 2
)

// uncertainty judges the instrument, as told or as the digits show it, and the standard
// uncertainty of the reading. A reading to the nearest step adds step/√12 (JCGM 100, F.2.2.1).
func (p *parser) uncertainty(a amount, q measure.Quantity, mm float64, unit string, bare bool) (kind measure.Instrument, u float64) {
	if a.unit == "gauge" {
		return measure.NominalSize, gaugeU
	}
	step, fine := stepOf(a, mm, unit)
	kind = p.instrument(a, q, mm, unit, step, fine, bare)
	base := tapeU
	switch kind {
	case measure.Caliper:
		base = math.Hypot(caliperU, handU)
		if a.fraction > 0 && a.fraction < 64 {
			step = 25.4 / 64 // to which a caliper's fractions go
		}
	case measure.NominalSize:
		base, step = nominalU, 0
		if q == measure.QCornerRadius {
			base = 0.25 // a cutter's radius is well kept (common practice, no source)
		}
	}
	u = math.Hypot(base, step/math.Sqrt(12))
	if a.spread > 0 {
		u = a.spread * unitMM[unit] / math.Sqrt(3)
	}
	if p.approximate(a) {
		u *= approxFactor
	}
	return kind, u
}

// stepOf is the step in millimetres that the amount was read to, and whether that is finer than a
// tape's.
func stepOf(a amount, mm float64, unit string) (step float64, fine bool) {
	decimal := func(unit string) float64 { return unitMM[unit] * math.Pow10(-a.decimals) }
	switch {
	case unit == "ft in" || unit == "ft":
		return 25.4 / 16, false
	case unit == "m":
		return decimal(unit), false
	case a.fraction > 0:
		return 25.4 / float64(max(16, a.fraction)), a.fraction >= 64
	case unit == "in":
		sixteenths := a.value * 16
		if math.Abs(sixteenths-math.Round(sixteenths)) < 1e-9 && a.decimals <= shortest(a.value) {
			return 25.4 / 16, false // 3.5, 3.125: a rule's mark typed as a decimal
		}
		return decimal(unit), a.decimals >= 2
	case unit == "thou":
		return 0.0254, true
	case unit == "cm":
		return decimal(unit), a.decimals >= 2
	case a.decimals == 1 && strings.HasSuffix(a.digits, "5") && mm > 10:
		return 0.5, false // half a millimetre read off a rule, or a caliper's tenth
	}
	return decimal(unit), a.decimals >= 1
}

// instrument judges what the amount was read with.
func (p *parser) instrument(a amount, q measure.Quantity, mm float64, unit string, step float64, fine, bare bool) measure.Instrument {
	told := p.told
	if strings.HasPrefix(string(q), "door") || q == measure.QCornerRadius {
		told = "" // nobody takes a caliper to a door, or to a radius
	}
	switch {
	case p.wordBefore(a.tok, p.begin, map[string]bool{"nominal": true, "standard": true}):
		return measure.NominalSize
	case told == measure.Caliper && (a.fraction == 0 || !onHalfInch(mm)), fine:
		return measure.Caliper
	case told == measure.Tape:
		return measure.Tape
	case bare && (q == measure.QHeight || q == measure.QOpenWidth) && unit == "in" && onHalfInch(mm):
		return measure.NominalSize // sizes as a hinge is called by
	case q == measure.QCornerRadius && (near(mm, 6.35) || near(mm, 15.875)):
		return measure.NominalSize
	case unit == "mm" && step == 0.5:
		return measure.InstrumentUnknown
	}
	return measure.Tape
}

// approximate reports whether "about", "~", "roughly" stands at the amount.
func (p *parser) approximate(a amount) bool {
	if p.wordBefore(a.tok, p.begin, approxWords) {
		return true
	}
	for j := a.tok - 1; j >= p.begin && j >= a.tok-2; j-- {
		if p.kindAt(j) == tTilde {
			return true
		}
	}
	w := p.wordAt(a.upt)
	return w == "ish" || w == "roughly" || w == "approx" || w == "about" && p.kindAt(a.upt+1) != tNumber || p.kindAt(a.upt) == tDash && p.wordAt(a.upt+1) == "ish"
}

func onHalfInch(mm float64) bool {
	half := mm / 12.7
	return math.Abs(half-math.Round(half)) < 1e-9
}

func near(a, b float64) bool { return math.Abs(a-b) < 0.02 }

// shortest is how many decimals the value needs.
func shortest(v float64) int {
	for d := 0; d < 6; d++ {
		s := v * math.Pow10(d)
		if math.Abs(s-math.Round(s)) < 1e-9*math.Pow10(d) {
			return d
		}
	}
	return 6
}
