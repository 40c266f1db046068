package catalog

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

// demoStock reads the demo shelf.
func demoStock(t testing.TB) []Item {
	t.Helper()
	f, err := os.Open("../testdata/stock/demo.csv")
	require.NoError(t, err)
	defer f.Close()
	s, err := ReadSheet(f)
	require.NoError(t, err)
	items, report := ParseStock(s, ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	return items
}

func TestDemoStockReadsWithoutErrors(t *testing.T) {
	items := demoStock(t)
	require.GreaterOrEqual(t, len(items), 300)
	two := 0
	for _, i := range items {
		if i.SoldIn == 2 { // "sold in" is no column of inches
			two++
		}
		if i.Mortise != "full mortise" {
			continue
		}
		// 3 holes for 3 and 3 1/2 in, 4 for 4 in and larger (common practice, no source), but 3 in
		// some residential 4 in hinges, 5 for 6 in (from memory).
		switch i.Height.Fraction(8) {
		case "3", "3 1/2":
			require.Len(t, i.Holes, 3, i.StockNumber)
		case "6":
			require.Len(t, i.Holes, 5, i.StockNumber)
		default:
			require.Contains(t, []int{3, 4}, len(i.Holes), i.StockNumber)
			require.True(t, len(i.Holes) == 4 || i.Height.Fraction(8) == "4" && i.Thickness < 2.6, i.StockNumber)
		}
		for k, h := range i.Holes {
			// Arc and three-hole patterns are mirror-symmetric about mid-height, a four-hole zigzag
			// is not; every rim lies inside the leaf, clear of a rounded corner (common practice).
			m := i.Holes[len(i.Holes)-1-k]
			require.InDelta(t, i.Height.MM(), (h.FromEnd + m.FromEnd).MM(), 0.2, i.StockNumber)
			require.False(t, cutByCorner(h, i, max(i.Radius[0], i.Radius[1]), i.Sink/2), i.StockNumber)
		}
	}
	require.Positive(t, two)
}

// parse reads a list given as text.
func parse(t testing.TB, text string, opt ListOptions) ([]Item, Report) {
	t.Helper()
	s, err := ReadSheet(strings.NewReader(text))
	require.NoError(t, err)
	return ParseStock(s, opt)
}

func TestSizesAsPeopleTypeThem(t *testing.T) {
	for text, want := range map[string]float64{
		"3-1/2": 88.9, "3 1/2": 88.9, "3½": 88.9, "3 ½": 88.9, `3.5"`: 88.9, "3.5 in": 88.9, "3 - 1/2 inch": 88.9, "3 1/2″": 88.9, "3⅜": 85.725,
		"88.9 mm": 88.9, "88,9mm": 88.9, "8.89 cm": 88.9, "86 thou": 2.1844, ".086 in": 2.1844, "1/4": 6.35, "13/32\"": 10.31875, "5⁄8 in": 15.875,
	} {
		n, err := readNumber(text)
		require.NoError(t, err, text)
		l, err := n.length(unitNone)
		require.NoError(t, err, text)
		require.InDelta(t, want, l.MM(), 1e-9, text)
	}
	for _, text := range []string{"", "about three", "3..5", "3-1/0", "5/4", "-3", "3 1/2 x 3 1/2", "1e9", "NaN", "3,5,6"} {
		_, err := readNumber(text)
		require.Error(t, err, text)
	}
	for _, text := range []string{"3-Jan", "Jan-02", "1-Mar-2002", "2002-03-01", "3/1/2002", "03/01/02", "5. Aug 2025", "8-May", "2002-03-01 00:00:00"} {
		_, err := readNumber(text)
		require.ErrorIs(t, err, errDate, text)
	}
}

func TestLengthsOfDoors(t *testing.T) {
	for text, want := range map[string]float64{"80in": 2032, "6ft 8in": 2032, `6'8"`: 2032, "6'-8": 2032, "2032mm": 2032, "203.2 cm": 2032, "2.032 m": 2032,
		"1-3/8in": 34.925, "1 3/8": 34.925, "2ft": 609.6, "6' 8 1/2\"": 2044.7} {
		l, err := ParseLength(text)
		require.NoError(t, err, text)
		require.InDelta(t, want, l.MM(), 1e-6, text)
	}
	for _, text := range []string{"", "80", "tall", "6ft 14in", "in", "-2in"} {
		_, err := ParseLength(text)
		require.Error(t, err, text)
	}
}

func TestEveryLengthReadsBackToItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := measure.Length(rapid.Float64Range(0.01, 400).Draw(t, "mm"))
		if rapid.Bool().Draw(t, "fraction") {
			l = measure.Length(rapid.IntRange(1, 1000).Draw(t, "64ths")) / 64 * measure.Inch
		}
		n, err := readNumber(LengthText(l))
		require.NoError(t, err)
		back, err := n.length(unitNone)
		require.NoError(t, err)
		require.Equal(t, l, back)
	})
}

