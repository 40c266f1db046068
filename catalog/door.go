package catalog

import (
	"fmt"

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

func (a *adviser) caution(source string, mark Mark, format string, args ...any) {
	a.say("cautions", source, mark, format, args...)
	a.out[len(a.out)-1].Caution = true
}

// AdviseDoor says what suits a door, by published tables and common practice, with the cautions
// that the job calls for. What needs a size that is not known is left out. It never approves a
// fire-rated opening.
func AdviseDoor(d Door, job Job) []Advice {
	a := &adviser{}
	if d.beyondTables() {
		a.say("size", "", CommonPractice, "%s", outsideTables(d))
		a.load(d, 0)
	} else {
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
	}
	a.fire(d)
	a.cautions(d, job)
	return a.out
}
