// Package baseline decodes JPEG as phones write it: one scan, eight bits, Huffman codes, colour
// at full or half size. It takes little over half the time of image/jpeg, which every measurement
// waits for, and turns the picture upright as it writes the blocks, which costs next to nothing. It
// knows nothing else: at anything unusual or wrong it gives up, and image/jpeg decides. Numbers in
// brackets are sections of ISO/IEC 10918-1.
package baseline

import (
	"encoding/binary"
	"image"

	"leafgauge/intake/upright"
)

// Decode decodes a JPEG as phones write them and turns it as its EXIF orientation, 1 to 8, says;
// nil where it is another, damaged, or of an odd size that can't be turned with its colour at
// half size. Its samples are those of image/jpeg.
func Decode(data []byte, orientation int) *image.YCbCr {
	var d decoder
	d.Turning = upright.For(orientation)
	if len(data) < 4 || data[0] != 0xff || data[1] != 0xd8 {
		return nil
	}
	for at := 2; at+4 <= len(data); {
		if data[at] != 0xff {
			return nil
		}
		marker := data[at+1]
		n := int(binary.BigEndian.Uint16(data[at+2:]))
		if n < 2 || at+2+n > len(data) {
			return nil
		}
		body := data[at+4 : at+2+n]
		at += 2 + n
		ok := true
		switch {
		case marker == 0xc0:
			ok = d.frame(body)
		case marker == 0xc4:
			ok = d.huffman(body)
		case marker == 0xdb:
			ok = d.quantization(body)
		case marker == 0xdd:
			if ok = len(body) == 2; ok {
				d.restart = int(binary.BigEndian.Uint16(body))
			}
		case marker == 0xda:
			if !d.scanHeader(body) || !d.scan(data[at:]) {
				return nil
			}
			return d.img
		case marker == 0xee: // may say that colours are coded in another way
			ok = false
		case marker >= 0xe0 && marker <= 0xef, marker == 0xfe:
		default:
			ok = false
		}
		if !ok {
			return nil
		}
	}
	return nil
}

// A decoder is the state of decoding.
type decoder struct {
	upright.Turning
	order [64]uint8 // where in a stored block each sample of the turned one is

	img     *image.YCbCr    // upright
	whole   *image.YCbCr    // the same with all of its blocks
	full    image.Rectangle // as stored, of whole blocks
	sx, sy  int             // blocks of luma to one of chroma, across and down, as stored: 1 or 2
	ids     [3]byte
	quantOf [3]byte
	quant   [4]*[64]int32 // in zigzag order
	dc, ac  [2]*huffmanTable
	dcOf    [3]*huffmanTable
	acOf    [3]*huffmanTable
	restart int // units between restart markers; 0: none

	coefficients [64]int32 // of a block, by rows; all zero between blocks
}

// frame reads the frame header (B.2.2).
func (d *decoder) frame(b []byte) bool {
	if d.img != nil || len(b) != 15 || b[0] != 8 || b[5] != 3 {
		return false
	}
	h, w := int(binary.BigEndian.Uint16(b[1:])), int(binary.BigEndian.Uint16(b[3:]))
	for c := range 3 {
		d.ids[c], d.quantOf[c] = b[6+3*c], b[8+3*c]
		if d.quantOf[c] > 3 || c > 0 && b[7+3*c] != 0x11 {
			return false
		}
	}
	d.sx, d.sy = int(b[7]>>4), int(b[7]&15)
	if w == 0 || h == 0 || d.sx < 1 || d.sx > 2 || d.sy < 1 || d.sy > 2 ||
		d.ids[0] == d.ids[1] || d.ids[1] == d.ids[2] || d.ids[0] == d.ids[2] || string(d.ids[:]) == "RGB" {
		return false
	}
	if d.FlipX && w%d.sx > 0 || d.FlipY && h%d.sy > 0 {
		return false
	}
	up := func(n, to int) int { return (n + to - 1) / to * to }
	d.full = image.Rect(0, 0, up(w, 8*d.sx), up(h, 8*d.sy))
	sx, sy := d.sx, d.sy
	if d.Transpose {
		sx, sy = sy, sx
	}
	ratio := [2][2]image.YCbCrSubsampleRatio{
		{image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio440},
		{image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420},
	}[sx-1][sy-1]
	d.whole = image.NewYCbCr(d.Bounds(d.full.Dx(), d.full.Dy()), ratio)
	// What the last blocks hold beyond the picture comes first where it is read from the far side.
	var left, top int
	if d.FlipX {
		left = d.full.Dx() - w
	}
	if d.FlipY {
		top = d.full.Dy() - h
	}
	if d.Transpose {
		left, top = top, left
	}
	m := *d.whole
	m.Rect = d.Bounds(w, h)
	m.Y = m.Y[top*m.YStride+left:]
	chroma := top/sy*m.CStride + left/sx
	m.Cb, m.Cr = m.Cb[chroma:], m.Cr[chroma:]
	d.img = &m
	for i := range d.order {
		x, y := d.At(i%8, i/8, 8, 8)
		d.order[i] = uint8(8*y + x)
	}
	return true
}

