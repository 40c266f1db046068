package measure

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/boombuler/barcode/qr"
	"github.com/stretchr/testify/require"
)

// codeBits are the modules of an ISO/IEC 18004 code, written by another library than reads it.
func codeBits(t testing.TB, text string) (bits [21][21]bool) {
	code, err := qr.Encode(text, qr.M, qr.AlphaNumeric)
	require.NoError(t, err)
	require.Equal(t, image.Rect(0, 0, 21, 21), code.Bounds())
	for j := range bits {
		for i := range bits[j] {
			r, _, _, _ := code.At(i, j).RGBA()
			bits[j][i] = r < 0x8000
		}
	}
	return bits
}

// A drawnPrint is the printed card as ink on paper.
type drawnPrint struct {
	bits   [21][21]bool
	spread float64 // of the ink, mm
	paper  vec3
	beside func(x, y float64) bool // ink beside the card on its sheet; nil none
}

// light is what is seen at a place of the card, mm from its top left corner.
func (d *drawnPrint) light(x, y float64) vec3 {
	ink := d.paper.mul(0.05)
	l, g := PrintedCard(), d.spread
	outer := outlineDistance(x-l.Width/2, y-l.Height/2, l.Width/2+g, l.Height/2+g, l.Radius)
	inner := outlineDistance(x-l.Width/2, y-l.Height/2, l.Width/2-l.Frame-g, l.Height/2-l.Frame-g, 0)
	switch {
	case outer > 0 && d.beside != nil && d.beside(x, y):
		return ink
	case outer > 0:
		return d.paper
	case inner > 0:
		return ink
	}
	for _, r := range l.Rings {
		if q := math.Hypot(x-r.X, y-r.Y); q < r.Outer+g && (r.Inner == 0 || q > r.Inner-g) {
			return ink
		}
	}
	for _, p := range l.Patches {
		if x > p.X && y > p.Y && x < p.X+p.W && y < p.Y+p.H {
			return vec3{d.paper[0] * linearOf(float64(p.RGB[0])), d.paper[1] * linearOf(float64(p.RGB[1])), d.paper[2] * linearOf(float64(p.RGB[2]))}
		}
	}
	m := l.CodeSide / 21
	i, j := int(math.Floor((x-l.CodeX)/m)), int(math.Floor((y-l.CodeY)/m))
	if i >= 0 && j >= 0 && i < 21 && j < 21 && d.bits[j][i] {
		return ink
	}
	return d.paper
}

// A tableScene is a table with a printed card, and perhaps a hinge and a plain card, seen by a
// camera. The world is the printed card's; what is solid has walls, and nothing casts shadows.
type tableScene struct {
	w, h  int
	cam   camera
	noise float64 // levels
	table vec3
	warm  vec3 // colour of the light; zero white

	print *drawnPrint
	scale float64 // of the print
	cut   bool    // cutMargin outside the frame; else the sheet is left whole
	sheet [4]float64
	hinge *hingeFit // nil: none
	holes [][2]float64
	faces []leafFace
	plain *[3]float64 // place and turn of a plain ID-1 card; nil: none
}

const cutMargin = 1.0 // mm

// ground is the light at a place on the table.
func (s *tableScene) ground(x, y float64) vec3 {
	if s.plain != nil {
		sn, cs := math.Sincos(s.plain[2])
		dx, dy := x-s.plain[0], y-s.plain[1]
		if outlineDistance(dx*cs+dy*sn, -dx*sn+dy*cs, cardLong/2, cardShort/2, cardRadius) < 0 {
			return vec3{0.04, 0.12, 0.35}
		}
	}
	if s.print == nil {
		return s.table
	}
	u, v := x/s.scale+cardLong/2, cardShort/2-y/s.scale
	if s.cut {
		if outlineDistance(u-cardLong/2, v-cardShort/2, cardLong/2+cutMargin, cardShort/2+cutMargin, 1) < 0 {
			return s.print.light(u, v)
		}
		return s.table
	}
	if x > s.sheet[0] && y > s.sheet[1] && x < s.sheet[2] && y < s.sheet[3] {
		return s.print.light(u, v)
	}
	return s.table
}

