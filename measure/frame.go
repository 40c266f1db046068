package measure

import (
	"image"
	"image/color"
	"math"
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

// linear maps an 8-bit sRGB value to linear light, 0…1 (IEC 61966-2-1).
var linear = func() (t [256]float32) {
	for i := range t {
		v := float64(i) / 255
		if v <= 0.04045 {
			t[i] = float32(v / 12.92)
		} else {
			t[i] = float32(math.Pow((v+0.055)/1.055, 2.4))
		}
	}
	return t
}()

// linearOf is linear for a value between steps.
func linearOf(v float64) float64 {
	if v <= 0 {
		return 0
	}
	if v >= 255 {
		return 1
	}
	i := int(v)
	f := v - float64(i)
	if i == 255 {
		return 1
	}
	return float64(linear[i])*(1-f) + float64(linear[i+1])*f
}

// inside reports whether a place lies at least margin pixels inside the picture.
func (f *frame) inside(p Pixel, margin float64) bool {
	return p.X >= margin && p.Y >= margin && p.X <= float64(f.w)-margin && p.Y <= float64(f.h)-margin
}

// luma samples the luma plane (0…255, gamma-coded) bilinearly; outside it repeats the border.
func (f *frame) luma(p Pixel) float64 {
	return bilinear(f.y, f.ys, f.w, f.h, p.X-0.5, p.Y-0.5)
}

// chroma samples Cb − 128 and Cr − 128 bilinearly.
func (f *frame) chroma(p Pixel) (cb, cr float64) {
	cw, ch := (f.w+(1<<f.sx)-1)>>f.sx, (f.h+(1<<f.sy)-1)>>f.sy
	x := p.X/float64(int(1)<<f.sx) - 0.5
	y := p.Y/float64(int(1)<<f.sy) - 0.5
	return bilinear(f.cb, f.cs, cw, ch, x, y) - 128, bilinear(f.cr, f.cs, cw, ch, x, y) - 128
}

// rgb samples gamma-coded red, green and blue, 0…255 (JFIF's conversion), unclamped.
func (f *frame) rgb(p Pixel) (r, g, b float64) {
	y := f.luma(p)
	cb, cr := f.chroma(p)
	return y + 1.402*cr, y - 0.344136*cb - 0.714136*cr, y + 1.772*cb
}

func bilinear(a []uint8, stride, w, h int, x, y float64) float64 {
	x = math.Min(math.Max(x, 0), float64(w-1))
	y = math.Min(math.Max(y, 0), float64(h-1))
	i, j := int(x), int(y)
	if i > w-2 {
		i = max(w-2, 0)
	}
	if j > h-2 {
		j = max(h-2, 0)
	}
	fx, fy := x-float64(i), y-float64(j)
	di, dj := min(1, w-1), min(1, h-1)*stride
	k := j*stride + i
	top := float64(a[k])*(1-fx) + float64(a[k+di])*fx
	bot := float64(a[k+dj])*(1-fx) + float64(a[k+dj+di])*fx
	return top*(1-fy) + bot*fy
}

// A small is a reduced copy: n × n pixels averaged into one, gamma-coded 0…255.
type small struct {
	n       int // reduction
	w, h    int
	r, g, b []float32
}

// reduce averages n × n blocks; a rest at the right and bottom is left out.
func (f *frame) reduce(n int) *small {
	s := &small{n: n, w: f.w / n, h: f.h / n}
	s.r, s.g, s.b = make([]float32, s.w*s.h), make([]float32, s.w*s.h), make([]float32, s.w*s.h)
	ly := make([]int32, s.w)
	lb := make([]int32, s.w)
	lr := make([]int32, s.w)
	cn := n >> f.sx
	cm := n >> f.sy
	exact := cn<<f.sx == n && cm<<f.sy == n && cn > 0 && cm > 0
	for j := range s.h {
		clear(ly)
		clear(lb)
		clear(lr)
		for dy := range n {
			row := f.y[(j*n+dy)*f.ys:]
			for i := range ly {
				var t int32
				for _, v := range row[i*n : i*n+n] {
					t += int32(v)
				}
				ly[i] += t
			}
		}
		count := n * n
		if exact {
			count = cn * cm
			for dy := range cm {
				o := ((j*n)>>f.sy + dy) * f.cs
				rb, rr := f.cb[o:], f.cr[o:]
				for i := range lb {
					var t, u int32
					for k := i * cn; k < i*cn+cn; k++ {
						t += int32(rb[k])
						u += int32(rr[k])
					}
					lb[i] += t
					lr[i] += u
				}
			}
		} else {
			for dy := range n {
				o := ((j*n + dy) >> f.sy) * f.cs
				for i := range lb {
					for k := i * n; k < i*n+n; k++ {
						lb[i] += int32(f.cb[o+k>>f.sx])
						lr[i] += int32(f.cr[o+k>>f.sx])
					}
				}
			}
		}
		for i := range ly {
			y := float32(ly[i]) / float32(n*n)
			cb := float32(lb[i])/float32(count) - 128
			cr := float32(lr[i])/float32(count) - 128
			o := j*s.w + i
			s.r[o] = y + 1.402*cr
			s.g[o] = y - 0.344136*cb - 0.714136*cr
			s.b[o] = y + 1.772*cb
		}
	}
	return s
}