// quantization reads quantization tables (B.2.4.1).
func (d *decoder) quantization(b []byte) bool {
	for ; len(b) >= 65; b = b[65:] {
		if b[0] > 3 { // 16 bits, or no such table
			return false
		}
		t := new([64]int32)
		for i, v := range b[1:65] {
			t[i] = int32(v)
		}
		d.quant[b[0]] = t
	}
	return len(b) == 0
}

// quickBits is how many bits are looked up at once: nearly every code, and with most the value
// that follows it.
const quickBits = 10

// A huffmanTable decodes the codes of one table (C.2).
type huffmanTable struct {
	// quick has, by the next bits: the value in bits 16–31, the zeros before it in 8–11, and
	// the length of code and value in 0–5, where both fit; else the symbol in 8–15, the code's
	// length in 0–5 and bit 6; 0 where the code itself is longer.
	quick  [1 << quickBits]int32
	last   [17]int32 // largest code of each length; −1 for none
	offset [17]int32 // of the symbol from the code
	symbol [256]byte
}

const quickCodeOnly = 1 << 6

// huffman reads Huffman tables (B.2.4.2).
func (d *decoder) huffman(b []byte) bool {
	for len(b) > 0 {
		if len(b) < 17 || b[0]&15 > 1 || b[0]>>4 > 1 {
			return false
		}
		kind, id, counts := b[0]>>4, b[0]&15, b[1:17]
		n := 0
		for _, c := range counts {
			n += int(c)
		}
		if n == 0 || n > 256 || len(b) < 17+n {
			return false
		}
		t := new(huffmanTable)
		copy(t.symbol[:], b[17:17+n])
		code, k := int32(0), int32(0)
		for length := int32(1); length <= 16; length++ {
			t.last[length], t.offset[length] = -1, k-code
			for range counts[length-1] {
				if code >= 1<<length {
					return false // more codes than there are
				}
				if length <= quickBits {
					t.enter(code, length, t.symbol[k], kind == 1)
				}
				t.last[length] = code
				code++
				k++
			}
			code <<= 1
		}
		if kind == 0 {
			d.dc[id] = t
		} else {
			d.ac[id] = t
		}
		b = b[17+n:]
	}
	return true
}

// enter writes a code's entries into the quick table.
func (t *huffmanTable) enter(code, length int32, symbol byte, ac bool) {
	free := quickBits - length
	size := int32(symbol & 15)
	for rest := range int32(1) << free {
		at := code<<free | rest
		if !ac || size == 0 || size > free {
			t.quick[at] = int32(symbol)<<8 | quickCodeOnly | length
			continue
		}
		v := extend(rest>>(free-size), size)
		t.quick[at] = v<<16 | int32(symbol>>4)<<8 | (length + size)
	}
}

// extend is the value that size bits stand for (F.2.2.1).
func extend(v, size int32) int32 {
	if v < 1<<(size-1) {
		v += -1<<size + 1
	}
	return v
}

