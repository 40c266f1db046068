package picture

import (
	"image"
	"image/color"

	"leafgauge/measure"
)

// A Frame is an upright picture as the steps read it: luma and chroma planes at full size,
// sampled between pixels where needed, and reduced copies.
type Frame struct {
	W, H    int
	Y       []uint8
	YStride int
	Cb, Cr  []uint8
	CStride int  // stride of cb and cr
	Sx, Sy  uint // chroma is subsampled by 1<<sx, 1<<sy

	reduced map[int]*Reduced // by reduction, as they were asked for
}

// NewFrame takes a picture. *image.YCbCr is read in place; anything else is converted.
func NewFrame(img image.Image) *Frame {
	if p, ok := img.(*image.YCbCr); ok {
		var sx, sy uint
		switch p.SubsampleRatio {
		case image.YCbCrSubsampleRatio444:
		case image.YCbCrSubsampleRatio422:
			sx = 1
		case image.YCbCrSubsampleRatio420:
			sx, sy = 1, 1
		case image.YCbCrSubsampleRatio440:
			sy = 1
		default:
			return convertFrame(img)
		}
		if p.Rect.Min == (image.Point{}) {
			return &Frame{W: p.Rect.Dx(), H: p.Rect.Dy(), Y: p.Y, YStride: p.YStride, Cb: p.Cb, Cr: p.Cr, CStride: p.CStride, Sx: sx, Sy: sy}
		}
	}
	return convertFrame(img)
}

func convertFrame(img image.Image) *Frame {
	b := img.Bounds()
	f := &Frame{W: b.Dx(), H: b.Dy(), YStride: b.Dx(), CStride: b.Dx()}
	n := f.W * f.H
	f.Y, f.Cb, f.Cr = make([]uint8, n), make([]uint8, n), make([]uint8, n)
	for y := range f.H {
		for x := range f.W {
			r, g, bl, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
			i := y*f.W + x
			f.Y[i], f.Cb[i], f.Cr[i] = color.RGBToYCbCr(uint8(r>>8), uint8(g>>8), uint8(bl>>8))
		}
	}
	return f
}

// Inside reports whether a place lies at least margin pixels inside the picture.
func (f *Frame) Inside(p measure.Pixel, margin float64) bool {
	return p.X >= margin && p.Y >= margin && p.X <= float64(f.W)-margin && p.Y <= float64(f.H)-margin
}

// perChroma is how far one pixel goes in chroma samples, by the subsampling.
var perChroma = [2]float64{1, 0.5}

// Chroma samples Cb − 128 and Cr − 128 bilinearly.
func (f *Frame) Chroma(p measure.Pixel) (cb, cr float64) {
	x := tap(p.X*perChroma[f.Sx&1]-0.5, (f.W+(1<<f.Sx)-1)>>f.Sx, 1)
	y := tap(p.Y*perChroma[f.Sy&1]-0.5, (f.H+(1<<f.Sy)-1)>>f.Sy, f.CStride)
	return mix(f.Cb, x, y) - 128, mix(f.Cr, x, y) - 128
}

// RGB samples gamma-coded red, green and blue, 0…255 (JFIF's conversion), unclamped.
func (f *Frame) RGB(p measure.Pixel) (r, g, b float64) {
	var y, cb, cr float64
	if p.X >= 2 && p.Y >= 2 && p.X <= float64(f.W-3) && p.Y <= float64(f.H-3) {
		// As below, with nothing to clamp, and the shares once for both colours.
		u, v := p.X-0.5, p.Y-0.5
		i, j := int(u), int(v)
		fu, fv := u-float64(i), v-float64(j)
		i += j * f.YStride
		a, c := f.Y[i:i+2], f.Y[i+f.YStride:i+f.YStride+2]
		y = (float64(a[0])*(1-fu)+float64(a[1])*fu)*(1-fv) + (float64(c[0])*(1-fu)+float64(c[1])*fu)*fv
		u, v = p.X*perChroma[f.Sx&1]-0.5, p.Y*perChroma[f.Sy&1]-0.5
		i, j = int(u), int(v)
		fu, fv = u-float64(i), v-float64(j)
		i += j * f.CStride
		a, c = f.Cb[i:i+2], f.Cb[i+f.CStride:i+f.CStride+2]
		cb = (float64(a[0])*(1-fu)+float64(a[1])*fu)*(1-fv) + (float64(c[0])*(1-fu)+float64(c[1])*fu)*fv - 128
		a, c = f.Cr[i:i+2], f.Cr[i+f.CStride:i+f.CStride+2]
		cr = (float64(a[0])*(1-fu)+float64(a[1])*fu)*(1-fv) + (float64(c[0])*(1-fu)+float64(c[1])*fu)*fv - 128
	} else {
		y = f.Luma(p)
		cb, cr = f.Chroma(p)
	}
	return y + 1.402*cr, y - 0.344136*cb - 0.714136*cr, y + 1.772*cb
}

// Luma samples the luma plane (0…255, gamma-coded) bilinearly; outside it repeats the border.
func (f *Frame) Luma(p measure.Pixel) float64 {
	return mix(f.Y, tap(p.X-0.5, f.W, 1), tap(p.Y-0.5, f.H, f.YStride))
}

// A sample is a place between two of a row's or column's samples: the offsets of both in
// their plane, and how far it is from the first to the second.
type sample struct {
	at, next int
	share    float64
}

// tap is the sample at x of n, each stride apart.
func tap(x float64, n, stride int) sample {
	x = min(max(x, 0), float64(n-1))
	i := max(min(int(x), n-2), 0) // of a place that is no number, too
	return sample{i * stride, min(i+1, n-1) * stride, x - float64(i)}
}

// mix is the bilinear mean of the four samples of a plane round a place.
func mix(a []uint8, x, y sample) float64 {
	top := float64(a[y.at+x.at])*(1-x.share) + float64(a[y.at+x.next])*x.share
	bot := float64(a[y.next+x.at])*(1-x.share) + float64(a[y.next+x.next])*x.share
	return top*(1-y.share) + bot*y.share
}
