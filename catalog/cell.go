package catalog

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// Units that a cell, a header or a whole column can carry.
const (
	unitNone = ""
	unitInch = "in"
	unitMM   = "mm"
)

// plainMarks writes the marks of typed sizes as a keyboard has them.
var plainMarks = strings.NewReplacer("⁄", "/", "″", `"`, "”", `"`, "“", `"`, "''", `"`, "–", "-", "\u00a0", " ")

// asTyped does so with all of a text, and writes ⅝ as 5/8.
func asTyped(text string) string {
	var b strings.Builder
	for _, r := range plainMarks.Replace(text) {
		if over, under, ok := measure.VulgarFraction(r); ok {
			fmt.Fprintf(&b, " %d/%d", over, under)
			continue
		}
		b.WriteRune(r)
	}
	return b.String()
}

var (
	unitAtEnd  = regexp.MustCompile(`\s*(\pL+\.?|")$`)
	wholeFrac  = regexp.MustCompile(`^(\d+)(?:\s+|\s*-\s*)(\d+)\s*/\s*(\d+)$`)
	plainFrac  = regexp.MustCompile(`^(\d+)\s*/\s*(\d+)$`)
	plainDec   = regexp.MustCompile(`^\d*\.?\d+$|^\d+\.$`)
	commaDec   = regexp.MustCompile(`^\d*,\d+$`)
	looksDated = regexp.MustCompile(`(?i)^(\d{1,4}-\d{1,2}-\d{2,4}|\d{1,2}/\d{1,2}/\d{2,4}|\d{1,2}\.\d{1,2}\.\d{2,4}|\d{1,2}\.?[-/. ]?(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?([-/. ]\d{2,4})?|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?[-/. ]\d{1,4}([-/. ]\d{2,4})?)( \d{1,2}:\d\d.*)?$`)
)

// errDate is what a spreadsheet makes of 3-1/2 when nobody watches.
var errDate = errors.New("the spreadsheet has turned this into a date, as it does with 3-1/2 or 5/8: format the column as text and type the size again")

// number is what one cell says: a bare number and the unit that it carries itself.
type number struct {
	value    float64
	unit     string // unitNone where the cell does not say
	fraction bool   // written as a fraction: inches, unless it says otherwise
}

// readNumber reads a size as people type it into a cell: "3-1/2", "3 1/2", "3½", "3.5 in",
// "88,9", "88.9 mm", "8.9 cm", "86 thou".
func readNumber(cell string) (number, error) {
	s := strings.Join(strings.Fields(asTyped(cell)), " ")
	if s == "" {
		return number{}, errors.New("it is empty")
	}
	if looksDated.MatchString(s) {
		return number{}, errDate
	}
	n := number{}
	scale := 1.0
	if m := unitAtEnd.FindStringSubmatch(s); m != nil {
		var ok bool
		if n.unit, scale, ok = unitOf(m[1]); ok {
			s = strings.TrimSpace(s[:len(s)-len(m[0])])
		}
	}
	switch {
	case wholeFrac.MatchString(s):
		m := wholeFrac.FindStringSubmatch(s)
		v, err := fraction(m[2], m[3])
		if err != nil {
			return number{}, err
		}
		whole, _ := strconv.ParseFloat(m[1], 64)
		n.value, n.fraction = whole+v, true
	case plainFrac.MatchString(s):
		m := plainFrac.FindStringSubmatch(s)
		v, err := fraction(m[1], m[2])
		if err != nil {
			return number{}, err
		}
		n.value, n.fraction = v, true
	case plainDec.MatchString(s), commaDec.MatchString(s):
		v, err := strconv.ParseFloat(strings.ReplaceAll(s, ",", "."), 64)
		if err != nil {
			return number{}, fmt.Errorf("%q is not a size", shorten(cell))
		}
		n.value = v
	default:
		return number{}, fmt.Errorf("%q is not a size: write it like 3-1/2, 3.5 in or 88.9 mm", shorten(cell))
	}
	n.value *= scale
	if math.IsInf(n.value, 0) || n.value > 1e6 {
		return number{}, fmt.Errorf("%q is far too large", shorten(cell))
	}
	return n, nil
}

