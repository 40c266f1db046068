package card

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// Drawn cards over tilt, turn, colour and focal length: found, and the corners right. They
// have no wall and no shadow, which the model has to find out.
func TestFindCardDrawn(t *testing.T) {
	white, paper := geom.Vec3{0.75, 0.75, 0.72}, geom.Vec3{0.62, 0.61, 0.58}
	dark, blue, red := geom.Vec3{0.03, 0.03, 0.035}, geom.Vec3{0.05, 0.12, 0.4}, geom.Vec3{0.4, 0.05, 0.06}
	rnd := rand.New(rand.NewPCG(7, 7))
	for i, s := range []struct {
		name                 string
		f35, tilt            float64
		face, stripe, ground geom.Vec3
	}{
		{"dark on paper", 26, 2, dark, dark, paper},
		{"white on paper", 26, 10, white, white, paper},
		{"blue and white on paper", 24, 20, blue, white, paper},
		{"red on dark", 28, 28, red, red, dark},
		{"blue and red on white", 52, 35, blue, red, white},
		{"white on dark", 35, 33, white, paper, dark},
		{"red and dark on blue", 26, 15, red, dark, blue},
	} {
		t.Run(s.name, func(t *testing.T) {
			const w, h = 800, 600
			cam := scene.LookAt(w, h, s.f35, 4.5, s.tilt, rnd.Float64()*360, rnd.Float64()*360, rnd.Float64()*30-15, rnd.Float64()*20-10)
			img := scene.Drawn{W: w, H: h, Cam: cam, Noise: 2, Light: scene.Card(measure.ID1Long, measure.ID1Short, measure.ID1Radius, s.face, s.stripe, s.ground)}.Draw(uint64(i))
			got, why := find(picture.NewFrame(img), measure.Options{Focal35mm: s.f35})
			require.Empty(t, why)
			for k, p := range [4]geom.Vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				truth := cam.Project(geom.Vec3{p[0] * id1.A, p[1] * id1.B, measure.ID1Thickness})
				d := geom.Distance(truth, got.Corners[k])
				d = min(d, geom.Distance(truth, got.Corners[(k+2)%4]))
				// The model expects shadow and wall: it may be off by a quarter of a pixel for the
				// one, and by what would be seen of the other.
				wall := math.Tan(s.tilt*math.Pi/180) * measure.ID1Thickness * 4.5
				require.Less(t, d, 0.35+wall, "px, corner %d", k)
			}
			require.InDelta(t, cam.F, got.Cam.F, 3*got.focalSigma, "px")
		})
	}
}

