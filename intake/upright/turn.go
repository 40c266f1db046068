// Package upright turns pictures as their EXIF orientation says.
package upright

import (
	"image"
	"image/draw"
)

// A Turning is how an upright picture reads a stored one: the upright pixel (x, y) is the
// stored pixel (x, y), or (y, x) when transposed, counted from the far side where flipped.
type Turning struct{ Transpose, FlipX, FlipY bool } // flips are those of the stored axes

// turnings by EXIF orientation (Exif 2.32, tag 0x0112).
var turnings = [9]Turning{
	2: {FlipX: true},
	3: {FlipX: true, FlipY: true},
	4: {FlipY: true},
	5: {Transpose: true},
	6: {Transpose: true, FlipY: true},
	7: {Transpose: true, FlipX: true, FlipY: true},
	8: {Transpose: true, FlipX: true},
}

// For is the turning by an EXIF orientation: none for 1 and for what is no orientation.
func For(orientation int) Turning {
	if orientation < 1 || orientation > 8 {
		return Turning{}
	}
	return turnings[orientation]
}

// Turn makes a stored picture upright. YCbCr planes are turned as they are; anything else
// is turned in NRGBA.
func Turn(img image.Image, orientation int) image.Image {
	t := For(orientation)
	if t == (Turning{}) {
		return img
	}
	switch m := img.(type) {
	case *image.YCbCr:
		return turnYCbCr(m, t)
	case *image.Gray:
		b := m.Bounds()
		out := image.NewGray(t.Bounds(b.Dx(), b.Dy()))
		t.plane(out.Pix, out.Stride, m.Pix[m.PixOffset(b.Min.X, b.Min.Y):], m.Stride, b.Dx(), b.Dy())
		return out
	}
	b := img.Bounds()
	src := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(src, src.Bounds(), img, b.Min, draw.Src)
	out := image.NewNRGBA(t.Bounds(b.Dx(), b.Dy()))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			sx, sy := t.At(x, y, b.Dx(), b.Dy())
			copy(out.Pix[out.PixOffset(x, y):][:4], src.Pix[src.PixOffset(sx, sy):][:4])
		}
	}
	return out
}

// At is the stored pixel under the upright pixel (x, y); w and h are the stored size.
func (t Turning) At(x, y, w, h int) (int, int) {
	if t.Transpose {
		x, y = y, x
	}
	if t.FlipX {
		x = w - 1 - x
	}
	if t.FlipY {
		y = h - 1 - y
	}
	return x, y
}

// Bounds are those of the upright picture; w and h are the stored size.
func (t Turning) Bounds(w, h int) image.Rectangle {
	if t.Transpose {
		w, h = h, w
	}
	return image.Rect(0, 0, w, h)
}

// turnYCbCr turns the three planes. Colour at full size takes the place of reduced colour in
// the two cases where the turned grid of colour samples would not fall on whole pairs of
// pixels: an odd size read from its far side, and four-to-one reductions turned sideways.
func turnYCbCr(m *image.YCbCr, t Turning) *image.YCbCr {
	b := m.Bounds()
	w, h := b.Dx(), b.Dy()
	ratio := m.SubsampleRatio
	halfX := ratio == image.YCbCrSubsampleRatio420 || ratio == image.YCbCrSubsampleRatio422
	halfY := ratio == image.YCbCrSubsampleRatio420 || ratio == image.YCbCrSubsampleRatio440
	full := ratio == image.YCbCrSubsampleRatio444
	if !full && !halfX && !halfY || b.Min != (image.Point{}) ||
		halfX && t.FlipX && w%2 == 1 || halfY && t.FlipY && h%2 == 1 {
		m, halfX, halfY = fullColour(m), false, false
	}
	switch {
	case halfX && halfY:
		ratio = image.YCbCrSubsampleRatio420
	case halfX != t.Transpose && (halfX || halfY):
		ratio = image.YCbCrSubsampleRatio422
	case halfX || halfY:
		ratio = image.YCbCrSubsampleRatio440
	default:
		ratio = image.YCbCrSubsampleRatio444
	}
	out := image.NewYCbCr(t.Bounds(w, h), ratio)
	t.plane(out.Y, out.YStride, m.Y, m.YStride, w, h)
	if halfX {
		w = (w + 1) / 2
	}
	if halfY {
		h = (h + 1) / 2
	}
	t.plane(out.Cb, out.CStride, m.Cb, m.CStride, w, h)
	t.plane(out.Cr, out.CStride, m.Cr, m.CStride, w, h)
	return out
}

// fullColour is m with a colour sample for every pixel.
func fullColour(m *image.YCbCr) *image.YCbCr {
	b := m.Bounds()
	out := image.NewYCbCr(image.Rect(0, 0, b.Dx(), b.Dy()), image.YCbCrSubsampleRatio444)
	for y := range b.Dy() {
		copy(out.Y[y*out.YStride:][:b.Dx()], m.Y[m.YOffset(b.Min.X, b.Min.Y+y):])
		for x := range b.Dx() {
			c := m.COffset(b.Min.X+x, b.Min.Y+y)
			out.Cb[y*out.CStride+x], out.Cr[y*out.CStride+x] = m.Cb[c], m.Cr[c]
		}
	}
	return out
}

// plane turns one plane of w × h samples.
func (t Turning) plane(dst []byte, dstStride int, src []byte, srcStride, w, h int) {
	if !t.Transpose {
		for y := range h {
			sy := y
			if t.FlipY {
				sy = h - 1 - y
			}
			d, s := dst[y*dstStride:][:w], src[sy*srcStride:][:w]
			if !t.FlipX {
				copy(d, s)
				continue
			}
			for x := range d {
				d[x] = s[len(s)-1-x]
			}
		}
		return
	}
	// Square tiles, so that the lines that are walked across stay in the cache.
	const tile = 32
	for ty := 0; ty < h; ty += tile {
		for tx := 0; tx < w; tx += tile {
			for sx := tx; sx < min(tx+tile, w); sx++ {
				y := sx
				if t.FlipX {
					y = w - 1 - sx
				}
				rows := min(tile, h-ty)
				x := ty
				if t.FlipY {
					x = h - ty - rows
				}
				d := dst[y*dstStride+x:][:rows]
				at := ty*srcStride + sx
				if t.FlipY {
					for i := rows - 1; i >= 0; i-- {
						d[i] = src[at]
						at += srcStride
					}
				} else {
					for i := range d {
						d[i] = src[at]
						at += srcStride
					}
				}
			}
		}
	}
}
