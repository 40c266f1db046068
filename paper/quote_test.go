package paper

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/measure"
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
		Old:      measure.Best{Hinge: measure.Hinge{Height: e(88.94), OpenWidth: e(89.0), BarrelDiameter: e(10.8), Leaves: leaves}},
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

func TestOldOutlineIsTheMeasuredOne(t *testing.T) {
	o, ok := oldOutline(demoQuote().Old)
	require.True(t, ok)
	require.InDelta(t, 88.94, o.height, 1e-9)
	require.InDelta(t, 44.5, o.leaves[1].width, 1e-9)
	require.Equal(t, hole{19.1, 15.4, 2.45}, o.leaves[0].holes[0])
}

func TestNewOutlineLiesOverTheOld(t *testing.T) {
	fit := demoQuote().Fit
	fit.Item.Radius = [2]measure.Length{6.35, 0}
	o, _ := newOutline(fit, 88.94)
	require.Equal(t, hole{19.1, 15.4, 2.45}, o.leaves[0].holes[0], "as the fit placed it")
	require.InDelta(t, 6.35, o.leaves[0].radius, 1e-9)

	fit.Placement = "end for end, leaves exchanged"
	o, _ = newOutline(fit, 88.94)
	require.InDelta(t, 6.35, o.leaves[1].radius, 1e-9)

	fit.Holes, fit.Item.Holes = nil, []catalog.Hole{{FromEdge: 20, FromEnd: 16}}
	o, _ = newOutline(fit, 92.9) // an old one 4 mm higher: the middles lie together
	require.InDelta(t, 16+2, o.leaves[0].holes[0].fromEnd, 1e-9)
}

func TestSizeText(t *testing.T) {
	require.Equal(t, "⅝ in (15.9 mm)", sizeText(15.875))
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