// seen is the light along a ray from the eye.
func (s *tableScene) seen(eye, ray vec3) vec3 {
	onto := func(p plane) (float64, vec3) {
		t := (p.d - p.n.dot(eye)) / p.n.dot(ray)
		return t, eye.add(ray.mul(t))
	}
	best, ground := onto(level(paperHeight))
	light := s.ground(ground[0], ground[1])
	h := s.hinge
	if h == nil || math.Hypot(ground[0]-h.p[pX], ground[1]-h.p[pY]) > h.p[pHeight] {
		return light // too far off to be hidden by it
	}
	for _, f := range s.faces {
		const steps = 6
		for k := range steps {
			pl := f.plane()
			pl.d -= h.p[pThick] * float64(k) / steps
			t, x := onto(pl)
			x = x.sub(f.o)
			a, b := x.dot(f.u), x.dot(f.v)
			if t > best || a > f.width {
				continue
			}
			out := math.Max(f.outside(0, a, b), math.Max(f.outside(1, a, b), f.outside(2, a, b)))
			if a < f.radius[0] && b < f.radius[0] {
				out = f.outside(3, a, b)
			} else if a < f.radius[1] && b > f.height-f.radius[1] {
				out = f.outside(4, a, b)
			}
			if out > 0 {
				continue
			}
			best = t
			light = vec3{0.3, 0.29, 0.27}
			if k > 0 {
				light = vec3{0.1, 0.1, 0.09} // wall
				break
			}
			for _, o := range s.holes {
				switch r := math.Hypot(a-o[0], b-o[1]); {
				case r < 2.5:
					light = vec3{0.02, 0.02, 0.02}
				case r < 4.5:
					light = vec3{0.11, 0.11, 0.1}
				}
			}
			break
		}
	}
	// The barrel: a cylinder, lighter where it faces up.
	r := h.p[pBarrel] / 2
	sn, cs := math.Sincos(h.p[pPhi])
	v := vec3{cs, sn, 0}
	o := eye.sub(vec3{h.p[pX], h.p[pY], r})
	across := func(x vec3) vec3 { return x.sub(v.mul(x.dot(v))) }
	p, d := across(o), across(ray)
	a, b, c := d.dot(d), p.dot(d), p.dot(p)-r*r
	if q := b*b - a*c; q > 0 {
		t := (-b - math.Sqrt(q)) / a
		x := o.add(ray.mul(t))
		if t < best && math.Abs(x.dot(v)) < h.p[pHeight]/2 {
			up := math.Max(0, across(x)[2]/r)
			k := 0.05 + 0.5*up*up
			if slot := math.Mod(x.dot(v)+h.p[pHeight]/2, h.p[pHeight]/5); slot < 0.4 && math.Abs(x.dot(v)) < 0.49*h.p[pHeight] && slot+x.dot(v)+h.p[pHeight]/2 > 1 {
				k = 0.02
			}
			light = vec3{k, 0.97 * k, 0.9 * k}
		}
	}
	return light
}

// draw renders with 2 × 2 samples a pixel and codes as sRGB, rows side by side.
func (s *tableScene) draw(seed uint64) *image.YCbCr {
	m := image.NewYCbCr(image.Rect(0, 0, s.w, s.h), image.YCbCrSubsampleRatio444)
	eye, turn := s.cam.eye(), s.cam.R.transpose()
	if s.hinge != nil {
		s.faces = s.hinge.faces()
	}
	const samples = 4
	var wg sync.WaitGroup
	for part := range 2 {
		wg.Go(func() {
			rnd := rand.New(rand.NewPCG(seed, uint64(part)))
			for j := part * s.h / 2; j < (part+1)*s.h/2; j++ {
				for i := range s.w {
					var c vec3
					for k := range samples {
						u := (float64(i) + (float64(k%2)+0.5)/2 - s.cam.Cx) / s.cam.F
						v := (float64(j) + (float64(k/2)+0.5)/2 - s.cam.Cy) / s.cam.F
						c = c.add(s.seen(eye, turn.apply(vec3{u, v, 1})))
					}
					if s.warm != (vec3{}) {
						c = vec3{c[0] * s.warm[0], c[1] * s.warm[1], c[2] * s.warm[2]}
					}
					var v [3]uint8
					for k := range 3 {
						v[k] = uint8(math.Min(math.Max(coded(c[k]/samples)+s.noise*rnd.NormFloat64()+0.5, 0), 255))
					}
					o := m.YOffset(i, j)
					m.Y[o], m.Cb[o], m.Cr[o] = color.RGBToYCbCr(v[0], v[1], v[2])
				}
			}
		})
	}
	wg.Wait()
	return m
}

