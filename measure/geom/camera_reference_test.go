package geom_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"

	"github.com/stretchr/testify/require"
)

// A referenceView is a plane seen by a known camera, with what OpenCV makes of its picture:
// testdata/reference/camera.json, written by tools/reference/camera.py.
type referenceView struct {
	Focal35 float64 `json:"focal_35mm"`
	Tilt    float64 `json:"tilt_deg"`
	Truth   struct {
		F, K1 float64
		R     [9]float64
		T     geom.Vec3
	}
	Plane       []float64  `json:"plane_mm"`
	Exact       []float64  `json:"exact_px"`
	Noisy       []float64  `json:"noisy_px"`
	FourCorners [9]float64 `json:"four_corners"`
	Homography  [9]float64
	Pose        struct {
		R [9]float64
		T geom.Vec3
	}
	Pixels, Rays []float64
	Camera       *struct {
		F, K1 float64
		R     [9]float64
		T     geom.Vec3
		RMS   float64 `json:"rms_px"`
		SdF   float64 `json:"sd_f"`
		SdK1  float64 `json:"sd_k1"`
	}
}

const referenceW, referenceH = 4032, 3024

func referenceViews(t *testing.T) []referenceView {
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", "camera.json"))
	require.NoError(t, err)
	var file struct {
		Size  [2]int `json:"size_px"`
		Noise float64
		Views []referenceView
	}
	require.NoError(t, json.Unmarshal(b, &file))
	require.Equal(t, [2]int{referenceW, referenceH}, file.Size)
	require.Len(t, file.Views, 9)
	return file.Views
}

func matrixOf(a [9]float64) geom.Mat3 {
	return geom.Mat3{{a[0], a[1], a[2]}, {a[3], a[4], a[5]}, {a[6], a[7], a[8]}}
}

func pairs(a []float64) (out [][2]float64) {
	for i := 0; i+1 < len(a); i += 2 {
		out = append(out, [2]float64{a[i], a[i+1]})
	}
	return out
}

func pixels(a []float64) (out []measure.Pixel) {
	for _, p := range pairs(a) {
		out = append(out, measure.Pixel{X: p[0], Y: p[1]})
	}
	return out
}

func (v *referenceView) trueCamera() geom.Camera {
	return geom.Camera{F: v.Truth.F, K1: v.Truth.K1, Cx: referenceW / 2, Cy: referenceH / 2, R: matrixOf(v.Truth.R), T: v.Truth.T}
}

// Projection with distortion against cv2.projectPoints, lines of sight against cv2.undistortPoints.
func TestProjectionAgainstOpenCV(t *testing.T) {
	for _, v := range referenceViews(t) {
		cam := v.trueCamera()
		exact := pixels(v.Exact)
		for i, p := range pairs(v.Plane) {
			require.InDelta(t, 0, geom.Distance(exact[i], cam.Project(geom.Vec3{p[0], p[1], 0})), 1e-6, "px at %g°", v.Tilt)
		}
		rays := pairs(v.Rays)
		for i, p := range pixels(v.Pixels) {
			r := cam.R.Apply(cam.Ray(p))
			// In focal lengths: a millionth is three thousandths of a pixel, in the picture's corner.
			require.InDelta(t, rays[i][0], r[0]/r[2], 1e-6, "K1 %g", v.Truth.K1)
			require.InDelta(t, rays[i][1], r[1]/r[2], 1e-6, "K1 %g", v.Truth.K1)
		}
	}
}

func TestHomographyAgainstOpenCV(t *testing.T) {
	for _, v := range referenceViews(t) {
		plane, exact, noisy := pairs(v.Plane), pixels(v.Exact), pixels(v.Noisy)
		var four [][2]float64
		var at []measure.Pixel
		for _, i := range []int{0, 7, 47, 40} {
			four, at = append(four, plane[i]), append(at, exact[i])
		}
		h, err := geom.Homography(four, at)
		require.NoError(t, err)
		ref := matrixOf(v.FourCorners)
		all, err := geom.Homography(plane, noisy)
		require.NoError(t, err)
		refAll := matrixOf(v.Homography)
		for _, p := range plane {
			// OpenCV takes its places in single precision: 2e-4 px at 4000.
			require.InDelta(t, 0, geom.Distance(scene.Mapped(ref, p[0], p[1]), scene.Mapped(h, p[0], p[1])), 5e-4, "px, four corners at %g°", v.Tilt)
			// OpenCV goes on to the least distances in the picture, of which 0.3 px of noise lets the
			// transform's equations differ by a few hundredths.
			require.InDelta(t, 0, geom.Distance(scene.Mapped(refAll, p[0], p[1]), scene.Mapped(all, p[0], p[1])), 0.06, "px, all places at %g°", v.Tilt)
		}
	}
}

