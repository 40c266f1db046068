package readings

import (
	"leafgauge/measure"
	"slices"
)

// An amount is one typed number with the unit typed at it.
type amount struct {
	at, end  int // bytes of the number, its unit left out (but for feet and inches)
	tok, upt int // tokens tok … upt-1, unit included
	value    float64
	decimal  float64 // the other way to read 1,524; 0 where there is none
	unit     string  // in, mm, cm, m, ft, thou, mil, gauge, "ft in"; "" not typed
	prime    bool    // the unit was a lone prime
	fraction int     // denominator; 0 for a decimal
	decimals int
	digits   string
	dozen    bool // of dozens, multiplied out
	whole    bool // a plain count: digits or a number word, no unit
	word     bool // typed in words
	improper bool // 31/2
	num, den int  // of a bare fraction, for sizes such as 2/8 (two foot eight)
	negative bool
	gauge    bool    // a screw's or sheet's number
	spread   float64 // half-width of a typed ± or range, in the amount's unit
	junk     bool    // not a length: money, years, degrees
}

var numberWords = map[string]int{
	"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
	"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
	"eighteen": 18, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
	"dozen": 12,
	"zwei":  2, "drei": 3, "vier": 4, "fünf": 5, "sechs": 6, "deux": 2, "trois": 3, "quatre": 4, "cinq": 5,
}

var fractionWords = map[string]int{
	"half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4, "qtr": 4, "fourth": 4, "fourths": 4,
	"eighth": 8, "eighths": 8, "eigth": 8, "eigths": 8, "eights": 8, "sixteenth": 16, "sixteenths": 16,
	"thirtysecond": 32, "thirtyseconds": 32, "sixtyfourth": 64, "sixtyfourths": 64,
}

// glued to digits: "13 32nds", "5 8ths"
var ordinals = map[string]bool{"th": true, "ths": true, "nd": true, "nds": true, "rds": true, "rd": true}

// notLengths are the units of things that are no length.
var notLengths = map[string]bool{"lb": true, "lbs": true, "kg": true, "pounds": true, "pound": true, "years": true, "year": true,
	"yr": true, "yrs": true, "days": true, "day": true, "weeks": true, "week": true, "hours": true, "minutes": true, "minute": true,
	"min": true, "am": true, "pm": true, "uhr": true, "degrees": true, "deg": true, "dollars": true, "bucks": true, "euro": true, "euros": true,
	"usd": true, "eur": true, "gbp": true, "percent": true, "st": true, "months": true, "month": true, "photos": true, "pictures": true, "pics": true,
	"oz": true, "g": true, "times": true, "people": true, "kids": true, "bedroom": true, "bedrooms": true, "bathrooms": true, "bathroom": true, "rooms": true, "windows": true, "stars": true, "readings": true, "measurements": true, "tries": true, "goes": true, "star": true, "coat": true, "coats": true, "cans": true, "floors": true, "cards": true}

// theWords before "one" say that it stands for a thing and counts none.
var theWords = map[string]bool{"the": true, "old": true, "new": true, "this": true, "that": true, "other": true, "broken": true, "which": true}

// inIsPreposition are the words after which "3 in …" is no unit.
var inIsPreposition = map[string]bool{"photo": true, "picture": true, "pic": true, "image": true, "total": true, "the": true, "each": true, "all": true, "a": true, "my": true, "our": true,
	"stock": true, "store": true, "every": true, "one": true, "this": true, "that": true, "it": true, "number": true, "satin": true, "brass": true,
	"black": true, "white": true, "chrome": true, "nickel": true, "antique": true, "polished": true, "brushed": true, "bright": true, "oil": true, "matte": true, "flat": true,
	"bronze": true, "stainless": true, "dull": true, "aged": true}

func (p *parser) kindAt(i int) kind {
	if i >= 0 && i < len(p.toks) {
		return p.toks[i].kind
	}
	return tNewline
}

