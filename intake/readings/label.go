package readings

import (
	"slices"
	"strings"

	"leafgauge/measure"
)

// A label names a size or a thing at a token.
type label struct {
	tok  int
	dim  dim
	sub  subject
	used bool
}

// counts reports whether a count noun follows the amount.
func (p *parser) counts(a amount, e int) bool {
	_, _, ok := p.countNoun(a.upt, e)
	return ok
}

// countNoun finds a count noun at i, adjectives passed over.
func (p *parser) countNoun(i, e int) (q measure.Quantity, at int, ok bool) {
	if p.kindAt(i) == tDash {
		i++
	}
	for j := i; j < e && j < i+7; j++ {
		w := p.wordAt(j)
		if p.kindAt(j) == tDash && j > i && countAdjectives[p.wordAt(j-1)] && countAdjectives[p.wordAt(j+1)] {
			continue // "self-closing"
		}
		if w == "screw" || w == "door" {
			if _, next := countNouns[p.wordAt(j+1)]; next {
				continue
			}
		}
		if q, ok := countNouns[w]; ok {
			return q, j, true
		}
		if w == "no" && j == i && p.kindAt(j+1) == tPoint { // "6 no. hinges"
			return measure.QHingeCount, j, true
		}
		if !countAdjectives[w] {
			break
		}
	}
	return "", 0, false
}

// saying matches a statement at token i and returns how many tokens it took.
func (p *parser) saying(i, e int) int {
	if p.kindAt(i) == tJunk {
		if code := p.toks[i].word; strings.HasPrefix(code, "us") && len(code) <= 5 && len(code) >= 3 && isDigit(code[2]) {
			p.state("finish", strings.ToUpper(code), i, i+1)
			return 1
		}
		return 0
	}
	for _, s := range sayings()[p.wordAt(i)] {
		j, n := i, 0
		for n < len(s.words) && j < e {
			if p.kindAt(j) == tDash && n > 0 {
				j++
				continue
			}
			if p.wordAt(j) != s.words[n] {
				break
			}
			j, n = j+1, n+1
		}
		if n < len(s.words) {
			continue
		}
		if len(s.words) == 1 && s.kind == "wood" && p.wordAt(i+1) == "colour" {
			continue
		}
		if slices.Contains(statesNothing[s.words[len(s.words)-1]], p.wordAt(j)) {
			continue
		}
		value := s.value
		switch p.wordAt(i - 1) {
		case "no", "not", "isn't", "aren't", "without", "doesn't":
			value = "not " + value
		}
		p.state(s.kind, value, i, j)
		return j - i
	}
	return 0
}

// finishNumber takes a BHMA finish number, which is told as such: "652 finish", "finish 626".
func (p *parser) finishNumber(i, b, e int) bool {
	t := p.toks[i]
	if t.kind != tNumber || !t.whole || t.value < 600 || t.value > 699 {
		return false
	}
	if i+1 < e && p.wordAt(i+1) == "finish" || i > b && (p.wordAt(i-1) == "finish" || p.wordAt(i-1) == "bhma") || i > b+1 && p.kindAt(i-1) == tColon && p.wordAt(i-2) == "finish" {
		p.state("finish", t.digits, i, i+1)
		p.stated = append(p.stated, i)
		return true
	}
	return false
}

func (p *parser) state(kind, value string, i, j int) {
	text := p.text[p.toks[i].at:p.toks[j-1].end]
	for _, s := range p.out.Statements {
		if s.Kind == kind && s.Value == value {
			return
		}
		if len(p.out.Statements) > maxStatements {
			return
		}
	}
	p.out.Statements = append(p.out.Statements, measure.Statement{Kind: kind, Value: value, Text: text})
}

// maxStatements bounds the list; there are not so many different ones.
const maxStatements = 100

// label adds what the word at token i names.
func (p *parser) label(i, b, e int, labels []label) []label {
	if p.kindAt(i) != tWord {
		return labels
	}
	w := p.toks[i].word
	switch w {
	case "edge", "edges", "rand", "kante", "bord":
		return p.labelEdge(i, b, labels)
	case "side":
		return p.labelSide(i, b, labels)
	case "end", "ends", "top", "bottom", "ende", "oben", "unten":
		if p.near(i, b, "from", "to", "vom", "von") || p.wordAt(i+1) == "to" || p.wordAt(i+1) == "distance" {
			return addLabel(labels, i, dEnd, sNone)
		}
		return labels
	case "open", "opened", "overall", "outside", "unfolded", "spread":
		if dimWords[p.wordAt(i+1)] == dWidth || dimWords[p.wordAt(i-1)] == dWidth || p.wordAt(i+1) == "size" {
			return labels // the width says it
		}
		return addLabel(labels, i, dOpen, sNone)
	case "center", "centre", "centers", "centres", "ctr", "c":
		if p.toCentre(i+1) || p.wordAt(i-1) == "on" && i > b { // "centre to centre", "on centre"
			return addLabel(labels, i, dSpacing, sNone)
		}
		return labels
	case "bar": // beside the printed card, "scale bar" too
		return addLabel(labels, i, dScale, sNone)
	case "countersink", "rim":
		return addLabel(labels, i, dNone, sSink)
	case "countersunk", "bore":
		return addLabel(labels, i, dNone, sHole)
	case "hole":
		if p.wordAt(i+1) == "to" && p.wordAt(i+2) == "hole" {
			return addLabel(labels, i, dSpacing, sNone)
		}
	case "closed", "folded", "shut":
		// Closed, a hinge is as wide as one leaf and some of the barrel.
		if n := len(labels); n > 0 && labels[n-1].dim == dWidth && labels[n-1].tok >= i-3 {
			labels[n-1].sub = sLeaf
			return labels
		}
	}
	if d := dimWords[w]; d != dNone {
		if p.noSize(i, e, d) {
			return labels
		}
		return addLabel(labels, i, d, sNone)
	}
	if d, ok := letterDims[w]; ok {
		if p.facesNumber(i, b) {
			return addLabel(labels, i, d, sNone)
		}
		return labels
	}
	if s, ok := subjectWords[w]; ok && !p.noThing(i, b, s) {
		return addLabel(labels, i, dNone, s)
	}
	return labels
}