// drawnHinge is a pair of 88.9 × 88.9 mm leaves with round corners, its pin's middle at x, y.
func drawnHinge(x, y, phi float64) (*hingeFit, [][2]float64) {
	p := make([]float64, pCount)
	p[pX], p[pY], p[pPhi] = x, y, phi
	p[pHeight], p[pWidth0], p[pWidth1], p[pBarrel], p[pThick], p[pGap] = 88.9, 44.45, 44.45, 11.5, 2.2, swageGap
	for k := pRadius0; k <= pRadius3; k++ {
		p[k] = 6.35
	}
	return &hingeFit{p: p, leaves: [2]bool{true, true}}, [][2]float64{{17, 12}, {10, 44.45}, {17, 76.9}}
}

// oakTable and darkTable are two grounds that paper stands out from, more and less.
var oakTable, darkTable = vec3{0.42, 0.3, 0.17}, vec3{0.05, 0.05, 0.055}

// The printed card, cut out or on its whole sheet, with a hinge beside it: recognised, its camera and the
// hinge's sizes right within what is said of them.
func TestPrintedCardWithHinge(t *testing.T) {
	bits := codeBits(t, PrintedCode)
	var z []float64
	for i, s := range []struct {
		name        string
		tilt, roll  float64
		cut         bool
		sheet       [4]float64 // mm
		table       vec3
		scale, bar  float64 // of the print; mm as told, 0 untold
		spread, f35 float64
	}{
		{"cut out on oak", 4, 15, true, [4]float64{}, oakTable, 1, 100, 0, 26},
		{"cut out on a dark table", 14, 200, true, [4]float64{}, darkTable, 1, 100, 0.05, 26},
		{"whole sheet under all", 8, 0, false, [4]float64{-200, -300, 200, 300}, oakTable, 1, 100, 0.03, 26},
		{"whole sheet, hinge on the table", 5, 90, false, [4]float64{-105, -38, 105, 200}, oakTable, 1, 100, 0.02, 26},
		{"printed at 95 %, told", 6, 30, true, [4]float64{}, oakTable, 0.95, 95, 0.03, 28},
		{"printed at 95 %, not told", 6, 30, true, [4]float64{}, oakTable, 0.95, 0, 0.03, 28},
	} {
		t.Run(s.name, func(t *testing.T) {
			const w, h = 1060, 960
			scene := tableScene{w: w, h: h, noise: 1.5, table: s.table, scale: s.scale, cut: s.cut, sheet: s.sheet,
				print: &drawnPrint{bits: bits, spread: s.spread, paper: vec3{0.72, 0.71, 0.69}}}
			scene.cam = lookAt(w, h, s.f35, 4.4, s.tilt, 70*float64(i), s.roll, 0, 0)
			// Card and hinge on both sides of the middle.
			scene.cam.T = scene.cam.T.add(scene.cam.R.apply(vec3{0, 45, 0}))
			scene.hinge, scene.holes = drawnHinge(5, -88, 0.1)
			opt := Options{Focal35mm: s.f35}
			if s.bar > 0 {
				opt.ScaleBar = Estimate{Length(s.bar), 0.3}
			}
			img := scene.draw(uint64(i))
			r := Photo(img, opt)
			require.NotNil(t, r.Card, "%v", r.RetakeReasons)
			require.Equal(t, CardPrinted, r.Card.Kind)
			for k, p := range [4]vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				truth := scene.cam.project(vec3{p[0] * id1.a * s.scale, p[1] * id1.b * s.scale, paperHeight})
				require.Less(t, distance(truth, r.Card.CornersPx[k]), 0.35, "px, corner %d", k)
			}
			require.Equal(t, Measured, r.Status, "%v", r.RetakeReasons)
			told := PrintScale(opt.ScaleBar)
			require.Equal(t, told, *r.Card.PrintScale)
			for name, e := range map[string][2]float64{"height": {88.9, r.Hinge.Height.Value.MM()}, "open width": {88.9, r.Hinge.OpenWidth.Value.MM()}} {
				u := r.Hinge.Height.Sigma.MM()
				t.Logf("%s: %.2f ± %.2f (u), corners to %.2f px", name, e[1], u, r.Card.Residual)
				// Apart from the print's scale, which is known here.
				true := e[0] * told.Value / s.scale
				require.InDelta(t, true, e[1], 0.2, "mm, %s", name)
				z = append(z, (e[1]-e[0])/u)
				require.Greater(t, u, told.Sigma*e[1], "mm")
			}
			require.Len(t, r.Hinge.Leaves, 2)
			for _, l := range r.Hinge.Leaves {
				require.Len(t, l.Holes, 3)
			}
		})
	}
	for _, v := range z {
		require.Less(t, math.Abs(v), 3.0, "standard uncertainties: %.2v", z)
	}
}