func (p *parser) wordAt(i int) string {
	if i >= 0 && i < len(p.toks) && p.toks[i].kind == tWord {
		return p.toks[i].word
	}
	return ""
}

func (p *parser) gluedAt(i int) bool { return i < len(p.toks) && p.toks[i].glued }

// amount reads one amount that begins at token i.
func (p *parser) amount(i int) (amount, bool) {
	a, j, ok := p.number(i)
	if !ok {
		return a, false
	}
	a.tok = i
	a.junk = a.junk || p.noLength(i, j, a)
	if a.gauge || a.junk {
		a.upt = j
		return a, true
	}
	if w := p.wordAt(j); a.whole && (w == "dozen" || w == "doz" || w == "dz") {
		a.value, a.dozen, a.upt = 12*a.value, true, j+1
		a.end = p.toks[j].end
		return a, true
	}
	unit, prime, k := p.unit(j, a)
	a.upt = k
	if unit != "" {
		a.unit, a.prime = unit, prime
	}
	if a.unit == "" && (notLengths[p.wordAt(j)] || p.symbolAt(j)) && !a.word {
		a.junk = true
		a.upt = j + 1
		if w := p.wordAt(j); w == "minute" || w == "min" { // of a fire label
			a.upt = j
		}
		return a, true
	}
	if a.word && a.value == 1 && p.wordAt(k-1) == "in" && theWords[p.wordAt(i-1)] { // "bring the old one in"
		return a, false
	}
	if unit == "ft" {
		if b, m, ok := p.inchesAfterFeet(k); ok {
			a.value = a.value*12 + b.value
			a.unit, a.fraction, a.decimals, a.prime = "ft in", b.fraction, b.decimals, false
			a.end, a.upt = p.toks[m-1].end, m
		}
	}
	if unit == "in" && a.whole {
		// 3" 1/2, where no unit or radius follows the fraction
		if num, den, m, ok := p.slashed(k); ok && num > 0 && num < den && powerOfTwo(den) {
			if u, _, _ := p.unit(m, amount{fraction: den}); u == "" && dimWords[p.wordAt(m)] != dRadius && subjectWords[p.wordAt(m)] != sCorner && letterDims[p.wordAt(m)] != dRadius {
				a.value, a.fraction, a.upt, a.end = a.value+float64(num)/float64(den), den, m, p.toks[m-1].end
			}
		}
		// "3 inches and a half"
		if w := p.wordAt(k); w == "and" {
			if v, d, m, ok := p.fractionPhrase(k + 1); ok {
				a.value, a.fraction, a.upt, a.end = a.value+v, d, m, p.toks[m-1].end
			}
		}
	}
	if p.kindAt(a.upt) == tPlusMinus {
		if b, m, ok := p.number(a.upt + 1); ok && b.value > 0 {
			u, _, m2 := p.unit(m, b)
			if u == "" || u == a.unit || a.unit == "" {
				a.spread, a.upt = b.value, m2
				if a.unit == "" {
					a.unit = u
				}
			}
		}
	}
	a.whole = a.whole && a.unit == ""
	return a, true
}

// symbolAt reports money, percent and degrees after a number.
func (p *parser) symbolAt(i int) bool {
	if p.kindAt(i) != tOther {
		return false
	}
	switch s := p.text[p.toks[i].at:p.toks[i].end]; s {
	case "$", "€", "£", "%", "°":
		return true
	}
	return false
}

// inchesAfterFeet reads the 8" of 6'8", 6 ft 8, 6'-8 1/2".
func (p *parser) inchesAfterFeet(i int) (amount, int, bool) {
	j := i
	if k := p.kindAt(j); k == tDash || k == tComma || p.wordAt(j) == "and" {
		j++
	}
	b, k, ok := p.number(j)
	if !ok || b.value >= 12 || b.value < 0 || b.word || b.junk || b.gauge {
		return b, 0, false
	}
	unit, prime, m := p.unit(k, b)
	switch {
	case unit == "in":
		return b, m, true
	case unit == "" && j == i && (p.gluedAt(i) || b.whole && (p.kindAt(m) != tTimes && p.closesFeet(p.wordAt(m)) || p.feetFollow(m))):
		return b, k, true
	case prime && p.gluedAt(i): // 6'8'
		return b, m, true
	}
	return b, 0, false
}