// addLabel adds a label at token i; one that says what the label just before it said, as in "wide
// across", only moves that on.
func addLabel(labels []label, i int, d dim, s subject) []label {
	if n := len(labels); n > 0 && d != dNone && labels[n-1].dim == d && labels[n-1].sub == s && labels[n-1].tok >= i-2 {
		labels[n-1].tok = i
		return labels
	}
	return append(labels, label{tok: i, dim: d, sub: s})
}

// labelEdge: "edge to edge" is the whole width, "from pin to edge" a leaf's; else an edge is what a
// hole's place is told from.
func (p *parser) labelEdge(i, b int, labels []label) []label {
	if n := len(labels); n > 0 && labels[n-1].dim == dEdge && p.near(i, b, "edge", "edges") && p.near(i, b, "to") {
		labels[n-1] = label{tok: i, dim: dOpen}
		return labels
	}
	after := func(n int) bool { return p.wordAt(i+n) == "to" }
	switch {
	case p.near(i, b, "short"):
		return addLabel(labels, i, dEnd, sNone)
	case p.near(i, b, "pin", "barrel", "knuckle") && p.near(i, b, "to"), after(1) && p.near(i+5, i, "pin", "barrel", "knuckle"):
		return addLabel(labels, i, dWidth, sLeaf)
	case p.near(i, b, "from", "to", "von", "du", "vom", "hole", "holes", "off"), after(1), after(2), after(3), p.wordAt(i+1) == "distance":
		return addLabel(labels, i, dEdge, sNone)
	}
	return labels
}

// labelSide: "from one side"; "per side" is each leaf.
func (p *parser) labelSide(i, b int, labels []label) []label {
	switch {
	case p.near(i, b, "from", "to"):
		return p.labelEdge(i, b, labels)
	case p.near(i, b, "per", "one", "each"):
		return addLabel(labels, i, dNone, sLeaf)
	}
	return labels
}

// toCentre reports "to centre", "/centre", "-centre" and the like from token j on.
func (p *parser) toCentre(j int) bool {
	if k := p.kindAt(j); k == tSlash || k == tDash {
		j++
	}
	if p.wordAt(j) == "to" {
		j++
	}
	switch p.wordAt(j) {
	case "center", "centre", "centers", "centres", "ctr", "c":
		return true
	}
	return false
}

// noSize reports that the word of a size at token i is used otherwise: "as long as", "how long",
// "between" of anything but holes.
func (p *parser) noSize(i, e int, d dim) bool {
	switch {
	case d == dHeight && p.wordAt(i) == "long":
		return p.wordAt(i-1) == "as" || p.wordAt(i-1) == "how"
	case d == dSpacing && p.wordAt(i) == "between":
		return !p.nearAhead(i, e, "hole", "holes", "centres", "centers", "them", "screws", "screw")
	}
	return false
}

// facesNumber reports whether a number, or an x, stands right at the letter at token i.
func (p *parser) facesNumber(i, b int) bool {
	switch p.kindAt(i + 1) {
	case tNumber, tVulgar, tColon, tTimes:
		return true
	case tPoint: // "h. 3.5"
		if p.kindAt(i+2) == tNumber {
			return true
		}
	case tDash: // "r-6"
		if p.kindAt(i+2) == tNumber && p.wordAt(i) == "r" {
			return true
		}
	}
	if i == b {
		return false
	}
	switch p.kindAt(i - 1) {
	case tNumber, tVulgar, tDouble, tPrime, tTimes:
		return true
	case tWord:
		return unitOf(p.wordAt(i-1)) != ""
	}
	return false
}

// noThing reports that the word of a thing at token i only goes with the next or the one before:
// "door hinge", "screw hole", "scale card".
func (p *parser) noThing(i, b int, s subject) bool {
	switch w := p.wordAt(i); {
	case s == sDoor:
		return subjectWords[p.wordAt(i+1)] == sHinge
	case w == "screw" || w == "screws":
		return subjectWords[p.wordAt(i+1)] == sHole
	case w == "card":
		return p.near(i, b, "scale")
	}
	return false
}

// near reports whether one of words stands among the four tokens before i, not before b.
func (p *parser) near(i, b int, words ...string) bool {
	for j := i - 1; j >= b && j >= i-4; j-- {
		if w := p.wordAt(j); w != "" && slices.Contains(words, w) {
			return true
		}
	}
	return false
}

func (p *parser) nearAhead(i, e int, words ...string) bool {
	for j := i + 1; j < e && j <= i+4; j++ {
		if w := p.wordAt(j); w != "" && slices.Contains(words, w) {
			return true
		}
	}
	return false
}