// fitView fits a camera to one view's noisy pixels with the project's projection and solver, as
// the joint fit does: turn, move, and, where free, focal length and K1.
func (v *referenceView) fitView(t *testing.T, start geom.Camera, free bool) (got geom.Camera, rms, sdF, sdK1 float64) {
	plane, noisy := pairs(v.Plane), pixels(v.Noisy)
	n := 6
	step := []float64{1e-7, 1e-7, 1e-7, 1e-5, 1e-5, 1e-5}
	if free {
		n, step = 8, append(step, 1e-7, 1e-7)
	}
	at := func(p []float64) geom.Camera {
		c := start
		c.R = geom.Rotation(geom.Vec3{p[0], p[1], p[2]}).Times(start.R)
		c.T = start.T.Add(geom.Vec3{p[3], p[4], p[5]})
		if free {
			c.F, c.K1 = start.F*math.Exp(p[6]), start.K1+p[7]
			c.T[2] *= c.F / start.F // as fit does: the picture's scale stays
		}
		return c
	}
	p := make([]float64, n)
	cov, r, ok := geom.LeastSquares{Step: step, Rounds: 200, Enough: 1e-14, Residuals: func(p, r []float64) []float64 {
		c := at(p)
		for i, q := range plane {
			x := c.Project(geom.Vec3{q[0], q[1], 0})
			r = append(r, x.X-noisy[i].X, x.Y-noisy[i].Y)
		}
		return r
	}}.Solve(p)
	require.True(t, ok)
	got = at(p)
	rms = r * math.Sqrt2 // of distances, as OpenCV gives it
	if free {
		// OpenCV's variance of unit weight: the squared distances over the places, less the unknowns.
		m := float64(len(plane))
		s2 := rms * rms * m / (m - float64(n))
		sdF, sdK1 = got.F*math.Sqrt(s2*cov[6*n+6]), math.Sqrt(s2*cov[7*n+7])
	}
	return got, rms, sdF, sdK1
}

// Pose and camera from one plane: cv2.solvePnP with the lens known, and calibrateCamera of a
// single view with focal length and K1 free, with its standard deviations. The starts are the
// project's own: focal length and pose out of the homography.
func TestCameraFromPlaneAgainstOpenCV(t *testing.T) {
	for _, v := range referenceViews(t) {
		plane, noisy := pairs(v.Plane), pixels(v.Noisy)
		h, err := geom.Homography(plane, noisy)
		require.NoError(t, err)
		start := geom.PoseFromHomography(h, v.Truth.F, referenceW/2, referenceH/2, 0)
		start.K1 = v.Truth.K1
		got, _, _, _ := v.fitView(t, start, false)
		want := geom.Camera{F: v.Truth.F, K1: v.Truth.K1, Cx: referenceW / 2, Cy: referenceH / 2, R: matrixOf(v.Pose.R), T: v.Pose.T}
		require.InDelta(t, 0, got.Eye().Sub(want.Eye()).Norm(), 0.002, "mm, eye with the lens known, at %g°", v.Tilt)
		require.InDelta(t, 1, got.R[2].Dot(want.R[2]), 1e-9)

		if v.Camera == nil {
			continue
		}
		f := scene.FocalFromHomography(h, referenceW/2, referenceH/2)
		require.NotZero(t, f)
		start = geom.PoseFromHomography(h, f, referenceW/2, referenceH/2, 0)
		got, rms, sdF, sdK1 := v.fitView(t, start, true)
		t.Logf("%g mm at %2.0f°: f %.2f ± %.2f (OpenCV %.2f ± %.2f, truly %.2f, start %.0f), K1 %.5f ± %.5f (%.5f ± %.5f)",
			v.Focal35, v.Tilt, got.F, sdF, v.Camera.F, v.Camera.SdF, v.Truth.F, f, got.K1, sdK1, v.Camera.K1, v.Camera.SdK1)
		require.InDelta(t, v.Camera.RMS, rms, 1e-5, "px at %g°", v.Tilt)
		require.InDelta(t, v.Camera.F, got.F, 0.01*sdF, "px at %g°", v.Tilt)
		require.InDelta(t, v.Camera.K1, got.K1, 0.01*sdK1, "at %g°", v.Tilt)
		require.InEpsilon(t, v.Camera.SdF, sdF, 0.02, "px at %g°", v.Tilt)
		require.InEpsilon(t, v.Camera.SdK1, sdK1, 0.02, "at %g°", v.Tilt)
		ref := geom.Camera{F: v.Camera.F, K1: v.Camera.K1, R: matrixOf(v.Camera.R), T: v.Camera.T}
		require.InDelta(t, 0, got.Eye().Sub(ref.Eye()).Norm(), 0.01*sdF/got.F*ref.T[2], "mm, eye at %g°", v.Tilt)
		require.Less(t, math.Abs(got.F-v.Truth.F), 4*sdF, "px at %g°", v.Tilt)
	}
}
