package catalog

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// A FinishRow is one finish under its old US symbol and its BHMA numbers, which depend on
// the metal under it.
type FinishRow struct {
	US     string // "US26D"
	Brass  string // BHMA number on brass, bronze or (US27, US28) aluminium and (US32, US32D) stainless; "" none
	Steel  string // BHMA number on steel; "" none
	Metal  string // what Brass stands on; "" is brass
	Look   string // appearance in plain words
	Words  []string
	Source string
	Mark   Mark
}

// Finishes pairs the numbers of ANSI/BHMA A156.18 with the old US symbols.
// Source: an architectural finish chart; rows marked so are from trade sheets, and the two
// steel numbers 636 and 638 are from memory.
var Finishes = []FinishRow{
	{US: "USP", Steel: "600", Look: "primed for paint", Words: []string{"prime coat", "primed", "prime", "primer"}, Source: finishChart, Mark: SecondHand},
	{US: "US2C", Steel: "602", Look: "cadmium plated", Words: []string{"cadmium"}, Source: finishChart, Mark: SecondHand},
	{US: "US2G", Steel: "603", Look: "zinc plated", Words: []string{"zinc", "galvanised", "galvanized"}, Source: finishChart, Mark: SecondHand},
	{US: "", Steel: "604", Look: "zinc plated, yellow", Words: []string{"zinc dichromate", "yellow zinc"}, Source: finishChart, Mark: SecondHand},
	{US: "US3", Brass: "605", Steel: "632", Look: "bright brass", Words: []string{"polished brass", "bright brass", "brass", "gold"}, Source: finishChart, Mark: SecondHand},
	{US: "US4", Brass: "606", Steel: "633", Look: "satin brass", Words: []string{"satin brass", "brushed brass"}, Source: finishChart, Mark: SecondHand},
	{US: "US5", Brass: "609", Steel: "638", Look: "satin brass, blackened", Words: []string{"antique brass", "blackened brass"}, Source: finishChart + "; 638 from memory", Mark: FromMemory},
	{US: "US7", Brass: "610", Steel: "636", Look: "brass, blackened, bright relief", Source: finishChart + "; 636 from memory", Mark: FromMemory},
	{US: "US9", Brass: "611", Steel: "637", Look: "bright bronze", Words: []string{"bright bronze", "polished bronze"}, Source: finishChart, Mark: SecondHand},
	{US: "US10", Brass: "612", Steel: "639", Look: "satin bronze", Words: []string{"satin bronze", "bronze"}, Source: finishChart, Mark: SecondHand},
	{US: "US10A", Brass: "614", Steel: "641", Look: "oxidised bronze", Words: []string{"oxidised bronze", "oxidized bronze"}, Source: finishSheet, Mark: SecondHand},
	{US: "US10B", Brass: "613", Steel: "640", Look: "oil-rubbed bronze", Words: []string{"oil-rubbed bronze", "oil rubbed bronze", "dark bronze"}, Source: finishChart, Mark: SecondHand},
	{US: "US11", Brass: "616", Steel: "643", Look: "blackened satin bronze", Source: finishSheet, Mark: SecondHand},
	{US: "US14", Brass: "618", Steel: "645", Look: "bright nickel", Words: []string{"bright nickel", "polished nickel"}, Source: finishChart, Mark: SecondHand},
	{US: "US15", Brass: "619", Steel: "646", Look: "satin nickel", Words: []string{"satin nickel", "brushed nickel", "nickel"}, Source: finishChart, Mark: SecondHand},
	{US: "US19", Brass: "622", Steel: "631", Look: "flat black", Words: []string{"flat black", "matte black", "matt black", "black"}, Source: finishChart, Mark: SecondHand},
	{US: "US20", Brass: "623", Look: "oxidised statuary bronze", Source: finishChart, Mark: SecondHand},
	{US: "US20A", Brass: "624", Look: "dark statuary bronze", Source: finishChart, Mark: SecondHand},
	{US: "US26", Brass: "625", Steel: "651", Look: "bright chromium", Words: []string{"bright chrome", "polished chrome", "bright chromium", "chrome"}, Source: finishSheet, Mark: SecondHand},
	{US: "US26D", Brass: "626", Steel: "652", Look: "satin chromium", Words: []string{"satin chrome", "brushed chrome", "satin chromium", "dull chrome"}, Source: finishSheet, Mark: SecondHand},
	{US: "US27", Brass: "627", Metal: "aluminium", Look: "satin anodised", Source: finishChart, Mark: SecondHand},
	{US: "US28", Brass: "628", Metal: "aluminium", Look: "clear anodised", Source: finishChart, Mark: SecondHand},
	{US: "US32", Brass: "629", Metal: "stainless", Look: "bright stainless", Words: []string{"polished stainless", "bright stainless"}, Source: finishChart, Mark: SecondHand},
	{US: "US32D", Brass: "630", Metal: "stainless", Look: "satin stainless", Words: []string{"satin stainless", "brushed stainless", "stainless steel", "stainless"}, Source: finishChart, Mark: SecondHand},
}

