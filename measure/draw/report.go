package draw

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"

	"leafgauge/measure"
	"leafgauge/measure/flat"
)

// A page of the report: A4 across at 200 dots per inch, so that a hinge prints at its true
// size on it.
const (
	reportDPI    = 200
	reportWidth  = 2339 // 297 mm
	reportHeight = 1654 // 210 mm
	reportMargin = 90.0
	reportColumn = 600.0 // width of the list at the right
)

var (
	metalInk  = color.RGBA{20, 24, 30, 255}
	metalFill = color.RGBA{238, 240, 243, 255}
	sizeInk   = color.RGBA{20, 70, 130, 255}
)

// Report draws a measured hinge laid flat, true to scale, with its dimensions and their 95 %
// intervals, as a shop drawing on one page. A photo that could not be measured gives a page
// with the reasons.
func Report(r measure.Result) image.Image {
	s := paper(reportWidth, reportHeight, 24)
	d := drawing{sheet: s}
	s.line([]measure.Pixel{{X: reportMargin / 2, Y: reportMargin / 2}, {X: reportWidth - reportMargin/2, Y: reportMargin / 2}, {X: reportWidth - reportMargin/2, Y: reportHeight - reportMargin/2}, {X: reportMargin / 2, Y: reportHeight - reportMargin/2}}, true, 2, fadedInk)
	if r.Status != measure.Measured || r.Hinge == nil {
		y := 2 * reportMargin
		for _, reason := range r.RetakeReasons {
			for _, l := range wrap(reason.Advice(), 130) {
				s.letter(l, measure.Pixel{X: 2 * reportMargin, Y: y}, fromLeft, noticeInk)
				y += 1.6 * s.em
			}
		}
		return s.RGBA
	}
	h := *r.Hinge
	h.Leaves = h.Leaves[:min(2, len(h.Leaves))] // a hinge has no more
	r.Hinge = &h
	l := flat.Measured(h)
	d.fit(h, l)
	d.metal(l)
	d.dimensions(l)
	d.list(r)
	return s.RGBA
}

// A drawing has its origin on the pin's axis at end 0; x runs to the right, y along the pin.
type drawing struct {
	*sheet
	px     float64 // per mm
	ratio  int     // 1 : ratio
	cx, cy float64
	half   [2]float64 // from pin axis to the outer edge of the left and right leaf, mm
}

func (d *drawing) fit(h measure.Hinge, l flat.List) {
	for _, s := range l {
		if s.Role == flat.OldLeaf {
			d.half[s.Leaf] = flat.Side(s.Leaf) * s.A.X
		}
	}
	roomX, roomY := reportWidth-reportColumn-2*reportMargin-700, reportHeight-2*reportMargin-520
	for d.ratio = 1; ; d.ratio *= 2 {
		d.px = reportDPI / 25.4 / float64(d.ratio)
		if (d.half[0]+d.half[1])*d.px <= roomX && h.Height.Value.MM()*d.px <= roomY || d.ratio >= 64 {
			break
		}
	}
	d.cx = reportMargin + 380 + roomX/2 + (d.half[0]-d.half[1])/2*d.px
	d.cy = reportMargin + 190 + (roomY-h.Height.Value.MM()*d.px)/2
}

func (d drawing) at(p flat.Point) measure.Pixel {
	return measure.Pixel{X: d.cx + p.X*d.px, Y: d.cy + p.Y*d.px}
}

// box is a box with two round corners at its left or right.
func (d drawing) box(x0, y0, x1, y1 float64, r [4]float64) []measure.Pixel {
	path := roundedBox(x0, y0, x1, y1, r)
	for i, p := range path {
		path[i] = d.at(flat.Point(p))
	}
	return path
}

