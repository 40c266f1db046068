package draw

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"leafgauge/measure"
	"leafgauge/measure/geom"
)

// coverBorder is how much of a card's face is left at its edges, mm: measuring looks at the edges, and what is written on
// a card keeps further in.
const coverBorder = 3.0

// CoverCard returns the upright picture with the inside of the card that r found painted over in one colour, its edges
// left: nobody's number or name is anybody's business. Without a card, or with the printed one, it is img itself.
func CoverCard(img image.Image, r measure.Result) image.Image {
	if r.Card == nil || r.Card.Kind == measure.CardPrinted {
		return img
	}
	b := img.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(out, out.Bounds(), img, b.Min, draw.Src)
	coverCard(newSheet(out, 1, nil), r.Card.CornersPx)
	return out
}

// coverCard paints over the inside of a card with these corners.
func coverCard(s *sheet, corners [4]measure.Pixel) {
	h, ok := quadMap(corners[:])
	if !ok {
		s.fill(color.Gray{128}, corners[:])
		return
	}
	w, ht := cardSides(corners)
	u, v := coverBorder/w, coverBorder/ht
	face := []measure.Pixel{h.at(u, v), h.at(1-u, v), h.at(1-u, 1-v), h.at(u, 1-v)}
	s.fill(faceColour(s, h, u, v), face)
}

// faceColour is the mean of what is seen on a card's face: its edges stand out as they did.
func faceColour(s *sheet, h projective, u, v float64) color.Color {
	const across = 24
	var sum [3]float64
	n := 0.0
	for i := range across {
		for j := range across {
			p := h.at(u+(1-2*u)*(float64(i)+0.5)/across, v+(1-2*v)*(float64(j)+0.5)/across)
			at := image.Pt(int(math.Floor(p.X)), int(math.Floor(p.Y)))
			if !at.In(s.Bounds()) {
				continue
			}
			c := s.RGBAAt(at.X, at.Y)
			sum[0], sum[1], sum[2], n = sum[0]+float64(c.R), sum[1]+float64(c.G), sum[2]+float64(c.B), n+1
		}
	}
	if n == 0 {
		return color.Gray{128}
	}
	return color.RGBA{uint8(sum[0] / n), uint8(sum[1] / n), uint8(sum[2] / n), 255}
}

// cardSides are the lengths, mm, of a card's first side and of the next (ISO/IEC 7810: 85.60 × 53.98 mm). Which is the
// long one is told by the picture.
func cardSides(p [4]measure.Pixel) (first, next float64) {
	if geom.Distance(p[0], p[1])+geom.Distance(p[2], p[3]) < geom.Distance(p[0], p[3])+geom.Distance(p[1], p[2]) {
		return measure.ID1Short, measure.ID1Long
	}
	return measure.ID1Long, measure.ID1Short
}
