package measure

import (
	"image"
	"image/color"
)

// A frame is an upright picture as the steps read it: luma and chroma planes at full size,
// sampled between pixels where needed, and reduced copies.
type frame struct {
	w, h   int
	y      []uint8
	ys     int
	cb, cr []uint8
	cs     int  // stride of cb and cr
	sx, sy uint // chroma is subsampled by 1<<sx, 1<<sy

	reduced map[int]*small // by reduction, as they were asked for
}

// newFrame takes a picture. *image.YCbCr is read in place; anything else is converted.
func newFrame(img image.Image) *frame {
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
			return &frame{w: p.Rect.Dx(), h: p.Rect.Dy(), y: p.Y, ys: p.YStride, cb: p.Cb, cr: p.Cr, cs: p.CStride, sx: sx, sy: sy}
		}
	}
	return convertFrame(img)
}

func convertFrame(img image.Image) *frame {
	b := img.Bounds()
	f := &frame{w: b.Dx(), h: b.Dy(), ys: b.Dx(), cs: b.Dx()}
	n := f.w * f.h
	f.y, f.cb, f.cr = make([]uint8, n), make([]uint8, n), make([]uint8, n)
	for y := range f.h {
		for x := range f.w {
			r, g, bl, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
			i := y*f.w + x
			f.y[i], f.cb[i], f.cr[i] = color.RGBToYCbCr(uint8(r>>8), uint8(g>>8), uint8(bl>>8))
		}
	}
	return f
}

// inside reports whether a place lies at least margin pixels inside the picture.
func (f *frame) inside(p Pixel, margin float64) bool {
	return p.X >= margin && p.Y >= margin && p.X <= float64(f.w)-margin && p.Y <= float64(f.h)-margin
}

// perChroma is how far one pixel goes in chroma samples, by the subsampling.
var perChroma = [2]float64{1, 0.5}

// chroma samples Cb − 128 and Cr − 128 bilinearly.
func (f *frame) chroma(p Pixel) (cb, cr float64) {
	x := tap(p.X*perChroma[f.sx&1]-0.5, (f.w+(1<<f.sx)-1)>>f.sx, 1)
	y := tap(p.Y*perChroma[f.sy&1]-0.5, (f.h+(1<<f.sy)-1)>>f.sy, f.cs)
	return mix(f.cb, x, y) - 128, mix(f.cr, x, y) - 128
}

// rgb samples gamma-coded red, green and blue, 0…255 (JFIF's conversion), unclamped.
func (f *frame) rgb(p Pixel) (r, g, b float64) {
	var y, cb, cr float64
	if p.X >= 2 && p.Y >= 2 && p.X <= float64(f.w-3) && p.Y <= float64(f.h-3) {
		// As below, with nothing to clamp, and the shares once for both colours.
		u, v := p.X-0.5, p.Y-0.5
		i, j := int(u), int(v)
		fu, fv := u-float64(i), v-float64(j)
		i += j * f.ys
		a, c := f.y[i:i+2], f.y[i+f.ys:i+f.ys+2]
		y = (float64(a[0])*(1-fu)+float64(a[1])*fu)*(1-fv) + (float64(c[0])*(1-fu)+float64(c[1])*fu)*fv
		u, v = p.X*perChroma[f.sx&1]-0.5, p.Y*perChroma[f.sy&1]-0.5
		i, j = int(u), int(v)
		fu, fv = u-float64(i), v-float64(j)
		i += j * f.cs
		a, c = f.cb[i:i+2], f.cb[i+f.cs:i+f.cs+2]
		cb = (float64(a[0])*(1-fu)+float64(a[1])*fu)*(1-fv) + (float64(c[0])*(1-fu)+float64(c[1])*fu)*fv - 128
		a, c = f.cr[i:i+2], f.cr[i+f.cs:i+f.cs+2]
		cr = (float64(a[0])*(1-fu)+float64(a[1])*fu)*(1-fv) + (float64(c[0])*(1-fu)+float64(c[1])*fu)*fv - 128
	} else {
		y = f.luma(p)
		cb, cr = f.chroma(p)
	}
	return y + 1.402*cr, y - 0.344136*cb - 0.714136*cr, y + 1.772*cb
}

// luma samples the luma plane (0…255, gamma-coded) bilinearly; outside it repeats the border.
func (f *frame) luma(p Pixel) float64 {
	return mix(f.y, tap(p.X-0.5, f.w, 1), tap(p.Y-0.5, f.h, f.ys))
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
