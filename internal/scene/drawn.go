package scene

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// A Drawn is a table seen by a camera: what has which light, linear 0…1, at a place on
// the plane z = 0.76 mm, mm. Things drawn are flat there: no walls, no shadows.
type Drawn struct {
	W, H  int
	Cam   geom.Camera
	Noise float64 // levels
	Light func(x, y float64) geom.Vec3
}

// Draw renders with 3 × 3 samples a pixel and codes as sRGB.
func (d Drawn) Draw(seed uint64) image.Image {
	rnd := rand.New(rand.NewPCG(seed, 1))
	m := image.NewYCbCr(image.Rect(0, 0, d.W, d.H), image.YCbCrSubsampleRatio444)
	// Without distortion the plane's point is a ratio of things linear in the pixel.
	eye, turn := d.Cam.Eye(), d.Cam.R.Transpose()
	for j := range d.H {
		for i := range d.W {
			var c geom.Vec3
			for k := range 9 {
				u := (float64(i) + (float64(k%3)+0.5)/3 - d.Cam.Cx) / d.Cam.F
				v := (float64(j) + (float64(k/3)+0.5)/3 - d.Cam.Cy) / d.Cam.F
				r := turn.Apply(geom.Vec3{u, v, 1})
				s := (measure.ID1Thickness - eye[2]) / r[2]
				c = c.Add(d.Light(eye[0]+s*r[0], eye[1]+s*r[1]))
			}
			var v [3]uint8
			for k := range 3 {
				v[k] = uint8(math.Min(math.Max(Coded(c[k]/9)+d.Noise*rnd.NormFloat64()+0.5, 0), 255))
			}
			o := m.YOffset(i, j)
			m.Y[o], m.Cb[o], m.Cr[o] = color.RGBToYCbCr(v[0], v[1], v[2])
		}
	}
	return m
}

// LookAt is a camera of focal length f35 (35 mm equivalent) that sees the card's plane at
// pxPerMM, tilted by tilt degrees towards azimuth and rolled, degrees, with the card's middle
// off (mm) the axis.
func LookAt(w, h int, f35, pxPerMM, tilt, azimuth, roll float64, offX, offY float64) geom.Camera {
	rad := math.Pi / 180
	f := geom.FocalPx(f35, w, h)
	z := geom.Rotation(geom.Vec3{0, 0, roll * rad})
	s, c := math.Sincos(azimuth * rad)
	r := z.Times(geom.Rotation(geom.Vec3{c, s, 0}.Mul(tilt * rad))).Times(geom.Mat3{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}})
	return geom.Camera{F: f, Cx: float64(w) / 2, Cy: float64(h) / 2, R: r, T: geom.Vec3{offX, offY, f / pxPerMM}}
}

// Card is a rectangle a × b (mm) with corner radius r, with stripes of two colours, on ground.
func Card(a, b, r float64, face, stripe, ground geom.Vec3) func(x, y float64) geom.Vec3 {
	return func(x, y float64) geom.Vec3 {
		switch {
		case geom.OutlineDistance(x, y, a/2, b/2, r) > 0:
			return ground
		case math.Mod(x+y+500, 12) < 5:
			return stripe
		}
		return face
	}
}

// Grain is a fixed roughness of a surface, −1…1, in cells of a size.
func Grain(x, y, size float64) float64 {
	i, j := uint64(int64(math.Floor(x/size))), uint64(int64(math.Floor(y/size)))
	k := (i*0x9E3779B97F4A7C15 ^ j*0xC2B2AE3D27D4EB4F) * 0xD6E8FEB86659FD93
	k ^= k >> 32
	return float64(k*0xD6E8FEB86659FD93>>40)/(1<<23) - 1
}

// Coded is the code, 0…255, of linear light 0…1 (IEC 61966-2-1).
func Coded(v float64) float64 {
	code, _ := picture.CodedSlope(v)
	return code
}