// Things that are no ID-1 card. Sizes of business cards: common practice, no source.
func TestFindCardRefusesOtherThings(t *testing.T) {
	paper, face, stripe := geom.Vec3{0.6, 0.6, 0.57}, geom.Vec3{0.1, 0.2, 0.3}, geom.Vec3{0.3, 0.3, 0.1}
	leaf := func(x, y float64) geom.Vec3 { // white, 101.6 × 44 mm, quarter-inch corners on one side, three holes
		d := geom.OutlineDistance(x, y, 50.8, 22, 6.35)
		if y > 0 && math.Abs(x) < 50.8 && y < 22 {
			d = -1
		}
		for _, h := range [3][2]float64{{-36, 10}, {0, -8}, {36, 10}} {
			if math.Hypot(x-h[0], y-h[1]) < 4 {
				return geom.Vec3{0.2, 0.2, 0.2}
			}
		}
		if d > 0 {
			return paper
		}
		return geom.Vec3{0.8, 0.8, 0.8}
	}
	for i, s := range []struct {
		name  string
		light func(x, y float64) geom.Vec3
		want  measure.Reason
	}{
		{"US business card", scene.Card(88.9, 50.8, 0, face, stripe, paper), measure.CardWrongSize},
		{"European business card", scene.Card(85, 55, 0, face, stripe, paper), measure.CardWrongSize},
		{"European business card, plain", scene.Card(85, 55, 0, face, face, paper), measure.CardWrongSize},
		{"square sheet", scene.Card(70, 70, 0, face, face, paper), measure.CardMissing},
		{"A7 sheet", scene.Card(105, 74, 0, face, face, paper), measure.CardMissing},
		{"white hinge leaf", leaf, measure.CardMissing},
		{"card of 1.4 : 1", scene.Card(76, 54, measure.ID1Radius, face, face, paper), measure.CardMissing},
		{"card of 1.75 : 1 with round corners", scene.Card(94.5, 54, measure.ID1Radius, face, face, paper), measure.CardMissing},
		{"nothing", func(x, y float64) geom.Vec3 { return paper }, measure.CardMissing},
	} {
		for _, tilt := range []float64{3, 25} {
			t.Run(fmt.Sprintf("%s at %.0f°", s.name, tilt), func(t *testing.T) {
				const w, h = 1000, 750
				cam := scene.LookAt(w, h, 26, 4.5, tilt, 40*float64(i), 25*float64(i), 5, -3)
				img := scene.Drawn{W: w, H: h, Cam: cam, Noise: 2, Light: s.light}.Draw(uint64(i))
				_, why := find(picture.NewFrame(img), measure.Options{Focal35mm: 26})
				require.Equal(t, []measure.Reason{s.want}, why)
			})
		}
	}
	for _, side := range []struct{ x, y float64 }{{60, 0}, {-60, 0}, {0, 55}, {0, -65}} {
		t.Run(fmt.Sprintf("card cut off at %+.0f %+.0f", side.x, side.y), func(t *testing.T) {
			const w, h = 1000, 800
			cam := scene.LookAt(w, h, 26, 6, 5, 30, 10, side.x, side.y)
			img := scene.Drawn{W: w, H: h, Cam: cam, Noise: 2, Light: scene.Card(measure.ID1Long, measure.ID1Short, measure.ID1Radius, face, stripe, paper)}.Draw(3)
			_, why := find(picture.NewFrame(img), measure.Options{Focal35mm: 26})
			require.Equal(t, []measure.Reason{measure.CardCutOff}, why)
		})
	}
}

func TestQuality(t *testing.T) {
	plain := func(v float64) func(x, y float64) geom.Vec3 {
		return scene.Card(measure.ID1Long, measure.ID1Short, measure.ID1Radius, geom.Vec3{v / 3, v / 2, v / 4}, geom.Vec3{v / 3, v / 2, v / 4}, geom.Vec3{v, v, v})
	}
	for _, s := range []struct {
		name  string
		w, h  int
		light float64
		want  []measure.Reason
	}{
		{"a good picture", 800, 600, 0.5, nil},
		{"a grey table", 800, 600, 0.08, nil},
		{"a dark room", 800, 600, 0.012, []measure.Reason{measure.TooDark}},
		{"into the lamp", 800, 600, 1.3, []measure.Reason{measure.Glare}},
		{"a thumbnail", 320, 240, 0.5, []measure.Reason{measure.TooSmall}},
	} {
		t.Run(s.name, func(t *testing.T) {
			cam := scene.LookAt(s.w, s.h, 26, float64(s.w)/200, 5, 0, 0, 0, 0)
			require.Equal(t, s.want, quality(picture.NewFrame(scene.Drawn{W: s.w, H: s.h, Cam: cam, Noise: 2, Light: plain(s.light)}.Draw(1))))
		})
	}
}

