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
		code := p.toks[i].word
		if len(code) == 4 && strings.HasPrefix(code, "fd") && isDigit(code[2]) { // a fire door of so many minutes
			p.state("fire_label", "rated", i, i+1)
			return 1
		}
		if strings.HasPrefix(code, "us") && len(code) <= 5 && len(code) >= 3 && isDigit(code[2]) {
			p.state("finish", strings.ToUpper(code), i, i+1)
			return 1
		}
		return 0
	}
	if p.wordAt(i) == "outside" && i > 0 && p.endsClause(i+1, e) && dimWords[p.wordAt(i-1)] == dNone {
		p.state("use", "exterior", i, i+1)
		return 1
	}
	for _, s := range sayings()[p.wordAt(i)] {
		j, n := i, 0
		for n < len(s.words) && j < e {
			if n > 0 && (p.kindAt(j) == tDash || p.kindAt(j) == tPoint && p.gluedAt(j)) { // "sq.cor"
				j++
				continue
			}
			if w := p.wordAt(j); w != s.words[n] && !(n == len(s.words)-1 && len(w) > 4 && w == s.words[n]+"s") { // "fire doors"
				break
			}
			j, n = j+1, n+1
		}
		if n < len(s.words) {
			continue
		}
		if p.wordAt(i) == "square" && len(s.words) == 1 && i > 0 && (unitOf(p.wordAt(i-1)) != "" || p.kindAt(i-1) == tDouble) {
			return 0 // "3 1/2 inches square" is a size both ways
		}
		if len(s.words) == 1 && s.kind == "wood" && p.wordAt(i+1) == "colour" {
			continue
		}
		if slices.Contains(statesNothing[s.words[len(s.words)-1]], p.wordAt(j)) {
			continue
		}
		if w := p.wordAt(j); p.wordAt(j) == "not" && (p.wordAt(j+1) == "needed" || p.wordAt(j+1) == "necessary" || p.wordAt(j+1) == "required" || p.wordAt(j+1) == "important") || w == "optional" {
			return j - i // said not to matter
		}
		if s.kind == "finish" && p.noFinish(i, j) || s.kind == "corner" && p.cornersDiffer(i) {
			return j - i
		}
		value := s.value
		before := p.wordAt(i - 1)
		if s.kind == "wood" && (streetWords[p.wordAt(j)] || p.wordAt(j) == "close" || p.wordAt(j) == "way") {
			continue // "4 Birch Close"
		}
		if w := p.wordAt(i - 2); before == "but" && (w == "anything" || w == "finish" || w == "colour" || w == "color" || w == "any") || before == "or" && p.deniedBefore(i-1, s.kind) {
			before = "not"
		}
		switch before {
		case "the", "a", "an", "any", "want", "like", "old": // "not the ball bearing kind", "it isn't a spring hinge", "don't want brass"
			before = p.wordAt(i - 2)
		}
		if w := p.wordAt(i - 2); before == "of" && (w == "instead" || w == "tired" || w == "sick") || p.wordAt(i-2) == "of" && p.wordAt(i-1) == "the" && (p.wordAt(i-3) == "tired" || p.wordAt(i-3) == "sick" || p.wordAt(i-3) == "instead") {
			before = "not"
		}
		switch before {
		case "don't", "dont", "no", "not", "isn't", "aren't", "without", "doesn't", "wasn't", "never":
			value = "not " + value
			if s.kind == "spring" {
				value = "none"
			}
		}
		p.state(s.kind, value, i, j)
		return j - i
	}
	return 0
}

// deniedBefore reports that what ends right before token i was said not to be wanted: "not chrome or brass".
func (p *parser) deniedBefore(i int, kind string) bool {
	n := len(p.out.Statements)
	if n == 0 {
		return false
	}
	last := p.out.Statements[n-1]
	return last.Kind == kind && strings.HasPrefix(last.Value, "not ") && i > 0 && strings.HasSuffix(strings.ToLower(p.text[:p.toks[i-1].end]), strings.ToLower(last.Text))
}

// noFinish reports that the colour at tokens i … j-1 is not the hinge's: "the black bar", "a coat of
// primer".
func (p *parser) noFinish(i, j int) bool {
	w := p.wordAt(j)
	coin := i+1 == j && p.wordAt(i) == "nickel" && (p.wordAt(i-1) == "a" || p.wordAt(i-1) == "us")
	return coin || w == "bar" || w == "line" || p.wordAt(i-1) == "of" && (p.wordAt(i-2) == "coat" || p.wordAt(i-2) == "coats")
}

// cornersDiffer reports that the leaves are told apart from token i's sentence on: "square on one leaf
// and 5/8 radius on the other". Neither corner is the hinge's then.
func (p *parser) cornersDiffer(i int) bool {
	one, other := false, false
	for j := max(p.begin, i-40); j < len(p.toks) && j < i+40 && (j < i || !p.breaks(j)); j++ {
		if p.wordAt(j) == "on" {
			one = one || p.wordAt(j+1) == "one"
			other = other || one && p.wordAt(j+1) == "the" && p.wordAt(j+2) == "other"
		}
	}
	return other
}

