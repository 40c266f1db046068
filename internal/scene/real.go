package scene

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"path/filepath"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/geom"

	"github.com/stretchr/testify/require"
)

// RealPhotos is where photographs with known geometry, made by others, may lie beside the
// project. Checks that read them are left out where they do not.
func RealPhotos(t *testing.T, set string) (dir string, ok bool) {
	dir = filepath.Join(projectRoot(t), "..", "shared", "real", set)
	if _, err := os.Stat(filepath.Join(dir, "reference.json")); err != nil {
		t.Logf("the photographs of %s are not here: their checks were left out", set)
		return "", false
	}
	return dir, true
}

func ReadReference(t *testing.T, dir string, into any) {
	b, err := os.ReadFile(filepath.Join(dir, "reference.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

func ReadPicture(t *testing.T, path string) image.Image {
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	img, _, err := image.Decode(file)
	require.NoError(t, err)
	return img
}

// A boardPicture is a grid of known squares in one picture, with what OpenCV made of it.
type boardPicture struct {
	Camera  string
	Corners [][2]float64 `json:"corners_px"`
	Tilt    float64      `json:"tilt_deg"`
	Raw     struct {
		All  float64 `json:"all_corners_rms_sq"`
		Four float64 `json:"four_corners_rms_sq"`
	}
}

type BoardReference struct {
	Cameras map[string]struct {
		K1Only struct {
			F    float64    `json:"fx"`
			Cx   float64    `json:"cx"`
			Cy   float64    `json:"cy"`
			Dist [5]float64 `json:"dist_k1_k2_p1_p2_k3"`
			RMS  float64    `json:"rms_px"`
		} `json:"k1_only"`
	}
	Images map[string]boardPicture
	Inner  [2]int `json:"inner_corners"`
}

// Calibrate fits focal length, K1, principal point and every pose to the pictures of one
// camera, with this package's own projection and least squares (Zhang, PAMI 2000). Lengths
// in squares.
func Calibrate(t *testing.T, pictures [][]measure.Pixel, board []geom.Vec3, w, h float64) (cam geom.Camera, cams []geom.Camera, rms float64) {
	var start []geom.Camera
	var focals []float64
	homographies := make([]geom.Mat3, len(pictures))
	for i, p := range pictures {
		var pts [][2]float64
		for _, b := range board {
			pts = append(pts, [2]float64{b[0], b[1]})
		}
		var err error
		homographies[i], err = geom.Homography(pts, p)
		require.NoError(t, err)
		if f := FocalFromHomography(homographies[i], w/2, h/2); f > 0 {
			focals = append(focals, f)
		}
	}
	f := geom.Median(focals)
	for i := range pictures {
		start = append(start, geom.PoseFromHomography(homographies[i], f, w/2, h/2, 0))
	}
	at := func(p []float64, i int) geom.Camera {
		q := p[4+6*i:]
		c := start[i]
		c.F, c.K1, c.Cx, c.Cy = f*math.Exp(p[0]), p[1], w/2+p[2], h/2+p[3]
		c.R = geom.Rotation(geom.Vec3{q[0], q[1], q[2]}).Times(start[i].R)
		c.T = start[i].T.Add(geom.Vec3{q[3], q[4], q[5]})
		return c
	}
	p := make([]float64, 4+6*len(pictures))
	step := make([]float64, len(p))
	for i := range step {
		step[i] = 1e-6
	}
	step[2], step[3] = 1e-4, 1e-4
	_, rms, ok := geom.LeastSquares{Step: step, Rounds: 60, Residuals: func(p, r []float64) []float64 {
		for i := range pictures {
			c := at(p, i)
			for k, b := range board {
				q := c.Project(b)
				r = append(r, q.X-pictures[i][k].X, q.Y-pictures[i][k].Y)
			}
		}
		return r
	}}.Solve(p)
	require.True(t, ok)
	for i := range pictures {
		cams = append(cams, at(p, i))
	}
	return cams[0], cams, rms * math.Sqrt2 // of the distances, as OpenCV gives it
}

// EllipseMiddle is the middle of the picture of a circle (without lens distortion): that of
// the dual conic H·diag(r², r², −1)·Hᵀ moved to the circle's centre (Hartley and Zisserman,
// "Multiple view geometry", 2.2 and 8.2; the middle is the pole of the line at infinity).
func EllipseMiddle(c *geom.Camera, centre, u, v geom.Vec3, r float64) measure.Pixel {
	column := func(x geom.Vec3) geom.Vec3 {
		y := c.R.Apply(x)
		return geom.Vec3{c.F*y[0] + c.Cx*y[2], c.F*y[1] + c.Cy*y[2], y[2]}
	}
	a, b, o := column(u), column(v), column(centre)
	t := geom.Vec3{c.F*c.T[0] + c.Cx*c.T[2], c.F*c.T[1] + c.Cy*c.T[2], c.T[2]}
	o = o.Add(t)
	d := func(i, j int) float64 { return r*r*(a[i]*a[j]+b[i]*b[j]) - o[i]*o[j] }
	return measure.Pixel{X: d(0, 2) / d(2, 2), Y: d(1, 2) / d(2, 2)}
}

// DiscBoard gives the discs' middles, 25 mm apart, columns by rows, mm.
func DiscBoard(grid [2]int) (board []geom.Vec3) {
	for j := range grid[1] {
		for i := range grid[0] {
			board = append(board, geom.Vec3{25 * float64(i), 25 * float64(j), 0})
		}
	}
	return board
}

func Mapped(h geom.Mat3, x, y float64) measure.Pixel {
	q := h.Apply(geom.Vec3{x, y, 1})
	return measure.Pixel{X: q[0] / q[2], Y: q[1] / q[2]}
}
