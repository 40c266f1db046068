package measure

import "math"

// Card geometry, ISO/IEC 7810: ID-1, nominal, mm.
const (
	cardLong      = 85.60
	cardShort     = 53.98
	cardRadius    = 3.18
	cardThickness = 0.76
)

// A cardFit is the reference card as found. The world's origin lies on the table under the
// card's centre; x runs along its long side, y along its short side, z up.
type cardFit struct {
	kind    string
	cam     camera      // K1 = 0 unless the card itself could tell
	corners [4]Pixel    // as if square: (−x,−y), (+x,−y), (+x,+y), (−x,+y) in the world
	points  []edgePoint // of the outline that it is measured by, sub-pixel
	rms     float64     // of the points about the fitted outline, px

	height                float64   // of that outline over the table, mm
	shape                 cardShape // of that outline
	longSigma, shortSigma float64   // standard uncertainties of its length and width, mm
	bias                  float64   // of a whole side's place, mm

	print Ratio      // scale of a printed card; zero for others
	white [3]float64 // linear light of white paper; zero where it isn't known

	focalFrom  string
	focalSigma float64 // standard uncertainty of cam.F, px, before the hinge is seen
	lens       lens    // what was known before the card was seen
}

// An edgePoint is a sub-pixel place of an outline in the picture.
type edgePoint struct {
	at    Pixel
	sigma float64 // standard uncertainty along the outline's normal, px
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

// A holeFit is one countersunk hole on a face, mm, with standard uncertainties that hold
// for a known camera and face.
type holeFit struct {
	fromEdge, fromEnd float64
	sigmaPlace        float64
	rim, sigmaRim     float64 // countersink's diameter at the face; 0 where there is none
	bore, sigmaBore   float64 // through hole's diameter
	filled            bool

	sharedRim, sharedBore float64 // further standard uncertainties, that all holes have together
}
