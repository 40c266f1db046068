package catalog

import (
	"strings"

	"leafgauge/measure"
)

// HingePull is the horizontal pull at the top hinge, and the push at the bottom one, of a
// door: weight × (width / 2) / spacing, in the unit of weight. Moments about the other hinge.
func HingePull(weight float64, width, spacing measure.Length) float64 {
	return weight * (width / 2).MM() / spacing.MM()
}

// densityRow estimates what a door weighs by its volume.
type densityRow struct {
	core, material string
	kgPerM3        float64
}

// densities are effective ones, voids included. From memory, not confirmed: a hollow-core
// door 30 × 80 × 1 3/8 in weighs about 11 kg, a solid-core one 36 × 80 × 1 3/4 in about 50 kg.
var densities = []densityRow{
	{"hollow", "", 210}, {"", "steel", 550}, {"", "oak", 680}, {"", "maple", 680}, {"", "ash", 660}, {"", "mahogany", 580},
	{"", "mdf", 730}, {"", "pine", 480}, {"", "fir", 500}, {"", "spruce", 450}, {"", "cedar", 400}, {"solid", "", 600},
}

// EstimateWeight guesses a door's weight in kilograms from size, core and material; ok is
// false where too little is known.
func EstimateWeight(d Door) (kg float64, ok bool) {
	if d.Width <= 0 || d.Height <= 0 || d.Thickness <= 0 {
		return 0, false
	}
	volume := d.Width.MM() * d.Height.MM() * d.Thickness.MM() / 1e9
	for _, r := range densities {
		if (r.core == "" || r.core == d.Core) && (r.material == "" || strings.Contains(strings.ToLower(d.Material), r.material)) {
			return volume * r.kgPerM3, true
		}
	}
	return 0, false
}

// gravity is the standard acceleration of free fall, m/s²; exact by definition (CGPM 1901).
const gravity = 9.80665

// Pound is one pound in kilograms; exact by the international yard and pound agreement, 1959.
const Pound = 0.45359237

func (a *adviser) load(d Door, hinge measure.Length) {
	kg, estimated := d.Weight, false
	if kg <= 0 {
		kg, estimated = EstimateWeight(d)
	}
	if kg <= 0 {
		return
	}
	if estimated {
		a.say("load", "densities of doors", FromMemory, "The door weighs about %.0f kg (%.0f lb), estimated from its size and make: weigh it where it matters.", kg, kg/Pound)
	}
	if d.Width > 0 && d.Height > 0 {
		if hinge == 0 {
			hinge = 4 * measure.Inch
		}
		if s := Spacing(d.Height, hinge, places[0].top, places[0].bottom); s > d.Width/4 {
			pull := HingePull(kg*gravity, d.Width, s)
			a.say("load", "statics: weight × half the width / spacing of top and bottom hinge", Derived,
				"The top hinge is pulled out, and the bottom one pressed in, with about %.0f N (%.0f lb) at a spacing of %s.", pull, pull/gravity/Pound, Both(s))
		}
	}
	if g, ok := HingeGrade(kg, d.Use); ok {
		a.say("load", "EN 1935 grades, from pages that quote the standard", SecondHand,
			"By European grades this asks for grade %d: %d,%03d cycles with a door of %.0f kg.", g.Grade, g.Cycles/1000, g.Cycles%1000, g.Mass)
	}
	if kg > 50*Pound {
		a.out = append(a.out, Advice{"load", "It weighs more than 50 lb (23 kg): two people hold it while it is taken off.",
			"US Army TM 10-5411-224-14 ¶ 4-14", string(SourceSeen), true})
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

func (a *adviser) bearing(d Door) {
	const source = "US Army TM 5-805-8, hinges"
	switch {
	case d.FireRated:
		a.say("bearing", "NFPA 80 hinge table", SecondHand, "Ball bearing (or antifriction) hinges: the opening is fire-rated.")
	case d.Closer:
		a.say("bearing", source, SourceSeen, "Bearing hinges, not plain ones: the door has a closer.")
	case d.Use == "high":
		a.say("bearing", source, SourceSeen, "Bearing hinges; heavy doors in frequent use take heavy ones with four bearings.")
	case d.Use == "low" || d.Use == "medium":
		a.say("bearing", "", CommonPractice, "Plain bearing is enough; ball bearings run lighter and wear less.")
	default:
		a.say("bearing", source, SourceSeen, "Doors with a closer, heavy doors and doors in frequent use take bearing hinges; others may have plain ones.")
	}
}