// feetFollow reports an x and more feet: the 8 of "6ft 8 x 2ft 9" is inches.
func (p *parser) feetFollow(i int) bool {
	return p.kindAt(i) == tTimes && p.kindAt(i+1) == tNumber && (unitOf(p.wordAt(i+2)) == "ft" || p.kindAt(i+2) == tPrime)
}

// closesFeet reports whether a word may stand behind the inches of "6 ft 8".
func (p *parser) closesFeet(w string) bool {
	return w == "" || dimWords[w] != dNone || w == "door" || w == "by" || w == "and" || w == "in" || w == "internal" || w == "external" || w == "interior" || w == "exterior"
}

// unit reads the unit at token i, if one stands there, and returns the token after it.
func (p *parser) unit(i int, a amount) (unit string, prime bool, next int) {
	switch p.kindAt(i) {
	case tDouble:
		return "in", false, i + 1
	case tPrime:
		if p.gluedAt(i) || p.kindAt(i+1) != tWord {
			return "ft", true, i + 1
		}
		return "", false, i
	}
	j := i
	if p.kindAt(j) == tDash && p.kindAt(j+1) == tWord && (p.gluedAt(j) || p.gluedAt(j+1)) {
		j++
	}
	if p.kindAt(j) == tPoint && p.gluedAt(j) && p.kindAt(j+1) == tWord && p.gluedAt(j+1) { // "3.5.in"
		j++
	}
	w := p.wordAt(j)
	if w == "of" && p.wordAt(j+1) == "an" && unitOf(p.wordAt(j+2)) == measure.UnitInch { // "three eighths of an inch"
		return "in", false, j + 3
	}
	if w == "of" && p.wordAt(j+1) == "inch" {
		return "in", false, j + 2
	}
	if w == "an" && unitOf(p.wordAt(j+1)) == measure.UnitInch && a.fraction > 0 {
		return "in", false, j + 2
	}
	u, ok := measure.UnitWord(w)
	if !ok {
		return "", false, i
	}
	switch {
	case w == "in" && a.fraction == 0 && !p.gluedAt(j) && inIsPreposition[p.wordAt(j+1)]:
		return "", false, i
	case w == "m" && (a.whole && !p.gluedAt(j) || a.fraction > 0) && dimWords[p.wordAt(j+1)] == dNone:
		return "", false, i
	case u == "thou" && p.wordAt(j+1) == "of" && p.wordAt(j+2) == "an" && unitOf(p.wordAt(j+3)) == measure.UnitInch:
		return u, false, j + 4
	case u == "thou" && unitOf(p.wordAt(j+1)) == measure.UnitInch:
		return u, false, j + 2
	}
	return u, false, j + 1
}

// number reads a number without its unit: 3, 3.5, 3-1/2, 3½, 13/32, three and a half.
func (p *parser) number(i int) (a amount, next int, ok bool) {
	switch p.kindAt(i) {
	case tVulgar:
		t := p.toks[i]
		return amount{at: t.at, end: t.end, value: t.value, fraction: t.decimals}, i + 1, true
	case tNumber:
		return p.digits(i)
	case tWord:
		return p.words(i)
	}
	return a, i, false
}

// digitRules read what begins with digits at token i, of which a is the plain number; the first
// that knows it is believed.
var digitRules = []func(p *parser, i int, a amount) (_ amount, next int, ok bool){
	(*parser).screwNumber,
	(*parser).countryCode,
	(*parser).feetDashed,
	(*parser).dashedNumbers,
	(*parser).feetOfDoor,
	(*parser).slashSlip,
	(*parser).slashedNumbers,
	(*parser).plainDecimal,
	(*parser).mixedNumber,
	(*parser).fractionInWords,
	(*parser).ordinal,
}

