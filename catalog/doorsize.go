package catalog

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

const countSource = "US Army TM 5-805-8, hinges ¶ e; NFPA 80 § 6.4.3 and the hollow-metal association's locations agree, second hand"

func (a *adviser) count(d Door) {
	if d.Height <= 0 {
		return
	}
	n := HingesADoor(d.Height)
	text := fmt.Sprintf("%d hinges for a door %s high: 2 up to 60 in (1524 mm), one more for each further 30 in (762 mm) or part of it.", n, Both(d.Height))
	if d.Count > 1 {
		text += fmt.Sprintf(" For %d doors that is %d hinges.", d.Count, d.Count*n)
	}
	a.say("count", countSource, SourceSeen, "%s", text)
	if d.Height > highest+0.5 {
		a.say("count", fireSource, SecondHand, "None of the published tables here goes beyond doors %s high: the count follows the rule, the hinge itself needs its maker's word.", Both(highest))
	}
}

// highest is the highest door of any table here, the last of fireRows.
const highest = 10 * measure.Foot

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
	{1.875 * measure.Inch, 2.6 * measure.Inch, 42 * measure.Inch, 5 * measure.Inch, true, sizeSource, SecondHand},
	{1.875 * measure.Inch, 2.6 * measure.Inch, anyWidth, 6 * measure.Inch, true, sizeSource, SecondHand},
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
		a.say("size", row.source, row.mark, "%s%s hinges for a door %s thick and %s wide.", Both(row.hinge), heavy, Both(d.Thickness), Both(d.Width))
	}
	switch t := d.Thickness.Inches(); {
	case d.unlisted():
	case t >= 1.25 && t <= 1.5 && row.hinge <= 3.5*measure.Inch:
		a.say("size", "", CommonPractice, "Doors 1 3/8 in (34.9 mm) thick usually carry 3 1/2 x 3 1/2 in (89 × 89 mm) hinges.")
	case t >= 1.625 && t <= 1.875:
		a.say("size", "", CommonPractice, "Doors 1 3/4 in (44.45 mm) thick usually carry 4 x 4, 4 1/2 x 4, 4 1/2 x 4 1/2 or 5 x 4 1/2 in hinges (102, 114 or 127 mm high). "+
			"A 3 1/2 in (88.9 mm) hinge will hang one, but counts as undersized there.")
	}
	if d.Thickness <= 0 {
		a.say("size", "NAVEDTRA 14069 p. 6-41", SourceSeen, "Outside doors are usually 1 3/4 in (44.45 mm) thick and at least 6 ft 8 in (2032 mm) high, inside ones 1 3/8 in (34.9 mm): "+
			"measure it, the hinge's size follows from it.")
	}
	if d.unlisted() {
		keep := "Keep the old hinges' size."
		if d.FireRated {
			keep = "The opening's label says which size it takes."
		}
		a.say("size", sizeSource, SecondHand, "%s %s", gapInSizes(d.Thickness, d.Width), keep)
	}
	return row.hinge
}

