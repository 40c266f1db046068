package measure

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Drawn cards over tilt, turn, colour and focal length: found, and the corners right. They
// have no wall and no shadow, which the model has to find out.
func TestFindCardDrawn(t *testing.T) {
	white, paper := vec3{0.75, 0.75, 0.72}, vec3{0.62, 0.61, 0.58}
	dark, blue, red := vec3{0.03, 0.03, 0.035}, vec3{0.05, 0.12, 0.4}, vec3{0.4, 0.05, 0.06}
	rnd := rand.New(rand.NewPCG(7, 7))
	for i, s := range []struct {
		name                 string
		f35, tilt            float64
		face, stripe, ground vec3
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
			cam := lookAt(w, h, s.f35, 4.5, s.tilt, rnd.Float64()*360, rnd.Float64()*360, rnd.Float64()*30-15, rnd.Float64()*20-10)
			img := drawnScene{w, h, cam, 2, drawnCard(cardLong, cardShort, cardRadius, s.face, s.stripe, s.ground)}.draw(uint64(i))
			got, why := findCard(newFrame(img), Options{Focal35mm: s.f35})
			require.Empty(t, why)
			for k, p := range [4]vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				truth := cam.project(vec3{p[0] * id1.a, p[1] * id1.b, cardThickness})
				d := Distance(truth, got.corners[k])
				d = min(d, Distance(truth, got.corners[(k+2)%4]))
				// The model expects shadow and wall: it may be off by a quarter of a pixel for the
				// one, and by what would be seen of the other.
				wall := math.Tan(s.tilt*math.Pi/180) * cardThickness * 4.5
				require.Less(t, d, 0.35+wall, "px, corner %d", k)
			}
			require.InDelta(t, cam.F, got.cam.F, 3*got.focalSigma, "px")
		})
	}
}

// Things that are no ID-1 card. Sizes of business cards: common practice, no source.
func TestFindCardRefusesOtherThings(t *testing.T) {
	paper, face, stripe := vec3{0.6, 0.6, 0.57}, vec3{0.1, 0.2, 0.3}, vec3{0.3, 0.3, 0.1}
	leaf := func(x, y float64) vec3 { // white, 101.6 × 44 mm, quarter-inch corners on one side, three holes
		d := outlineDistance(x, y, 50.8, 22, 6.35)
		if y > 0 && math.Abs(x) < 50.8 && y < 22 {
			d = -1
		}
		for _, h := range [3][2]float64{{-36, 10}, {0, -8}, {36, 10}} {
			if math.Hypot(x-h[0], y-h[1]) < 4 {
				return vec3{0.2, 0.2, 0.2}
			}
		}
		if d > 0 {
			return paper
		}
		return vec3{0.8, 0.8, 0.8}
	}
	for i, s := range []struct {
		name  string
		light func(x, y float64) vec3
		want  Reason
	}{
		{"US business card", drawnCard(88.9, 50.8, 0, face, stripe, paper), CardWrongSize},
		{"European business card", drawnCard(85, 55, 0, face, stripe, paper), CardWrongSize},
		{"European business card, plain", drawnCard(85, 55, 0, face, face, paper), CardWrongSize},
		{"square sheet", drawnCard(70, 70, 0, face, face, paper), CardMissing},
		{"A7 sheet", drawnCard(105, 74, 0, face, face, paper), CardMissing},
		{"white hinge leaf", leaf, CardMissing},
		{"card of 1.4 : 1", drawnCard(76, 54, cardRadius, face, face, paper), CardMissing},
		{"card of 1.75 : 1 with round corners", drawnCard(94.5, 54, cardRadius, face, face, paper), CardMissing},
		{"nothing", func(x, y float64) vec3 { return paper }, CardMissing},
	} {
		for _, tilt := range []float64{3, 25} {
			t.Run(fmt.Sprintf("%s at %.0f°", s.name, tilt), func(t *testing.T) {
				const w, h = 1000, 750
				cam := lookAt(w, h, 26, 4.5, tilt, 40*float64(i), 25*float64(i), 5, -3)
				img := drawnScene{w, h, cam, 2, s.light}.draw(uint64(i))
				_, why := findCard(newFrame(img), Options{Focal35mm: 26})
				require.Equal(t, []Reason{s.want}, why)
			})
		}
	}
	for _, side := range []struct{ x, y float64 }{{60, 0}, {-60, 0}, {0, 55}, {0, -65}} {
		t.Run(fmt.Sprintf("card cut off at %+.0f %+.0f", side.x, side.y), func(t *testing.T) {
			const w, h = 1000, 800
			cam := lookAt(w, h, 26, 6, 5, 30, 10, side.x, side.y)
			img := drawnScene{w, h, cam, 2, drawnCard(cardLong, cardShort, cardRadius, face, stripe, paper)}.draw(3)
			_, why := findCard(newFrame(img), Options{Focal35mm: 26})
			require.Equal(t, []Reason{CardCutOff}, why)
		})
	}
}