func (p *parser) digits(i int) (a amount, next int, ok bool) {
	t := p.toks[i]
	a = amount{at: t.at, end: t.end, value: t.value, decimal: t.decimal, decimals: t.decimals, digits: t.digits, whole: t.whole, negative: t.negative}
	if t.thousands {
		a.decimals = 0
	}
	for _, rule := range digitRules {
		if b, next, ok := rule(p, i, a); ok {
			return b, next, true
		}
	}
	return a, i + 1, true
}

// upTo is the amount where it takes the tokens before j.
func (p *parser) upTo(a amount, j int) (amount, int, bool) {
	a.end = p.toks[j-1].end
	return a, j, true
}

// withFraction is the amount with a fraction behind it, up to token j.
func (p *parser) withFraction(a amount, value float64, den, j int) (amount, int, bool) {
	a.value, a.fraction, a.whole = a.value+value, den, false
	return p.upTo(a, j)
}

// screwNumber: "#10", "no. 10-24" say a screw's size.
func (p *parser) screwNumber(i int, a amount) (_ amount, next int, ok bool) {
	if i == 0 || !p.marksGauge(i) {
		return a, i, false
	}
	a.gauge = true
	if p.kindAt(i+1) == tDash && p.gluedAt(i+1) && p.kindAt(i+2) == tNumber { // #10-24
		return a, i + 3, true
	}
	return a, i + 1, true
}

// countryCode: "+49 30 …" begins a telephone number.
func (p *parser) countryCode(i int, a amount) (_ amount, next int, ok bool) {
	t := p.toks[i]
	if i == 0 || !t.whole || !t.glued || !p.isText(i-1, "+") || len(t.digits) > 3 || p.kindAt(i+1) != tNumber {
		return a, i, false
	}
	j := i + 1
	for p.kindAt(j) == tNumber {
		j++
	}
	a.junk = true
	return p.upTo(a, j)
}

// dashedNumbers: whole numbers in a row joined by dashes are a telephone number or the like.
func (p *parser) dashedNumbers(i int, a amount) (_ amount, next int, ok bool) {
	dashed := func(j int) bool {
		return p.kindAt(j) == tDash && p.gluedAt(j) && p.kindAt(j+1) == tNumber && p.gluedAt(j+1)
	}
	if !a.whole || !dashed(i+1) || !p.toks[i+2].whole || p.kindAt(i+3) == tSlash {
		return a, i, false
	}
	second := p.toks[i+2]
	if len(a.digits) < 3 && len(second.digits) < 3 && second.digits[0] != '0' && !(p.kindAt(i+3) == tDash && p.gluedAt(i+3)) {
		return a, i, false
	}
	j := i + 3
	for dashed(j) {
		j += 2
	}
	a.junk = true
	return p.upTo(a, j)
}

// feetDashed: 6-8 is six foot eight, where a door follows or its width or height.
func (p *parser) feetDashed(i int, a amount) (_ amount, next int, ok bool) {
	if !a.whole || len(a.digits) != 1 || a.value == 0 || p.kindAt(i+1) != tDash || !p.gluedAt(i+1) || p.kindAt(i+2) != tNumber || !p.gluedAt(i+2) {
		return a, i, false
	}
	inches := p.toks[i+2]
	if !inches.whole || inches.value > 11 {
		return a, i, false
	}
	switch w := p.wordAt(i + 3); {
	case p.doorAhead(i + 3):
	case p.kindAt(i+3) == tTimes && p.kindAt(i+4) == tNumber && p.kindAt(i+5) == tDash && p.kindAt(i+6) == tNumber && p.doorAhead(i+7): // "2-6 x 6-8 door"
	case dimWords[w] == dHeight || dimWords[w] == dWidth:
		if inches.value == a.value+1 || !p.doorsSpokenOf() {
			return a, i, false
		}
	default:
		return a, i, false
	}
	a.value, a.unit, a.whole = 12*a.value+inches.value, "ft in", false
	return p.upTo(a, i+3)
}

