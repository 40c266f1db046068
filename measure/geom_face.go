package measure

import "math"

// A leafFace is the plane of a leaf's top face in the world: u runs from the outer edge
// towards the barrel, v along the barrel from one end to the other (the same way for both
// leaves), n away from the table. o is the corner (as if square) of outer edge and first
// end, so a hole lies at o + u·fromEdge + v·fromEnd.
type leafFace struct {
	o, u, v, n    vec3
	width, height float64 // mm: outer edge to pin axis; along the barrel
	radius        [2]float64
}

func (l leafFace) at(fromEdge, fromEnd float64) vec3 {
	return l.o.add(l.u.mul(fromEdge)).add(l.v.mul(fromEnd))
}

func (l leafFace) plane() plane { return plane{l.n, l.n.dot(l.o)} }

// place gives from edge and from end of a pixel seen on the face.
func (l leafFace) place(c *camera, p Pixel) (fromEdge, fromEnd float64) {
	d := c.onto(p, l.plane()).sub(l.o)
	return d.dot(l.u), d.dot(l.v)
}

// outside gives how far outside a leaf's outline a place on its face lies, measured for the
// given kind of edge.
func (l leafFace) outside(kind int, a, b float64) float64 {
	switch kind {
	case 0:
		return -a
	case 1:
		return -b
	case 2:
		return b - l.height
	case 3:
		r := l.radius[0]
		return math.Hypot(r-a, r-b) - r
	default:
		r := l.radius[1]
		return math.Hypot(r-a, b-(l.height-r)) - r
	}
}

// outlineDistance is the signed distance (mm, positive outside) from a place to a rectangle
// of half-sides a, b with corners of radius r, centred on the origin.
func outlineDistance(x, y, a, b, r float64) float64 {
	qx, qy := math.Abs(x)-(a-r), math.Abs(y)-(b-r)
	if qx > 0 && qy > 0 {
		return math.Hypot(qx, qy) - r
	}
	return math.Max(qx, qy) - r
}
