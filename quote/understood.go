package quote

import (
	"slices"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
)

// QuantityWords name what a typed number is of.
var QuantityWords = map[measure.Quantity]string{
	measure.QHeight: "height", measure.QOpenWidth: "open width", measure.QLeafWidth: "leaf width", measure.QThickness: "leaf thickness",
	measure.QCornerRadius: "corner radius", measure.QCornerDiameter: "corner diameter", measure.QHoleFromEdge: "hole from edge",
	measure.QHoleFromEnd: "hole from end", measure.QHoleSpacing: "hole spacing", measure.QHoleDiameter: "hole diameter",
	measure.QHoleCount: "holes", measure.QBarrelDiameter: "barrel", measure.QPinDiameter: "pin", measure.QKnuckles: "knuckles",
	measure.QDoorThickness: "door thickness", measure.QDoorWidth: "door width", measure.QDoorHeight: "door height",
	measure.QDoorCount: "doors", measure.QHingeCount: "hinges", measure.QHingesPerDoor: "hinges on each door", measure.QScaleBar: "scale bar", measure.QUnknown: "not told what",
}

// maxHeard is how much is played back in one line.
const maxHeard = 30

// Understood plays back in one line what was read: of the inquiry's text, of the door's boxes and of what
// is wished; "" where that is nothing.
func (q Inquiry) Understood() string {
	heard := understood(q.Readings())
	for _, said := range slices.Concat(DoorRead(q.Door), WishesRead(q.Wishes)) {
		if !slices.Contains(heard, said) {
			heard = append(heard, said)
		}
	}
	if len(heard) > maxHeard {
		heard = append(heard[:maxHeard], "and more")
	}
	return strings.Join(heard, ", ")
}

// countWords are what is counted, of one and of more.
var countWords = map[measure.Quantity][2]string{
	measure.QHoleCount: {"hole", "holes"}, measure.QKnuckles: {"knuckle", "knuckles"}, measure.QHingeCount: {"hinge wanted", "hinges wanted"},
	measure.QHingesPerDoor: {"hinge on each door", "hinges on each door"}, measure.QDoorCount: {"door", "doors"},
}

// saidWords are the words about a stated value; %s stands for it.
var saidWords = map[string]string{
	"corner": "%s corners", "bearing": "%s bearing", "pin": "%s pin", "handing": "%s hand", "swing": "swings %s", "type": "%s hinge", "photo": "photo %s",
}

// saidOtherwise are statements whose words are not about their value, by kind and value.
var saidOtherwise = map[[2]string]string{
	{"corner", "quarter"}: "corners like a dime", {"fire_label", "rated"}: "fire-rated", {"fire_label", "none"}: "not fire-rated",
	{"handing", "left reverse"}: "left hand reverse", {"handing", "right reverse"}: "right hand reverse",
	{"handing", "din left"}: "left by the German rule", {"handing", "din right"}: "right by the German rule",
	{"spring", "spring"}: "spring hinge", {"spring", "none"}: "no spring", {"leaf", "lost"}: "the other leaf is lost", {"leaf", "alike"}: "both leaves alike",
	{"use", "exterior"}: "outside door", {"use", "interior"}: "inside door", {"use", "closer"}: "with a closer", {"use", "coastal"}: "near the sea",
	{"use", "heavy"}: "heavy use", {"use", "medium"}: "medium use", {"use", "low"}: "low use",
}

// understood plays back what was read of typed text: sizes with their names, then counts, then
// statements, each once.
func understood(r measure.Readings) []string {
	var sizes, counts, said []string
	add := func(to *[]string, text string) {
		if !slices.Contains(*to, text) {
			*to = append(*to, text)
		}
	}
	for _, x := range r.Readings {
		words, counted := countWords[x.Quantity]
		switch {
		case x.Count != nil && counted:
			add(&counts, catalog.Count(*x.Count, words[0], words[1]))
		case x.Value != nil && x.Quantity != measure.QUnknown:
			add(&sizes, QuantityWords[x.Quantity]+" "+catalog.Both(*x.Value))
		}
	}
	for _, s := range r.Statements {
		add(&said, statementWords(s))
	}
	return slices.Concat(sizes, counts, said)
}

// statementWords says a statement back.
func statementWords(s measure.Statement) string {
	value, denied := strings.CutPrefix(s.Value, "not ")
	text := saidOtherwise[[2]string{s.Kind, value}]
	if text == "" {
		text = value
		if words := saidWords[s.Kind]; words != "" {
			text = strings.ReplaceAll(words, "%s", value)
		}
	}
	if denied {
		return "not: " + text
	}
	return text
}

// DoorRead says a door back, a few words each, in the same words as what is read of a text.
func DoorRead(d catalog.Door) []string {
	var out []string
	for _, l := range []struct {
		name   string
		length measure.Length
	}{{"door width", d.Width}, {"door height", d.Height}, {"door thickness", d.Thickness}, {"inset", d.Inset}, {"clearance", d.Clearance}} {
		if l.length > 0 {
			out = append(out, l.name+" "+catalog.Both(l.length))
		}
	}
	if d.Weight > 0 {
		out = append(out, "door weight "+catalog.Kilograms(d.Weight))
	}
	if d.Count > 0 {
		out = append(out, catalog.Count(d.Count, "door", "doors"))
	}
	if d.Hinges > 0 {
		out = append(out, catalog.Count(d.Hinges, "hinge on each door", "hinges on each door"))
	}
	if d.Core != "" {
		out = append(out, d.Core+" core")
	}
	if d.Material != "" {
		out = append(out, d.Material)
	}
	switch d.Place {
	case "":
	case "coastal":
		out = append(out, "near the sea")
	case "wet":
		out = append(out, "wet place")
	default:
		out = append(out, d.Place+" door")
	}
	switch d.Use {
	case "":
	case "high":
		out = append(out, "heavy use")
	default:
		out = append(out, d.Use+" use")
	}
	if d.Swing != "" {
		out = append(out, "swings "+d.Swing)
	}
	if d.Closer {
		out = append(out, "with a closer")
	}
	if d.FireRated {
		out = append(out, "fire-rated")
	}
	return out
}

// WishesRead says wishes back, a few words each.
func WishesRead(w catalog.Wishes) []string {
	var out []string
	if w.Count > 0 {
		out = append(out, catalog.Count(w.Count, "hinge wanted", "hinges wanted"))
	}
	if w.Finish != "" {
		out = append(out, w.Finish)
	}
	for _, s := range []measure.Statement{{Kind: "bearing", Value: string(w.Bearing)}, {Kind: "pin", Value: w.PinKind}, {Kind: "handing", Value: w.Handing}, {Kind: "spring", Value: w.Spring}} {
		if s.Value != "" {
			out = append(out, statementWords(s))
		}
	}
	return out
}
