package measure

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

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
							r = append(r, dot(Minus(trial.at[i], q), n)/trial.sigma[i])
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

	}
	require.InEpsilon(t, focal["left"], focal["right"], 0.02, "px: one camera took both")
}
