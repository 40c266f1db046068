package measure

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
)

// A drawnScene is a table seen by a camera: what has which light, linear 0…1, at a place on
// the plane z = 0.76 mm, mm. Things drawn are flat there: no walls, no shadows.
type drawnScene struct {
	w, h  int
	cam   camera
	noise float64 // levels
	light func(x, y float64) vec3
}

// draw renders with 3 × 3 samples a pixel and codes as sRGB.
func (d drawnScene) draw(seed uint64) image.Image {
	rnd := rand.New(rand.NewPCG(seed, 1))
	m := image.NewYCbCr(image.Rect(0, 0, d.w, d.h), image.YCbCrSubsampleRatio444)
	// Without distortion the plane's point is a ratio of things linear in the pixel.
	eye, turn := d.cam.eye(), d.cam.R.transpose()
	for j := range d.h {
		for i := range d.w {
			var c vec3
			for k := range 9 {
				u := (float64(i) + (float64(k%3)+0.5)/3 - d.cam.Cx) / d.cam.F
				v := (float64(j) + (float64(k/3)+0.5)/3 - d.cam.Cy) / d.cam.F
				r := turn.apply(vec3{u, v, 1})
				s := (cardThickness - eye[2]) / r[2]
				c = c.add(d.light(eye[0]+s*r[0], eye[1]+s*r[1]))
			}
			var v [3]uint8
			for k := range 3 {
				v[k] = uint8(math.Min(math.Max(coded(c[k]/9)+d.noise*rnd.NormFloat64()+0.5, 0), 255))
			}
			o := m.YOffset(i, j)
			m.Y[o], m.Cb[o], m.Cr[o] = color.RGBToYCbCr(v[0], v[1], v[2])
		}
	}
	return m
}

// lookAt is a camera of focal length f35 (35 mm equivalent) that sees the card's plane at
// pxPerMM, tilted by tilt degrees towards azimuth and rolled, degrees, with the card's middle
// off (mm) the axis.
func lookAt(w, h int, f35, pxPerMM, tilt, azimuth, roll float64, offX, offY float64) camera {
	rad := math.Pi / 180
	f := focalPx(f35, w, h)
	z := rotation(vec3{0, 0, roll * rad})
	s, c := math.Sincos(azimuth * rad)
	r := z.times(rotation(vec3{c, s, 0}.mul(tilt * rad))).times(mat3{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}})
	return camera{F: f, Cx: float64(w) / 2, Cy: float64(h) / 2, R: r, T: vec3{offX, offY, f / pxPerMM}}
}

// drawnCard is a rectangle a × b (mm) with corner radius r, with stripes of two colours, on ground.
func drawnCard(a, b, r float64, face, stripe, ground vec3) func(x, y float64) vec3 {
	return func(x, y float64) vec3 {
		switch {
		case outlineDistance(x, y, a/2, b/2, r) > 0:
			return ground
		case math.Mod(x+y+500, 12) < 5:
			return stripe
		}
		return face
	}
}

// grain is a fixed roughness of a surface, −1…1, in cells of a size.
func grain(x, y, size float64) float64 {
	i, j := uint64(int64(math.Floor(x/size))), uint64(int64(math.Floor(y/size)))
	k := (i*0x9E3779B97F4A7C15 ^ j*0xC2B2AE3D27D4EB4F) * 0xD6E8FEB86659FD93
	k ^= k >> 32
	return float64(k*0xD6E8FEB86659FD93>>40)/(1<<23) - 1
}
