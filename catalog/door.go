package catalog

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

// A Door is what is known of the door; a zero field is not known.
type Door struct {
	Width     measure.Length `json:"width_mm"`
	Height    measure.Length `json:"height_mm"`
	Thickness measure.Length `json:"thickness_mm"`
	Count     int            `json:"count"`            // doors
	Hinges    int            `json:"hinges,omitempty"` // on each door, as told
	Core      string         `json:"core"`             // hollow, solid
	Material  string         `json:"material"`         // pine, oak, steel, …
	Place     string         `json:"place"`            // inside, outside, wet, coastal
	Use       string         `json:"use"`              // low, medium, high
	Swing     string         `json:"swing"`            // out, in
	Closer    bool           `json:"closer"`
	FireRated bool           `json:"fire_rated"`
	Weight    float64        `json:"weight_kg"`
	Inset     measure.Length `json:"inset_mm"`
	Clearance measure.Length `json:"clearance_mm"`
}

// Advice is one line of what suits a door, with where it comes from.
type Advice struct {
	Topic   string `json:"topic"` // size, width, count, bearing, metal, fire, screws, …
	Text    string `json:"text"`
	Source  string `json:"source"`
	Mark    string `json:"mark"`    // source seen, common practice, …
	Caution bool   `json:"caution"` // stands beside advice that can hurt someone
}

// adviser collects advice.
type adviser struct{ out []Advice }

func (a *adviser) say(topic, source string, mark Mark, format string, args ...any) {
	a.out = append(a.out, Advice{Topic: topic, Text: fmt.Sprintf(format, args...), Source: source, Mark: string(mark)})
}

func (a *adviser) caution(source string, mark Mark, text string) {
	a.out = append(a.out, Advice{Topic: "cautions", Text: text, Source: source, Mark: string(mark), Caution: true})
}

// AdviseDoor says what suits a door, by published tables and common practice. What needs a
// size that is not known is left out. It never approves a fire-rated opening.
func AdviseDoor(d Door) []Advice {
	a := &adviser{}
	a.count(d)
	hinge := a.size(d)
	a.width(d)
	a.margins(d)
	a.place(d, hinge)
	a.load(d, hinge)
	a.bearing(d)
	a.metal(d)
	a.leaf(d, hinge)
	a.screws(d, hinge)
	a.sag(d, hinge)
	a.fire(d)
	a.cautions(d)
	return a.out
}

const countSource = "NFPA 80 § 6.4.3; US Army TM 5-805-8, hinges ¶ e; hollow-metal association, recommended hardware locations"

func (a *adviser) count(d Door) {
	if d.Height <= 0 {
		return
	}
	n := HingesADoor(d.Height)
	text := fmt.Sprintf("%d hinges for a door %s high: 2 up to 60 in, one more for each further 30 in or part of it.", n, Both(d.Height))
	if d.Count > 1 {
		text += fmt.Sprintf(" For %d doors that is %d hinges.", d.Count, d.Count*n)
	}
	a.say("count", countSource, SecondHand, "%s", text)
}

// HingesADoor is the number of hinges for a door of height h: two up to 60 in, one more for
// each further 30 in or part of it.
// Source: NFPA 80 § 6.4.3; US Army TM 5-805-8, hinges, ¶ e; the hollow-metal association's
// recommended hardware locations. All agree.
func HingesADoor(h measure.Length) int {
	over := (h - 60*measure.Inch) / (30 * measure.Inch)
	return 2 + max(0, int(math.Ceil(over.MM()-1e-9)))
}

// sizeRow is the hinge height that a door of a thickness up to a width asks for.
type sizeRow struct {
	minThick, maxThick, maxWidth measure.Length
	hinge                        measure.Length
	heavy                        bool
	source                       string
	mark                         Mark
}

const sizeSource = "Door and Hardware Institute recommendation as quoted in a trade page"

// anyWidth stands for "wider than the row before".
const anyWidth = 1000 * measure.Inch

// hingeHeights: the first row that covers thickness and width holds. The published rows name
// 1 3/8, 1 3/4, 2, 2 1/4 and 2 1/2 in; the ranges round them up to what doors measure.
var hingeHeights = []sizeRow{
	{1.25 * measure.Inch, 1.5 * measure.Inch, 32 * measure.Inch, 3.5 * measure.Inch, false, sizeSource, SecondHand},
	{1.25 * measure.Inch, 1.5 * measure.Inch, 37 * measure.Inch, 4 * measure.Inch, false, sizeSource + "; another page ends at 36 in", SecondHand},
	{1.625 * measure.Inch, 1.875 * measure.Inch, 36 * measure.Inch, 4.5 * measure.Inch, false, sizeSource, SecondHand},
	{1.625 * measure.Inch, 1.875 * measure.Inch, 48 * measure.Inch, 5 * measure.Inch, false, sizeSource, SecondHand},
	{1.625 * measure.Inch, 1.875 * measure.Inch, anyWidth, 6 * measure.Inch, false, sizeSource, SecondHand},
	{1.9 * measure.Inch, 2.6 * measure.Inch, 42 * measure.Inch, 5 * measure.Inch, true, sizeSource, SecondHand},
	{1.9 * measure.Inch, 2.6 * measure.Inch, anyWidth, 6 * measure.Inch, true, sizeSource, SecondHand},
}

