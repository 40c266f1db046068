// Package printcard draws the project's own reference card: a card of ID-1 size
// (ISO/IEC 7810: 85.60 × 53.98 mm, corners of 3.18 mm) to print on office paper and lay beside
// a hinge. It measures nothing.
package printcard

import (
	"fmt"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/boombuler/barcode/qr"
)

// The card, in mm from its top left corner. What a photo is measured by is the outer edge of
// the frame, so that the card serves cut out or left on its sheet.
const (
	Width  = 85.60
	Height = 53.98
	Radius = 3.18

	// Version is in the code on the card; a change of any length below raises it.
	Version = 1
	// Code is what the ISO/IEC 18004 code says: whose card, of which version and kind.
	Code = "LEAFGAUGE:CARD:1:ID1"

	frame = 4.0 // width of the black frame
	// BarLength is that of the bar on the sheet which shows the scale of the print.
	BarLength = 100.0
)

// A shade is a grey or colour, 0…255 a channel (sRGB).
type shade struct{ r, g, b int }

var (
	black = shade{0, 0, 0}
	white = shade{255, 255, 255}
)

// A box is a filled rectangle of the card.
type box struct {
	x, y, w, h float64
	radius     float64
	shade      shade
}

// A disc is a filled circle of the card.
type disc struct {
	x, y, r float64
	shade   shade
}

// patches are the colours by which a photo's white balance is told: white to black in equal
// steps of lightness (CIE L* 95, 75, 50, 25), and the three printing inks.
var patches = []shade{{241, 241, 241}, {185, 185, 185}, {119, 119, 119}, {59, 59, 59}, {0, 140, 190}, {200, 30, 120}, {245, 215, 0}}

// quiet is the empty rim that a code needs, in modules (ISO/IEC 18004).
const quiet = 4

// card lists what is on the card, from the ground up.
func card() ([]box, []disc, error) {
	boxes := []box{
		{0, 0, Width, Height, Radius, black},
		{frame, frame, Width - 2*frame, Height - 2*frame, 0, white},
	}
	// The code stands in the left half.
	code, err := qr.Encode(Code, qr.M, qr.AlphaNumeric)
	if err != nil {
		return nil, nil, err
	}
	n := code.Bounds().Dx()
	const side = 30.0 // mm without its rim
	module := side / float64(n)
	x0, y0 := frame+quiet*module+1, (Height-side)/2
	for y := range n {
		for x := 0; x < n; x++ {
			run := x
			for run < n && dark(code.At(run, y)) {
				run++
			}
			if run > x {
				boxes = append(boxes, box{x0 + float64(x)*module, y0 + float64(y)*module, float64(run-x) * module, module, 0, black})
				x = run
			}
		}
	}
	// Seven patches in a row along the bottom of the right half.
	const patch, patchX, patchY = 5.0, 44.0, 40.0
	for i, s := range patches {
		boxes = append(boxes, box{patchX + float64(i)*patch, patchY, patch, 7, 0, s})
	}
	// Four rings, a rectangle of 30 × 14 mm from centre to centre, unlike at one corner so that
	// the card can't be taken upside down: the mark of this card.
	var discs []disc
	for i, p := range [][2]float64{{46.5, 11}, {76.5, 11}, {76.5, 25}, {46.5, 25}} {
		discs = append(discs, disc{p[0], p[1], 3, black})
		if i > 0 {
			discs = append(discs, disc{p[0], p[1], 1.5, white})
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
	left := (pageW - BarLength) / 2

	pdf.SetFont("Helvetica", "B", 15)
	pdf.Text(left, 30, tr("Reference card for your hinge photo"))
	pdf.SetFont("Helvetica", "", 10.5)
	y := 40.0
	for i, s := range []string{
		"Print this page at 100 %, “actual size”. Don't let the printer fit it to the page.",
		"Hold a ruler to the bar at the bottom. If it is not 100 mm long, tell us what it is, for example: bar 97 mm.",
		"Lay the page, or the card cut out along the frame's outer edge, flat on a table.",
		"Lay the hinge beside the card, open and flat, its screw holes facing you. Nothing over either.",
		"Take the photo from straight above, near enough for both to fill most of it, without flash.",
	} {
		pdf.Text(left-7, y, fmt.Sprintf("%d", i+1))
		pdf.SetXY(left-1, y-4)
		pdf.MultiCell(BarLength+12, 5, tr(s), "", "L", false)
		y = pdf.GetY() + 5.5
	}

	x0, y0 := (pageW-Width)/2, 110.0
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
	bar := 205.0
	for i := range int(BarLength / 10) {
		fill(white)
		if i%2 == 0 {
			fill(black)
		}
		pdf.SetLineWidth(0.2)
		pdf.Rect(left+10*float64(i), bar, 10, 4, "FD")
	}
	for i := 0; i <= int(BarLength); i++ {
		h := 1.5
		if i%5 == 0 {
			h = 2.5
		}
		pdf.SetLineWidth(0.1)
		pdf.Line(left+float64(i), bar+4, left+float64(i), bar+4+h)
	}
	for i := 0; 25.4/8*float64(i) <= BarLength; i++ {
		h := 1.5
		if i%8 == 0 {
			h = 3
			pdf.Text(left+25.4/8*float64(i)-0.6, bar-4, fmt.Sprint(i/8))
		}
		pdf.Line(left+25.4/8*float64(i), bar-h, left+25.4/8*float64(i), bar)
	}
	pdf.SetFont("Helvetica", "", 9)
	pdf.Text(left, bar+12, tr("The bar is 100 mm long when the page was printed at its true size. Above it: inches."))
	if err := pdf.Error(); err != nil {
		return err
	}
	return pdf.Output(w)
}
