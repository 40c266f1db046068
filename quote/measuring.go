package quote

import (
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/reconcile"
)

// Measure measures the photos of an inquiry, in their order, by one, which is handed a photo
// and the leaf's thickness, the zero Estimate where that is not known. It is the typed one,
// where one can be believed. Where the photos then turn out to show another hinge than typed,
// nothing typed says how thick the leaf is; where they make something else of what was typed, every other
// length hangs on that: each photo is handed over once more, with what is believed then.
// An error of one ends it and is returned as it is.
func (q Inquiry) Measure(typed measure.Readings, one func(p Photo, thickness measure.Estimate) (measure.Result, error)) ([]Finding, error) {
	thickness := typedThickness(typed, q.Overrule)
	findings, err := q.measureAt(thickness, one)
	if err != nil || len(findings) == 0 || !slices.ContainsFunc(typed.Readings, ofThickness) {
		return findings, err
	}
	best := reconcile.Best(results(findings), aboutOne(q.Text, typed), q.Overrule)
	if !slices.ContainsFunc(findings, func(f Finding) bool { return f.Result.Status == measure.Measured }) {
		return findings, nil
	}
	if thickness.Known() && barrelDoubts(best, thickness) {
		// A thickness that a photo is told draws its barrel along: only a photo that was told none can speak against it.
		free, err := q.measureAt(measure.Estimate{}, one)
		if err != nil {
			return nil, err
		}
		if best = reconcile.Best(results(free), aboutOne(q.Text, typed), q.Overrule); len(best.Rivals) == 0 && alike(thickness, best.Thickness) {
			return findings, nil
		}
		findings, thickness = free, measure.Estimate{}
	}
	now := best.Thickness
	if best.OfAnotherHinge() || !believable(now) {
		now = measure.Estimate{}
	}
	if alike(thickness, now) {
		return findings, nil
	}
	return q.measureAt(now, one)
}

// barrelDoubts reports whether the barrel speaks of another leaf, by more than its standard uncertainty.
func barrelDoubts(b measure.Best, thickness measure.Estimate) bool {
	return slices.ContainsFunc(b.Trace, func(t measure.Trace) bool {
		return t.Quantity == "thickness" && t.Source == "barrel" && math.Abs(float64(t.Input.Value-thickness.Value)) > float64(t.Input.Sigma)
	})
}

// alike reports whether two thicknesses make about the same of a photo: within the uncertainty, that
// itself within a factor of two.
func alike(a, b measure.Estimate) bool {
	if !a.Known() || !b.Known() {
		return a.Known() == b.Known()
	}
	return math.Abs(float64(a.Value-b.Value)) <= float64(max(a.Sigma, b.Sigma)) && a.Sigma < 2*b.Sigma && b.Sigma < 2*a.Sigma
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

// maxDoubt is the standard uncertainty from which on a thickness tells a photo no more than the photo's barrel
// does: half of what a pin's diameter leaves open.
const maxDoubt = 0.3 * measure.Millimetre

func ofThickness(r measure.Reading) bool { return r.Quantity == measure.QThickness && r.Value != nil }

// believable reports whether a thickness may be handed to a photo.
func believable(t measure.Estimate) bool {
	return t.Known() && t.Value >= minThickness && t.Value <= maxThickness && t.Sigma <= maxDoubt
}

// typedThickness is the leaf's thickness by what was typed alone, where that can be believed, a
// likely slip taken out.
func typedThickness(typed measure.Readings, overrules []string) measure.Estimate {
	if t := reconcile.Thickness(typed, overrules); slices.ContainsFunc(typed.Readings, ofThickness) && believable(t) {
		return t
	}
	return measure.Estimate{}
}
