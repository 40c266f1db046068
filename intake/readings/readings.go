package readings

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"leafgauge/measure"
)

// Parse finds the readings in free text: "3 1/2 x 3 1/2", "89 mm tall, 0.086 thick",
// a whole e-mail with its signature and the history quoted below it (both are passed over).
// A value that cannot be a hinge's or a door's is refused: it stands in Unread with the reason.
// So does every line or sentence in which nothing was understood. It takes time in proportion
// to the length of text.
func Parse(text string) measure.Readings { return parse(text, false) }

// parse is Parse. wish: a number that stands alone is no size.
func parse(text string, wish bool) measure.Readings {
	p := &parser{text: text, wish: wish, out: measure.Readings{Readings: []measure.Reading{}, Statements: []measure.Statement{}, Unread: []string{}}}
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
	wish bool // what is wanted, not what was measured
	toks []token
	out  measure.Readings

	marks              []int32 // commas and brackets before each token
	general            string  // the unit told for everything ("all in mm"); "" none
	told               measure.Instrument
	heading            subject // of a line such as "Door:"
	carried            subject // the thing spoken of in this sentence
	doors, soughtDoors bool    // whether a door is spoken of, and whether that was looked for
	begin              int     // first token of this sentence
	stated             []int   // tokens at which a statement was understood in this sentence
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
	p.heading, p.doors, p.soughtDoors = sNone, false, false
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
		if i+1 < len(p.toks) && p.toks[i+1].glued && p.toks[i+1].kind != tNewline {
			return false // "3.5.in", "o.c."
		}
		if i == 0 || p.toks[i-1].kind != tWord {
			return true
		}
		w := p.toks[i-1].word
		if unitOf(w) != "" || len(w) == 1 || w == "approx" || w == "dia" || w == "rad" || w == "ca" || w == "no" || w == "nr" || w == "abt" || w == "thk" || w == "ea" {
			// An abbreviation, unless a new sentence begins behind it. "5/8 in. Radius" is none.
			label := (dimWords[p.wordAt(i+1)] != dNone || letterDims[p.wordAt(i+1)] != dNone) && (p.kindAt(i+2) == tDash || p.kindAt(i+2) == tTimes || p.endsClause(i+2, len(p.toks)))
			return len(w) > 1 && p.kindAt(i+1) == tWord && isUpper(p.text[p.toks[i+1].at]) && !label
		}
		return true
	}
	return false
}

func isUpper(c byte) bool { return c >= 'A' && c <= 'Z' }

