package readings

import (
	"math"
	"strings"

	"leafgauge/measure"
)

// numbered are the words whose number only tells one of many from the others: "room 204", "page 14".
var numberedWords = map[string]bool{"room": true, "unit": true, "apt": true, "apartment": true, "suite": true, "page": true, "pg": true, "rev": true,
	"ref": true, "order": true, "item": true, "acct": true, "account": true, "invoice": true, "number": true, "model": true, "aisle": true, "bay": true,
	"dock": true, "buzz": true, "zip": true, "box": true, "phone": true, "tel": true, "floor": true, "floors": true, "flat": true, "quote": true, "building": true, "bldg": true, "lot": true, "po": true, "grade": true, "exit": true, "route": true, "hwy": true, "highway": true, "mile": true}

// streetWords end the name of a street, behind the number of the house.
var streetWords = map[string]bool{"st": true, "street": true, "ave": true, "avenue": true, "rd": true, "road": true, "ct": true, "court": true,
	"ln": true, "lane": true, "dr": true, "drive": true, "blvd": true, "boulevard": true, "terrace": true, "place": true}

// dateWords stand before a day written with a slash: "by 5/8", "back in 2/19".
var dateWords = map[string]bool{"by": true, "on": true, "in": true, "placed": true, "until": true, "till": true, "since": true, "due": true, "before": true, "dated": true, "ordered": true,
	"monday": true, "tuesday": true, "wednesday": true, "thursday": true, "friday": true, "saturday": true, "sunday": true}

// thanWords bound a size from one side only.
var thanWords = map[string]bool{"least": true, "most": true, "than": true}

// noSizeRules know a number at token i, followed by token next, that is no size and no count; the
// first that does is believed.
var noSizeRules = []func(p *parser, i, next int, a amount) bool{
	(*parser).money,
	(*parser).paid,
	(*parser).year,
	(*parser).hangs,
	(*parser).ofMany,
	(*parser).numbered,
	(*parser).leadingZeros,
	(*parser).houseNumber,
	(*parser).day,
	(*parser).bearings,
	(*parser).clock,
	(*parser).hour,
	(*parser).stock,
	(*parser).partOf,
	(*parser).onTheOther,
}

// noLength reports that the number at token i is no size and no count.
func (p *parser) noLength(i, next int, a amount) bool {
	for _, rule := range noSizeRules {
		if rule(p, i, next, a) {
			return true
		}
	}
	return false
}

// money: "$3.50".
func (p *parser) money(i, _ int, _ amount) bool {
	return i > 0 && p.symbolAt(i-1) && !p.isText(i-1, "%", "°")
}

// paidWords stand before what something cost.
var paidWords = map[string]bool{"paid": true, "cost": true, "costs": true, "price": true, "budget": true, "spent": true, "charged": true}

// paid: "I paid 11.50 apiece".
func (p *parser) paid(i, next int, a amount) bool {
	return paidWords[p.wordAt(i-1)] || a.decimals == 2 && (p.wordAt(next) == "apiece" || p.wordAt(next) == "each")
}

// hangs: "11 inches from the floor", "180 mm below door top" say where a hinge hangs.
func (p *parser) hangs(at, next int, a amount) bool {
	_, _, i := p.unit(next, a)
	if p.wordAt(i) == "up" || p.wordAt(i) == "down" {
		i++
	}
	w := p.wordAt(i)
	if w != "from" && w != "below" && w != "above" && w != "off" {
		return false
	}
	down := p.wordAt(i-1) == "down" || p.wordAt(i-1) == "up"
	if i++; p.wordAt(i) == "the" {
		i++
	}
	w = p.wordAt(i)
	if down && (w == "top" || w == "bottom") && !p.anyBefore(at, "hole", "holes", "screw", "screws") { // "sits 7 inches down from the top"
		return true
	}
	return w == "floor" || w == "ground" || w == "threshold" || w == "sill" || w == "ceiling" || subjectWords[w] == sDoor && (p.wordAt(i+1) == "top" || p.wordAt(i+1) == "bottom" || p.wordAt(i+1) == "head")
}

