package draw

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
	"leafgauge/measure/geom"

	"github.com/disintegration/imaging"
)

// overlayWidth is the widest that Overlay makes a picture, in pixels.
const overlayWidth = 1600

// Inks of the overlay: apart in lightness as well as in hue, and all light against the dark halo.
var (
	haloInk   = color.RGBA{0, 0, 0, 150}
	cardInk   = color.RGBA{120, 205, 255, 255}
	leafInk   = color.RGBA{255, 214, 64, 255}
	holeInk   = color.RGBA{255, 140, 225, 255}
	axisInk   = color.RGBA{150, 255, 170, 255}
	textInk   = color.RGBA{255, 255, 255, 255}
	pageInk   = color.RGBA{30, 34, 40, 255}
	fadedInk  = color.RGBA{110, 116, 124, 255}
	noticeInk = color.RGBA{150, 40, 30, 255}
)

// Overlay draws what r found over the upright picture, scaled to at most 1600 pixels wide:
// card, leaf outlines, pin axis, through holes and countersinks, sizes in inches and
// millimetres. A strip below lists the holes, or says why the photo must be taken again.
func Overlay(img image.Image, r measure.Result) image.Image {
	b := img.Bounds()
	if b.Empty() {
		b = image.Rect(0, 0, 1, 1)
	}
	w := min(b.Dx(), overlayWidth)
	scale := float64(w) / float64(b.Dx())
	h := max(1, int(math.Round(float64(b.Dy())*scale)))
	em := math.Max(11, float64(w)/60)

	notes := overlayNotes(r)
	strip := int(em * (1.4*float64(len(notes)) + 1))
	out := image.NewRGBA(image.Rect(0, 0, w, h+strip))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	if !img.Bounds().Empty() {
		small := img
		if w != b.Dx() {
			small = imaging.Resize(img, w, h, imaging.Linear)
		}
		draw.Draw(out, image.Rect(0, 0, w, h), small, small.Bounds().Min, draw.Src)
	}
	// The drawing stays on the picture: a sheet clipped to it.
	s := newSheet(out.SubImage(image.Rect(0, 0, w, h)).(*image.RGBA), em, haloInk)
	o := overlay{s, scale}
	if r.Card != nil {
		o.card(*r.Card)
	}
	if r.Hinge != nil {
		o.hinge(r)
	}

	under := newSheet(out, em*0.85, nil)
	for i, n := range notes {
		ink := pageInk
		if r.Status != measure.Measured {
			ink = noticeInk
		}
		x := em
		for c, cell := range n {
			under.letter(cell, measure.Pixel{X: x, Y: float64(h) + em*(1.4*float64(i)+1.2)}, fromLeft, ink)
			if len(n) > 1 {
				x += noteColumns[min(c, len(noteColumns)-1)] * float64(w)
			}
		}
	}
	return out
}

// noteColumns are the widths of the strip's columns, as shares of the picture's.
var noteColumns = []float64{0.10, 0.22, 0.22, 0.22, 0.22}

// noticeWidth is the number of letters in a line of the strip: 60 em of picture width at the
// strip's 0.85 em, half an em a letter, and room to spare.
const noticeWidth = 120

// wrap breaks text into lines of at most width letters, at spaces.
func wrap(text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}

// overlayNotes are the lines of the strip.
func overlayNotes(r measure.Result) [][]string {
	var notes [][]string
	if r.Status != measure.Measured || r.Hinge == nil {
		for _, reason := range r.RetakeReasons {
			for _, line := range wrap(reason.Advice(), noticeWidth) {
				notes = append(notes, []string{line})
			}
		}
		return notes
	}
	notes = append(notes, []string{"hole", "from edge", "from end", "hole Ø", "countersink Ø"})
	for i, l := range r.Hinge.Leaves {
		for j, o := range l.Holes {
			cs := "—"
			if o.Countersink.Known() {
				cs = both(o.Countersink)
			}
			notes = append(notes, []string{measure.HoleName(i, j), both(o.FromEdge), both(o.FromEnd), both(o.Diameter), cs})
		}
	}
	return notes
}

// both is an estimate in inches and millimetres with its 95 % interval.
func both(e measure.Estimate) string {
	if !e.Known() {
		return "not measured"
	}
	return fmt.Sprintf("%.3f in   %.2f ± %.2f mm", e.Value.Inches(), e.Value.MM(), e.Half95().MM())
}

type overlay struct {
	*sheet
	scale float64
}