// hingeHeight looks up the hinge height for a door; ok is false where no row covers it.
func hingeHeight(thickness, width measure.Length) (sizeRow, bool) {
	for _, r := range hingeHeights {
		if thickness >= r.minThick && thickness <= r.maxThick && width > 0 && width <= r.maxWidth+0.5 {
			return r, true
		}
	}
	return sizeRow{}, false
}

// size advises on hinge height and returns it; 0 where it is not known.
func (a *adviser) size(d Door) measure.Length {
	row, ok := hingeHeight(d.Thickness, d.Width)
	if ok {
		heavy := ""
		if row.heavy {
			heavy = " heavy"
		}
		a.say("size", row.source, row.mark, "%s in%s hinges for a door %s thick and %s wide.", row.hinge.Fraction(2), heavy, Both(d.Thickness), Both(d.Width))
	}
	switch t := d.Thickness.Inches(); {
	case t >= 1.25 && t <= 1.5:
		a.say("size", "", CommonPractice, "Doors 1 3/8 in thick usually carry 3 1/2 x 3 1/2 in hinges.")
	case t >= 1.625 && t <= 1.875:
		a.say("size", "", CommonPractice, "Doors 1 3/4 in thick usually carry 4 x 4, 4 1/2 x 4, 4 1/2 x 4 1/2 or 5 x 4 1/2 in hinges. A 3 1/2 in hinge will hang one, but counts as undersized there.")
	}
	if d.Thickness <= 0 {
		a.say("size", "NAVEDTRA 14069 p. 6-41", SourceSeen, "Outside doors are usually 1 3/4 in (44.5 mm) thick and at least 6 ft 8 in high, inside ones 1 3/8 in (34.9 mm): measure it, the hinge's size follows from it.")
	}
	if d.Thickness > 0 && d.Width > 0 && !ok {
		a.say("size", sizeSource, SecondHand, "The table has no row for a door %s thick and %s wide: keep the old hinges' size.", Both(d.Thickness), Both(d.Width))
	}
	return row.hinge
}

// OpenWidth is the least open width of a hinge that lets a door of the given thickness swing
// clear: W = 2 × (thickness − inset) + clearance.
// Source: Building Trades Pocketbook, "Doors" (2t − 1/2 in + projection at an inset of
// 1/4 in), and the Door and Hardware Institute's formula as quoted in a trade page.
func OpenWidth(thickness, inset, clearance measure.Length) measure.Length {
	return 2*(thickness-inset) + clearance
}

// WidthToOrder rounds an open width up to the next that is made: steps of 1/2 in from 3 in.
func WidthToOrder(w measure.Length) measure.Length {
	steps := math.Ceil(w.Inches()*2 - 0.01)
	return max(3*measure.Inch, measure.Length(steps)*measure.Inch/2)
}

func (a *adviser) width(d Door) {
	const source = `Building Trades Pocketbook, "Doors"; Door and Hardware Institute formula as quoted in a trade page`
	if d.Thickness <= 0 {
		return
	}
	inset, guessed := d.Inset, ""
	if inset <= 0 {
		inset = measure.Inch / 4
		guessed = "; the inset of 1/4 in is assumed (sources give 3/16 to 3/8 in: measure it)"
	}
	if d.Clearance > 0 {
		w := OpenWidth(d.Thickness, inset, d.Clearance)
		a.say("width", source, SourceSeen, "Open width at least 2 × (thickness − inset) + clearance = %s%s; order %s in.", Both(w), guessed, WidthToOrder(w).Fraction(2))
		return
	}
	a.say("width", source, SourceSeen, "Open width = 2 × (thickness − inset) + clearance: here 2 × (%s − %s) plus what the open door must clear of trim%s.",
		d.Thickness.Fraction(16)+" in", inset.Fraction(16)+" in", guessed)
	if row, ok := clearanceOf(d.Thickness); ok {
		a.say("width", "table of greatest clearance by width", FromMemory, "Clearance by open width on a door %s in thick: %s.", row.thickness.Fraction(8), row.words())
	}
}

// insetRow is how far the leaf's outer edge stays back from the door's face, or from the
// frame's stop. The sources disagree.
type insetRow struct {
	door, stop string
	source     string
	mark       Mark
}

