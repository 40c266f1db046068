package scene

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/boombuler/barcode/qr"
	"github.com/stretchr/testify/require"
)

// CodeBits are the modules of an ISO/IEC 18004 code, written by another library than reads it.
func CodeBits(t testing.TB, text string) (bits [21][21]bool) {
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

// A Print is the printed card as ink on paper.
type Print struct {
	Bits   [21][21]bool
	Spread float64 // of the ink, mm
	Paper  geom.Vec3
	beside func(x, y float64) bool // ink beside the card on its sheet; nil none
}

// light is what is seen at a place of the card, mm from its top left corner.
func (d *Print) light(x, y float64) geom.Vec3 {
	ink := d.Paper.Mul(0.05)
	l, g := measure.PrintedCard(), d.Spread
	outer := geom.OutlineDistance(x-l.Width/2, y-l.Height/2, l.Width/2+g, l.Height/2+g, l.Radius)
	inner := geom.OutlineDistance(x-l.Width/2, y-l.Height/2, l.Width/2-l.Frame-g, l.Height/2-l.Frame-g, 0)
	switch {
	case outer > 0 && d.beside != nil && d.beside(x, y):
		return ink
	case outer > 0:
		return d.Paper
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
			return geom.Vec3{d.Paper[0] * picture.Linear(float64(p.RGB[0])), d.Paper[1] * picture.Linear(float64(p.RGB[1])), d.Paper[2] * picture.Linear(float64(p.RGB[2]))}
		}
	}
	m := l.CodeSide / 21
	i, j := int(math.Floor((x-l.CodeX)/m)), int(math.Floor((y-l.CodeY)/m))
	if i >= 0 && j >= 0 && i < 21 && j < 21 && d.Bits[j][i] {
		return ink
	}
	return d.Paper
}

// A Table is a table with a printed card, and perhaps a hinge and a plain card, seen by a
// camera. The world is the printed card's; what is solid has walls, and nothing casts shadows.
type Table struct {
	W, H  int
	Cam   geom.Camera
	Noise float64 // levels
	Table geom.Vec3
	Warm  geom.Vec3 // colour of the light; zero white

	Print *Print
	Scale float64 // of the print
	Cut   bool    // cutMargin outside the frame; else the sheet is left whole
	Sheet [4]float64
	Hinge *TableHinge // nil: none
	Plain *[3]float64 // place and turn of a plain ID-1 card; nil: none
}

// A TableHinge is a hinge with the same holes in each leaf; lengths in mm.
type TableHinge struct {
	X, Y, Phi                 float64 // middle of the pin's axis on the table, and the barrel's direction
	Height, Barrel, Thickness float64
	Faces                     []geom.Face
	Holes                     [][2]float64 // from edge, from end
}

const CutMargin = 1.0 // mm

// sheetHeight is how high paper lies over the table, mm.
const SheetHeight = 0.1

// ground is the light at a place on the table.
func (s *Table) ground(x, y float64) geom.Vec3 {
	if s.Plain != nil {
		sn, cs := math.Sincos(s.Plain[2])
		dx, dy := x-s.Plain[0], y-s.Plain[1]
		if geom.OutlineDistance(dx*cs+dy*sn, -dx*sn+dy*cs, measure.ID1Long/2, measure.ID1Short/2, measure.ID1Radius) < 0 {
			return geom.Vec3{0.04, 0.12, 0.35}
		}
	}
	if s.Print == nil {
		return s.Table
	}
	u, v := x/s.Scale+measure.ID1Long/2, measure.ID1Short/2-y/s.Scale
	if s.Cut {
		if geom.OutlineDistance(u-measure.ID1Long/2, v-measure.ID1Short/2, measure.ID1Long/2+CutMargin, measure.ID1Short/2+CutMargin, 1) < 0 {
			return s.Print.light(u, v)
		}
		return s.Table
	}
	if x > s.Sheet[0] && y > s.Sheet[1] && x < s.Sheet[2] && y < s.Sheet[3] {
		return s.Print.light(u, v)
	}
	return s.Table
}

