package hole

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// Source: photographs of a sheet of dark discs, 15 mm wide and 25 mm from middle to middle (their
// maker's own note), © Peter Abeles (CC BY 4.0), 640 × 480 px, some 2 px a millimetre. The hole's own
// fit is started half a millimetre off each disc and reads its rim out of the pixels; the camera
// comes from the discs' places. The sheet is not quite flat: OpenCV's ellipses give 14.68 to
// 14.91 mm by picture and scatter by 0.12 to 0.28 mm within one.
func TestDiscsOfRealPhotos(t *testing.T) {
	dir, ok := scene.RealPhotos(t, "grids-compact")
	if !ok {
		t.Skip("left out: the photographs of discs are not here")
	}
	var ref struct {
		Circles struct {
			Grid   [2]int
			Images map[string]struct {
				Centres  [][2]float64 `json:"centres_px"`
				Diameter float64      `json:"diameter_mm_mean"`
				Spread   float64      `json:"diameter_mm_sd"`
			}
		}
	}
	scene.ReadReference(t, dir, &ref)
	board := scene.DiscBoard(ref.Circles.Grid)
	var pictures [][]measure.Pixel
	for k := range 6 {
		var px []measure.Pixel
		for _, c := range ref.Circles.Images[fmt.Sprintf("circles-%02d.jpg", k)].Centres {
			px = append(px, measure.Pixel{X: c[0] + 0.5, Y: c[1] + 0.5}) // OpenCV counts from the middle of the first pixel
		}
		require.Len(t, px, len(board))
		pictures = append(pictures, px)
	}
	_, cams, _ := scene.Calibrate(t, pictures, board, 640, 480)
	for k, cam := range cams {
		name := fmt.Sprintf("circles-%02d.jpg", k)
		f := picture.NewFrame(scene.ReadPicture(t, filepath.Join(dir, name)))
		face := geom.Face{O: geom.Vec3{-12.5, -12.5, 0}, U: geom.Vec3{1, 0, 0}, V: geom.Vec3{0, 1, 0}, N: geom.Vec3{0, 0, 1}, Width: 250, Height: 200}
		if cam.Eye()[2] < 0 { // the grid runs the other way round
			face.N = geom.Vec3{0, 0, -1}
		}
		w := newFaceView(f, &cam, face)
		plain := cam
		plain.K1 = 0
		var diameters, off []float64
		for i, b := range board {
			at := face.At(b[0]+12.5, b[1]+12.5)
			u, v := face.Place(&cam, pictures[k][i])
			if p := cam.Project(at); !f.Inside(p, 25) {
				continue
			}
			h := w.refine(w.settleRim(holeShape{u: u + 0.3, v: v - 0.4, rim: 7.2, bore: 2}, 0.8).holeShape)
			diameters = append(diameters, 2*h.rim)
			// What OpenCV gives is the middle of the disc's picture, beside the picture of its middle.
			x := face.At(h.u, h.v)
			middle, q := scene.EllipseMiddle(&plain, x, face.U, face.V, h.rim), cam.Project(x)
			shift := geom.Minus(middle, plain.Project(x))
			off = append(off, geom.Distance(pictures[k][i], measure.Pixel{X: q.X + shift.X, Y: q.Y + shift.Y}))
		}
		var mean, square float64
		for _, d := range diameters {
			mean += d / float64(len(diameters))
		}
		for _, d := range diameters {
			square += (d - mean) * (d - mean) / float64(len(diameters)-1)
		}
		r := ref.Circles.Images[name]
		t.Logf("%s: %d discs, %.3f mm, standard deviation %.3f (OpenCV %.3f, %.3f); places %.2f px apart in the median, %.2f at the most",
			name, len(diameters), mean, math.Sqrt(square), r.Diameter, r.Spread, scene.Percentile(off, 0.5), scene.Percentile(off, 1))
		require.Greater(t, len(diameters), 70, name)
		// A tenth of a pixel on either side of the disc is 0.1 mm of diameter here; ink spreads, and
		// the pictures were reduced by their maker.
		require.InDelta(t, 15, mean, 0.3, "mm, %s", name)
		require.Less(t, math.Sqrt(square), 1.1*r.Spread, "mm, %s", name)
		require.Less(t, scene.Percentile(off, 0.5), 0.05, "px, %s", name)
		require.Less(t, scene.Percentile(off, 1), 0.15, "px, %s", name)
	}
}
