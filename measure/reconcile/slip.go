package reconcile

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"leafgauge/measure"
)

// slipNone names a reading that came about as it was typed.
const slipNone = ""

// slipPriors says how often each slip happens to a reading, before anything is known of it.
// About one reading in five is wrong (common practice, no source), and these add up to that;
// how they share it out is judged from what the shop's counter sees, no source either. A slip
// that can go either way (a mark more or less) has the share in each.
var slipPriors = map[string]float64{
	measure.SlipSwapped:     0.03, // of a height and a width typed together
	measure.SlipLeafWidth:   0.06,
	measure.SlipOpenWidth:   0.02,
	measure.SlipUnit:        0.02,
	measure.SlipDecimal:     0.015,
	measure.SlipDigits:      0.006,
	measure.SlipTips:        0.01,
	measure.SlipSixteenth:   0.008,
	measure.SlipEighth:      0.008,
	measure.SlipInch:        0.0008,
	measure.SlipBarrelOut:   0.008,
	measure.SlipBarrelTwice: 0.008,
	measure.SlipDiameter:    0.05,
	measure.SlipRadius:      0.02,
	measure.SlipHoleEdge:    0.03,
	measure.SlipCountersink: 0.10,
	measure.SlipBothLeaves:  0.05,
	measure.SlipUnexplained: 0.004,
	// Of a whole inquiry:
	measure.SlipWrongCard:  0.006, // most such photos are refused before they come here
	measure.SlipPrintScale: 0.20,  // of photos with a printed card; see untoldScale
	measure.SlipOtherHinge: 0.004,
}

// suggestOdds is how much likelier than the next best an explanation must be to be applied as
// suggested; showOdds how much likelier than no slip at all to be shown.
const (
	suggestOdds = 10
	showOdds    = 3
)

// A slipForm is one way in which a reading may have come about: y = scale·x + add, where x is
// the quantity that was meant, with more uncertainty where the slip adds some.
type slipForm struct {
	name   string
	prior  float64
	on     combination // what was measured in truth
	scale  float64     // typed = scale × that
	sigma  float64     // standard uncertainty of the typed value, mm
	spread bool        // says nothing: any number could stand there
}

// slipOf is a reading of on that came about by a slip, as often as slips of that name do.
func slipOf(name string, on combination, sigma float64) slipForm {
	return slipForm{name: name, prior: slipPriors[name], on: on, scale: 1, sigma: sigma}
}

// times is a slip that typed so many times what was meant, known to sigma mm.
func (f slipForm) times(scale, sigma float64) slipForm {
	f.scale, f.sigma = scale, sigma
	return f
}

// noSurer widens slips so that what was meant is never known better than what was typed: half of both leaves'
// thickness is as uncertain as the number that was read.
func noSurer(forms []slipForm) []slipForm {
	out := slices.Clone(forms)
	for i, f := range forms {
		for _, as := range forms {
			if f.name != slipNone && !f.spread && as.name == slipNone && len(as.on.keys) == len(f.on.keys) && slices.Equal(as.on.keys, f.on.keys) {
				out[i].sigma = math.Max(f.sigma, math.Abs(f.scale*f.on.coef[0]/as.on.coef[0])*as.sigma)
			}
		}
	}
	return out
}

// rarer is a slip so many times rarer.
func (f slipForm) rarer(times float64) slipForm {
	f.prior /= times
	return f
}

// among is a form that holds only where a share of all readings is meant.
func (f slipForm) among(share float64) slipForm {
	f.prior *= share
	return f
}

// combination is a linear function of a hinge's lengths: Σ coefficient × length + add.
type combination struct {
	keys []measure.Key
	coef []float64
	add  float64
}

// oneLength is c times one length.
func oneLength(k measure.Key, c float64) combination {
	return combination{[]measure.Key{k}, []float64{c}, 0}
}

func (l combination) plus(mm float64) combination {
	l.add += mm
	return l
}

// Unit slips: what is typed over what is meant.
var unitSlips = map[string][]float64{
	"in":   {25.4, 2.54},                // meant millimetres, centimetres
	"mm":   {1 / 25.4, 0.1, 1 / 0.0254}, // meant inches, centimetres, thousandths of an inch
	"cm":   {10, 1 / 2.54},
	"thou": {0.0254},
}

// slipsAgain is how often a number whose point slipped has two of its digits exchanged too: ten times as often as
// another, for it was typed in haste (judged, no source).
const slipsAgain = 0.06

