package quote

import (
	"leafgauge/measure"
	"leafgauge/measure/reconcile"
)

// Measure measures the photos of an inquiry, in their order, by one, which is handed a photo
// and the leaf's thickness, the zero Estimate where that is not known. It is the typed one,
// where one can be believed. Where the photos then turn out to show another hinge than typed,
// nothing typed says how thick the leaf is, and each photo is handed over once more, without.
// An error of one ends it and is returned as it is.
func (q Inquiry) Measure(typed measure.Readings, one func(p Photo, thickness measure.Estimate) (measure.Result, error)) ([]Finding, error) {
	thickness := typedThickness(typed, q.Overrule)
	findings, err := q.measureAt(thickness, one)
	if err == nil && thickness.Known() && reconcile.Best(results(findings), typed, q.Overrule).OfAnotherHinge() {
		return q.measureAt(measure.Estimate{}, one)
	}
	return findings, err
}

// measureAt measures every photo once, at the same thickness.
func (q Inquiry) measureAt(thickness measure.Estimate, one func(Photo, measure.Estimate) (measure.Result, error)) ([]Finding, error) {
	findings := make([]Finding, 0, len(q.Photos))
	for _, p := range q.Photos {
		r, err := one(p, thickness)
		if err != nil {
			return nil, err
		}
		findings = append(findings, Finding{Inquiry: q.ID, Revision: q.Revision, PhotoN: p.N, Result: r})
	}
	return findings, nil
}

// results is what the photos said.
func results(findings []Finding) []measure.Result {
	all := make([]measure.Result, len(findings))
	for i, f := range findings {
		all[i] = f.Result
	}
	return all
}

// Leaves are sold from about 1.5 to 5 mm (common practice, no source). A typed thickness
// outside this range is a slip, which reconciling deals with: it must not bend the photo.
const (
	minThickness = 1 * measure.Millimetre
	maxThickness = 6 * measure.Millimetre
)

// typedThickness is the leaf's thickness where exactly one was typed that can be believed, a
// likely slip taken out.
func typedThickness(typed measure.Readings, overrules []string) measure.Estimate {
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
