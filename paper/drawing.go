package paper

import (
	"fmt"
	"math"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"

	"codeberg.org/go-pdf/fpdf"
)

// An outline is a hinge laid flat, seen on its face, in millimetres: the pin at x = 0, one
// end at y = 0, leaf 0 to the left and leaf 1 to the right.
type outline struct {
	height float64
	leaf   [2]float64 // outer edge to pin axis; 0 where there is no such leaf
	radius [2]float64
	barrel float64 // diameter
	holes  [2][]circle
}

type circle struct{ x, y, r float64 }

// A hole whose diameter nobody measured is drawn as one for a #9 screw, 3/16 in
// (common practice, no source).
const holeRadius = 2.4

// oldOutline is the old hinge as measured, not its nominal size.
func oldOutline(b measure.Best) (outline, bool) {
	if !b.Height.Known() || len(b.Leaves) == 0 {
		return outline{}, false
	}
	o := outline{height: b.Height.Value.MM(), barrel: b.BarrelDiameter.Value.MM()}
	for i, l := range b.Leaves {
		if i > 1 {
			break
		}
		o.leaf[i] = l.Width.Value.MM()
		if !l.Width.Known() {
			o.leaf[i] = b.OpenWidth.Value.MM() / 2
		}
		o.radius[i] = l.CornerRadius.Value.MM()
		for _, h := range l.Holes {
			o.holes[i] = append(o.holes[i], o.place(i, h.FromEdge.Value.MM(), h.FromEnd.Value.MM(), h.Diameter.Value.MM()/2))
		}
	}
	return o, o.leaf[0] > 0
}

func (o *outline) place(leaf int, fromEdge, fromEnd, r float64) circle {
	if r <= 0 {
		r = holeRadius
	}
	x := o.leaf[leaf] - fromEdge
	if leaf == 0 {
		x = -x
	}
	return circle{x, fromEnd, r}
}

// newOutline is the new hinge in its place over the old one: centred in the height, its
// holes where the fit put them.
func newOutline(f catalog.Fit, old outline, haveOld bool) (outline, bool) {
	i := f.Item
	if i.Height <= 0 || i.OpenWidth <= 0 {
		return outline{}, false
	}
	o := outline{height: i.Height.MM(), barrel: i.Barrel.MM()}
	o.leaf[0], o.leaf[1] = i.OpenWidth.MM()/2, i.OpenWidth.MM()/2
	o.radius[0], o.radius[1] = i.Radius[0].MM(), i.Radius[1].MM()
	if haveOld && len(f.Holes) > 0 {
		for _, h := range f.Holes {
			if h.Leaf == 0 || h.Leaf == 1 {
				o.holes[h.Leaf] = append(o.holes[h.Leaf], old.place(h.Leaf, h.New.FromEdge.MM(), h.New.FromEnd.MM(), i.HoleDia.MM()/2))
			}
		}
		if old.leaf[1] > 0 {
			return o, true
		}
	}
	lift := 0.0
	if haveOld {
		lift = (old.height - o.height) / 2
	}
	for leaf := range 2 {
		if len(o.holes[leaf]) > 0 {
			continue
		}
		for _, h := range i.Holes {
			c := o.place(leaf, h.FromEdge.MM(), h.FromEnd.MM(), i.HoleDia.MM()/2)
			c.y += lift
			o.holes[leaf] = append(o.holes[leaf], c)
		}
	}
	return o, true
}