var insets = []insetRow{
	{"1/4 in", "5/16 in", "steel-frame technical note", SourceSeen},
	{"", "1/4 in", "hollow-metal association, recommended hardware locations", SecondHand},
	{"3/16 to 1/4 in by maker", "", "SDI 130-15 note 1", SecondHand},
	{"", "3/8 in (1 3/4 in doors), 9/32 in (1 3/8 in doors)", "a steel-frame maker's hinge page", SourceSeen},
	{"1/4 in", "", "Building Trades Pocketbook", SourceSeen},
}

func (a *adviser) margins(d Door) {
	if d.Thickness <= 0 {
		return
	}
	var door, stop, sources []string
	for _, r := range insets {
		if r.door != "" && !slices.Contains(door, r.door) {
			door = append(door, r.door)
		}
		if r.stop != "" {
			stop = append(stop, r.stop)
		}
		sources = append(sources, r.source)
	}
	a.say("margins", strings.Join(sources, "; "), SourceSeen, "How far leaves stay back: on the door %s; at the frame's stop %s. The sources disagree: copy the old cut-out.",
		strings.Join(door, " or "), strings.Join(stop, " or "))
	a.say("margins", `Building Trades Pocketbook, "Doors"`, SourceSeen, "Gap 3/32 in (2.4 mm) at each side and the top before paint; the latch edge bevelled by 1/8 in in 2 1/4 in (%.1f°).", bevelDeg)
	a.say("margins", `Building Trades Pocketbook, "Doors"`, SourceSeen, "Old cut-outs take half the closed hinge's thickness out of the door and half out of the jamb.")
	a.say("margins", "", CommonPractice, "Today a leaf lies flush: its full thickness is cut out of door and jamb each.")
}

// bevelDeg is the bevel of a latch edge, 1/8 in in 2 1/4 in, in degrees.
var bevelDeg = math.Atan2(1.0/8, 2.25) * 180 / math.Pi

// clearanceRow lists what each open width clears on a door thickness at an inset of 1/4 in.
type clearanceRow struct {
	thickness measure.Length
	width     []measure.Length
}

var clearances = []clearanceRow{
	{1.375 * measure.Inch, []measure.Length{3.5 * measure.Inch, 4 * measure.Inch}},
	{1.75 * measure.Inch, []measure.Length{4.5 * measure.Inch, 5 * measure.Inch, 6 * measure.Inch}},
}

func clearanceOf(t measure.Length) (clearanceRow, bool) {
	for _, r := range clearances {
		if math.Abs((t - r.thickness).MM()) < 2 {
			return r, true
		}
	}
	return clearanceRow{}, false
}

func (r clearanceRow) words() string {
	var parts []string
	for _, w := range r.width {
		clear := w - OpenWidth(r.thickness, measure.Inch/4, 0)
		parts = append(parts, fmt.Sprintf("%s in clears %s in", w.Fraction(2), clear.Fraction(4)))
	}
	return strings.Join(parts, ", ")
}

// placeRow is where top and bottom hinges sit: frame head or door top to the top hinge's
// end, floor or door bottom to the bottom hinge's.
type placeRow struct {
	top, bottom measure.Length
	source      string
	mark        Mark
}

