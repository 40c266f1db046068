package catalog

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"leafgauge/measure"

	"github.com/bojanz/currency"
)

// A Problem is one thing about a stock list that a person should look at.
type Problem struct {
	Row        int    `json:"row"` // as the spreadsheet counts; 0 for the list as a whole
	Column     string `json:"column"`
	Cell       string `json:"cell"`
	Text       string `json:"text"`       // what is wrong, and what to do
	Understood string `json:"understood"` // what was made of it; "" nothing
	Warning    bool   `json:"warning"`    // it does not stand in the way of importing
}

// String prints p as one line.
func (p Problem) String() string {
	var b strings.Builder
	if p.Row > 0 {
		fmt.Fprintf(&b, "row %d, ", p.Row)
	}
	if p.Column != "" {
		fmt.Fprintf(&b, "%s: ", p.Column)
	}
	if p.Cell != "" && !strings.HasPrefix(p.Text, fmt.Sprintf("%q", shorten(p.Cell))) {
		fmt.Fprintf(&b, "%q: ", shorten(p.Cell))
	}
	b.WriteString(p.Text)
	if p.Understood != "" {
		fmt.Fprintf(&b, " (understood: %s)", p.Understood)
	}
	return b.String()
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:39]) + "…"
	}
	return s
}

// A ColumnUse says what a column of the list was taken for.
type ColumnUse struct {
	Heading string `json:"heading"` // as it stands in the list
	Field   string `json:"field"`   // "" where the column was passed over
	Unit    string `json:"unit"`    // in or mm; "" where each cell says, or it is no length
}

// A Report is what reading a stock list found. Nothing is imported while Errors is not 0.
type Report struct {
	Notes    []string    `json:"notes"`
	Columns  []ColumnUse `json:"columns"`
	Rows     int         `json:"rows"` // with a stock hinge in them
	Items    int         `json:"items"`
	Errors   int         `json:"errors"`
	Warnings int         `json:"warnings"`
	Problems []Problem   `json:"problems"` // the first of each kind in each column; the counts hold all
	Unlisted []Unlisted  `json:"unlisted"` // how many more there are
	columns  []Unlisted  // of every column with a problem
}

// Unlisted counts the problems of one column that a Report does not list one by one.
type Unlisted struct {
	Column  string `json:"column"`
	Warning bool   `json:"warning"`
	Count   int    `json:"count"`
	listed  int
}

// maxProblems bounds the list of single problems of a column: a column with 10,000 errors has
// one cause, and must not hide the next column's.
const maxProblems = 100

func (r *Report) add(p Problem) {
	if p.Warning {
		r.Warnings++
	} else {
		r.Errors++
	}
	at := slices.IndexFunc(r.columns, func(u Unlisted) bool { return u.Column == p.Column && u.Warning == p.Warning })
	if at < 0 {
		at = len(r.columns)
		r.columns = append(r.columns, Unlisted{Column: p.Column, Warning: p.Warning})
	}
	if c := &r.columns[at]; c.listed < maxProblems {
		c.listed++
		r.Problems = append(r.Problems, p)
	} else {
		c.Count++
	}
}

// close fills in what is only known at the end.
func (r *Report) close() {
	for _, c := range r.columns {
		if c.Count > 0 {
			r.Unlisted = append(r.Unlisted, c)
		}
	}
}

// A Mapping names the field for each heading of a shop's own list, so that the next import
// finds its columns: {"Artikel": "stock number", "Hoehe mm": "height"}.
type Mapping map[string]string

// ListOptions is what is known about a stock list beside its cells.
type ListOptions struct {
	Mapping  Mapping
	Currency string // ISO 4217, for prices without one; "" is USD
	Progress func(done, total int)
	// Patterns reads the named hole patterns that the shop has already. It is called once, and
	// only when the list names one that it does not give itself; nil is none.
	Patterns func() (map[string][]Hole, error)
}

// A field is one property of a stock hinge as a column.
type field struct {
	name   string
	also   []string
	length bool
	lo, hi measure.Length // plausible lengths, to tell inches from millimetres
	set    func(r *row, cell string)
	get    func(i *Item) string // nil: not exported
}

// row is one line of a list while it is read.
type row struct {
	*Item
	list   *listReader
	number int
	column string // heading of the cell that is being read
	unit   string
	ok     bool
	holes  string // the pattern's own list was given in this row
}

func (r *row) fail(cell, text string) { r.problem(Problem{Cell: cell, Text: text}) }
func (r *row) warn(cell, text, understood string) {
	r.problem(Problem{Cell: cell, Text: text, Understood: understood, Warning: true})
}

func (r *row) problem(p Problem) {
	p.Row, p.Column = r.number, cmp.Or(p.Column, r.column)
	if !p.Warning {
		r.ok = false
	}
	r.list.report.add(p)
}

