package intake

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"leafgauge/measure"
)

// ParseReadings finds the readings in free text: "3 1/2 x 3 1/2", "89 mm tall, 0.086 thick",
// a whole e-mail with its signature and the history quoted below it (both are passed over).
// A value that cannot be a hinge's or a door's is refused: it stands in Unread with the reason.
// So does every line or sentence in which nothing was understood. It takes time in proportion
// to the length of text.
func ParseReadings(text string) measure.Readings {
	p := &parser{text: text, out: measure.Readings{Readings: []measure.Reading{}, Statements: []measure.Statement{}, Unread: []string{}}}
	for _, s := range bodySpans(text) {
		for begin := s[0]; begin < s[1]; {
			end := chunkEnd(text, begin, s[1])
			p.toks = lex(text, begin, end, p.toks[:0])
			p.part()
			if begin = end; len(p.out.Readings)+len(p.out.Unread) > maxPieces {
				p.out.Unread = append(p.out.Unread, fmt.Sprintf("the text goes on with more sizes than anybody types: the last %d bytes were not read", s[1]-end))
				return p.out
			}
		}
	}
	return p.out
}

const (
	// chunk is how many bytes are taken apart at once; it bounds the memory, and breaks a
	// sentence only where a single line is longer.
	chunk = 1 << 16
	// maxPieces ends a text that is no letter.
	maxPieces = 2000
)

// chunkEnd is where the piece of text that begins at begin ends: at a line's end, or else
// between two words.
func chunkEnd(text string, begin, end int) int {
	if end-begin <= chunk {
		return end
	}
	piece := text[begin : begin+chunk]
	for _, sep := range []string{"\n", " "} {
		if i := strings.LastIndex(piece, sep); i > chunk/2 {
			return begin + i + 1
		}
	}
	i := chunk
	for i > chunk-utf8.UTFMax && !utf8.RuneStart(text[begin+i]) {
		i--
	}
	return begin + i
}

type parser struct {
	text string
	toks []token
	out  measure.Readings

	marks   []int32 // commas and brackets before each token
	general string  // the unit told for everything ("all in mm"); "" none
	told    measure.Instrument
	heading subject // of a line such as "Door:"
	carried subject // the thing spoken of in this sentence
	begin   int     // first token of this sentence
	stated  []int   // tokens at which a statement was understood in this sentence
}

// A label names a size or a thing at a token.
type label struct {
	tok  int
	dim  dim
	sub  subject
	used bool
}

// part reads p.toks: one run of text without quoted history in it.
func (p *parser) part() {
	p.marks = append(p.marks[:0], 0)
	for i := range p.toks {
		n := p.marks[i]
		if k := p.toks[i].kind; k == tComma || k == tOpen || k == tClose {
			n++
		}
		p.marks = append(p.marks, n)
	}
	p.general, p.told = p.toldUnit(), p.toldInstrument()
	p.heading = sNone
	begin := 0
	for i := 0; i <= len(p.toks); i++ {
		if i < len(p.toks) && !p.breaks(i) {
			continue
		}
		if i > begin {
			p.sentence(begin, i)
		}
		if i < len(p.toks) && p.toks[i].kind == tNewline && i+1 < len(p.toks) && p.toks[i+1].kind == tNewline {
			p.heading = sNone
		}
		begin = i + 1
	}
}

// breaks reports whether a line or sentence ends at token i.
func (p *parser) breaks(i int) bool {
	switch p.toks[i].kind {
	case tNewline, tBreak:
		return true
	case tPoint:
		if i+1 < len(p.toks) && p.toks[i+1].glued {
			return false // "3.5.in", "o.c."
		}
		if i == 0 || p.toks[i-1].kind != tWord {
			return true
		}
		w := p.toks[i-1].word
		if _, unit := unitWords[w]; unit || len(w) == 1 || w == "approx" || w == "dia" || w == "rad" || w == "ca" || w == "no" || w == "nr" || w == "abt" || w == "thk" {
			// An abbreviation, unless a new sentence begins behind it.
			return i+1 < len(p.toks) && p.toks[i+1].kind == tWord && isUpper(p.text[p.toks[i+1].at]) && len(w) > 1
		}
		return true
	}
	return false
}

func isUpper(c byte) bool { return c >= 'A' && c <= 'Z' }

// toldUnit finds "all in mm", "sizes in inches", "(mm)".
func (p *parser) toldUnit() string {
	for i := range p.toks {
		u := unitWords[p.wordAt(i)]
		if u != "in" && u != "mm" && u != "cm" || p.wordAt(i) == "in" {
			continue
		}
		if i > 0 && p.wordAt(i-1) == "in" && (i < 2 || p.toks[i-2].kind != tNumber) || i > 0 && p.kindAt(i-1) == tOpen && p.kindAt(i+1) == tClose ||
			i > 0 && (p.wordAt(i-1) == "all" || p.wordAt(i-1) == "are" || p.wordAt(i-1) == "alles") {
			return u
		}
	}
	return ""
}