// seen is the light along a ray from the eye.
func (s *Table) seen(eye, ray geom.Vec3) geom.Vec3 {
	onto := func(p geom.Plane) (float64, geom.Vec3) {
		t := (p.D - p.N.Dot(eye)) / p.N.Dot(ray)
		return t, eye.Add(ray.Mul(t))
	}
	best, ground := onto(geom.Level(SheetHeight))
	light := s.ground(ground[0], ground[1])
	h := s.Hinge
	if h == nil || math.Hypot(ground[0]-h.X, ground[1]-h.Y) > h.Height {
		return light // too far off to be hidden by it
	}
	for _, f := range h.Faces {
		const steps = 6
		for k := range steps {
			pl := f.Plane()
			pl.D -= h.Thickness * float64(k) / steps
			t, x := onto(pl)
			x = x.Sub(f.O)
			a, b := x.Dot(f.U), x.Dot(f.V)
			if t > best || a > f.Width {
				continue
			}
			out := math.Max(f.Outside(0, a, b), math.Max(f.Outside(1, a, b), f.Outside(2, a, b)))
			if a < f.Radius[0] && b < f.Radius[0] {
				out = f.Outside(3, a, b)
			} else if a < f.Radius[1] && b > f.Height-f.Radius[1] {
				out = f.Outside(4, a, b)
			}
			if out > 0 {
				continue
			}
			best = t
			light = geom.Vec3{0.3, 0.29, 0.27}
			if k > 0 {
				light = geom.Vec3{0.1, 0.1, 0.09} // wall
				break
			}
			for _, o := range h.Holes {
				switch r := math.Hypot(a-o[0], b-o[1]); {
				case r < 2.5:
					light = geom.Vec3{0.02, 0.02, 0.02}
				case r < 4.5:
					light = geom.Vec3{0.11, 0.11, 0.1}
				}
			}
			break
		}
	}
	// The barrel: a cylinder, lighter where it faces up.
	r := h.Barrel / 2
	sn, cs := math.Sincos(h.Phi)
	v := geom.Vec3{cs, sn, 0}
	o := eye.Sub(geom.Vec3{h.X, h.Y, r})
	across := func(x geom.Vec3) geom.Vec3 { return x.Sub(v.Mul(x.Dot(v))) }
	p, d := across(o), across(ray)
	a, b, c := d.Dot(d), p.Dot(d), p.Dot(p)-r*r
	if q := b*b - a*c; q > 0 {
		t := (-b - math.Sqrt(q)) / a
		x := o.Add(ray.Mul(t))
		if t < best && math.Abs(x.Dot(v)) < h.Height/2 {
			up := math.Max(0, across(x)[2]/r)
			k := 0.05 + 0.5*up*up
			if slot := math.Mod(x.Dot(v)+h.Height/2, h.Height/5); slot < 0.4 && math.Abs(x.Dot(v)) < 0.49*h.Height && slot+x.Dot(v)+h.Height/2 > 1 {
				k = 0.02
			}
			light = geom.Vec3{k, 0.97 * k, 0.9 * k}
		}
	}
	return light
}

// Draw renders with 2 × 2 samples a pixel and codes as sRGB, rows side by side.
func (s *Table) Draw(seed uint64) *image.YCbCr {
	m := image.NewYCbCr(image.Rect(0, 0, s.W, s.H), image.YCbCrSubsampleRatio444)
	eye, turn := s.Cam.Eye(), s.Cam.R.Transpose()
	const samples = 4
	var wg sync.WaitGroup
	for part := range 2 {
		wg.Go(func() {
			rnd := rand.New(rand.NewPCG(seed, uint64(part)))
			for j := part * s.H / 2; j < (part+1)*s.H/2; j++ {
				for i := range s.W {
					var c geom.Vec3
					for k := range samples {
						u := (float64(i) + (float64(k%2)+0.5)/2 - s.Cam.Cx) / s.Cam.F
						v := (float64(j) + (float64(k/2)+0.5)/2 - s.Cam.Cy) / s.Cam.F
						c = c.Add(s.seen(eye, turn.Apply(geom.Vec3{u, v, 1})))
					}
					if s.Warm != (geom.Vec3{}) {
						c = geom.Vec3{c[0] * s.Warm[0], c[1] * s.Warm[1], c[2] * s.Warm[2]}
					}
					var v [3]uint8
					for k := range 3 {
						v[k] = uint8(math.Min(math.Max(Coded(c[k]/samples)+s.Noise*rnd.NormFloat64()+0.5, 0), 255))
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
var Oak, Dark = geom.Vec3{0.42, 0.3, 0.17}, geom.Vec3{0.05, 0.05, 0.055}

// PrintedTable is a printed card alone, cut out, on a table of w × h px at 4 px per mm.
func PrintedTable(t *testing.T, text string, w, h int, tilt, roll float64) *Table {
	return &Table{W: w, H: h, Noise: 1.5, Table: Oak, Scale: 1, Cut: true,
		Print: &Print{Bits: CodeBits(t, text), Paper: geom.Vec3{0.72, 0.71, 0.69}},
		Cam:   LookAt(w, h, 26, 4, tilt, 40, roll, 0, 0)}
}