// ofMany: "hinge 3 of 3", "avg of 3".
func (p *parser) ofMany(i, next int, a amount) bool {
	if !a.whole || a.word {
		return false
	}
	ahead := p.wordAt(next) == "of" && p.kindAt(next+1) == tNumber && p.toks[next+1].whole && p.toks[next+1].value >= a.value
	behind := p.wordAt(i-1) == "of" && (p.kindAt(i-2) == tNumber && p.toks[i-2].whole && p.toks[i-2].value <= a.value || p.wordAt(i-2) == "avg" || p.wordAt(i-2) == "average" || p.wordAt(i-2) == "mean")
	return (ahead || behind) && (p.wordAt(i-1) == "hinge" || p.wordAt(i-3) == "hinge" || p.wordAt(i-2) == "avg" || p.wordAt(i-2) == "average" || p.wordAt(i-2) == "mean")
}

// yearWords stand before a year.
var yearWords = map[string]bool{"from": true, "since": true, "in": true, "of": true, "about": true, "around": true, "circa": true, "house": true, "built": true, "before": true, "until": true}

// year: "the door dates from 1894", "old house 1931".
func (p *parser) year(i, next int, a amount) bool {
	u, _, _ := p.unit(next, a)
	return a.whole && len(a.digits) == 4 && a.value >= 1700 && a.value < 2100 && yearWords[p.wordAt(i-1)] && u == "" && dimWords[p.wordAt(next)] == dNone && p.kindAt(next) != tTimes && p.wordAt(next) != "by"
}

// numbered: "apt 3", "item 0031", "hinge number 3".
func (p *parser) numbered(i, next int, a amount) bool {
	j := i - 1
	if p.kindAt(j) == tDash && p.kindAt(j-1) == tNumber { // "floors 3-6"
		j -= 2
	}
	if k := p.kindAt(j); k == tPoint || k == tOther || k == tColon {
		j--
	}
	if p.wordAt(j) == "of" && p.kindAt(j-1) == tNumber && numberedWords[p.wordAt(j-2)] { // "number 2 of 3"
		j -= 2
	}
	if !a.whole && p.wordAt(j) != "mile" || !numberedWords[p.wordAt(j)] || countNouns[p.wordAt(next)] != "" { // "first floor 5 doors"
		return false
	}
	u, _, _ := p.unit(next, a)
	return u == "" && dimWords[p.wordAt(next)] == dNone && p.kindAt(next) != tTimes
}

// leadingZeros: no size and no count is written 0086.
func (p *parser) leadingZeros(_, _ int, a amount) bool {
	return a.whole && len(a.digits) > 3 && a.digits[0] == '0'
}

// houseNumber: "118 Elm Ct".
func (p *parser) houseNumber(i, next int, a amount) bool {
	if !a.whole || a.word || p.wordAt(next) == "" || !isUpper(p.text[p.toks[next].at]) {
		return false
	}
	return streetWords[p.wordAt(next+1)] || p.wordAt(next+1) != "" && streetWords[p.wordAt(next+2)]
}

// day: "by 5/8", "on 1/4 around 10": a bare fraction behind a word of time, with no unit and no label.
func (p *parser) day(i, next int, a amount) bool {
	if a.num == 0 || a.num > 12 || a.den > 31 || a.word || !dateWords[p.wordAt(i-1)] || p.numberBefore(i-1) || unitOf(p.wordAt(i-2)) != "" || p.kindAt(i-2) == tDouble {
		return false
	}
	u, _, _ := p.unit(next, a)
	w := p.wordAt(next)
	return u == "" && p.kindAt(next) != tTimes && dimWords[w] == dNone && letterDims[w] == dNone && subjectWords[w] == sNone && !strings.HasPrefix(w, "round")
}

