package picture

import "encoding/binary"

// A Reduced is a reduced copy: n × n pixels averaged into one, gamma-coded 0…255.
type Reduced struct {
	n       int // reduction
	W, H    int
	R, G, B []float32
}

// Reduce averages n × n blocks; a rest at the right and bottom is left out. The copy is kept.
func (f *Frame) Reduce(n int) *Reduced {
	if s, ok := f.reduced[n]; ok {
		return s
	}
	s := &Reduced{n: n, W: f.W / n, H: f.H / n}
	all := make([]float32, 3*s.W*s.H)
	s.R, s.G, s.B = all[:s.W*s.H], all[s.W*s.H:2*s.W*s.H], all[2*s.W*s.H:]
	sums := make([]int32, 3*s.W)
	ly, lb, lr := sums[:s.W], sums[s.W:2*s.W], sums[2*s.W:]
	columns := make([]uint16, s.W*n)
	cn, cm := n>>f.Sx, n>>f.Sy
	exact := cn<<f.Sx == n && cm<<f.Sy == n && cn > 0 && cm > 0
	for j := range s.H {
		sumBlocks(ly, f.Y[j*n*f.YStride:], f.YStride, n, n, columns)
		count := n * n
		if exact {
			count = cn * cm
			o := j * cm * f.CStride
			sumBlocks(lb, f.Cb[o:], f.CStride, cn, cm, columns)
			sumBlocks(lr, f.Cr[o:], f.CStride, cn, cm, columns)
		} else {
			clear(lb)
			clear(lr)
			for dy := range n {
				o := ((j*n + dy) >> f.Sy) * f.CStride
				for i := range lb {
					for k := i * n; k < i*n+n; k++ {
						lb[i] += int32(f.Cb[o+k>>f.Sx])
						lr[i] += int32(f.Cr[o+k>>f.Sx])
					}
				}
			}
		}
		o := j * s.W
		red, green, blue := s.R[o:o+s.W], s.G[o:o+s.W], s.B[o:o+s.W]
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
		f.reduced = map[int]*Reduced{}
	}
	f.reduced[n] = s
	return s
}

// Reduction is how many pixels to average into one for looking: the longer side comes to
// 500…1050 px, where a card that fills a sixth of the picture is still 90 px long; even
// numbers go with the chroma's blocks.
func (f *Frame) Reduction() int {
	n := max(f.W, f.H)
	if n < 1050 {
		return 1
	}
	return 2 * max(1, int(float64(n)/1400+0.5))
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