// cardScene is a printed card alone, cut out, on a table of w × h px at 4 px per mm.
func cardScene(t *testing.T, text string, w, h int, tilt, roll float64) *tableScene {
	return &tableScene{w: w, h: h, noise: 1.5, table: oakTable, scale: 1, cut: true,
		print: &drawnPrint{bits: codeBits(t, text), paper: vec3{0.72, 0.71, 0.69}},
		cam:   lookAt(w, h, 26, 4, tilt, 40, roll, 0, 0)}
}

// What is taken for the printed card, and what is said of one that can't be used.
func TestFindPrintedCard(t *testing.T) {
	opt := Options{Focal35mm: 26}
	t.Run("any way round, up to 30 degrees aslant", func(t *testing.T) {
		for i, s := range [][2]float64{{2, 0}, {10, 100}, {20, 190}, {30, 280}, {30, 45}} {
			scene := cardScene(t, PrintedCode, 640, 560, s[0], s[1])
			card, why := findCard(newFrame(scene.draw(uint64(i))), opt)
			require.Empty(t, why)
			require.Equal(t, CardPrinted, card.kind)
			for k, p := range [4]vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				truth := scene.cam.project(vec3{p[0] * id1.a, p[1] * id1.b, paperHeight})
				require.Less(t, distance(truth, card.corners[k]), 0.3, "px, at %v", s)
			}
			require.InDelta(t, scene.cam.F, card.cam.F, 3*card.focalSigma, "px")
		}
	})
	t.Run("without EXIF its own foreshortening tells the focal length", func(t *testing.T) {
		scene := cardScene(t, PrintedCode, 640, 560, 28, 20)
		card, why := findCard(newFrame(scene.draw(9)), Options{})
		require.Empty(t, why)
		require.Equal(t, FocalCard, card.focalFrom)
		require.InDelta(t, scene.cam.F, card.cam.F, 3*card.focalSigma, "px")
	})
	t.Run("the spread of the ink is seen", func(t *testing.T) {
		for _, spread := range []float64{0, 0.06} {
			scene := cardScene(t, PrintedCode, 720, 600, 5, 10)
			scene.cam = lookAt(720, 600, 26, 6, 5, 40, 10, 0, 0)
			scene.print.spread = spread
			card, why := findCard(newFrame(scene.draw(1)), opt)
			require.Empty(t, why)
			require.InDelta(t, id1.a-printed.Frame-spread, card.shape.a, 0.025, "mm")
		}
	})
	t.Run("it wins over a bank card", func(t *testing.T) {
		scene := cardScene(t, PrintedCode, 640, 640, 8, 5)
		scene.plain = &[3]float64{4, -64, 0.2}
		scene.cam.T = scene.cam.T.add(scene.cam.R.apply(vec3{0, 32, 0}))
		img := scene.draw(2)
		card, why := findCard(newFrame(img), opt)
		require.Empty(t, why)
		require.Equal(t, CardPrinted, card.kind)
		scene.print = nil
		card, why = findCard(newFrame(scene.draw(2)), opt)
		require.Empty(t, why)
		require.Equal(t, CardID1, card.kind, "which is found where it lies alone")
	})
	t.Run("another version", func(t *testing.T) {
		_, why := findCard(newFrame(cardScene(t, "LEAFGAUGE:CARD:2:ID1", 640, 560, 5, 10).draw(3)), opt)
		require.Equal(t, []Reason{CardWrongSize}, why)
	})
	t.Run("a card with another's code", func(t *testing.T) {
		card, _ := findCard(newFrame(cardScene(t, "SOMETHING ELSE: 1234", 640, 560, 5, 10).draw(4)), opt)
		require.NotEqual(t, CardPrinted, card.kind)
	})
	t.Run("something over the code", func(t *testing.T) {
		scene := cardScene(t, PrintedCode, 640, 560, 5, 10)
		for j := 8; j < 20; j++ {
			for i := 7; i < 21; i++ {
				scene.print.bits[j][i] = (i+j)%2 == 0
			}
		}
		_, why := findCard(newFrame(scene.draw(5)), opt)
		require.Equal(t, []Reason{CardCutOff}, why)
	})
	t.Run("half out of the picture", func(t *testing.T) {
		scene := cardScene(t, PrintedCode, 640, 560, 5, 10)
		scene.cam.T[0] += 62
		_, why := findCard(newFrame(scene.draw(6)), opt)
		require.Equal(t, []Reason{CardCutOff}, why)
	})
	t.Run("too small", func(t *testing.T) {
		scene := cardScene(t, PrintedCode, 640, 560, 5, 10)
		scene.cam = lookAt(640, 560, 26, 2.2, 5, 40, 10, 0, 0)
		_, why := findCard(newFrame(scene.draw(7)), opt)
		require.Equal(t, []Reason{TooSmall}, why)
	})
}