var decimalSlips = []float64{0.1, 10, 0.01, 100}

// inchSlips are other marks that get misread, in millimetres: a quarter, a half and a whole
// inch, and a centimetre.
var inchSlips = map[string][]float64{"in": {6.35, -6.35, 12.7, -12.7, 25.4, -25.4}, "mm": {10, -10}, "cm": {10, -10}}

// isFraction reports whether a reading was typed as a fraction: such a one has no decimal
// point to slip and is never meant in millimetres.
func isFraction(r measure.Reading) bool {
	return strings.ContainsFunc(r.Text, func(c rune) bool {
		return unicode.IsLetter(c) || unicode.Is(unicode.No, c) || strings.ContainsRune("/⁄∕", c)
	})
}

// generalForms are the slips that any length can suffer.
func generalForms(r measure.Reading, on combination) []slipForm {
	u := float64(r.U)
	forms := []slipForm{{name: slipNone, prior: 1, on: on, scale: 1, sigma: u}}
	if !isFraction(r) {
		for _, f := range unitSlips[r.UnitAsTyped] {
			forms = append(forms, slipOf(measure.SlipUnit, on, u).times(f, math.Hypot(u, f*0.1)))
		}
		for _, f := range decimalSlips {
			forms = append(forms, slipOf(measure.SlipDecimal, on, u).times(f, math.Hypot(u, f*0.05)))
		}
	}
	others := exchanged(r)
	for _, mm := range others {
		digits := slipOf(measure.SlipDigits, on.plus(float64(*r.Value)-mm), u).rarer(float64(len(others)))
		forms = append(forms, digits)
		if isFraction(r) {
			continue
		}
		for _, f := range decimalSlips[:2] { // and the point too
			both := slipOf(measure.SlipDecimal, on.plus((float64(*r.Value)-mm)/f), u).times(f, math.Hypot(u, f*0.05))
			forms = append(forms, both.rarer(float64(len(others))/slipsAgain))
		}
	}
	fine := r.Instrument == measure.Caliper
	for _, step := range []struct {
		name string
		mm   float64
	}{{measure.SlipSixteenth, 25.4 / 16}, {measure.SlipEighth, 25.4 / 8}} {
		if r.UnitAsTyped != "in" || fine {
			break
		}
		forms = append(forms, slipOf(step.name, on.plus(step.mm), u), slipOf(step.name, on.plus(-step.mm), u))
	}
	if math.Abs(float64(*r.Value)) > 20 {
		for _, mm := range inchSlips[r.UnitAsTyped] {
			forms = append(forms, slipOf(measure.SlipInch, on.plus(mm), u))
		}
	}
	return append(forms, slipForm{name: measure.SlipUnexplained, prior: slipPriors[measure.SlipUnexplained], on: on, scale: 1, spread: true})
}

// exchanged lists what a decimal reading would be, mm, with two digits side by side the other way round:
// .192 for .129.
func exchanged(r measure.Reading) (all []float64) {
	if isFraction(r) {
		return nil
	}
	number := strings.TrimFunc(r.Text, func(c rune) bool { return !unicode.IsDigit(c) && c != '.' && c != ',' })
	digits := []byte(strings.ReplaceAll(number, ",", "."))
	was, err := strconv.ParseFloat(string(digits), 64)
	if err != nil || was == 0 {
		return nil
	}
	for i := 1; i < len(digits); i++ {
		j := i - 1
		if digits[i] == '.' {
			continue
		}
		if digits[j] == '.' {
			if j--; j < 0 {
				continue
			}
		}
		other := slices.Clone(digits)
		other[i], other[j] = other[j], other[i]
		is, err := strconv.ParseFloat(string(other), 64)
		if err != nil || is <= 0 || is == was || slices.ContainsFunc(decimalSlips, func(f float64) bool { return math.Abs(is/was*f-1) < 1e-9 }) {
			continue // 0.90 for 0.09 is a slipped point
		}
		all = append(all, float64(*r.Value)*is/was)
	}
	return all
}

// tips is how much farther a height reaches with the tips of the pin, mm, with its standard deviation: two to
// five each (common practice, no source), seldom one alone.
const tips, tipsSigma = 7, 1.5

// spreadDensity is that of a typed value that says nothing: even in its logarithm from 0.01 mm
// to 10 m, per millimetre.
func spreadDensity(y float64) float64 { return 1 / (math.Max(math.Abs(y), 0.01) * math.Log(1e6)) }

