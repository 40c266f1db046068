package paper

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/measure/flat"
	"leafgauge/quote"

	"github.com/bojanz/currency"
	"github.com/stretchr/testify/require"
)

func usd(n string) currency.Amount {
	a, err := currency.NewAmount(n, "USD")
	if err != nil {
		panic(err)
	}
	return a
}

var shop = quote.Terms{Shop: "Elm Street Hardware", Currency: "USD", TaxRate: "8.25"}

// demoQuote is an invented quote: a new hinge with 5/8 in corners over an old one with 1/4 in.
func demoQuote() quote.Quote {
	e := func(v measure.Length) measure.Estimate { return measure.Estimate{Value: v, Sigma: 0.05} }
	var leaves []measure.Leaf
	for range 2 {
		l := measure.Leaf{Width: e(44.5), CornerRadius: e(6.3), Corners: measure.CornersQuarter}
		for _, h := range [][2]measure.Length{{19.1, 15.4}, {10.5, 44.5}, {19, 73.4}} {
			l.Holes = append(l.Holes, measure.Hole{FromEdge: e(h[0]), FromEnd: e(h[1]), Diameter: e(4.9)})
		}
		leaves = append(leaves, l)
	}
	item := catalog.Item{StockNumber: "H-1077", Name: "Butt hinge 3½ × 3½, ⅝″ corners, ball bearing", Height: 88.9, OpenWidth: 88.9, Barrel: 11.2,
		Radius: [2]measure.Length{15.875, 15.875}, HoleDia: 4.9, Finish: "US15", FinishNo: "646", Screw: "#9 × 1″"}
	fit := catalog.Fit{Item: item, Verdict: catalog.CutOutWork, P: 0.9,
		Work:     []string{"fill about 3.9 mm (5/32 in) at each corner of the cut-out, or leave the gaps", "drill new lead holes: 2 of 6 land in old ones"},
		Warnings: []string{"the old hinge is plain; this one has ball bearings, so change all hinges of the door"}}
	for leaf := range 2 {
		for n, h := range []catalog.Hole{{FromEdge: 19.1, FromEnd: 15.4}, {FromEdge: 12.7, FromEnd: 41.0}, {FromEdge: 22, FromEnd: 70}} {
			fit.Holes = append(fit.Holes, catalog.HoleFit{Leaf: leaf, Hole: n, New: h})
		}
	}
	made := time.Date(2026, 3, 2, 9, 30, 0, 0, time.UTC)
	return quote.Quote{Number: "7-1", Inquiry: 7, Made: made, Valid: made.AddDate(0, 0, 30),
		Lines: []quote.Line{{StockNumber: "H-1077", Text: "Butt hinge 3½ × 3½, ⅝″ corners, ball bearing", Count: 4, Each: usd("6.40"), Sum: usd("25.60")}},
		Net:   usd("25.60"), TaxRate: "8.25", Tax: usd("2.11"), Total: usd("27.71"),
		Message: "Dear Łucja, we keep four of these back for you until Monday.", Fit: fit,
		Old:      measure.Best{Hinge: measure.Hinge{Height: e(88.94), OpenWidth: e(89.0), BarrelDiameter: e(10.8), Leaves: leaves}, Trace: []measure.Trace{{Quantity: "height", Source: "photo 1"}}},
		Notes:    []string{"Sold in packs of 2: three are needed, four come, one is left over."},
		Cautions: []string{"Support the door before you take out a pin or the last screws of a hinge.", "In a house from before 1978 the paint may hold lead: do not sand or scrape it dry.", "Wear eye protection when you strike a pin, drill or chisel."}}
}

// text reads a PDF's text and page count with poppler, an independent reader.
func text(t *testing.T, pdf []byte) (string, string) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "q.pdf")
	require.NoError(t, os.WriteFile(name, pdf, 0o600))
	for _, tool := range []string{"pdftotext", "pdfinfo"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip("no " + tool + ": install poppler-utils to read the PDF back")
		}
	}
	words, err := exec.Command("pdftotext", "-layout", name, "-").Output()
	require.NoError(t, err)
	info, err := exec.Command("pdfinfo", name).Output()
	require.NoError(t, err)
	return string(words), string(info)
}

