// Package flat works a hinge out as it lies flat, seen on the faces of its leaves: a list of
// shapes in millimetres, each with its role. Whoever draws it inks the roles and works out
// no place of its own.
package flat

import (
	"math"

	"leafgauge/measure"
)

// A Role says what a shape is, and so what A, B and R of it mean.
type Role int

// The roles. Those of the new hinge are a candidate's, drawn over the old one.
const (
	// A leaf: from A, its outer edge at the upper end, to B, where it meets the pin or barrel at
	// the lower end; R is its outer corners' radius.
	OldLeaf Role = iota
	NewLeaf
	// A barrel: its axis from the upper end A to the lower one B, half its diameter R; Size is its
	// height.
	OldBarrel
	NewBarrel
	// A line from A to B: a joint between two of the old knuckles, an axis of a pin between the
	// hinge's ends.
	Joint
	OldPin
	NewPin
	// A hole: its middle A, its radius R; of an old one Size is its diameter, of a new one Fate
	// says what becomes of it.
	OldHole
	OldSink // its countersink
	NewHole
	// A dimension: the way from A to B; a pen sets its line off as it likes.
	OldHeight
	NewHeight
	OldWidth // open
	NewWidth
	OldLeafWidth // of a single leaf, outer edge to pin axis
	NewLeafWidth
	OldFromEdge // B is the hole's middle
	NewFromEdge
	OldFromEnd
	NewFromEnd
	OldCorner // A is where the leaf's sides would meet, R its radius
)

// A Point of a flat hinge, in millimetres: x to the right, y down along the pin.
type Point struct{ X, Y float64 }

// A Shape is one thing to ink.
type Shape struct {
	Role Role
	Leaf int // 0 on the left, 1 on the right
	Hole int // of the leaf, from 0
	A, B Point
	R    float64
	Size measure.Estimate // what a dimension letters
	Fate string           // of a new hole, in its judge's word
}

// A List is a drawing: what lies underneath comes first.
type List []Shape

// Side is the way from the pin to a leaf's outer edge: −1 for leaf 0, on the left, 1 for the other.
func Side(leaf int) float64 { return float64(2*leaf - 1) }

// A hole whose diameter nobody measured is drawn as one for a #9 screw (common practice, no
// source).
const screwHole = measure.Inch * 3 / 16

// HoleRadius is the radius that a hole of a diameter is drawn with, in millimetres; 0 is a
// diameter that is not known.
func HoleRadius(diameter measure.Length) float64 {
	if diameter <= 0 {
		diameter = screwHole
	}
	return diameter.MM() / 2
}

// Hole places hole n of an old leaf whose outer edge lies at x = edge, its upper end at y = top.
func Hole(h measure.Hole, leaf, n int, edge, top float64) Shape {
	return Shape{Role: OldHole, Leaf: leaf, Hole: n, R: HoleRadius(h.Diameter.Value), Size: h.Diameter,
		A: Point{edge - Side(leaf)*h.FromEdge.Value.MM(), top + h.FromEnd.Value.MM()}}
}

// Joints are those of an old barrel of so many knuckles.
func Joints(barrel Shape, knuckles int) List {
	var l List
	for k := 1; k < knuckles; k++ {
		y := barrel.A.Y + barrel.Size.Value.MM()*float64(k)/float64(knuckles)
		l = append(l, Shape{Role: Joint, A: Point{barrel.A.X - barrel.R, y}, B: Point{barrel.A.X + barrel.R, y}})
	}
	return l
}

// Measured is a hinge as it was measured, of one leaf or two, with every dimension; the origin
// is on the pin's axis at the upper end.
func Measured(h measure.Hinge) List {
	height, barrel := h.Height.Value.MM(), h.BarrelDiameter.Value.MM()/2
	var edge [2]float64
	for i, l := range h.Leaves {
		half := l.Width.Value.MM()
		if h.OpenWidth.Known() {
			half = h.OpenWidth.Value.MM() / 2
		}
		edge[i] = Side(i) * half
	}

	var metal, sizes List
	dimension := func(role Role, a, b Point, size measure.Estimate) {
		sizes = append(sizes, Shape{Role: role, A: a, B: b, Size: size})
	}
	dimension(OldHeight, Point{edge[0], 0}, Point{edge[0], height}, h.Height)
	if h.OpenWidth.Known() && len(h.Leaves) == 2 {
		dimension(OldWidth, Point{edge[0], 0}, Point{edge[1], 0}, h.OpenWidth)
	} else if len(h.Leaves) == 1 && h.Leaves[0].Width.Known() {
		dimension(OldLeafWidth, Point{edge[0], 0}, Point{0, 0}, h.Leaves[0].Width)
	}
	for i, l := range h.Leaves {
		r := math.Max(0, l.CornerRadius.Value.MM())
		corner := l.CornerRadius
		if l.Corners == measure.CornersSquare {
			r, corner = 0, measure.Estimate{}
		}
		metal = append(metal, Shape{Role: OldLeaf, Leaf: i, A: Point{edge[i], 0}, B: Point{Side(i) * barrel, height}, R: r})
		sizes = append(sizes, Shape{Role: OldCorner, Leaf: i, A: Point{edge[i], 0}, R: l.CornerRadius.Value.MM(), Size: corner})
		for j, o := range l.Holes {
			at := Hole(o, i, j, edge[i], 0)
			sink := at
			sink.Role, sink.R, sink.Size = OldSink, o.Countersink.Value.MM()/2, o.Countersink
			metal = append(metal, sink, at)
			way := at
			way.A, way.B = Point{at.A.X, 0}, at.A
			way.Role, way.Size = OldFromEnd, o.FromEnd
			sizes = append(sizes, way)
			way.A = Point{edge[i], at.A.Y}
			way.Role, way.Size = OldFromEdge, o.FromEdge
			sizes = append(sizes, way)
		}
	}
	if barrel > 0 {
		b := Shape{Role: OldBarrel, A: Point{0, 0}, B: Point{0, height}, R: barrel, Size: h.Height}
		metal = append(append(metal, b), Joints(b, h.Knuckles)...)
	}
	metal = append(metal, Shape{Role: OldPin, A: Point{0, 0}, B: Point{0, height}})
	return append(metal, sizes...)
}
