package geom_test

import (
	"fmt"
	"math"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"

	"github.com/stretchr/testify/require"
)

// Sources: OpenCV 4.6.0's own chessboard photographs (Apache-2.0), their corners found and
// their homographies fitted by OpenCV; and photographs © Peter Abeles (CC BY 4.0), treated
// alike.
func TestHomographyOnRealBoards(t *testing.T) {
	for _, set := range []string{"chessboard-stereo", "grids-compact"} {
		dir, ok := scene.RealPhotos(t, set)
		if !ok {
			continue
		}
		var ref scene.BoardReference
		scene.ReadReference(t, dir, &ref)
		require.NotEmpty(t, ref.Images)
		nx := ref.Inner[0]
		for name, p := range ref.Images {
			var at [][2]float64
			var board []measure.Pixel
			for i, c := range p.Corners {
				at, board = append(at, c), append(board, measure.Pixel{X: float64(i % nx), Y: float64(i / nx)})
			}
			rms := func(of []int) float64 {
				var a [][2]float64
				var b []measure.Pixel
				for _, i := range of {
					a, b = append(a, at[i]), append(b, board[i])
				}
				h, err := geom.Homography(a, b)
				require.NoError(t, err)
				var sum float64
				for i := range at {
					d := geom.Distance(board[i], scene.Mapped(h, at[i][0], at[i][1]))
					sum += d * d
				}
				return math.Sqrt(sum / float64(len(at)))
			}
			all := make([]int, len(at))
			for i := range all {
				all[i] = i
			}
			n := len(at)
			// Corners are stored to 0.01 px, some 0.0005 squares.
			require.InDelta(t, p.Raw.Four, rms([]int{0, nx - 1, n - nx, n - 1}), 0.001, "%s %s, four corners, squares", set, name)
			require.InDelta(t, p.Raw.All, rms(all), 0.02*p.Raw.All+0.0005, "%s %s, all corners, squares", set, name)
		}
	}
}

// The lens model against OpenCV's calibration of the same corners with K1 alone.
func TestLensOfRealCameras(t *testing.T) {
	for set, names := range map[string][]string{"chessboard-stereo": {"left", "right"}, "grids-compact": {"chess"}} {
		dir, ok := scene.RealPhotos(t, set)
		if !ok {
			continue
		}
		var ref scene.BoardReference
		scene.ReadReference(t, dir, &ref)
		var board []geom.Vec3
		for j := range ref.Inner[1] {
			for i := range ref.Inner[0] {
				// The board's y runs down the picture: turned over, so that z points to the eye.
				board = append(board, geom.Vec3{float64(i), -float64(j), 0})
			}
		}
		for _, camera := range names {
			var pictures [][]measure.Pixel
			for k := range 40 {
				for _, pattern := range []string{camera + "%02d.jpg", camera + "-%02d.jpg"} {
					p, ok := ref.Images[fmt.Sprintf(pattern, k)]
					if !ok {
						continue
					}
					var px []measure.Pixel
					for _, c := range p.Corners {
						px = append(px, measure.Pixel{X: c[0], Y: c[1]})
					}
					pictures = append(pictures, px)
				}
			}
			require.Greater(t, len(pictures), 10, camera)
			want := ref.Cameras[camera].K1Only
			got, _, rms := scene.Calibrate(t, pictures, board, 640, 480)
			t.Logf("%s %s: f %.2f (%.2f), k1 %.4f (%.4f), middle %.1f %.1f (%.1f %.1f), rms %.4f (%.4f) px",
				set, camera, got.F, want.F, got.K1, want.Dist[0], got.Cx, got.Cy, want.Cx, want.Cy, rms, want.RMS)
			require.InDelta(t, want.F, got.F, 1, "px")
			require.InDelta(t, want.Dist[0], got.K1, 0.003)
			require.InDelta(t, want.RMS, rms, 0.01, "px")
		}
	}
}

// Source: photographs of discs of 15 mm at a pitch of 25 mm, © Peter Abeles (CC BY 4.0): how
// far the middle of a disc's picture lies from the picture of its middle, by OpenCV's
// calibration. The discs' places alone must give the same here.
func TestMiddleOfRealDiscs(t *testing.T) {
	dir, ok := scene.RealPhotos(t, "grids-compact")
	if !ok {
		return
	}
	var ref struct {
		Circles struct {
			Camera struct {
				F float64 `json:"fx"`
			}
			Grid   [2]int
			Images map[string]struct {
				Centres [][2]float64 `json:"centres_px"`
				Apart   float64      `json:"ellipse_middle_minus_true_px_max"`
			}
		}
	}
	scene.ReadReference(t, dir, &ref)
	board := scene.DiscBoard(ref.Circles.Grid)
	// The pictures' grids run either way round: only one way is a plane seen from above.
	var pictures [][]measure.Pixel
	var apart []float64
	for k := range 6 {
		p := ref.Circles.Images[fmt.Sprintf("circles-%02d.jpg", k)]
		require.Len(t, p.Centres, len(board))
		var px []measure.Pixel
		for _, c := range p.Centres {
			px = append(px, measure.Pixel{X: c[0], Y: c[1]})
		}
		pictures, apart = append(pictures, px), append(apart, p.Apart)
	}
	cam, cams, rms := scene.Calibrate(t, pictures, board, 640, 480)
	t.Logf("f %.1f px (%.1f), rms %.3f px", cam.F, ref.Circles.Camera.F, rms)
	require.InEpsilon(t, ref.Circles.Camera.F, cam.F, 0.01)
	for k := range cams {
		c := cams[k]
		c.K1 = 0 // it bends by far less than a disc is wide
		most := 0.0
		for _, b := range board {
			most = math.Max(most, geom.Distance(c.Project(b), scene.EllipseMiddle(&c, b, geom.Vec3{1, 0, 0}, geom.Vec3{0, 1, 0}, 7.5)))
		}
		t.Logf("picture %d: %.3f px (%.3f)", k, most, apart[k])
		require.InDelta(t, apart[k], most, 0.03, "px, picture %d", k)
	}
}