// drawing is the shop drawing: the new hinge in full lines over the old one in dashes.
func (p *sheet) drawing(q quote.Quote) {
	old, haveOld := oldOutline(q.Old)
	fresh, ok := newOutline(q.Fit, old, haveOld)
	if !ok {
		return
	}
	const tall, wide = 90.0, 118.0 // room on the page: a 3 1/2 in hinge is drawn full size
	height := max(fresh.height, old.height)
	width := max(fresh.leaf[0]+fresh.leaf[1], old.leaf[0]+old.leaf[1])
	scale := min(1, tall/height, wide/width)
	centreX := margin + p.width/2 - 12

	top := p.pdf.GetY() + 4
	if top+height*scale+22 > p.bottom {
		p.pdf.AddPage()
		top = p.pdf.GetY() + 4
	}
	middle := top + height*scale/2
	at := view{p.pdf, centreX, middle, scale}

	pdf := p.pdf
	pdf.SetLineCapStyle("round")
	// The new hinge.
	pdf.SetDrawColor(int(black), int(black), int(black))
	pdf.SetLineWidth(0.4)
	lift := fresh.height / 2
	at.hinge(fresh, lift)
	centre := lift
	if haveOld {
		centre = old.height / 2
	}
	for leaf := range fresh.holes {
		for _, c := range fresh.holes[leaf] {
			at.hole(c, centre)
		}
	}
	// The old one over it.
	if haveOld {
		pdf.SetDrawColor(110, 110, 110)
		pdf.SetLineWidth(0.3)
		pdf.SetDashPattern([]float64{1.6, 1.1}, 0)
		at.hinge(old, old.height/2)
		for leaf := range old.holes {
			for _, c := range old.holes[leaf] {
				at.ring(c, old.height/2)
			}
		}
		pdf.SetDashPattern(nil, 0)
	}
	p.dimensions(at, fresh)

	bottom := middle + height*scale/2
	p.legend(centreX+width*scale/2+12, middle-6, haveOld)
	pdf.SetY(bottom + 8.5)
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

// A view places millimetres of a hinge on the page.
type view struct {
	pdf   *fpdf.Fpdf
	x, y  float64 // of the pin's middle on the page
	scale float64
}

func (v view) hinge(o outline, middle float64) {
	for leaf := range 2 {
		if o.leaf[leaf] <= 0 {
			continue
		}
		v.leaf(o.leaf[leaf], o.height, o.radius[leaf], leaf == 0)
	}
	if o.barrel > 0 {
		v.pdf.Rect(v.x-o.barrel/2*v.scale, v.y-middle*v.scale, o.barrel*v.scale, o.height*v.scale, "D")
	}
}

// leaf draws three sides of a leaf and its two round corners; the pin closes it.
func (v view) leaf(width, height, radius float64, left bool) {
	r := min(radius, width, height/2)
	var pts []fpdf.PointType
	add := func(x, y float64) {
		if left {
			x = -x
		}
		pts = append(pts, fpdf.PointType{X: v.x + x*v.scale, Y: v.y + y*v.scale})
	}
	add(0, -height/2)
	const steps = 12 // chords of a quarter circle: less than 0.02 mm inside it at 5/8 in
	for i := 0; i <= steps; i++ {
		a := math.Pi / 2 * float64(i) / steps
		add(width-r+r*math.Sin(a), -height/2+r-r*math.Cos(a))
	}
	for i := 0; i <= steps; i++ {
		a := math.Pi / 2 * float64(i) / steps
		add(width-r+r*math.Cos(a), height/2-r+r*math.Sin(a))
	}
	add(0, height/2)
	for i := 1; i < len(pts); i++ {
		v.pdf.Line(pts[i-1].X, pts[i-1].Y, pts[i].X, pts[i].Y)
	}
}

func (v view) ring(c circle, middle float64) {
	v.pdf.Circle(v.x+c.x*v.scale, v.y+(c.y-middle)*v.scale, c.r*v.scale, "D")
}

// hole is a ring with its centre marked by a cross.
func (v view) hole(c circle, middle float64) {
	v.ring(c, middle)
	x, y := v.x+c.x*v.scale, v.y+(c.y-middle)*v.scale
	arm := (c.r + 1) * v.scale
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
	left, right := v.x-o.leaf[0]*v.scale, v.x+o.leaf[1]*v.scale
	top, bottom := v.y-o.height/2*v.scale, v.y+o.height/2*v.scale
	p.font("", 8, black)

	y := bottom + 4.5
	pdf.Line(left, bottom+1.5, left, y+1.5)
	pdf.Line(right, bottom+1.5, right, y+1.5)
	pdf.Line(left, y, right, y)
	p.tick(left, y)
	p.tick(right, y)
	text := sizeText(measure.Length(o.leaf[0] + o.leaf[1]))
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