// px takes a place of the full picture to the overlay.
func (o overlay) px(p measure.Pixel) measure.Pixel {
	return measure.Pixel{X: p.X * o.scale, Y: p.Y * o.scale}
}

func (o overlay) pxs(ps []measure.Pixel) []measure.Pixel {
	out := make([]measure.Pixel, len(ps))
	for i, p := range ps {
		out[i] = o.px(p)
	}
	return out
}

func (o overlay) thin() float64 { return math.Max(1.2, o.em/11) }

// card draws the card's outline with its rounded corners, and covers what is written on it.
func (o overlay) card(c measure.CardInfo) {
	p := o.pxs(c.CornersPx[:])
	if c.Kind != measure.CardPrinted {
		coverCard(o.sheet, [4]measure.Pixel(p))
	}
	h, ok := quadMap(p)
	if !ok {
		o.line(p, true, o.thin(), cardInk)
		return
	}
	w, ht := cardSides([4]measure.Pixel(p))
	const radius = measure.ID1Radius
	var path []measure.Pixel
	for _, q := range roundedBox(0, 0, w, ht, [4]float64{radius, radius, radius, radius}) {
		path = append(path, h.at(q.X/w, q.Y/ht))
	}
	o.line(path, true, o.thin(), cardInk)
	name := "card"
	if c.Kind == measure.CardPrinted {
		name = "printed card"
	}
	o.letter(name, h.at(0.5, 0.5), centred, cardInk)
}

// hinge draws outlines, holes and axis, and letters the sizes.
func (o overlay) hinge(r measure.Result) {
	h := *r.Hinge
	for _, l := range h.Leaves {
		o.line(o.pxs(l.OutlinePx), len(l.OutlinePx) > 2, o.thin(), leafInk)
	}
	flats := make([]*flatLeaf, len(h.Leaves))
	for i := range h.Leaves {
		flats[i] = o.flatten(r, i)
	}

	for i, l := range h.Leaves {
		for j, hole := range l.Holes {
			c := o.px(hole.CentrePx)
			f := flats[i]
			for _, e := range []measure.Estimate{hole.Diameter, hole.Countersink} {
				if e.Known() {
					o.line(f.circle(hole, e.Value.MM()/2), true, o.thin()*0.8, holeInk)
				}
			}
			t := o.em * 0.25
			o.line([]measure.Pixel{{X: c.X - t, Y: c.Y}, {X: c.X + t, Y: c.Y}}, false, 1, holeInk)
			o.line([]measure.Pixel{{X: c.X, Y: c.Y - t}, {X: c.X, Y: c.Y + t}}, false, 1, holeInk)
			radius := math.Max(hole.Countersink.Value.MM(), hole.Diameter.Value.MM()) / 2 * f.pxPerMM
			name := measure.HoleName(i, j)
			if hole.Filled {
				name += " filled"
			}
			o.letter(name, measure.Pixel{X: c.X + radius + 0.4*o.em, Y: c.Y - radius - 0.2*o.em}, fromLeft, holeInk)
		}
	}

	// The pin's axis, as the mean of what the leaves say.
	var a, b measure.Pixel
	n := 0.0
	for i, f := range flats {
		width := h.LeafWidth(i)
		if !f.ok || !width.Known() {
			continue
		}
		// Leaves may count from the same end only; "end 0" is the same for both.
		p, q := f.at(width.Value.MM(), 0), f.at(width.Value.MM(), h.Height.Value.MM())
		a, b, n = measure.Pixel{X: a.X + p.X, Y: a.Y + p.Y}, measure.Pixel{X: b.X + q.X, Y: b.Y + q.Y}, n+1
	}
	if n > 0 {
		a, b = measure.Pixel{X: a.X / n, Y: a.Y / n}, measure.Pixel{X: b.X / n, Y: b.Y / n}
		more := 0.06
		o.dashed([]measure.Pixel{geom.Between(a, b, -more), geom.Between(a, b, 1+more)}, o.thin(), axisInk, 1.6*o.em, 0.5*o.em, 0.3*o.em, 0.5*o.em)
	}

	o.sizes(r, flats, a, b, n > 0)
}

