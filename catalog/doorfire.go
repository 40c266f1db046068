package catalog

import (
	"fmt"
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

// doorSize is the size of a row's doors, "4 × 8 ft (1219 × 2438 mm)".
func (r fireRow) doorSize() string {
	return fmt.Sprintf("%.0f × %.0f ft (%.0f × %.0f mm)", (r.width / measure.Foot).MM(), (r.height / measure.Foot).MM(), r.width.MM(), r.height.MM())
}

func (a *adviser) fire(d Door) {
	if !d.FireRated {
		return
	}
	a.say("fire", "NFPA 80", FromMemory, "It must close by itself from any position and latch: closer or spring hinges, latch and strike stay in working order.")
	a.say("fire", "pages on fire-door hinges", SourceSeen, "A door that sags may not latch: that is the usual reason for bearing hinges here.")
	if d.beyondTables() {
		return
	}
	if r, ok := fireHinge(d); ok {
		a.say("fire", fireSource, r.mark, "Hinges at least %s high and %s thick, for a door %s thick up to %s.", Both(r.hinge), thousandths(r.leaf), Both(r.thickness), r.doorSize())
	} else {
		a.say("fire", fireSource, SecondHand, "The table has no row for this door, or its size is not known: its rows end at %s for doors %s thick and at %s for doors %s thick. Ask.",
			fireRows[0].doorSize(), Both(fireRows[0].thickness), fireRows[4].doorSize(), Both(fireRows[4].thickness))
	}
	switch {
	case d.Width > 3.5*measure.Foot+0.5 || d.Width > 0 && d.Height > 8*measure.Foot+0.5:
		a.say("fire", "trade guide on NFPA 80 Table 2-8A", SourceSeen, "Good practice beyond the least on doors larger than 3 ft 6 in × 8 ft (1067 × 2438 mm): 5 in (127 mm) hinges 0.190 in (4.83 mm) thick.")
	case d.Width > 3*measure.Foot+0.5:
		a.say("fire", "trade guide on NFPA 80 Table 2-8A", SourceSeen, "Good practice beyond the least on doors wider than 3 ft (914 mm): 4 1/2 in (114.3 mm) heavy hinges, 0.180 in (4.57 mm) thick.")
	}
	a.say("fire", fireSource, SecondHand, "Steel with ball bearings, except listed spring hinges; where spring hinges close the door there are at least 2.")
	if d.Height > 0 {
		a.say("fire", "NFPA 80, from pages on fire-door hinges", SecondHand, "At least %d hinges; fewer than the rule asks for are a deficiency to report, not to copy.", HingesADoor(d.Height))
	}
	a.say("fire", "pages on fire-door hinges", SourceSeen, "Brass and bronze soften early and do not belong on a fire door unless that very hinge is listed.")
	a.say("fire", "NFPA 80 § 4.1.3, from pages on fire-door hinges", SecondHand, "Work on a labelled door at the site is limited to what the label service allows; new cut-outs are factory or licensed-shop work.")
	a.fireGaps(d)
}

// fireGaps says which gaps a fire door may have. They hang on what door and frame are made of.
func (a *adviser) fireGaps(d Door) {
	const source = "NFPA 80, from pages on fire-door inspection"
	m, _ := madeOf(d.Material)
	metal := m == steel || m == hollowMetal || m == skinned
	if !metal {
		a.say("fire", source, SecondHand, "Gaps of a wooden door: at most 1/8 in (3.2 mm) at top and sides.")
	}
	if metal || m == unclear {
		a.say("fire", "NFPA 80", FromMemory, "Gaps of a steel door in a steel frame: at most 3/16 in (4.8 mm) at top and sides; 1/8 in (3.2 mm) keeps to both rules.")
	}
	if metal || m == unclear || m == board {
		a.say("fire", "", CommonPractice, "Which gap holds depends on the listing of door and frame: look at their labels, or ask.")
	}
	a.say("fire", source, SecondHand, "Gap at the bottom: at most 3/4 in (19.05 mm).")
}