func (d drawing) metal(l flat.List) {
	plate := func(path []measure.Pixel) {
		d.fill(metalFill, path)
		d.line(path, true, 3, metalInk)
	}
	sink := 0.0 // diameter, mm
	for _, s := range l {
		switch s.Role {
		case flat.OldLeaf:
			if s.Leaf == 0 {
				plate(d.box(s.A.X, s.A.Y, s.B.X, s.B.Y, [4]float64{s.R, 0, 0, s.R}))
			} else {
				plate(d.box(s.B.X, s.A.Y, s.A.X, s.B.Y, [4]float64{0, s.R, s.R, 0}))
			}
		case flat.OldSink, flat.OldHole:
			c := d.at(s.A)
			if s.Size.Known() {
				ring := round(c, s.Size.Value.MM()/2*d.px)
				d.fill(color.White, ring)
				d.line(ring, true, 2, metalInk)
			}
			if s.Role == flat.OldSink {
				sink = s.Size.Value.MM()
				continue
			}
			t := math.Max(sink, s.Size.Value.MM())/2*d.px + 8
			d.letter(measure.HoleName(s.Leaf, s.Hole), measure.Pixel{X: c.X - flat.Side(s.Leaf)*(t+6), Y: c.Y - t}, centred, metalInk)
		case flat.OldBarrel:
			plate(d.box(s.A.X-s.R, s.A.Y, s.B.X+s.R, s.B.Y, [4]float64{}))
		case flat.Joint:
			d.line([]measure.Pixel{d.at(s.A), d.at(s.B)}, false, 2, metalInk)
		case flat.OldPin:
			d.dashed([]measure.Pixel{d.at(flat.Point{X: s.A.X, Y: s.A.Y - 6}), d.at(flat.Point{X: s.B.X, Y: s.B.Y + 6})}, 1.5, fadedInk, 30, 8, 6, 8)
		}
	}
}

// dimensions puts the height left of the metal, the open width above it, each hole's way from
// the end beside its leaf and its way from the edge below.
func (d drawing) dimensions(l flat.List) {
	thin := func(p, q measure.Pixel) { d.line([]measure.Pixel{p, q}, false, 1.3, sizeInk) }
	span := func(p, q measure.Pixel) {
		thin(p, q)
		d.arrow(p, q, sizeInk)
		d.arrow(q, p, sizeInk)
	}
	low, top := 0.0, d.cy-120 // the hinge's lower end; the line of the width
	for _, s := range l {
		a, b := d.at(s.A), d.at(s.B)
		side := flat.Side(s.Leaf)
		edge := d.at(flat.Point{X: side * d.half[s.Leaf]}).X
		align := toRight
		if s.Leaf == 1 {
			align = fromLeft
		}
		switch s.Role {
		case flat.OldHeight: // outermost on the left, lettered along the line's top
			low = b.Y
			x := a.X - 275
			thin(measure.Pixel{X: x - 10, Y: a.Y}, measure.Pixel{X: a.X - 6, Y: a.Y})
			thin(measure.Pixel{X: x - 10, Y: b.Y}, measure.Pixel{X: b.X - 6, Y: b.Y})
			span(measure.Pixel{X: x, Y: a.Y}, measure.Pixel{X: x, Y: b.Y})
			d.plaque(dimensionText(s.Size, ""), measure.Pixel{X: x, Y: d.at(flat.Point{Y: s.B.Y / 2}).Y}, centred)
		case flat.OldWidth, flat.OldLeafWidth:
			name := "to pin axis "
			thin(measure.Pixel{X: a.X, Y: top - 10}, measure.Pixel{X: a.X, Y: d.cy - 6})
			if s.Role == flat.OldWidth {
				name = ""
				thin(measure.Pixel{X: b.X, Y: top - 10}, measure.Pixel{X: b.X, Y: d.cy - 6})
			}
			span(measure.Pixel{X: a.X, Y: top}, measure.Pixel{X: b.X, Y: top})
			d.plaque(dimensionText(s.Size, name), measure.Pixel{X: (a.X + b.X) / 2, Y: top}, centred)
		case flat.OldCorner:
			text := "square"
			if s.Size.Known() {
				text = dimensionText(s.Size, "R ")
				inset := (1 - math.Sqrt2/2) * s.R * d.px
				a = measure.Pixel{X: a.X - side*inset, Y: a.Y + inset}
			}
			tip := measure.Pixel{X: edge + side*40, Y: d.cy - 46}
			thin(tip, a)
			d.arrow(a, tip, sizeInk)
			d.letter(text, measure.Pixel{X: tip.X + side*8, Y: tip.Y - 6}, align, sizeInk)
		case flat.OldFromEnd:
			end := measure.Pixel{X: edge + side*14, Y: b.Y}
			thin(b, end)
			d.letter(dimensionText(s.Size, ""), measure.Pixel{X: end.X + side*6, Y: b.Y}, align, sizeInk)
		case flat.OldFromEdge:
			level := low + 46 + 62*float64(s.Hole)
			thin(b, measure.Pixel{X: b.X, Y: level + 8})
			thin(measure.Pixel{X: edge, Y: low + 6}, measure.Pixel{X: edge, Y: level + 8})
			span(measure.Pixel{X: edge, Y: level}, measure.Pixel{X: b.X, Y: level})
			d.letter(dimensionText(s.Size, ""), measure.Pixel{X: edge + side*14, Y: level}, align, sizeInk)
		}
	}
}