// sizes letters height, open width, barrel and corners, each outside the metal and clear of
// the card and of the others.
func (o overlay) sizes(r measure.Result, flats []*flatLeaf, a, b measure.Pixel, axis bool) {
	h := *r.Hinge
	if len(flats) == 0 || !flats[0].ok {
		o.letter("height "+sizeLabel(h.Height, ""), measure.Pixel{X: o.em, Y: 2 * o.em}, fromLeft, textInk)
		return
	}
	height := h.Height.Value.MM()
	const off = 6 // mm from metal to dimension line
	var taken []image.Rectangle
	for _, l := range h.Leaves {
		taken = append(taken, tiles(o.pxs(l.OutlinePx), int(o.em))...)
	}
	if axis {
		taken = append(taken, tiles([]measure.Pixel{a, b}, int(o.em))...)
	}
	// The height stands beside the leaf that lies farther from the card.
	beside := flats[0]
	if r.Card != nil {
		c := o.pxs(r.Card.CornersPx[:])
		for k := range 9 {
			t := float64(k) / 8
			taken = append(taken, tiles([]measure.Pixel{geom.Between(c[0], c[1], t), geom.Between(c[3], c[2], t)}, int(o.em))...)
		}
		middle := geom.Between(c[0], c[2], 0.5)
		from := func(f *flatLeaf) float64 { return geom.Distance(f.at(0, height/2), middle) }
		if len(flats) == 2 && flats[1].ok && from(flats[1]) > from(flats[0]) {
			beside = flats[1]
		}
	}
	// place letters text beyond p, away from the metal; where that meets the picture's edge,
	// to either side; at last wherever it must.
	place := func(text string, p, away measure.Pixel, ink color.Color) {
		n := math.Hypot(away.X, away.Y)
		if n == 0 {
			return
		}
		w, h := o.width(text)/2+0.3*o.em, (1+float64(strings.Count(text, "\n")))*0.65*o.em
		find := func(dx, dy float64) (at measure.Pixel, box image.Rectangle, free bool) {
			for step := 0.0; step < 14 && !free; step += 0.5 {
				at = o.inside(measure.Pixel{X: p.X + dx/n*step*o.em, Y: p.Y + dy/n*step*o.em}, text)
				box = image.Rect(int(at.X-w), int(at.Y-h), int(at.X+w), int(at.Y+h))
				free = !slices.ContainsFunc(taken, box.Overlaps)
			}
			return at, box, free
		}
		at, box, free := find(away.X, away.Y)
		for _, turn := range []float64{1, -1} {
			if !free {
				at, box, free = find(away.X*0.2-turn*away.Y, away.Y*0.2+turn*away.X)
			}
		}
		taken = append(taken, box)
		o.letter(text, at, centred, ink)
	}
	dimension := func(p, q, away measure.Pixel, text string) {
		o.line([]measure.Pixel{p, q}, false, o.thin()*0.8, textInk)
		o.arrow(p, q, textInk)
		o.arrow(q, p, textInk)
		taken = append(taken, tiles([]measure.Pixel{p, q}, int(o.em/2))...)
		place(text, geom.Between(p, q, 0.5), away, textInk)
	}
	f := flats[0]
	dimension(beside.at(-off, 0), beside.at(-off, height), geom.Minus(beside.at(-1, height/2), beside.at(0, height/2)), sizeLabel(h.Height, ""))
	if len(flats) == 2 && flats[1].ok && h.OpenWidth.Known() {
		dimension(f.at(0, -off), flats[1].at(0, -off), geom.Minus(f.at(0, -1), f.at(0, 0)), sizeLabel(h.OpenWidth, ""))
	}
	if axis && h.BarrelDiameter.Known() {
		place(sizeLabel(h.BarrelDiameter, "barrel Ø "), b, geom.Minus(b, a), axisInk)
	}
	for i, l := range h.Leaves {
		if !flats[i].ok {
			continue
		}
		text := "square corners"
		if l.Corners != measure.CornersSquare {
			if !l.CornerRadius.Known() {
				continue
			}
			text = sizeLabel(l.CornerRadius, "R ")
		}
		p := flats[i].at(0, height)
		place(text, p, geom.Minus(flats[i].at(-0.7, height+1), p), leafInk)
	}
}

// tiles covers a shape with squares of the given side: its outline, and, for the drawing of a
// leaf, its inside by the lines from the first point.
func tiles(path []measure.Pixel, side int) []image.Rectangle {
	var out []image.Rectangle
	add := func(p, q measure.Pixel) {
		if !finite(p) || !finite(q) {
			return
		}
		n := 1 + int(geom.Distance(p, q))/max(side, 1)
		for k := range n + 1 {
			c := geom.Between(p, q, float64(k)/float64(n))
			out = append(out, image.Rect(int(c.X)-side/2, int(c.Y)-side/2, int(c.X)+side/2+1, int(c.Y)+side/2+1))
		}
	}
	for i := range path {
		add(path[i], path[(i+1)%len(path)])
		add(path[0], path[i])
	}
	return out
}

