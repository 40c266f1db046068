package paper

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/measure/flat"
	"leafgauge/quote"
)

// A figure is the shop drawing: the new hinge in full lines over the old one in dashes. Its
// lettering keeps its size where the hinges do not.
type figure struct {
	shapes      flat.List
	scale       float64 // 1 is full size
	left, right float64 // how far the metal goes from the new pin's axis, mm of the hinge
	high        float64 // mm of the hinge
	haveOld     bool
	measured    bool    // the old hinge, in a photo; else it was typed
	corners     [2]bool // by leaf, whether the old ones are known
	placement   string
	ends, edges [2][]flat.Shape // by leaf, the holes' ways to letter: downwards; inwards, each once
}

// Millimetres of paper round the metal, and of the key: lines and check bar.
const (
	leftRoom, rightRoom, topRoom = 19.0, 12.0, 9.5
	levelHigh                    = 5.8 // of one way from the edge
	keyWide, barHigh             = 51.0, 26.0
	keyGap                       = 3.0
	ownMargin                    = 10.0 // of a page of its own
)

// drawingOf lays out what q quotes; its scale is 1. It is nothing where there is nothing to draw.
func drawingOf(q quote.Quote) (figure, bool) {
	shapes, high := catalog.LayFlat(q.Old, q.Fit, flat.Point{})
	if high == 0 {
		return figure{}, false
	}
	f := figure{shapes: shapes, scale: 1, high: high, placement: q.Fit.Placement,
		haveOld: q.Old.Height.Known() && len(q.Old.Leaves) > 0}
	f.measured = slices.ContainsFunc(q.Old.Trace, func(t measure.Trace) bool { return strings.HasPrefix(t.Source, "photo") })
	for l := range f.corners {
		f.corners[l] = l < len(q.Old.Leaves) && q.Old.Leaves[l].CornerRadius.Known()
	}
	for _, s := range shapes {
		switch s.Role {
		case flat.NewLeaf:
			f.left, f.right = max(f.left, -s.A.X), max(f.right, s.A.X)
		case flat.NewBarrel:
			f.left, f.right = max(f.left, s.R), max(f.right, s.R)
		case flat.NewFromEnd:
			f.ends[s.Leaf] = append(f.ends[s.Leaf], s)
		case flat.NewFromEdge:
			f.edges[s.Leaf] = append(f.edges[s.Leaf], s)
		}
	}
	for l := range 2 {
		slices.SortStableFunc(f.ends[l], func(a, b flat.Shape) int { return cmp.Compare(a.B.Y, b.B.Y) })
		slices.SortStableFunc(f.edges[l], func(a, b flat.Shape) int {
			return cmp.Or(cmp.Compare(a.Size.Value, b.Size.Value), cmp.Compare(b.B.Y, a.B.Y))
		})
		f.edges[l] = slices.CompactFunc(f.edges[l], func(a, b flat.Shape) bool { return sizeLines(a) == sizeLines(b) })
	}
	return f, true
}

// size is how much paper the hinges and their dimensions take.
func (f figure) size() (w, h float64) {
	levels := float64(max(len(f.edges[0]), len(f.edges[1])))
	return leftRoom + (f.left+f.right)*f.scale + rightRoom, topRoom + f.high*f.scale + 3 + levelHigh*levels
}

// reversed reports whether the new hinge goes in otherwise than the old one was.
func (f figure) reversed() bool { return f.placement != "" && f.placement != "as it was" }

func (f figure) linesHigh() float64 {
	high := 5.0
	if f.haveOld {
		high += 5
	}
	if f.reversed() {
		high += 5
	}
	return high
}

// height is that of hinges and key together on paper so wide; the key stands beside the
// hinges where there is room, else below.
func (f figure) height(wide float64) (h float64, beside bool) {
	w, h := f.size()
	if w+keyGap+keyWide <= wide {
		return max(h, f.linesHigh()+barHigh+topRoom), true
	}
	return h + keyGap + max(f.linesHigh(), barHigh), false
}

// fits reports whether the figure can be drawn on so much paper.
func (f figure) fits(wide, tall float64) bool {
	w, _ := f.size()
	h, _ := f.height(wide)
	return w <= wide && h <= tall
}

