package hole

import (
	"math"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

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
	face := geom.Face{O: geom.Vec3{-40, -22, thickness}, U: geom.Vec3{0, 1, 0}, V: geom.Vec3{1, 0, 0}, N: geom.Vec3{0, 0, 1}, Width: 44, Height: 80}
	for i, azimuth := range []float64{20, 110, 230} {
		cam := scene.LookAt(w, h, 26, 8, 30, azimuth, 15, 5, -3)
		eye := cam.Eye()
		light := func(x, y float64) geom.Vec3 {
			// From the drawing's plane along the line of sight to a depth below the face.
			at := func(depth float64) (fromEdge, fromEnd float64) {
				s := (eye[2] - thickness + depth) / (eye[2] - measure.ID1Thickness)
				return eye[1] + s*(y-eye[1]) - face.O[1], eye[0] + s*(x-eye[0]) - face.O[0]
			}
			e, n := at(0)
			if e < 0 || e > face.Width || n < 0 || n > face.Height {
				return geom.Vec3{0.6, 0.58, 0.55}
			}
			for _, c := range centres {
				if math.Hypot(e-c[0], n-c[1]) > rim/2 {
					continue
				}
				depth := (rim - bore) / 2 / countersinkTan
				if be, bn := at(depth); math.Hypot(be-c[0], bn-c[1]) < bore/2 {
					return geom.Vec3{0.02, 0.02, 0.02}
				}
				v := 0.16 + 0.05*math.Sin(math.Atan2(e-c[0], n-c[1]))
				return geom.Vec3{v, v, v}
			}
			return geom.Vec3{0.33, 0.32, 0.3}
		}
		img := scene.Drawn{W: w, H: h, Cam: cam, Noise: 2, Light: light}.Draw(uint64(i))
		got := Find(picture.NewFrame(img), &cam, []geom.Face{face})
		require.Len(t, got, 1)
		require.Len(t, got[0], len(centres))
		for k, c := range centres {
			g := got[0][k]
			x := face.At(c[0], c[1])
			e, n := face.Place(&cam, scene.EllipseMiddle(&cam, x, face.U, face.V, rim/2))
			naive := math.Hypot(e-c[0], n-c[1])
			off := math.Hypot(g.FromEdge-c[0], g.FromEnd-c[1])
			t.Logf("azimuth %3.0f hole %d: off by %.3f ± %.3f mm, the picture's middle by %.3f; rim %+.3f ± %.3f, bore %+.3f ± %.3f",
				azimuth, k, off, g.SigmaPlace, naive, g.Rim-rim, g.SigmaRim, g.Bore-bore, g.SigmaBore)
			require.Less(t, off, 0.02, "mm")
			require.Greater(t, naive, 3*off)
			require.InDelta(t, rim, g.Rim, 0.08, "mm")
			require.InDelta(t, bore, g.Bore, 0.15, "mm")
		}
	}
}