// gapInSizes names where the table of sizes has no row for a door.
func gapInSizes(thickness, width measure.Length) string {
	first, last := hingeHeights[0], hingeHeights[len(hingeHeights)-1]
	if thickness < first.minThick {
		return fmt.Sprintf("The table begins at doors %s thick; this one is %s.", Both(first.minThick), Both(thickness))
	}
	if thickness > last.maxThick {
		return fmt.Sprintf("The table ends at doors %s thick; this one is %s.", Both(2.5*measure.Inch), Both(thickness))
	}
	for k, r := range hingeHeights[1:] {
		before := hingeHeights[k]
		switch {
		case thickness <= before.maxThick && r.minThick > before.maxThick: // the last row of its thickness
			return fmt.Sprintf("For doors %s thick the table ends at doors %s wide; this one is %s.", Both(thickness), Both(before.maxWidth), Both(width))
		case thickness > before.maxThick && thickness < r.minThick:
			text := fmt.Sprintf("A door %s thick lies between the table's rows", Both(thickness))
			thinner, _ := hingeHeight(before.maxThick, width)
			if thicker, ok := hingeHeight(r.minThick, width); ok && thinner.hinge > 0 {
				return fmt.Sprintf("%s: at this width thinner doors take %s, thicker ones %s hinges.", text, Both(thinner.hinge), Both(thicker.hinge))
			}
			return text + "."
		}
	}
	return fmt.Sprintf("The table has no row for a door %s thick and %s wide.", Both(thickness), Both(width))
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

// usualWidth is the open width that goes with a hinge height on d: by the clearance where it is
// told, else by that of the usual sizes, 1 1/4 in on doors up to 1 1/2 in thick and 1 1/2 in on
// thicker ones, and no narrower than the hinge is high up to 4 in (common practice, no source).
func (d Door) usualWidth(hinge measure.Length) measure.Length {
	inset := d.Inset
	if inset <= 0 {
		inset = usualInset
	}
	if d.Clearance > 0 {
		return WidthToOrder(OpenWidth(d.Thickness, inset, d.Clearance))
	}
	clearance := 1.5 * measure.Inch
	if d.Thickness <= 1.5*measure.Inch {
		clearance = 1.25 * measure.Inch
	}
	// A door of 35 mm is one of 1 3/8 in: its size to a sixteenth counts.
	thickness := measure.Length(math.Round(d.Thickness.Inches()*16)) * measure.Inch / 16
	return max(WidthToOrder(OpenWidth(thickness, inset, clearance)), min(hinge, 4*measure.Inch))
}

// usualInset is taken where none is told. Source: Building Trades Pocketbook, "Doors".
const usualInset = measure.Inch / 4

func (a *adviser) width(d Door) {
	const source = `Building Trades Pocketbook, "Doors"; Door and Hardware Institute formula as quoted in a trade page`
	if d.Thickness <= 0 {
		return
	}
	inset, guessed := d.Inset, ""
	if inset <= 0 {
		inset = usualInset
		guessed = "; the inset of 1/4 in (6.35 mm) is assumed (sources give 3/16 to 3/8 in, 4.8 to 9.5 mm: measure it)"
	}
	if d.Clearance > 0 {
		w := OpenWidth(d.Thickness, inset, d.Clearance)
		a.say("width", source, Derived, "Open width at least 2 × (thickness − inset) + clearance = %s%s; order %s.", Both(w), guessed, Both(WidthToOrder(w)))
		return
	}
	a.say("width", source, SourceSeen, "Open width = 2 × (thickness − inset) + clearance: here %s plus what the open door must clear of trim%s.", Both(OpenWidth(d.Thickness, inset, 0)), guessed)
	if row, ok := hingeHeight(d.Thickness, d.Width); ok {
		wide := d.usualWidth(row.hinge)
		a.say("width", "", CommonPractice, "As long as no clearance is told, %s is taken: it clears %s of trim.", Both(wide), Both(wide-OpenWidth(d.Thickness, inset, 0)))
	}
	if row, ok := clearanceOf(d.Thickness); ok {
		a.say("width", "by that formula; a table of clearances from memory agrees", Derived, "At an inset of 1/4 in (6.35 mm), on a door %s thick: %s.", Both(row.thickness), row.words())
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
	{"1/4 in (6.35 mm)", "5/16 in (7.9 mm)", "steel-frame technical note", SourceSeen},
	{"", "1/4 in (6.35 mm)", "hollow-metal association, recommended hardware locations", SecondHand},
	{"3/16 to 1/4 in (4.8 to 6.35 mm) by maker", "", "SDI 130-15 note 1", SecondHand},
	{"", "3/8 in (9.5 mm) on 1 3/4 in doors, 9/32 in (7.1 mm) on 1 3/8 in doors", "a steel-frame maker's hinge page", SourceSeen},
	{"1/4 in (6.35 mm)", "", "Building Trades Pocketbook", SourceSeen},
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
	a.say("margins", strings.Join(sources, "; "), SecondHand, "How far leaves stay back: on the door %s; at the frame's stop %s. The sources disagree: copy the old cut-out.",
		strings.Join(door, " or "), strings.Join(stop, " or "))
	a.say("margins", `Building Trades Pocketbook, "Doors"`, SourceSeen, "Gap 3/32 in (2.4 mm) at each side and the top before paint; the latch edge bevelled by 1/8 in (3.2 mm) in 2 1/4 in (57.15 mm), %.1f°.", bevelDeg(2.25))
	a.say("margins", "", CommonPractice, "Another old bevel: 1/8 in (3.2 mm) in 2 in (50.8 mm), %.1f°.", bevelDeg(2))
	a.say("margins", `Building Trades Pocketbook, "Doors"`, SourceSeen, "Old cut-outs take half the closed hinge's thickness out of the door and half out of the jamb.")
	a.say("margins", "", CommonPractice, "Today a leaf lies flush: its full thickness is cut out of door and jamb each.")
}

// bevelDeg is the bevel of a latch edge, 1/8 in in so many inches, in degrees.
func bevelDeg(in float64) float64 { return math.Atan2(1.0/8, in) * 180 / math.Pi }

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
		parts = append(parts, fmt.Sprintf("a hinge %s wide clears %s", Both(w), Both(clear)))
	}
	return strings.Join(parts, ", ")
}