// lengthField makes the field of a length.
func lengthField(name string, lo, hi measure.Length, at func(*Item) *measure.Length, also ...string) field {
	return field{name: name, also: also, length: true, lo: lo, hi: hi,
		set: func(r *row, cell string) {
			if l, ok := r.length(cell); ok {
				if l != 0 && (l < lo || l > hi) {
					r.fail(cell, fmt.Sprintf("%s cannot be %.2f mm (%s in): between %.4g and %.4g mm is expected; is the unit right?",
						name, l.MM(), l.Fraction(64), lo.MM(), hi.MM()))
					return
				}
				*at(r.Item) = l
			}
		},
		get: func(i *Item) string {
			if l := *at(i); l != 0 {
				return LengthText(l)
			}
			return ""
		}}
}

func (r *row) length(cell string) (measure.Length, bool) {
	n, err := r.list.number(cell)
	if err == nil {
		var l measure.Length
		if l, err = n.length(r.unit); err == nil {
			return l, true
		}
	}
	p := Problem{Cell: cell, Text: err.Error()}
	if err == errDate {
		p.Understood = undate(cell)
	}
	r.problem(p)
	return 0, false
}

var isoDate = regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})$`)

// undate guesses which fraction a spreadsheet has turned into a date. It reads 3-1/2 as the
// third month's first day of 2002, and 5/8 as the fifth month's eighth day of this year.
func undate(cell string) string {
	m := isoDate.FindStringSubmatch(strings.TrimSpace(cell))
	if m == nil {
		return ""
	}
	year, _ := strconv.Atoi(m[1])
	month, _ := strconv.Atoi(m[2])
	day, _ := strconv.Atoi(m[3])
	if under := year % 100; slices.Contains([]int{2, 4, 8, 16, 32}, under) && day < under {
		return fmt.Sprintf("perhaps %d-%d/%d", month, day, under)
	}
	if slices.Contains([]int{2, 4, 8, 16, 32}, day) && month < day {
		return fmt.Sprintf("perhaps %d/%d", month, day)
	}
	return ""
}

func textField(name string, at func(*Item) *string, also ...string) field {
	return field{name: name, also: also,
		set: func(r *row, cell string) {
			if len([]rune(cell)) > 200 {
				r.fail(cell, "it is longer than 200 characters")
				return
			}
			*at(r.Item) = cell
		},
		get: func(i *Item) string { return *at(i) }}
}

func countField(name string, least, most int, at func(*Item) *int, also ...string) field {
	return field{name: name, also: also,
		set: func(r *row, cell string) {
			f, err := strconv.ParseFloat(strings.ReplaceAll(cell, " ", ""), 64)
			n := int(f)
			if err != nil || float64(n) != f || n < least || n > most {
				r.fail(cell, fmt.Sprintf("%s must be a whole number between %d and %d", name, least, most))
				return
			}
			*at(r.Item) = n
		},
		get: func(i *Item) string {
			if *at(i) == 0 && name != "on hand" {
				return ""
			}
			return strconv.Itoa(*at(i))
		}}
}

// choiceField makes the field of a closed list; words maps what people write to it.
func choiceField[T ~string](name string, at func(*Item) *T, words map[string]T, also ...string) field {
	return field{name: name, also: also,
		set: func(r *row, cell string) {
			v, ok := words[plainWords(cell)]
			if !ok {
				known := slices.Sorted(maps.Keys(words))
				r.fail(cell, fmt.Sprintf("%s is not known; write one of: %s", name, strings.Join(known, ", ")))
				return
			}
			*at(r.Item) = v
		},
		get: func(i *Item) string { return string(*at(i)) }}
}

func plainWords(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	}), " ")
}

// fields are all columns of a stock list, in the order of an export.
var fields = []field{
	textField("stock number", func(i *Item) *string { return &i.StockNumber }, "stock no", "stock #", "number", "item", "item number", "item no", "sku", "article", "part"),
	textField("name", func(i *Item) *string { return &i.Name }, "description", "text", "title"),
	lengthField("height", 20, 320, func(i *Item) *measure.Length { return &i.Height }, "leaf height", "length", "h"),
	lengthField("open width", 15, 320, func(i *Item) *measure.Length { return &i.OpenWidth }, "width", "width open", "w"),
	{name: "size", also: []string{"hinge size", "nominal size", "size open"}, length: true, lo: 15, hi: 320, set: setSize},
	lengthField("tolerance", 0.01, 3, func(i *Item) *measure.Length { return &i.Tolerance }, "size tolerance", "plus minus"),
	lengthField("thickness", 0.5, 10, func(i *Item) *measure.Length { return &i.Thickness }, "leaf thickness", "gauge thickness", "metal"),
	radiusField("corner radius", 0, "corner", "corners", "radius"),
	radiusField("corner radius other leaf", 1, "corner other leaf", "radius other leaf"),
	textField("pattern", func(i *Item) *string { return &i.PatternID }, "hole pattern", "pattern name"),
	{name: "holes", also: []string{"hole list", "hole places"}, length: true, lo: 3, hi: 300, set: setHoles, get: getHoles},
	lengthField("hole uncertainty", 0.001, 2, func(i *Item) *measure.Length { return &i.HoleU }),
	lengthField("hole diameter", 2, 12, func(i *Item) *measure.Length { return &i.HoleDia }, "screw hole", "through hole"),
	lengthField("countersink", 4, 20, func(i *Item) *measure.Length { return &i.Sink }, "countersink diameter", "sink"),
	lengthField("barrel diameter", 4, 40, func(i *Item) *measure.Length { return &i.Barrel }, "barrel"),
	lengthField("pin diameter", 2, 20, func(i *Item) *measure.Length { return &i.Pin }, "pin"),
	choiceField("pin kind", func(i *Item) *string { return &i.PinKind }, map[string]string{"loose": "loose", "loose pin": "loose", "removable": "loose",
		"fixed": "fixed", "fixed pin": "fixed", "fast": "fixed", "non removable": "non-removable", "nonremovable": "non-removable", "nrp": "non-removable"}, "pin type"),
	countField("knuckles", 1, 99, func(i *Item) *int { return &i.Knuckles }, "knuckle count"),
	choiceField("bearing", func(i *Item) *measure.Bearing { return &i.Bearing }, map[string]measure.Bearing{"ball": measure.BallBearing,
		"ball bearing": measure.BallBearing, "bb": measure.BallBearing, "antifriction": measure.BallBearing, "plain": measure.PlainBearing,
		"plain bearing": measure.PlainBearing, "pb": measure.PlainBearing, "unknown": measure.BearingUnknown}, "bearings"),
	choiceField("base metal", func(i *Item) *string { return &i.BaseMetal }, map[string]string{"steel": "steel", "stainless": "stainless",
		"stainless steel": "stainless", "brass": "brass", "bronze": "bronze", "aluminium": "aluminium", "aluminum": "aluminium"}, "material", "base material"),
	textField("finish", func(i *Item) *string { return &i.Finish }, "finish symbol", "us finish", "colour", "color"),
	textField("finish number", func(i *Item) *string { return &i.FinishNo }, "bhma", "bhma finish", "bhma number", "finish bhma"),
	choiceField("mortise", func(i *Item) *string { return &i.Mortise }, map[string]string{"full mortise": "full mortise", "mortise": "full mortise", "butt": "full mortise",
		"half mortise": "half mortise", "half surface": "half surface", "full surface": "full surface", "surface": "full surface"}, "mortise kind", "mounting"),
	choiceField("handing", func(i *Item) *string { return &i.Handing }, map[string]string{"": "", "either": "", "both": "", "reversible": "", "none": "", "left": "left",
		"left hand": "left", "lh": "left", "right": "right", "right hand": "right", "rh": "right"}, "hand"),
	textField("screw", func(i *Item) *string { return &i.Screw }, "screws", "screw size", "screw included"),
	textField("type number", func(i *Item) *string { return &i.TypeNo }, "bhma type", "standard type", "type"),
	countField("pack size", 1, 10_000, func(i *Item) *int { return &i.PackSize }, "pack", "hinges in a pack"),
	countField("sold in", 1, 10_000, func(i *Item) *int { return &i.SoldIn }, "sold in multiples of", "multiple"),
	{name: "price", also: []string{"price each", "each", "unit price", "list price"}, set: setPrice, get: getPrice},
	{name: "price breaks", also: []string{"breaks", "quantity prices"}, set: setBreaks, get: getBreaks},
	countField("on hand", -100_000, 10_000_000, func(i *Item) *int { return &i.OnHand }, "stock", "in stock", "quantity", "qty"),
	countField("lead days", 1, 1000, func(i *Item) *int { return &i.LeadDays }, "lead time", "lead time days"),
	{name: "discontinued", also: []string{"gone", "inactive"},
		set: func(r *row, cell string) {
			switch plainWords(cell) {
			case "yes", "y", "true", "1", "x", "discontinued":
				r.Gone = true
			case "no", "n", "false", "0":
			default:
				r.fail(cell, "write yes or no")
			}
		},
		get: func(i *Item) string {
			if i.Gone {
				return "yes"
			}
			return ""
		}},
	textField("replaced by", func(i *Item) *string { return &i.ReplaceBy }, "replacement", "successor"),
}

func radiusField(name string, leaf int, also ...string) field {
	return field{name: name, also: also, length: true, lo: 1, hi: 40,
		set: func(r *row, cell string) {
			switch plainWords(cell) {
			case "square", "sq", "none", "0", "sharp":
				r.Radius[leaf] = 0
				return
			case "quarter", "quarter inch":
				cell = "1/4 in"
			case "five eighths":
				cell = "5/8 in"
			}
			cell = strings.TrimSpace(strings.TrimSuffix(strings.ToLower(cell), "radius"))
			if l, ok := r.length(cell); ok {
				if l != 0 && (l < 1 || l > 40) {
					r.fail(cell, "a corner radius lies between 1 and 40 mm; write square for none")
					return
				}
				r.Radius[leaf] = l
			}
		},
		get: func(i *Item) string {
			if leaf == 1 && i.Radius[1] == i.Radius[0] {
				return ""
			}
			if i.Radius[leaf] == 0 {
				return "square"
			}
			return LengthText(i.Radius[leaf])
		}}
}

// setSize reads "3-1/2 x 3-1/2": height first, then open width.
func setSize(r *row, cell string) {
	height, width, ok := strings.Cut(strings.ToLower(strings.ReplaceAll(cell, "×", "x")), "x")
	if !ok {
		r.fail(cell, "write a size as height x open width, such as 3-1/2 x 3-1/2")
		return
	}
	a, errA := r.list.number(strings.TrimSpace(height))
	b, errB := r.list.number(strings.TrimSpace(width))
	if errA != nil || errB != nil {
		r.fail(cell, "write a size as height x open width, such as 3-1/2 x 3-1/2")
		return
	}
	if a.unit == unitNone {
		a.unit = b.unit
	}
	if b.unit == unitNone {
		b.unit = a.unit
	}
	if a.unit == unitNone && r.unit == unitNone { // no hinge is 4 mm high, nor 90 in
		a.unit = unitMM
		if a.value < 15 {
			a.unit = unitInch
		}
		b.unit = a.unit
	}
	for k, n := range []number{a, b} {
		l, err := n.length(r.unit)
		if err == nil && (l < 15 || l > 320) {
			err = fmt.Errorf("%.4g mm is no hinge's size; is the unit right?", l.MM())
		}
		if err != nil {
			r.fail(cell, err.Error())
			return
		}
		if k == 0 {
			r.Height = l
		} else {
			r.OpenWidth = l
		}
	}
}

// setHoles reads "23/32 x 9/16 in; 13/32 x 1-1/2 in": from the outer edge × from one end.
func setHoles(r *row, cell string) {
	holes, err := r.list.parseHoles(cell, r.unit)
	if err != nil {
		r.fail(cell, err.Error())
		return
	}
	r.Holes, r.holes = holes, cell
}

func (l *listReader) parseHoles(cell, unit string) ([]Hole, error) {
	var holes []Hole
	for _, pair := range strings.FieldsFunc(cell, func(r rune) bool { return r == ';' || r == '|' }) {
		if strings.TrimSpace(pair) == "" {
			continue
		}
		edge, end, ok := strings.Cut(strings.ToLower(strings.ReplaceAll(pair, "×", "x")), "x")
		if !ok || strings.TrimSpace(edge) == "" || strings.TrimSpace(end) == "" {
			return nil, fmt.Errorf("%q is not a hole: write each as from edge x from end, such as 13/32 x 9/16 in, and put ; between them", strings.TrimSpace(pair))
		}
		a, err := l.number(edge)
		if err != nil {
			return nil, err
		}
		b, err := l.number(end)
		if err != nil {
			return nil, err
		}
		if a.unit == unitNone {
			a.unit = b.unit
		}
		var h Hole
		if h.FromEdge, err = a.length(unit); err == nil {
			h.FromEnd, err = b.length(unit)
		}
		if err != nil {
			return nil, err
		}
		holes = append(holes, h)
	}
	slices.SortStableFunc(holes, func(a, b Hole) int { return cmp.Compare(a.FromEnd, b.FromEnd) })
	return holes, nil
}

func getHoles(i *Item) string {
	var parts []string
	for _, h := range i.Holes {
		parts = append(parts, LengthText(h.FromEdge)+" x "+LengthText(h.FromEnd))
	}
	return strings.Join(parts, "; ")
}

func setPrice(r *row, cell string) {
	if a, ok := r.money(cell); ok {
		r.Prices = append(r.Prices, PriceBreak{1, a})
	}
}

func getPrice(i *Item) string {
	if len(i.Prices) == 0 || i.Prices[0].From != 1 {
		return ""
	}
	return i.Prices[0].Price.String()
}

// setBreaks reads "12: 3.95; 48: 3.60": from how many on, the price of one.
func setBreaks(r *row, cell string) {
	for _, part := range strings.FieldsFunc(cell, func(r rune) bool { return r == ';' || r == '|' }) {
		from, price, ok := strings.Cut(part, ":")
		n, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(from), "+")))
		if !ok || err != nil || n < 2 {
			r.fail(cell, "write price breaks as 12: 3.95; 48: 3.60 (from how many on, the price of one)")
			return
		}
		if a, ok := r.money(price); ok {
			r.Prices = append(r.Prices, PriceBreak{n, a})
		}
	}
}

func getBreaks(i *Item) string {
	var parts []string
	for _, b := range i.Prices {
		if b.From > 1 {
			parts = append(parts, fmt.Sprintf("%d: %s", b.From, b.Price))
		}
	}
	return strings.Join(parts, "; ")
}

var moneyForm = regexp.MustCompile(`^(?:([A-Z]{3})\s*)?[$€£]?\s*(\d{1,3}(?:[, ]\d{3})+(?:\.\d+)?|\d{1,3}(?:[. ]\d{3})+,\d{1,4}|\d+(?:[.,]\d{1,4})?|\.\d+)\s*([A-Z]{3})?$`)

// money reads "4.25", "$4.25", "4,25", "1,204.50", "1.204,50" or "4.25 EUR".
func (r *row) money(cell string) (currency.Amount, bool) {
	m := moneyForm.FindStringSubmatch(strings.TrimSpace(cell))
	if m == nil {
		r.fail(cell, "it is not a price: write it like 4.25 or 4.25 USD")
		return currency.Amount{}, false
	}
	number := strings.ReplaceAll(m[2], " ", "")
	if i := strings.LastIndex(number, ","); i >= 0 {
		if dot := strings.Index(number, "."); dot >= 0 && dot < i {
			number = strings.ReplaceAll(strings.ReplaceAll(number, ".", ""), ",", ".") // 1.204,50
		} else if dot >= 0 || len(number)-i == 4 {
			number = strings.ReplaceAll(number, ",", "") // 1,204.50 or 1,204
		} else {
			number = strings.ReplaceAll(number, ",", ".")
		}
	}
	a, err := currency.NewAmount(number, cmp.Or(m[1], m[3], r.list.opt.Currency))
	if err != nil {
		r.fail(cell, "it is not a price: "+err.Error())
		return currency.Amount{}, false
	}
	return a, true
}

var (
	unitInHeading  = regexp.MustCompile(`(?i)(?:^|[\s_(\[,-])(millimet(?:er|re)s?|mm|inch(?:es)?|in)[\])]?\.?$|"$`)
	moneyInHeading = regexp.MustCompile(`(?i)^(?:price|price each|unit price|list price) (usd|eur|gbp|cad|aud|nzd|chf|jpy|mxn)$`)
	breakInHeading = regexp.MustCompile(`(?i)^price (?:from )?(\d+)\+?$`)
)

