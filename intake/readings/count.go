package readings

import (
	"fmt"
	"math"
	"strings"

	"leafgauge/measure"
)

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
