package readings

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

// count takes amount k, and those that belong to it, as a count where it is one, and returns how
// many amounts that were.
func (p *parser) count(amounts []amount, k, e int) int {
	a := amounts[k]
	mixedPair := p.mixedPair(a)
	if !a.whole && !mixedPair {
		return 0
	}
	if p.countRange(amounts, k, e) {
		p.unreadAmounts(a, amounts[k+1])
		return 2
	}
	if n := p.packs(amounts, k); n > 0 {
		b := a
		b.end = amounts[k+1].end
		p.addCount(measure.QHingeCount, b, n)
		return 2
	}
	if w := p.wordAt(a.upt); packWords[w] && countNouns[w] == "" { // of how many is not said
		p.unreadAmounts(a)
		return 1
	}
	q, at, ok := p.countNoun(a.upt, next(amounts, k+1, e))
	if w := p.wordAt(at); ok && (w == "hinge" || q == measure.QHoleCount && w == "screws" && p.kindAt(a.upt) == tDash) {
		ok = false
	}
	if !ok && !mixedPair {
		if q = p.countUnnamed(amounts, k, e); q == "" {
			return 0
		}
		p.addCount(q, a, int(a.value))
		return 1
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
			return 0
		}
	case measure.QHoleCount:
		for j := at + 1; j < e && j <= at+3; j++ {
			if w := p.wordAt(j); (w == "total" || w == "altogether" || w == "all") && n%2 == 0 {
				n /= 2 // the count is one leaf's
				break
			}
		}
		if p.wordAt(at) == "screws" && n > 12 {
			return 0
		}
	case measure.QHingeCount:
		if p.perDoor(a, at+1) {
			q = measure.QHingesPerDoor
		}
	}
	p.addCount(q, a, n)
	return 1
}

// packWords are what hinges are sold in by the several.
var packWords = map[string]bool{"pack": true, "packs": true, "set": true, "sets": true, "box": true, "boxes": true, "bag": true, "bags": true, "case": true, "cases": true, "packet": true, "packets": true}

// packs multiplies "2 packs of 3" and "2 packs (3 each)" out; 0 for none.
func (p *parser) packs(amounts []amount, k int) int {
	if k+1 == len(amounts) || !packWords[p.wordAt(amounts[k].upt)] {
		return 0
	}
	c := amounts[k+1]
	if c.whole && !c.junk && countNouns[p.wordAt(c.upt)] == measure.QHingeCount && p.toAPack(c.upt+1) {
		return int(amounts[k].value) * int(c.value)
	}
	if p.wordAt(amounts[k].upt+1) != "of" && !(p.kindAt(amounts[k].upt+1) == tOpen && (p.wordAt(c.upt) == "each" || p.wordAt(c.upt) == "per" || p.wordAt(c.upt) == "in")) {
		return 0
	}
	if c.whole && !c.junk && c.tok == amounts[k].upt+2 && dimWords[p.wordAt(c.upt)] == dNone {
		return int(amounts[k].value) * int(c.value)
	}
	return 0
}

// toAPack reports "per pack", "a pack", "to a pack", "in each pack" at token i.
func (p *parser) toAPack(i int) bool {
	a, b := p.wordAt(i), p.wordAt(i+1)
	if (a == "to" || a == "in") && (b == "a" || b == "each") {
		return packWords[p.wordAt(i+2)]
	}
	return (a == "per" || a == "a") && packWords[b]
}

// ofPack: "a box of 50", "two-pack".
func (p *parser) ofPack(a amount) bool {
	return p.wordAt(a.tok-1) == "of" && packWords[p.wordAt(a.tok-2)] || p.kindAt(a.upt) == tDash && packWords[p.wordAt(a.upt+1)]
}

// countRange: "need 3-4 of them" does not say how many.
func (p *parser) countRange(amounts []amount, k, e int) bool {
	a := amounts[k]
	if k+1 == len(amounts) || amounts[k+1].tok != a.upt+1 || !amounts[k+1].whole || amounts[k+1].junk ||
		p.kindAt(a.upt) != tDash && p.wordAt(a.upt) != "to" && p.wordAt(a.upt) != "or" {
		return false
	}
	return p.counts(amounts[k+1], e) || p.wordBefore(a.tok, p.begin, needWords) && !p.dimAhead(amounts[k+1], amounts, k+1, e)
}