// plaque letters on a white ground, so that the line under it does not cross the text.
func (d drawing) plaque(text string, p measure.Pixel, align float64) {
	w, h := d.width(text)/2+8, (1+float64(strings.Count(text, "\n")))*0.64*d.em
	d.fill(color.White, []measure.Pixel{{X: p.X - w, Y: p.Y - h}, {X: p.X + w, Y: p.Y - h}, {X: p.X + w, Y: p.Y + h}, {X: p.X - w, Y: p.Y + h}})
	d.letter(text, p, align, sizeInk)
}

// dimensionText is a size on two lines, millimetres over inches.
func dimensionText(e measure.Estimate, name string) string {
	return fmt.Sprintf("%s%.2f ± %.2f\n%.3f in", name, e.Value.MM(), e.Half95().MM(), e.Value.Inches())
}

// list letters what can't be drawn, at the right of the page.
func (d drawing) list(r measure.Result) {
	h := *r.Hinge
	x, y := float64(reportWidth)-reportMargin-reportColumn+20, reportMargin+20
	row := func(name, value string) {
		d.letter(name, measure.Pixel{X: x, Y: y}, fromLeft, fadedInk)
		d.letter(value, measure.Pixel{X: x + 190, Y: y}, fromLeft, metalInk)
		y += 1.5 * d.em
	}
	gap := func() { y += 0.7 * d.em }
	nominal := "none near"
	if h.Nominal.Size != "" {
		nominal = fmt.Sprintf("%s in (%.0f %%)", h.Nominal.Size, 100*h.Nominal.P)
		if h.Nominal.P > 0.99 {
			nominal = h.Nominal.Size + " in (over 99 %)"
		}
	}
	row("Trade size", nominal)
	row("Height", both(h.Height))
	if h.OpenWidth.Known() {
		row("Open width", both(h.OpenWidth))
	}
	row("Barrel Ø", both(h.BarrelDiameter))
	row("Knuckles", fmt.Sprint(h.Knuckles))
	row("Bearing", string(h.Bearing))
	row("Holes lie", holesLie[h.Pattern])
	if h.FinishHint != "" {
		row("Looks like", h.FinishHint)
	}
	gap()
	for i, l := range h.Leaves {
		for j, o := range l.Holes {
			row("Hole "+measure.HoleName(i, j), both(o.Diameter))
			if o.Countersink.Known() {
				row("  countersink", both(o.Countersink))
			}
		}
	}

	// At the foot: scale, bar, and what to keep in mind.
	y = reportHeight - reportMargin - 260
	scale := fmt.Sprintf("Scale 1 : %d at %d dots per inch (A4)", d.ratio, reportDPI)
	d.letter(scale, measure.Pixel{X: x, Y: y}, fromLeft, metalInk)
	y += 2 * d.em
	bar := func(length float64, parts int, name string) {
		for k := range parts {
			a, b := x+float64(k)*length*d.px, x+float64(k+1)*length*d.px
			box := []measure.Pixel{{X: a, Y: y}, {X: b, Y: y}, {X: b, Y: y + 10}, {X: a, Y: y + 10}}
			if k%2 == 0 {
				d.fill(metalInk, box)
			}
			d.line(box, true, 1.5, metalInk)
		}
		d.letter(name, measure.Pixel{X: x + float64(parts)*length*d.px + 12, Y: y + 5}, fromLeft, metalInk)
		y += 1.6 * d.em
	}
	mm, inch := 10*d.ratio, d.ratio
	bar(float64(mm), 5, fmt.Sprintf("%d mm", 5*mm))
	bar(float64(inch)*25.4, 2, fmt.Sprintf("%d in", 2*inch))
	y += 0.6 * d.em
	for _, l := range []string{"Millimetres over inches; ± is the 95 % interval.", "Lengths along the metal, the hinge laid flat.", "Measured from a photo: check with a caliper", "before you cut or drill."} {
		d.letter(l, measure.Pixel{X: x, Y: y}, fromLeft, fadedInk)
		y += 1.35 * d.em
	}
}

var holesLie = map[measure.Pattern]string{measure.PatternArc: "in an arc", measure.PatternStaggered: "staggered", measure.PatternOther: "otherwise"}
