package catalog

import (
	"fmt"
	"strings"

	"leafgauge/measure"
)

// AnswerDoor says in one line what suits a door: how many hinges of what size, kind and metal, with
// which screws and lead holes; then what is still needed for the rest.
func AnswerDoor(d Door) string {
	if d.beyondTables() {
		return outsideTables(d)
	}
	var parts []string
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	switch n := HingesADoor(d.Height); {
	case d.Height <= 0:
	case d.Count > 1:
		add("%d hinges, %d on each of %d doors", n*d.Count, n, d.Count)
	default:
		add("%d hinges", n)
	}
	hinge := d.answerSize(add)
	switch why := d.bearingWhy(); {
	case why != "":
		add("ball bearing because %s", why)
	case d.mass().kg <= 0:
		add("plain bearing will do unless it weighs %s or more", Kilograms(heavyDoor))
	default:
		add("plain bearing will do")
	}
	if d.FireRated {
		add("of %s", d.fireMetal())
		add("listed for fire doors")
	} else if metal := d.metalWanted(); metal != "" {
		add("of %s", metal)
	}
	switch {
	case d.Swing != "out" || !d.pinsOutside():
	case d.Place == "":
		add("non-removable pins or safety studs if it leads outside")
	default:
		add("non-removable pins or safety studs")
	}
	if d.FireRated {
		add("the screws that are listed with them")
	} else {
		d.answerScrews(hinge, add)
	}
	text := strings.Join(parts, ", ") + "."
	if d.FireRated {
		text += " It is a fire-rated opening: keep to its label, and ask the authority having jurisdiction first."
	}
	return Capital(Fractions(text + d.beyond() + d.missing()))
}

// outsideTables says why nothing is said of a door of glass or of profiles.
func outsideTables(d Door) string {
	if m, _ := madeOf(d.Material); m == profile {
		return "These tables do not apply to a door of aluminium or plastic profiles: it takes the hinges of its own system. Ask the maker of the profiles or of the door."
	}
	return "These tables do not apply to a glass door: it takes hinges that clamp or patch its glass and are rated for its weight and width. Ask the maker of the glass or of its fittings."
}

// answerSize adds the size, and returns the hinge's height; 0 where it is not known.
func (d Door) answerSize(add func(string, ...any)) measure.Length {
	row, _ := hingeHeight(d.Thickness, d.Width)
	hinge := row.hinge
	fire, least := fireRow{}, false
	if d.FireRated {
		fire, least = fireHinge(d)
		hinge = max(hinge, fire.hinge)
	}
	switch wide := d.usualWidth(hinge); {
	case hinge > 0 && row.heavy:
		add("heavy %s x %s in (%.0f × %.0f mm)", hinge.Fraction(2), wide.Fraction(2), hinge.MM(), wide.MM())
	case hinge > 0:
		add("%s x %s in (%.0f × %.0f mm)", hinge.Fraction(2), wide.Fraction(2), hinge.MM(), wide.MM())
	case d.unlisted() && d.FireRated:
		add("the size that its label asks for (the table has no row for this door)")
	case d.unlisted():
		add("the old hinges' size (the table has no row for this door)")
	}
	if least {
		add("leaves at least %s thick", thousandths(fire.leaf))
	}
	return hinge
}

// unlisted reports that the table of sizes has no row for d, and that this is not for want of d's own.
func (d Door) unlisted() bool {
	_, ok := hingeHeight(d.Thickness, d.Width)
	return !ok && d.Thickness > 0 && d.Width > 0
}

// answerScrews adds screws and lead holes.
func (d Door) answerScrews(hinge measure.Length, add func(string, ...any)) {
	h, ok := screwsFor(hinge)
	switch {
	case ok:
	case d.unlisted():
		add("screws of the old ones' size")
		return
	default:
		return
	}
	wooden := fmt.Sprintf("#%d x %s wood screws", h.gauge, Both(h.length))
	machine := fmt.Sprintf("%s x %s machine screws", h.steel, Both(measure.Inch/2))
	switch m, _ := madeOf(d.Material); m {
	case hollowMetal:
		add("%s", machine)
		return
	case steel:
		add("%s in a wooden edge or %s in hollow metal", wooden, machine)
		return
	case skinned:
		add("%s in the wooden edge", wooden)
	default:
		add("%s", wooden)
	}
	s, _ := ScrewOf(h.gauge)
	var holes []string
	for _, w := range d.woods() {
		holes = append(holes, fmt.Sprintf("%s in %s", drill(LeadHole(s, LeadRules[0], w.hard)), w.name))
	}
	add("lead hole %s", strings.Join(holes, ", "))
}

// beyond names what lies outside all tables read here.
func (d Door) beyond() string {
	var out []string
	if d.Height > highest+0.5 {
		out = append(out, "its height, over "+Both(highest))
	}
	if m := d.mass(); m.kg > heaviest {
		out = append(out, "its weight, over "+Kilograms(heaviest))
	}
	if d.unknownMaterial() {
		out = append(out, "its material, “"+d.Material+"”")
	}
	if len(out) == 0 {
		return ""
	}
	return " Beyond the published tables: " + strings.Join(out, "; ") + "."
}

// missing names what was not told and what hangs on it.
func (d Door) missing() string {
	var need []string
	if d.Height <= 0 {
		need = append(need, "the height (how many hinges)")
	}
	switch {
	case d.Thickness <= 0 && d.Width <= 0:
		need = append(need, "the thickness and the width (size and screws)")
	case d.Thickness <= 0:
		need = append(need, "the thickness (size and screws)")
	case d.Width <= 0:
		need = append(need, "the width (size and screws)")
	}
	if len(need) == 0 {
		return ""
	}
	return " Still needed: " + strings.Join(need, "; ") + "."
}
