package hole

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// The hole's covariance against the spread of its results over pictures that differ by their
// pixels' noise alone (Monte Carlo, JCGM 101 against JCGM 100): noise is only a part of what is
// said, beside the doubts about each sector's edge (rimDoubt) and a careful count of how many
// samples are independent. What is said must cover the spread, and not by far more.
func TestHoleSigmaAgainstMonteCarlo(t *testing.T) {
	const (
		w, h, thickness = 460, 400, 2.4
		rim, bore       = 8.7, 4.9
		trials          = 120
	)
	cam := scene.LookAt(w, h, 26, 9, 14, 60, 20, 0, 0)
	face := geom.Face{O: geom.Vec3{-15, -18, thickness}, U: geom.Vec3{1, 0, 0}, V: geom.Vec3{0, 1, 0}, N: geom.Vec3{0, 0, 1}, Width: 40, Height: 60}
	eye := cam.Eye()
	light := func(x, y float64) geom.Vec3 {
		at := func(depth float64) (float64, float64) { // along the line of sight to a depth below the face
			s := (eye[2] - thickness + depth) / (eye[2] - measure.ID1Thickness)
			return eye[0] + s*(x-eye[0]), eye[1] + s*(y-eye[1])
		}
		a, b := at(0)
		if math.Hypot(a, b) > rim/2 {
			return geom.Vec3{0.3, 0.3, 0.3}
		}
		a, b = at((rim - bore) / 2 / countersinkTan)
		if math.Hypot(a, b) < bore/2 {
			return geom.Vec3{0.55, 0.55, 0.55}
		}
		return geom.Vec3{0.12, 0.12, 0.12}
	}
	plain := picture.NewFrame(scene.Drawn{W: w, H: h, Cam: cam, Noise: 0, Light: light}.Draw(1))
	rnd := rand.New(rand.NewPCG(9, 9))
	var sum, square, sigma [3]float64
	for range trials {
		f := *plain
		f.Y = slices.Clone(plain.Y)
		for i, v := range f.Y {
			f.Y[i] = uint8(math.Min(255, math.Max(0, math.Round(float64(v)+10*rnd.NormFloat64()))))
		}
		view := newFaceView(&f, &cam, face)
		s := holeShape{u: 15, v: 18, rim: rim / 2, bore: bore / 2}
		s.depth = s.depthExpected(view.thickness)
		got := view.refine(s)
		for k, v := range [3]float64{got.u - 15, got.v - 18, got.rim - rim/2} {
			sum[k], square[k], sigma[k] = sum[k]+v, square[k]+v*v, sigma[k]+got.sigma(k)
		}
	}
	for k, name := range []string{"from edge", "from end", "rim's radius"} {
		mean := sum[k] / trials
		spread := math.Sqrt((square[k] - trials*mean*mean) / (trials - 1))
		said := sigma[k] / trials
		t.Logf("%s: off by %+.4f mm, spread %.4f, said %.4f", name, mean, spread, said)
		require.Less(t, spread, 1.2*said, name) // 120 results know their spread to 6.5 %
		require.Greater(t, spread, said/3, name)
		require.Less(t, math.Abs(mean), said+0.01, name)
	}
}