// scanHeader reads the header of a scan of all three components (B.2.3).
func (d *decoder) scanHeader(b []byte) bool {
	if d.img == nil || len(b) != 10 || b[0] != 3 || b[7] != 0 || b[8] != 63 || b[9] != 0 {
		return false
	}
	for c := range 3 {
		dc, ac := b[2+2*c]>>4, b[2+2*c]&15
		if b[1+2*c] != d.ids[c] || dc > 1 || ac > 1 || d.dc[dc] == nil || d.ac[ac] == nil || d.quant[d.quantOf[c]] == nil {
			return false
		}
		d.dcOf[c], d.acOf[c] = d.dc[dc], d.ac[ac]
	}
	return true
}

// A bitSource hands out the bits of entropy-coded data.
type bitSource struct {
	data []byte
	at   int
	bits uint64 // the next ones, from the top
	n    int    // how many of them are there
	lack int    // how many of these are zeros after the data's end
}

// fill brings n to 57 at the least.
func (s *bitSource) fill() {
	if s.at+8 <= len(s.data) {
		v := binary.BigEndian.Uint64(s.data[s.at:])
		if (^v-0x0101010101010101)&v&0x8080808080808080 == 0 { // no byte is 0xff
			s.bits |= v >> s.n
			k := (64 - s.n) >> 3
			s.at += k
			s.n += 8 * k
			return
		}
	}
	for s.n <= 56 {
		var b byte
		switch {
		case s.at < len(s.data) && s.data[s.at] != 0xff:
			b = s.data[s.at]
			s.at++
		case s.at+1 < len(s.data) && s.data[s.at+1] == 0:
			b = 0xff
			s.at += 2
		default: // a marker, or the end
			s.lack += 8
		}
		s.bits |= uint64(b) << (56 - s.n)
		s.n += 8
	}
}

// next takes a code, at most 16 bits of which at least as many must be there; −1 for none.
func (t *huffmanTable) next(s *bitSource) int32 {
	for length := 1; length <= 16; length++ {
		if code := int32(s.bits >> (64 - length)); code <= t.last[length] {
			s.bits <<= length
			s.n -= length
			return int32(t.symbol[(code+t.offset[length])&255])
		}
	}
	return -1
}

// scan decodes the scan's data.
func (d *decoder) scan(data []byte) bool {
	src := bitSource{data: data}
	across, down := d.full.Dx()/(8*d.sx), d.full.Dy()/(8*d.sy)
	type plane struct {
		pix                []byte
		stride             int
		sx, sy             int
		first, right, down int // place of the first stored block; how far to the next ones
	}
	planes := [3]plane{{pix: d.whole.Y, stride: d.whole.YStride, sx: d.sx, sy: d.sy},
		{pix: d.whole.Cb, stride: d.whole.CStride, sx: 1, sy: 1}, {pix: d.whole.Cr, stride: d.whole.CStride, sx: 1, sy: 1}}
	for c := range planes {
		p := &planes[c]
		p.right, p.down = 8, 8*p.stride
		if d.Transpose {
			p.right, p.down = p.down, p.right
		}
		if d.FlipX {
			p.first += (across*p.sx - 1) * p.right
			p.right = -p.right
		}
		if d.FlipY {
			p.first += (down*p.sy - 1) * p.down
			p.down = -p.down
		}
	}
	var before [3]int32
	units := 0
	for y := range down {
		for x := range across {
			if d.restart > 0 && units > 0 && units%d.restart == 0 {
				if !src.marker(0xd0 + byte(units/d.restart-1)&7) {
					return false
				}
				before = [3]int32{}
			}
			units++
			for c := range planes {
				p := &planes[c]
				for v := range p.sy {
					for h := range p.sx {
						at := p.first + (y*p.sy+v)*p.down + (x*p.sx+h)*p.right
						if !d.block(&src, c, &before[c], p.pix[at:], p.stride) {
							return false
						}
					}
				}
			}
		}
		if src.n < src.lack {
			return false
		}
	}
	return src.marker(0xd9)
}

