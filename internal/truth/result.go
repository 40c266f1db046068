package truth

import (
	"fmt"
	"math"
	"sort"

	"leafgauge/measure"
)

// sigma is the standard uncertainty that Result puts on a true length, in mm: any positive
// number says "known".
const sigma = 0.02

// Result is what a perfect measurement of t would say.
func Result(t Truth) measure.Result {
	r := measure.Result{
		Status:        measure.Measured,
		RetakeReasons: []measure.Reason{},
		Image: measure.ImageInfo{Width: t.Image.UprightPx[0], Height: t.Image.UprightPx[1],
			FocalPx: t.Image.FocalPxUpright, FocalFrom: measure.FocalExif},
	}
	if !t.Measurable() {
		r.Status = measure.Retake
		r.RetakeReasons = append(r.RetakeReasons, t.Reason())
	}
	if t.Reason() == measure.CardMissing {
		return r
	}
	r.Camera = &measure.CameraInfo{Distance: measure.Length(t.Camera.Distance), TiltDeg: t.Camera.TiltDeg, K1: t.Camera.K1}
	r.Card = &measure.CardInfo{Kind: measure.CardID1}
	for i, p := range t.Points.Card[:4] {
		r.Card.CornersPx[i] = p.Px
	}
	long := math.Hypot(r.Card.CornersPx[1].X-r.Card.CornersPx[0].X, r.Card.CornersPx[1].Y-r.Card.CornersPx[0].Y)
	r.Image.PxPerMM = long / t.Card.Width
	if !t.Measurable() {
		return r
	}

	h := t.Hinge
	r.Hinge = &measure.Hinge{
		Height: known(h.Height), BarrelDiameter: known(h.Barrel),
		Knuckles: h.Knuckles, Bearing: measure.Bearing(h.Bearing), Pattern: measure.Pattern(h.Pattern),
		Nominal: measure.Nominal{Size: t.NominalSize(), P: 0.99}, FinishHint: h.Finish,
	}
	if h.Leaves == 2 {
		r.Hinge.OpenWidth = known(h.OpenWidth)
	}
	for i, l := range h.leaves() {
		r.Hinge.Leaves = append(r.Hinge.Leaves, t.leaf([]string{"left", "right"}[i], l))
	}
	return r
}

// NominalSize is the trade size nearest to the truth, to half an inch ("3 1/2 x 3 1/2",
// height first; "3 1/2" for a single leaf), or "" where none is within 2 mm.
func (t Truth) NominalSize() string {
	half := func(mm float64) (string, bool) {
		l := measure.Length(mm)
		near := math.Round(l.Inches()*2) / 2
		return l.Fraction(2), math.Abs(l.Inches()-near)*25.4 < 2
	}
	height, ok := half(t.Hinge.Height)
	if !ok {
		return ""
	}
	if t.Hinge.Leaves == 1 {
		return height
	}
	width, ok := half(t.Hinge.OpenWidth)
	if !ok {
		return ""
	}
	return fmt.Sprintf("%s x %s", height, width)
}

func known(mm float64) measure.Estimate {
	return measure.Estimate{Value: measure.Length(mm), Sigma: sigma}
}

func (t Truth) leaf(name string, l Leaf) measure.Leaf {
	out := measure.Leaf{Width: known(t.Hinge.OpenWidth / 2), CornerRadius: known(l.Radius), Corners: corners(l.Radius)}
	for i, at := range l.Holes {
		out.Holes = append(out.Holes, measure.Hole{FromEdge: known(at[0]), FromEnd: known(at[1]),
			Diameter: known(t.Hinge.Hole), Countersink: known(t.Hinge.drawnCountersink()), CentrePx: t.holePx(name, i)})
	}
	sort.Slice(out.Holes, func(i, j int) bool { return out.Holes[i].FromEnd.Value < out.Holes[j].FromEnd.Value })
	out.OutlinePx = t.outline(name, l.Radius)
	return out
}

