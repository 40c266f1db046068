package readings

import (
	"fmt"
	"math"
	"strings"

	"leafgauge/measure"
)

// count takes amount k as a count where it is one.
func (p *parser) count(amounts []amount, k, e int) bool {
	a := amounts[k]
	mixedPair := p.mixedPair(a)
	if !a.whole && !mixedPair {
		return false
	}
	q, at, ok := p.countNoun(a.upt, next(amounts, k+1, e))
	if w := p.wordAt(at); ok && (w == "hinge" || q == measure.QHoleCount && w == "screws" && p.kindAt(a.upt) == tDash) {
		ok = false
	}
	if !ok && !mixedPair {
		if q = p.countUnnamed(amounts, k, e); q == "" {
			return false
		}
		p.addCount(q, a, int(a.value))
		return true
	}
	n := int(a.value)
	switch w := p.wordAt(at); {
	case mixedPair:
		n, q = int(math.Round(a.value*2)), measure.QHingeCount
	case w == "pair" || w == "pairs" || w == "pr":
		n *= 2
	}
	switch q {
	case measure.QKnuckles:
		if p.kindAt(at+1) == tWord && dimWords[p.wordAt(at+1)] == dDiameter {
			return false
		}
	case measure.QHoleCount:
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

// mixedPair: "1 1/2 pair" is three hinges (trade usage).
func (p *parser) mixedPair(a amount) bool {
	w := p.wordAt(a.upt)
	return !a.whole && a.unit == "" && (w == "pair" || w == "pairs" || w == "pr") && a.value*2 == math.Trunc(a.value*2)
}

// countUnnamed says what amount k counts where no noun follows it: "need 3", "qty: 3",
// "knuckles: 5", "three 3 1/2 inch hinges"; "" where it counts nothing.
func (p *parser) countUnnamed(amounts []amount, k, e int) measure.Quantity {
	a := amounts[k]
	times := p.kindAt(a.upt) == tTimes
	if times && countNouns[p.wordAt(a.upt+1)] == measure.QHingeCount || // "6x hinges"
		p.kindAt(a.tok-1) == tTimes && countNouns[p.wordAt(a.tok-2)] == measure.QHingeCount { // "hinges x 6"
		return measure.QHingeCount
	}
	if k+1 < len(amounts) && p.hingesAfter(amounts[k+1].upt, e) {
		size := amounts[k+1]
		if times && size.tok == a.upt+1 && size.unit != "" && p.group(amounts, k, e) == 2 &&
			math.Abs(a.value*unitMM["in"]-size.value*unitMM[size.unit]) > 2*25.4 { // "6 x 3.5 in hinges"
			return measure.QHingeCount
		}
		if size.tok == a.upt && a.value <= 50 && !size.junk && (!size.whole || size.unit != "") { // "three 3 1/2 inch hinges"
			return measure.QHingeCount
		}
	}
	if p.dimAhead(a, amounts, k, e) {
		return ""
	}
	if p.wordBefore(a.tok, p.begin, needWords) && a.value <= 500 {
		return measure.QHingeCount
	}
	if q := p.nounBefore(a.tok); a.value <= 12 {
		return q
	}
	return ""
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