func TestQuoteOnOnePage(t *testing.T) {
	pdf, err := PDF(demoQuote(), shop)
	require.NoError(t, err)
	if dir := os.Getenv("LEAFGAUGE_SHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "quote.pdf"), pdf, 0o644))
	}
	words, info := text(t, pdf)
	require.Regexp(t, `Pages:\s+1\n`, info)
	require.Regexp(t, `Page size:\s+612 x 792 pts \(letter\)`, info) // 8.5 × 11 in at 72 points an inch
	for _, w := range []string{"Elm Street Hardware", "Quote 7-1", "good until 1 April 2026", "fits once the cut-out has been worked. We are 90 % sure.", "H-1077",
		"3½ × 3½, ⅝″ corners", "Łucja", "$6.40", "$25.60", "Tax 8.25 %", "$27.71", "3½ in (88.9 mm)", "old, as measured", "new hinge",
		"Work that is left", "Cautions", "Support the door", "one is left over"} {
		require.Contains(t, words, w)
	}
}

func TestQuoteNamesCustomerShopAndHowToAnswer(t *testing.T) {
	q := demoQuote()
	q.For = "Ada Sill"
	terms := shop
	terms.From = quote.Contact{Name: "Counter", Email: "counter@shop.example"}
	pdf, err := PDF(q, terms)
	require.NoError(t, err)
	words, info := text(t, pdf)
	require.Regexp(t, `Pages:\s+1\n`, info)
	require.Contains(t, words, "For Ada Sill")
	require.Contains(t, strings.Join(strings.Fields(words), " "), "To take it or turn it down: on the page whose address is in our letter, or by e-mail to counter@shop.example.")
}

// What nobody measured is not called measured, and corners that nobody told are not drawn.
func TestADrawingOfATypedHinge(t *testing.T) {
	q := demoQuote()
	q.Old.Trace = []measure.Trace{{Quantity: "height", Source: "typed"}}
	told, err := PDF(q, shop)
	require.NoError(t, err)
	words, _ := text(t, told)
	require.Contains(t, words, "old, as typed")
	require.NotContains(t, words, "as measured")
	f, ok := drawingOf(q)
	require.True(t, ok)
	require.Equal(t, [2]bool{true, true}, f.corners)
	q.Old.Leaves[0].CornerRadius = measure.Estimate{}
	q.Old.Leaves[1].CornerRadius = measure.Estimate{}
	bare, err := PDF(q, shop)
	require.NoError(t, err)
	require.Less(t, strings.Count(drawn(t, bare), " l\n"), strings.Count(drawn(t, told), " l\n"), "the corners are left out")
}

func TestSameQuoteSameBytes(t *testing.T) {
	a, err := PDF(demoQuote(), shop)
	require.NoError(t, err)
	b, err := PDF(demoQuote(), shop)
	require.NoError(t, err)
	require.True(t, bytes.Equal(a, b))
}

func TestQuoteWithLittleInIt(t *testing.T) {
	bare := demoQuote()
	bare.Fit, bare.Old, bare.Message, bare.Notes, bare.Cautions = catalog.Fit{}, measure.Best{}, "", nil, nil
	pdf, err := PDF(bare, quote.Terms{})
	require.NoError(t, err)
	words, _ := text(t, pdf)
	require.Contains(t, words, "$27.71")

	_, info := text(t, pdf)
	require.Regexp(t, `Page size:\s+595\.28 x 841\.89 pts \(A4\)`, info) // 210 × 297 mm, ISO 216

	t.Run("an unsure verdict says so", func(t *testing.T) {
		q := demoQuote()
		q.Fit.Verdict, q.Fit.P = catalog.DropsIn, 0.51
		require.Equal(t, "This hinge drops in: same cut-out, same screw holes. That is not certain (51 %): try it in its place before you cut or drill.", q.VerdictSentence())
	})
	t.Run("a single leaf", func(t *testing.T) {
		q := demoQuote()
		q.Old.Leaves = q.Old.Leaves[:1]
		q.Old.OpenWidth = measure.Estimate{}
		_, err := PDF(q, shop)
		require.NoError(t, err)
	})
	t.Run("much text runs on to another page", func(t *testing.T) {
		q := demoQuote()
		for range 60 {
			q.Fit.Work = append(q.Fit.Work, strings.Repeat("chisel the cut-out a little longer ", 6))
		}
		q.Message = "emoji 🚪 and \x01 control"
		pdf, err := PDF(q, shop)
		require.NoError(t, err)
		words, _ := text(t, pdf)
		require.Contains(t, words, "Wear eye protection", "nothing is cut off")
		require.Contains(t, words, "Quote 7-1, page 1 of 4")
		require.Contains(t, words, "Quote 7-1, page 4 of 4")
	})
}