// drawing draws at full size where the page has room for it and so much below it, and reports
// whether it had.
func (p *sheet) drawing(f figure, below float64) bool {
	const note = 5.5
	below += 1.2 // a list begins only with listHigh free, though a short one takes less
	top := p.pdf.GetY()
	if !f.fits(p.width, p.bottom-top-note-below) {
		return false
	}
	h, _ := f.height(p.width)
	p.figure(f, margin, top, p.width)
	p.font("", 8, grey)
	p.middle(margin+p.width/2, top+h+3, f.note())
	p.pdf.SetY(top + h + note)
	return true
}

// drawingPage draws on a page of its own, at full size where that fits one way or the other.
func (p *sheet) drawingPage(q quote.Quote, f figure) {
	const head = 11
	wide, tall := p.width+2*(margin-ownMargin), p.bottom-ownMargin-head
	turned := !f.fits(wide, tall) && f.fits(tall, wide)
	if !turned && !f.fits(wide, tall) {
		f.scale = 0
		w, _ := f.size()
		h, _ := f.height(0) // what does not shrink
		f.scale = max(0.01, math.Floor(100*min((wide-w)/(f.left+f.right), (tall-h)/f.high))/100)
	}
	p.pdf.AddPage()
	p.font("B", 9.5, black)
	p.pdf.Text(ownMargin, ownMargin+4, plain("Drawing of quote "+q.Number+": "+q.Fit.Item.StockNumber))
	p.font("", 8, grey)
	p.pdf.Text(ownMargin, ownMargin+8.5, f.note())
	x, y := ownMargin, ownMargin+head
	if !turned {
		p.figure(f, x, y, wide)
		return
	}
	p.pdf.TransformBegin()
	p.pdf.TransformRotate(90, x, y+tall)
	p.figure(f, x, y+tall, tall)
	p.pdf.TransformEnd()
}

func (f figure) note() string {
	if f.scale == 1 {
		return "Drawn at full size (1:1), laid flat, seen on the faces of the leaves: lay the old hinge on it. Holes are those of the new hinge."
	}
	return fmt.Sprintf("Drawn at %.0f %% of its size, laid flat, seen on the faces of the leaves. Holes are those of the new hinge.", 100*f.scale)
}

// figure draws f from (x, y) to the right and down, in the middle of a width.
func (p *sheet) figure(f figure, x, y, wide float64) {
	w, h := f.size()
	_, beside := f.height(wide)
	all := w
	if beside {
		all += keyGap + keyWide
	}
	x += (wide - all) / 2
	v := view{p, x + leftRoom + f.left*f.scale, y + topRoom, f.scale}
	for _, s := range f.shapes {
		v.ink(f, s)
	}
	p.pdf.SetDashPattern(nil, 0)
	v.holes(f)
	if beside {
		p.lines(f, x+w+keyGap, y+topRoom)
		p.bar(f, x+w+keyGap, y+topRoom+f.linesHigh()+2)
		return
	}
	p.lines(f, x+leftRoom, y+h+keyGap)
	p.bar(f, x+w-keyWide, y+h+keyGap)
}

// A view places millimetres of a hinge on the page.
type view struct {
	*sheet
	x, y  float64 // of the new pin's axis at the upper end of the higher hinge
	scale float64
}

func (v view) at(p flat.Point) flat.Point {
	return flat.Point{X: v.x + p.X*v.scale, Y: v.y + p.Y*v.scale}
}

func (p *sheet) pen(shade ink, width float64, dashes ...float64) {
	p.pdf.SetDrawColor(int(shade), int(shade), int(shade))
	p.pdf.SetLineWidth(width)
	p.pdf.SetDashPattern(dashes, 0)
}

const oldGrey ink = 110