// perDoor reports that amount a, whose noun ends before token j, is said of each door: "3 per door",
// "7 doors, three hinges each", "the door has three hinges". What is needed is not.
func (p *parser) perDoor(a amount, j int) bool {
	if w := p.wordAt(j); w == "per" || w == "a" || w == "every" {
		return p.wordAt(j+1) == "door" || p.wordAt(j+1) == "doors"
	}
	if p.wordBefore(a.tok, p.begin, needWords) {
		return false
	}
	switch p.wordAt(j) {
	case "each", "apiece":
		return p.doorsSpokenOf() && subjectWords[p.wordAt(j+1)] != sLeaf && p.wordAt(j+1) != "side"
	case "on", "for", "to", "in":
		if p.wordAt(j) == "on" && p.wordAt(j+1) == "it" {
			return p.doorsSpokenOf()
		}
		if w := p.wordAt(j + 1); w == "each" || w == "every" || w == "the" && p.wordAt(j) == "on" {
			if w == "each" && (p.wordAt(j+2) == "of" || p.endsClause(j+2, len(p.toks))) {
				return p.doorsSpokenOf()
			}
			s := subjectWords[p.wordAt(j+2)]
			return s == sDoor || subjectWords[p.wordAt(j+3)] == sDoor || s == sLeaf && w != "the" && p.near(a.tok, p.begin, "double")
		}
	}
	if p.kindAt(j) == tTimes && p.kindAt(j+1) == tNumber && countNouns[p.wordAt(j+2)] == measure.QDoorCount { // "3 hinges x 4 doors"
		return true
	}
	i := a.tok - 1
	if p.kindAt(i) == tTimes && countNouns[p.wordAt(i-1)] == measure.QDoorCount { // "4 doors x 3 hinges"
		return true
	}
	if p.wordAt(i) == "with" && p.doorInClause(i) {
		return true
	}
	if w := p.wordAt(i); w == "with" || w == "has" || w == "have" || w == "had" {
		i--
	}
	switch p.wordAt(i) {
	case "door", "doors", "door's", "slab":
		return true
	case "each":
		return i < a.tok-1 && p.doorsSpokenOf()
	}
	return false
}

// doorInClause reports a door, and no hinge, in the clause before token i.
func (p *parser) doorInClause(i int) bool {
	for j := i - 1; j >= max(p.begin, i-30) && p.kindAt(j) != tComma; j-- {
		switch subjectWords[p.wordAt(j)] {
		case sDoor:
			return true
		case sHinge:
			return false
		}
	}
	return false
}

// doorsSpokenOf reports whether a door is named anywhere in this run of text.
func (p *parser) doorsSpokenOf() bool {
	if !p.soughtDoors {
		p.soughtDoors = true
		for i := range p.toks {
			if (subjectWords[p.wordAt(i)] == sDoor || doorNouns[p.wordAt(i)]) && subjectWords[p.wordAt(i+1)] != sHinge {
				p.doors = true
				break
			}
		}
	}
	return p.doors
}

// countsInWords reports that a number in words counts, though no noun follows it: "I want one", "just
// one hinge".
func (p *parser) countsInWords(a amount, e int) bool {
	switch w := p.wordAt(a.upt); {
	case p.ofPack(a) || packWords[w] && p.wordAt(a.upt+1) == "of":
		return true
	case w == "hinge":
		return p.oneHinge(a)
	case w == "door":
		return p.wordAt(a.tok-1) == "for"
	case p.endsClause(a.upt, e):
		return needWords[p.wordAt(a.tok-1)] || p.perDoor(a, a.upt) && p.wordAt(a.tok-1) != "each"
	}
	return p.perDoor(a, a.upt)
}

// oneHinge: "just one hinge", "one hinge please", "one hinge 70 x 70" ask for one; "one hinge is
// bent" does not.
func (p *parser) oneHinge(a amount) bool {
	if a.value != 1 || p.wordAt(a.upt) != "hinge" {
		return false
	}
	k := p.kindAt(a.upt + 1)
	if a.tok == p.begin && !a.word && p.endsClause(a.upt+1, len(p.toks)) {
		return true
	}
	w := p.wordAt(a.tok - 1)
	return w == "just" || w == "only" || needWords[w] || p.wordAt(a.upt+1) == "please" || k == tNumber || k == tVulgar
}