var places = []placeRow{
	{5 * measure.Inch, 10 * measure.Inch, `"US standard procedure" in a trade question-and-answer page`, SourceSeen},
	{7 * measure.Inch, 11 * measure.Inch, "western US habit; the same page and two others", SourceSeen},
	{6 * measure.Inch, 10 * measure.Inch, "Building Construction vol. 2 ¶ 105", SourceSeen},
	{150, 225, "British fire-door habit (120–180 and 200–250 mm), trade pages", SourceSeen},
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
		a.say("placement", p.source, p.mark, "%s: the top hinge's end %s from the top, the bottom hinge's end %s from the floor.", word, Both(p.top), Both(p.bottom))
	}
	if n := HingesADoor(d.Height); n > 2 && hinge > 0 {
		s := Spacing(d.Height, hinge, places[0].top, places[0].bottom)
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

// pinsOutside reports whether the pins of a door's hinges may be within a stranger's reach: it
// swings out, or is an outside one of which that is not known.
func (d Door) pinsOutside() bool {
	outside := d.Place == "outside" || d.Place == "coastal"
	return d.Swing == "out" && (outside || d.Place == "") || d.Swing == "" && outside
}

func (a *adviser) metal(d Door) {
	switch d.Place {
	case "coastal":
		a.say("metal", "", CommonPractice, "Stainless steel or brass: salt air eats plated steel.")
	case "wet":
		a.say("metal", "", CommonPractice, "Stainless steel or brass: plated steel rusts in wet rooms.")
	case "outside":
		a.say("metal", "", CommonPractice, "Stainless steel, brass, or steel with a finish made for outdoors.")
	case "inside":
		a.say("metal", "", CommonPractice, "Steel in the finish of the old hinges; the finish number says the metal (652 is on steel, 626 on brass).")
	}
	if d.pinsOutside() {
		a.say("metal", "terms of a hardware association's glossary", SourceSeen, "Where the door swings out its pins are outside: ask about non-removable pins or safety studs.")
	}
}

// leafRow is what leaf thickness is usual for a hinge height, in inches.
type leafRow struct {
	hinge                float64
	light                string
	standard, heavy      string
	source               string
	mark                 Mark
	leastStd, leastHeavy float64 // in, for tests and the fire table
}

var leafRows = []leafRow{
	{3.5, "0.085–0.097", "0.123", "", "light: common practice; standard from memory, steel frames are embossed 0.120", FromMemory, 0.123, 0},
	{4, "0.085–0.100", "0.130", "0.170", "standard 0.130 from a trade sheet, 0.120 from a frame maker: they disagree; light: common practice; heavy from memory", SourceSeen, 0.130, 0.170},
	{4.5, "", "0.134", "0.180", "three trade sources within 0.001 in", SourceSeen, 0.134, 0.180},
	{5, "", "0.146", "0.190", "heavy: BHMA summary of A156.1 (0.190 ± 0.005); standard from memory, a frame maker gives 0.140", SourceSeen, 0.146, 0.190},
	{6, "", "0.160", "0.203", "A156.1", FromMemory, 0.160, 0.203},
}

func (a *adviser) leaf(d Door, hinge measure.Length) {
	for _, r := range leafRows {
		if math.Abs(r.hinge-hinge.Inches()) > 0.01 {
			continue
		}
		var parts []string
		for _, p := range [][2]string{{r.light, "light (residential)"}, {r.standard, "standard"}, {r.heavy, "heavy"}} {
			if p[0] != "" {
				parts = append(parts, p[0]+" in "+p[1])
			}
		}
		a.say("leaf thickness", r.source, r.mark, "A leaf of a %s in hinge: %s. Keep the old one's, or cut-outs must be deepened or shimmed.", hinge.Fraction(2), strings.Join(parts, ", "))
	}
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
	s := Spacing(d.Height, hinge, places[0].top, places[0].bottom)
	if s <= d.Width/4 {
		return
	}
	const source = "geometry: width × wear / hinge spacing"
	drop := LatchDrop(d.Width, s, measure.Inch/16)
	a.say("sag", source, Derived, "Wear or drawn screws of 1/16 in (1.6 mm) at the top hinge let the latch edge drop by %s.", Both(drop))
	a.say("sag", source, Derived, "A latch that has dropped by %s, and begins to miss its strike, means %s at the top hinge. That is more than a worn pin is likely to give: look at screws, frame and door first.",
		Both(latchPlay), Both(WearFor(latchPlay, d.Width, s)))
}

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

func (a *adviser) cautions(d Door) {
	a.caution("", CommonPractice, "Support the door before a pin comes out: close it, wedge it from below, and never draw a pin from a door that stands free. Take the bottom pin first and the top one last; hang the top first.")
	a.caution("", CommonPractice, "Change one hinge at a time with the others left fixed.")
	a.caution("29 CFR 1910.133, ANSI Z87.1", FromMemory, "Wear eye protection when you strike pins, drill or chisel.")
	a.caution("40 CFR 745.83; EPA answers on minor repair", SourceSeen, "In a house built before 1978 the paint may hold lead: do not sand, scrape dry or heat it; paid work falls under the US rule except for small jobs (6 sq ft a room inside, 20 sq ft outside).")
	a.caution("NFPA 101 § 7.2.1.4.5", FromMemory, "Never block an exit while its hinges are off, and see that it opens easily afterwards.")
	a.caution("", CommonPractice, "A spring hinge: release the spring by its maker's steps before you touch the pin.")
	a.caution("", CommonPractice, "Local codes and licensed practice come before this advice.")
}

// softwoods and hardwoods sort what people call their doors and jambs.
var (
	softwoods = []string{"pine", "fir", "spruce", "cedar", "redwood", "hemlock", "softwood", "poplar"}
	hardwoods = []string{"oak", "maple", "ash", "walnut", "cherry", "birch", "beech", "mahogany", "hickory", "teak", "hardwood"}
)

// woodOf tells softwood from hardwood; "" where a material says neither.
func woodOf(material string) string {
	m := strings.ToLower(material)
	in := func(w string) bool { return strings.Contains(m, w) }
	switch {
	case slices.ContainsFunc(hardwoods, in):
		return "hardwood"
	case slices.ContainsFunc(softwoods, in):
		return "softwood"
	}
	return ""
}