// saysSquare reports whether the statement at tokens i … j-1 is of square corners: these are no
// thing that has a size.
func (p *parser) saysSquare(i, j int) bool {
	for ; i < j; i++ {
		if w := p.wordAt(i); w == "square" || w == "squared" || w == "sq" || w == "sharp" {
			return true
		}
	}
	return false
}

// labelStated names the thing that a statement at tokens i … j-1 speaks of without its word: the
// core is a door's, and "rounded 5/8" tells a corner.
func (p *parser) labelStated(i, j int, labels []label) []label {
	switch w := p.wordAt(i); {
	case p.wordAt(j-1) == "core":
		return addLabel(labels, i, dNone, sDoor)
	case (w == "round" || w == "rounded" || w == "rd") && (p.kindAt(j) == tNumber || p.kindAt(j) == tVulgar):
		return addLabel(labels, j-1, dNone, sCorner)
	}
	return labels
}

// finishNumber takes a BHMA finish number, which is told as such: "652 finish", "finish 626".
func (p *parser) finishNumber(i, b, e int) bool {
	t := p.toks[i]
	if t.kind == tNumber && p.gluedAt(i+1) && finishSymbols[t.digits+p.wordAt(i+1)] {
		p.state("finish", "US"+strings.ToUpper(t.digits+p.wordAt(i+1)), i, i+2)
		p.stated = append(p.stated, i, i+1)
		return true
	}
	if t.kind != tNumber || !t.whole || t.value < 600 || t.value > 699 {
		return false
	}
	if finishNumbers[t.digits] && p.standsAlone(i, e) {
		p.state("finish", t.digits, i, i+1)
		p.stated = append(p.stated, i)
		return true
	}
	if i+1 < e && p.wordAt(i+1) == "finish" || i > b && (p.wordAt(i-1) == "finish" || p.wordAt(i-1) == "bhma") || i > b+1 && p.kindAt(i-1) == tColon && p.wordAt(i-2) == "finish" {
		p.state("finish", t.digits, i, i+1)
		p.stated = append(p.stated, i)
		return true
	}
	return false
}

// finishSymbols are US symbols that are typed without their US; finishNumbers the BHMA numbers that
// are typed without a word. Others are taken only with one.
var (
	finishSymbols = map[string]bool{"10a": true, "10b": true, "15a": true, "26d": true, "32d": true}
	finishNumbers = map[string]bool{"605": true, "606": true, "609": true, "612": true, "613": true, "618": true, "619": true, "622": true, "625": true, "626": true, "629": true, "630": true, "640": true, "643": true, "646": true, "651": true, "652": true}
)

