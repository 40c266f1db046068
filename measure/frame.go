package measure

import (
	"encoding/binary"
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

// A small is a reduced copy: n × n pixels averaged into one, gamma-coded 0…255.
type small struct {
	n       int // reduction
	w, h    int
	r, g, b []float32
}

// reduce averages n × n blocks; a rest at the right and bottom is left out. The copy is kept.
func (f *frame) reduce(n int) *small {
	if s, ok := f.reduced[n]; ok {
		return s
	}
	s := &small{n: n, w: f.w / n, h: f.h / n}
	all := make([]float32, 3*s.w*s.h)
	s.r, s.g, s.b = all[:s.w*s.h], all[s.w*s.h:2*s.w*s.h], all[2*s.w*s.h:]
	sums := make([]int32, 3*s.w)
	ly, lb, lr := sums[:s.w], sums[s.w:2*s.w], sums[2*s.w:]
	columns := make([]uint16, s.w*n)
	cn, cm := n>>f.sx, n>>f.sy
	exact := cn<<f.sx == n && cm<<f.sy == n && cn > 0 && cm > 0
	for j := range s.h {
		sumBlocks(ly, f.y[j*n*f.ys:], f.ys, n, n, columns)
		count := n * n
		if exact {
			count = cn * cm
			o := j * cm * f.cs
			sumBlocks(lb, f.cb[o:], f.cs, cn, cm, columns)
			sumBlocks(lr, f.cr[o:], f.cs, cn, cm, columns)
		} else {
			clear(lb)
			clear(lr)
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
		o := j * s.w
		red, green, blue := s.r[o:o+s.w], s.g[o:o+s.w], s.b[o:o+s.w]
		luma, chroma := 1/float32(n*n), 1/float32(count)
		for i := range ly {
			y := float32(ly[i]) * luma
			cb := float32(lb[i])*chroma - 128
			cr := float32(lr[i])*chroma - 128
			red[i] = y + 1.402*cr
			green[i] = y - 0.344136*cb - 0.714136*cr
			blue[i] = y + 1.772*cb
		}
	}
	if f.reduced == nil {
		f.reduced = map[int]*small{}
	}
	f.reduced[n] = s
	return s
}

// sumBlocks sums blocks of n columns and m rows, at most 128, side by side from the start of a
// plane. columns is room for their columns' sums.
func sumBlocks(sums []int32, plane []uint8, stride, n, m int, columns []uint16) {
	done := 0
	switch { // as at 12 megapixels
	case n == 6 && m == 6:
		done = sumSixes(sums, plane, stride)
	case n == 3 && m == 3:
		done = sumThrees(sums, plane, stride)
	}
	sums, plane = sums[done:], plane[done*n:]
	w, parts, each := len(sums)*n, columns[:len(sums)*n], n
	if n%2 == 0 { // two columns at a time stay within 16 bits, too
		parts, each = columns[:w/2], n/2
	}
	x := 0
	for ; x+8 <= w; x += 8 {
		// Eight columns at a time, in two words of four sums of 16 bits.
		var even, odd uint64
		for o := x; o < x+m*stride; o += stride {
			v := wordAt(plane, o)
			even += v & lowBytes
			odd += v >> 8 & lowBytes
		}
		if n%2 == 0 {
			even += odd
			c := parts[x/2 : x/2+4 : x/2+4]
			c[0], c[1], c[2], c[3] = uint16(even), uint16(even>>16), uint16(even>>32), uint16(even>>48)
			continue
		}
		c := parts[x : x+8 : x+8]
		c[0], c[1], c[2], c[3] = uint16(even), uint16(odd), uint16(even>>16), uint16(odd>>16)
		c[4], c[5], c[6], c[7] = uint16(even>>32), uint16(odd>>32), uint16(even>>48), uint16(odd>>48)
	}
	for clear(parts[x*each/n:]); x < w; x++ {
		for o := x; o < x+m*stride; o += stride {
			parts[x*each/n] += uint16(plane[o])
		}
	}
	for i := range sums {
		var t int32
		for _, v := range parts[:each] {
			t += int32(v)
		}
		sums[i], parts = t, parts[each:]
	}
}

// lowBytes are every second byte of a word: four sums of 16 bits.
const lowBytes = 0x00ff00ff00ff00ff

// wordAt reads eight samples.
func wordAt(row []uint8, x int) uint64 { return binary.LittleEndian.Uint64(row[x : x+8 : x+8]) }

// sumSixes sums blocks of six columns and rows, a word of a row at a time, as far as whole words can
// be read, and gives how many blocks that was.
func sumSixes(sums []int32, plane []uint8, stride int) (done int) {
	w := min(6*len(sums)+2, len(plane)-5*stride)
	a, b, c := plane[:w], plane[stride:][:w], plane[2*stride:][:w]
	d, e, f := plane[3*stride:][:w], plane[4*stride:][:w], plane[5*stride:][:w]
	for x := 0; x+8 <= w; x += 6 {
		a, b, c, d, e, f := wordAt(a, x), wordAt(b, x), wordAt(c, x), wordAt(d, x), wordAt(e, x), wordAt(f, x)
		pairs := a&lowBytes + b&lowBytes + c&lowBytes + d&lowBytes + e&lowBytes + f&lowBytes +
			a>>8&lowBytes + b>>8&lowBytes + c>>8&lowBytes + d>>8&lowBytes + e>>8&lowBytes + f>>8&lowBytes
		sums[done] = int32(pairs * 0x000100010001 >> 32 & 0xffff) // the first three pairs together
		done++
	}
	return done
}

// sumThrees does that with blocks of three columns and rows, two at a time.
func sumThrees(sums []int32, plane []uint8, stride int) (done int) {
	w := min(3*(len(sums)&^1)+2, len(plane)-2*stride)
	a, b, c := plane[:w], plane[stride:][:w], plane[2*stride:][:w]
	for x := 0; x+8 <= w; x += 6 {
		a, b, c := wordAt(a, x), wordAt(b, x), wordAt(c, x)
		even := a&lowBytes + b&lowBytes + c&lowBytes
		odd := a>>8&lowBytes + b>>8&lowBytes + c>>8&lowBytes
		pairs := even + odd
		two := sums[done : done+2 : done+2]
		two[0], two[1] = int32((pairs+even>>16)&0xffff), int32((odd>>16+pairs>>32)&0xffff)
		done += 2
	}
	return done
}