// toldInstrument finds the one instrument that the text speaks of, if just one.
func (p *parser) toldInstrument() measure.Instrument {
	told := measure.Instrument("")
	for i := range p.toks {
		if k, ok := instrumentWords[p.wordAt(i)]; ok && k != measure.NominalSize {
			if told != "" && told != k {
				return ""
			}
			if w := p.wordAt(i - 1); w == "no" || w == "without" || w == "a" && p.wordAt(i-2) == "have" && p.wordAt(i-3) == "don't" {
				continue
			}
			told = k
		}
	}
	return told
}

// sentence reads tokens b … e-1.
func (p *parser) sentence(b, e int) {
	p.carried, p.begin, p.stated = p.heading, b, p.stated[:0]
	read := len(p.out.Readings) + len(p.out.Statements) + len(p.out.Unread)

	var amounts []amount
	var labels []label
	for i := b; i < e; {
		if a, ok := p.amountIn(i, e); ok {
			amounts = append(amounts, a)
			i = a.upt
			continue
		}
		if n := p.saying(i, e); n > 0 {
			p.stated = append(p.stated, i)
			// The words of a statement may still name the thing ("square corners").
			for j := i; j < i+n; j++ {
				if s, ok := subjectWords[p.wordAt(j)]; ok && s != sPin {
					labels = append(labels, label{tok: j, sub: s})
				}
			}
			i += n
			continue
		}
		labels = p.label(i, b, e, labels)
		i++
	}
	amounts = p.ranges(amounts)
	p.assign(amounts, labels, b, e)
	understood := p.stated
	for _, a := range amounts {
		if !a.junk && !a.gauge {
			understood = append(understood, a.tok)
		}
	}
	for _, l := range labels {
		understood = append(understood, l.tok)
	}
	slices.Sort(understood)
	p.stated = understood[:0]

	if read == len(p.out.Readings)+len(p.out.Statements)+len(p.out.Unread) {
		if len(amounts) == 0 && e-b <= 3 && p.kindAt(e-1) == tColon && len(labels) > 0 && labels[len(labels)-1].sub != sNone {
			p.heading = labels[len(labels)-1].sub
			return
		}
		p.keepUnread(b, e)
		return
	}
	// Clauses of a sentence that was read otherwise.
	for begin, i, u := b, b, 0; i <= e; i++ {
		if i < e && p.toks[i].kind != tComma {
			continue
		}
		for u < len(understood) && understood[u] < begin {
			u++
		}
		if i > begin && (u == len(understood) || understood[u] >= i) {
			p.keepUnread(begin, i)
		}
		begin = i + 1
	}
}

// ranges makes one amount of "between 3 7/16 and 3 1/2" and of "3.4 to 3.6".
func (p *parser) ranges(amounts []amount) []amount {
	out := amounts[:0]
	for k := 0; k < len(amounts); k++ {
		a := amounts[k]
		if k+1 < len(amounts) {
			c := amounts[k+1]
			gap := c.tok - a.upt
			to := gap == 1 && (p.wordAt(a.upt) == "to" || p.wordAt(a.upt) == "or" || p.wordAt(a.upt) == "bis" || p.kindAt(a.upt) == tDash && (!a.whole || !c.whole)) ||
				gap == 1 && p.wordAt(a.upt) == "and" && p.wordAt(a.tok-1) == "between"
			if to && (a.unit == "" || a.unit == c.unit) && !a.junk && !c.negative {
				low, high := a.value, c.value
				switch {
				case c.junk:
					a.junk = true
				case low > 0 && high > low && high < 1.25*low:
					a.value, a.spread = (low+high)/2, (high-low)/2
					a.fraction, a.decimals = max(a.fraction, c.fraction), max(a.decimals, c.decimals)
				default:
					out = append(out, a)
					continue
				}
				a.end, a.upt, a.unit, a.whole = c.end, c.upt, c.unit, false
				k++
			}
		}
		out = append(out, a)
	}
	return out
}

// amountIn is amount, held inside the sentence.
func (p *parser) amountIn(i, e int) (amount, bool) {
	switch p.kindAt(i) {
	case tNumber, tVulgar, tWord:
	default:
		return amount{}, false
	}
	if p.kindAt(i) == tWord {
		w := p.wordAt(i)
		if _, n := numberWords[w]; !n {
			if _, f := fractionWords[w]; !f && w != "a" && w != "an" && w != "inch" {
				return amount{}, false
			}
		}
	}
	a, ok := p.amount(i)
	if !ok || a.upt > e {
		return amount{}, false
	}
	if a.word && a.whole && !p.counts(a, e) && p.kindAt(a.upt) != tTimes && p.wordAt(a.upt) != "by" && !p.afterTimes(i) &&
		dimWords[p.wordAt(a.upt)] == dNone && p.kindAt(a.upt) != tNumber && p.kindAt(a.upt) != tVulgar {
		return amount{}, false // "one of them", "the other two"
	}
	return a, true
}