func TestColumnsAreFoundByHeading(t *testing.T) {
	items, report := parse(t, "Our shelf\n\nSKU;Leaf height (mm);Width [mm];Metal mm;Corners;Each;Qty;Colour;Note\n"+
		"A-1;88,9;88,9;2,2;1/4 in;4,25;12;Satin Nickel;x\n\nA-2;101,6;101,6;3,3;square;1.2.04;;26D;\n", ListOptions{Currency: "EUR"})
	require.Equal(t, 1, report.Errors, "%v", report.Problems) // 1.2.04 is no price
	require.Equal(t, 6, report.Problems[0].Row)
	require.Equal(t, "1.2.04", report.Problems[0].Cell)
	require.Len(t, items, 1)
	i := items[0]
	require.InDelta(t, 88.9, i.Height.MM(), 1e-9)
	require.InDelta(t, 6.35, i.Radius[1].MM(), 1e-9)
	require.Equal(t, "4.25 EUR", i.Prices[0].Price.String())
	require.Equal(t, "US15", i.Finish)
	require.Equal(t, 12, i.OnHand)
	require.Contains(t, report.Columns, ColumnUse{"Note", "", ""})
}

func TestASizeColumnGivesBoth(t *testing.T) {
	items, report := parse(t, "number,size,price (CAD)\nA,3-1/2 x 4,4.25\nB,90 x 76 mm,5\n", ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Equal(t, "3 1/2 x 4", items[0].Size())
	require.Equal(t, "90 x 76 mm", items[1].Size())
	require.Equal(t, "4.25 CAD", items[0].Prices[0].Price.String())
	_, report = parse(t, "number,size\nA,3-1/2\n", ListOptions{})
	require.Equal(t, 1, report.Errors)
}

func TestAMappingNamesForeignHeadings(t *testing.T) {
	list := "Artikel,Hoehe mm,Breite mm,Preis\nA,88.9,88.9,3\n"
	_, report := parse(t, list, ListOptions{})
	require.Positive(t, report.Errors)
	items, report := parse(t, list, ListOptions{Mapping: Mapping{"Artikel": "stock number", "Hoehe mm": "height", "Breite mm": "open width", "Preis": "price"}})
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Len(t, items, 1)
	require.InDelta(t, 88.9, items[0].Height.MM(), 1e-9)
}

func TestUnitsAreGuessedFromTheWholeColumn(t *testing.T) {
	items, report := parse(t, "number,height,width,thickness\nA,3.5,3.5,0.085\nB,4,4,0.13\n", ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.InDelta(t, 88.9, items[0].Height.MM(), 1e-9)
	require.InDelta(t, 2.159, items[0].Thickness.MM(), 1e-9)
	items, report = parse(t, "number,height,width,thickness\nA,88.9,88.9,2.2\nB,101.6,101.6,3.3\n", ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.InDelta(t, 2.2, items[0].Thickness.MM(), 1e-9)
	// 25 could be millimetres of a tiny hinge or nothing else; 3 and 88.9 in one column are neither.
	_, report = parse(t, "number,height,width\nA,3.5,3.5\nB,88.9,88.9\n", ListOptions{})
	require.Positive(t, report.Errors)
	require.Contains(t, fmt.Sprint(report.Problems), "neither in nor mm")
}

func TestProblemsNameRowAndColumn(t *testing.T) {
	for name, c := range map[string]struct{ list, column, text string }{
		"a fraction that became a date":  {"number,height in,width in\nA,3-Jan,3.5\n", "height in", "turned this into a date"},
		"a number twice":                 {"number,height in,width in\nA,3.5,3.5\nA,4,4\n", "stock number", "row 2 already"},
		"no number":                      {"number,height in,width in\n,3.5,3.5\n", "", "stock number is missing"},
		"no height":                      {"number,height in,width in\nA,,3.5\n", "height", "missing"},
		"no height column":               {"number,width in,price\nA,3.5,2\n", "", `column "height" is missing`},
		"a hinge of three feet":          {"number,height in,width in\nA,36,3.5\n", "height in", "is the unit right"},
		"a negative size":                {"number,height in,width in\nA,-3.5,3.5\n", "height in", "not a size"},
		"a formula":                      {"number,height in,width in\nA,=3+0.5,3.5\n", "height in", "formula"},
		"a bearing that nobody knows":    {"number,height in,width in,bearing\nA,3.5,3.5,magnetic\n", "bearing", "not known"},
		"half a hinge on hand":           {"number,height in,width in,on hand\nA,3.5,3.5,1.5\n", "on hand", "whole number"},
		"a price of words":               {"number,height in,width in,price\nA,3.5,3.5,ask\n", "price", "not a price"},
		"a hole off the leaf":            {"number,height in,width in,holes in\nA,3.5,3.5,2 x 1\n", "holes", "inside a leaf"},
		"half a hole":                    {"number,height in,width in,holes in\nA,3.5,3.5,13/32\n", "holes in", "not a hole"},
		"a pattern that nobody defined":  {"number,height in,width in,pattern\nA,3.5,3.5,moon\n", "pattern", "no row gives"},
		"a pattern defined twice":        {"number,height in,width in,pattern,holes in\nA,3.5,3.5,moon,1 x 1\nB,3.5,3.5,moon,1 x 2\n", "holes", "other holes in row 2"},
		"two columns of one meaning":     {"number,height in,height mm,width in\nA,3.5,88.9,3.5\n", "height mm", "both this column and"},
		"a barrel too thin for its pin":  {"number,height in,width in,thickness in,barrel in,pin in\nA,3.5,3.5,.09,.25,.24\n", "barrel diameter", "too thin"},
		"a countersink below its hole":   {"number,height in,width in,hole diameter in,countersink in\nA,3.5,3.5,.3,.2\n", "countersink", "smaller"},
		"nothing below the headings":     {"number,height in,width in\n", "", "no stock hinge"},
		"no headings at all":             {"1,2,3\n4,5,6\n", "", "no row of headings"},
		"a price for nobody below a box": {"number,height in,width in,price breaks\nA,3.5,3.5,12 = 3\n", "price breaks", "write price breaks"},
	} {
		t.Run(name, func(t *testing.T) {
			_, report := parse(t, c.list, ListOptions{})
			require.Positive(t, report.Errors)
			var found bool
			for _, p := range report.Problems {
				found = found || !p.Warning && p.Column == c.column && strings.Contains(p.Text, c.text)
			}
			require.True(t, found, "%v", report.Problems)
		})
	}
}

func TestWarningsDoNotStopAnImport(t *testing.T) {
	// A8… is steel, 605 is on brass: by BHMA's numbering both cannot hold.
	items, report := parse(t, "number,height in,width in,type number,finish number\nA,4.5,4.5,A8112,605\n", ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Len(t, items, 1)
	text := fmt.Sprint(report.Problems)
	require.Contains(t, text, "A8112")
	require.Contains(t, text, `"price" is missing`)
}

func TestEncodings(t *testing.T) {
	list := "number,description,height,width\nA,Café ½,3½,3½\n"
	utf16le := []byte{0xFF, 0xFE}
	for _, u := range utf16.Encode([]rune(list)) {
		utf16le = append(utf16le, byte(u), byte(u>>8))
	}
	latin := []byte(strings.NewReplacer("é", "\xE9", "½", "\xBD").Replace(list))
	for name, data := range map[string][]byte{
		"plain": []byte(list), "with a byte order mark": append([]byte("\xEF\xBB\xBF"), list...), "UTF-16": utf16le, "Windows-1252": latin,
		"semicolons": []byte(strings.ReplaceAll(list, ",", ";")), "tabs": []byte(strings.ReplaceAll(list, ",", "\t")), "old line ends": []byte(strings.ReplaceAll(list, "\n", "\r\n")),
	} {
		s, err := ReadSheet(bytes.NewReader(data))
		require.NoError(t, err, name)
		items, report := ParseStock(s, ListOptions{})
		require.Zero(t, report.Errors, "%s: %v", name, report.Problems)
		require.Len(t, items, 1, name)
		require.Equal(t, "Café ½", items[0].Name, name)
		require.InDelta(t, 88.9, items[0].Height.MM(), 1e-9, name)
	}
	for name, data := range map[string]string{"nothing": "", "blanks": " \n ", "a PDF": "%PDF-1.7 …", "an old workbook": "\xD0\xCF\x11\xE0\xA1\xB1", "bytes": "a\x00b", "half UTF-16": "\xFF\xFEa",
		"a broken workbook": "PK\x03\x04 not really"} {
		_, err := ReadSheet(strings.NewReader(data))
		require.Error(t, err, name)
	}
}

func TestRowNumbersAreASpreadsheets(t *testing.T) {
	_, report := parse(t, "number,description,height in,width in\nA,\"two\nlines\",3.5,3.5\n\nB,x,oops,3.5\n", ListOptions{})
	require.Equal(t, 1, report.Errors)
	for _, p := range report.Problems {
		if !p.Warning {
			require.Equal(t, 4, p.Row)
		}
	}
}

func TestTenThousandErrorsMakeAReadableReport(t *testing.T) {
	var b strings.Builder
	b.WriteString("number,height in,width in\n")
	for i := range 10_000 {
		fmt.Fprintf(&b, "A%d,3-Jan,3.5\n", i)
	}
	b.WriteString("B,3.5,three\n") // not hidden by the others
	_, report := parse(t, b.String(), ListOptions{})
	require.Equal(t, 10_001, report.Errors)
	require.Len(t, report.Problems, maxProblems+2) // and the column of prices that is missing
	require.Equal(t, `row 10002, width in: "three" is not a size: write it like 3-1/2, 3.5 in or 88.9 mm`, report.Problems[maxProblems+1].String())
	require.Len(t, report.Unlisted, 1)
	require.Equal(t, "height in", report.Unlisted[0].Column)
	require.Equal(t, 10_000-maxProblems, report.Unlisted[0].Count)
}

func TestExportReadsBackToTheSame(t *testing.T) {
	items := demoStock(t)
	items[0].Name = `=HYPERLINK("http://example.org")`
	items[1].Name = "+1"
	items[2].Name = "-x, \"quoted\""
	items[3].Name = "@SUM(A1)"
	items[4].Name = "'=already"
	items[5].OnHand = -3
	items[6].Holes = []Hole{{10.123456, 14.7}, {18.2, 38.1}, {10.1, 61.3}}
	items[6].PatternID, items[6].HoleU = "", 0.0333
	var b bytes.Buffer
	require.NoError(t, WriteStock(&b, items))
	s, err := ReadSheet(&b)
	require.NoError(t, err)
	back, report := ParseStock(s, ListOptions{Currency: "EUR"}) // prices carry their own
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Equal(t, items, back)
}

func TestExportRunsNoFormula(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[=+\-@'a-z ]{1,8}`).Draw(t, "name")
		i := Item{StockNumber: "A" + name, Name: name, Height: 88.9, OpenWidth: 88.9, OnHand: -1}
		var b bytes.Buffer
		require.NoError(t, WriteStock(&b, []Item{i}))
		rows, err := csv.NewReader(&b).ReadAll()
		require.NoError(t, err)
		for _, cell := range rows[1] {
			require.False(t, strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "+") || strings.HasPrefix(cell, "-") || strings.HasPrefix(cell, "@"), "%q", cell)
		}
	})
}

// workbook makes an .xlsx with one sheet.
func workbook(t *testing.T, fill func(f *excelize.File, sheet string)) *bytes.Buffer {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	fill(f, "Sheet1")
	b, err := f.WriteToBuffer()
	require.NoError(t, err)
	return b
}

func TestWorkbooks(t *testing.T) {
	set := func(t *testing.T, f *excelize.File, sheet string, rows ...[]any) {
		for k, r := range rows {
			require.NoError(t, f.SetSheetRow(sheet, fmt.Sprintf("A%d", k+1), &r))
		}
	}
	head := []any{"Stock number", "Height (in)", "Open width (in)", "Price"}

	t.Run("numbers and text", func(t *testing.T) {
		b := workbook(t, func(f *excelize.File, s string) {
			set(t, f, s, head, []any{"A", 3.5, "3-1/2", 4.25}, []any{1002, 4, 4, 5})
		})
		sh, err := ReadSheet(b)
		require.NoError(t, err)
		items, report := ParseStock(sh, ListOptions{})
		require.Zero(t, report.Errors, "%v", report.Problems)
		require.Len(t, items, 2)
		require.Equal(t, "1002", items[1].StockNumber)
		require.InDelta(t, 88.9, items[0].OpenWidth.MM(), 1e-9)
	})
	t.Run("a fraction that became a date", func(t *testing.T) {
		b := workbook(t, func(f *excelize.File, s string) {
			set(t, f, s, head, []any{"A", time.Date(2002, 3, 1, 0, 0, 0, 0, time.UTC), 3.5, 4.25}, []any{"B", time.Date(2025, 5, 8, 0, 0, 0, 0, time.UTC), 3.5, 1})
			style, err := f.NewStyle(&excelize.Style{NumFmt: 16}) // d-mmm, as a spreadsheet shows it
			require.NoError(t, err)
			require.NoError(t, f.SetCellStyle(s, "B2", "B3", style))
		})
		sh, err := ReadSheet(b)
		require.NoError(t, err)
		_, report := ParseStock(sh, ListOptions{})
		require.Equal(t, 2, report.Errors, "%v", report.Problems)
		require.Contains(t, report.Problems[0].Text, "date")
		require.Equal(t, "perhaps 3-1/2", report.Problems[0].Understood)
		require.Equal(t, "perhaps 5/8", report.Problems[1].Understood)
	})
	t.Run("merged cells", func(t *testing.T) {
		b := workbook(t, func(f *excelize.File, s string) {
			set(t, f, s, head, []any{"A", 3.5, 3.5, 4}, []any{"B", nil, 3.5, 4})
			require.NoError(t, f.MergeCell(s, "B2", "B3"))
		})
		sh, err := ReadSheet(b)
		require.NoError(t, err)
		_, report := ParseStock(sh, ListOptions{})
		require.Positive(t, report.Errors)
		require.Contains(t, report.Problems[0].String(), "B2 to B3 are merged")
	})
	t.Run("a formula", func(t *testing.T) {
		b := workbook(t, func(f *excelize.File, s string) {
			set(t, f, s, head, []any{"A", 3.5, 3.5, 4})
			require.NoError(t, f.SetCellFormula(s, "D2", "2+2"))
		})
		sh, err := ReadSheet(b)
		require.NoError(t, err)
		_, report := ParseStock(sh, ListOptions{})
		require.Contains(t, fmt.Sprint(report.Problems), "formula")
	})
}

func BenchmarkImport100000(b *testing.B) {
	var list bytes.Buffer
	require.NoError(b, WriteStock(&list, twins(b, 100_000)))
	b.ResetTimer()
	before := processorTime(b)
	for range b.N {
		s, err := ReadSheet(bytes.NewReader(list.Bytes()))
		require.NoError(b, err)
		items, _ := ParseStock(s, ListOptions{})
		require.Len(b, items, 100_000)
	}
	b.ReportMetric((processorTime(b)-before).Seconds()*1000/float64(b.N), "cpu-ms/op")
}

func TestTenThousandRowsAreReadInNoTime(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteStock(&b, twins(t, 10_000)))
	before := processorTime(t)
	s, err := ReadSheet(&b)
	require.NoError(t, err)
	items, report := ParseStock(s, ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Len(t, items, 10_000)
	require.Less(t, processorTime(t)-before, 5*time.Second) // 0.3 s where it was written; room for slow machines
}

func TestAPatternCanStandForASize(t *testing.T) {
	items, report := parse(t, "number,height in,width in,pattern,holes in\nA,3.5,3.5,3 1/2 x 3 1/2,23/32 x 9/16; 13/32 x 1-3/4; 23/32 x 2-15/16\nB,3.5,3.5,by size,\n", ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Equal(t, items[0].Holes, items[1].Holes)
}

func TestPatternFromASample(t *testing.T) {
	e := func(v float64) measure.Estimate { return measure.Estimate{Value: measure.Length(v), Sigma: 0.06} }
	h := measure.Hinge{Leaves: []measure.Leaf{
		{Holes: []measure.Hole{{FromEdge: e(18.2), FromEnd: e(14.3)}, {FromEdge: e(10.3), FromEnd: e(44.5)}}},
		{Holes: []measure.Hole{{FromEdge: e(18.3), FromEnd: e(14.3)}, {FromEdge: e(10.3), FromEnd: e(44.4)}}}}}
	holes, u, err := PatternFromSample(h)
	require.NoError(t, err)
	require.InDelta(t, 18.25, holes[0].FromEdge.MM(), 1e-9)
	require.InDelta(t, 44.45, holes[1].FromEnd.MM(), 1e-9)
	// The mean of two, widened by the Birge ratio of the pair 0.1 mm apart: 0.05.
	require.InDelta(t, 0.05, u.MM(), 0.0005)

	h.Leaves[1].Holes = h.Leaves[1].Holes[:1]
	_, _, err = PatternFromSample(h)
	require.ErrorContains(t, err, "2 and 1 holes")
	_, _, err = PatternFromSample(measure.Hinge{})
	require.Error(t, err)
}

func FuzzReadSheet(f *testing.F) {
	f.Add([]byte("number,height in,width in\nA,3-1/2,3½\n"))
	f.Add([]byte("\xFF\xFEa\x00"))
	f.Add([]byte("number;height;width;holes\n\"A\";3.5;3,5;1 x 2; 3 x 4"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := ReadSheet(bytes.NewReader(data))
		if err != nil {
			return
		}
		items, report := ParseStock(s, ListOptions{})
		if report.Errors == 0 && len(items) == 0 {
			t.Fatal("neither items nor errors")
		}
	})
}

// A list may name a pattern that the shop has already; the shop is asked only then.
func TestAPatternThatTheShopHasAlready(t *testing.T) {
	asked := 0
	own := []Hole{{10.3, 12.7}, {18.2, 44.45}, {10.3, 76.2}}
	opt := ListOptions{Patterns: func() (map[string][]Hole, error) {
		asked++
		return map[string][]Hole{"P": own, "Q": own[:1]}, nil
	}}
	_, report := parse(t, "number,height in,width in,pattern,holes in\nA,3.5,3.5,Q,0.4 x 0.5; 0.4 x 3\n", opt)
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Zero(t, asked)
	items, report := parse(t, "number,height in,width in,pattern,holes in\nA,3.5,3.5,P,\nB,3.5,3.5,Q,0.4 x 0.5; 0.4 x 3\nC,3.5,3.5,Q,\n", opt)
	require.Zero(t, report.Errors, "%v", report.Problems)
	require.Equal(t, 1, asked)
	require.Equal(t, own, items[0].Holes)
	require.Len(t, items[2].Holes, 2, "what the list itself gives goes before")
	opt.Patterns = func() (map[string][]Hole, error) { return nil, errDate }
	_, report = parse(t, "number,height in,width in,pattern\nA,3.5,3.5,P\n", opt)
	require.Equal(t, 2, report.Errors)
	require.Contains(t, report.Problems[1].Text, "cannot be read")
}

func TestWhatOtherCountriesAndTiredEditorsWrite(t *testing.T) {
	items, report := parse(t, "Stock #;Size;Price EUR;Leaf thickness mm\nA;3 1/2 x 3 1/2;4,25;2,2\nB;4x4 in;1.204,50;2,5\nC;100 x 75 mm;1 204,5;2,5\nD;102 x 76;1,204.50;2\n", ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	for i, want := range []struct {
		height, width float64
		price         string
	}{{88.9, 88.9, "4.25"}, {101.6, 101.6, "1204.50"}, {100, 75, "1204.5"}, {102, 76, "1204.50"}} {
		require.InDelta(t, want.height, items[i].Height.MM(), 1e-9)
		require.InDelta(t, want.width, items[i].OpenWidth.MM(), 1e-9)
		require.Equal(t, want.price+" EUR", items[i].Prices[0].Price.String())
	}
	_, report = parse(t, "number,height in,width in,price\nA,3.5,3.5,4\n\"B,4,4,5\nC,3,3,4\n", ListOptions{})
	require.Equal(t, 1, report.Errors)
	require.Contains(t, report.Problems[0].String(), "close the quotation mark")
	_, report = parse(t, "number,name,height in,width in,price\nA,gr\u00c3\u00bcn,3.5,3.5,4\n", ListOptions{})
	require.Contains(t, strings.Join(report.Notes, " "), "compare the names")
}

// A demo hinge's screw sits flush: its rim is no smaller than the head (ASME B18.6.1, WoodScrews), its
// hole no smaller than the screw, nor than the 82° cone leaves at the back of the leaf (geometry).
// Its leaf is one that leafRows has for its height; it has none for 3 in.
func TestDemoHingesAgreeWithThePublishedRows(t *testing.T) {
	for _, i := range demoStock(t) {
		var gauge int
		_, err := fmt.Sscanf(i.Screw, "#%d x", &gauge)
		require.NoError(t, err, i.StockNumber)
		screw, ok := ScrewOf(gauge)
		require.True(t, ok, i.StockNumber)
		require.GreaterOrEqual(t, i.Sink.Inches(), screw.HeadMax, "%s: %s", i.StockNumber, i.Screw)
		require.Greater(t, i.HoleDia.Inches(), screw.Major, "%s: %s", i.StockNumber, i.Screw)
		cone := i.Sink - 2*i.Thickness*measure.Length(math.Tan(41*math.Pi/180))
		require.GreaterOrEqual(t, i.HoleDia.Inches(), cone.Inches()-0.001, i.StockNumber)

		listed := i.Height == 3*measure.Inch
		for _, r := range leafRows {
			if math.Abs(r.hinge-i.Height.Inches()) > 0.01 {
				continue
			}
			thick := i.Thickness.Inches()
			listed = listed || slices.ContainsFunc(r.kinds, func(k leafKind) bool { return thick > k.least-0.0005 && thick < k.most+0.0005 })
		}
		require.True(t, listed, "%s: no row has a leaf of %.3f in on a hinge %s in high", i.StockNumber, i.Thickness.Inches(), i.Height.Fraction(8))
	}
}