// doorAhead reports a door at token i, or behind an adjective or two.
func (p *parser) doorAhead(i int) bool {
	for n := 0; n < 2 && countAdjectives[p.wordAt(i)] && subjectWords[p.wordAt(i)] == sNone; n++ {
		i++
	}
	return subjectWords[p.wordAt(i)] == sDoor
}

// feetOfDoor: 3/0 is three foot nothing, as those say who make doors.
func (p *parser) feetOfDoor(i int, a amount) (_ amount, next int, ok bool) {
	num, den, j, ok := p.slashed(i)
	if !ok || den != 0 || num <= 0 || num >= 10 || !p.gluedAt(i+1) || !p.gluedAt(i+2) || p.kindAt(j) == tSlash {
		return a, i, false
	}
	a.value, a.unit, a.whole = float64(12*num), "ft in", false
	return p.upTo(a, j)
}

// slashSlip: "3 /12" is 3 1/2, its slash a letter too early.
func (p *parser) slashSlip(i int, a amount) (_ amount, next int, ok bool) {
	if !a.whole || p.kindAt(i+1) != tSlash || p.gluedAt(i+1) || p.kindAt(i+2) != tNumber || !p.gluedAt(i+2) || len(p.toks[i+2].digits) != 2 {
		return a, i, false
	}
	d := p.toks[i+2].digits
	num, den := int(d[0]-'0'), int(d[1]-'0')
	if !p.toks[i+2].whole || num == 0 || num >= den || !powerOfTwo(den) {
		return a, i, false
	}
	return p.withFraction(a, float64(num)/float64(den), den, i+3)
}

// slashedNumbers: a fraction, or what has a slash and is none: 24/7, 3/4/26.
func (p *parser) slashedNumbers(i int, a amount) (_ amount, next int, ok bool) {
	num, den, j, ok := p.slashed(i)
	if !ok {
		return a, i, false
	}
	whole := 0
	if !a.whole { // "3.1/2" is 3 1/2
		whole = int(a.value)
	}
	a.num, a.den, a.fraction, a.whole = num, den, den, false
	a.decimals, a.digits = 0, ""
	if !powerOfTwo(den) && den != 3 && den != 10 && den != 6 && den != 12 && den != 5 || num == 0 || p.kindAt(j) == tSlash && p.gluedAt(j) {
		for p.kindAt(j) == tSlash && p.kindAt(j+1) == tNumber {
			j += 2
		}
		a.junk = true
		return p.upTo(a, j)
	}
	a.value = float64(whole) + float64(num)/float64(den)
	if num >= den && whole == 0 {
		// "31/2": the space was forgotten.
		if num >= 10 && num < 100 && num%10 < den && num%10 > 0 {
			a.improper = true
			a.value = float64(num/10) + float64(num%10)/float64(den)
		} else if num >= 100 && num < 10000 && num%100 < den && num%100 > 0 && den >= 16 {
			a.improper = true
			a.value = float64(num/100) + float64(num%100)/float64(den)
		}
	}
	return p.upTo(a, j)
}

// plainDecimal: no fraction follows what has decimals.
func (p *parser) plainDecimal(i int, a amount) (_ amount, next int, ok bool) {
	return a, i + 1, !a.whole
}

