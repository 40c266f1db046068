package scene

import (
	"math"

	"leafgauge/measure/geom"
)

// FocalFromHomography gives the focal length (px) at which the homography of a plane, with
// square pixels and the principal point (cx, cy), is that of a rigid plane: Zhang,
// "A flexible new technique for camera calibration", PAMI 2000. It returns 0 where the plane
// is seen so squarely that the answer is not real.
func FocalFromHomography(h geom.Mat3, cx, cy float64) float64 {
	shift := geom.Mat3{{1, 0, -cx}, {0, 1, -cy}, {0, 0, 1}}
	h = shift.Times(h)
	t := h.Transpose()
	a, b := t[0], t[1]
	// a·ω·b = 0 and a·ω·a = b·ω·b with ω = diag(w, w, 1), w = 1/f²: two equations, least squares.
	p1, q1 := a[0]*b[0]+a[1]*b[1], -a[2]*b[2]
	p2, q2 := a[0]*a[0]+a[1]*a[1]-b[0]*b[0]-b[1]*b[1], b[2]*b[2]-a[2]*a[2]
	w := (p1*q1 + p2*q2) / (p1*p1 + p2*p2)
	if !(w > 0) {
		return 0
	}
	return 1 / math.Sqrt(w)
}
