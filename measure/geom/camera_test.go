package geom_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// Rodrigues' formula against the matrix exponential of gonum (mat.Dense.Exp).
func TestRotationAgainstGonum(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 1))
	for _, size := range []float64{0, 1e-14, 1e-6, 0.1, 1, 3, 3.14159} {
		w := geom.Vec3{rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()}.Unit().Mul(size)
		var e mat.Dense
		e.Exp(mat.NewDense(3, 3, []float64{0, -w[2], w[1], w[2], 0, -w[0], -w[1], w[0], 0}))
		r := geom.Rotation(w)
		for i := range 3 {
			for j := range 3 {
				require.InDelta(t, e.At(i, j), r[i][j], 1e-12, "|w| %g", size)
			}
		}
	}
}

// dlt is the plain direct linear transform: the homography as the null vector of the
// equations, by gonum's mat.SVD (Hartley and Zisserman, "Multiple view geometry", 4.1).
func dlt(t *testing.T, pts [][2]float64, px []measure.Pixel) geom.Mat3 {
	a := mat.NewDense(2*len(pts), 9, nil)
	const k = 0.01 // keeps millimetres and thousands of pixels near one
	for i, p := range pts {
		x, y, u, v := p[0]*k, p[1]*k, px[i].X*k*0.1, px[i].Y*k*0.1
		a.SetRow(2*i, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y, -u})
		a.SetRow(2*i+1, []float64{0, 0, 0, x, y, 1, -v * x, -v * y, -v})
	}
	var svd mat.SVD
	require.True(t, svd.Factorize(a, mat.SVDFull))
	var vt mat.Dense
	svd.VTo(&vt)
	h := func(i int) float64 { return vt.At(i, 8) }
	m := geom.Mat3{{h(0), h(1), h(2)}, {h(3), h(4), h(5)}, {h(6), h(7), h(8)}}
	return geom.Mat3{{1 / (k * 0.1), 0, 0}, {0, 1 / (k * 0.1), 0}, {0, 0, 1}}.Times(m).Times(geom.Mat3{{k, 0, 0}, {0, k, 0}, {0, 0, 1}})
}

func TestHomographyAgainstSVD(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 1))
	for round := range 30 {
		cam := scene.LookAt(4000, 3000, 26, 12, rnd.Float64()*40, rnd.Float64()*360, rnd.Float64()*360, rnd.Float64()*80-40, rnd.Float64()*60-30)
		var pts [][2]float64
		var exact, noisy []measure.Pixel
		for range 4 + round {
			p := [2]float64{rnd.Float64()*120 - 60, rnd.Float64()*120 - 60}
			if round == 0 { // four random places may lie nearly on a line: the card's corners
				p = [4][2]float64{{-43, -27}, {43, -27}, {43, 27}, {-43, 27}}[len(pts)]
			}
			q := cam.Project(geom.Vec3{p[0], p[1], 0})
			pts, exact = append(pts, p), append(exact, q)
			noisy = append(noisy, measure.Pixel{X: q.X + 0.3*rnd.NormFloat64(), Y: q.Y + 0.3*rnd.NormFloat64()})
		}
		h, err := geom.Homography(pts, exact)
		require.NoError(t, err)
		for i, p := range pts {
			require.InDelta(t, 0, geom.Distance(exact[i], scene.Mapped(h, p[0], p[1])), 1e-6, "px")
		}
		if round < 6 {
			continue // few places, noise: two least squares of different residuals part
		}
		h, err = geom.Homography(pts, noisy)
		require.NoError(t, err)
		ref := dlt(t, pts, noisy)
		for _, p := range [][2]float64{{-40, -40}, {40, -40}, {0, 0}, {40, 40}, {-40, 40}} {
			// 0.3 px of noise; how the equations are weighted moves the answer by far less.
			require.InDelta(t, 0, geom.Distance(scene.Mapped(ref, p[0], p[1]), scene.Mapped(h, p[0], p[1])), 0.15, "px, round %d", round)
		}
	}
}

func TestHomographyRefusesWhatIsDegenerate(t *testing.T) {
	px := []measure.Pixel{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 100}, {X: 0, Y: 100}}
	for name, pts := range map[string][][2]float64{
		"three places":   {{0, 0}, {1, 0}, {1, 1}},
		"all the same":   {{1, 1}, {1, 1}, {1, 1}, {1, 1}},
		"all on a line":  {{0, 0}, {1, 1}, {2, 2}, {3, 3}},
		"not a number":   {{math.NaN(), 0}, {1, 0}, {1, 1}, {0, 1}},
		"one more place": {{0, 0}, {1, 0}, {1, 1}, {0, 1}, {2, 2}},
	} {
		_, err := geom.Homography(pts, px[:min(len(pts), 4)])
		require.ErrorIs(t, err, geom.ErrDegenerate, name)
	}
}

