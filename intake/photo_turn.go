package intake

import (
	"image"
	"image/draw"
)

// A turning is how an upright picture reads a stored one: the upright pixel (x, y) is the
// stored pixel (x, y), or (y, x) when transposed, counted from the far side where flipped.
type turning struct{ transpose, flipX, flipY bool } // flips are those of the stored axes

// turnings by EXIF orientation (Exif 2.32, tag 0x0112).
var turnings = [9]turning{
	2: {flipX: true},
	3: {flipX: true, flipY: true},
	4: {flipY: true},
	5: {transpose: true},
	6: {transpose: true, flipY: true},
	7: {transpose: true, flipX: true, flipY: true},
	8: {transpose: true, flipX: true},
}

// turn makes a stored picture upright. YCbCr planes are turned as they are; anything else
// is turned in NRGBA.
func turn(img image.Image, orientation int) image.Image {
	if orientation < 2 || orientation > 8 {
		return img
	}
	t := turnings[orientation]
	switch m := img.(type) {
	case *image.YCbCr:
		return turnYCbCr(m, t)
	case *image.Gray:
		b := m.Bounds()
		out := image.NewGray(t.bounds(b.Dx(), b.Dy()))
		t.plane(out.Pix, out.Stride, m.Pix[m.PixOffset(b.Min.X, b.Min.Y):], m.Stride, b.Dx(), b.Dy())
		return out
	}
	b := img.Bounds()
	src := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(src, src.Bounds(), img, b.Min, draw.Src)
	out := image.NewNRGBA(t.bounds(b.Dx(), b.Dy()))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			sx, sy := t.at(x, y, b.Dx(), b.Dy())
			copy(out.Pix[out.PixOffset(x, y):][:4], src.Pix[src.PixOffset(sx, sy):][:4])
		}
	}
	return out
}

// at is the stored pixel under the upright pixel (x, y); w and h are the stored size.
func (t turning) at(x, y, w, h int) (int, int) {
	if t.transpose {
		x, y = y, x
	}
	if t.flipX {
		x = w - 1 - x
	}
	if t.flipY {
		y = h - 1 - y
	}
	return x, y
}

func (t turning) bounds(w, h int) image.Rectangle {
	if t.transpose {
		w, h = h, w
	}
	return image.Rect(0, 0, w, h)
}

// turnYCbCr turns the three planes. Colour at full size takes the place of reduced colour in
// the two cases where the turned grid of colour samples would not fall on whole pairs of
// pixels: an odd size read from its far side, and four-to-one reductions turned sideways.
func turnYCbCr(m *image.YCbCr, t turning) *image.YCbCr {
	b := m.Bounds()
	w, h := b.Dx(), b.Dy()
	ratio := m.SubsampleRatio
	halfX := ratio == image.YCbCrSubsampleRatio420 || ratio == image.YCbCrSubsampleRatio422
	halfY := ratio == image.YCbCrSubsampleRatio420 || ratio == image.YCbCrSubsampleRatio440
	full := ratio == image.YCbCrSubsampleRatio444
	if !full && !halfX && !halfY || b.Min != (image.Point{}) ||
		halfX && t.flipX && w%2 == 1 || halfY && t.flipY && h%2 == 1 {
		m, halfX, halfY = fullColour(m), false, false
	}
	switch {
	case halfX && halfY:
		ratio = image.YCbCrSubsampleRatio420
	case halfX != t.transpose && (halfX || halfY):
		ratio = image.YCbCrSubsampleRatio422
	case halfX || halfY:
		ratio = image.YCbCrSubsampleRatio440
	default:
		ratio = image.YCbCrSubsampleRatio444
	}
	out := image.NewYCbCr(t.bounds(w, h), ratio)
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
func (t turning) plane(dst []byte, dstStride int, src []byte, srcStride, w, h int) {
	if !t.transpose {
		for y := range h {
			sy := y
			if t.flipY {
				sy = h - 1 - y
			}
			d, s := dst[y*dstStride:][:w], src[sy*srcStride:][:w]
			if !t.flipX {
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
				if t.flipX {
					y = w - 1 - sx
				}
				rows := min(tile, h-ty)
				x := ty
				if t.flipY {
					x = h - ty - rows
				}
				d := dst[y*dstStride+x:][:rows]
				at := ty*srcStride + sx
				if t.flipY {
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
