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

// Understood plays back in one line what was read of the inquiry's text and what is wished beside it;
// "" where that is nothing.
func (q Inquiry) Understood() string {
	heard := understood(q.Readings())
	for _, w := range WishesRead(q.Wishes) {
		if !slices.Contains(heard, w) {
			heard = append(heard, w)
		}
	}
	if len(heard) > maxHeard {
		heard = append(heard[:maxHeard], "and more")
	}
	return strings.Join(heard, ", ")
}

// countWords are what is counted, of one and of more.
var countWords = map[measure.Quantity][2]string{
	measure.QHoleCount: {"hole", "holes"}, measure.QKnuckles: {"knuckle", "knuckles"}, measure.QHingeCount: {"hinge", "hinges"},
	measure.QHingesPerDoor: {"hinge on each door", "hinges on each door"}, measure.QDoorCount: {"door", "doors"},
}

// saidWords are the words about a stated value; %s stands for it.
var saidWords = map[string]string{
	"corner": "%s corners", "bearing": "%s bearing", "pin": "%s pin", "handing": "%s hand", "swing": "swings %s",
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

// WishesRead says wishes back, a few words each.
func WishesRead(w catalog.Wishes) []string {
	var out []string
	if w.Count > 0 {
		out = append(out, catalog.Count(w.Count, "hinge", "hinges"))
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
