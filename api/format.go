package api

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/bojanz/currency"
)

var templateFuncs = template.FuncMap{
	"add": func(a, b int) int { return a + b }, "ago": ago, "choices": choices, "clock": clock, "corner": cornerText,
	"count": catalog.Count, "day": quote.Day, "dict": dict, "did": did, "finish": finishText, "inches": inches, "leaf": catalog.LeafName,
	"mm": mm, "money": quote.Money, "nice": catalog.Fractions, "odds": odds, "percent": measure.Percent, "price": firstPrice, "screw": catalog.ScrewText, "sharp": sharp,
	"sigmas": sigmas, "size": size, "source": func(s quote.Source) string { return sourceWords[s] },
	"title": func(s string) string { return catalog.Fractions(catalog.Capital(s)) }, "weight": func(w float64) float64 { return 100 * w },
	"where": whereDrawing,
}

// did says what somebody did, for "customer received" is no sentence.
func did(what string) string {
	switch what {
	case "received":
		return "sent the inquiry"
	case "measuring":
		return "began to measure"
	}
	return what
}

// sharp reports whether a length is the radius of a square corner: nothing, as far as it is written.
func sharp(e measure.Estimate) bool { return math.Abs(e.Value.MM()) < 0.005 }

// size writes a trade size as a shop does: "3 1/2 x 3 1/2" becomes "3½ × 3½ in".
func size(s string) string {
	if s == "" {
		return ""
	}
	s, metric := strings.CutSuffix(s, " mm")
	a, b, ok := strings.Cut(s, " x ")
	switch {
	case !ok && metric: // only the height is known
		return s + " mm"
	case !ok:
		return catalog.Fractions(s) + " in"
	case metric:
		return a + " × " + b + " mm"
	}
	return catalog.Fractions(a) + " × " + catalog.Fractions(b) + " in"
}

// inches writes a length in inches to three decimals, as a caliper shows it.
func inches(l measure.Length) string { return fmt.Sprintf("%.3f in", l.Inches()) }

// mm writes a length in millimetres to two decimals.
func mm(l measure.Length) string { return fmt.Sprintf("%.2f mm", l.MM()) }

// odds writes how much likelier an explanation is than the next, without claiming certainty;
// "" where it is no likelier.
func odds(o float64) string {
	switch {
	case o < 1:
		return ""
	case o > 1000:
		return "Over 1,000 to 1"
	}
	return fmt.Sprintf("%.0f to 1", o)
}

// sigmas writes by how many standard uncertainties something is off.
func sigmas(n float64) string {
	return strings.Replace(fmt.Sprintf("%.1f σ", n), "-", "−", 1)
}

// moneyText writes "26.48 USD", as a list has it, like quote.Money; what is no amount stays as it is.
func moneyText(s string) string {
	number, code, _ := strings.Cut(s, " ")
	a, err := currency.NewAmount(number, code)
	if err != nil {
		return s
	}
	return quote.Money(a)
}

// ago writes how long something has waited.
func ago(d time.Duration) string {
	switch {
	case d < time.Minute:
		return "under a minute"
	case d < time.Hour:
		return catalog.Count(int(d/time.Minute), "minute", "minutes")
	case d < 48*time.Hour:
		return catalog.Count(int(d/time.Hour), "hour", "hours")
	}
	return catalog.Count(int(d/(24*time.Hour)), "day", "days")
}

// clock writes a moment as the shop's clock shows it.
func clock(t time.Time) string { return t.Local().Format("2 Jan 2006, 15:04") }

// dict lets a template hand several named values to a part.
func dict(pairs ...any) (map[string]any, error) {
	if len(pairs)%2 != 0 {
		return nil, fmt.Errorf("dict: a name without a value")
	}
	m := map[string]any{}
	for i := 0; i < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m, nil
}

// choices are the values of a field with their texts, in pairs, behind one that says nothing.
func choices(chosen string, valuesAndTexts ...string) []choice {
	all := []choice{{Text: "Not sure"}}
	for pair := range slices.Chunk(valuesAndTexts, 2) {
		all = append(all, choice{pair[0], pair[1], pair[0] == chosen})
	}
	return all
}

// cornerText says how a stock hinge's corners are made.
func cornerText(i catalog.Item) string {
	one := func(r measure.Length) string {
		if r == 0 {
			return "square"
		}
		return catalog.Fractions(r.Fraction(16)) + " in"
	}
	if i.Radius[0] == i.Radius[1] {
		return one(i.Radius[0])
	}
	return one(i.Radius[0]) + " and " + one(i.Radius[1])
}

// finishText says what a stock hinge is made of and how it looks, with the finish's numbers.
func finishText(i catalog.Item) string {
	numbers := i.Finish
	if i.FinishNo != "" {
		numbers += "\u00a0/\u00a0" + i.FinishNo
	}
	text := i.BaseMetal
	if f, ok := catalog.FinishByNumber(i.FinishNo); ok {
		text, numbers = text+", "+f.Look, "("+numbers+")"
	} else {
		text += ","
	}
	return strings.Trim(text+" "+numbers, ", ")
}

// firstPrice is the price of a single hinge.
func firstPrice(i catalog.Item) string {
	p, err := i.PriceAt(1)
	if err != nil {
		return "none"
	}
	return quote.Money(p)
}
