package geom

import (
	"math"

	"leafgauge/measure"
)

// A Face is the plane of a leaf's top face in the world: u runs from the outer edge
// towards the barrel, v along the barrel from one end to the other (the same way for both
// leaves), n away from the table. o is the corner (as if square) of outer edge and first
// end, so a hole lies at o + u·fromEdge + v·fromEnd.
type Face struct {
	O, U, V, N    Vec3
	Width, Height float64 // mm: outer edge to pin axis; along the barrel
	Radius        [2]float64
}

// At is the world place of a place on the face.
func (l Face) At(fromEdge, fromEnd float64) Vec3 {
	return l.O.Add(l.U.Mul(fromEdge)).Add(l.V.Mul(fromEnd))
}

// Plane is the plane that the face lies in.
func (l Face) Plane() Plane { return Plane{l.N, l.N.Dot(l.O)} }

// Place gives from edge and from end of a pixel seen on the face.
func (l Face) Place(c *Camera, p measure.Pixel) (fromEdge, fromEnd float64) {
	d := c.Onto(p, l.Plane()).Sub(l.O)
	return d.Dot(l.U), d.Dot(l.V)
}

// The kinds of edge that a leaf's outline has, the straight ones first.
const (
	OuterEdge = iota
	FirstEnd
	SecondEnd
	FirstCorner
	SecondCorner
)

// Outside gives how far outside a leaf's outline, mm, the place a from the outer edge and b from the
// first end lies, measured for a kind of edge.
func (l Face) Outside(kind int, a, b float64) float64 {
	switch kind {
	case OuterEdge:
		return -a
	case FirstEnd:
		return -b
	case SecondEnd:
		return b - l.Height
	case FirstCorner:
		r := l.Radius[0]
		return math.Hypot(r-a, r-b) - r
	default:
		r := l.Radius[1]
		return math.Hypot(r-a, b-(l.Height-r)) - r
	}
}

// OutlineDistance is the signed distance (mm, positive outside) from a place to a rectangle
// of half-sides a, b with corners of radius r, centred on the origin.
func OutlineDistance(x, y, a, b, r float64) float64 {
	qx, qy := math.Abs(x)-(a-r), math.Abs(y)-(b-r)
	if qx > 0 && qy > 0 {
		return math.Hypot(qx, qy) - r
	}
	return math.Max(qx, qy) - r
}