// mixedNumber: a fraction follows, after a space, a dash, "and", "&" or "+": "3-1/2", "3 and a half".
func (p *parser) mixedNumber(i int, a amount) (_ amount, next int, ok bool) {
	j := i + 1
	if k := p.kindAt(j); k == tDash || p.wordAt(j) == "and" || p.wordAt(j) == "und" || k == tOther && p.isText(j, "&", "+") {
		j++
	}
	switch p.kindAt(j) {
	case tVulgar:
		if v := p.toks[j].value; j == i+1 && a.value > 1 && !p.gluedAt(j) && (v == 0.25 || v == 0.625) && p.radiusWord(j+1) {
			break
		}
		return p.withFraction(a, p.toks[j].value, p.toks[j].decimals, j+1)
	case tNumber:
		if f := p.toks[j]; !f.whole && !f.negative || f.negative && j == i+1 { // "3 -1/2" has a minus of its own
			break
		}
		if j == i+1 && a.value > 1 && p.radiusAt(j) { // "4 5/8 rad"; "1 1/4 radius" is a bit's diameter
			break
		}
		if num, den, k, ok := p.slashed(j); ok && num < den && num > 0 && (powerOfTwo(den) || den == 3 || den == 10) && !(p.kindAt(k) == tSlash && p.gluedAt(k)) {
			return p.withFraction(a, float64(num)/float64(den), den, k)
		}
	case tWord:
		if j == i+1 || p.kindAt(i+1) != tWord {
			break
		}
		if v, d, k, ok := p.fractionPhrase(j); ok {
			return p.withFraction(a, v, d, k)
		}
	}
	return a, i, false
}

// radiusAt reports a fraction at token j, of the two that cutters have, that a radius or corner
// follows. Behind two or more it is a size of its own, as no corner has such a radius.
func (p *parser) radiusAt(j int) bool {
	num, den, k, ok := p.slashed(j)
	return ok && (num == 1 && den == 4 || num == 5 && den == 8) && p.radiusWord(k)
}

// radiusWord reports a radius or corner at token k, after a unit or not.
func (p *parser) radiusWord(k int) bool {
	if u, _, next := p.unit(k, amount{fraction: 1}); u != "" {
		k = next
	}
	if p.kindAt(k) == tDash {
		k++
	}
	w := p.wordAt(k)
	return dimWords[w] == dRadius || w == "r" || subjectWords[w] == sCorner || (w == "round" || w == "rounded") && subjectWords[p.wordAt(k+1)] == sCorner
}

// fractionInWords: "3 quarters", "13 sixteenths", "13 32nds".
func (p *parser) fractionInWords(i int, a amount) (_ amount, next int, ok bool) {
	den, j := fractionWords[p.wordAt(i+1)], i+2
	if p.kindAt(i+1) == tNumber && p.toks[i+1].whole && ordinals[p.wordAt(i+2)] && p.gluedAt(i+2) {
		if d := int(p.toks[i+1].value); powerOfTwo(d) {
			den, j = d, i+3
		}
	}
	if int(a.value) >= den || a.value <= 0 {
		return a, i, false
	}
	a.value, a.fraction, a.whole = a.value/float64(den), den, false
	return p.upTo(a, j)
}

// ordinal: "12th", "a 16th" alone are no size.
func (p *parser) ordinal(i int, a amount) (_ amount, next int, ok bool) {
	if !ordinals[p.wordAt(i+1)] || !p.gluedAt(i+1) {
		return a, i, false
	}
	a.junk = true
	return p.upTo(a, i+2)
}

// marksGauge reports a number that is a screw's: "#10", "no. 10", "No 9".
func (p *parser) marksGauge(i int) bool {
	if p.kindAt(i-1) == tOther && p.isText(i-1, "#") {
		return true
	}
	j := i - 1
	if p.kindAt(j) == tPoint && j > 0 {
		j--
	}
	w := p.wordAt(j)
	if w == "no" && p.kindAt(j-1) == tNumber {
		return false // "6 no. 100 mm hinges"
	}
	return w == "no" || w == "nr" || w == "number" && p.wordAt(j-1) == ""
}

// isText reports whether token i, which there is, is one of texts.
func (p *parser) isText(i int, texts ...string) bool {
	return slices.Contains(texts, p.text[p.toks[i].at:p.toks[i].end])
}