// Any picture gives an answer, however small or senseless.
func FuzzFindCard(f *testing.F) {
	f.Add(uint16(640), uint16(480), uint64(1))
	f.Add(uint16(1), uint16(1), uint64(2))
	f.Add(uint16(2), uint16(900), uint64(3))
	f.Add(uint16(900), uint16(65), uint64(4))
	f.Fuzz(func(t *testing.T, w, h uint16, seed uint64) {
		rnd := rand.New(rand.NewPCG(seed, 0))
		m := image.NewYCbCr(image.Rect(0, 0, int(w%1200)+1, int(h%1200)+1), image.YCbCrSubsampleRatio420)
		// Random rectangles, lines and noise.
		for range rnd.IntN(40) {
			x, y := rnd.IntN(m.Rect.Dx()), rnd.IntN(m.Rect.Dy())
			dx, dy, v := rnd.IntN(400)+1, rnd.IntN(400)+1, uint8(rnd.Uint32())
			for j := y; j < min(y+dy, m.Rect.Dy()); j++ {
				for i := x; i < min(x+dx, m.Rect.Dx()); i++ {
					m.Y[j*m.YStride+i] = v
				}
			}
		}
		for i := range m.Cb {
			m.Cb[i], m.Cr[i] = 128, uint8(rnd.Uint32())
		}
		fit, why := find(picture.NewFrame(m), measure.Options{Focal35mm: float64(seed % 60)})
		if len(why) == 0 {
			require.False(t, math.IsNaN(fit.Cam.F+fit.Corners[0].X+fit.RMS))
		}
		quality(picture.NewFrame(m))
	})
}

// Cards with a white core, whose walls are the lightest thing there is, and shadows with an end,
// as a lamp or the sun casts them: the top edge is found, not the wall's foot or the shadow's end.
func TestFindCardWithWallAndShadow(t *testing.T) {
	wood, green, dark, grey, white := geom.Vec3{0.22, 0.14, 0.09}, geom.Vec3{0.3, 0.6, 0.15}, geom.Vec3{0.03, 0.03, 0.04}, geom.Vec3{0.38, 0.4, 0.42}, geom.Vec3{0.8, 0.8, 0.8}
	for _, s := range []struct {
		name              string
		face, wall        geom.Vec3
		sunX, sunY, shade float64 // how far each mm of height throws its shadow, mm; share of the light that is missing
	}{
		{"white core", green, white, 0, 0, 0},
		{"white core, grey face", grey, grey.Mul(0.9), 0, 0, 0},
		{"white core, dark face", dark, white, 0, 0, 0},
		{"cast shadow", green, green.Mul(0.3), 0.9, 0.5, 0.75},
		{"white core, cast shadow", green, white, 0.9, 0.5, 0.75},
	} {
		t.Run(s.name, func(t *testing.T) {
			const w, h, scale = 1100, 850, 7.0
			cam := scene.LookAt(w, h, 26, scale, 33, 25, 12, 5, -5)
			eye := cam.Eye()
			outside := func(x, y float64) bool { return geom.OutlineDistance(x, y, id1.A, id1.B, id1.R) > 0 }
			light := func(x, y float64) geom.Vec3 {
				switch d := geom.OutlineDistance(x, y, id1.A, id1.B, id1.R); {
				case d <= 0:
					return s.face
				case d > 2.5:
					return wood
				}
				const steps = 8
				for k := 1; k <= steps; k++ { // down along the line of sight
					z := measure.ID1Thickness * (1 - float64(k)/steps)
					q := (eye[2] - z) / (eye[2] - measure.ID1Thickness)
					if !outside(eye[0]+q*(x-eye[0]), eye[1]+q*(y-eye[1])) {
						return s.wall
					}
				}
				q := eye[2] / (eye[2] - measure.ID1Thickness)
				x, y = eye[0]+q*(x-eye[0]), eye[1]+q*(y-eye[1])
				for k := range steps + 1 {
					z := measure.ID1Thickness * float64(k) / steps
					if !outside(x-z*s.sunX, y-z*s.sunY) {
						return wood.Mul(1 - s.shade)
					}
				}
				return wood
			}
			got, why := find(picture.NewFrame(scene.Drawn{W: w, H: h, Cam: cam, Noise: 2, Light: light}.Draw(4)), measure.Options{Focal35mm: 26})
			require.Empty(t, why)
			var sum, n [4]float64
			for _, p := range got.Points {
				d := cam.Onto(p.At, geom.Level(measure.ID1Thickness))
				side := Side(d[0], d[1], id1.A, id1.B)
				sum[side] += geom.OutlineDistance(d[0], d[1], id1.A, id1.B, 0)
				n[side]++
			}
			for k := range sum {
				require.InDelta(t, 0, sum[k]/n[k]*scale, 0.45, "px, side %d", k)
			}
		})
	}
}
