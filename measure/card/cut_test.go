package card

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// A card that the picture's rim cuts off is called that, whether a side is missing or a corner only, and
// however little of it.
func TestFindCardCutOff(t *testing.T) {
	const w, h, scale = 1000, 800, 6.0
	paper, face, stripe := geom.Vec3{0.6, 0.6, 0.57}, geom.Vec3{0.1, 0.2, 0.3}, geom.Vec3{0.3, 0.3, 0.1}
	for _, roll := range []float64{0, 12, 35} {
		for _, gone := range []float64{3, 8, 20} {
			t.Run(fmt.Sprintf("%.0f mm at %.0f°", gone, roll), func(t *testing.T) {
				cam := scene.LookAt(w, h, 26, scale, 5, 30, roll, 0, 0)
				// The farthest corner to the right goes beyond the rim by so much.
				far := 0.0
				for _, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
					far = math.Max(far, cam.Project(geom.Vec3{k[0] * id1.A, k[1] * id1.B, measure.ID1Thickness}).X)
				}
				cam.T[0] += (w-far)/scale + gone
				img := scene.Drawn{W: w, H: h, Cam: cam, Noise: 2, Light: scene.Card(measure.ID1Long, measure.ID1Short, measure.ID1Radius, face, stripe, paper)}.Draw(uint64(roll))
				_, why := find(picture.NewFrame(img), measure.Options{Focal35mm: 26})
				require.Equal(t, []measure.Reason{measure.CardCutOff}, why)
			})
		}
	}
}

// A frame printed in grey on grey is more of an edge than the card's own on speckled stone: the card is
// found all the same, and is not taken for a business card's size.
func TestFindCardWithFaintEdgeAndFrame(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 3))
	const n, grain = 400, 1.5 // mm
	stone := make([]float64, n*n)
	for i := range stone {
		stone[i] = 0.16 + 0.1*rnd.Float64()
	}
	face, ink := geom.Vec3{0.25, 0.25, 0.27}, geom.Vec3{0.1, 0.1, 0.12}
	card := func(x, y float64) geom.Vec3 {
		switch d := geom.OutlineDistance(x, y, measure.ID1Long/2, measure.ID1Short/2, measure.ID1Radius); {
		case d > 0:
			v := stone[(int(x/grain+n/2)%n*n+int(y/grain+n/2)%n+n*n)%(n*n)]
			if d < 0.4 { // dark under the card's edge
				v *= 0.6
			}
			return geom.Vec3{v, v, v}
		case math.Abs(math.Max(math.Abs(x)-measure.ID1Long/2+3.5, math.Abs(y)-measure.ID1Short/2+3.5)) < 0.35:
			return ink
		}
		return face
	}
	const w, h = 1000, 750
	for _, f35 := range []float64{26, 0} {
		cam := scene.LookAt(w, h, 26, 6, 10, 30, 14, 5, -3)
		img := scene.Drawn{W: w, H: h, Cam: cam, Noise: 3, Light: card}.Draw(1)
		got, why := find(picture.NewFrame(img), measure.Options{Focal35mm: f35})
		require.Empty(t, why)
		for k, p := range [4]geom.Vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			truth := cam.Project(geom.Vec3{p[0] * id1.A, p[1] * id1.B, measure.ID1Thickness})
			require.Less(t, min(geom.Distance(truth, got.Corners[k]), geom.Distance(truth, got.Corners[(k+2)%4])), 2.5, "px, corner %d", k)
		}
	}
}

// A card with a dark border on three sides and stripes as light as the paper: of the fourth side only the dark
// stripes' ends are edge.
func TestFindCardWithFaintSide(t *testing.T) {
	paper, dark := geom.Vec3{0.6, 0.6, 0.58}, geom.Vec3{0.05, 0.04, 0.06}
	light := func(x, y float64) geom.Vec3 {
		d := geom.OutlineDistance(x, y, id1.A, id1.B, id1.R)
		switch {
		case d > 0:
			return paper
		case d > -2 && y < id1.B-4 || math.Mod(2*x+y+500, 8) < 4:
			return dark
		}
		return geom.Vec3{0.53, 0.62, 0.58}
	}
	cam := scene.LookAt(1200, 900, 26, 7, 8, 40, 20, -4, 3)
	opt := measure.Options{Focal35mm: 26}
	f := picture.NewFrame(scene.Drawn{W: 1200, H: 900, Cam: cam, Noise: 3, Light: light}.Draw(1))
	// As the finder gives it, some millimetres off, whichever way: the fit ends in one place.
	for _, off := range [][4][2]float64{{{3, 2}, {-2, 3}, {-3, -3}, {2, -2}}, {{-2, -3}, {3, -1}, {2, 3}, {-3, 2}}, {}} {
		var shape candidate
		for k, p := range [4]geom.Vec3{{-1, 1}, {1, 1}, {1, -1}, {-1, -1}} {
			shape.corners[k] = cam.Project(geom.Vec3{p[0]*id1.A + off[k][0], p[1]*id1.B + off[k][1], measure.ID1Thickness})
		}
		shape.likely = true
		s := search{f: f, opt: opt}
		require.True(t, s.prove([]candidate{shape}))
		require.Empty(t, s.why)
		for k, p := range [4]geom.Vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			truth := cam.Project(geom.Vec3{p[0] * id1.A, p[1] * id1.B, measure.ID1Thickness})
			require.Less(t, min(geom.Distance(truth, s.card.Corners[k]), geom.Distance(truth, s.card.Corners[(k+2)%4])), 1.0, "px, corner %d", k)
		}
	}
}

// Without EXIF a long lens is far from what is expected, and the fit has a long way to go.
func TestFindCardFocalLengthOfLongLens(t *testing.T) {
	const w, h = 1000, 750
	face, paper := geom.Vec3{0.1, 0.2, 0.3}, geom.Vec3{0.6, 0.6, 0.57}
	for _, tilt := range []float64{10, 20} {
		cam := scene.LookAt(w, h, 52, 6, tilt, 70, 25, 12, -8)
		img := scene.Drawn{W: w, H: h, Cam: cam, Noise: 1, Light: scene.Card(measure.ID1Long, measure.ID1Short, measure.ID1Radius, face, face, paper)}.Draw(2)
		got, why := find(picture.NewFrame(img), measure.Options{})
		require.Empty(t, why)
		t.Logf("%.0f°: f %.0f ± %.0f px, truly %.0f", tilt, got.Cam.F, got.focalSigma, cam.F)
		require.InDelta(t, cam.F, got.Cam.F, 2.5*got.focalSigma, "px")
	}
}