// drawn are the operators of a PDF's pages, inflated.
func drawn(t *testing.T, pdf []byte) string {
	t.Helper()
	var out strings.Builder
	for _, part := range bytes.Split(pdf, []byte("\nstream\n"))[1:] {
		z, err := zlib.NewReader(bytes.NewReader(part))
		if err != nil {
			continue
		}
		b, err := io.ReadAll(z)
		require.NoError(t, err)
		if bytes.Contains(b, []byte(" re ")) || bytes.Contains(b, []byte(" l ")) {
			out.Write(b)
		}
	}
	return out.String()
}

// bars are the lengths in points of what is drawn of boxes 2 mm high that touch.
func bars(t *testing.T, pdf []byte) (lengths []float64) {
	t.Helper()
	end, row := -1.0, 0.0
	for _, m := range regexp.MustCompile(`(-?[\d.]+) (-?[\d.]+) ([\d.]+) -5\.67 re`).FindAllStringSubmatch(drawn(t, pdf), -1) {
		var n [3]float64
		for i := range n {
			v, err := strconv.ParseFloat(m[i+1], 64)
			require.NoError(t, err)
			n[i] = v
		}
		if math.Abs(n[0]-end) < 0.02 && n[1] == row {
			lengths[len(lengths)-1] += n[2]
		} else {
			lengths = append(lengths, n[2])
		}
		end, row = n[0]+n[2], n[1]
	}
	return lengths
}

// sized is the demo quote for a hinge of another size, its holes in proportion.
func sized(height, width measure.Length) quote.Quote {
	q := demoQuote()
	item := &q.Fit.Item
	high, wide := height/item.Height, width/item.OpenWidth
	item.Height, item.OpenWidth = height, width
	for n := range q.Fit.Holes {
		q.Fit.Holes[n].New.FromEnd *= high
		q.Fit.Holes[n].New.FromEdge *= wide
	}
	q.Old.Height.Value *= high
	q.Old.OpenWidth.Value *= wide
	for l := range q.Old.Leaves {
		q.Old.Leaves[l].Width.Value *= wide
		for n := range q.Old.Leaves[l].Holes {
			h := &q.Old.Leaves[l].Holes[n]
			h.FromEnd.Value *= high
			h.FromEdge.Value *= wide
		}
	}
	return q
}

