package measure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// A card that the picture's rim cuts off is called that, whether a side is missing or a corner only, and
// however little of it.
func TestFindCardCutOff(t *testing.T) {
	const w, h, scale = 1000, 800, 6.0
	paper, face, stripe := vec3{0.6, 0.6, 0.57}, vec3{0.1, 0.2, 0.3}, vec3{0.3, 0.3, 0.1}
	for _, roll := range []float64{0, 12, 35} {
		for _, gone := range []float64{3, 8, 20} {
			t.Run(fmt.Sprintf("%.0f mm at %.0f°", gone, roll), func(t *testing.T) {
				cam := lookAt(w, h, 26, scale, 5, 30, roll, 0, 0)
				// The farthest corner to the right goes beyond the rim by so much.
				far := 0.0
				for _, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
					far = math.Max(far, cam.project(vec3{k[0] * id1.a, k[1] * id1.b, cardThickness}).X)
				}
				cam.T[0] += (w-far)/scale + gone
				img := drawnScene{w, h, cam, 2, drawnCard(cardLong, cardShort, cardRadius, face, stripe, paper)}.draw(uint64(roll))
				_, why := findCard(newFrame(img), Options{Focal35mm: 26})
				require.Equal(t, []Reason{CardCutOff}, why)
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
	face, ink := vec3{0.25, 0.25, 0.27}, vec3{0.1, 0.1, 0.12}
	card := func(x, y float64) vec3 {
		switch d := outlineDistance(x, y, cardLong/2, cardShort/2, cardRadius); {
		case d > 0:
			v := stone[(int(x/grain+n/2)%n*n+int(y/grain+n/2)%n+n*n)%(n*n)]
			if d < 0.4 { // dark under the card's edge
				v *= 0.6
			}
			return vec3{v, v, v}
		case math.Abs(math.Max(math.Abs(x)-cardLong/2+3.5, math.Abs(y)-cardShort/2+3.5)) < 0.35:
			return ink
		}
		return face
	}
	const w, h = 1000, 750
	for _, f35 := range []float64{26, 0} {
		cam := lookAt(w, h, 26, 6, 10, 30, 14, 5, -3)
		img := drawnScene{w, h, cam, 3, card}.draw(1)
		got, why := findCard(newFrame(img), Options{Focal35mm: f35})
		require.Empty(t, why)
		for k, p := range [4]vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			truth := cam.project(vec3{p[0] * id1.a, p[1] * id1.b, cardThickness})
			require.Less(t, min(Distance(truth, got.corners[k]), Distance(truth, got.corners[(k+2)%4])), 2.5, "px, corner %d", k)
		}
	}
}

// Without EXIF a long lens is far from what is expected, and the fit has a long way to go.
// A card with a dark border on three sides and stripes as light as the paper: of the fourth side only the dark
// stripes' ends are edge, shorter than what counts as a line.
func TestFindCardWithFaintSide(t *testing.T) {
	paper, dark := vec3{0.6, 0.6, 0.58}, vec3{0.05, 0.04, 0.06}
	light := func(x, y float64) vec3 {
		d := outlineDistance(x, y, id1.a, id1.b, id1.r)
		switch {
		case d > 0:
			return paper
		case d > -2 && y < id1.b-4 || math.Mod(2*x+y+500, 8) < 4:
			return dark
		}
		return vec3{0.53, 0.62, 0.58}
	}
	cam := lookAt(1200, 900, 26, 7, 8, 40, 20, -4, 3)
	opt := Options{Focal35mm: 26}
	f := newFrame(drawnScene{1200, 900, cam, 3, light}.draw(1))
	for _, n := range []int{f.reduction(), 2 * f.reduction()} {
		e := newEdgeMap(f.reduce(n))
		for _, c := range newLineSet(e, e.lines()).candidates() {
			_, ok := tryCard(f, c, n, false, opt)
			require.False(t, ok, "its four sides are lines: no test of three")
		}
	}
	got, why := findCard(f, opt)
	require.Empty(t, why)
	for k, p := range [4]vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		truth := cam.project(vec3{p[0] * id1.a, p[1] * id1.b, cardThickness})
		require.Less(t, min(Distance(truth, got.corners[k]), Distance(truth, got.corners[(k+2)%4])), 1.0, "px, corner %d", k)
	}
}

func TestFindCardFocalLengthOfLongLens(t *testing.T) {
	const w, h = 1000, 750
	face, paper := vec3{0.1, 0.2, 0.3}, vec3{0.6, 0.6, 0.57}
	for _, tilt := range []float64{10, 20} {
		cam := lookAt(w, h, 52, 6, tilt, 70, 25, 12, -8)
		img := drawnScene{w, h, cam, 1, drawnCard(cardLong, cardShort, cardRadius, face, face, paper)}.draw(2)
		got, why := findCard(newFrame(img), Options{})
		require.Empty(t, why)
		t.Logf("%.0f°: f %.0f ± %.0f px, truly %.0f", tilt, got.cam.F, got.focalSigma, cam.F)
		require.InDelta(t, cam.F, got.cam.F, 2.5*got.focalSigma, "px")
	}
}