// plainHeading takes the unit off a heading and reduces it to plain words.
func plainHeading(h string) (words, unit string) {
	h = strings.TrimSpace(strings.ReplaceAll(h, "_", " "))
	if m := unitInHeading.FindStringSubmatch(h); m != nil {
		unit = unitInch
		if strings.HasPrefix(strings.ToLower(m[1]), "m") {
			unit = unitMM
		}
		h = h[:len(h)-len(m[0])]
	}
	return plainWords(h), unit
}

// listReader reads one stock list.
type listReader struct {
	opt    ListOptions
	report Report
	seen   map[string]cachedNumber // most cells repeat
}

type cachedNumber struct {
	n   number
	err error
}

func (l *listReader) number(cell string) (number, error) {
	c, ok := l.seen[cell]
	if !ok {
		c.n, c.err = readNumber(cell)
		if len(l.seen) < 100_000 {
			l.seen[cell] = c
		}
	}
	return c.n, c.err
}

// column is where a field stands in a list.
type column struct {
	at      int
	heading string
	field   *field
	unit    string
}

// ParseStock reads the stock hinges in a sheet. The items are complete only where the
// report's Errors is 0; a caller imports all of them or none.
func ParseStock(s Sheet, opt ListOptions) ([]Item, Report) {
	items, report := parseStock(s, opt)
	report.close()
	return items, report
}