// sizeForms are the ways in which a reading of height, open width or leaf width comes about.
func sizeForms(r measure.Reading, barrel measure.Estimate) []slipForm {
	u := float64(r.U)
	open := oneLength("open_width", 1)
	switch r.Quantity {
	case measure.QHeight:
		forms := append(generalForms(r, oneLength("height", 1)), slipOf(measure.SlipTips, oneLength("height", 1).plus(tips), math.Hypot(u, tipsSigma)))
		return append(forms, slipOf(measure.SlipSwapped, open, u).rarer(10))
	case measure.QOpenWidth:
		forms := generalForms(r, open)
		d, ud := float64(barrel.Value), math.Hypot(u, float64(barrel.Sigma))
		forms = append(forms,
			slipOf(measure.SlipLeafWidth, oneLength("open_width", 0.5), u),
			slipOf(measure.SlipLeafWidth, oneLength("open_width", 0.5).plus(-d/2), ud).rarer(4),
			slipOf(measure.SlipBarrelOut, open.plus(-d), ud),
			slipOf(measure.SlipBarrelTwice, open.plus(d), ud),
			slipOf(measure.SlipSwapped, oneLength("height", 1), u).rarer(10))
		return forms
	default: // leaf width
		forms := generalForms(r, oneLength("open_width", 0.5))
		d, ud := float64(barrel.Value), math.Hypot(u, float64(barrel.Sigma)/2)
		// A leaf is as often measured from its outer edge to the barrel, or across the barrel.
		return append(forms,
			slipOf(measure.SlipOpenWidth, open, u),
			slipForm{name: measure.SlipBarrelOut, prior: 0.3, on: oneLength("open_width", 0.5).plus(-d / 2), scale: 1, sigma: ud},
			slipForm{name: measure.SlipBarrelTwice, prior: 0.1, on: oneLength("open_width", 0.5).plus(d / 2), scale: 1, sigma: ud})
	}
}

// thicknessForms are the ways in which a reading of leaf thickness comes about.
func thicknessForms(r measure.Reading) []slipForm {
	var forms []slipForm
	for _, f := range generalForms(r, oneLength("thickness", 1)) {
		// A rule's marks are too coarse for a leaf's thickness to judge one by.
		if f.name != measure.SlipSixteenth && f.name != measure.SlipEighth && f.name != measure.SlipInch {
			forms = append(forms, f)
		}
	}
	return append(forms, slipOf(measure.SlipBothLeaves, oneLength("thickness", 2), float64(r.U)))
}

// scaleSlip is one way in which all lengths of the photos may be wrong together: true =
// height × h, width × w.
type scaleSlip struct {
	name  string
	prior float64
	h, w  float64
	text  string
}

// scaleSlips are the wrong references that the photos may have been measured by. ID-1 is
// 85.60 × 53.98 mm (ISO/IEC 7810). Business cards: 88.9 × 50.8 and 85 × 55 mm (common
// practice). Print scales: of whole pages of one paper size fitted to another, and those that
// a laser printer's manual gives for the printable area.
func scaleSlips(printed bool) []scaleSlip {
	card := slipPriors[measure.SlipWrongCard]
	const long, short = measure.ID1Long, measure.ID1Short
	if printed { // it was recognised: it is no business card
		var list []scaleSlip
		for _, s := range []float64{0.9407, 0.9727, 0.97, 0.96, 0.91, 0.93} {
			list = append(list, scaleSlip{measure.SlipPrintScale, slipPriors[measure.SlipPrintScale] / 6, s, s, ""})
		}
		return list
	}
	return []scaleSlip{
		{measure.SlipWrongCard, card / 6, 88.9 / long, 50.8 / short, "a business card of 89 × 51 mm"},
		{measure.SlipWrongCard, card / 6, 50.8 / short, 88.9 / long, "a business card of 89 × 51 mm"},
		{measure.SlipWrongCard, card / 6, 88.9 / long, 88.9 / long, "a business card of 89 × 51 mm"},
		{measure.SlipWrongCard, card / 6, 50.8 / short, 50.8 / short, "a business card of 89 × 51 mm"},
		{measure.SlipWrongCard, card / 12, 85.0 / long, 55.0 / short, "a business card of 85 × 55 mm"},
		{measure.SlipWrongCard, card / 12, 55.0 / short, 85.0 / long, "a business card of 85 × 55 mm"},
	}
}
