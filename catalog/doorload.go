package catalog

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// HingePull is the horizontal pull at the top hinge, and the push at the bottom one, of a
// door: weight × (width / 2) / spacing, in the unit of weight. Moments about the other hinge.
func HingePull(weight float64, width, spacing measure.Length) float64 {
	return weight * (width / 2).MM() / spacing.MM()
}

// Effective densities in kg/m³, voids included. From memory, not confirmed: a hollow-core
// door 30 × 80 × 1 3/8 in weighs about 11 kg, a solid-core one 36 × 80 × 1 3/4 in about 50 kg.
const (
	hollowCore = 210
	solidCore  = 600
)

var densities = map[material]float64{softwood: 480, hardwood: 660, board: 730, skinned: 400, steel: 550, hollowMetal: 550, allGlass: 2500}

var woodDensities = map[string]float64{"oak": 680, "maple": 680, "ash": 660, "mahogany": 580, "pine": 480, "fir": 500, "spruce": 450, "cedar": 400}

// density is a door's; 0 where neither core nor material tells it.
func (d Door) density() float64 {
	m, name := madeOf(d.Material)
	switch of, known := woodDensities[name]; {
	case m >= skinned:
		return densities[m]
	case d.Core == "hollow":
		return hollowCore
	case known:
		return of
	case m != unclear:
		return densities[m]
	case d.Core == "solid":
		return solidCore
	}
	return 0
}

// EstimateWeight guesses a door's weight in kilograms from size, core and material; ok is
// false where too little is known.
func EstimateWeight(d Door) (kg float64, ok bool) {
	of := d.density()
	if d.Width <= 0 || d.Height <= 0 || d.Thickness <= 0 || of == 0 {
		return 0, false
	}
	return d.Width.MM() * d.Height.MM() * d.Thickness.MM() / 1e9 * of, true
}

// A mass is what a door weighs; the zero mass is not known.
type mass struct {
	kg        float64
	estimated bool
}

func (m mass) String() string {
	if m.estimated {
		return "about " + Kilograms(m.kg)
	}
	return Kilograms(m.kg)
}

func (d Door) mass() mass {
	if d.Weight > 0 {
		return mass{kg: d.Weight}
	}
	kg, ok := EstimateWeight(d)
	return mass{kg, ok}
}

// gravity is the standard acceleration of free fall, m/s²; exact by definition (CGPM 1901).
const gravity = 9.80665

// Pound is one pound in kilograms; exact by the international yard and pound agreement, 1959.
const Pound = 0.45359237

// Kilograms writes a weight in both units: "41 kg (90 lb)".
func Kilograms(kg float64) string { return fmt.Sprintf("%.0f kg (%.0f lb)", kg, kg/Pound) }

// maxDoorKG is more than any door that a hinge of these tables carries.
const maxDoorKG = 2000

var weightForm = regexp.MustCompile(`^(\d{1,4}(?:[.,]\d+)?)\s*(kg|kgs|kilo|kilos|kilograms?|lbs?|pounds?)?$`)

// ParseWeight reads a door's weight, "90lb", "41 kg" or "41", in kilograms. A bare number is kilograms.
func ParseWeight(text string) (kg float64, err error) {
	m := weightForm.FindStringSubmatch(strings.ToLower(strings.TrimSpace(text)))
	if m == nil {
		return 0, fmt.Errorf("%q is no weight: write it like 30 kg or 66 lb", text)
	}
	kg, err = strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	if strings.HasPrefix(m[2], "lb") || strings.HasPrefix(m[2], "pound") {
		kg *= Pound
	}
	if err != nil || kg <= 0 || kg > maxDoorKG {
		return 0, fmt.Errorf("%q is no door's weight: more than 0 and at most %s is expected", text, Kilograms(maxDoorKG))
	}
	return kg, nil
}