// slashed reads n/d at i, where n may be the digits after a point ("3.1/2").
func (p *parser) slashed(i int) (num, den, next int, ok bool) {
	if p.kindAt(i) != tNumber || p.kindAt(i+1) != tSlash || p.kindAt(i+2) != tNumber || !p.toks[i+2].whole {
		return 0, 0, i, false
	}
	n, d := p.toks[i], p.toks[i+2]
	if d.value == 0 && !n.whole || d.value > 1000 {
		return 0, 0, i, false
	}
	v := int(n.value)
	if !n.whole {
		if !p.gluedAt(i + 1) {
			return 0, 0, i, false
		}
		v = 0
		for k := len(n.digits) - 1; k >= 0 && isDigit(n.digits[k]); k-- {
			v = v + int(n.digits[k]-'0')*pow10(len(n.digits)-1-k)
		}
		if v >= int(d.value) {
			return 0, 0, i, false
		}
	}
	return v, int(d.value), i + 3, true
}

func pow10(n int) int {
	v := 1
	for ; n > 0 && v < 1e8; n-- {
		v *= 10
	}
	return v
}

// fractionPhrase reads "a half", "one half", "three quarters", "1/4", "five eighths".
func (p *parser) fractionPhrase(i int) (value float64, den, next int, ok bool) {
	j, n := i, 1
	switch w := p.wordAt(j); {
	case w == "a" || w == "an":
		j++
		if p.kindAt(j) == tDash {
			j++
		}
	default:
		if v, ok := numberWords[w]; ok && v > 0 {
			n = v
			j++
			if p.kindAt(j) == tDash {
				j++
			}
		}
	}
	if d, k := p.denominator(j); d > 0 && n < d {
		return float64(n) / float64(d), d, k, true
	}
	if d, ok := fractionWords[p.wordAt(j)]; ok && n < d {
		return float64(n) / float64(d), d, j + 1, true
	}
	if p.kindAt(j) == tNumber && ordinals[p.wordAt(j+1)] && p.gluedAt(j+1) && p.toks[j].whole { // "a 16th"
		if d := int(p.toks[j].value); powerOfTwo(d) && n < d {
			return float64(n) / float64(d), d, j + 2, true
		}
	}
	if j > i && p.kindAt(j) == tVulgar && n == 1 && p.wordAt(i) == "a" {
		return p.toks[j].value, p.toks[j].decimals, j + 1, true
	}
	return 0, 0, i, false
}

// denominator reads "thirty-seconds" and "sixty fourths"; 0 for none.
func (p *parser) denominator(j int) (den, next int) {
	k := j + 1
	if p.kindAt(k) == tDash {
		k++
	}
	switch w := p.wordAt(k); {
	case p.wordAt(j) == "thirty" && (w == "second" || w == "seconds"):
		return 32, k + 1
	case p.wordAt(j) == "sixty" && (w == "fourth" || w == "fourths"):
		return 64, k + 1
	}
	return 0, j
}