// standsAlone reports that the number at token i has no unit, label or x, and is not of a door.
func (p *parser) standsAlone(i, e int) bool {
	if u, _, _ := p.unit(i+1, amount{}); u != "" || p.kindAt(i+1) == tTimes || p.kindAt(i-1) == tTimes || p.kindAt(i+1) == tSlash || p.kindAt(i+1) == tDash || p.kindAt(i-1) == tOther || p.kindAt(i-1) == tColon || p.general == "mm" {
		return false
	}
	for j := max(i-4, 0); j < e && j <= i+3; j++ {
		w := p.wordAt(j)
		if d := dimWords[w]; d != dNone || subjectWords[w] == sDoor || numberedWords[w] || w == "by" || needWords[w] || w == "hinges" {
			return false
		}
	}
	return true
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

// hingeAhead reports that the hinge itself is named behind token i.
func (p *parser) hingeAhead(i int) bool {
	for j := i + 1; j < len(p.toks) && j < i+20; j++ {
		if subjectWords[p.wordAt(j)] == sHinge && p.wordAt(j-1) != "the" {
			return true
		}
	}
	return false
}

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
		if p.wordAt(i+1) == "to" && p.wordAt(i+2) == "side" {
			return addLabel(labels, i, dWidth, sNone)
		}
		if p.wordAt(i-1) == "to" && p.wordAt(i-2) == "side" {
			return labels
		}
		if p.near(i, b, "holes", "hole", "screws") && !p.near(i, b, "from", "to") {
			return labels // it goes with the holes
		}
		return p.labelSide(i, b, labels)
	case "top", "bottom":
		if p.wordAt(i+1) == "of" && (subjectWords[p.wordAt(i+2)] == sDoor || subjectWords[p.wordAt(i+3)] == sDoor) { // where the hinge hangs
			return addLabel(labels, i, dNone, sOther)
		}
		if w == "top" && p.wordAt(i+1) == "to" && p.wordAt(i+2) == "bottom" {
			return addLabel(labels, i, dHeight, sNone)
		}
		if p.wordAt(i-1) == "to" && p.wordAt(i-2) == "top" {
			return labels
		}
		fallthrough
	case "end", "ends", "ende", "oben", "unten":
		if p.wordAt(i+1) == "to" && p.wordAt(i+2) == "end" && w == "end" { // "end to end"
			return addLabel(labels, i, dHeight, sNone)
		}
		if p.wordAt(i-1) == "to" && p.wordAt(i-2) == "end" {
			return labels
		}
		if p.near(i, b, "from", "to", "vom", "von") || p.wordAt(i+1) == "to" || p.wordAt(i+1) == "distance" {
			return addLabel(labels, i, dEnd, sNone)
		}
		return labels
	case "cut", "cutout": // "cut out is 4 1/16 but hinge 4"
		if (w == "cutout" || p.wordAt(i+1) == "out") && p.hingeAhead(i) {
			return addLabel(labels, i, dNone, sOther)
		}
		return labels
	case "overall":
		if k := p.kindAt(i + 1); k == tNumber || k == tVulgar {
			return addLabel(labels, i, dHeight, sNone)
		}
		fallthrough
	case "open", "opened", "outside", "unfolded", "spread":
		if w := p.wordAt(i - 1); w == "when" || w == "if" || w == "fully" || w == "flat" || w == "it" {
			return labels // "50 mm wide when open"
		}
		if dimWords[p.wordAt(i+1)] == dWidth && (w == "open" || w == "opened" || w == "overall") {
			return addLabel(labels, i, dOpen, sNone)
		}
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
		if p.wordAt(i-1) == "no" {
			return labels
		}
		return addLabel(labels, i, dScale, sNone)
	case "countersink", "rim":
		return addLabel(labels, i, dNone, sSink)
	case "countersunk":
		if p.wordAt(i+1) == "to" {
			return addLabel(labels, i, dNone, sSink)
		}
		return addLabel(labels, i, dNone, sHole)
	case "bore":
		return addLabel(labels, i, dNone, sHole)
	case "hole", "holes":
		if p.near(i, b, "rim") { // "the rim of the screw hole"
			return labels
		}
		if p.wordAt(i+1) == "to" && p.wordAt(i+2) == "hole" {
			return addLabel(labels, i, dSpacing, sNone)
		}
	case "closed", "folded", "shut":
		// Closed, a hinge is as wide as one leaf and some of the barrel.
		if n := len(labels); n > 0 && labels[n-1].dim == dWidth && labels[n-1].tok >= i-3 {
			labels[n-1].dim = dFolded
			return labels
		}
		switch p.wordAt(i + 1) {
		case "up", "it", "it's", "its", "is", "shut", "width", "wide":
			return addLabel(labels, i, dFolded, sNone)
		}
		if p.kindAt(i+1) == tColon || p.kindAt(i+1) == tNumber {
			return addLabel(labels, i, dFolded, sNone)
		}
		return labels
	case "tip", "tips":
		if p.near(i, b, "with", "including", "overall", "incl") || p.wordAt(i-1) == "to" && p.near(i-1, b, "tip") {
			return addLabel(labels, i, dTips, sNone)
		}
		return labels
	}
	if d := dimWords[w]; d != dNone {
		if n := len(labels); d == dWidth && n > 0 && labels[n-1].dim == dOpen && labels[n-1].tok == i-1 { // "open width"
			labels[n-1].tok = i
			return labels
		}
		if n := len(labels); d == dWidth && n > 0 && labels[n-1].dim == dFolded && labels[n-1].tok == i-1 { // "closed width"
			labels[n-1].tok = i
			return labels
		}
		if p.noSize(i, e, d) {
			return labels
		}
		return addLabel(labels, i, d, sNone)
	}
	if d, ok := letterDims[w]; ok {
		if w == "w" && p.kindAt(i+1) == tSlash { // "w/ square corners"
			return labels
		}
		if p.facesNumber(i, b) {
			return addLabel(labels, i, d, sNone)
		}
		return labels
	}
	if subjectWords[w] == sDoor && p.near(i, b, "gap", "gaps", "recess", "play") { // "gap at the door 1/8"
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
	case p.near(i, b, "pin", "barrel", "knuckle") && p.near(i, b, "to"), after(1) && p.near(i+5, i, "pin", "barrel", "knuckle"), p.edgeToPin(i):
		return addLabel(labels, i, dWidth, sLeaf)
	case p.near(i, b, "from", "to", "von", "du", "vom", "hole", "holes", "off"), after(1), after(2), after(3), p.wordAt(i+1) == "distance":
		return addLabel(labels, i, dEdge, sNone)
	}
	return labels
}

// edgeToPin: "edge of the leaf to the middle of the pin".
func (p *parser) edgeToPin(i int) bool {
	to := false
	for j := i + 1; j <= i+10; j++ {
		switch w := p.wordAt(j); w {
		case "to":
			to = true
		case "pin", "barrel", "knuckle":
			return to
		case "of", "the", "leaf", "hinge", "middle", "center", "centre":
		default:
			return false
		}
	}
	return false
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
	case tClose: // "(h) 3.5"
		if p.kindAt(i-1) == tOpen {
			return true
		}
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
	case s == sPin:
		return p.near(i, b, "along")
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
