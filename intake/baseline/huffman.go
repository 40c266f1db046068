package baseline

import "encoding/binary"

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