func TestDrawingIsFullSizeWhereverItFits(t *testing.T) {
	long := demoQuote()
	long.Message = strings.Repeat("We keep four of these back for you until Monday. ", 60)
	exchanged := sized(101.6, 101.6)
	exchanged.Fit.Placement = "end for end, leaves exchanged"
	single := demoQuote()
	single.Old.Leaves, single.Old.OpenWidth = single.Old.Leaves[:1], measure.Estimate{}
	unknown := demoQuote()
	unknown.Old = measure.Best{}
	for name, c := range map[string]struct {
		q     quote.Quote
		scale string
	}{
		"3½ × 3½":         {demoQuote(), "full size (1:1)"},
		"below much text": {long, "full size (1:1)"},
		"4 × 4":           {exchanged, "full size (1:1)"},
		"4½ × 4½":         {sized(114.3, 114.3), "full size (1:1)"},
		"6 × 6":           {sized(152.4, 152.4), "full size (1:1)"},
		"5 × 8, turned":   {sized(127, 203.2), "full size (1:1)"},
		"single leaf":     {single, "full size (1:1)"},
		"old one unknown": {unknown, "full size (1:1)"},
		"24 × 4":          {sized(609.6, 101.6), "% of its size, laid flat"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, money := range []string{"USD", "EUR"} {
				terms := shop
				terms.Currency = money
				pdf, err := PDF(c.q, terms)
				require.NoError(t, err)
				if dir := os.Getenv("LEAFGAUGE_SHOTS"); dir != "" {
					require.NoError(t, os.WriteFile(filepath.Join(dir, "quote "+name+" "+money+".pdf"), pdf, 0o644))
				}
				words, _ := text(t, pdf)
				require.Contains(t, strings.Join(strings.Fields(words), " "), c.scale)
				require.Contains(t, words, "left leaf")
				require.NotContains(t, words, "first leaf")
				if !strings.HasPrefix(c.scale, "full") {
					require.Empty(t, bars(t, pdf), "nothing to measure on it")
					continue
				}
				if name != "5 × 8, turned" {
					require.Contains(t, words, "Measure this: if it is not 50 mm long,")
				}
				got := bars(t, pdf)
				require.Len(t, got, 2)
				require.InDelta(t, 50*72/25.4, got[0], 0.05) // points
				require.InDelta(t, 2*72, got[1], 0.05)
			}
		})
	}
}

// Every hole of the new hinge is dimensioned, and lies on the paper where its dimension says.
func TestHolesLieOnPaperWhereTheyDo(t *testing.T) {
	q := demoQuote()
	q.Fit.Holes = q.Fit.Holes[:3] // of the left leaf
	pdf, err := PDF(q, shop)
	require.NoError(t, err)
	words, _ := text(t, pdf)
	for _, w := range []string{"19.1 mm", "12.7 mm", "0.500 in", "22.0 mm", "15.4 mm", "41.0 mm", "70.0 mm"} {
		require.Contains(t, words, w)
	}

	f, ok := drawingOf(q)
	require.True(t, ok)
	require.Len(t, f.ends[0], 3)
	require.Empty(t, f.ends[1])
	// The three circles' rightmost points, where fpdf begins each, against the first one's.
	var holes []flat.Shape
	for _, s := range f.shapes {
		if s.Role == flat.NewHole {
			holes = append(holes, s)
		}
	}
	require.Equal(t, 2.45, holes[0].R, "the item's")
	at := regexp.MustCompile(`(?m)^([\d.]+) ([\d.]+) m$\n^[\d.]+ [\d.]+ [\d.]+ [\d.]+ [\d.]+ [\d.]+ c`).FindAllStringSubmatch(drawn(t, pdf), -1)
	require.GreaterOrEqual(t, len(at), 9) // six old holes, three new ones
	at = at[len(at)-3:]
	for n := range 3 {
		var p, first [2]float64
		for i := range 2 {
			p[i], _ = strconv.ParseFloat(at[n][i+1], 64)
			first[i], _ = strconv.ParseFloat(at[0][i+1], 64)
		}
		const mm = 72 / 25.4 // points
		require.InDelta(t, (holes[n].A.X-holes[0].A.X)*mm, p[0]-first[0], 0.02)
		require.InDelta(t, -(holes[n].A.Y-holes[0].A.Y)*mm, p[1]-first[1], 0.02, "PDF counts upwards")
	}
}

// What stays on the first page is the text: a drawing between that pushed some of it on to
// another gets that page for itself.
func TestDrawingTakesThePageRatherThanTheText(t *testing.T) {
	q := sized(101.6, 101.6)
	q.Fit.Placement = "end for end, leaves exchanged"
	pdf, err := PDF(q, shop)
	require.NoError(t, err)
	words, _ := text(t, pdf)
	first, second, _ := strings.Cut(words, "\f")
	require.Contains(t, first, "Wear eye protection")
	require.Contains(t, first, "on the last page")
	require.Contains(t, second, "Drawing of quote 7-1: H-1077")
	require.Contains(t, second, "end for end, leaves exchanged")
	require.Contains(t, second, "old, as measured")
}

