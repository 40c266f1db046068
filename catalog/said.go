package catalog

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// said are statements, denials turned into what they state.
type said []measure.Statement

// opposites are what the denial of a statement states, by kind and value. A denial that leaves
// more than one thing open ("not oak") states nothing.
var opposites = map[[2]string]string{
	{"bearing", "ball"}:      string(measure.PlainBearing),
	{"bearing", "plain"}:     string(measure.BallBearing),
	{"fire_label", "rated"}:  "none",
	{"handing", "left"}:      "right",
	{"handing", "right"}:     "left",
	{"pin", "loose"}:         "fixed",
	{"pin", "fixed"}:         "loose",
	{"pin", "non-removable"}: "loose",
	{"spring", "spring"}:     "none",
	{"swing", "in"}:          "out",
	{"swing", "out"}:         "in",
	{"use", "exterior"}:      "interior",
	{"use", "interior"}:      "exterior",
	{"wood", "hollow core"}:  "solid core",
	{"wood", "solid core"}:   "hollow core",
}

// values are what was stated of a kind, in the order in which it was said.
func (s said) values(kind string) []string {
	var out []string
	for _, st := range s {
		if st.Kind != kind {
			continue
		}
		value := st.Value
		if of, denied := strings.CutPrefix(value, "not "); denied {
			value = opposites[[2]string{kind, of}]
		}
		if value != "" {
			out = append(out, value)
		}
	}
	return out
}

func (s said) first(kind string) string {
	if v := s.values(kind); len(v) > 0 {
		return v[0]
	}
	return ""
}

// A meaning is what a stated value is called elsewhere.
type meaning struct{ said, is string }

var (
	// placesSaid and usesSaid stand with what asks more of a hinge first: of several that are
	// said, "front door by the sea", that one holds.
	placesSaid = []meaning{{"coastal", "coastal"}, {"exterior", "outside"}, {"bathroom", "wet"}, {"interior", "inside"}}
	usesSaid   = []meaning{{"heavy", "high"}, {"medium", "medium"}, {"low", "low"}}
	coresSaid  = []meaning{{"hollow core", "hollow"}, {"solid core", "solid"}}
	// handsSaid: a reverse door's hand is told from the side to which it opens, and its hinges
	// are those of the other hand. So is a door's by the German rule.
	handsSaid = []meaning{{"left", "left"}, {"right", "right"}, {"left reverse", "right"}, {"right reverse", "left"}, {"din left", "right"}, {"din right", "left"}}
)

// meant is the first of meanings that values say; "" none.
func meant(values []string, meanings []meaning) string {
	for _, m := range meanings {
		if slices.Contains(values, m.said) {
			return m.is
		}
	}
	return ""
}

// Heard fills what is empty in d from statements.
func (d Door) Heard(statements []measure.Statement) Door {
	s := said(statements)
	uses, woods := s.values("use"), s.values("wood")
	d.Place = cmp.Or(d.Place, meant(uses, placesSaid))
	d.Use = cmp.Or(d.Use, meant(uses, usesSaid))
	d.Closer = d.Closer || slices.Contains(uses, "closer")
	d.Core = cmp.Or(d.Core, meant(woods, coresSaid))
	for _, w := range woods {
		if meant([]string{w}, coresSaid) == "" {
			d.Material = cmp.Or(d.Material, w)
		}
	}
	d.FireRated = d.FireRated || slices.Contains(s.values("fire_label"), "rated")
	d.Swing = cmp.Or(d.Swing, s.first("swing"))
	if kg, _, ok := strings.Cut(s.first("weight"), "kg"); ok && d.Weight == 0 {
		d.Weight, _ = strconv.ParseFloat(kg, 64)
	}
	return d
}

// finishesOf are the finishes of names, each look once: of several nobody but the customer knows which
// hinge is to have which.
func finishesOf(names []string) (out []string) {
	var looks []string
	for _, n := range names {
		f, _ := FindFinish(n, "")
		if look := cmp.Or(f.Look, n); !slices.Contains(looks, look) {
			looks, out = append(looks, look), append(out, n)
		}
	}
	return out
}

// Heard fills what is empty in w from statements. Of two hands none is taken.
func (w Wishes) Heard(statements []measure.Statement) Wishes {
	s := said(statements)
	w.Finish = cmp.Or(w.Finish, strings.Join(finishesOf(s.values("finish")), " and "))
	w.Bearing = cmp.Or(w.Bearing, measure.Bearing(s.first("bearing")))
	w.PinKind = cmp.Or(w.PinKind, s.first("pin"))
	if springs := s.values("spring"); w.Spring == "" && len(springs) > 0 {
		w.Spring = springs[len(springs)-1] // "it has spring hinges, I want ones without"
	}
	if w.Handing == "" {
		for _, v := range s.values("handing") {
			hand := meant([]string{v}, handsSaid)
			if w.Handing != "" && hand != w.Handing {
				w.Handing = ""
				break
			}
			w.Handing = hand
		}
	}
	return w
}