const (
	finishChart = "ANSI/BHMA A156.18 as given in an architectural finish chart"
	finishSheet = finishChart + "; steel number from trade sheets"
)

// A Finish is one finish on one metal, under both its names.
type Finish struct {
	US     string `json:"us"`   // "" where the finish never had a symbol
	Number string `json:"bhma"` // "" where the metal is not known
	Metal  string `json:"metal"`
	Look   string `json:"look"`
}

// String prints both names and the appearance: "US26D / 652 satin chromium on steel".
func (f Finish) String() string {
	names := strings.Trim(f.US+" / "+f.Number, " /")
	text := strings.TrimSpace(names + " " + f.Look)
	if f.Metal != "" {
		text += " on " + f.Metal
	}
	return text
}

// FinishByNumber finds a BHMA number such as "652". The number gives the metal too.
func FinishByNumber(number string) (Finish, bool) {
	for _, r := range Finishes {
		switch {
		case number == "":
		case number == r.Brass:
			return Finish{r.US, r.Brass, cmp.Or(r.Metal, "brass"), r.Look}, true
		case number == r.Steel:
			return Finish{r.US, r.Steel, "steel", r.Look}, true
		}
	}
	return Finish{}, false
}

// FinishBySymbol finds a US symbol such as "US26D" or "26D" on a metal. Without a metal only
// US32 and US32D (stainless), US27 and US28 (aluminium) and symbols with one number get a
// number.
func FinishBySymbol(symbol, metal string) (Finish, bool) {
	symbol = strings.ToUpper(strings.ReplaceAll(strings.TrimSpace(symbol), " ", ""))
	if symbol == "P" || symbol == "PC" {
		symbol = "USP"
	}
	if symbol != "" && !strings.HasPrefix(symbol, "US") {
		symbol = "US" + symbol
	}
	for _, r := range Finishes {
		if r.US == "" || r.US != symbol {
			continue
		}
		f := Finish{US: r.US, Look: r.Look}
		switch {
		case r.Metal != "":
			f.Number, f.Metal = r.Brass, r.Metal
		case metal == "steel" || metal == "" && r.Brass == "":
			f.Number, f.Metal = r.Steel, "steel"
		case metal == "brass" || metal == "bronze" || metal == "" && r.Steel == "":
			f.Number, f.Metal = r.Brass, cmp.Or(metal, "brass")
		default:
			f.Metal = metal
		}
		return f, true
	}
	return Finish{}, false
}

// FindFinish understands a finish in any of its names: a BHMA number, a US symbol, or plain
// words such as "brushed nickel". The longest wording that occurs in text wins.
func FindFinish(text, metal string) (Finish, bool) {
	t := strings.ToLower(strings.Join(strings.Fields(text), " "))
	if t == "" {
		return Finish{}, false
	}
	for _, word := range strings.FieldsFunc(t, func(r rune) bool { return strings.ContainsRune(" /,;()", r) }) {
		if f, ok := FinishByNumber(word); ok {
			return f, true
		}
		if strings.HasPrefix(word, "us") || strings.TrimSpace(text) == word {
			if f, ok := FinishBySymbol(word, metal); ok {
				return f, true
			}
		}
	}
	best, row := "", -1
	for i, r := range Finishes {
		for _, w := range append([]string{strings.ToLower(r.Look)}, r.Words...) {
			if len(w) > len(best) && strings.Contains(t, w) {
				best, row = w, i
			}
		}
	}
	if row < 0 {
		return Finish{}, false
	}
	if r := Finishes[row]; r.US == "" {
		return Finish{"", r.Steel, "steel", r.Look}, true
	}
	return FinishBySymbol(Finishes[row].US, metal)
}

// named writes a finish in the customer's words, with the trade's symbol and name where these are others.
func (f Finish) named(words string) string {
	words = strings.TrimSpace(words)
	if words == "" || strings.EqualFold(words, f.Look) {
		return f.Look
	}
	trade := f.Look
	if name := cmp.Or(f.US, f.Number); name != "" && !strings.Contains(strings.ToUpper(words), name) {
		trade = name + ", " + f.Look
	}
	return words + " (" + trade + ")"
}

