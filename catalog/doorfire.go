package catalog

import (
	"math"

	"leafgauge/measure"
)

// fireRow is the least hinge of a fire door up to a size.
type fireRow struct {
	thickness, width, height measure.Length // door up to
	hinge, leaf              measure.Length
	mark                     Mark
}

const fireSource = "NFPA 80 Table 6.4.3.1 (older 2-8A), from guides that quote it"

// fireRows: the first row that covers the door holds. Thickness is that of the row's doors.
var fireRows = []fireRow{
	{1.375 * measure.Inch, 3 * measure.Foot, 7 * measure.Foot, 3.5 * measure.Inch, 0.123 * measure.Inch, FromMemory},
	{1.75 * measure.Inch, 2 * measure.Foot, 3 * measure.Foot, 3 * measure.Inch, 0.092 * measure.Inch, FromMemory},
	{1.75 * measure.Inch, 3 * measure.Foot, 5 * measure.Foot, 4 * measure.Inch, 0.130 * measure.Inch, FromMemory},
	{1.75 * measure.Inch, 4 * measure.Foot, 8 * measure.Foot, 4.5 * measure.Inch, 0.134 * measure.Inch, SecondHand},
	{1.75 * measure.Inch, 4 * measure.Foot, 10 * measure.Foot, 4.5 * measure.Inch, 0.180 * measure.Inch, SecondHand},
}

func fireHinge(d Door) (fireRow, bool) {
	for _, r := range fireRows {
		if math.Abs((d.Thickness-r.thickness).MM()) < 2 && d.Width > 0 && d.Width <= r.width+0.5 && d.Height > 0 && d.Height <= r.height+0.5 {
			return r, true
		}
	}
	return fireRow{}, false
}

func (a *adviser) fire(d Door) {
	if !d.FireRated {
		return
	}
	a.out = append(a.out, Advice{"fire", "Keep to the terms of the opening's label, and ask the authority having jurisdiction before anything is changed. This is no approval.",
		"NFPA 80", string(SecondHand), true})
	if r, ok := fireHinge(d); ok {
		a.say("fire", fireSource, r.mark, "At least %s in high and %s thick, for a door %s in thick up to %.0f × %.0f ft.",
			r.hinge.Fraction(2), thousandths(r.leaf), r.thickness.Fraction(8), (r.width / measure.Foot).MM(), (r.height / measure.Foot).MM())
	} else {
		a.say("fire", fireSource, SecondHand, "The table has no row for this door, or its size is not known: ask.")
	}
	switch {
	case d.Width > 3.5*measure.Foot+0.5 || d.Width > 0 && d.Height > 8*measure.Foot+0.5:
		a.say("fire", "trade guide on NFPA 80 Table 2-8A", SourceSeen, "Good practice beyond the least on doors larger than 3 ft 6 in × 8 ft: 5 in hinges 0.190 in (4.83 mm) thick.")
	case d.Width > 3*measure.Foot+0.5:
		a.say("fire", "trade guide on NFPA 80 Table 2-8A", SourceSeen, "Good practice beyond the least on doors wider than 3 ft: 4 1/2 in heavy hinges, 0.180 in (4.57 mm) thick.")
	}
	a.say("fire", fireSource, SecondHand, "Steel with ball bearings, except listed spring hinges; where spring hinges close the door there are at least 2.")
	if d.Height > 0 {
		a.say("fire", countSource, SecondHand, "At least %d hinges; fewer than the rule asks for are a deficiency to report, not to copy.", HingesADoor(d.Height))
	}
	a.say("fire", "pages on fire-door hinges", SourceSeen, "Brass and bronze soften early and do not belong on a fire door unless that very hinge is listed.")
	a.say("fire", "NFPA 80 § 4.1.3", SecondHand, "Work on a labelled door at the site is limited to what the label service allows; new cut-outs are factory or licensed-shop work.")
	a.say("fire", "pages on fire-door inspection", SecondHand, "Gaps: at most 1/8 in (3.2 mm) at top and sides, 3/4 in (19 mm) at the bottom.")
}