// inside moves a text's middle so that the text stays on the picture.
func (o overlay) inside(p measure.Pixel, text string) measure.Pixel {
	w, h := o.width(text)/2+0.5*o.em, 1.6*o.em
	b := o.Bounds()
	p.X = math.Max(float64(b.Min.X)+w, math.Min(float64(b.Max.X)-w, p.X))
	p.Y = math.Max(float64(b.Min.Y)+h, math.Min(float64(b.Max.Y)-h, p.Y))
	return p
}

// sizeLabel is a size on two lines: inches (nearest 1/32 and decimal) over millimetres.
func sizeLabel(e measure.Estimate, name string) string {
	return fmt.Sprintf("%s%s in (%.3f)\n%.2f ± %.2f mm", name, e.Value.Fraction(32), e.Value.Inches(), e.Value.MM(), e.Half95().MM())
}

// A flatLeaf takes [from edge, from end] on a leaf, in mm, to the overlay. It is fitted to the
// hole centres: a similarity on the card's plane, or on the picture where there is no card.
// It serves the drawing only; no number comes from it.
type flatLeaf struct {
	ok             bool
	plane          projective // card's plane (unit square) → overlay
	w, h           float64    // the card's size along the unit square's sides, mm
	re, im, tx, ty float64
	mirror         float64 // +1 or −1
	pxPerMM        float64
	scale          float64 // overlay px per picture px
}

func (o overlay) flatten(r measure.Result, leaf int) *flatLeaf {
	f := &flatLeaf{w: 1, h: 1, plane: projective{1, 0, 0, 0, 1, 0, 0, 0}, pxPerMM: r.Image.PxPerMM * o.scale, scale: o.scale}
	if r.Card != nil {
		p := o.pxs(r.Card.CornersPx[:])
		if q, ok := quadMap(p); ok {
			f.plane, f.w, f.h = q, 85.60, 53.98
			if geom.Distance(p[0], p[1]) < geom.Distance(p[0], p[3]) {
				f.w, f.h = f.h, f.w
			}
		}
	}
	l := r.Hinge.Leaves[leaf]
	if len(l.Holes) < 2 {
		return f
	}
	type pair struct{ x, y, u, v float64 }
	var pairs []pair
	for _, hole := range l.Holes {
		u, v, ok := f.plane.back(o.px(hole.CentrePx))
		if !ok {
			return f
		}
		pairs = append(pairs, pair{hole.FromEdge.Value.MM(), hole.FromEnd.Value.MM(), u * f.w, v * f.h})
	}
	n := float64(len(pairs))
	var mx, my, mu, mv float64
	for _, p := range pairs {
		mx, my, mu, mv = mx+p.x/n, my+p.y/n, mu+p.u/n, mv+p.v/n
	}
	width, height := r.Hinge.LeafWidth(leaf).Value.MM(), r.Hinge.Height.Value.MM()
	// Least squares of u + iv = (re + i·im)(x ± iy) + t, in closed form. Of the two handednesses that is
	// taken whose holes fit and which keeps the outline within the leaf: two holes, or any in a line,
	// fit either way.
	least := math.Inf(1)
	for _, mirror := range []float64{1, -1} {
		var re, im, norm float64
		for _, p := range pairs {
			x, y, u, v := p.x-mx, mirror*(p.y-my), p.u-mu, p.v-mv
			re, im, norm = re+x*u+y*v, im+x*v-y*u, norm+x*x+y*y
		}
		if norm == 0 {
			return f
		}
		re, im = re/norm, im/norm
		residual := 0.0
		for _, p := range pairs {
			x, y := p.x-mx, mirror*(p.y-my)
			du, dv := p.u-mu-(re*x-im*y), p.v-mv-(im*x+re*y)
			residual += du*du + dv*dv
		}
		for _, q := range l.OutlinePx {
			if u, v, ok := f.plane.back(o.px(q)); ok {
				du, dv, n := u*f.w-mu, v*f.h-mv, re*re+im*im
				x, y := mx+(re*du+im*dv)/n, my+mirror*(re*dv-im*du)/n
				dx, dy := max(0, -x, x-width), max(0, -y, y-height)
				residual += dx*dx + dy*dy
			}
		}
		if residual < least {
			least = residual
			f.re, f.im, f.mirror = re, im, mirror
			f.tx, f.ty = mu-(re*mx-im*mirror*my), mv-(im*mx+re*mirror*my)
		}
	}
	f.ok = true
	p, q := f.at(mx, my), f.at(mx+1, my)
	f.pxPerMM = geom.Distance(p, q)
	return f
}

