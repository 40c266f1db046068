package hole

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// A countersunk screw hole is two circles on one axis: the rim, where the countersink meets
// the leaf's face, and the bore, the through hole, whose upper edge lies deeper. Seen from
// the eye, a circle that is parallel to the face throws a circle onto the face (the eye is
// the centre of a similarity between parallel planes). So the whole hole is worked in the
// face's own plane: rim and bore are both circles there, the bore smaller by s = h/(h + z)
// and shifted away from the eye's foot point by (1 − s) times its distance from it, where h
// is the eye's height over the face and z the depth.

// countersinkTan is the tangent of half the countersink's angle: 82° included, the angle of
// flat heads of inch screws (ASME B18.6.1 and B18.6.3).
var countersinkTan = math.Tan(41 * math.Pi / 180)

// Limits of what is taken for a screw hole, mm. Hinge screws run from No. 6 to No. 14: head
// 7.1–12.9 mm (ASME B18.6.1, flat head), clearance hole 3.7–6.7 mm; the limits leave room for
// countersinks cut shallow or deep and for metric parts.
const (
	rimMin, rimMax   = 5.5, 15.0
	boreMin, boreMax = 2.6, 9.0
)

// edgeSpread is the standard deviation (px) of a sharp edge in a phone picture: optics,
// sensor pixel and the demosaic filter together, by common practice 0.6–1.2 px.
const edgeSpread = 0.85

// edgeSpreadDoubt is its standard uncertainty before a picture is seen, of its logarithm.
const edgeSpreadDoubt = 0.35

// bevelWidth is the usual break of a stamped or countersunk edge, mm (deburring by tumbling
// leaves 0.05–0.2 mm; common practice). It widens the edge and limits how well it is defined.
const bevelWidth = 0.1

// faceView is a face as seen by a camera.
type faceView struct {
	f          *picture.Frame
	cam        *geom.Camera
	face       geom.Face
	eu, ev, eh float64 // the eye in the face's coordinates: from edge, from end, height
	thickness  float64 // of the leaf, as far as its face tells, mm
	table      *edgeTable

	o, u, v geom.Vec3 // the face's corner and directions in the camera's own frame
}

// thicknessMin and thicknessMax bound a butt hinge's leaf, mm: 0.06 in cabinet butts to the
// 0.203 in of heavy 6 in hinges (ANSI/BHMA A156.1, from memory), with room.
const thicknessMin, thicknessMax = 1.3, 5.5

func newFaceView(f *picture.Frame, cam *geom.Camera, face geom.Face) *faceView {
	e := cam.Eye().Sub(face.O)
	w := &faceView{f: f, cam: cam, face: face, eu: e.Dot(face.U), ev: e.Dot(face.V), eh: e.Dot(face.N),
		// The outer edge lies on the table, so its face stands a thickness above it.
		thickness: math.Min(math.Max(face.O[2], thicknessMin), thicknessMax),
		o:         cam.R.Apply(face.O).Add(cam.T), u: cam.R.Apply(face.U), v: cam.R.Apply(face.V)}
	// The scale changes little over a leaf: one blur does for all its edges.
	ppm := w.scale(face.Width/2, face.Height/2)
	w.table = newEdgeTable(math.Hypot(edgeSpread/ppm, bevelWidth/3))
	return w
}

// project gives the picture of a place on the face.
func (w *faceView) project(fromEdge, fromEnd float64) measure.Pixel {
	return w.cam.Image(geom.Vec3{
		w.o[0] + fromEdge*w.u[0] + fromEnd*w.v[0],
		w.o[1] + fromEdge*w.u[1] + fromEnd*w.v[1],
		w.o[2] + fromEdge*w.u[2] + fromEnd*w.v[2],
	})
}

// scale is px per mm at a place, the geometric mean over directions in the face.
func (w *faceView) scale(fromEdge, fromEnd float64) float64 {
	p := w.project(fromEdge, fromEnd)
	q := w.project(fromEdge+1, fromEnd)
	r := w.project(fromEdge, fromEnd+1)
	return math.Sqrt(math.Abs((q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X)))
}

// thrown gives centre and shrinking of a circle at a depth as it appears in the face's plane.
func (w *faceView) thrown(fromEdge, fromEnd, depth float64) (u, v, s float64) {
	s = w.eh / (w.eh + depth)
	return w.eu + (fromEdge-w.eu)*s, w.ev + (fromEnd-w.ev)*s, s
}

// A holeShape is what is fitted: centre of the axis on the face, radii and the depth of the
// bore's upper edge.
type holeShape struct {
	u, v, rim, bore, depth float64
}

// rimAt and boreAt predict the radius of the two edges in sector s of a ring.
func (h holeShape) rimAt(g *ring, s int) float64 {
	sin, cos := sectorSin[s], sectorCos[s]
	return circleAt(h.u-g.cu, h.v-g.cv, h.rim, sin, cos)
}

// boreAt gives the bore's upper edge and the nearer of it and its lower edge, which bounds
// what is seen through it.
func (h holeShape) boreAt(w *faceView, g *ring, s int) (outer, inner float64) {
	sin, cos := sectorSin[s], sectorCos[s]
	u, v, k := w.thrown(h.u, h.v, h.depth)
	outer = circleAt(u-g.cu, v-g.cv, h.bore*k, sin, cos)
	inner = outer
	if w.thickness > h.depth {
		u, v, k = w.thrown(h.u, h.v, w.thickness)
		inner = math.Min(outer, circleAt(u-g.cu, v-g.cv, h.bore*k, sin, cos))
	}
	return outer, inner
}

// depthExpected is where the bore's upper edge should lie: where an 82° countersink from the
// rim meets it, but not below the leaf.
func (h holeShape) depthExpected(thickness float64) float64 {
	return math.Min(math.Max((h.rim-h.bore)/countersinkTan, 0), thickness)
}