// endsClause reports the end of a clause, or a please, at token i.
func (p *parser) endsClause(i, e int) bool {
	return i >= e || i >= len(p.toks) || p.breaks(i) || p.kindAt(i) == tComma || p.kindAt(i) == tClose || p.wordAt(i) == "please" || p.wordAt(i) == "more" || p.wordAt(i) == "thanks"
}

// mixedPair: "1 1/2 pair" is three hinges (trade usage).
func (p *parser) mixedPair(a amount) bool {
	w := p.wordAt(a.upt)
	return !a.whole && a.unit == "" && (w == "pair" || w == "pairs" || w == "pr") && a.value*2 == math.Trunc(a.value*2)
}

// unnamedRules know what a whole number counts by what stands right at it, "" for none.
var unnamedRules = []func(p *parser, amounts []amount, k, e int) measure.Quantity{
	func(p *parser, amounts []amount, k, _ int) measure.Quantity {
		if a := amounts[k]; p.perDoor(a, a.upt) && p.kindAt(a.upt) != tTimes && p.kindAt(a.upt) != tDouble && dimWords[p.wordAt(a.upt)] == dNone && a.value <= 8 && p.doorsTold(a) {
			return measure.QHingesPerDoor
		}
		return ""
	},
	func(p *parser, amounts []amount, k, e int) measure.Quantity {
		if a := amounts[k]; a.dozen || p.ofPack(a) || p.oneHinge(a) || p.asPieces(a, e) || k > 0 && p.timesCount(amounts[k-1], a) {
			return measure.QHingeCount
		}
		return ""
	},
	func(p *parser, amounts []amount, k, _ int) measure.Quantity { // "x 6, polished brass"
		if a := amounts[k]; p.kindAt(a.tok-1) == tTimes && (k == 0 || amounts[k-1].upt < a.tok-1) && p.endsClause(a.upt, len(p.toks)) && !p.unitBefore(a.tok-1) {
			return measure.QHingeCount
		}
		return ""
	},
	func(p *parser, amounts []amount, k, e int) measure.Quantity { // "(8) 3.5 in hinges", "hinges (3)"
		if a := amounts[k]; p.kindAt(a.tok-1) == tOpen && p.kindAt(a.upt) == tClose && (p.hingesAfter(a.upt, e) || countNouns[p.wordAt(a.tok-2)] == measure.QHingeCount) {
			return measure.QHingeCount
		}
		return ""
	},
	func(p *parser, amounts []amount, k, _ int) measure.Quantity { // "5 mm holes, 4 per side"
		a := amounts[k]
		if w := p.wordAt(a.upt); (w == "per" || w == "each" || w == "a") && (p.wordAt(a.upt+1) == "side" || p.wordAt(a.upt+1) == "leaf") && p.anyBefore(a.tok, "holes", "hole", "screws") {
			return measure.QHoleCount
		}
		return ""
	},
	func(p *parser, amounts []amount, k, _ int) measure.Quantity { // "for one door"
		if a := amounts[k]; a.word && a.value == 1 && p.wordAt(a.upt) == "door" {
			return measure.QDoorCount
		}
		return ""
	},
	func(p *parser, amounts []amount, k, e int) measure.Quantity { // "three on each leaf, so 6"
		if a := amounts[k]; p.wordAt(a.tok-1) == "so" && p.endsClause(a.upt, e) && p.has(measure.QHingesPerDoor) {
			return measure.QHingeCount
		}
		return ""
	},
	func(p *parser, amounts []amount, k, e int) measure.Quantity { // "3 hinges per door x 4 doors = 12"
		if a := amounts[k]; k > 0 && p.kindAt(a.tok-1) == tColon && p.endsClause(a.upt, e) && countNouns[p.wordAt(a.tok-2)] == measure.QDoorCount && amounts[k-1].upt == a.tok-2 {
			return measure.QHingeCount
		}
		return ""
	},
}

// anyBefore reports one of words before token i in its sentence, not too far off.
func (p *parser) anyBefore(i int, words ...string) bool {
	for j := i - 1; j >= p.begin && j > i-16; j-- {
		if w := p.wordAt(j); w != "" && slices.Contains(words, w) {
			return true
		}
	}
	return false
}