// holePx is where the i-th hole of a leaf falls in the upright picture.
func (t Truth) holePx(leaf string, i int) measure.Pixel {
	for _, p := range t.Points.Holes {
		if p.Leaf == leaf {
			if i == 0 {
				return p.Px
			}
			i--
		}
	}
	return measure.Pixel{}
}

// outline is the edge of a leaf's face in the picture, from the barrel round its two outer
// corners back to the barrel.
func (t Truth) outline(leaf string, radius float64) []measure.Pixel {
	face, ok := t.face(leaf)
	if !ok {
		return nil
	}
	h := t.Hinge.Height
	inner := t.Hinge.OpenWidth/2 - t.Hinge.Barrel/2 // where the face meets the barrel
	var out []measure.Pixel
	add := func(edge, end float64) { out = append(out, t.Project(face(edge, end))) }
	add(inner, 0)
	// Angles run from end 0 by the outer edge to the other end.
	arc := func(cx, cy, from float64) {
		if radius == 0 {
			add(cx, cy)
			return
		}
		for a := 0; a <= 8; a++ {
			s, c := math.Sincos(from - float64(a)/8*math.Pi/2)
			add(cx+radius*c, cy+radius*s)
		}
	}
	arc(radius, radius, -math.Pi/2)
	arc(radius, h-radius, math.Pi)
	add(inner, h)
	return out
}

// face maps [from edge, from end] on a leaf's face to the table's space, by the plane through
// the leaf's recorded corners and holes.
func (t Truth) face(leaf string) (func(edge, end float64) [3]float64, bool) {
	var p0, p1, q PointPx
	var found int
	for _, p := range t.Points.Corners {
		switch {
		case p.Leaf != leaf:
		case p.At[1] == 0:
			p0 = p
			found |= 1
		default:
			p1 = p
			found |= 2
		}
	}
	for _, p := range t.Points.Holes {
		if p.Leaf == leaf && p.At[0] > q.At[0] {
			q = p
			found |= 4
		}
	}
	if found != 7 {
		return nil, false
	}
	var along, across [3]float64 // per mm
	for i := range along {
		along[i] = (p1.World[i] - p0.World[i]) / p1.At[1]
		across[i] = (q.World[i] - p0.World[i] - along[i]*q.At[1]) / q.At[0]
	}
	return func(edge, end float64) (w [3]float64) {
		for i := range w {
			w[i] = p0.World[i] + across[i]*edge + along[i]*end
		}
		return w
	}, true
}

// Project is where a point of the table's space, in mm, falls in the upright picture.
func (t Truth) Project(world [3]float64) measure.Pixel {
	c := t.Camera
	forward := unit(sub(c.LookAt, c.Eye))
	right := unit(cross(forward, [3]float64{0, 1, 0}))
	up := cross(right, forward)
	sin, cos := math.Sincos(c.RollDeg * math.Pi / 180)
	var r, u [3]float64
	for i := range r {
		r[i] = right[i]*cos + up[i]*sin
		u[i] = -right[i]*sin + up[i]*cos
	}
	v := sub(world, c.Eye)
	z := dot(v, forward)
	x, y := dot(v, r)/z, -dot(v, u)/z
	f := t.Image.FocalPxUpright * (1 + c.K1*(x*x+y*y))
	return measure.Pixel{X: float64(t.Image.UprightPx[0])/2 + f*x, Y: float64(t.Image.UprightPx[1])/2 + f*y}
}

func corners(radius float64) measure.Corners {
	switch {
	case radius == 0:
		return measure.CornersSquare
	case math.Abs(radius-6.35) < 0.8:
		return measure.CornersQuarter
	case math.Abs(radius-15.875) < 1.6:
		return measure.CornersFiveEighths
	}
	return measure.CornersOther
}

func sub(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func dot(a, b [3]float64) float64    { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func unit(a [3]float64) [3]float64 {
	n := math.Sqrt(dot(a, a))
	return [3]float64{a[0] / n, a[1] / n, a[2] / n}
}
func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
