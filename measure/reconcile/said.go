package reconcile

import (
	"fmt"
	"slices"

	"leafgauge/measure"
)

// compare takes over what was said and counted, and notes where the photo says otherwise. What
// the photo shows stands: it is the better witness of what can be seen.
func (r *reconciler) compare(b *measure.Best, typed measure.Readings) {
	b.Said = append(b.Said, typed.Statements...)
	seen := r.seen != nil
	note := func(q measure.Quantity, said, sentence string) {
		d := measure.Disagreement{Quantity: q, Slip: measure.SlipSaid, Sentence: sentence, Typed: said, Odds: suggestOdds, Applied: true}
		if !slices.ContainsFunc(b.Disagreements, func(x measure.Disagreement) bool { return x.Sentence == sentence }) {
			b.Disagreements = append(b.Disagreements, d)
		}
	}
	for _, s := range typed.Statements {
		switch s.Kind {
		case "bearing":
			said := measure.Bearing(s.Value)
			if said != measure.BallBearing && said != measure.PlainBearing {
				continue
			}
			if b.Bearing == measure.BearingUnknown || b.Bearing == "" {
				b.Bearing = said
			} else if seen && b.Bearing != said {
				note("bearing", s.Text, fmt.Sprintf("said %s; the photo shows a %s bearing", s.Text, b.Bearing))
			}
		case "corner":
			r.compareCorners(b, s, seen, note)
		}
	}
	for _, x := range typed.Readings {
		if x.Count == nil {
			continue
		}
		n := *x.Count
		switch x.Quantity {
		case measure.QKnuckles:
			if b.Knuckles == 0 {
				b.Knuckles = n
			} else if seen && b.Knuckles != n {
				note(measure.QKnuckles, x.Text, fmt.Sprintf("typed %d knuckles; the photo shows %d", n, b.Knuckles))
			}
		case measure.QHoleCount:
			for _, l := range b.Leaves {
				// The count may have been given for the whole hinge.
				if k := len(l.Holes); seen && k > 0 && n != k && n != 2*k {
					note(measure.QHoleCount, x.Text, fmt.Sprintf("typed %d holes; the photo shows %d in a leaf", n, k))
					break
				}
			}
		}
	}
}

// squareSigma is the standard uncertainty, in millimetres, of a corner that is said to be
// square: burrs and wear.
const squareSigma = 0.3

func (r *reconciler) compareCorners(b *measure.Best, s measure.Statement, seen bool, note func(q measure.Quantity, said, sentence string)) {
	round := s.Value == "round" || s.Value == "quarter" || s.Value == "not square"
	square := s.Value == "square" || s.Value == "not round"
	if !round && !square {
		return
	}
	if seen {
		agrees, known := false, false
		shown := ""
		for _, l := range b.Leaves {
			switch l.Corners {
			case measure.CornersNotDecidable:
				agrees = true
			case measure.CornersSquare:
				known, agrees, shown = true, agrees || square, "square corners"
			case measure.CornersMixed:
				agrees = true
			default:
				known, agrees, shown = true, agrees || round, fmt.Sprintf("round corners of %s", sayInch(l.CornerRadius.Value))
			}
		}
		if known && !agrees {
			note(measure.QCornerRadius, s.Text, fmt.Sprintf("said %s; the photo shows %s", s.Text, shown))
		}
		return
	}
	if len(b.Leaves) == 0 {
		b.Leaves = []measure.Leaf{{Holes: []measure.Hole{}, OutlinePx: []measure.Pixel{}}, {Holes: []measure.Hole{}, OutlinePx: []measure.Pixel{}}}
	}
	for i := range b.Leaves {
		l := &b.Leaves[i]
		if l.CornerRadius.Known() {
			continue // a number was typed
		}
		switch {
		case square:
			l.CornerRadius, l.Corners = measure.Estimate{Value: 0, Sigma: squareSigma}, measure.CornersSquare
		case s.Value == "quarter":
			l.CornerRadius, l.Corners = measure.Estimate{Value: 6.35, Sigma: squareSigma}, measure.CornersQuarter
		}
	}
}