func parseStock(s Sheet, opt ListOptions) ([]Item, Report) {
	opt.Currency = cmp.Or(opt.Currency, "USD")
	l := &listReader{opt: opt, seen: map[string]cachedNumber{}}
	l.report.Notes = append([]string{}, s.Notes...)
	l.report.Problems = []Problem{}
	l.report.Columns = []ColumnUse{}
	l.report.Unlisted = []Unlisted{}
	for _, p := range s.Suspect {
		l.report.add(p)
	}
	head := l.findHeadings(s)
	if head < 0 {
		l.report.add(Problem{Text: "no row of headings with a column \"stock number\" and one more known column was found in the first 20 rows; name the columns as in an export, or give a mapping" + firstRow(s)})
		return nil, l.report
	}
	columns := l.mapColumns(s, head)
	if l.report.Errors > len(s.Suspect) {
		return nil, l.report
	}

	var items []Item
	var rows []int
	first := map[string]int{}
	patterns := map[string][]Hole{}
	defined := map[string]int{}
	for i := head + 1; i < len(s.Rows); i++ {
		if done := i - head - 1; opt.Progress != nil && done%1000 == 0 {
			opt.Progress(done, len(s.Rows)-head-1)
		}
		if blank(s.Rows[i]) {
			continue
		}
		l.report.Rows++
		item, ok := l.readRow(s.Rows[i], s.Number[i], columns)
		if before, twice := first[item.StockNumber]; twice && item.StockNumber != "" {
			l.report.add(Problem{Row: s.Number[i], Column: "stock number", Cell: item.StockNumber,
				Text: fmt.Sprintf("it stands in row %d already: a stock number must be unique", before)})
			ok = false
		}
		first[item.StockNumber] = s.Number[i]
		if item.PatternID != "" && len(item.Holes) > 0 {
			if r, again := defined[item.PatternID]; again && !slices.Equal(patterns[item.PatternID], item.Holes) {
				l.report.add(Problem{Row: s.Number[i], Column: "holes", Cell: item.PatternID,
					Text: fmt.Sprintf("pattern %s has other holes in row %d: give one of them another name", item.PatternID, r)})
			} else if !again {
				defined[item.PatternID], patterns[item.PatternID] = s.Number[i], item.Holes
			}
		}
		if ok {
			items = append(items, item)
			rows = append(rows, s.Number[i])
		}
	}
	l.addPatterns(patterns, items)
	for i := range items {
		for _, p := range complete(&items[i], patterns) {
			p.Row = rows[i]
			l.report.add(p)
		}
	}
	if l.report.Rows == 0 {
		l.report.add(Problem{Text: "there is no stock hinge below the headings"})
	}
	if opt.Progress != nil {
		opt.Progress(len(s.Rows)-head-1, len(s.Rows)-head-1)
	}
	l.report.Items = len(items)
	return items, l.report
}