// bearings: "4 ball bearings" counts what is in the hinge.
func (p *parser) bearings(_, next int, a amount) bool {
	return a.whole && p.wordAt(next) == "ball" && p.wordAt(next+1) == "bearings"
}

// clock: "7:30".
func (p *parser) clock(i, _ int, a amount) bool {
	colon := i + 1
	if p.kindAt(i-1) == tColon && p.kindAt(i-2) == tNumber {
		colon = i - 1
	}
	hour, minute := colon-1, colon+1
	if p.kindAt(colon) != tColon || !p.gluedAt(colon) || p.kindAt(hour) != tNumber || p.kindAt(minute) != tNumber || !p.gluedAt(minute) {
		return false
	}
	h, m := p.toks[hour], p.toks[minute]
	return h.whole && m.whole && h.value < 24 && len(m.digits) == 2 && m.value < 60
}

// hour: "call me after 4".
func (p *parser) hour(i, next int, a amount) bool {
	w := p.wordAt(i - 1)
	if u, _, _ := p.unit(next, a); w == "after" && a.whole && a.value <= 12 && u == "" && (p.wordAt(next) == "most" || p.wordAt(next) == "on" || p.wordAt(next) == "every" || p.wordAt(i-2) == "home") {
		return true // "at home after 4 most days"
	}
	if !a.whole || a.value > 24 || w != "after" && w != "before" && w != "until" && w != "till" && w != "at" || !p.endsClause(next, len(p.toks)) {
		return false
	}
	for j := max(p.begin, i-20); j < i; j++ {
		if p.wordAt(j) == "call" || p.wordAt(j) == "ring" || p.wordAt(j) == "phone" || p.wordAt(j) == "reach" {
			return true
		}
	}
	return false
}

// onTheOther: "3 knuckles on one leaf, 2 on the other".
func (p *parser) onTheOther(_, next int, a amount) bool {
	return a.whole && p.wordAt(next) == "on" && p.wordAt(next+1) == "the" && p.wordAt(next+2) == "other"
}

// stock: "3 in stock".
func (p *parser) stock(_, next int, a amount) bool {
	return a.whole && p.wordAt(next) == "in" && (p.wordAt(next+1) == "stock" || p.wordAt(next+1) == "store")
}

// partOf: "3 of the 4 hinges", "3 of the screws".
func (p *parser) partOf(_, next int, a amount) bool {
	if !a.whole || p.wordAt(next) != "of" || p.wordAt(next+1) != "the" {
		return false
	}
	return p.kindAt(next+2) == tNumber && countNouns[p.wordAt(next+3)] != "" || p.wordAt(next+2) == "screws" || countNouns[p.wordAt(next+2)] == measure.QHoleCount
}

// corrects are words that put the right number behind a denied one: "not 3.5, they're 4".
var corrects = map[string]bool{"they're": true, "they": true, "theyre": true, "it's": true, "its": true, "it": true}

// denied reports a number between "not" and "but", or not and a comma with what is right behind it:
// "not 4 x 4 but 3.5 x 3.5"; and one that is to be replaced: "6 instead of 12".
func (p *parser) denied(a amount) bool {
	if p.wordAt(a.tok-1) == "not" && a.whole && a.unit == "" && p.endsClause(a.upt, len(p.toks)) && a.tok-1 > p.begin { // "I need 2, not 3"
		return true
	}
	if p.wordAt(a.tok-1) == "of" && p.wordAt(a.tok-2) == "instead" {
		return true
	}
	for i := a.tok - 1; i >= p.begin && i >= a.tok-4; i-- {
		if p.wordAt(i) != "not" {
			continue
		}
		for j := a.upt; j < a.upt+6 && j < len(p.toks) && (!p.breaks(j) || i == p.begin && j == a.upt); j++ {
			if i == p.begin && p.breaks(j) { // "Not 3 inch. 3 1/2."
				return true
			}
			if p.wordAt(j) == "but" || p.kindAt(j) == tComma && corrects[p.wordAt(j+1)] && i == a.tok-1 {
				return true
			}
		}
	}
	return false
}