// at is the overlay place of a point of the leaf.
func (f *flatLeaf) at(edge, end float64) measure.Pixel {
	end *= f.mirror
	return f.plane.at((f.re*edge-f.im*end+f.tx)/f.w, (f.im*edge+f.re*end+f.ty)/f.h)
}

// circle is the picture of a circle round a hole's centre, which stays where it was found.
func (f *flatLeaf) circle(hole measure.Hole, radius float64) []measure.Pixel {
	c := measure.Pixel{X: hole.CentrePx.X * f.scale, Y: hole.CentrePx.Y * f.scale}
	if !f.ok {
		return round(c, radius*f.pxPerMM)
	}
	x, y := hole.FromEdge.Value.MM(), hole.FromEnd.Value.MM()
	was := f.at(x, y)
	const n = 48
	out := make([]measure.Pixel, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		p := f.at(x+radius*cos, y+radius*sin)
		out[i] = measure.Pixel{X: p.X - was.X + c.X, Y: p.Y - was.Y + c.Y}
	}
	return out
}

// A projective map takes (u, v) to ((a u + b v + c)/w, (d u + e v + f)/w), w = g u + h v + 1.
type projective [8]float64

func (m projective) at(u, v float64) measure.Pixel {
	w := m[6]*u + m[7]*v + 1
	return measure.Pixel{X: (m[0]*u + m[1]*v + m[2]) / w, Y: (m[3]*u + m[4]*v + m[5]) / w}
}

// back solves at for (u, v).
func (m projective) back(p measure.Pixel) (u, v float64, ok bool) {
	a, b, c := m[0]-m[6]*p.X, m[1]-m[7]*p.X, p.X-m[2]
	d, e, f := m[3]-m[6]*p.Y, m[4]-m[7]*p.Y, p.Y-m[5]
	det := a*e - b*d
	if math.Abs(det) < 1e-12 {
		return 0, 0, false
	}
	return (c*e - b*f) / det, (a*f - c*d) / det, true
}

// quadMap maps the unit square to four corners in order round it (Heckbert, "Fundamentals of
// texture mapping and image warping", 1989, section 2.2.3).
func quadMap(p []measure.Pixel) (projective, bool) {
	dx1, dx2, dx3 := p[1].X-p[2].X, p[3].X-p[2].X, p[0].X-p[1].X+p[2].X-p[3].X
	dy1, dy2, dy3 := p[1].Y-p[2].Y, p[3].Y-p[2].Y, p[0].Y-p[1].Y+p[2].Y-p[3].Y
	det := dx1*dy2 - dx2*dy1
	if math.Abs(det) < 1e-9 {
		return projective{}, false
	}
	g, h := (dx3*dy2-dx2*dy3)/det, (dx1*dy3-dx3*dy1)/det
	return projective{p[1].X - p[0].X + g*p[1].X, p[3].X - p[0].X + h*p[3].X, p[0].X,
		p[1].Y - p[0].Y + g*p[1].Y, p[3].Y - p[0].Y + h*p[3].Y, p[0].Y, g, h}, true
}

// roundedBox is a box with rounded corners, from the top left one clockwise.
func roundedBox(x0, y0, x1, y1 float64, r [4]float64) []measure.Pixel {
	var out []measure.Pixel
	for i, c := range [4]struct{ x, y, sx, sy, from float64 }{{x0, y0, 1, 1, math.Pi}, {x1, y0, -1, 1, 1.5 * math.Pi}, {x1, y1, -1, -1, 0}, {x0, y1, 1, -1, 0.5 * math.Pi}} {
		if r[i] <= 0 {
			out = append(out, measure.Pixel{X: c.x, Y: c.y})
			continue
		}
		const n = 10
		for k := range n + 1 {
			sin, cos := math.Sincos(c.from + float64(k)/n*math.Pi/2)
			out = append(out, measure.Pixel{X: c.x + r[i]*(c.sx+cos), Y: c.y + r[i]*(c.sy+sin)})
		}
	}
	return out
}
