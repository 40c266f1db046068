package draw

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"

	"leafgauge/measure"
	"leafgauge/measure/geom"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// A sheet is a picture to draw and letter on. Places are Pixels as everywhere: (0, 0) is the
// outer corner of the first pixel.
type sheet struct {
	*image.RGBA
	face font.Face
	em   float64     // height of the lettering, px
	halo color.Color // drawn under every line and letter; nil for none
}

func newSheet(img *image.RGBA, em float64, halo color.Color) *sheet {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		panic("draw: the built-in font: " + err.Error())
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: em, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic("draw: the built-in font: " + err.Error())
	}
	return &sheet{img, face, em, halo}
}

// line strokes a path, with a halo on both sides of it.
func (s *sheet) line(path []measure.Pixel, closed bool, width float64, ink color.Color) {
	if closed && len(path) > 0 {
		path = append(path[:len(path):len(path)], path[0])
	}
	if s.halo != nil {
		s.stroke(path, width+math.Max(2, width), s.halo)
	}
	s.stroke(path, width, ink)
}

// dashed strokes a path in dashes of the given lengths, drawn and left out by turns.
func (s *sheet) dashed(path []measure.Pixel, width float64, ink color.Color, dashes ...float64) {
	for _, p := range path {
		if !finite(p) {
			return
		}
	}
	var pieces [][]measure.Pixel
	var piece []measure.Pixel
	k, left := 0, dashes[0]
	for i := 0; i+1 < len(path); i++ {
		a, b := path[i], path[i+1]
		length := geom.Distance(a, b)
		for at := 0.0; at < length; {
			step := math.Min(left, length-at)
			p, q := geom.Between(a, b, at/length), geom.Between(a, b, (at+step)/length)
			if k%2 == 0 {
				if piece == nil {
					piece = []measure.Pixel{p}
				}
				piece = append(piece, q)
			}
			at += step
			if left -= step; left <= 1e-9 {
				if piece != nil {
					pieces, piece = append(pieces, piece), nil
				}
				k++
				left = dashes[k%len(dashes)]
			}
		}
	}
	if piece != nil {
		pieces = append(pieces, piece)
	}
	for _, p := range pieces {
		s.line(p, false, width, ink)
	}
}

// stroke fills a band of the given width along a path, with round joints and ends.
func (s *sheet) stroke(path []measure.Pixel, width float64, ink color.Color) {
	if len(path) < 2 {
		return
	}
	var shapes [][]measure.Pixel
	h := width / 2
	for i, a := range path {
		if !finite(a) {
			return
		}
		shapes = append(shapes, round(a, h))
		if i == 0 {
			continue
		}
		b := path[i-1]
		n := geom.Distance(a, b)
		if n == 0 {
			continue
		}
		// Wound the same way as round, so that overlaps do not cancel.
		ox, oy := -(a.Y-b.Y)/n*h, (a.X-b.X)/n*h
		shapes = append(shapes, []measure.Pixel{{X: b.X - ox, Y: b.Y - oy}, {X: a.X - ox, Y: a.Y - oy}, {X: a.X + ox, Y: a.Y + oy}, {X: b.X + ox, Y: b.Y + oy}})
	}
	s.fill(ink, shapes...)
}

// finite reports whether p is a number and anywhere near a picture.
func finite(p measure.Pixel) bool { return math.Abs(p.X) < 1e5 && math.Abs(p.Y) < 1e5 }

// round is a circle as a polygon.
func round(c measure.Pixel, r float64) []measure.Pixel {
	n := 8 + 4*int(math.Sqrt(math.Max(r, 0)))
	out := make([]measure.Pixel, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = measure.Pixel{X: c.X + r*cos, Y: c.Y + r*sin}
	}
	return out
}

// fill fills the union of shapes that are all wound the same way.
func (s *sheet) fill(ink color.Color, shapes ...[]measure.Pixel) {
	lo, hi := measure.Pixel{X: math.Inf(1), Y: math.Inf(1)}, measure.Pixel{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, shape := range shapes {
		for _, p := range shape {
			lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
			hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
		}
	}
	box := image.Rect(int(math.Floor(lo.X)), int(math.Floor(lo.Y)), int(math.Ceil(hi.X))+1, int(math.Ceil(hi.Y))+1).Intersect(s.Bounds())
	if box.Empty() {
		return
	}
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	at := func(p measure.Pixel) (float32, float32) {
		return float32(p.X) - float32(box.Min.X), float32(p.Y) - float32(box.Min.Y)
	}
	for _, shape := range shapes {
		for i, p := range shape {
			if i == 0 {
				z.MoveTo(at(p))
			} else {
				z.LineTo(at(p))
			}
		}
		z.ClosePath()
	}
	z.Draw(s.RGBA, box, image.NewUniform(ink), image.Point{})
}

// arrow draws an arrowhead with its tip at p, coming from the side of from.
func (s *sheet) arrow(p, from measure.Pixel, ink color.Color) {
	n := geom.Distance(p, from)
	if n == 0 {
		return
	}
	ux, uy := (p.X-from.X)/n, (p.Y-from.Y)/n
	l, w := s.em*0.6, s.em*0.2
	s.fill(ink, []measure.Pixel{p, {X: p.X - l*ux - w*uy, Y: p.Y - l*uy + w*ux}, {X: p.X - l*ux + w*uy, Y: p.Y - l*uy - w*ux}})
}

// Where a text lies from its place.
const (
	fromLeft = 0.0
	centred  = 0.5
	toRight  = 1.0
)

// width is the width of a text's widest line, in px.
func (s *sheet) width(text string) float64 {
	w := 0.0
	for _, l := range strings.Split(text, "\n") {
		w = math.Max(w, float64(font.MeasureString(s.face, l))/64)
	}
	return w
}

// letter writes lines of text with their middle at p's height.
func (s *sheet) letter(text string, p measure.Pixel, align float64, ink color.Color) {
	lines := strings.Split(text, "\n")
	lead := s.em * 1.25
	for i, l := range lines {
		x := p.X - align*s.width(l)
		y := p.Y + (float64(i)-float64(len(lines)-1)/2)*lead + 0.35*s.em
		if s.halo != nil {
			const around = 12
			r := math.Max(1.5, s.em/10)
			for k := range around {
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / around)
				s.write(l, measure.Pixel{X: x + r*cos, Y: y + r*sin}, s.halo)
			}
		}
		s.write(l, measure.Pixel{X: x, Y: y}, ink)
	}
}

func (s *sheet) write(text string, p measure.Pixel, ink color.Color) {
	if !finite(p) {
		return
	}
	d := font.Drawer{Dst: s.RGBA, Src: image.NewUniform(ink), Face: s.face,
		Dot: fixed.Point26_6{X: fixed.Int26_6(p.X * 64), Y: fixed.Int26_6(p.Y * 64)}}
	d.DrawString(text)
}

// paper is a white sheet.
func paper(w, h int, em float64) *sheet {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	return newSheet(img, em, nil)
}
