package paper

import (
	"fmt"
	"math"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"

	"codeberg.org/go-pdf/fpdf"
)

// An outline is a hinge laid flat, seen on its face, in millimetres.
type outline struct {
	height float64
	barrel float64 // diameter
	leaves [2]leaf // left, right
}

// A leaf is as wide as from its outer edge to the pin's axis; 0 where there is no such leaf.
type leaf struct {
	width, radius float64
	holes         []hole
}

// A hole lies so far from the leaf's outer edge and from the old hinge's upper end.
type hole struct{ fromEdge, fromEnd, r float64 }

// A hole whose diameter nobody measured is drawn as one for a #9 screw, 3/16 in
// (common practice, no source).
const holeRadius = 2.4

func radiusOf(diameter measure.Length) float64 {
	if diameter <= 0 {
		return holeRadius
	}
	return diameter.MM() / 2
}

// oldOutline is the old hinge as measured, not its nominal size.
func oldOutline(b measure.Best) (outline, bool) {
	if !b.Height.Known() || len(b.Leaves) == 0 {
		return outline{}, false
	}
	o := outline{height: b.Height.Value.MM(), barrel: b.BarrelDiameter.Value.MM()}
	for i, l := range b.Leaves[:min(2, len(b.Leaves))] {
		one := leaf{width: l.Width.Value.MM(), radius: l.CornerRadius.Value.MM()}
		if !l.Width.Known() {
			one.width = b.OpenWidth.Value.MM() / 2
		}
		for _, h := range l.Holes {
			one.holes = append(one.holes, hole{h.FromEdge.Value.MM(), h.FromEnd.Value.MM(), radiusOf(h.Diameter.Value)})
		}
		o.leaves[i] = one
	}
	return o, o.leaves[0].width > 0
}

// newOutline is the new hinge in its place over the old one, whose height is oldHeight: its
// middle on the old one's, its holes where the fit put them.
func newOutline(f catalog.Fit, oldHeight float64) (outline, bool) {
	i := f.Item
	if i.Height <= 0 || i.OpenWidth <= 0 {
		return outline{}, false
	}
	o := outline{height: i.Height.MM(), barrel: i.Barrel.MM()}
	for l := range o.leaves {
		r := i.Radius[l]
		if strings.Contains(f.Placement, "exchanged") {
			r = i.Radius[1-l]
		}
		o.leaves[l] = leaf{width: i.OpenWidth.MM() / 2, radius: r.MM()}
	}
	for _, h := range f.Holes {
		if h.Leaf == 0 || h.Leaf == 1 {
			o.leaves[h.Leaf].holes = append(o.leaves[h.Leaf].holes, hole{h.New.FromEdge.MM(), h.New.FromEnd.MM(), radiusOf(i.HoleDia)})
		}
	}
	for l := range o.leaves {
		if len(o.leaves[l].holes) > 0 {
			continue
		}
		for _, h := range i.Holes { // not judged, so as the stock list has them
			o.leaves[l].holes = append(o.leaves[l].holes, hole{h.FromEdge.MM(), h.FromEnd.MM() + (oldHeight-o.height)/2, radiusOf(i.HoleDia)})
		}
	}
	return o, true
}

// drawing is the shop drawing: the new hinge in full lines over the old one in dashes.
func (p *sheet) drawing(q quote.Quote) {
	old, haveOld := oldOutline(q.Old)
	oldHeight := old.height
	if !haveOld {
		oldHeight = q.Fit.Item.Height.MM()
	}
	fresh, ok := newOutline(q.Fit, oldHeight)
	if !ok {
		return
	}
	const tall, wide = 90.0, 118.0 // room on the page: a 3 1/2 in hinge is drawn full size
	height := max(fresh.height, old.height)
	width := fresh.leaves[0].width + fresh.leaves[1].width
	scale := min(1, tall/height, wide/width)
	centreX := margin + p.width/2 - 12

	top := p.pdf.GetY() + 4
	if top+height*scale+22 > p.bottom {
		p.pdf.AddPage()
		top = p.pdf.GetY() + 4
	}
	middle := top + height*scale/2
	v := view{p.pdf, centreX, middle, scale}

	pdf := p.pdf
	pdf.SetLineCapStyle("round")
	pdf.SetDrawColor(int(black), int(black), int(black))
	pdf.SetLineWidth(0.4)
	v.hinge(fresh, fresh)
	v.barrel(fresh)
	for l := range fresh.leaves {
		for _, h := range fresh.leaves[l].holes {
			v.cross(v.hole(fresh, l, h, oldHeight))
		}
	}
	if haveOld {
		pdf.SetDrawColor(110, 110, 110)
		pdf.SetLineWidth(0.3)
		pdf.SetDashPattern([]float64{1.6, 1.1}, 0)
		v.hinge(old, fresh)
		if math.Abs(fresh.leaves[0].width-old.leaves[0].width) < 1 { // else the pins do not lie together
			v.barrel(old)
		}
		for l := range old.leaves {
			for _, h := range old.leaves[l].holes {
				v.hole(fresh, l, h, oldHeight)
			}
		}
		pdf.SetDashPattern(nil, 0)
	}
	p.dimensions(v, fresh)
	p.legend(centreX+width*scale/2+12, middle-6, haveOld)

	pdf.SetY(middle + height*scale/2 + 8.5)
	p.font("", 8, grey)
	note := "The hinge laid flat, seen on the faces of its leaves"
	if scale == 1 {
		note += ", drawn full size (print without scaling)"
	} else {
		note += fmt.Sprintf(", drawn at %.0f %% of its size", scale*100)
	}
	p.pdf.CellFormat(p.width, 4, note+".", "", 1, "C", false, 0, "")
	p.pdf.Ln(2)
}

