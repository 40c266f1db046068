package catalog

import (
	"fmt"

	"leafgauge/measure"
)

// placeRow is where top and bottom hinges sit: frame head or door top to the top hinge's
// end, floor or door bottom to the bottom hinge's. From the first length to the second.
type placeRow struct {
	top, bottom [2]measure.Length
	source      string
	mark        Mark
}

var places = []placeRow{
	{exactly(5 * measure.Inch), exactly(10 * measure.Inch), `"US standard procedure" in a trade question-and-answer page`, SourceSeen},
	{exactly(7 * measure.Inch), exactly(11 * measure.Inch), "western US habit; the same page and two others", SourceSeen},
	{exactly(6 * measure.Inch), exactly(10 * measure.Inch), "Building Construction vol. 2 ¶ 105", SourceSeen},
	{[2]measure.Length{120, 180}, [2]measure.Length{200, 250}, "British fire-door habit, trade pages", SourceSeen},
}

func exactly(l measure.Length) [2]measure.Length { return [2]measure.Length{l, l} }

// span writes a length, or a range as it is published, in millimetres first.
func span(l [2]measure.Length) string {
	if l[0] == l[1] {
		return Both(l[0])
	}
	return fmt.Sprintf("%.0f–%.0f mm (%.1f–%.1f in)", l[0].MM(), l[1].MM(), l[0].Inches(), l[1].Inches())
}

func (a *adviser) place(d Door, hinge measure.Length) {
	if d.Height <= 0 {
		return
	}
	a.say("placement", "", CommonPractice, "On an old door copy the old places: new cut-outs beside old ones weaken door and jamb.")
	for k, p := range places {
		word := "On a new door"
		if k > 0 {
			word = "Or"
		}
		a.say("placement", p.source, p.mark, "%s: the top hinge's end %s from the top, the bottom hinge's end %s from the floor.", word, span(p.top), span(p.bottom))
	}
	if n := HingesADoor(d.Height); n > 2 && hinge > 0 {
		s := Spacing(d.Height, hinge, places[0].top[0], places[0].bottom[0])
		a.say("placement", "hollow-metal association, recommended hardware locations", SecondHand,
			"The other %s equally spaced between: every %s from centre to centre, by the first of these rows.", hingesWord(n-2), Both(s/measure.Length(n-1)))
	}
}

func hingesWord(n int) string {
	if n == 1 {
		return "hinge sits"
	}
	return fmt.Sprintf("%d hinges are", n)
}

// Spacing is the distance between the centres of the top and the bottom hinge.
func Spacing(height, hinge, top, bottom measure.Length) measure.Length {
	return height - top - bottom - hinge
}

// LatchDrop is how far the latch edge of a door drops when its top hinge gives by wear:
// width × wear / spacing of the hinges. Bearing faces that wear add their full amount.
// Derived: the door turns about its bottom hinge by wear / spacing.
func LatchDrop(width, spacing, wear measure.Length) measure.Length {
	return measure.Length(width.MM() * wear.MM() / spacing.MM())
}

// WearFor is LatchDrop turned round: what the top hinge must have given for a drop.
func WearFor(drop, width, spacing measure.Length) measure.Length {
	return measure.Length(drop.MM() * spacing.MM() / width.MM())
}

// latchPlay is what a latch may drop before it misses the hole of a strike: common practice,
// no source. Strike holes are about 1/8 in higher than the latch, half of it below.
const latchPlay = measure.Inch / 16

func (a *adviser) sag(d Door, hinge measure.Length) {
	if d.Width <= 0 || d.Height <= 0 {
		return
	}
	if hinge == 0 {
		hinge = 4 * measure.Inch
	}
	s := Spacing(d.Height, hinge, places[0].top[0], places[0].bottom[0])
	if s <= d.Width/4 {
		return
	}
	const source = "geometry: width × wear / hinge spacing"
	drop := LatchDrop(d.Width, s, measure.Inch/16)
	a.say("sag", source, Derived, "Wear or drawn screws of 1/16 in (1.6 mm) at the top hinge let the latch edge drop by %s.", Both(drop))
	a.say("sag", source, Derived, "A latch that has dropped by %s, and begins to miss its strike, means %s at the top hinge. That is more than a worn pin is likely to give: look at screws, frame and door first.",
		Both(latchPlay), Both(WearFor(latchPlay, d.Width, s)))
}
