package baseline

import "encoding/binary"

// flat writes a block of one level.
func flat(dc int32, out []byte, stride int) {
	v := uint64(clamp((dc+4)>>3+128)) * 0x0101010101010101
	for y := range 8 {
		binary.LittleEndian.PutUint64(out[y*stride:], v)
	}
}

func clamp(v int32) byte { return byte(min(max(v, 0), 255)) }

// The inverse transform (A.3.3) runs along the rows, then down the columns, each by the method
// of Loeffler, Ligtenberg and Moschytz, "Practical fast 1-D DCT algorithms with 11
// multiplications", ICASSP 1989. Where numbers are cut to fit 32 bits image/jpeg of Go 1.26 cuts
// them too, so that both give the same samples.

// Sines and cosines of π/16, 3π/16 and, over √2, 6π/16; and 1/√2; with 12 bits after the point
// unless it says otherwise.
const (
	sin1, cos1         = 799, 4017
	sin3, cos3         = 2276, 3406
	sin6, cos6         = 2676, 1108
	sin6Fine, cos6Fine = 171254, 70936 // 18 bits
	half, halfCoarse   = 11585, 181    // 14 and 8 bits
)

// turned gives x and y turned by the angle whose sine and cosine are given.
func turned(x, y, sin, cos int32) (int32, int32) { return x*cos - y*sin, x*sin + y*cos }

// inverse transforms a block of coefficients, of which only rows have any but zero. Where that is
// the first alone, all rows of the result are like its first, which alone is written.
func inverse(b *[64]int32, rows uint) {
	for y := range 8 {
		if rows>>y&1 == 0 {
			continue
		}
		x := b[8*y : 8*y+8 : 8*y+8]
		if x[1]|x[2]|x[3]|x[4]|x[5]|x[6]|x[7] == 0 {
			v := x[0] << 17
			x[0], x[1], x[2], x[3], x[4], x[5], x[6], x[7] = v, v, v, v, v, v, v, v
			continue
		}
		e0, e1 := (x[0]+x[4])<<17, (x[0]-x[4])<<17
		e2, e3 := turned(x[2], x[6], sin6Fine, cos6Fine)
		sum, difference := (x[1]+x[7])<<7, (x[1]-x[7])<<7
		o3, o5 := x[3]*halfCoarse, x[5]*halfCoarse
		o4, o7 := turned((difference+o5)>>2, (sum+o3)>>2, sin3, cos3)
		o5, o6 := turned((sum-o3)>>2, (difference-o5)>>2, sin1, cos1)
		x[0], x[7] = e0+e3+o7, e0+e3-o7
		x[1], x[6] = e1+e2+o6, e1+e2-o6
		x[2], x[5] = e1-e2+o5, e1-e2-o5
		x[3], x[4] = e0-e3+o4, e0-e3-o4
	}
	for c := range 8 {
		x := b[c : c+57 : c+57]
		mean := x[0] + 1<<19 + 128<<20 // rounds all that it goes into; samples are kept 128 higher
		if rows == 1 {
			x[0] = mean >> 20
			continue
		}
		var e0, e1, e2, e3, sum, difference, o3, o5 int32
		if rows < 16 {
			e0 = mean >> 2
			e1 = e0
			e2, e3 = (x[16]>>13)*cos6, (x[16]>>13)*sin6
			sum, difference, o3 = x[8], x[8], (x[24]>>13)*half
		} else {
			e0, e1 = (mean+x[32])>>2, (mean-x[32])>>2
			e2, e3 = turned(x[16]>>13, x[48]>>13, sin6, cos6)
			sum, difference = x[8]+x[56], x[8]-x[56]
			o3, o5 = (x[24]>>13)*half, (x[40]>>13)*half
		}
		o4, o7 := turned((difference+o5)>>14, (sum+o3)>>14, sin3, cos3)
		o5, o6 := turned((sum-o3)>>14, (difference-o5)>>14, sin1, cos1)
		x[0], x[56] = (e0+e3+o7)>>18, (e0+e3-o7)>>18
		x[8], x[48] = (e1+e2+o6)>>18, (e1+e2-o6)>>18
		x[16], x[40] = (e1-e2+o5)>>18, (e1-e2-o5)>>18
		x[24], x[32] = (e0-e3+o4)>>18, (e0-e3-o4)>>18
	}
}

// write writes a block's samples; alike: all rows are like the first.
func write(b *[64]int32, alike bool, out []byte, stride int) {
	for y := range 8 {
		x := b[8*y : 8*y+8 : 8*y+8]
		if alike {
			x = b[:8:8]
		}
		p0, p1, p2, p3, p4, p5, p6, p7 := x[0], x[1], x[2], x[3], x[4], x[5], x[6], x[7]
		if uint32(p0|p1|p2|p3|p4|p5|p6|p7) > 255 {
			p0, p1, p2, p3 = int32(clamp(p0)), int32(clamp(p1)), int32(clamp(p2)), int32(clamp(p3))
			p4, p5, p6, p7 = int32(clamp(p4)), int32(clamp(p5)), int32(clamp(p6)), int32(clamp(p7))
		}
		low, high := uint32(p0|p1<<8|p2<<16|p3<<24), uint32(p4|p5<<8|p6<<16|p7<<24)
		binary.LittleEndian.PutUint64(out[y*stride:], uint64(low)|uint64(high)<<32)
	}
}