// othersWords are whose a thing is that is not the writer's.
var othersWords = map[string]bool{"neighbour's": true, "neighbor's": true, "neighbours": true, "neighbors": true, "theirs": true, "friend's": true, "brother's": true, "sister's": true}

// tooSmall: "the one from the store was 3 inch and too small".
func (p *parser) tooSmall(a amount, e int) bool {
	most := a.upt + 3
	if p.kindAt(a.upt) == tTimes {
		most += 3 // "4 x 4, too big"
	}
	for i := a.upt; i < e && i < most; i++ {
		if p.wordAt(i) == "too" {
			switch p.wordAt(i + 1) {
			case "small", "big", "large", "short", "long", "wide", "narrow", "tall":
				return true
			}
		}
	}
	return false
}

// ofOthers: "my neighbour's are 4 inch but mine measure 3 1/2".
func (p *parser) ofOthers(amounts []amount, k int) bool {
	if k+1 == len(amounts) {
		return false
	}
	others := false
	for i := max(p.begin, amounts[k].tok-5); i < amounts[k].tok; i++ {
		others = others || othersWords[p.wordAt(i)]
	}
	return others && p.nearAhead(amounts[k].upt-1, len(p.toks), "mine", "ours", "my", "our")
}

// either reports one of two trade sizes between which the writer wavers: "4 inch or 4.5 inch hinges".
func (p *parser) either(amounts []amount, k int) bool {
	size := func(a amount) bool {
		return !a.junk && a.value*2 == math.Trunc(a.value*2) && (a.unit == "in" || a.unit == "") && a.value >= 1 && a.value <= 8
	}
	starts := func(k int) bool {
		return k >= 0 && k+1 < len(amounts) && p.wordAt(amounts[k].upt) == "or" && amounts[k+1].tok == amounts[k].upt+1 && size(amounts[k]) && size(amounts[k+1]) &&
			amounts[k].value != amounts[k+1].value
	}
	return starts(k) || starts(k-1)
}

// adrift reports a bare whole number in the midst of a longer sentence that says nothing of a hinge or
// a size: "(churchwarden, 81 and not good with computers)", "4 hinges or 3".
func (p *parser) adrift(amounts []amount, k, b, e int) bool {
	a := amounts[k]
	if len(amounts) != 1 && p.wordAt(a.tok-1) != "or" || !a.whole || a.unit != "" || a.junk || p.wish {
		return false
	}
	if p.wordAt(a.tok-1) == "or" && countNouns[p.wordAt(a.tok-2)] != "" {
		return true
	}
	if len(amounts) != 1 {
		return false
	}
	words := 0
	for i := b; i < e; i++ {
		w := p.wordAt(i)
		if dimWords[w] != dNone || subjectWords[w] != sNone || unitOf(w) != "" || p.kindAt(i) == tTimes || w == "by" || instrumentWords[w] != "" || w == "they're" || w == "it's" || w == "size" || w == "measures" {
			return false
		}
		if w != "" {
			words++
		}
	}
	return words >= 6
}

// wondered: "Should I use 4?" asks; what it names is no size.
func (p *parser) wondered(amounts []amount, b, e int) bool {
	if !p.at(e, "?") || len(amounts) != 1 || !amounts[0].whole || amounts[0].unit != "" {
		return false
	}
	switch p.wordAt(b) {
	case "should", "shall", "can", "could", "would", "do", "does", "is":
		return true
	}
	return false
}

