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
