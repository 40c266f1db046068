package readings

import (
	"leafgauge/measure"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Typed text is read in three steps: tokens (this file), amounts made of tokens (amount.go),
// and what each amount is a reading of (readings.go). Every step looks a bounded number of
// tokens ahead, so that the time grows with the text and no faster.

type kind uint8

const (
	tWord   kind = iota
	tNumber      // decimal or whole number
	tVulgar      // ½, ⅝, ¹³⁄₃₂
	tPrime       // ' or ′
	tDouble      // " or ″ or two primes
	tTimes       // x between sizes
	tSlash
	tDash
	tComma
	tOpen  // opening bracket
	tClose // closing bracket
	tColon // : or =
	tTilde // ~ or ≈
	tPlusMinus
	tPoint // full stop; a break unless an abbreviation's
	tBreak // ; ! ? and the like
	tNewline
	tJunk // a telephone number, a date, a code: never a reading
	tOther
)

// A token is a piece of typed text.
type token struct {
	kind     kind
	at, end  int // byte offsets
	word     string
	value    float64
	whole    bool // digits only
	decimals int
	// thousands is set where the number was typed as 1,524: value takes the comma as a
	// thousands mark, and decimal as a decimal comma.
	thousands bool
	decimal   float64
	digits    string // as typed
	glued     bool   // nothing stands between it and the token before
	negative  bool
}

var superscript = map[rune]int{'⁰': 0, '¹': 1, '²': 2, '³': 3, '⁴': 4, '⁵': 5, '⁶': 6, '⁷': 7, '⁸': 8, '⁹': 9}

func subscript(r rune) (int, bool) {
	if r >= '₀' && r <= '₉' {
		return int(r - '₀'), true
	}
	return 0, false
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// maxWord is the longest run of letters that is looked up; a longer one is no word.
const maxWord = 40

// marks are the characters that are a token each, primes and + aside.
var marks = func() map[rune]kind {
	all := map[rune]kind{}
	for k, runes := range map[kind]string{
		tNewline:   "\n\u2028\u2029\u0085",
		tDouble:    "\"″”“„‟❞＂ʺ˝",
		tTimes:     "*×✕✖╳⨯∗хХ", // the last two are Cyrillic, as some keyboards give
		tSlash:     "/⁄∕／",
		tDash:      "-‐‑‒–—−﹣－",
		tComma:     ",",
		tOpen:      "([{",
		tClose:     ")]}",
		tColon:     ":=",
		tTilde:     "~≈∼～",
		tPlusMinus: "±",
		tPoint:     ".",
		tBreak:     ";!?|•·▪◦…。",
	} {
		for _, r := range runes {
			all[r] = k
		}
	}
	return all
}()

// lex cuts text[from:to] into tokens. Offsets are those of text.
func lex(text string, from, to int, out []token) []token {
	i := from
	prevEnd := -1
	emit := func(t token) {
		t.glued = t.at == prevEnd
		prevEnd = t.end
		out = append(out, t)
	}
	single := func(k kind, n int) {
		emit(token{kind: k, at: i, end: i + n})
		i += n
	}
	for i < to {
		c := text[i]
		if isDigit(c) || (c == '.' || c == ',') && i+1 < to && isDigit(text[i+1]) && !afterDigit(text, from, i) && !(c == ',' && afterLetter(text, from, i)) {
			t := lexNumber(text, i, to)
			t.negative = isNegative(out, prevEnd, i)
			emit(t)
			i = t.end
			continue
		}
		r, n := utf8.DecodeRuneInString(text[i:to])
		if over, under, ok := measure.VulgarFraction(r); ok {
			emit(token{kind: tVulgar, at: i, end: i + n, value: float64(over) / float64(under), decimals: under})
			i += n
			continue
		}
		if _, ok := superscript[r]; ok {
			if t, ok := lexSuperscript(text, i, to); ok {
				emit(t)
				i = t.end
				continue
			}
		}
		if k, ok := marks[r]; ok {
			single(k, n)
			continue
		}
		switch r {
		case '\'', '`', '′', '’', '‘', 'ʹ', '´', '＇':
			switch next, m := utf8.DecodeRuneInString(text[min(i+n+1, to):to]); {
			case strings.HasPrefix(text[i+n:to], text[i:i+n]):
				single(tDouble, 2*n)
			case afterDigit(text, from, i) && strings.HasPrefix(text[i+n:to], "s") && (m == 0 || !unicode.IsLetter(next)): // "flat 3's door"
				single(tOther, n+1)
			default:
				single(tPrime, n)
			}
		case '+':
			switch rest := text[i+1 : to]; {
			case strings.HasPrefix(rest, "/-"):
				single(tPlusMinus, 3)
			case strings.HasPrefix(rest, "-"):
				single(tPlusMinus, 2)
			default:
				single(tOther, 1)
			}
		case 'ø', 'Ø', '⌀', '∅', 'φ', 'Φ':
			emit(token{kind: tWord, at: i, end: i + n, word: "dia"})
			i += n
		case '_', '\ufeff', '\u200b', '\u2060': // open_width is open width
			i += n
		default:
			switch {
			case unicode.IsSpace(r):
				i += n
			case unicode.IsLetter(r):
				i = lexWord(text, i, to, emit)
			default:
				single(tOther, n)
			}
		}
	}
	return out
}

func afterDigit(text string, from, i int) bool { return i > from && isDigit(text[i-1]) }

// afterLetter: the comma of "US26D,24" is none of a decimal.
func afterLetter(text string, from, i int) bool {
	return i > from && (text[i-1]|0x20 >= 'a' && text[i-1]|0x20 <= 'z')
}

// isNegative says whether the number at i has a minus of its own: a dash that touches it and
// stands after a space, a colon or the start of a line. "3-1/2" and "- 3 1/2" have none.
func isNegative(out []token, prevEnd, i int) bool {
	if len(out) == 0 || prevEnd != i || out[len(out)-1].kind != tDash || out[len(out)-1].glued {
		return false
	}
	if len(out) == 1 {
		return true
	}
	switch out[len(out)-2].kind {
	case tWord, tColon, tComma, tNewline, tBreak, tOpen, tTilde, tTimes:
		return true
	}
	return false
}

// lexNumber reads digits with at most one decimal mark. Doubled marks ("3..5") are a typing
// slip and count as one; digits in three or more groups are a date or a telephone number.
func lexNumber(text string, i, to int) token {
	start := i
	var groups [3]string
	var marks [3]byte
	g := 0
	for {
		d := i
		for i < to && isDigit(text[i]) {
			i++
		}
		if g < len(groups) {
			groups[g] = text[d:i]
		}
		m := i
		for m < to && m-i < 3 && (text[m] == '.' || text[m] == ',') {
			m++
		}
		if m == i || m >= to || !isDigit(text[m]) {
			break
		}
		if g < len(marks) {
			marks[g] = text[i]
		}
		g++
		i = m
	}
	t := token{kind: tNumber, at: start, end: i, digits: text[start:i]}
	switch {
	case g == 0:
		t.whole = true
		if len(groups[0]) > 7 {
			t.kind = tJunk
			return t
		}
		t.value, _ = strconv.ParseFloat(groups[0], 64)
	case g == 1:
		if len(groups[0]) > 7 || len(groups[1]) > 9 {
			t.kind = tJunk
			return t
		}
		t.value, _ = strconv.ParseFloat("0"+groups[0]+"."+groups[1], 64)
		t.decimals = len(groups[1])
		if marks[0] == ',' && len(groups[1]) == 3 && len(groups[0]) > 0 && groups[0][0] != '0' && len(groups[0]) <= 3 {
			t.thousands, t.decimal = true, t.value
			t.value, _ = strconv.ParseFloat(groups[0]+groups[1], 64)
		}
	case g == 2 && marks[0] == ',' && marks[1] == '.' && len(groups[1]) == 3 && len(groups[0]) <= 3 && len(groups[2]) <= 6:
		t.value, _ = strconv.ParseFloat(groups[0]+groups[1]+"."+groups[2], 64)
		t.decimals = len(groups[2])
	default:
		t.kind = tJunk
	}
	return t
}

func lexSuperscript(text string, i, to int) (token, bool) {
	start, num, den := i, 0, 0
	read := func(digit func(rune) (int, bool)) (v, n int) {
		for n < 3 && i < to {
			r, w := utf8.DecodeRuneInString(text[i:to])
			d, ok := digit(r)
			if !ok {
				break
			}
			v, n, i = v*10+d, n+1, i+w
		}
		return v, n
	}
	num, n := read(func(r rune) (int, bool) { d, ok := superscript[r]; return d, ok })
	r, w := utf8.DecodeRuneInString(text[i:to])
	if n == 0 || r != '⁄' && r != '/' && r != '∕' {
		return token{}, false
	}
	i += w
	den, n = read(func(r rune) (int, bool) {
		if r >= '0' && r <= '9' {
			return int(r - '0'), true
		}
		return subscript(r)
	})
	if n == 0 || den == 0 || num >= den {
		return token{}, false
	}
	return token{kind: tVulgar, at: start, end: i, value: float64(num) / float64(den), decimals: den}, true
}

// joined are the runs of letters that people type without a space round the x.
var joined = map[string]bool{"": true, "h": true, "w": true, "t": true, "l": true, "d": true, "ht": true,
	"in": true, "inch": true, "inches": true, "mm": true, "cm": true, "high": true, "wide": true, "tall": true}

// tagged are the words that may touch the number after them: "R6", "H3.5".
var tagged = map[string]bool{"r": true, "rad": true, "radius": true, "h": true, "ht": true, "height": true, "w": true,
	"width": true, "t": true, "thick": true, "thickness": true, "l": true, "d": true, "dia": true, "b": true,
	"is": true, "of": true, "size": true, "about": true, "by": true, "and": true, "qty": true, "hinge": true, "hinges": true,
	"door": true, "pin": true, "barrel": true, "leaf": true, "high": true, "wide": true, "tall": true, "ca": true}

// lexWord reads a run of letters, with what belongs to it, and returns where it ends.
func lexWord(text string, i, to int, emit func(token)) int {
	start := i
	for i < to {
		r, n := rune(text[i]), 1
		if r >= utf8.RuneSelf {
			r, n = utf8.DecodeRuneInString(text[i:to])
			if _, sup := superscript[r]; sup {
				break
			}
			if r == 'х' || r == 'Х' {
				break
			}
			if (r == '’' || r == '‘') && i > start && letterAt(text, i+n, to) {
				i += n
				continue
			}
		} else if r == '\'' && i > start && letterAt(text, i+1, to) {
			i++
			continue
		}
		if !unicode.IsLetter(r) {
			break
		}
		i += n
	}
	word := text[start:i]
	if len(word) <= maxWord {
		word = strings.ReplaceAll(strings.ToLower(word), "’", "'")
	}
	if strings.ContainsRune(word, 'x') && len(word) <= 16 && word != "x" {
		parts := strings.Split(word, "x")
		if len(parts) == 2 && joined[parts[0]] && joined[parts[1]] {
			at := start
			for n, part := range parts {
				if n > 0 {
					emit(token{kind: tTimes, at: at, end: at + 1})
					at++
				}
				if part != "" {
					emit(token{kind: tWord, at: at, end: at + len(part), word: part})
					at += len(part)
				}
			}
			return i
		}
	}
	if (word == "l" || word == "i") && i+1 < to && text[i] == '/' && isDigit(text[i+1]) { // "3 l/2"
		emit(token{kind: tNumber, at: start, end: i, value: 1, whole: true, digits: "1"})
		return i
	}
	if word == "x" {
		emit(token{kind: tTimes, at: start, end: i})
		return i
	}
	if i < to && isDigit(text[i]) && !tagged[word] {
		for i < to && (isDigit(text[i]) || text[i] >= 'a' && text[i] <= 'z' || text[i] >= 'A' && text[i] <= 'Z') {
			i++
		}
		code := token{kind: tJunk, at: start, end: i}
		if i-start <= maxWord {
			code.word = strings.ToLower(text[start:i])
		}
		emit(code)
		return i
	}
	emit(token{kind: tWord, at: start, end: i, word: word})
	return i
}

func letterAt(text string, i, to int) bool {
	if i >= to {
		return false
	}
	r, _ := utf8.DecodeRuneInString(text[i:to])
	return unicode.IsLetter(r)
}

// powerOfTwo reports whether d divides an inch as rules do: 2, 4, … 128.
func powerOfTwo(d int) bool { return d >= 2 && d <= 128 && d&(d-1) == 0 }

// trim drops the noise of binary fractions, so that 3.1 in is 78.74 mm and no more.
func trim(mm float64) float64 { return math.Round(mm*1e9) / 1e9 }