// between reports the two ends of a range that is too wide for one size.
func (p *parser) between(amounts []amount, k int) bool {
	starts := func(k int) bool {
		return k >= 0 && k+1 < len(amounts) && p.wordAt(amounts[k].tok-1) == "between" && p.wordAt(amounts[k].upt) == "and" && amounts[k+1].tok == amounts[k].upt+1
	}
	return starts(k) || starts(k-1)
}

// bounded reports a size that is told from one side only: "at least 4 inches", "no thicker than 1/8".
func (p *parser) bounded(a amount) bool {
	return thanWords[p.wordAt(a.tok-1)] && p.wordAt(a.tok-2) != "rather" && p.wordAt(a.tok-2) != "other"
}

// guessed reports a number that is a guess beside a bound: "at least 4 inches, I would guess 4 1/2"; or
// another's: "the guy guessed 4 1/2".
func (p *parser) guessed(amounts []amount, k int) bool {
	return p.wordAt(amounts[k].tok-1) == "guessed" && p.wordAt(amounts[k].tok-2) != "i" || k > 0 && p.bounded(amounts[k-1]) && p.near(amounts[k].tok, amounts[k-1].upt, "guess")
}

// perhaps reports a number that the writer only thinks possible beside one that he has just given:
// "2 mm thick, could be 2.2".
func (p *parser) perhaps(amounts []amount, k int) bool {
	return k > 0 && p.wordAt(amounts[k].tok-1) == "be" && p.near(amounts[k].tok-1, p.begin, "could", "might", "may")
}

// withdrawals take back what was written just before.
var withdrawals = [][]string{{"i", "mean"}, {"i", "meant"}, {"no", "wait"}, {"wait", "no"}, {"make", "that"}, {"scratch", "that"}, {"correction"}, {"more", "like"}, {"no", "sorry"}, {"hang", "on"}, {"no", "actually"}, {"whoops"}, {"oops"}, {"no", "that's", "wrong"}, {"no", "thats", "wrong"}}

// withdrawn reports a number that another takes back: "4 x 4, sorry, I mean 3.5 x 3.5". As many
// numbers are taken back as follow.
func (p *parser) withdrawn(amounts []amount, k int) bool {
	for m := k + 1; m < min(len(amounts), k+6); m++ { // more than that nobody takes back
		for i := amounts[m-1].upt; i < amounts[m].tok; i++ {
			for _, words := range withdrawals {
				if (m-k <= len(amounts)-m || len(words) == 3) && p.wordsAt(i, words) {
					return true
				}
			}
			if p.wordAt(i) == "sorry" && p.kindAt(i-1) == tComma && i+1 == amounts[m].tok && m-k <= len(amounts)-m { // "4 1/2, sorry 4"
				return true
			}
			if p.wordAt(i) == "no" && p.kindAt(i-1) == tComma && p.kindAt(i+1) == tComma && m-k <= len(amounts)-m { // "90 mm, no, 89"
				return true
			}
		}
	}
	return false
}

func (p *parser) wordsAt(i int, words []string) bool {
	for n, w := range words {
		if p.wordAt(i+n) != w {
			return false
		}
	}
	return true
}

// outranked reports a number that another said, where the writer has a better one: "he says 3.5 but
// I measured 4".
func (p *parser) outranked(amounts []amount, k int) bool {
	if k+1 == len(amounts) || !p.near(amounts[k].tok, p.begin, "says", "said", "told", "thought", "claims", "supposed") {
		return false
	}
	for j := amounts[k].upt; j < amounts[k+1].tok; j++ {
		if p.wordAt(j) == "but" {
			return true
		}
	}
	return false
}

// asked reports a sentence of one number and a question mark, in a longer text: whoever asks
// "three and five eighths?" does not know it.
func (p *parser) asked(amounts []amount, b, e int) bool {
	return len(amounts) == 1 && amounts[0].tok == b && amounts[0].upt == e && p.kindAt(e) == tBreak && p.isText(e, "?") && e+1 < len(p.toks) &&
		amounts[0].unit == ""
}