// addPatterns adds the shop's own patterns where items need one that the list does not give.
func (l *listReader) addPatterns(patterns map[string][]Hole, items []Item) {
	needed := func(i Item) bool {
		_, ok := lookUpPattern(patterns, i)
		return i.PatternID != "" && len(i.Holes) == 0 && !ok
	}
	if l.opt.Patterns == nil || !slices.ContainsFunc(items, needed) {
		return
	}
	known, err := l.opt.Patterns()
	if err != nil {
		l.report.add(Problem{Column: "pattern", Text: "the hole patterns that the shop has already cannot be read: " + err.Error()})
	}
	for name, holes := range known {
		if _, given := patterns[name]; !given {
			patterns[name] = holes
		}
	}
}

// firstRow quotes the first row that is not blank.
func firstRow(s Sheet) string {
	for i, cells := range s.Rows {
		if !blank(cells) {
			return fmt.Sprintf(" (row %d reads: %s)", s.Number[i], shorten(strings.Join(cells, " | ")))
		}
	}
	return ""
}

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// fieldOf finds the field that a heading means.
func (l *listReader) fieldOf(heading string) (f *field, unit string) {
	words, unit := plainHeading(heading)
	if plainWords(heading) == "sold in" { // no inches
		words, unit = "sold in", unitNone
	}
	if to, ok := l.opt.Mapping[strings.TrimSpace(heading)]; ok {
		if to == "" {
			return nil, unit // passed over on purpose
		}
		words, _ = plainHeading(to)
	}
	for i := range fields {
		if fields[i].name == words {
			return &fields[i], unit
		}
		for _, a := range fields[i].also {
			if plainWords(a) == words {
				return &fields[i], unit
			}
		}
	}
	if m := moneyInHeading.FindStringSubmatch(words); m != nil {
		return &field{name: "price", set: func(r *row, cell string) {
			if !strings.ContainsAny(cell, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") {
				cell += " " + strings.ToUpper(m[1])
			}
			setPrice(r, cell)
		}}, unitNone
	}
	if m := breakInHeading.FindStringSubmatch(words); m != nil {
		return &field{name: "price from " + m[1], set: func(r *row, cell string) {
			n, err := strconv.Atoi(m[1])
			if a, ok := r.money(cell); ok && err == nil && n > 0 {
				r.Prices = append(r.Prices, PriceBreak{n, a})
			}
		}}, unitNone
	}
	return nil, unit
}