func TestAFireDoorsQuoteLeavesTheWorkToOthers(t *testing.T) {
	q := demoQuote()
	item := q.Fit.Item
	item.Holes, item.Thickness, item.Bearing = []catalog.Hole{{FromEdge: 19.1, FromEnd: 15.4}, {FromEdge: 12.7, FromEnd: 41.0}, {FromEdge: 22, FromEnd: 70}}, 2.2, measure.BallBearing
	q.Cautions = nil
	for name, radius := range map[string]measure.Length{"corners differ": 15.875, "only the holes": 6.35} {
		t.Run(name, func(t *testing.T) {
			item.Radius = [2]measure.Length{radius, radius}
			q.Fit = catalog.Rank(q.Old, []catalog.Item{item}, catalog.Door{FireRated: true, Width: 813, Height: 2032, Thickness: 34.9}, catalog.Wishes{})[0]
			pdf, err := PDF(q, shop)
			require.NoError(t, err)
			words, _ := text(t, pdf)
			words = strings.Join(strings.Fields(words), " ")
			require.Contains(t, words, "is below the published least for a fire door: at least 3 1/2 in (88.9 mm) high")
			require.Contains(t, words, "label service or a licensed shop")
			require.NotContains(t, words, "drops in")
			require.NotRegexp(t, `(?i)chisel|shim|plug|lead hole|glue|before you cut or drill`, words)
		})
	}
}

// The leaf whose cut-out needs work stands under its name in the drawing.
func TestWordsNameTheLeavesAsTheDrawingDoes(t *testing.T) {
	for l, name := range []string{"left", "right"} {
		q := demoQuote()
		require.Len(t, q.Old.Leaves, 2)
		q.Old.Leaves = slices.Clone(q.Old.Leaves) // 1/4 in corners under a new hinge with 5/8 in
		q.Old.Leaves[1-l].CornerRadius, q.Old.Leaves[1-l].Corners = measure.Estimate{Value: 15.9, Sigma: 0.05}, measure.CornersFiveEighths
		q.Fit = catalog.Rank(q.Old, []catalog.Item{q.Fit.Item}, catalog.Door{}, catalog.Wishes{})[0]
		require.Equal(t, "as it was", q.Fit.Placement)
		shapes, _ := catalog.LayFlat(q.Old, q.Fit, flat.Point{})
		for _, s := range shapes {
			if s.Role == flat.OldLeaf && s.R < 10 {
				require.Equal(t, name == "right", s.A.X > 0, "the drawing has it elsewhere")
			}
		}
		pdf, err := PDF(q, shop)
		require.NoError(t, err)
		words, _ := text(t, pdf)
		require.Contains(t, words, "corners of the "+name+" leaf's cut-out")
	}
}

// manyLines is the demo quote with so many lines, a discount, a delivery and no tax.
func manyLines(n int) quote.Quote {
	q := demoQuote()
	q.Number, q.Replaces = "7-2", "7-1"
	for i := 2; i <= n; i++ {
		text := fmt.Sprintf("Row %d: screws, shims and what else belongs to it", i)
		if i%3 == 0 {
			text += ", described at such a length that the name runs on to a second line of the table, and to a third where it has to"
		}
		q.Lines = append(q.Lines, quote.Line{Text: text, Count: i, Each: usd("100.05"), Sum: usd(fmt.Sprintf("%d.%02d", 100*i+5*i/100, 5*i%100))})
	}
	q.Discount = &quote.Discount{Amount: usd("12.34"), Reason: "regular customer"}
	q.Delivery = &quote.Delivery{Amount: usd("12.34"), Text: "by van on Friday"} // as much as the discount
	q.Net, q.Tax = usd("0"), usd("0")
	for _, l := range q.Lines {
		q.Net, _ = q.Net.Add(l.Sum) // all in one currency
	}
	q.Total = q.Net
	return q
}