func (p *parser) afterTimes(i int) bool {
	return i > 0 && (p.kindAt(i-1) == tTimes || p.wordAt(i-1) == "by")
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
	for _, s := range sayings[p.wordAt(i)] {
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
	case "scale":
		if p.wordAt(i+1) == "bar" {
			return add(dScale, sNone)
		}
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
	case "big", "size", "sized":
		return labels
	case "dime":
		return labels
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

// assign says of each amount in the sentence what it is a reading of.
func (p *parser) assign(amounts []amount, labels []label, b, e int) {
	l := 0 // first label behind the amounts already read
	for k := 0; k < len(amounts); {
		a := &amounts[k]
		if a.junk || a.gauge {
			k++
			for a.gauge && k < len(amounts) && p.kindAt(amounts[k-1].upt) == tTimes { // #10 x 1
				k++
			}
			continue
		}
		// The labels between the amount before and this one.
		before := b
		if k > 0 {
			before = amounts[k-1].upt
		}
		for l < len(labels) && labels[l].tok < before {
			if labels[l].sub != sNone {
				p.carried = labels[l].sub
			}
			l++
		}
		pre := labels[l:]
		n := 0
		for n < len(pre) && pre[n].tok < a.tok {
			n++
		}
		pre = pre[:n]

		if p.count(amounts, k, pre, e) {
			k++
			continue
		}
		if m := p.group(amounts, k, e); m > 1 {
			p.pair(amounts[k:k+m], pre, labels[l+n:], next(amounts, k+m, e))
			k += m
			continue
		}
		p.one(amounts, k, pre, labels[l+n:], e)
		k++
	}
}

func next(amounts []amount, k, e int) int {
	if k < len(amounts) {
		return amounts[k].tok
	}
	return e
}

// count takes amount k as a count where it is one.
func (p *parser) count(amounts []amount, k int, pre []label, e int) bool {
	a := amounts[k]
	mixedPair := false // "1 1/2 pair" is three hinges (trade usage)
	if !a.whole {
		w := p.wordAt(a.upt)
		if (w == "pair" || w == "pairs" || w == "pr") && a.value*2 == math.Trunc(a.value*2) && a.unit == "" {
			mixedPair = true
		} else {
			return false
		}
	}
	q, at, ok := p.countNoun(a.upt, next(amounts, k+1, e))
	if ok && p.wordAt(at) == "hinge" || ok && q == measure.QHoleCount && p.wordAt(at) == "screws" && p.kindAt(a.upt) == tDash {
		ok = false
	}
	if !ok && !mixedPair {
		// "need 3", "qty: 3", "knuckles: 5", "three 3 1/2 inch hinges"
		switch {
		case p.kindAt(a.upt) == tTimes && countNouns[p.wordAt(a.upt+1)] == measure.QHingeCount, // "6x hinges"
			p.kindAt(a.tok-1) == tTimes && countNouns[p.wordAt(a.tok-2)] == measure.QHingeCount: // "hinges x 6"
			p.addCount(measure.QHingeCount, a, int(a.value))
			return true
		case k+1 < len(amounts) && amounts[k+1].tok == a.upt+1 && p.kindAt(a.upt) == tTimes && amounts[k+1].unit != "" && p.hingesAfter(amounts[k+1].upt, e) &&
			p.group(amounts, k, e) == 2 && math.Abs(a.value*unitMM["in"]-amounts[k+1].value*unitMM[amounts[k+1].unit]) > 2*25.4: // "6 x 3.5 in hinges"
			p.addCount(measure.QHingeCount, a, int(a.value))
			return true
		case k+1 < len(amounts) && amounts[k+1].tok == a.upt && a.value <= 50 && !amounts[k+1].junk && p.hingesAfter(amounts[k+1].upt, e) && (!amounts[k+1].whole || amounts[k+1].unit != ""):
			p.addCount(measure.QHingeCount, a, int(a.value))
			return true
		case p.wordBefore(a.tok, p.begin, needWords) && !p.dimAhead(a, amounts, k, e) && a.value <= 500:
			p.addCount(measure.QHingeCount, a, int(a.value))
			return true
		case p.nounBefore(a.tok) != "" && !p.dimAhead(a, amounts, k, e) && a.value <= 12:
			p.addCount(p.nounBefore(a.tok), a, int(a.value))
			return true
		}
		return false
	}
	n := int(a.value)
	switch w := p.wordAt(at); {
	case mixedPair:
		n, q = int(math.Round(a.value*2)), measure.QHingeCount
	case w == "pair" || w == "pairs" || w == "pr":
		n *= 2
	}
	if q == measure.QKnuckles && p.kindAt(at+1) == tWord && dimWords[p.wordAt(at+1)] == dDiameter {
		return false
	}
	if q == measure.QHoleCount {
		for j := at + 1; j < e && j <= at+3; j++ {
			if w := p.wordAt(j); (w == "total" || w == "altogether" || w == "all") && n%2 == 0 {
				n /= 2 // the count is one leaf's
				break
			}
		}
		if p.wordAt(at) == "screws" && n > 12 {
			return false
		}
	}
	p.addCount(q, a, n)
	return true
}

// hingesAfter reports whether the word hinges stands within a few tokens.
func (p *parser) hingesAfter(i, e int) bool {
	for j := i; j < e && j < i+8; j++ {
		if w := p.wordAt(j); w == "hinges" || w == "butts" {
			return true
		}
		if k := p.kindAt(j); k == tComma {
			return false
		}
	}
	return false
}

func (p *parser) wordBefore(i, b int, words map[string]bool) bool {
	for j := i - 1; j >= b && j >= i-3; j-- {
		if words[p.wordAt(j)] {
			return true
		}
	}
	return false
}

// nounBefore reads "knuckles: 5", "holes 3", "no of hinges = 6".
func (p *parser) nounBefore(i int) measure.Quantity {
	j := i - 1
	for j >= p.begin && (p.kindAt(j) == tColon || p.wordAt(j) == "is" || p.wordAt(j) == "are") {
		j--
	}
	switch w := p.wordAt(j); w {
	case "count":
		return map[string]measure.Quantity{"hole": measure.QHoleCount, "hinge": measure.QHingeCount, "door": measure.QDoorCount, "knuckle": measure.QKnuckles}[p.wordAt(j-1)]
	case "holes", "knuckles", "hinges", "doors", "löcher", "scharniere", "türen", "screws":
		if j == i-1 && w == "screws" {
			return ""
		}
		return countNouns[w]
	}
	return ""
}

// dimAhead reports whether the amount is followed by a label, a unit or another size.
func (p *parser) dimAhead(a amount, amounts []amount, k, e int) bool {
	stop := next(amounts, k+1, e)
	if p.kindAt(a.upt) == tTimes || p.wordAt(a.upt) == "by" {
		return true
	}
	for j := a.upt; j < stop && j < a.upt+4; j++ {
		if p.kindAt(j) == tComma {
			return false
		}
		if d := dimWords[p.wordAt(j)]; d != dNone {
			return true
		}
		if w := p.wordAt(j); w == "from" || w == "hinge" {
			return true
		}
	}
	return false
}

func (p *parser) addCount(q measure.Quantity, a amount, n int) {
	limit := countLimits[q]
	text := p.text[a.at:a.end]
	switch {
	case a.negative:
		p.refuse("-"+text, "a count can't be negative")
		return
	case n <= 0:
		p.refuse(text, "a count of zero says nothing")
		return
	case n > limit:
		p.refuse(text, fmt.Sprintf("%s can't be that many", strings.ReplaceAll(string(q), "_", " ")))
		return
	}
	p.out.Readings = append(p.out.Readings, measure.Reading{Quantity: q, Count: &n, Instrument: measure.InstrumentUnknown, Text: text, At: [2]int{a.at, a.end}})
}

// countLimits are the largest counts that are taken for what they say.
var countLimits = map[measure.Quantity]int{measure.QHoleCount: 20, measure.QKnuckles: 15, measure.QHingeCount: 5000, measure.QDoorCount: 2000}

// group returns how many amounts from k on are joined by x or "by".
func (p *parser) group(amounts []amount, k, e int) int {
	n := 1
	for n < 3 && k+n < len(amounts) {
		a, c := amounts[k+n-1], amounts[k+n]
		if c.junk || c.gauge {
			break
		}
		joined := false
		for j := a.upt; j < c.tok; j++ {
			t := p.toks[j]
			switch {
			case t.kind == tTimes || t.kind == tWord && (t.word == "by" || t.word == "mal" || t.word == "sur"):
				if joined {
					return n
				}
				joined = true
			case t.kind == tWord && (dimWords[t.word] != dNone || letterDims[t.word] != dNone || t.word == "about" || t.word == "open" || t.word == "leaf"), t.kind == tPoint, t.kind == tTilde, t.kind == tColon:
			default:
				return n
			}
		}
		if !joined {
			break
		}
		n++
	}
	return n
}

// pair reads two or three sizes joined by x.
func (p *parser) pair(group []amount, pre, rest []label, stop int) {
	// The unit typed last holds for those before it.
	for i := len(group) - 2; i >= 0; i-- {
		if group[i].unit == "" && group[i+1].unit != "" && group[i+1].unit != "ft in" {
			with := group[i]
			with.unit = group[i+1].unit
			if (with.fraction == 0 || with.unit == "in") && (p.plausible(with, measure.QHeight) || p.plausible(with, measure.QDoorWidth) || !p.plausible(group[i], measure.QHeight)) {
				group[i] = with
			}
		}
	}
	last := group[len(group)-1]
	var own [3]dim // labels at the members
	named := 0
	var post []label
	inside := 0
	for inside < len(rest) && rest[inside].tok < stop {
		inside++
	}
	rest = rest[:inside]
	// A label right behind the last number is its own, unless the next number follows it.
	belongs := func(lb label) bool {
		return lb.tok <= last.upt+2 && !p.commaBetween(last.upt, lb.tok) && !p.feedsNumber(lb.tok, stop)
	}
	for _, lb := range rest {
		for m := range group {
			end := stop
			if m+1 < len(group) {
				end = group[m+1].tok
			}
			if lb.dim != dNone && lb.tok >= group[m].upt && lb.tok < end && own[m] == dNone && (m < len(group)-1 || belongs(lb)) {
				own[m] = lb.dim
				named++
			}
		}
		if lb.tok >= last.upt {
			post = append(post, lb)
		}
	}
	sub := p.carried
	for _, lb := range pre {
		if lb.sub != sNone {
			sub = lb.sub
		}
	}
	for _, lb := range post {
		if lb.sub != sNone && !p.commaBetween(last.upt, lb.tok) {
			if lb.sub == sCorner || lb.sub == sPin || lb.sub == sHole || lb.sub == sBarrel {
				break
			}
			sub = lb.sub
			break
		}
	}
	if sub == sCorner || sub == sPin || sub == sHole || sub == sBarrel {
		sub = sHinge
	}
	if sub == sOther {
		p.unreadAmounts(group)
		return
	}
	// "height x width: 3.5 x 4", "3.5 x 4 (h x w)": the names come in the same order.
	names := dimsOf(pre)
	if len(names) != len(group) {
		names = nil
		if d := dimsOf(post); len(d) >= len(group) && named <= 1 {
			names, named = d[:len(group)], 0
		}
	}
	dims := make([]dim, len(group))
	switch {
	case named >= len(group)-1 && named > 0 && len(group) > 1 && !(named == 1 && own[0] == dNone && own[len(group)-1] == dThick && len(group) == 2):
		copy(dims, own[:len(group)])
		// "h 3.5 x w 4": each name stands before its number.
		if dimsBeforeFirst(pre) != dNone && own[len(group)-1] == dNone {
			dims[0] = dimsBeforeFirst(pre)
			copy(dims[1:], own[:len(group)-1])
		}
		p.fillDims(dims)
	case names != nil:
		copy(dims, names)
	case len(names) == 0 && len(group) == 3 && named == 1 && own[2] == dThick:
		dims[0], dims[1], dims[2] = dHeight, dWidth, dThick
	}
	if dims[0] == dNone {
		if sub == sDoor || sub == sNone && p.doorish(group) {
			var ok bool
			if dims, ok = p.doorDims(group); ok {
				sub = sDoor
				if swapped := []dim{dims[1], dims[0]}; len(group) == 2 && group[0].value != group[1].value &&
					p.plausible(group[0], p.quantity(swapped[0], sDoor)) && p.plausible(group[1], p.quantity(swapped[1], sDoor)) {
					p.refuse(p.text[group[0].at:last.end], "taken as the door's width by its height; ask which is which")
				}
			} else {
				sub, dims = sHinge, nil
			}
		}
		if dims == nil || dims[0] == dNone {
			dims = []dim{dHeight, dWidth, dThick}[:len(group)]
		}
	}
	for m := range group {
		s := sub
		if s == sDoor && !p.plausible(group[m], p.quantity(dims[m], sDoor)) && p.plausible(group[m], p.quantity(dims[m], sHinge)) {
			s = sHinge
		}
		if s != sDoor && s != sLeaf && p.plausibleOnlyDoor(group[m], dims[m]) {
			s = sDoor
		}
		q := p.quantity(dims[m], s)
		p.addLength(q, group[m], named == 0 && names == nil)
	}
	if sub == sDoor {
		p.carried = sDoor
	}
	// Labels behind the pair belong to it.
	for i := range rest {
		if rest[i].tok < last.upt || belongs(rest[i]) {
			rest[i].used = true
		}
	}
}

func dimsOf(labels []label) []dim {
	var out []dim
	for _, l := range labels {
		if !l.used && (l.dim == dHeight || l.dim == dWidth || l.dim == dThick || l.dim == dOpen) {
			d := l.dim
			if d == dOpen {
				d = dWidth
			}
			if slices.Contains(out, d) {
				continue
			}
			out = append(out, d)
		}
	}
	return out
}

func dimsBeforeFirst(pre []label) dim {
	for i := len(pre) - 1; i >= 0; i-- {
		if pre[i].dim != dNone {
			return pre[i].dim
		}
	}
	return dNone
}

// fillDims gives the one unnamed member the size that is left over.
func (p *parser) fillDims(dims []dim) {
	for i, d := range dims {
		if d == dOpen {
			dims[i] = dWidth
		}
	}
	for i, d := range dims {
		if d != dNone {
			continue
		}
		for _, c := range []dim{dHeight, dWidth, dThick} {
			if !slices.Contains(dims, c) {
				dims[i] = c
				break
			}
		}
	}
}

// commaBetween reports a comma or bracket among tokens i … j-1.
func (p *parser) commaBetween(i, j int) bool { return i < j && p.marks[j] > p.marks[i] }

// doorish reports whether sizes can only be a door's.
func (p *parser) doorish(group []amount) bool {
	big := 0
	for _, a := range group {
		if p.plausible(a, measure.QHeight) || p.plausible(a, measure.QThickness) {
			continue
		}
		if p.plausible(a, measure.QDoorWidth) || p.plausible(a, measure.QDoorHeight) {
			big++
		}
	}
	return big > 0 && big >= len(group)-1 && p.typicalPair(group) == false
}

// typicalPair reports whether the group reads as a hinge after one slip of unit.
func (p *parser) typicalPair(group []amount) bool {
	for _, a := range group[:min(2, len(group))] {
		if !p.explicable(a, measure.QHeight) {
			return false
		}
	}
	return true
}

// doorDims orders a door's sizes: width × height × thickness, unless only another order
// makes a door.
func (p *parser) doorDims(group []amount) ([]dim, bool) {
	orders := [][]dim{{dWidth, dHeight, dThick}, {dHeight, dWidth, dThick}, {dThick, dWidth, dHeight}, {dThick, dHeight, dWidth}, {dWidth, dThick, dHeight}, {dHeight, dThick, dWidth}}
	if len(group) == 2 {
		orders = [][]dim{{dWidth, dHeight}, {dHeight, dWidth}, {dThick, dWidth}, {dWidth, dThick}, {dThick, dHeight}, {dHeight, dThick}}
	}
	for _, o := range orders {
		ok := true
		for m := range group {
			ok = ok && p.plausible(group[m], p.quantity(o[m], sDoor))
		}
		if ok {
			return o, true
		}
	}
	return nil, false
}

func (p *parser) plausibleOnlyDoor(a amount, d dim) bool {
	q := p.quantity(d, sHinge)
	return !p.plausible(a, q) && !p.explicable(a, q) && p.plausible(a, p.quantity(d, sDoor))
}

// one reads a single amount with the labels before and behind it.
func (p *parser) one(amounts []amount, k int, pre, rest []label, e int) {
	a := &amounts[k]
	stop := next(amounts, k+1, e)
	// Behind: up to the next amount, and not past a comma or bracket.
	var post []*label
	var postSub subject
	cut := false
	for i := range rest {
		lb := &rest[i]
		if lb.tok >= stop {
			break
		}
		if p.commaBetween(a.upt, lb.tok) && (cut || p.kindAt(a.upt) != tOpen) {
			cut = true
		}
		if cut {
			continue
		}
		if lb.sub != sNone && postSub == sNone {
			postSub = lb.sub
		}
		if lb.dim != dNone {
			post = append(post, lb)
		}
	}
	var d dim
	prefixed := false
	preSub := p.carried
	for i := len(pre) - 1; i >= 0; i-- {
		if pre[i].dim != dNone && !pre[i].used && d == dNone {
			// A label in a clause that already has its number does not reach over the comma.
			if k > 0 && p.commaBetween(pre[i].tok, a.tok) && !p.commaJustBefore(pre[i].tok, a.tok) {
				continue
			}
			d, prefixed = pre[i].dim, true
			pre[i].used = true
			if i > 0 && pre[i-1].dim != dNone && !pre[i-1].used && (d == dDiameter || d == dThick) && pre[i-1].dim == dEdge {
				d = pre[i-1].dim
			}
		}
	}
	for _, lb := range pre {
		if lb.sub != sNone {
			preSub = lb.sub
		}
	}
	if len(post) > 0 && prefixed {
		// "hole from edge to centre 13/32 from top": the label before wins, but a label that
		// touches the number and is not followed by a number of its own belongs to it.
		near := post[0]
		if near.tok == a.upt && (near.dim == d || !p.labelFeeds(near.tok, stop, amounts, k)) {
			near.used = true
			if near.dim != d && (d == dSpacing || d == dEdge || d == dEnd) == false {
				if !p.sameClause(pre, a.tok) {
					d = near.dim
				}
			}
		}
	} else if len(post) > 0 && !prefixed {
		// A letter or label that touches the next number is that number's: "3.5 w 4".
		near := post[0]
		d = near.dim
		near.used = true
		for _, lb := range post[1:] {
			if lb.dim == dEdge || lb.dim == dEnd || lb.dim == dSpacing {
				if d == dWidth || d == dHeight {
					break
				}
			}
			if lb.dim == d {
				lb.used = true
			}
			if lb.dim == dWidth && lb.sub == sLeaf {
				lb.used = true
			}
		}
	}
	sub := preSub
	if !prefixed || preSub == sNone {
		if postSub != sNone {
			sub = postSub
		}
	} else if postSub == sDoor && d != dNone && p.near(a.upt+5, a.upt, "door") && preSub == sHinge && p.plausible(*a, p.quantity(d, sDoor)) && !p.plausible(*a, p.quantity(d, sHinge)) {
		sub = sDoor
	}
	for _, lb := range post {
		if lb.used && lb.sub == sLeaf {
			sub = sLeaf
		}
	}
	for _, lb := range pre {
		if lb.used && lb.sub == sLeaf {
			sub = sLeaf
		}
	}
	if sub == sOther {
		if d == dNone || !(postSub == sOther) && preSub == sOther && p.carried == sOther {
			if d == dNone {
				p.unreadAmounts(amounts[k : k+1])
				return
			}
		}
		if postSub == sOther && p.wordAt(a.upt) != "" && dimWords[p.wordAt(a.upt)] == dNone {
			p.unreadAmounts(amounts[k : k+1])
			return
		}
		sub = sHinge
	}
	if a.unit == "gauge" && d == dNone {
		d = dThick
	}
	if a.whole && sub == sDoor && d == dNone && p.doorCode(*a) {
		return
	}
	q := p.quantity(d, sub)
	if d == dNone {
		q = p.guess(*a, sub, amounts, k)
	}
	// A door's size may be told without the word door, and a hinge's after a door was named.
	if d == dHeight || d == dWidth || d == dThick {
		switch door := p.quantity(d, sDoor); {
		case sub == sDoor && !p.plausible(*a, q) && p.plausible(*a, p.quantity(d, sHinge)):
			q = p.quantity(d, sHinge)
		case sub == sNone && !p.plausible(*a, q) && p.plausible(*a, door) && !p.explicable(*a, q):
			q = door
		case sub == sHinge && !named(pre, sHinge) && !p.plausible(*a, q) && !p.explicable(*a, q) && p.plausible(*a, door):
			q = door
		}
	}
	if q == measure.QUnknown && d == dNone && (sub == sHinge || sub == sLeaf) && a.unit != "" {
		q = measure.QHeight // refused with the reason, where no hinge is like that
	}
	if q == "" {
		p.unreadAmounts(amounts[k : k+1])
		return
	}
	p.addLength(q, *a, d == dNone)
}

// named reports whether the labels name the thing.
func named(labels []label, s subject) bool {
	return slices.ContainsFunc(labels, func(l label) bool { return l.sub == s })
}

// doorCode reads 2868, a door of 2 ft 8 by 6 ft 8, as those write who make doors.
func (p *parser) doorCode(a amount) bool {
	n := int(a.value)
	width, height := n/1000*12+n/100%10, n/10%10*12+n%10
	if n < 1000 || n > 4999 || height < 72 || height > 108 {
		return false
	}
	a.unit, a.whole = "ft in", false
	a.value = float64(width)
	p.addLength(measure.QDoorWidth, a, false)
	a.value = float64(height)
	p.addLength(measure.QDoorHeight, a, false)
	return true
}

// commaJustBefore allows "thickness, 0.086" with nothing between label and comma.
func (p *parser) commaJustBefore(i, j int) bool {
	return i+1 < j && p.kindAt(i+1) == tComma && j <= i+3
}

// sameClause reports whether the used label before stands right at the number.
func (p *parser) sameClause(pre []label, tok int) bool {
	for _, lb := range pre {
		if lb.used && tok-lb.tok <= 5 {
			return true
		}
	}
	return false
}

// labelFeeds reports whether the label at i stands right before the next amount.
func (p *parser) labelFeeds(i, stop int, amounts []amount, k int) bool {
	return k+1 < len(amounts) && p.feedsNumber(i, stop)
}

// feedsNumber reports whether nothing but "is", ":" and the like stands between token i and stop.
func (p *parser) feedsNumber(i, stop int) bool {
	if k := p.kindAt(stop); k != tNumber && k != tVulgar && k != tWord {
		return false
	}
	for j := i + 1; j < stop; j++ {
		t := p.toks[j]
		if t.kind == tColon || t.kind == tTilde || t.kind == tWord && (t.word == "is" || t.word == "of" || approxWords[t.word] || t.word == "was") {
			continue
		}
		return false
	}
	return true
}

func (p *parser) unreadAmounts(list []amount) {
	for _, a := range list {
		p.out.Unread = append(p.out.Unread, p.text[p.toks[a.tok].at:p.toks[a.upt-1].end])
	}
}

// quantity names a size of a thing.
func (p *parser) quantity(d dim, s subject) measure.Quantity {
	switch d {
	case dScale:
		return measure.QScaleBar
	case dRadius:
		return measure.QCornerRadius
	case dSpacing:
		return measure.QHoleSpacing
	case dEdge:
		return measure.QHoleFromEdge
	case dEnd:
		return measure.QHoleFromEnd
	case dOpen:
		return measure.QOpenWidth
	}
	switch s {
	case sDoor:
		switch d {
		case dHeight:
			return measure.QDoorHeight
		case dWidth:
			return measure.QDoorWidth
		case dThick:
			return measure.QDoorThickness
		}
	case sLeaf:
		if d == dWidth {
			return measure.QLeafWidth
		}
	case sBarrel:
		if d == dDiameter || d == dWidth || d == dThick {
			return measure.QBarrelDiameter
		}
	case sPin:
		if d == dDiameter || d == dWidth || d == dThick {
			return measure.QPinDiameter
		}
	case sHole:
		if d == dDiameter || d == dWidth {
			return measure.QHoleDiameter
		}
	case sSink:
		if d == dDiameter || d == dWidth {
			return measure.QUnknown
		}
	case sCorner:
		if d == dDiameter {
			return measure.QCornerDiameter
		}
	}
	switch d {
	case dHeight:
		return measure.QHeight
	case dWidth:
		return measure.QOpenWidth
	case dThick:
		return measure.QThickness
	case dDiameter:
		return measure.QUnknown
	}
	return ""
}

// guess says what an amount without a name is, from the thing spoken of and its size.
func (p *parser) guess(a amount, s subject, amounts []amount, k int) measure.Quantity {
	var order []measure.Quantity
	switch s {
	case sDoor:
		order = []measure.Quantity{measure.QDoorThickness, measure.QDoorWidth, measure.QDoorHeight}
	case sLeaf:
		order = []measure.Quantity{measure.QThickness, measure.QLeafWidth, measure.QHeight}
	case sBarrel:
		order = []measure.Quantity{measure.QBarrelDiameter}
	case sPin:
		order = []measure.Quantity{measure.QPinDiameter}
	case sHole:
		order = []measure.Quantity{measure.QHoleDiameter}
	case sCorner:
		order = []measure.Quantity{measure.QCornerRadius}
	}
	if s == sSink {
		return measure.QUnknown
	}
	if s != sCorner && s != sHole && s != sBarrel && s != sPin {
		order = append(order, measure.QHeight, measure.QThickness)
	}
	if a.whole && a.unit == "" && !(a.value >= 3 && a.value <= 6) && a.value < 60 && s != sDoor && s != sCorner && s != sBarrel && s != sPin && s != sHole {
		return "" // a bare count of something not named
	}
	for i, q := range order {
		if !p.plausible(a, q) {
			continue
		}
		if q == measure.QHeight && p.has(measure.QHeight) && s != sHinge {
			if !p.has(measure.QOpenWidth) && i >= 0 && p.plausible(a, measure.QOpenWidth) {
				return measure.QOpenWidth // "height 3 1/2 and 4"
			}
			return measure.QUnknown
		}
		return q
	}
	if a.unit == "" && a.whole {
		return ""
	}
	if p.explicable(a, measure.QHeight) && s != sDoor && (a.unit == "in" || a.unit == "mm" || a.unit == "cm") {
		return measure.QHeight
	}
	return measure.QUnknown
}

func (p *parser) has(q measure.Quantity) bool {
	n := len(p.out.Readings)
	for i := n - 1; i >= 0 && i >= n-8; i-- {
		if p.out.Readings[i].Quantity == q && p.out.Readings[i].At[0] >= p.toks[p.begin].at {
			return true
		}
	}
	return false
}

func (p *parser) refuse(text, why string) {
	p.out.Unread = append(p.out.Unread, fmt.Sprintf("%s: %s", text, why))
}

// keepUnread shows a sentence in which nothing was understood, unless it is mere politeness.
func (p *parser) keepUnread(b, e int) {
	for i := b; i < e; i++ {
		t := p.toks[i]
		if t.kind == tWord && (politeness[t.word] || approxWords[t.word] || unitWords[t.word] != "" || instrumentWords[t.word] != "") || t.kind == tComma || t.kind == tPoint {
			continue
		}
		if t.kind == tWord || t.kind == tNumber || t.kind == tJunk || t.kind == tVulgar {
			p.out.Unread = append(p.out.Unread, strings.TrimSpace(p.text[p.toks[b].at:p.toks[e-1].end]))
			return
		}
	}
}

func splitWords(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '-' })
}