// findHeadings returns the index of the row of headings, or −1.
func (l *listReader) findHeadings(s Sheet) int {
	for i := 0; i < min(len(s.Rows), 20); i++ {
		known, number := 0, false
		for _, cell := range s.Rows[i] {
			if f, _ := l.fieldOf(cell); f != nil {
				known++
				number = number || f.name == "stock number"
			}
		}
		if number && known >= 2 {
			return i
		}
	}
	return -1
}

// mapColumns finds out what each column holds and in which unit.
func (l *listReader) mapColumns(s Sheet, head int) []column {
	var columns []column
	by := map[string]string{}
	for at, heading := range s.Rows[head] {
		heading = strings.TrimSpace(heading)
		f, unit := l.fieldOf(heading)
		if f == nil {
			if heading != "" {
				l.report.Columns = append(l.report.Columns, ColumnUse{Heading: heading})
			}
			continue
		}
		if other, twice := by[f.name]; twice {
			l.report.add(Problem{Row: s.Number[head], Column: heading,
				Text: fmt.Sprintf("both this column and %q are taken for %s: rename one, or leave one out by the mapping", other, f.name)})
			continue
		}
		by[f.name] = heading
		if !f.length {
			unit = unitNone
		}
		columns = append(columns, column{at, heading, f, unit})
	}
	for _, need := range []string{"stock number", "height", "open width"} {
		if _, ok := by[need]; !ok && (by["size"] == "" || need == "stock number") {
			l.report.add(Problem{Row: s.Number[head], Text: fmt.Sprintf("the column %q is missing: name it so, or give a mapping", need)})
		}
	}
	if _, ok := by["price"]; !ok {
		l.report.add(Problem{Row: s.Number[head], Warning: true, Text: `the column "price" is missing: these hinges can be proposed, but not quoted`})
	}
	votes := map[string]int{}
	for i := range columns {
		if c := &columns[i]; c.field.length && c.unit == unitNone && c.field.name != "holes" && c.field.name != "size" {
			c.unit = l.guessUnit(s, head, *c)
		}
		votes[columns[i].unit]++
	}
	// A column that could be either goes with the rest of the list.
	rest := unitNone
	if votes[unitInch] > 0 && votes[unitMM] == 0 {
		rest = unitInch
	} else if votes[unitMM] > 0 && votes[unitInch] == 0 {
		rest = unitMM
	}
	for i := range columns {
		c := &columns[i]
		if c.field.length && c.unit == unitNone && c.field.name != "size" { // there each cell tells
			c.unit = rest
		}
		l.report.Columns = append(l.report.Columns, ColumnUse{c.heading, c.field.name, c.unit})
	}
	return columns
}

