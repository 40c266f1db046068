// Package printcard draws the project's own reference card, measure.PrintedCard, as a sheet to
// print on office paper. It measures nothing.
package printcard

import (
	"fmt"
	"io"
	"time"

	"leafgauge/measure"

	"codeberg.org/go-pdf/fpdf"
	"github.com/boombuler/barcode/qr"
)

// A shade is a grey or colour, 0…255 a channel (sRGB).
type shade struct{ r, g, b int }

var (
	black = shade{0, 0, 0}
	white = shade{255, 255, 255}
)

// A box is a filled rectangle of the card, mm.
type box struct {
	x, y, w, h float64
	radius     float64
	shade      shade
}

// A disc is a filled circle of the card, mm.
type disc struct {
	x, y, r float64
	shade   shade
}

// card lists what is on the card, from the ground up. Where things stand is told by the
// package that recognises them.
func card() ([]box, []disc, error) {
	l := measure.PrintedCard()
	boxes := []box{
		{0, 0, l.Width, l.Height, l.Radius, black},
		{l.Frame, l.Frame, l.Width - 2*l.Frame, l.Height - 2*l.Frame, 0, white},
	}
	code, err := qr.Encode(measure.PrintedCode, qr.M, qr.AlphaNumeric)
	if err != nil {
		return nil, nil, err
	}
	n := code.Bounds().Dx()
	if n != l.CodeModules {
		return nil, nil, fmt.Errorf("the code has %d modules a side, the layout %d", n, l.CodeModules)
	}
	module := l.CodeSide / float64(n)
	for y := range n {
		for x := 0; x < n; x++ {
			run := x
			for run < n && dark(code.At(run, y)) {
				run++
			}
			if run > x {
				boxes = append(boxes, box{l.CodeX + float64(x)*module, l.CodeY + float64(y)*module, float64(run-x) * module, module, 0, black})
				x = run
			}
		}
	}
	for _, p := range l.Patches {
		boxes = append(boxes, box{p.X, p.Y, p.W, p.H, 0, shade{int(p.RGB[0]), int(p.RGB[1]), int(p.RGB[2])}})
	}
	var discs []disc
	for _, r := range l.Rings {
		discs = append(discs, disc{r.X, r.Y, r.Outer, black})
		if r.Inner > 0 {
			discs = append(discs, disc{r.X, r.Y, r.Inner, white})
		}
	}
	return boxes, discs, nil
}

func dark(c interface{ RGBA() (r, g, b, a uint32) }) bool {
	r, _, _, _ := c.RGBA()
	return r < 0x8000
}

// Papers are the names that Write takes.
var Papers = []string{"a4", "letter"}

// Write writes a one-page PDF with the card, how to use it, and the bar that shows whether the
// printer kept the scale. The same bytes come out each time.
func Write(w io.Writer, paper string) error {
	sizes := map[string]string{"a4": "A4", "letter": "Letter"}
	if sizes[paper] == "" {
		return fmt.Errorf("no paper named %q: a4 or letter", paper)
	}
	pdf := fpdf.New("P", "mm", sizes[paper], "")
	pdf.SetCompression(false) // a few kilobytes, and its lengths can be read in it
	return write(w, pdf)
}

func write(w io.Writer, pdf *fpdf.Fpdf) error {
	boxes, discs, err := card()
	if err != nil {
		return err
	}
	created := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC) // of the design, so that every copy is the same
	pdf.SetCreationDate(created)
	pdf.SetModificationDate(created)
	pdf.SetCatalogSort(true)
	pdf.SetTitle("Reference card to measure a hinge by", true)
	pdf.SetAutoPageBreak(false, 0)
	pdf.AddPage()
	tr := pdf.UnicodeTranslatorFromDescriptor("")
	pageW, _ := pdf.GetPageSize()
	barLength := measure.PrintedBar.MM()
	left := (pageW - 170) / 2 // of the text

	pdf.SetFont("Helvetica", "B", 15)
	pdf.Text(left, 22, tr("Reference card for your hinge photo"))
	pdf.SetFont("Helvetica", "", 10.5)
	y := 30.0
	for i, s := range []string{
		"Print this page at 100 %, “actual size”. Don't let the printer fit it to the page.",
		"Measure the bar with a ruler and type its length with the hinge's sizes, even when it is right: “bar 100 mm”.",
		"Lay the whole page flat on a table, or cut the card out anywhere outside its frame.",
		"Lay the hinge on the empty paper, or beside the card, open and flat, its screw holes facing you. Nothing over either.",
		"Take the photo from straight above, near enough for hinge and card to fill most of it, without flash.",
	} {
		pdf.Text(left, y, fmt.Sprintf("%d", i+1))
		pdf.SetXY(left+5, y-4)
		pdf.MultiCell(165, 5, tr(s), "", "L", false)
		y = pdf.GetY() + 5.5
	}

	// The card stands high on the sheet: under it the paper is empty for the hinge.
	l := measure.PrintedCard()
	x0, y0 := (pageW-l.Width)/2, 100.0
	fill := func(s shade) { pdf.SetFillColor(s.r, s.g, s.b) }
	for _, b := range boxes {
		fill(b.shade)
		if b.radius > 0 {
			pdf.RoundedRect(x0+b.x, y0+b.y, b.w, b.h, b.radius, "1234", "F")
		} else {
			pdf.Rect(x0+b.x, y0+b.y, b.w, b.h, "F")
		}
	}
	for _, d := range discs {
		fill(d.shade)
		pdf.Circle(x0+d.x, y0+d.y, d.r, "F")
	}
	pdf.SetFont("Helvetica", "", 7)
	pdf.Text(x0+44, y0+35, tr("leafgauge  ·  85.60 × 53.98 mm"))

	// The bar: centimetres by turns black and white, millimetre ticks under it, inches above.
	bar := 80.0
	left = (pageW - barLength) / 2
	for i := range int(barLength / 10) {
		fill(white)
		if i%2 == 0 {
			fill(black)
		}
		pdf.SetLineWidth(0.2)
		pdf.Rect(left+10*float64(i), bar, 10, 4, "FD")
	}
	for i := 0; i <= int(barLength); i++ {
		h := 1.5
		if i%5 == 0 {
			h = 2.5
		}
		pdf.SetLineWidth(0.1)
		pdf.Line(left+float64(i), bar+4, left+float64(i), bar+4+h)
	}
	for i := 0; 25.4/8*float64(i) <= barLength; i++ {
		h := 1.5
		if i%8 == 0 {
			h = 3
			pdf.Text(left+25.4/8*float64(i)-0.6, bar-4, fmt.Sprint(i/8))
		}
		pdf.Line(left+25.4/8*float64(i), bar-h, left+25.4/8*float64(i), bar)
	}
	pdf.SetFont("Helvetica", "", 9)
	pdf.Text(left, bar+11, tr("100 mm when the page was printed at its true size. Above the bar: inches."))
	if err := pdf.Error(); err != nil {
		return err
	}
	return pdf.Output(w)
}
