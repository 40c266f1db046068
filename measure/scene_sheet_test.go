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
	hinge *tableHinge // nil: none
	plain *[3]float64 // place and turn of a plain ID-1 card; nil: none
}

// A tableHinge is a hinge with the same holes in each leaf; lengths in mm.
type tableHinge struct {
	x, y, phi                 float64 // middle of the pin's axis on the table, and the barrel's direction
	height, barrel, thickness float64
	faces                     []leafFace
	holes                     [][2]float64 // from edge, from end
}

const cutMargin = 1.0 // mm

// sheetHeight is how high paper lies over the table, mm.
const sheetHeight = 0.1

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
	best, ground := onto(level(sheetHeight))
	light := s.ground(ground[0], ground[1])
	h := s.hinge
	if h == nil || math.Hypot(ground[0]-h.x, ground[1]-h.y) > h.height {
		return light // too far off to be hidden by it
	}
	for _, f := range h.faces {
		const steps = 6
		for k := range steps {
			pl := f.plane()
			pl.d -= h.thickness * float64(k) / steps
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
			for _, o := range h.holes {
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
	r := h.barrel / 2
	sn, cs := math.Sincos(h.phi)
	v := vec3{cs, sn, 0}
	o := eye.sub(vec3{h.x, h.y, r})
	across := func(x vec3) vec3 { return x.sub(v.mul(x.dot(v))) }
	p, d := across(o), across(ray)
	a, b, c := d.dot(d), p.dot(d), p.dot(p)-r*r
	if q := b*b - a*c; q > 0 {
		t := (-b - math.Sqrt(q)) / a
		x := o.add(ray.mul(t))
		if t < best && math.Abs(x.dot(v)) < h.height/2 {
			up := math.Max(0, across(x)[2]/r)
			k := 0.05 + 0.5*up*up
			if slot := math.Mod(x.dot(v)+h.height/2, h.height/5); slot < 0.4 && math.Abs(x.dot(v)) < 0.49*h.height && slot+x.dot(v)+h.height/2 > 1 {
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

// oakTable and darkTable are two grounds that paper stands out from, more and less.
var oakTable, darkTable = vec3{0.42, 0.3, 0.17}, vec3{0.05, 0.05, 0.055}

// cardScene is a printed card alone, cut out, on a table of w × h px at 4 px per mm.
func cardScene(t *testing.T, text string, w, h int, tilt, roll float64) *tableScene {
	return &tableScene{w: w, h: h, noise: 1.5, table: oakTable, scale: 1, cut: true,
		print: &drawnPrint{bits: codeBits(t, text), paper: vec3{0.72, 0.71, 0.69}},
		cam:   lookAt(w, h, 26, 4, tilt, 40, roll, 0, 0)}
}