// sameAsOld reports whether a wish for a finish only names the old hinge's.
func sameAsOld(text string) bool {
	if _, known := FindFinish(text, ""); known {
		return false
	}
	has := func(words ...string) bool {
		return slices.ContainsFunc(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) }),
			func(w string) bool { return slices.Contains(words, w) })
	}
	return has("same", "match", "matching", "like", "as") && has("old", "same", "existing", "before", "others", "original", "now", "photo", "picture")
}

// PlatedNote says that a hinge asked for in brass or bronze only looks like it, or "". asked is the wish in any words.
func PlatedNote(asked string, i Item) string {
	f, ok := FindFinish(asked, "")
	if !ok || i.BaseMetal != "steel" {
		return ""
	}
	for _, metal := range []string{"brass", "bronze"} {
		if strings.Contains(f.Look, metal) && strings.Contains(finishLook(&i), metal) {
			return Capital(metal) + " finish on steel, not solid " + metal + "."
		}
	}
	return ""
}

// A seenFinish is what a photo's colours suggest of the old hinge's finish. The zero value is
// nothing.
type seenFinish struct {
	words    string // "looks like brass"
	families []string
}

// seenAs understands a photo's hint. What it tells apart are families of finishes: satin from
// polished it can't tell, nor nickel from chrome.
func seenAs(hint string) seenFinish {
	for _, h := range []struct{ hint, family, words string }{
		{"dark bronze", "dark bronze", "looks like dark bronze"}, {"black", "black", "looks black"}, {"brass, satin or polished", "brass", "looks like brass"},
		{"light grey metal", "light grey metal", "looks like nickel, chrome or stainless steel"},
		{"white paint", "white paint", "looks painted white"}, {"grey prime coat", "grey paint", "looks primed or painted grey"},
	} {
		if strings.HasPrefix(hint, h.hint) {
			return seenFinish{h.words, []string{h.family}}
		}
	}
	if f, ok := FindFinish(hint, ""); ok {
		return seenFinish{"looks like " + f.Look, finishFamilies(f.Look)}
	}
	return seenFinish{}
}

// differs reports whether a finish of that look is of another family.
func (s seenFinish) differs(look string) bool {
	return s.words != "" && !slices.ContainsFunc(finishFamilies(look), func(f string) bool { return slices.Contains(s.families, f) })
}

// finishFamilies are what a finish may look like in a photo. Common practice, no source.
func finishFamilies(look string) []string {
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(look, w) })
	}
	switch {
	case has("primed"):
		return []string{"grey paint", "white paint"}
	case look == "flat black":
		return []string{"black"}
	case has("blackened") && has("brass"):
		return []string{"brass", "dark bronze"}
	case has("oil-rubbed", "oxidised", "blackened", "dark"):
		return []string{"dark bronze"}
	case has("brass", "bronze", "yellow"):
		return []string{"brass"}
	}
	return []string{"light grey metal"}
}

// metalOf says which base metal the first digit of a type number of A156.1 means.
// Source: BHMA's product-number scheme; 5 stainless seen there, 2 and 8 from memory.
var metalOf = map[byte]string{'2': "brass", '5': "stainless", '8': "steel"}

// CheckTypeNumber reports what contradicts between a standard type number ("A8112"), a base
// metal and a BHMA finish number; nil where all agree or nothing can be said.
// A type number is A and four digits, the first of which gives the metal (BHMA scheme).
func CheckTypeNumber(typeNo, metal, finishNo string) error {
	f, known := FinishByNumber(finishNo)
	if known && metal != "" && !sameMetal(f.Metal, metal) {
		return fmt.Errorf("finish number %s is on %s, the hinge is said to be of %s", finishNo, f.Metal, metal)
	}
	if typeNo == "" {
		return nil
	}
	if len(typeNo) != 5 || typeNo[0] != 'A' || strings.Trim(typeNo[1:], "0123456789") != "" {
		return fmt.Errorf("%q is not a type number: A and four digits are expected, such as A8112", typeNo)
	}
	of, ok := metalOf[typeNo[1]]
	if !ok {
		return nil
	}
	if metal != "" && !sameMetal(of, metal) {
		return fmt.Errorf("type number %s is of %s, the hinge is said to be of %s", typeNo, of, metal)
	}
	if known && !sameMetal(of, f.Metal) {
		return fmt.Errorf("type number %s is of %s, finish number %s is on %s", typeNo, of, finishNo, f.Metal)
	}
	return nil
}

// sameMetal takes brass and bronze for one: the finish numbers do.
func sameMetal(a, b string) bool {
	if a == "bronze" {
		a = "brass"
	}
	if b == "bronze" {
		b = "brass"
	}
	return a == b
}
