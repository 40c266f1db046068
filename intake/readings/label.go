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
	for j := i; j < e && j < i+6; j++ {
		w := p.wordAt(j)
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
		value := s.value
		if w := p.wordAt(i - 1); w == "not" || w == "isn't" || w == "aren't" || w == "no" && s.words[0] != "no" {
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
	add := func(d dim, s subject) []label {
		if n := len(labels); n > 0 && d != dNone && labels[n-1].dim == d && labels[n-1].sub == s && labels[n-1].tok >= i-2 {
			labels[n-1].tok = i
			return labels
		}
		return append(labels, label{tok: i, dim: d, sub: s})
	}
	switch w {
	case "edge", "edges", "rand", "kante", "bord", "side":
		if w == "side" && !p.near(i, b, "from", "to") {
			if p.near(i, b, "per", "one", "each") {
				return add(dNone, sLeaf)
			}
			return labels
		}
		if p.near(i, b, "edge", "edges") && p.near(i, b, "to") { // "edge to edge"
			if n := len(labels); n > 0 && labels[n-1].dim == dEdge {
				labels[n-1] = label{tok: i, dim: dOpen}
				return labels
			}
		}
		if p.near(i, b, "short") {
			return add(dEnd, sNone)
		}
		if p.near(i, b, "pin", "barrel", "knuckle") && p.near(i, b, "to") || p.wordAt(i+1) == "to" && (p.near(i+5, i, "pin", "barrel", "knuckle")) {
			return add(dWidth, sLeaf)
		}
		if p.near(i, b, "from", "to", "von", "du", "vom", "hole", "holes", "off") || p.wordAt(i+1) == "to" || p.wordAt(i+1) == "distance" || p.wordAt(i+2) == "to" || p.wordAt(i+3) == "to" {
			return add(dEdge, sNone)
		}
		return labels
	case "end", "ends", "top", "bottom", "ende", "oben", "unten":
		if p.near(i, b, "from", "to", "vom", "von") || p.wordAt(i+1) == "to" || p.wordAt(i+1) == "distance" {
			return add(dEnd, sNone)
		}
		return labels
	case "open", "opened", "overall", "outside", "unfolded", "spread":
		if dimWords[p.wordAt(i+1)] == dWidth || dimWords[p.wordAt(i-1)] == dWidth || p.wordAt(i+1) == "size" {
			return labels // the width says it
		}
		return add(dOpen, sNone)
	case "center", "centre", "centers", "centres", "ctr", "c":
		j := i + 1
		if k := p.kindAt(j); k == tSlash || k == tDash {
			j++
		}
		if p.wordAt(j) == "to" {
			j++
		}
		switch p.wordAt(j) {
		case "center", "centre", "centers", "centres", "ctr", "c":
			return add(dSpacing, sNone)
		}
		if p.near(i, b, "on") && (p.wordAt(i-1) == "on") {
			return add(dSpacing, sNone)
		}
		return labels
	case "bar": // beside the printed card, "scale bar" too
		return add(dScale, sNone)
	case "countersink", "rim":
		return add(dNone, sSink)
	case "countersunk", "bore":
		return add(dNone, sHole)
	case "hole":
		if p.wordAt(i+1) == "to" && p.wordAt(i+2) == "hole" {
			return add(dSpacing, sNone)
		}
	case "closed", "folded", "shut":
		// Closed, a hinge is as wide as one leaf and some of the barrel.
		if n := len(labels); n > 0 && labels[n-1].dim == dWidth && labels[n-1].tok >= i-3 {
			labels[n-1].sub = sLeaf
			return labels
		}
	}
	if d, ok := dimWords[w]; ok && d != dNone {
		if d == dHeight && w == "long" && p.wordAt(i-1) == "as" || d == dHeight && w == "long" && p.wordAt(i-1) == "how" {
			return labels
		}
		if d == dSpacing && w == "between" && !p.nearAhead(i, e, "hole", "holes", "centres", "centers", "them", "screws", "screw") {
			return labels
		}
		return add(d, sNone)
	}
	if d, ok := letterDims[w]; ok {
		next, prev := p.kindAt(i+1), kind(tOther)
		if i > b {
			prev = p.kindAt(i - 1)
		}
		numberNext := next == tNumber || next == tVulgar || next == tColon || next == tPoint && p.kindAt(i+2) == tNumber || next == tDash && p.kindAt(i+2) == tNumber && w == "r"
		numberPrev := prev == tNumber || prev == tVulgar || prev == tDouble || prev == tPrime || prev == tWord && unitWords[p.wordAt(i-1)] != ""
		if numberNext || numberPrev || next == tTimes || prev == tTimes {
			return add(d, sNone)
		}
		return labels
	}
	if s, ok := subjectWords[w]; ok {
		switch {
		case s == sDoor && subjectWords[p.wordAt(i+1)] == sHinge: // "door hinge"
			return labels
		case w == "screw" || w == "screws":
			if subjectWords[p.wordAt(i+1)] == sHole {
				return labels
			}
		case w == "card" && p.near(i, b, "scale"):
			return labels
		}
		return add(dNone, s)
	}
	return labels
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