// guessUnit tells inches from millimetres by which of them makes every bare number of the
// column plausible.
func (l *listReader) guessUnit(s Sheet, head int, c column) string {
	inch, mm := true, true
	bare := 0
	for _, r := range s.Rows[head+1:] {
		if c.at >= len(r) {
			continue
		}
		n, err := l.number(strings.TrimSpace(r[c.at]))
		if err != nil || n.unit != unitNone || n.fraction || n.value == 0 {
			continue
		}
		bare++
		v := measure.Length(n.value)
		inch = inch && v*measure.Inch >= c.field.lo && v*measure.Inch <= c.field.hi
		mm = mm && v >= c.field.lo && v <= c.field.hi
	}
	switch {
	case bare == 0 || inch == mm:
		return unitNone
	case inch:
		return unitInch
	}
	return unitMM
}

// readRow reads one line.
func (l *listReader) readRow(cells []string, number int, columns []column) (Item, bool) {
	item := Item{Radius: [2]measure.Length{}}
	r := row{Item: &item, list: l, number: number, ok: true}
	otherRadius := false
	for _, c := range columns {
		if c.at >= len(cells) {
			continue
		}
		cell := tidyCell(cells[c.at])
		if cell == "" {
			continue
		}
		r.column, r.unit = c.heading, c.unit
		if strings.HasPrefix(strings.TrimSpace(cells[c.at]), "=") { // not one that an export guards
			r.fail(cell, "it is a formula, not a value: replace it by what it shows")
			continue
		}
		if c.field.name == "stock number" && monthName.MatchString(cell) {
			r.warn(cell, "it looks like a date that a spreadsheet made of a stock number", cell)
		}
		if c.field.name == "stock number" && strings.Contains(strings.TrimSpace(cells[c.at]), "\n") {
			r.fail(cell, "it runs over several lines: close the quotation mark before it")
			continue
		}
		otherRadius = otherRadius || c.field.name == "corner radius other leaf"
		c.field.set(&r, cell)
	}
	r.column = ""
	if item.StockNumber == "" && r.ok {
		r.fail("", "the stock number is missing")
	}
	if !otherRadius {
		item.Radius[1] = item.Radius[0]
	}
	if item.Height == 0 && r.ok {
		r.problem(Problem{Column: "height", Text: "it is missing"})
	}
	if item.OpenWidth == 0 && r.ok {
		r.problem(Problem{Column: "open width", Text: "it is missing"})
	}
	return item, r.ok
}

var monthName = regexp.MustCompile(`(?i)^(\d{1,2}[-. ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[-. ]\d{1,4})$`)

// tidyCell trims a cell, drops control characters, and takes off the apostrophe that an
// export puts before a cell that a spreadsheet would run as a formula.
func tidyCell(s string) string {
	s = strings.TrimSpace(strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || r == '\r' {
			return ' '
		}
		if unicode.IsControl(r) || r == unicode.ReplacementChar || r == '\ufeff' {
			return -1
		}
		return r
	}, s))
	if rest, ok := strings.CutPrefix(s, "'"); ok && guarded(rest) {
		return rest
	}
	return s
}

// guarded reports whether an export writes s behind an apostrophe.
func guarded(s string) bool {
	rest, had := strings.CutPrefix(s, "'")
	return rest != "" && strings.ContainsRune("=+-@\t\r", rune(rest[0])) || had && guarded(rest)
}

// defaultTolerance is the half-width of the limits on height and width where a list gives
// none: 1/64 in. Common practice, no source; the standard's own table was not readable.
const defaultTolerance = measure.Inch / 64

