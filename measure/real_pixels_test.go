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
			shift := minus(middle, plain.project(x))
			off = append(off, distance(pictures[k][i], Pixel{q.X + shift.X, q.Y + shift.Y}))
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

// Source: one photograph of two copies of a flat board, © 2025 Hackropole (CC BY 4.0); by its
// published design file 94.00 mm square with four corners of 10.00 mm, and two holes of 2.00 mm
// 17.815 mm apart, 25.21 mm from the top and 38.09 mm from the nearer side; 6.5 px a millimetre, no
// EXIF. The card's search finds the outline's edges, and its projection is fitted to them with the
// corner radius, pose and focal length unknown; the holes are found by the hole's own fit. Its
// figures are for holes from 5.5 mm, so that the world is taken 2.6 times as large.
func TestRoundedPlatesOfARealPhoto(t *testing.T) {
	dir, ok := realPhotos(t, "plates-rounded")
	if !ok {
		t.Skip("left out: the photograph of rounded plates is not here")
	}
	var ref struct {
		Plates map[string]struct {
			Corners [4][2]float64 `json:"corners_px"` // top left, top right, bottom right, bottom left
		}
	}
	readReference(t, dir, &ref)
	f := newFrame(readPicture(t, filepath.Join(dir, "two-plates.jpg")))
	const (
		side  = 94.0
		world = 2.6 // of the fit's millimetres to the board's
	)
	focal := map[string]float64{}
	for name, plate := range ref.Plates {
		half := side / 2 * world
		var px []Pixel
		for _, k := range plate.Corners {
			px = append(px, Pixel{k[0] + 0.5, k[1] + 0.5})
		}
		h, err := homography([][2]float64{{-half, half}, {half, half}, {half, -half}, {-half, -half}}, px)
		require.NoError(t, err)
		f0 := focalFromHomography(h, float64(f.w)/2, float64(f.h)/2)
		require.NotZero(t, f0)
		trial := cardTrial{cardState: cardState{cam: poseFromHomography(h, f0, float64(f.w)/2, float64(f.h)/2, cardThickness), shape: cardShape{half, half, 8 * world}}}
		var cov []float64
		for k := range 4 {
			start := trial.cardState
			trial.look(f, cardOutline(half, half, trial.shape.r, 2*world), 6-float64(k), 5)
			at := func(p []float64) cardState {
				c := start
				c.cam.R = rotation(vec3{p[0], p[1], p[2]}).times(start.cam.R)
				c.cam.T = start.cam.T.add(vec3{p[3], p[4], p[5]}).mul(math.Exp(p[6]))
				c.cam.F = start.cam.F * math.Exp(p[6])
				c.shape.r = p[7]
				return c
			}
			p := []float64{0, 0, 0, 0, 0, 0, 0, trial.shape.r}
			cov, trial.rms, ok = leastSquares{step: []float64{1e-5, 1e-5, 1e-5, 1e-3, 1e-3, 1e-2, 1e-4, 1e-3}, robust: 1.5, rounds: 30,
				residuals: func(p, r []float64) []float64 {
					c := at(p)
					for i, o := range trial.places {
						if trial.sigma[i] > 0 {
							q, n, _ := c.project(o)
							r = append(r, dot(minus(trial.at[i], q), n)/trial.sigma[i])
						}
					}
					return r
				}}.solve(p)
			require.True(t, ok)
			trial.cardState = at(p)
		}
		cam := trial.cam
		focal[name] = cam.F
		t.Logf("%s: corners of %.2f ± %.2f mm, focal length %.0f px, rms %.2f px", name, trial.shape.r/world,
			math.Sqrt(cov[7*8+7])/world*math.Max(1, trial.rms), cam.F, 0.3*trial.rms)
		// One of the eight corners is lost against dark leaves; a wet or cut edge is not the drawn one.
		require.InDelta(t, 10, trial.shape.r/world, 0.6, "mm, %s", name)

		face := leafFace{o: vec3{-half, half, cardThickness}, u: vec3{1, 0, 0}, v: vec3{0, -1, 0}, n: vec3{0, 0, 1}, width: 2 * half, height: 2 * half}
		w := newFaceView(f, &cam, face)
		var holes []holeSeen
		for _, x := range []float64{38.09, side - 38.09} {
			s := w.settleRim(holeShape{u: x * world, v: 25.21 * world, rim: world}, 0.8)
			s.bore = 0.5
			g := w.refine(s.holeShape)
			t.Logf("  hole at %.3f, %.3f mm, diameter %.3f ± %.3f, seen %.2f", g.u/world, g.v/world, 2*g.rim/world, 2*g.sigma(2)/world, g.rimSeen)
			require.InDelta(t, x, g.u/world, 0.3, "mm from the side, %s", name)
			require.InDelta(t, 25.21, g.v/world, 0.45, "mm from the top, %s", name)
			require.InDelta(t, 2, 2*g.rim/world, 0.2, "mm, %s", name)
			holes = append(holes, g)
		}
		apart := math.Hypot(holes[0].u-holes[1].u, holes[0].v-holes[1].v) / world
		t.Logf("  %.3f mm apart", apart)
		require.InEpsilon(t, 17.815, apart, 0.003, "mm between holes, %s", name)
	}
	require.InEpsilon(t, focal["left"], focal["right"], 0.02, "px: one camera took both")
}
