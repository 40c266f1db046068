package quote

import (
	"leafgauge/measure"
	"leafgauge/measure/reconcile"
)

// Leaves are sold from about 1.5 to 5 mm (common practice, no source). A typed thickness
// outside this range is a slip, which reconciling deals with: it must not bend the photo.
const (
	minThickness = 1 * measure.Millimetre
	maxThickness = 6 * measure.Millimetre
)

// TypedThickness is the leaf's thickness where exactly one was typed that can be believed, a
// likely slip taken out.
func TypedThickness(typed measure.Readings, overrules []string) measure.Estimate {
	n := 0
	for _, r := range typed.Readings {
		if r.Quantity == measure.QThickness && r.Value != nil {
			n++
		}
	}
	t := reconcile.Thickness(typed, overrules)
	if n != 1 || t.Value < minThickness || t.Value > maxThickness {
		return measure.Estimate{}
	}
	return t
}