// marker passes over a marker, which must follow the bits taken: of the last byte some may be
// left.
func (s *bitSource) marker(code byte) bool {
	if left := s.n - s.lack; left < 0 || left >= 8 {
		return false
	}
	if s.at+2 > len(s.data) || s.data[s.at] != 0xff || s.data[s.at+1] != code {
		return false
	}
	*s = bitSource{data: s.data, at: s.at + 2}
	return true
}

// zigzag is where in a block, by rows, each coefficient belongs (figure 5).
var zigzag = func() (z [64]uint8) {
	x, y := 0, 0
	for i := range z {
		z[i] = uint8(8*y + x)
		switch {
		case (x+y)%2 == 0 && x == 7, (x+y)%2 == 1 && y < 7 && x == 0:
			y++
		case (x+y)%2 == 1 && y == 7, (x+y)%2 == 0 && y == 0:
			x++
		case (x+y)%2 == 0:
			x, y = x+1, y-1
		default:
			x, y = x-1, y+1
		}
	}
	return z
}()

// block decodes one block of component c and writes its samples.
func (d *decoder) block(s *bitSource, c int, before *int32, out []byte, stride int) bool {
	q := d.quant[d.quantOf[c]]
	if s.n < 32 {
		s.fill()
	}
	// In registers while the block lasts: each code waits for the one before.
	bits, n := s.bits, s.n
	// The mean, as its difference from that of the block before (F.2.2.1).
	t := d.dcOf[c]
	size := int32(0)
	if e := t.quick[bits>>(64-quickBits)]; e != 0 {
		size = e >> 8
		bits <<= e & 63
		n -= int(e & 63)
	} else {
		if size = t.next(s); size < 0 {
			return false
		}
		bits, n = s.bits, s.n
	}
	if size > 11 {
		return false
	}
	if size > 0 {
		*before += extend(int32(bits>>(64-size)), size)
		bits <<= size
		n -= int(size)
	}
	coefficients := &d.coefficients
	rows := uint(0) // those with any but zero, the mean aside
	t = d.acOf[c]
	for k := 1; k < 64; k++ {
		if n < 32 {
			s.bits, s.n = bits, n
			s.fill()
			bits, n = s.bits, s.n
		}
		e := t.quick[bits>>(64-quickBits)]
		var v int32
		if e != 0 && e&quickCodeOnly == 0 {
			bits <<= e & 63
			n -= int(e & 63)
			k += int(e >> 8 & 15)
			v = e >> 16
		} else {
			symbol := e >> 8
			if e == 0 {
				s.bits, s.n = bits, n
				if symbol = t.next(s); symbol < 0 {
					return false
				}
				bits, n = s.bits, s.n
			} else {
				bits <<= e & 63
				n -= int(e & 63)
			}
			size := symbol & 15
			if size == 0 {
				if symbol == 0 {
					break // the rest is zero
				}
				if symbol != 0xf0 {
					return false
				}
				k += 15
				continue
			}
			k += int(symbol >> 4)
			v = extend(int32(bits>>(64-size)), size)
			bits <<= size
			n -= int(size)
		}
		if k > 63 {
			return false
		}
		z := zigzag[k]
		coefficients[z&63] = v * q[k]
		rows |= 1 << (z >> 3)
	}
	s.bits, s.n = bits, n
	if rows == 0 {
		flat(*before*q[0], out, stride)
		return true
	}
	coefficients[0] = *before * q[0]
	rows |= 1
	inverse(coefficients, rows)
	if d.Turning != (upright.Turning{}) {
		if rows == 1 {
			for y := 8; y < 64; y += 8 {
				copy(coefficients[y:y+8], coefficients[:8])
			}
			rows = 0xff
		}
		stored := *coefficients
		for i, from := range d.order {
			coefficients[i] = stored[from&63]
		}
	}
	write(coefficients, rows == 1, out, stride)
	*coefficients = [64]int32{}
	return true
}

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