// A view places millimetres of a hinge on the page, the new hinge's pin in the middle.
type view struct {
	pdf   *fpdf.Fpdf
	x, y  float64 // of the middle on the page
	scale float64
}

// side is the way from the pin to leaf l.
func side(l int) float64 {
	if l == 0 {
		return -1
	}
	return 1
}

// hinge draws o's leaves, each with its outer edge on that of the fresh hinge, as a leaf is
// pushed home in its cut-out.
func (v view) hinge(o, fresh outline) {
	for l, one := range o.leaves {
		if one.width > 0 {
			v.leaf(one, fresh.leaves[l].width, o.height, side(l))
		}
	}
}

func (v view) barrel(o outline) {
	if o.barrel > 0 {
		v.pdf.Rect(v.x-o.barrel/2*v.scale, v.y-o.height/2*v.scale, o.barrel*v.scale, o.height*v.scale, "D")
	}
}

// leaf draws three sides of a leaf and its two round corners; the pin closes it.
func (v view) leaf(l leaf, edge, height, side float64) {
	r := min(l.radius, l.width, height/2)
	var pts []fpdf.PointType
	add := func(x, y float64) {
		pts = append(pts, fpdf.PointType{X: v.x + side*x*v.scale, Y: v.y + y*v.scale})
	}
	add(edge-l.width, -height/2)
	const steps = 12 // chords of a quarter circle: less than 0.04 mm inside it at 5/8 in
	for i := 0; i <= steps; i++ {
		a := math.Pi / 2 * float64(i) / steps
		add(edge-r+r*math.Sin(a), -height/2+r-r*math.Cos(a))
	}
	for i := 0; i <= steps; i++ {
		a := math.Pi / 2 * float64(i) / steps
		add(edge-r+r*math.Cos(a), height/2-r+r*math.Sin(a))
	}
	add(edge-l.width, height/2)
	for i := 1; i < len(pts); i++ {
		v.pdf.Line(pts[i-1].X, pts[i-1].Y, pts[i].X, pts[i].Y)
	}
}

// hole draws a hole of leaf l as a ring and returns where.
func (v view) hole(fresh outline, l int, h hole, oldHeight float64) (x, y, r float64) {
	x = v.x + side(l)*(fresh.leaves[l].width-h.fromEdge)*v.scale
	y, r = v.y+(h.fromEnd-oldHeight/2)*v.scale, h.r*v.scale
	v.pdf.Circle(x, y, r, "D")
	return x, y, r
}

// cross marks a hole's centre.
func (v view) cross(x, y, r float64) {
	arm := r + v.scale
	v.pdf.SetLineWidth(0.15)
	v.pdf.Line(x-arm, y, x+arm, y)
	v.pdf.Line(x, y-arm, x, y+arm)
	v.pdf.SetLineWidth(0.4)
}

// dimensions letters the new hinge's height and open width.
func (p *sheet) dimensions(v view, o outline) {
	pdf := p.pdf
	pdf.SetDrawColor(int(grey), int(grey), int(grey))
	pdf.SetLineWidth(0.15)
	left, right := v.x-o.leaves[0].width*v.scale, v.x+o.leaves[1].width*v.scale
	top, bottom := v.y-o.height/2*v.scale, v.y+o.height/2*v.scale
	p.font("", 8, black)

	y := bottom + 4.5
	pdf.Line(left, bottom+1.5, left, y+1.5)
	pdf.Line(right, bottom+1.5, right, y+1.5)
	pdf.Line(left, y, right, y)
	p.tick(left, y)
	p.tick(right, y)
	text := sizeText(measure.Length(o.leaves[0].width + o.leaves[1].width))
	w := pdf.GetStringWidth(text) + 3
	pdf.SetFillColor(255, 255, 255)
	pdf.Rect(v.x-w/2, y-1.8, w, 3.6, "F")
	pdf.SetXY(v.x-w/2, y-1.8)
	pdf.CellFormat(w, 3.6, text, "", 0, "C", false, 0, "")

	x := left - 4.5
	pdf.Line(left-1.5, top, x-1.5, top)
	pdf.Line(left-1.5, bottom, x-1.5, bottom)
	pdf.Line(x, top, x, bottom)
	p.tick(x, top)
	p.tick(x, bottom)
	text = sizeText(measure.Length(o.height))
	w = pdf.GetStringWidth(text) + 3
	pdf.TransformBegin()
	pdf.TransformRotate(90, x, v.y)
	pdf.Rect(x-w/2, v.y-1.8, w, 3.6, "F")
	pdf.SetXY(x-w/2, v.y-1.8)
	pdf.CellFormat(w, 3.6, text, "", 0, "C", false, 0, "")
	pdf.TransformEnd()
}

// tick is the short oblique stroke that ends a dimension line (ISO 129-1 allows it).
func (p *sheet) tick(x, y float64) { p.pdf.Line(x-0.9, y+0.9, x+0.9, y-0.9) }

func (p *sheet) legend(x, y float64, haveOld bool) {
	p.font("", 8, black)
	line := func(text string, dash []float64, shade int) {
		p.pdf.SetDrawColor(shade, shade, shade)
		p.pdf.SetLineWidth(0.4)
		p.pdf.SetDashPattern(dash, 0)
		p.pdf.Line(x, y+2, x+8, y+2)
		p.pdf.SetDashPattern(nil, 0)
		p.pdf.SetXY(x+9.5, y)
		p.pdf.CellFormat(30, 4, text, "", 0, "L", false, 0, "")
		y += 5
	}
	line("new hinge", nil, int(black))
	if haveOld {
		line("old, as measured", []float64{1.6, 1.1}, 110)
	}
}