// words reads an amount typed in words.
func (p *parser) words(i int) (a amount, next int, ok bool) {
	w := p.toks[i].word
	a = amount{at: p.toks[i].at, end: p.toks[i].end, word: true}
	if w == "half" && p.wordAt(i+1) == "a" && p.wordAt(i+2) == "dozen" {
		a.value, a.whole, a.dozen, a.end = 6, true, true, p.toks[i+2].end
		return a, i + 3, true
	}
	if v, d, j, ok := p.fractionPhrase(i); ok {
		first := w == "a" || w == "an"
		_, counted := numberWords[w]
		// A bare "quarter" or "half" is a size only where an inch, a radius or a corner follows.
		if first || !counted {
			switch p.wordAt(j) {
			case "inch", "in", "inches", "of", "radius", "rad", "corner", "corners", "round", "rounded", "r":
			case "a", "an":
				if unitOf(p.wordAt(j+1)) != "in" { // "half an inch"
					return a, i, false
				}
				j++
			default:
				if dimWords[p.wordAt(j)] != dThick && p.kindAt(j) != tDouble && !(p.kindAt(j) == tDash && p.wordAt(j+1) == "inch") {
					return a, i, false
				}
			}
			if p.wordAt(j) == "of" && p.wordAt(j+1) != "an" && p.wordAt(j+1) != "inch" {
				return a, i, false
			}
		}
		a.value, a.fraction, a.end = v, d, p.toks[j-1].end
		return a, j, true
	}
	if n := numberWords[w]; n > 0 && n <= 12 { // "three 1/2 inch tall"
		if num, den, j, ok := p.slashed(i + 1); ok && num > 0 && num < den && powerOfTwo(den) && p.kindAt(i+1) == tNumber {
			if u, _, _ := p.unit(j, amount{fraction: den}); u == "in" && subjectWords[p.wordAt(j+1)] == sNone {
				a.value, a.fraction, a.end = float64(n)+float64(num)/float64(den), den, p.toks[j-1].end
				return a, j, true
			}
		}
	}
	if w == "an" || w == "one" || w == "inch" { // "an inch and a half"
		j := i
		if w != "inch" {
			j++
		}
		if p.wordAt(j) == "inch" && p.wordAt(j+1) == "and" && (w != "inch" || p.wordAt(i-1) == "" || !p.numberBefore(i)) {
			if v, d, k, ok := p.fractionPhrase(j + 2); ok {
				a.value, a.fraction, a.end, a.unit = 1+v, d, p.toks[k-1].end, "in"
				return a, k, true
			}
		}
		if w != "one" {
			return a, i, false
		}
	}
	n, counted := numberWords[w]
	if w == "a" && p.wordAt(i+1) == "pair" { // "a pair and a half"
		a.value, a.whole = 1, true
		if _, d, _, ok := p.fractionPhrase(i + 3); ok && d == 2 && p.wordAt(i+2) == "and" {
			a.value, a.whole = 1.5, false
		}
		return a, i + 1, true
	}
	if w == "both" && p.wordAt(i+1) == "hinges" && p.wordAt(i+2) == "on" {
		n, counted = 2, true
	}
	if w == "for" && p.wordAt(i+1) == "inches" { // dictated
		n, counted = 4, true
	}
	if !counted {
		return a, i, false
	}
	j := i + 1
	if n >= 20 && n%10 == 0 {
		k := j
		if p.kindAt(k) == tDash {
			k++
		}
		if m, ok := numberWords[p.wordAt(k)]; ok && m > 0 && m < 10 {
			n += m
			j = k + 1
		}
	}
	a.value, a.whole, a.end = float64(n), true, p.toks[j-1].end
	k := j
	if p.wordAt(k) == "and" || p.kindAt(k) == tDash && p.wordAt(k+1) == "and" {
		if p.kindAt(k) == tDash {
			k++
		}
		if p.kindAt(k+1) == tDash { // "three-and-a-half"
			k++
		}
		if v, d, m, ok := p.fractionPhrase(k + 1); ok {
			a.value, a.fraction, a.whole, a.end = a.value+v, d, false, p.toks[m-1].end
			return a, m, true
		}
	}
	if p.wordAt(k) == "and" { // "two and 1/2"
		if num, den, m, ok := p.slashed(k + 1); ok && num > 0 && num < den && powerOfTwo(den) {
			a.value, a.fraction, a.whole, a.end = a.value+float64(num)/float64(den), den, false, p.toks[m-1].end
			return a, m, true
		}
	}
	if p.kindAt(j) == tVulgar {
		a.value, a.fraction, a.whole, a.end = a.value+p.toks[j].value, p.toks[j].decimals, false, p.toks[j].end
		return a, j + 1, true
	}
	return a, j, true
}

func (p *parser) numberBefore(i int) bool {
	k := p.kindAt(i - 1)
	return i > 0 && (k == tNumber || k == tVulgar || k == tDash)
}

// unitOf is the unit that a word stands for; "" for none.
func unitOf(word string) string {
	u, _ := measure.UnitWord(word)
	return u
}