// leafRow is what leaf thickness is usual for a hinge height, in inches.
type leafRow struct {
	hinge float64
	kinds []leafKind
}

type leafKind struct {
	name        string
	least, most float64 // in
	source      string
	mark        Mark
}

var leafRows = []leafRow{
	{3.5, []leafKind{{"light (residential)", 0.085, 0.097, "", CommonPractice}, {"standard", 0.123, 0.123, "steel frames are embossed 0.120 in (3.05 mm) for it", FromMemory}}},
	{4, []leafKind{{"light (residential)", 0.085, 0.100, "", CommonPractice}, {"standard", 0.130, 0.130, "a trade sheet; a frame maker gives 0.120 in (3.05 mm)", SourceSeen}, {"heavy", 0.170, 0.170, "", FromMemory}}},
	{4.5, []leafKind{{"standard", 0.134, 0.134, "three trade sources within 0.001 in (0.03 mm)", SourceSeen}, {"heavy", 0.180, 0.180, "two trade sources", SourceSeen}}},
	{5, []leafKind{{"standard", 0.146, 0.146, "a frame maker gives 0.140 in (3.56 mm)", FromMemory}, {"heavy", 0.190, 0.190, "a hardware association's summary of A156.1 (± 0.005 in, 0.13 mm)", SourceSeen}}},
	{6, []leafKind{{"standard", 0.160, 0.160, "A156.1", FromMemory}, {"heavy", 0.203, 0.203, "A156.1", FromMemory}}},
}

func (a *adviser) leaf(d Door, hinge measure.Length) {
	for _, r := range leafRows {
		if math.Abs(r.hinge-hinge.Inches()) > 0.01 {
			continue
		}
		for _, k := range r.kinds {
			size := thousandths(measure.Length(k.least) * measure.Inch)
			if k.most > k.least {
				size = fmt.Sprintf("%.3f–%.3f in (%.2f–%.2f mm)", k.least, k.most, k.least*measure.Inch.MM(), k.most*measure.Inch.MM())
			}
			a.say("leaf thickness", k.source, k.mark, "A %s leaf of a %s hinge: %s.", k.name, Both(hinge), size)
		}
		a.say("leaf thickness", "", CommonPractice, "Keep the old leaf's thickness, or the cut-outs must be deepened or packed.")
	}
}