// What project puts into the picture, ray and onto take out again, for any lens that is
// expected (K1 within three standard uncertainties of none), to the picture's corners.
func TestCameraRoundTrips(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 1))
	for range 200 {
		cam := scene.LookAt(4000, 3000, 24+rnd.Float64()*30, 8+rnd.Float64()*10, rnd.Float64()*40, rnd.Float64()*360, rnd.Float64()*360, 20, -10)
		cam.K1 = (2*rnd.Float64() - 1) * 0.03 // a per cent in the corners is usual: three times that
		p := measure.Pixel{X: rnd.Float64() * 4000, Y: rnd.Float64() * 3000}
		n := geom.Vec3{rnd.NormFloat64() * 0.05, rnd.NormFloat64() * 0.05, 1}.Unit()
		pl := geom.Plane{N: n, D: rnd.Float64() * 6}
		x := cam.Onto(p, pl)
		require.InDelta(t, pl.D, n.Dot(x), 1e-9, "mm off the plane")
		require.InDelta(t, 0, geom.Distance(p, cam.Project(x)), 1e-4, "px")

		// A world point, and the line of sight through its picture, pass each other at no distance.
		w := geom.Vec3{rnd.Float64()*100 - 50, rnd.Float64()*100 - 50, rnd.Float64() * 10}
		r := cam.Ray(cam.Project(w)).Unit()
		d := w.Sub(cam.Eye())
		require.InDelta(t, 0, d.Sub(r.Mul(d.Dot(r))).Norm(), 1e-5, "mm")

		// Its camera's place is the centre of its lines of sight.
		require.InDelta(t, 0, cam.R.Apply(cam.Eye()).Add(cam.T).Norm(), 1e-9)
	}
	cam := scene.LookAt(4000, 3000, 26, 10, 10, 0, 0, 0, 0)
	behind := cam.Eye().Mul(2)
	require.True(t, math.IsNaN(cam.Project(behind).X), "behind the camera")
}

// pxPerMM against the pictures of two places a hundredth of a millimetre apart, square to
// the line of sight.
func TestPxPerMM(t *testing.T) {
	cam := scene.LookAt(4000, 3000, 26, 10, 20, 30, 40, 0, 0)
	x := cam.Onto(measure.Pixel{X: 2000, Y: 1500}, geom.Level(0))
	for _, d := range []geom.Vec3{cam.R[0], cam.R[1]} {
		a, b := cam.Project(x.Sub(d.Mul(0.005))), cam.Project(x.Add(d.Mul(0.005)))
		require.InEpsilon(t, geom.Distance(a, b)/0.01, cam.PxPerMM(x), 1e-6)
	}
}

// A synthetic camera's focal length and pose come back out of the homography of a plane.
func TestFocalAndPoseFromHomography(t *testing.T) {
	corners := [][2]float64{{-42.8, -26.99}, {42.8, -26.99}, {42.8, 26.99}, {-42.8, 26.99}}
	rnd := rand.New(rand.NewPCG(6, 1))
	for _, tilt := range []float64{0, 2, 5, 15, 25, 35, 45} {
		for range 10 {
			cam := scene.LookAt(4000, 3000, 26, 10, tilt, rnd.Float64()*360, rnd.Float64()*360, rnd.Float64()*60-30, rnd.Float64()*40-20)
			var px []measure.Pixel
			for _, c := range corners {
				px = append(px, cam.Project(geom.Vec3{c[0], c[1], measure.ID1Thickness}))
			}
			h, err := geom.Homography(corners, px)
			require.NoError(t, err)
			for _, scale := range []float64{1, -3} { // a homography has no scale and no sign
				g := geom.Mat3{h[0].Mul(scale), h[1].Mul(scale), h[2].Mul(scale)}
				if tilt >= 2 {
					require.InEpsilon(t, cam.F, scene.FocalFromHomography(g, cam.Cx, cam.Cy), 1e-5, "px at %g°", tilt)
				}
				got := geom.PoseFromHomography(g, cam.F, cam.Cx, cam.Cy, measure.ID1Thickness)
				require.InDelta(t, 0, got.Eye().Sub(cam.Eye()).Norm(), 1e-5, "mm at %g°", tilt)
				for _, w := range []geom.Vec3{{0, 0, 0}, {60, -70, 2}, {-60, 70, 12}} {
					require.InDelta(t, 0, geom.Distance(cam.Project(w), got.Project(w)), 1e-4, "px at %g°", tilt)
				}
				i := got.R.Times(got.R.Transpose())
				for k := range 3 {
					for l := range 3 {
						want := 0.0
						if k == l {
							want = 1
						}
						require.InDelta(t, want, i[k][l], 1e-12)
					}
				}
				require.InDelta(t, 1, got.R[0].Cross(got.R[1]).Dot(got.R[2]), 1e-12, "not mirrored")
			}
		}
	}
}

// Square to the plane any focal length will do, and none is made up.
func TestFocalFromASquareView(t *testing.T) {
	require.Zero(t, scene.FocalFromHomography(geom.Mat3{{10, 0, 2000}, {0, -10, 1500}, {0, 0, 1}}, 2000, 1500))
	// A plane of which the picture is sheared, seen squarely, fits no focal length at all.
	require.Zero(t, scene.FocalFromHomography(geom.Mat3{{10, 5, 2000}, {0, -10, 1500}, {0, 0, 1}}, 2000, 1500))
}
