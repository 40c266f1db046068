package catalog

import (
	"math"

	"leafgauge/measure"
)

// A Door is what is known of the door; a zero field is not known.
type Door struct {
	Width     measure.Length `json:"width_mm"`
	Height    measure.Length `json:"height_mm"`
	Thickness measure.Length `json:"thickness_mm"`
	Count     int            `json:"count"`    // doors
	Core      string         `json:"core"`     // hollow, solid
	Material  string         `json:"material"` // pine, oak, steel, …
	Place     string         `json:"place"`    // inside, outside, wet, coastal
	Use       string         `json:"use"`      // low, medium, high
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

// HingesADoor is the number of hinges for a door of height h: two up to 60 in, one more for
// each further 30 in or part of it.
// Source: NFPA 80 § 6.4.3; US Army TM 5-805-8, hinges, ¶ e; the hollow-metal association's
// recommended hardware locations. All agree.
func HingesADoor(h measure.Length) int {
	over := (h - 60*measure.Inch) / (30 * measure.Inch)
	return 2 + max(0, int(math.Ceil(over.MM()-1e-9)))
}

// AdviseDoor says what suits a door, by published tables and common practice.
func AdviseDoor(d Door) []Advice { return nil }

// sizeRow is the hinge height that a door of a thickness up to a width asks for.
type sizeRow struct {
	minThick, maxThick, maxWidth measure.Length
	hinge                        measure.Length
	heavy                        bool
	source                       string
	mark                         Mark
}

const sizeSource = "Door and Hardware Institute recommendation as quoted in a trade page"

// hingeHeights: the first row that covers thickness and width holds.
var hingeHeights = []sizeRow{
	{1.25 * measure.Inch, 1.5 * measure.Inch, 32 * measure.Inch, 3.5 * measure.Inch, false, sizeSource, SecondHand},
	{1.25 * measure.Inch, 1.5 * measure.Inch, 37 * measure.Inch, 4 * measure.Inch, false, sizeSource + "; another page ends at 36 in", SecondHand},
	{1.625 * measure.Inch, 1.875 * measure.Inch, 36 * measure.Inch, 4.5 * measure.Inch, false, sizeSource, SecondHand},
	{1.625 * measure.Inch, 1.875 * measure.Inch, 48 * measure.Inch, 5 * measure.Inch, false, sizeSource, SecondHand},
	{1.625 * measure.Inch, 1.875 * measure.Inch, 1000 * measure.Inch, 6 * measure.Inch, false, sizeSource, SecondHand},
	{1.9 * measure.Inch, 2.6 * measure.Inch, 42 * measure.Inch, 5 * measure.Inch, true, sizeSource, SecondHand},
	{1.9 * measure.Inch, 2.6 * measure.Inch, 1000 * measure.Inch, 6 * measure.Inch, true, sizeSource, SecondHand},
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
