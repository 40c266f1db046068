package measure

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source: photographs of a sheet of dark discs, 15 mm wide and 25 mm from middle to middle (their
// maker's own note), © Peter Abeles (CC BY 4.0), 640 × 480 px, some 2 px a millimetre. The hole's own
// fit is started half a millimetre off each disc and reads its rim out of the pixels; the camera
// comes from the discs' places. The sheet is not quite flat: OpenCV's ellipses give 14.68 to
// 14.91 mm by picture and scatter by 0.12 to 0.28 mm within one.
func TestDiscsOfRealPhotos(t *testing.T) {
	dir, ok := realPhotos(t, "grids-compact")
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
	readReference(t, dir, &ref)
	board := discBoard(ref.Circles.Grid)
	var pictures [][]Pixel
	for k := range 6 {
		var px []Pixel
		for _, c := range ref.Circles.Images[fmt.Sprintf("circles-%02d.jpg", k)].Centres {
			px = append(px, Pixel{c[0] + 0.5, c[1] + 0.5}) // OpenCV counts from the middle of the first pixel
		}
		require.Len(t, px, len(board))
		pictures = append(pictures, px)
	}
	_, cams, _ := calibrate(t, pictures, board, 640, 480)
	for k, cam := range cams {
		name := fmt.Sprintf("circles-%02d.jpg", k)
		f := newFrame(readPicture(t, filepath.Join(dir, name)))
		face := leafFace{o: vec3{-12.5, -12.5, 0}, u: vec3{1, 0, 0}, v: vec3{0, 1, 0}, n: vec3{0, 0, 1}, width: 250, height: 200}
		if cam.eye()[2] < 0 { // the grid runs the other way round
			face.n = vec3{0, 0, -1}
		}
		w := newFaceView(f, &cam, face)
		plain := cam
		plain.K1 = 0
		var diameters, off []float64
		for i, b := range board {
			at := face.at(b[0]+12.5, b[1]+12.5)
			u, v := face.place(&cam, pictures[k][i])
			if p := cam.project(at); !f.inside(p, 25) {
				continue
			}
			h := w.refine(w.settleRim(holeShape{u: u + 0.3, v: v - 0.4, rim: 7.2, bore: 2}, 0.8).holeShape)
			diameters = append(diameters, 2*h.rim)
			// What OpenCV gives is the middle of the disc's picture, beside the picture of its middle.
			x := face.at(h.u, h.v)
			middle, q := ellipseMiddle(&plain, x, face.u, face.v, h.rim), cam.project(x)
			shift := Minus(middle, plain.project(x))
			off = append(off, Distance(pictures[k][i], Pixel{q.X + shift.X, q.Y + shift.Y}))
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
			name, len(diameters), mean, math.Sqrt(square), r.Diameter, r.Spread, percentile(off, 0.5), percentile(off, 1))
		require.Greater(t, len(diameters), 70, name)
		// A tenth of a pixel on either side of the disc is 0.1 mm of diameter here; ink spreads, and
		// the pictures were reduced by their maker.
		require.InDelta(t, 15, mean, 0.3, "mm, %s", name)
		require.Less(t, math.Sqrt(square), 1.1*r.Spread, "mm, %s", name)
		require.Less(t, percentile(off, 0.5), 0.05, "px, %s", name)
		require.Less(t, percentile(off, 1), 0.15, "px, %s", name)
	}
}
