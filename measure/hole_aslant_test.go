package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// A countersunk hole drawn by tracing rays, seen aslant from near: the place found is the
// circle's centre, not its picture's middle, which lies visibly beside it.
func TestHoleSeenAslant(t *testing.T) {
	const (
		w, h      = 1600, 1200
		thickness = 3.4
		rim, bore = 11.13, 5.5 // No. 12 flat head (ASME B18.6.1), clearance (common practice, no source)
	)
	centres := [][2]float64{{12, 12.5}, {26, 40}, {12, 67.5}}
	face := leafFace{o: vec3{-40, -22, thickness}, u: vec3{0, 1, 0}, v: vec3{1, 0, 0}, n: vec3{0, 0, 1}, width: 44, height: 80}
	for i, azimuth := range []float64{20, 110, 230} {
		cam := lookAt(w, h, 26, 8, 30, azimuth, 15, 5, -3)
		eye := cam.eye()
		light := func(x, y float64) vec3 {
			// From the drawing's plane along the line of sight to a depth below the face.
			at := func(depth float64) (fromEdge, fromEnd float64) {
				s := (eye[2] - thickness + depth) / (eye[2] - cardThickness)
				return eye[1] + s*(y-eye[1]) - face.o[1], eye[0] + s*(x-eye[0]) - face.o[0]
			}
			e, n := at(0)
			if e < 0 || e > face.width || n < 0 || n > face.height {
				return vec3{0.6, 0.58, 0.55}
			}
			for _, c := range centres {
				if math.Hypot(e-c[0], n-c[1]) > rim/2 {
					continue
				}
				depth := (rim - bore) / 2 / countersinkTan
				if be, bn := at(depth); math.Hypot(be-c[0], bn-c[1]) < bore/2 {
					return vec3{0.02, 0.02, 0.02}
				}
				v := 0.16 + 0.05*math.Sin(math.Atan2(e-c[0], n-c[1]))
				return vec3{v, v, v}
			}
			return vec3{0.33, 0.32, 0.3}
		}
		img := drawnScene{w, h, cam, 2, light}.draw(uint64(i))
		got := findHoles(newFrame(img), &cam, []leafFace{face})
		require.Len(t, got, 1)
		require.Len(t, got[0], len(centres))
		for k, c := range centres {
			g := got[0][k]
			x := face.at(c[0], c[1])
			e, n := face.place(&cam, ellipseMiddle(&cam, x, face.u, face.v, rim/2))
			naive := math.Hypot(e-c[0], n-c[1])
			off := math.Hypot(g.fromEdge-c[0], g.fromEnd-c[1])
			t.Logf("azimuth %3.0f hole %d: off by %.3f ± %.3f mm, the picture's middle by %.3f; rim %+.3f ± %.3f, bore %+.3f ± %.3f",
				azimuth, k, off, g.sigmaPlace, naive, g.rim-rim, g.sigmaRim, g.bore-bore, g.sigmaBore)
			require.Less(t, off, 0.02, "mm")
			require.Greater(t, naive, 3*off)
			require.InDelta(t, rim, g.rim, 0.08, "mm")
			require.InDelta(t, bore, g.bore, 0.15, "mm")
		}
	}
}