// No row of the price table is torn or lies over another, on however many pages, and every amount is there.
func TestPriceTableOfManyLines(t *testing.T) {
	for _, n := range []int{1, 12, 40} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			q := manyLines(n)
			pdf, err := PDF(q, shop)
			require.NoError(t, err)
			if dir := os.Getenv("LEAFGAUGE_SHOTS"); dir != "" {
				require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("quote of %d lines.pdf", n)), pdf, 0o644))
			}
			words, _ := text(t, pdf)
			require.Contains(t, words, "Quote 7-2, replaces 7-1")
			for _, l := range q.Lines[1:] {
				// Count, each and sum stand on the first line of their row.
				first, _, _ := strings.Cut(l.Text, ":")
				require.Regexp(t, `(?m)^\s*`+first+`:.*\s`+fmt.Sprint(l.Count)+`\s+\`+quote.Money(l.Each)+`\s+\`+quote.Money(l.Sum)+`$`, words)
			}
			for _, s := range q.Sums() {
				require.Contains(t, words, s.Name)
				require.Contains(t, words, quote.Money(s.Amount))
			}
			boxes := wordBoxes(t, pdf)
			for i, a := range boxes {
				require.LessOrEqual(t, a.y1, 792-margin*72/25.4+26, a.word) // of Letter, 792 points high, with its foot 9 mm below the text
				for _, b := range boxes[i+1:] {
					if a.page == b.page && a.x0 < b.x1-0.5 && b.x0 < a.x1-0.5 {
						// Half a line of 9.5 points: rows that lie closer would be over each other.
						require.True(t, a.y0 == b.y0 || math.Abs(a.y0-b.y0) > 4.7 || a.drawn() || b.drawn(), "%q lies over %q", a.word, b.word)
					}
				}
			}
			for page := range strings.SplitSeq(strings.TrimSuffix(words, "\f"), "\f") {
				require.Equal(t, strings.Contains(page, "Sum of the lines"), strings.Contains(page, "To pay"), "the sums stay together")
				if strings.Contains(page, "Row ") {
					require.Regexp(t, `Item\s+Count\s+Each\s+Sum`, page)
				}
			}
		})
	}
}

// A wordBox is where poppler finds a word: points from the page's top left corner.
type wordBox struct {
	page           int
	x0, y0, x1, y1 float64
	word           string
}

// drawn reports lettering of the drawing, which may stand on its side.
func (b wordBox) drawn() bool { return b.y1-b.y0 > 20 || b.y1-b.y0 < 9 }

func wordBoxes(t *testing.T, pdf []byte) (boxes []wordBox) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "q.pdf")
	require.NoError(t, os.WriteFile(name, pdf, 0o600))
	out, err := exec.Command("pdftotext", "-bbox", name, "-").Output()
	if err != nil {
		t.Skip("no pdftotext: install poppler-utils to read the PDF back")
	}
	page := 0
	for line := range strings.Lines(string(out)) {
		if strings.Contains(line, "<page ") {
			page++
		}
		m := regexp.MustCompile(`<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*)</word>`).FindStringSubmatch(line)
		if m == nil {
			continue
		}
		b := wordBox{page: page, word: m[5]}
		for i, to := range []*float64{&b.x0, &b.y0, &b.x1, &b.y1} {
			*to, err = strconv.ParseFloat(m[i+1], 64)
			require.NoError(t, err)
		}
		boxes = append(boxes, b)
	}
	require.NotEmpty(t, boxes)
	return boxes
}

func TestSizeText(t *testing.T) {
	require.Equal(t, "⅝ in (15.9 mm)", sizeText(15.875))
	require.Equal(t, "1¾ in (44.45 mm)", sizeText(1.75*measure.Inch))
	require.Equal(t, "2¼ in (57.15 mm)", sizeText(2.25*measure.Inch))
	require.Equal(t, "3½ in (88.9 mm)", sizeText(88.9))
	require.Equal(t, "3.543 in (90.0 mm)", sizeText(90)) // 90 / 25.4
}

func TestLongNamesRunOn(t *testing.T) {
	q := demoQuote()
	q.Lines[0].Text = "Hinge 3 1/2 x 3 1/2 in, 1/4 in radius, other leaf square, ball bearing, satin brass, with #9 x 3/4 screws"
	pdf, err := PDF(q, shop)
	require.NoError(t, err)
	words, _ := text(t, pdf)
	require.Contains(t, strings.Join(strings.Fields(words), " "), "#9 × ¾ screws")
}