// White paper tells the light's colour: a grey hinge under a lamp is no brass.
func TestPrintedCardGivesWhite(t *testing.T) {
	lamp := vec3{1.2, 0.8, 0.42}
	for _, light := range []vec3{{1, 1, 1}, lamp, {1.6, 1.3, 0.9}} { // the last clips the paper
		scene := cardScene(t, PrintedCode, 720, 700, 5, 10)
		scene.hinge, scene.holes = drawnHinge(0, -85, 0.1)
		scene.cam.T = scene.cam.T.add(scene.cam.R.apply(vec3{0, 45, 0}))
		scene.warm = light
		f := newFrame(scene.draw(8))
		card, why := findCard(f, Options{Focal35mm: 26})
		require.Empty(t, why)
		for q := range 3 {
			require.InEpsilon(t, light[q]/light[0]*scene.print.paper[q]/scene.print.paper[0], card.white[q]/card.white[0], 0.06)
		}
		h := scene.hinge
		hint := finishHint(f, &scene.cam, h.faces(), h.p[pBarrel], card.white)
		require.Equal(t, "light grey metal: nickel or chrome", hint)
		if light == lamp {
			require.NotEqual(t, hint, finishHint(f, &scene.cam, h.faces(), h.p[pBarrel], [3]float64{}), "which the picture alone doesn't tell")
		}
	}
}

// How a bar that was measured turns into a scale.
func TestPrintScale(t *testing.T) {
	require.Equal(t, Ratio{1, untoldScale}, PrintScale(Estimate{}))
	// 1/(0.3² + …): by hand, weights 1/0.003² and 1/0.005².
	told := PrintScale(Estimate{99.8, 0.3})
	require.InDelta(t, (0.998/9e-6+1/25e-6)/(1/9e-6+1/25e-6), told.Value, 1e-12)
	require.InDelta(t, 1/math.Sqrt(1/9e-6+1/25e-6), told.Sigma, 1e-12)
	fitted := PrintScale(Estimate{96, 0.4})
	require.Equal(t, Ratio{0.96, 0.004}, Ratio{math.Round(fitted.Value*1e9) / 1e9, math.Round(fitted.Sigma*1e9) / 1e9})
	// One print in five at 94…97 %: the mean square of what a print is off by.
	require.InDelta(t, math.Sqrt(0.2*0.045*0.045+0.8*printerSigma*printerSigma), untoldScale, 0.001)
}

// BenchmarkFindPrinted times the look for a printed card in photos that have none.
func BenchmarkFindPrinted(b *testing.B) {
	for _, id := range []string{"001", "005"} {
		s, ok := loadScene(b, id)
		require.True(b, ok)
		n := reduction(s.f)
		e := newEdgeMap(s.f.reduce(n))
		found := newLineSet(e, e.lines()).candidates()
		b.Run(id, func(b *testing.B) {
			for b.Loop() {
				if _, _, ok := findPrinted(s.f, found, n, Options{}); ok {
					b.Fatal("there is none")
				}
			}
		})
		b.Run(id+" whole card step", func(b *testing.B) {
			for b.Loop() {
				findCard(s.f, Options{})
			}
		})
	}
}
