package card

import (
	"math"
	"path/filepath"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// Source: one photograph of two copies of a flat board, © 2025 Hackropole (CC BY 4.0); by its
// published design file 94.00 mm square with four corners of 10.00 mm; 6.5 px a millimetre, no
// EXIF. The card's search finds the outline's edges, and its projection is fitted to them with the
// corner radius, pose and focal length unknown.
func TestRoundedPlatesOfARealPhoto(t *testing.T) {
	dir, ok := scene.RealPhotos(t, "plates-rounded")
	if !ok {
		t.Skip("left out: the photograph of rounded plates is not here")
	}
	var ref struct {
		Plates map[string]struct {
			Corners [4][2]float64 `json:"corners_px"` // top left, top right, bottom right, bottom left
		}
	}
	scene.ReadReference(t, dir, &ref)
	f := picture.NewFrame(scene.ReadPicture(t, filepath.Join(dir, "two-plates.jpg")))
	const (
		side  = 94.0
		world = 2.6 // of the fit's millimetres to the board's
	)
	focal := map[string]float64{}
	for name, plate := range ref.Plates {
		half := side / 2 * world
		var px []measure.Pixel
		for _, k := range plate.Corners {
			px = append(px, measure.Pixel{X: k[0] + 0.5, Y: k[1] + 0.5})
		}
		h, err := geom.Homography([][2]float64{{-half, half}, {half, half}, {half, -half}, {-half, -half}}, px)
		require.NoError(t, err)
		f0 := scene.FocalFromHomography(h, float64(f.W)/2, float64(f.H)/2)
		require.NotZero(t, f0)
		trial := cardTrial{cardState: cardState{cam: geom.PoseFromHomography(h, f0, float64(f.W)/2, float64(f.H)/2, measure.ID1Thickness), shape: Shape{half, half, 8 * world}}}
		var cov []float64
		for k := range 4 {
			start := trial.cardState
			trial.look(f, cardOutline(half, half, trial.shape.R, 2*world), 6-float64(k), 5)
			at := func(p []float64) cardState {
				c := start
				c.cam.R = geom.Rotation(geom.Vec3{p[0], p[1], p[2]}).Times(start.cam.R)
				c.cam.T = start.cam.T.Add(geom.Vec3{p[3], p[4], p[5]}).Mul(math.Exp(p[6]))
				c.cam.F = start.cam.F * math.Exp(p[6])
				c.shape.R = p[7]
				return c
			}
			p := []float64{0, 0, 0, 0, 0, 0, 0, trial.shape.R}
			cov, trial.rms, ok = geom.LeastSquares{Step: []float64{1e-5, 1e-5, 1e-5, 1e-3, 1e-3, 1e-2, 1e-4, 1e-3}, Robust: 1.5, Rounds: 30,
				Residuals: func(p, r []float64) []float64 {
					c := at(p)
					for i, o := range trial.places {
						if trial.sigma[i] > 0 {
							q, n, _ := c.project(o)
							r = append(r, geom.Dot(geom.Minus(trial.at[i], q), n)/trial.sigma[i])
						}
					}
					return r
				}}.Solve(p)
			require.True(t, ok)
			trial.cardState = at(p)
		}
		cam := trial.cam
		focal[name] = cam.F
		t.Logf("%s: corners of %.2f ± %.2f mm, focal length %.0f px, rms %.2f px", name, trial.shape.R/world,
			math.Sqrt(cov[7*8+7])/world*math.Max(1, trial.rms), cam.F, 0.3*trial.rms)
		// One of the eight corners is lost against dark leaves; a wet or cut edge is not the drawn one.
		require.InDelta(t, 10, trial.shape.R/world, 0.6, "mm, %s", name)
	}
	require.InEpsilon(t, focal["left"], focal["right"], 0.02, "px: one camera took both")
}
