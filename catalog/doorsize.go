package catalog

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

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