func (a *adviser) load(d Door, hinge measure.Length) {
	m := d.mass()
	if m.kg <= 0 {
		a.say("load", "", CommonPractice, "The door's weight is not known: say it, or all three sizes with core or material. From %s on a door takes bearing hinges.", Kilograms(heavyDoor))
		return
	}
	if m.estimated {
		a.say("load", "densities of doors", FromMemory, "The door weighs %s, estimated from its size and make: weigh it where it matters.", m)
	}
	if d.Width > 0 && d.Height > 0 && !d.beyondTables() {
		if hinge == 0 {
			hinge = 4 * measure.Inch
		}
		if s := Spacing(d.Height, hinge, places[0].top[0], places[0].bottom[0]); s > d.Width/4 {
			pull := HingePull(m.kg*gravity, d.Width, s)
			a.say("load", "statics: weight × half the width / spacing of top and bottom hinge", Derived,
				"The top hinge is pulled out, and the bottom one pressed in, with about %.0f N (%.0f lb) at a spacing of %s.", pull, pull/gravity/Pound, Both(s))
		}
	}
	if d.beyondTables() {
		return
	}
	const source = "EN 1935 grades, from pages that quote the standard"
	if g, ok := HingeGrade(m.kg, d.Use); ok {
		a.say("load", source+"; cycles for the use are common practice", SecondHand,
			"By European grades this asks for grade %d: %d,%03d cycles with a door of %s.", g.Grade, g.Cycles/1000, g.Cycles%1000, Kilograms(g.Mass))
	} else {
		a.say("load", source, SecondHand, "The European grades end at %s, and this door weighs %s: take hinges whose maker rates them for it. The table of sizes knows no weight either.", Kilograms(heaviest), m)
	}
}

// A Grade is one grade of EN 1935: test cycles with a door of a mass in kilograms.
type Grade struct {
	Grade, Cycles int
	Mass          float64
}

// Grades are those of EN 1935, from pages that quote the standard.
var Grades = []Grade{{1, 10_000, 10}, {2, 10_000, 20}, {3, 25_000, 20}, {4, 200_000, 20}, {5, 10_000, 40}, {6, 25_000, 40}, {7, 200_000, 40},
	{8, 10_000, 60}, {9, 25_000, 60}, {10, 200_000, 60}, {11, 200_000, 80}, {12, 200_000, 100}, {13, 200_000, 120}, {14, 200_000, 160}}

// heaviest is the mass in kilograms of the last grade's door.
var heaviest = Grades[len(Grades)-1].Mass

// HingeGrade is the lowest grade for a door's mass and use: low, medium (or not known), high.
// That use asks for 10 000, 25 000 and 200 000 cycles is common practice, no source.
func HingeGrade(kg float64, use string) (Grade, bool) {
	cycles := map[string]int{"low": 10_000, "high": 200_000}[use]
	if cycles == 0 {
		cycles = 25_000
	}
	for _, g := range Grades {
		if g.Mass >= kg && g.Cycles >= cycles {
			return g, true
		}
	}
	return Grade{}, false
}

// heavyDoor is the weight in kilograms from which a door takes bearing hinges however little it is
// used. Common practice, no source: the army's manual asks heavy doors for them and names no weight.
const heavyDoor = 40.0

// bearingWhy says why a door takes bearing hinges; "" where plain ones will do, or the reason is
// not known.
func (d Door) bearingWhy() string {
	switch m := d.mass(); {
	case d.FireRated:
		return "the opening is fire-rated"
	case d.Closer:
		return "the door has a closer"
	case d.Use == "high":
		return "it is in frequent use"
	case m.kg >= heavyDoor:
		return "it weighs " + m.String()
	}
	return ""
}

func (a *adviser) bearing(d Door) {
	const source = "US Army TM 5-805-8, hinges"
	m := d.mass()
	switch {
	case d.FireRated:
		a.say("bearing", fireSource, SecondHand, "Ball bearing (or antifriction) hinges: the opening is fire-rated.")
	case d.Closer:
		a.say("bearing", source, SourceSeen, "Bearing hinges, not plain ones: the door has a closer.")
	case d.Use == "high":
		a.say("bearing", source+", which speaks of heavy and high-frequency doors", Derived, "Bearing hinges; heavy doors in frequent use take heavy ones with four bearings.")
	case m.kg >= heavyDoor:
		a.say("bearing", "", CommonPractice, "Bearing hinges even where it is little used: the door weighs %s. From %s on a door counts as heavy here; the published rule names no weight.", m, Kilograms(heavyDoor))
	case d.Use != "" && m.kg > 0:
		a.say("bearing", "", CommonPractice, "Plain bearing is enough; ball bearings run lighter and wear less.")
	case d.Use != "":
		a.say("bearing", "", CommonPractice, "Plain bearing is enough unless the door weighs %s or more; ball bearings run lighter and wear less.", Kilograms(heavyDoor))
	case m.kg > 0:
		a.say("bearing", "", CommonPractice, "A door of %s without a closer that is not in frequent use may have plain bearings; ball bearings run lighter and wear less.", m)
	default:
		a.say("bearing", source+"; the weight is common practice", Derived,
			"Doors with a closer, doors of %s and more and doors in frequent use take bearing hinges; others may have plain ones.", Kilograms(heavyDoor))
	}
}
