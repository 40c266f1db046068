package measure

import (
	"fmt"
	"math"
)

// TradeTolerance is the half-width of the limits within which a hinge's height or open width
// may differ from the size it is called by: the general linear tolerance of 1/16 in
// (ANSI/BHMA A156.26-2017 § 3.1, a sister standard; that of butt hinges was not found).
const TradeTolerance = Inch / 16

// TradeSigma is TradeTolerance as uniform limits: √3 below it.
const TradeSigma = float64(TradeTolerance) / 1.7320508075688772

// A TradeSize is a nominal size with how common it is.
type TradeSize struct {
	Height, Width Length  // width is the open width
	Share         float64 // of all sizes; they add up to 1 − OddShare
}

// Name is the size as the trade says it, in inches, height first: "3 1/2 x 3 1/2".
func (s TradeSize) Name() string {
	return fmt.Sprintf("%s x %s", s.Height.Fraction(16), s.Width.Fraction(16))
}

// OddShare is how many hinges are of no trade size: old ones, metric ones (common practice,
// no source). Such a hinge's height and width are spread evenly over the range of OddLow to
// OddHigh.
const (
	OddShare        = 0.08
	OddLow, OddHigh = 30.0, 170.0
)

// TradeSizes are the nominal sizes. Heights are the trade's; a width equals the height or is
// half an inch to an inch and a half narrower or wider, less often the farther
// (common practice, no source).
var TradeSizes = func() []TradeSize {
	heights := []float64{2, 2.5, 3, 3.5, 4, 4.5, 5, 6}
	common := map[float64]float64{2: 0.3, 2.5: 0.3, 3: 1, 3.5: 2, 4: 2, 4.5: 1.5, 5: 0.7, 6: 0.2}
	var list []TradeSize
	sum := 0.0
	for _, h := range heights {
		for _, step := range []float64{0, -0.5, 0.5, -1, 1, -1.5, 1.5} {
			w := h + step
			if w < 1 {
				continue
			}
			share := common[h]
			switch math.Abs(step) {
			case 0:
			case 0.5:
				share *= 0.15
			case 1:
				share *= 0.04
			default:
				share *= 0.01
			}
			list = append(list, TradeSize{Length(h) * Inch, Length(w) * Inch, share})
			sum += share
		}
	}
	for i := range list {
		list[i].Share *= (1 - OddShare) / sum
	}
	return list
}()

// NearestTradeSize is the trade size that a hinge most likely has, with its probability. Either
// estimate may be unknown (without a width, Size is the height alone); without both, or where none is likelier than no trade size at all,
// Size is "" and P is 0.
func NearestTradeSize(height, openWidth Estimate) Nominal {
	if !height.Known() && !openWidth.Known() {
		return Nominal{}
	}
	best, total := Nominal{}, 0.0
	heights := map[string]float64{}
	for _, s := range TradeSizes {
		p := s.Share
		if height.Known() {
			p *= density(height, s.Height)
		}
		if openWidth.Known() {
			p *= density(openWidth, s.Width)
		}
		total += p
		name := s.Name()
		if !openWidth.Known() { // the height alone: "3 1/2"
			name = s.Height.Fraction(16)
			heights[name] += p
			p = heights[name]
		}
		if p > best.P {
			best = Nominal{Size: name, P: p}
		}
	}
	odd := OddShare
	if height.Known() {
		odd /= OddHigh - OddLow
	}
	if openWidth.Known() {
		odd /= OddHigh - OddLow
	}
	total += odd
	if total <= 0 || best.P <= odd {
		return Nominal{}
	}
	best.P /= total
	return best
}

// density is that of finding e on a hinge called by size.
func density(e Estimate, size Length) float64 {
	s := math.Hypot(TradeSigma, float64(e.Sigma))
	return normalDensity(float64(e.Value-size), s)
}

func normalDensity(d, s float64) float64 {
	return math.Exp(-d*d/(2*s*s)) / (s * math.Sqrt(2*math.Pi))
}

// A LeafGauge is a usual leaf thickness of one hinge height.
type LeafGauge struct {
	Name  string // light, standard, heavy
	Value Length
	Sigma Length  // how far leaves so called differ, standard deviation
	Share float64 // of hinges of that height
}

// Standard deviations of leaf thickness. Light leaves lie between 0.085 and 0.097 in (common
// practice, no source), taken a little wider for what wear and paint do; the published
// standard and heavy values disagree by up to 0.010 in, about 0.005 in from their middle.
const (
	lightSigma    = 0.007 * Inch
	standardSigma = 0.005 * Inch
)

// LeafGauges are the usual leaf thicknesses for a hinge of the given height: published values
// where there are any, else as marked. The shares are common practice without a source; what
// they leave of 1 is for leaves of no usual thickness.
func LeafGauges(height Length) []LeafGauge {
	light := func(share float64) LeafGauge { return LeafGauge{"light", 0.090 * Inch, lightSigma, share} }
	gauge := func(name string, inches Length, share float64) LeafGauge {
		return LeafGauge{name, inches * Inch, standardSigma, share}
	}
	switch h := height.Inches(); {
	case h < 3.25: // 0.092: NFPA 80 minimum, from memory
		return []LeafGauge{light(0.83), gauge("standard", 0.120, 0.15)}
	case h < 3.75: // 0.123: from memory; a steel frame's preparation for it is marked 0.120
		return []LeafGauge{light(0.68), gauge("standard", 0.122, 0.30)}
	case h < 4.25: // 0.130: trade cut sheets; 0.170 from memory
		return []LeafGauge{light(0.50), gauge("standard", 0.130, 0.43), gauge("heavy", 0.170, 0.05)}
	case h < 4.75: // 0.134 and 0.180: three sources agree within 0.001 in
		return []LeafGauge{light(0.10), gauge("standard", 0.134, 0.78), gauge("heavy", 0.180, 0.10)}
	case h < 5.5: // 0.146 from memory, 0.140 by a frame's marking; 0.190 ± 0.005: BHMA summary of A156.1
		return []LeafGauge{gauge("standard", 0.143, 0.80), gauge("heavy", 0.190, 0.18)}
	default: // from memory
		return []LeafGauge{gauge("standard", 0.160, 0.70), gauge("heavy", 0.203, 0.28)}
	}
}

// oddThickness is the spread of leaves of no usual thickness: millimetres, mean and standard
// deviation (common practice, no source).
const OddThicknessMean, OddThicknessSigma = 2.8, 1.2