// complete fills in what follows from the rest and says what contradicts.
func complete(i *Item, patterns map[string][]Hole) (problems []Problem) {
	warn := func(column, cell, text, understood string) {
		problems = append(problems, Problem{Column: column, Cell: cell, Text: text, Understood: understood, Warning: true})
	}
	fail := func(column, cell, text string) {
		problems = append(problems, Problem{Column: column, Cell: cell, Text: text})
	}

	if i.Tolerance == 0 {
		i.Tolerance = defaultTolerance
	}
	if i.Mortise == "" {
		i.Mortise = "full mortise"
	}
	if i.Bearing == "" {
		i.Bearing = measure.BearingUnknown
	}
	i.PackSize, i.SoldIn = max(i.PackSize, 1), max(i.SoldIn, 1)
	slices.SortStableFunc(i.Prices, func(a, b PriceBreak) int { return cmp.Compare(a.From, b.From) })
	for k := 1; k < len(i.Prices); k++ {
		if i.Prices[k].From == i.Prices[k-1].From {
			fail("price breaks", "", fmt.Sprintf("there are two prices from %d on", i.Prices[k].From))
		}
		if i.Prices[k].Price.CurrencyCode() != i.Prices[k-1].Price.CurrencyCode() {
			fail("price breaks", "", "the prices of one hinge are in different currencies")
		} else if c, err := i.Prices[k].Price.Cmp(i.Prices[k-1].Price); err == nil && c > 0 {
			warn("price breaks", "", fmt.Sprintf("from %d on a hinge costs more than before", i.Prices[k].From), i.Prices[k].Price.String())
		}
	}
	if len(i.Prices) > 0 && i.Prices[0].From > 1 {
		warn("price", "", fmt.Sprintf("there is no price for fewer than %d", i.Prices[0].From), "")
	}

	if len(i.Holes) == 0 && i.PatternID != "" {
		if holes, ok := lookUpPattern(patterns, *i); ok {
			i.Holes = slices.Clone(holes)
		} else {
			fail("pattern", i.PatternID, "no row gives the holes of this pattern: list them once in the column holes")
		}
	}
	leaf := i.OpenWidth / 2
	for _, h := range i.Holes {
		rim := max(i.Sink, i.HoleDia) / 2
		if h.FromEdge < rim || h.FromEdge > leaf-rim || h.FromEnd < rim || h.FromEnd > i.Height-rim {
			fail("holes", fmt.Sprintf("%s x %s", LengthText(h.FromEdge), LengthText(h.FromEnd)),
				fmt.Sprintf("this hole does not lie inside a leaf of %s x %s", LengthText(leaf), LengthText(i.Height)))
			break
		}
		if r := max(i.Radius[0], i.Radius[1]); cutByCorner(h, *i, r, rim) {
			warn("holes", "", "a hole's rim is cut by the rounded corner", "")
			break
		}
	}
	if len(i.Holes) == 0 {
		warn("holes", "", "no hole pattern is known: this hinge will never be said to drop in", "")
	}
	for _, r := range i.Radius {
		if r > i.Height/2 || r > leaf {
			fail("corner radius", LengthText(r), "the radius is larger than the leaf allows")
		}
	}
	if i.Sink != 0 && i.HoleDia != 0 && i.Sink < i.HoleDia {
		fail("countersink", LengthText(i.Sink), "the countersink is smaller than the hole")
	}
	if i.Thickness == 0 {
		warn("thickness", "", "the leaf thickness is not given: the depth of the cut-out cannot be judged", "")
	}
	if i.Pin != 0 && i.Barrel != 0 && i.Barrel < i.Pin+i.Thickness {
		fail("barrel diameter", LengthText(i.Barrel), "the barrel is too thin for a leaf rolled round this pin")
	}
	if i.ReplaceBy == i.StockNumber {
		fail("replaced by", i.ReplaceBy, "a hinge cannot be replaced by itself")
	}

	i.TypeNo = strings.ToUpper(i.TypeNo)
	completeFinish(i, warn)
	if err := CheckTypeNumber(i.TypeNo, i.BaseMetal, i.FinishNo); err != nil {
		warn("type number", strings.TrimSpace(i.TypeNo+" "+i.FinishNo), err.Error(), "")
	}
	return problems
}

// completeFinish fills in the other name of a finish, and the metal that it implies.
func completeFinish(i *Item, warn func(column, cell, text, understood string)) {
	if i.FinishNo == "" && i.Finish != "" {
		if f, ok := FindFinish(i.Finish, i.BaseMetal); ok {
			i.Finish, i.FinishNo, i.BaseMetal = cmp.Or(f.US, i.Finish), f.Number, cmp.Or(i.BaseMetal, f.Metal)
		} else {
			warn("finish", i.Finish, "this finish is not in the table: it is kept as written", i.Finish)
		}
		return
	}
	if f, ok := FinishByNumber(i.FinishNo); ok {
		if i.Finish != "" && f.US != "" && !strings.EqualFold(i.Finish, f.US) {
			if g, known := FindFinish(i.Finish, i.BaseMetal); known && g.US != f.US {
				warn("finish", i.Finish, fmt.Sprintf("number %s is %s", i.FinishNo, f), i.Finish)
			}
		}
		i.Finish, i.BaseMetal = cmp.Or(i.Finish, f.US), cmp.Or(i.BaseMetal, f.Metal)
	} else if i.FinishNo != "" {
		warn("finish number", i.FinishNo, "this number is not in the table: it is kept as written", i.FinishNo)
	}
}

// cutByCorner reports whether the rim of h crosses a rounded corner of the outer edge.
func cutByCorner(h Hole, i Item, r, rim measure.Length) bool {
	dy := min(h.FromEnd, i.Height-h.FromEnd)
	if r == 0 || h.FromEdge >= r || dy >= r {
		return false
	}
	return measure.Length(math.Hypot((r-h.FromEdge).MM(), (r-dy).MM()))+rim > r
}

// WriteStock writes items as a CSV that ParseStock reads back to the same items. Cells that
// a spreadsheet would run as a formula stand behind an apostrophe.
func WriteStock(w io.Writer, items []Item) error {
	c := csv.NewWriter(w)
	out := slices.DeleteFunc(slices.Clone(fields), func(f field) bool { return f.get == nil })
	rec := make([]string, len(out))
	for k, f := range out {
		rec[k] = f.name
	}
	if err := c.Write(rec); err != nil {
		return fmt.Errorf("stock list: %w", err)
	}
	for i := range items {
		for k, f := range out {
			rec[k] = f.get(&items[i])
			if guarded(rec[k]) {
				rec[k] = "'" + rec[k]
			}
		}
		if err := c.Write(rec); err != nil {
			return fmt.Errorf("stock list: %w", err)
		}
	}
	c.Flush()
	return c.Error()
}
