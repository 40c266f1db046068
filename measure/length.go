package measure

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
)

// A Length is a distance in millimetres.
type Length float64

const (
	Millimetre Length = 1
	Inch       Length = 25.4 // exact by definition since 1959
	Foot       Length = 12 * Inch
)

// MM returns l as a bare number of millimetres.
func (l Length) MM() float64 { return float64(l) }

// MarshalJSON writes millimetres, to the nearest nanometre: 3.5 inches are 88.9, not 88.89999999999999.
func (l Length) MarshalJSON() ([]byte, error) { return json.Marshal(math.Round(float64(l)*1e6) / 1e6) }

// Inches returns l as a bare number of inches.
func (l Length) Inches() float64 { return float64(l / Inch) }

// String prints l in millimetres, such as "88.90 mm".
func (l Length) String() string { return fmt.Sprintf("%.2f mm", float64(l)) }

// Tenths prints l in millimetres to a tenth, and to a hundredth where that is exact and the tenth
// would only be half right: 1 3/4 in is "44.45", 3 1/2 in is "88.9".
func (l Length) Tenths() string {
	if mm := l.MM() * 20; math.Abs(mm-math.Round(mm)) < 1e-6 {
		return strings.TrimSuffix(fmt.Sprintf("%.2f", l.MM()), "0")
	}
	return fmt.Sprintf("%.1f", l.MM())
}

// Fraction prints l in inches as the nearest fraction with the given denominator
// (a power of two), in lowest terms: "3 1/2", "13/32", "0".
func (l Length) Fraction(denominator int) string {
	n := int(math.Round(l.Inches() * float64(denominator)))
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	whole, part, d := n/denominator, n%denominator, denominator
	for part != 0 && part%2 == 0 {
		part, d = part/2, d/2
	}
	switch {
	case part == 0:
		return fmt.Sprintf("%s%d", sign, whole)
	case whole == 0:
		return fmt.Sprintf("%s%d/%d", sign, part, d)
	default:
		return fmt.Sprintf("%s%d %d/%d", sign, whole, part, d)
	}
}