// ink draws one shape of the list.
func (v view) ink(f figure, s flat.Shape) {
	a, b, r := v.at(s.A), v.at(s.B), s.R*v.scale
	switch s.Role {
	case flat.OldLeaf, flat.OldBarrel, flat.OldPin, flat.OldHole:
		if !f.haveOld {
			return
		}
		v.pen(oldGrey, 0.3, 1.6, 1.1)
	case flat.NewLeaf, flat.NewBarrel, flat.NewHole:
		v.pen(black, 0.4)
	case flat.NewPin:
		v.pen(black, 0.15, 5, 1.5, 1, 1.5)
	default:
		v.pen(grey, 0.15)
	}
	pdf := v.pdf
	switch s.Role {
	case flat.OldLeaf:
		if f.corners[s.Leaf] {
			v.leaf(s)
		} else {
			v.cornerless(s)
		}
	case flat.NewLeaf:
		v.leaf(s)
	case flat.OldBarrel, flat.NewBarrel:
		pdf.Rect(a.X-r, a.Y, 2*r, b.Y-a.Y, "D")
	case flat.OldPin, flat.NewPin:
		pdf.Line(a.X, a.Y, b.X, b.Y)
	case flat.OldHole:
		pdf.Circle(a.X, a.Y, r, "D")
	case flat.NewHole:
		pdf.Circle(a.X, a.Y, r, "D")
		v.pen(black, 0.15)
		pdf.Line(a.X-r-1, a.Y, a.X+r+1, a.Y)
		pdf.Line(a.X, a.Y-r-1, a.X, a.Y+r+1)
	case flat.NewWidth, flat.NewLeafWidth:
		y := v.y - 6.5
		pdf.Line(a.X, a.Y-1, a.X, y-1.5)
		pdf.Line(b.X, b.Y-1, b.X, y-1.5)
		v.dimension(a.X, b.X, y, sizeText(s.Size.Value))
	case flat.NewHeight:
		x := a.X - leftRoom + 3
		pdf.Line(a.X-1.5, a.Y, x-1.5, a.Y)
		pdf.Line(b.X-1.5, b.Y, x-1.5, b.Y)
		pdf.TransformBegin()
		pdf.TransformRotate(90, x, b.Y)
		v.dimension(x, x+b.Y-a.Y, b.Y, sizeText(s.Size.Value))
		pdf.TransformEnd()
	}
}

// leaf draws three sides of a leaf and its two round corners; the pin closes it.
func (v view) leaf(s flat.Shape) {
	d := -flat.Side(s.Leaf) // from the outer edge to the pin
	r := min(s.R, d*(s.B.X-s.A.X), (s.B.Y-s.A.Y)/2)
	move := v.pdf.MoveTo
	add := func(x, y float64) {
		p := v.at(flat.Point{X: x, Y: y})
		move(p.X, p.Y)
		move = v.pdf.LineTo
	}
	add(s.B.X, s.A.Y)
	const steps = 12 // chords of a quarter circle: less than 0.04 mm inside it at 5/8 in
	for i := 0; i <= steps; i++ {
		sin, cos := math.Sincos(math.Pi / 2 * float64(i) / steps)
		add(s.A.X+d*(r-r*sin), s.A.Y+r-r*cos)
	}
	for i := 0; i <= steps; i++ {
		sin, cos := math.Sincos(math.Pi / 2 * float64(i) / steps)
		add(s.A.X+d*(r-r*cos), s.B.Y-r+r*sin)
	}
	add(s.B.X, s.B.Y)
	v.pdf.DrawPath("D")
}

// cornerless draws three sides of a leaf whose corners nobody told, without the corners.
func (v view) cornerless(s flat.Shape) {
	d := -flat.Side(s.Leaf) // from the outer edge to the pin
	left := min(8, d*(s.B.X-s.A.X)/2, (s.B.Y-s.A.Y)/3)
	side := func(x0, y0, x1, y1 float64) {
		a, b := v.at(flat.Point{X: x0, Y: y0}), v.at(flat.Point{X: x1, Y: y1})
		v.pdf.Line(a.X, a.Y, b.X, b.Y)
	}
	side(s.B.X, s.A.Y, s.A.X+d*left, s.A.Y)
	side(s.A.X, s.A.Y+left, s.A.X, s.B.Y-left)
	side(s.A.X+d*left, s.B.Y, s.B.X, s.B.Y)
}

// dimension draws a level dimension line with its text in the middle.
func (p *sheet) dimension(x0, x1, y float64, text string) {
	p.pdf.Line(x0, y, x1, y)
	p.tick(x0, y)
	p.tick(x1, y)
	p.font("", 8, black)
	w := p.pdf.GetStringWidth(text) + 3
	p.pdf.SetFillColor(255, 255, 255)
	p.pdf.Rect((x0+x1-w)/2, y-1.8, w, 3.6, "F")
	p.middle((x0+x1)/2, y+1, text)
}

