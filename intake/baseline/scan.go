package baseline

import "leafgauge/intake/upright"

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