// doorsTold reports that amount a is said of each door in so many words, and does not only stand
// behind the word door.
func (p *parser) doorsTold(a amount) bool {
	w := p.wordAt(a.tok - 1)
	return w == "has" || w == "with" || w == "have" || p.wordAt(a.upt) != "" && subjectWords[w] != sDoor
}

// asPieces: "24 ea", "30 each", "5 off", "2 needed", "4 of them".
func (p *parser) asPieces(a amount, e int) bool {
	switch p.wordAt(a.upt) {
	case "ea":
		return true
	case "each":
		s := subjectWords[p.wordAt(a.upt+1)]
		return s != sLeaf && s != sDoor && p.wordAt(a.upt+1) != "side" && p.wordAt(a.upt+1) != "end" && !a.word
	case "off":
		return p.endsClause(a.upt+1, e) || p.kindAt(a.upt+1) == tNumber
	case "needed", "wanted", "required":
		return true
	case "of":
		w := p.wordAt(a.upt + 1)
		if w == "this" || w == "your" || w == "such" || p.endsClause(a.upt+1, e) { // "3 of this hinge", "9 of"
			return !a.word || w != ""
		}
		return !a.word && (w == "them" || w == "those" || w == "these" || w == "the" && p.sizeAt(a.upt+2))
	}
	return false
}

// sizeAt reports a number at token i that is no plain count: "4 of the 3.5 inch ones".
func (p *parser) sizeAt(i int) bool {
	if p.kindAt(i) != tNumber {
		return false
	}
	a, ok := p.amount(i)
	return ok && !a.whole && !a.junk && !a.gauge
}

// timesCount reports that the x between two numbers says how many: "3.5 inch x3". It touches the
// second only, and the first has its unit.
func (p *parser) timesCount(a, c amount) bool {
	return c.whole && a.unit != "" && c.tok == a.upt+1 && p.kindAt(a.upt) == tTimes && !p.gluedAt(a.upt) && p.gluedAt(c.tok) &&
		(p.kindAt(c.upt) != tTimes && dimWords[p.wordAt(c.upt)] == dNone)
}

// unitBefore reports a size's end right before token i.
func (p *parser) unitBefore(i int) bool {
	return unitOf(p.wordAt(i-1)) != "" || dimWords[p.wordAt(i-1)] != dNone || letterDims[p.wordAt(i-1)] != dNone
}

// countUnnamed says what amount k counts where no noun follows it: "need 3", "qty: 3",
// "knuckles: 5", "three 3 1/2 inch hinges"; "" where it counts nothing.
func (p *parser) countUnnamed(amounts []amount, k, e int) measure.Quantity {
	a := amounts[k]
	for _, rule := range unnamedRules {
		if q := rule(p, amounts, k, e); q != "" {
			return q
		}
	}
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
	if k+1 < len(amounts) && times && p.gluedAt(a.upt) && a.value <= 24 { // "2x 4 in hinge", "3x 3.5 inch"
		size := amounts[k+1]
		if size.tok == a.upt+1 && !p.gluedAt(size.tok) && size.unit != "" && size.value > a.value && (subjectWords[p.wordAt(size.upt)] == sHinge || !size.whole && p.endsClause(size.upt, e) && size.decimals+size.fraction > 0 || a.value*2 <= size.value && (size.unit == "in" || size.value > 50)) {
			return measure.QHingeCount
		}
	}
	if p.dimAhead(a, amounts, k, e) {
		return ""
	}
	if p.wordBefore(a.tok, p.begin, needWords) && a.value <= 500 && !(p.wordAt(a.tok-1) == "after" && p.wordAt(a.tok-2) != "i'm" && p.wordAt(a.tok-2) != "am" && p.wordAt(a.tok-2) != "im") {
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
	for _, r := range p.out.Readings[max(0, len(p.out.Readings)-8):] {
		if r.Quantity == q && q == measure.QHingeCount && *r.Count == n {
			return // said again: "twelve (12) hinges"
		}
	}
	p.out.Readings = append(p.out.Readings, measure.Reading{Quantity: q, Count: &n, Instrument: measure.InstrumentUnknown, Text: text, At: [2]int{a.at, a.end}})
}

// countLimits are the largest counts that are taken for what they say.
var countLimits = map[measure.Quantity]int{measure.QHoleCount: 20, measure.QKnuckles: 15, measure.QHingeCount: 5000, measure.QHingesPerDoor: 12, measure.QDoorCount: 2000}