// unitOf is the unit that a word or mark behind a number stands for, inches or millimetres, and how many of
// them it is.
func unitOf(word string) (unit string, scale float64, ok bool) {
	if word == `"` {
		return unitInch, 1, true
	}
	u, _ := measure.UnitWord(strings.TrimSuffix(strings.ToLower(word), "."))
	switch u {
	case measure.UnitInch:
		return unitInch, 1, true
	case measure.UnitThou, measure.UnitMil:
		return unitInch, 0.001, true
	case measure.UnitMM:
		return unitMM, 1, true
	case measure.UnitCM:
		return unitMM, 10, true
	}
	return unitNone, 1, false
}

func fraction(over, under string) (float64, error) {
	a, _ := strconv.ParseFloat(over, 64)
	b, _ := strconv.ParseFloat(under, 64)
	if b == 0 || a >= b {
		return 0, fmt.Errorf("%s/%s is not a fraction of an inch", over, under)
	}
	return a / b, nil
}

// length turns n into a length. unit is the column's, used where the cell has none.
func (n number) length(unit string) (measure.Length, error) {
	if n.unit != unitNone {
		unit = n.unit
	}
	switch {
	case unit == unitMM:
		return measure.Length(n.value), nil
	case unit == unitInch, n.fraction:
		return measure.Length(n.value) * measure.Inch, nil
	}
	return 0, errors.New("it says neither in nor mm: put the unit into the column's heading")
}

// ParseLength reads one size with its own unit, such as "32in", "1-3/8 in", "6 ft 8 in",
// `6'8"` or "80 mm". A fraction without a unit is inches; a bare number is refused.
func ParseLength(text string) (measure.Length, error) {
	s := strings.TrimSpace(asTyped(text))
	for _, foot := range []string{"feet", "foot", "ft.", "ft", "'", "′"} {
		if at := strings.Index(strings.ToLower(s), foot); at > 0 {
			feet, err := readNumber(s[:at])
			if err != nil || feet.unit != unitNone {
				return 0, fmt.Errorf("%q is not a length: write it like 80in, 6ft 8in or 2032mm", text)
			}
			rest := strings.TrimLeft(s[at+len(foot):], " -")
			if rest == "" {
				return measure.Length(feet.value) * measure.Foot, nil
			}
			inches, err := readNumber(rest)
			if err != nil || inches.unit == unitMM || inches.value >= 12 {
				return 0, fmt.Errorf("%q is not a length: write it like 80in, 6ft 8in or 2032mm", text)
			}
			return measure.Length(feet.value)*measure.Foot + measure.Length(inches.value)*measure.Inch, nil
		}
	}
	scale := 1.0
	if l := strings.ToLower(s); strings.HasSuffix(l, "m") && !strings.HasSuffix(l, "mm") && !strings.HasSuffix(l, "cm") {
		s, scale = s[:len(s)-1]+"mm", 1000
	}
	n, err := readNumber(s)
	if err != nil {
		return 0, err
	}
	l, err := n.length(unitNone)
	if err != nil {
		return 0, fmt.Errorf("%q says neither in nor mm: write it like 80in, 6ft 8in or 2032mm", text)
	}
	return l * measure.Length(scale), nil
}

// LengthText writes l so that readNumber reads back exactly l: as a fraction of an inch, a
// short decimal of an inch, or millimetres. The unit is always written, which also keeps a
// spreadsheet from taking it for a date.
func LengthText(l measure.Length) string {
	if l == 0 {
		return "0 mm"
	}
	if n := math.Round(l.Inches() * 64); n < 1e6 {
		// As readNumber puts it together: whole and part, in lowest terms.
		whole, part, under := math.Floor(n/64), math.Mod(n, 64), 64.0
		for part != 0 && math.Mod(part, 2) == 0 {
			part, under = part/2, under/2
		}
		if measure.Length(whole+part/under)*measure.Inch == l {
			return l.Fraction(64) + " in"
		}
	}
	for digits := 2; digits <= 4; digits++ {
		s := strconv.FormatFloat(l.Inches(), 'f', digits, 64)
		if v, err := strconv.ParseFloat(s, 64); err == nil && measure.Length(v)*measure.Inch == l {
			return s + " in"
		}
	}
	return strconv.FormatFloat(l.MM(), 'f', -1, 64) + " mm"
}
