// Package paper makes a quote into a PDF of one page: verdict, shop drawing of old against
// new, prices, work and cautions; a drawing that needs more room gets a page of its own.
// It writes bytes only; it opens no file and reads no clock.
package paper

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

const margin = 18.0 // millimetres, on all four sides

// letterMoney are the currencies of the countries that print on Letter (8.5 × 11 in); the
// others print on A4 (ISO 216). Common practice, no source.
var letterMoney = []string{"USD", "CAD", "MXN"}

// ink is a shade of grey: 0 black, 255 white.
type ink int

const (
	black ink = 25
	grey  ink = 95
	light ink = 150
)

// PDF returns q as a PDF of one page; a large drawing or very long lists take more. The same
// quote gives the same bytes.
func PDF(q quote.Quote, terms quote.Terms) ([]byte, error) {
	p := newSheet(q, terms, 1)
	p.write(q, terms)
	if pages := p.pdf.PageCount(); pages > 1 {
		p = newSheet(q, terms, pages) // once more, now that they can be numbered
		p.write(q, terms)
	}
	var b bytes.Buffer
	if err := p.pdf.Output(&b); err != nil {
		return nil, fmt.Errorf("paper: quote %s: %w", q.Number, err)
	}
	return b.Bytes(), nil
}

func (p *sheet) write(q quote.Quote, terms quote.Terms) {
	p.head(q, terms)
	p.verdict(q)
	f, ok := drawingOf(q)
	drawn := !ok || p.drawing(f, below(q, terms))
	if !drawn {
		p.font("", 8.8, grey)
		p.para("A drawing of the new hinge over the old one is on the last page.", 5)
		p.pdf.Ln(2)
	}
	p.rest(q)
	if !drawn {
		p.drawingPage(q, f)
	}
}

// rest writes what comes below the drawing.
func (p *sheet) rest(q quote.Quote) {
	p.prices(q)
	p.list("Please note", append(append([]string{}, q.Fit.Warnings...), q.Notes...))
	p.list("Work that is left", q.Fit.Work)
	p.list("Cautions", q.Cautions)
}

// below is how high the rest is on the first page, in millimetres; without end where it runs on
// to another even if nothing is drawn.
func below(q quote.Quote, terms quote.Terms) float64 {
	p := newSheet(q, terms, 1)
	p.head(q, terms)
	p.verdict(q)
	top := p.pdf.GetY()
	p.rest(q)
	if p.pdf.PageCount() > 1 {
		return math.Inf(1)
	}
	return p.pdf.GetY() - top
}

// A sheet is a PDF being written from top to bottom.
type sheet struct {
	pdf    *fpdf.Fpdf
	width  float64 // of the text, in millimetres
	bottom float64 // where it ends
}

// newSheet begins a quote of so many pages. Their foot says how the quote is answered, and numbers several.
func newSheet(q quote.Quote, terms quote.Terms, pages int) *sheet {
	size := "A4"
	if slices.Contains(letterMoney, terms.Currency) {
		size = "Letter"
	}
	pdf := fpdf.New("P", "mm", size, "")
	// The fonts have every fraction of an inch and every European letter.
	pdf.AddUTF8FontFromBytes("go", "", goregular.TTF)
	pdf.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	pdf.SetCreationDate(q.Made)
	pdf.SetModificationDate(q.Made)
	pdf.SetCatalogSort(true)
	pdf.SetTitle("Quote "+q.Number, true)
	pdf.SetAuthor(terms.Shop, true)
	pdf.SetLang("en")
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(true, margin)
	w, h := pdf.GetPageSize()
	p := &sheet{pdf, w - 2*margin, h - margin}
	answer := "To take it or turn it down: on the page whose address is in our letter"
	if terms.From.Email != "" {
		answer += ", or by e-mail to " + plain(terms.From.Email)
	}
	pdf.SetFooterFunc(func() {
		pdf.SetY(p.bottom + 4)
		p.font("", 8.5, grey)
		if pages > 1 {
			pdf.CellFormat(p.width, 5, fmt.Sprintf("Quote %s, page %d of %d", plain(q.Number), pdf.PageNo(), pages), "", 0, "R", false, 0, "")
			pdf.SetX(margin)
		}
		pdf.CellFormat(p.width*0.8, 5, answer+".", "", 0, "L", false, 0, "")
	})
	pdf.AddPage()
	return p
}

func (p *sheet) font(style string, points float64, shade ink) {
	p.pdf.SetFont("go", style, points)
	p.pdf.SetTextColor(int(shade), int(shade), int(shade))
}

// para writes text over the whole width; line is its line height in millimetres.
func (p *sheet) para(text string, line float64) {
	p.pdf.MultiCell(p.width, line, plain(text), "", "L", false)
}

func (p *sheet) head(q quote.Quote, terms quote.Terms) {
	p.font("B", 15, black)
	p.pdf.CellFormat(p.width*0.6, 8, plain(terms.Shop), "", 0, "L", false, 0, "")
	p.font("", 9.5, grey)
	number := "Quote " + plain(q.Number)
	if q.Replaces != "" {
		number += ", replaces " + plain(q.Replaces)
	}
	p.pdf.CellFormat(p.width*0.4, 8, number, "", 1, "R", false, 0, "")
	forWhom := ""
	if q.For != "" {
		forWhom = p.pdf.SplitText("For "+plain(q.For), p.width*0.5-2)[0]
	}
	p.pdf.CellFormat(p.width*0.5, 5, forWhom, "", 0, "L", false, 0, "")
	p.pdf.CellFormat(p.width*0.5, 5, fmt.Sprintf("%s · good until %s", quote.Day(q.Made), quote.Day(q.Valid)), "", 1, "R", false, 0, "")
	p.rule(2)
}