func TestQuality(t *testing.T) {
	plain := func(v float64) func(x, y float64) vec3 {
		return drawnCard(cardLong, cardShort, cardRadius, vec3{v / 3, v / 2, v / 4}, vec3{v / 3, v / 2, v / 4}, vec3{v, v, v})
	}
	for _, s := range []struct {
		name  string
		w, h  int
		light float64
		want  []Reason
	}{
		{"a good picture", 800, 600, 0.5, nil},
		{"a grey table", 800, 600, 0.08, nil},
		{"a dark room", 800, 600, 0.012, []Reason{TooDark}},
		{"into the lamp", 800, 600, 1.3, []Reason{Glare}},
		{"a thumbnail", 320, 240, 0.5, []Reason{TooSmall}},
	} {
		t.Run(s.name, func(t *testing.T) {
			cam := lookAt(s.w, s.h, 26, float64(s.w)/200, 5, 0, 0, 0, 0)
			require.Equal(t, s.want, quality(newFrame(drawnScene{s.w, s.h, cam, 2, plain(s.light)}.draw(1))))
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
		fit, why := findCard(newFrame(m), Options{Focal35mm: float64(seed % 60)})
		if len(why) == 0 {
			require.False(t, math.IsNaN(fit.cam.F+fit.corners[0].X+fit.rms))
		}
		quality(newFrame(m))
	})
}

// Cards with a white core, whose walls are the lightest thing there is, and shadows with an end,
// as a lamp or the sun casts them: the top edge is found, not the wall's foot or the shadow's end.
func TestFindCardWithWallAndShadow(t *testing.T) {
	wood, green, dark, grey, white := vec3{0.22, 0.14, 0.09}, vec3{0.3, 0.6, 0.15}, vec3{0.03, 0.03, 0.04}, vec3{0.38, 0.4, 0.42}, vec3{0.8, 0.8, 0.8}
	for _, s := range []struct {
		name              string
		face, wall        vec3
		sunX, sunY, shade float64 // how far each mm of height throws its shadow, mm; share of the light that is missing
	}{
		{"white core", green, white, 0, 0, 0},
		{"white core, grey face", grey, grey.mul(0.9), 0, 0, 0},
		{"white core, dark face", dark, white, 0, 0, 0},
		{"cast shadow", green, green.mul(0.3), 0.9, 0.5, 0.75},
		{"white core, cast shadow", green, white, 0.9, 0.5, 0.75},
	} {
		t.Run(s.name, func(t *testing.T) {
			const w, h, scale = 1100, 850, 7.0
			cam := lookAt(w, h, 26, scale, 33, 25, 12, 5, -5)
			eye := cam.eye()
			outside := func(x, y float64) bool { return outlineDistance(x, y, id1.a, id1.b, id1.r) > 0 }
			light := func(x, y float64) vec3 {
				switch d := outlineDistance(x, y, id1.a, id1.b, id1.r); {
				case d <= 0:
					return s.face
				case d > 2.5:
					return wood
				}
				const steps = 8
				for k := 1; k <= steps; k++ { // down along the line of sight
					z := cardThickness * (1 - float64(k)/steps)
					q := (eye[2] - z) / (eye[2] - cardThickness)
					if !outside(eye[0]+q*(x-eye[0]), eye[1]+q*(y-eye[1])) {
						return s.wall
					}
				}
				q := eye[2] / (eye[2] - cardThickness)
				x, y = eye[0]+q*(x-eye[0]), eye[1]+q*(y-eye[1])
				for k := range steps + 1 {
					z := cardThickness * float64(k) / steps
					if !outside(x-z*s.sunX, y-z*s.sunY) {
						return wood.mul(1 - s.shade)
					}
				}
				return wood
			}
			got, why := findCard(newFrame(drawnScene{w, h, cam, 2, light}.draw(4)), Options{Focal35mm: 26})
			require.Empty(t, why)
			var sum, n [4]float64
			for _, p := range got.points {
				d := cam.onto(p.at, level(cardThickness))
				side := cardSide(d[0], d[1], id1.a, id1.b)
				sum[side] += outlineDistance(d[0], d[1], id1.a, id1.b, 0)
				n[side]++
			}
			for k := range sum {
				require.InDelta(t, 0, sum[k]/n[k]*scale, 0.45, "px, side %d", k)
			}
		})
	}
}