// toldUnit finds "all in mm", "sizes in inches", "(mm)".
func (p *parser) toldUnit() string {
	for i := range p.toks {
		u := unitOf(p.wordAt(i))
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

	if p.listNumber(b, e) {
		if b+1 == e {
			return
		}
		b += 2
	}
	var amounts []amount
	var labels []label
	for i := b; i < e; {
		if p.finishNumber(i, b, e) {
			i++
			continue
		}
		if n := p.whichPhoto(i, e); n > 0 {
			p.stated = append(p.stated, i)
			i += n
			continue
		}
		if n := p.weight(i, b, e); n > 0 {
			p.stated = append(p.stated, i)
			i += n
			continue
		}
		if a, ok := p.amountIn(i, e); ok {
			amounts = append(amounts, a)
			i = a.upt
			continue
		}
		if n := p.saying(i, e); n > 0 {
			p.stated = append(p.stated, i)
			// The words of a statement may still name the thing ("square corners").
			for j := i; j < i+n; j++ {
				if s, ok := subjectWords[p.wordAt(j)]; ok && s != sPin && !p.saysSquare(i, i+n) {
					labels = append(labels, label{tok: j, sub: s})
				}
			}
			labels = p.labelStated(i, i+n, labels)
			i += n
			continue
		}
		labels = p.label(i, b, e, labels)
		i++
	}
	defer p.sameWidth(b, e)
	amounts = p.known(p.restated(p.ranges(p.decided(amounts))), b, e)
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

// sameWidth reads "width the same", "the same across": the width that was not typed is the height.
func (p *parser) sameWidth(b, e int) {
	for i := b; i < e; i++ {
		w := p.wordAt(i)
		behind := w == "width" && (p.wordAt(i+1) == "same" || p.wordAt(i+2) == "same")
		before := (w == "across" || w == "wide") && p.wordAt(i-1) == "same" || w == "both" && p.wordAt(i+1) == "ways" && p.wordAt(i-1) == "same" ||
			w == "square" && i > b && (unitOf(p.wordAt(i-1)) != "" || p.kindAt(i-1) == tDouble) && subjectWords[p.wordAt(i+1)] != sCorner
		if !behind && !before || p.has(measure.QOpenWidth) {
			continue
		}
		for _, r := range p.out.Readings {
			if r.Quantity == measure.QHeight {
				r.Quantity = measure.QOpenWidth
				p.out.Readings = append(p.out.Readings, r)
				return
			}
		}
	}
}

// weightUnits are what a door's weight is told in, with the kilograms of each; a pound is that of the
// international agreement of 1959, a stone is 14 of them.
var weightUnits = map[string]float64{"kg": 1, "kgs": 1, "kilo": 1, "kilos": 1, "kilograms": 1, "kilogram": 1, "lb": 0.45359237, "lbs": 0.45359237, "pounds": 0.45359237, "pound": 0.45359237}

// weight takes what a door is said to weigh: "weighs 35 kg". It returns how many tokens that is.
func (p *parser) weight(i, b, e int) int {
	if p.kindAt(i) != tNumber {
		return 0
	}
	kg := weightUnits[p.wordAt(i+1)] * p.toks[i].value
	if kg < 1 || kg > 1000 {
		return 0
	}
	said := p.wordAt(i+2) == "door" || p.wordAt(i+2) == "heavy"
	for j := max(b, i-4); j < i; j++ {
		switch p.wordAt(j) {
		case "weighs", "weigh", "weight", "weighing", "wt":
			said = true
		}
	}
	if !said {
		return 0
	}
	p.state("weight", strconv.FormatFloat(math.Round(kg*10)/10, 'f', -1, 64)+"kg", i, i+2)
	return 2
}

// decided leaves out the trade sizes between which the writer wavers.
func (p *parser) decided(amounts []amount) []amount {
	var out []amount
	for k, a := range amounts {
		if p.either(amounts, k) {
			p.unreadAmounts(a)
			continue
		}
		out = append(out, a)
	}
	return out
}

// known leaves out the numbers of which the writer does not say that they are so.
func (p *parser) known(amounts []amount, b, e int) []amount {
	if p.asked(amounts, b, e) || p.wondered(amounts, b, e) {
		p.unreadAmounts(amounts...)
		return nil
	}
	var out []amount
	for k, a := range amounts {
		if !a.junk && (p.bounded(a) || p.denied(a) || p.between(amounts, k) || p.guessed(amounts, k) || p.perhaps(amounts, k) || p.withdrawn(amounts, k) || p.outranked(amounts, k) || p.ofOthers(amounts, k) || p.tooSmall(a, e) || p.adrift(amounts, k, b, e)) {
			p.unreadAmounts(a)
			continue
		}
		out = append(out, a)
	}
	return out
}

// restated drops a size that is said again in another unit: "3 1/2 in (89 mm)", "89 mm = 3.5 in".
func (p *parser) restated(amounts []amount) []amount {
	out := amounts[:0]
	for _, c := range amounts {
		if n := len(out); n > 0 {
			a := &out[n-1]
			k := p.kindAt(a.upt)
			if a.word && k == tOpen && c.tok == a.upt+1 && c.whole && !c.junk && c.value == a.value && p.kindAt(c.upt) == tClose { // "five (5)"
				a.upt = c.upt + 1
				continue
			}
			mm := func(x amount) float64 {
				if x.unit == "" && x.fraction > 0 {
					return x.value * unitMM["in"]
				}
				return x.value * unitMM[x.unit]
			}
			if c.tok == a.upt+1 && (k == tOpen || k == tColon || k == tSlash) && c.unit != "" && c.unit != a.unit && !a.junk && !c.junk &&
				math.Abs(mm(*a)-mm(c)) < 0.02*mm(c) {
				a.upt = c.upt
				if k == tOpen && p.kindAt(c.upt) == tClose {
					a.upt++
				}
				continue
			}
		}
		out = append(out, c)
	}
	return out
}

// listNumber reports a number that only counts the lines: "1. height 3 1/2", "2) width 4".
func (p *parser) listNumber(b, e int) bool {
	t := p.toks[b]
	return t.kind == tNumber && t.whole && t.value <= 20 && (b == 0 || p.toks[b-1].kind == tNewline) &&
		(p.kindAt(b+1) == tClose && b+2 < e || b+1 == e && p.kindAt(e) == tPoint && e+1 < len(p.toks) && p.toks[e+1].kind != tNewline)
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
		if _, n := numberWords[w]; !n && w != "for" && w != "both" {
			if _, f := fractionWords[w]; !f && w != "a" && w != "an" && w != "inch" {
				return amount{}, false
			}
		}
	}
	a, ok := p.amount(i)
	if !ok || a.upt > e {
		return amount{}, false
	}
	if a.word && a.whole && !a.dozen && !p.countsInWords(a, e) && !p.counts(a, e) && p.kindAt(a.upt) != tTimes && p.wordAt(a.upt) != "by" && !p.afterTimes(i) &&
		dimWords[p.wordAt(a.upt)] == dNone && p.kindAt(a.upt) != tNumber && p.kindAt(a.upt) != tVulgar {
		return amount{}, false // "one of them", "the other two"
	}
	return a, true
}

func (p *parser) afterTimes(i int) bool {
	return i > 0 && (p.kindAt(i-1) == tTimes || p.wordAt(i-1) == "by")
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

		if n := p.count(amounts, k, e); n > 0 {
			k += n
			continue
		}
		m := p.group(amounts, k, e)
		if p.wish && m <= 1 && a.whole && a.unit == "" && n == 0 && !p.dimAhead(*a, amounts, k, e) {
			k++
			continue
		}
		if m > 1 {
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

// commaBetween reports a comma or bracket among tokens i … j-1.
func (p *parser) commaBetween(i, j int) bool { return i < j && p.marks[j] > p.marks[i] }

func (p *parser) refuse(text, why string) {
	p.out.Unread = append(p.out.Unread, fmt.Sprintf("%s: %s", text, why))
}

// keepUnread shows a sentence in which nothing was understood, unless it is mere politeness.
func (p *parser) keepUnread(b, e int) {
	for i := b; i < e; i++ {
		t := p.toks[i]
		if t.kind == tWord && (politeness[t.word] || approxWords[t.word] || unitOf(t.word) != "" || instrumentWords[t.word] != "") || t.kind == tComma || t.kind == tPoint {
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