// tick is the short oblique stroke that ends a dimension line (ISO 129-1 allows it).
func (p *sheet) tick(x, y float64) { p.pdf.Line(x-0.9, y+0.9, x+0.9, y-0.9) }

// middle writes text with its middle at x.
func (p *sheet) middle(x, y float64, text string) {
	p.pdf.Text(x-p.pdf.GetStringWidth(text)/2, y, text)
}

// holes letters the leaves, each hole's way from the new hinge's upper end beside its leaf, and
// its way from the edge below.
func (v view) holes(f figure) {
	low := v.y + f.high*v.scale
	for _, s := range f.shapes {
		if s.Role == flat.NewLeaf {
			v.font("", 7.5, grey)
			v.middle(v.at(flat.Point{X: s.A.X / 2}).X, v.y-2, catalog.LeafName(s.Leaf))
		}
	}
	v.pen(grey, 0.15)
	v.font("", 7, black)
	for l := range 2 {
		side := flat.Side(l)
		beyond := func(x, y float64, s flat.Shape) { // two lines outside x
			for n, line := range sizeLines(s) {
				at := x
				if l == 0 {
					at -= v.pdf.GetStringWidth(line)
				}
				v.pdf.Text(at, y-0.35+2.7*float64(n), line)
			}
		}
		free := v.y // no lettering below it yet
		for _, s := range f.ends[l] {
			c, edge := v.at(s.B), v.x+side*v.edge(f, l)
			y := max(c.Y, free)
			v.pdf.Line(c.X, c.Y, edge, c.Y)
			v.pdf.Line(edge, c.Y, edge+side*1.7, y)
			beyond(edge+side*2.2, y, s)
			free = y + 6
		}
		for n, s := range f.edges[l] {
			edge, c := v.at(s.A), v.at(s.B)
			y := low + 4.5 + levelHigh*float64(n)
			v.pdf.Line(c.X, c.Y, c.X, y+1.5)
			v.pdf.Line(edge.X, low+1, edge.X, y+1.5)
			v.pdf.Line(edge.X, y, c.X, y)
			v.tick(edge.X, y)
			v.tick(c.X, y)
			beyond(edge.X+side*2.2, y, s)
		}
	}
}

// edge is how far leaf l's outer edge is from the pin's axis, on paper.
func (v view) edge(f figure, l int) float64 { return [2]float64{f.left, f.right}[l] * v.scale }

// sizeLines are a hole's dimension, millimetres over inches.
func sizeLines(s flat.Shape) [2]string {
	return [2]string{s.Size.Value.Tenths() + " mm", fmt.Sprintf("%.3f in", s.Size.Value.Inches())}
}

// lines explains the lines from (x, y) down.
func (p *sheet) lines(f figure, x, y float64) {
	line := func(text string) {
		p.pdf.Line(x, y+2, x+8, y+2)
		p.font("", 8, black)
		p.pdf.Text(x+9.5, y+3, text)
		y += 5
	}
	p.pen(black, 0.4)
	line("new hinge")
	if f.reversed() {
		p.pdf.Text(x+9.5, y+3, plain(f.placement))
		y += 5
	}
	if f.haveOld {
		p.pen(oldGrey, 0.4, 1.6, 1.1)
		line("old, as " + map[bool]string{true: "measured", false: "typed"}[f.measured])
		p.pdf.SetDashPattern(nil, 0)
	}
}

// bar draws, from (x, y) down, what tells whether the page was printed at its size: a bar of
// 50 mm over one of 2 in.
func (p *sheet) bar(f figure, x, y float64) {
	if f.scale != 1 {
		return
	}
	p.pen(black, 0.2)
	p.pdf.SetFillColor(int(black), int(black), int(black))
	p.font("", 7.5, black)
	ruler := func(y, part float64, parts int) {
		for n := range parts {
			p.pdf.Rect(x+float64(n)*part, y, part, 2, []string{"DF", "D"}[n%2])
		}
	}
	p.middle(x+25, y+3, "50 mm")
	ruler(y+4, 10, 5)
	ruler(y+6.6, measure.Inch.MM(), 2)
	p.middle(x+25, y+11.8, "2 in")
	p.font("", 7.5, grey)
	for n, line := range []string{"Measure this: if it is not 50 mm long,", "print again at 100 %."} {
		p.pdf.Text(x, y+16+3.4*float64(n), line)
	}
}