func (p *sheet) rule(gap float64) {
	y := p.pdf.GetY() + gap
	p.pdf.SetDrawColor(int(light), int(light), int(light))
	p.pdf.SetLineWidth(0.2)
	p.pdf.Line(margin, y, margin+p.width, y)
	p.pdf.SetY(y + gap + 1)
}

func (p *sheet) verdict(q quote.Quote) {
	p.font("B", 12.5, black)
	p.para(q.VerdictSentence(), 6.2)
	p.font("", 9.5, grey)
	item := q.Fit.Item
	var is []string
	screws := item.Screw
	if screws != "" {
		screws = "screws " + catalog.ScrewText(screws)
	}
	for _, s := range []string{item.Name, strings.TrimSpace(item.Finish + " " + item.FinishNo), screws} {
		if s != "" {
			is = append(is, s)
		}
	}
	p.para(item.StockNumber+": "+catalog.Fractions(strings.Join(is, ", ")), 5)
	if q.Message != "" {
		p.pdf.Ln(1.5)
		p.font("", 10, black)
		p.para(q.Message, 5)
	}
	p.pdf.Ln(2)
}

const rowHigh = 5.4 // of one line of the price table

// prices is the table of lines and sums. A row that does not fit goes to the next page whole, under
// the table's head once more, and the sums stay together.
func (p *sheet) prices(q quote.Quote) {
	widths := []float64{p.width - 70, 14, 28, 28}
	head := func() {
		p.row(widths, "", grey, []string{"Item"}, "Count", "Each", "Sum")
	}
	name := func(text string) []string {
		p.font("", 9.5, black)
		return p.pdf.SplitText(plain(catalog.Fractions(text)), widths[0]-2)
	}
	for n, l := range q.Lines {
		text := l.Text
		if l.StockNumber != "" && !strings.Contains(text, l.StockNumber) {
			text = l.StockNumber + "  " + text
		}
		lines := name(text)
		high := float64(len(lines)) * rowHigh
		if n == 0 {
			high += rowHigh
		}
		if p.room(high) || n == 0 {
			head()
		}
		p.row(widths, "", black, lines, fmt.Sprint(l.Count), quote.Money(l.Each), quote.Money(l.Sum))
	}
	sums := q.Sums()
	var names [][]string
	high := 0.0
	for _, s := range sums {
		lines := name(s.Name)
		names, high = append(names, lines), high+rowHigh*float64(len(lines))
	}
	p.room(high)
	for n, s := range sums {
		style, shade := "", grey
		if s.Total {
			style, shade = "B", black
		}
		p.row(widths, style, shade, names[n], "", "", quote.Money(s.Amount))
	}
	p.pdf.Ln(1.5)
}

// room begins another page where so many millimetres are not left on this one, and says so.
func (p *sheet) room(high float64) bool {
	if p.pdf.GetY()+high <= p.bottom || high > p.bottom-margin {
		return false
	}
	p.pdf.AddPage()
	return true
}

// row is one row of the price table: a name on as many lines as it takes, and amounts beside its first.
func (p *sheet) row(widths []float64, style string, shade ink, name []string, amounts ...string) {
	p.font(style, 9.5, shade)
	for n, l := range name {
		p.pdf.CellFormat(widths[0], rowHigh, l, "", 0, "L", false, 0, "")
		for i, c := range amounts {
			if n == 0 {
				p.pdf.CellFormat(widths[i+1], rowHigh, c, "", 0, "R", false, 0, "")
			}
		}
		p.pdf.Ln(rowHigh)
	}
}

const listHigh = 12.0 // of a title and a line, at least

func (p *sheet) list(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	if p.pdf.GetY() > p.bottom-listHigh {
		p.pdf.AddPage()
	}
	p.font("B", 9.5, black)
	p.pdf.CellFormat(p.width, 5.2, title, "", 1, "L", false, 0, "")
	p.font("", 8.8, black)
	for _, l := range lines {
		l = plain(catalog.Fractions(catalog.Capital(l)))
		if high := 4.3 * float64(len(p.pdf.SplitText(l, p.width-4))); p.pdf.GetY()+high > p.bottom && high < p.bottom/2 {
			p.pdf.AddPage() // no sentence is torn
		}
		p.pdf.CellFormat(4, 4.3, "–", "", 0, "L", false, 0, "")
		p.pdf.MultiCell(p.width-4, 4.3, l, "", "L", false)
	}
	p.pdf.Ln(1.4)
}

// plain keeps a text to what the page's font can show: control characters become spaces,
// and letters outside the Basic Multilingual Plane, which fpdf cannot place, a box.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r < 32 || r == 127:
			return ' '
		case r > 0xffff:
			return '□'
		}
		return r
	}, strings.ToValidUTF8(s, "□"))
}

// sizeText letters a dimension as a shop drawing does: ‘3½ in (88.9 mm)’, ‘1¾ in (44.45 mm)’, inches
// to a sixteenth only where the length lies on one.
func sizeText(l measure.Length) string {
	exact := l.Inches() * 16
	near := float64(int(exact + 0.5))
	if d := exact - near; d < 0.03 && d > -0.03 {
		return fmt.Sprintf("%s in (%s mm)", catalog.Fractions(l.Fraction(16)), l.Tenths())
	}
	return fmt.Sprintf("%.3f in (%s mm)", l.Inches(), l.Tenths())
}
