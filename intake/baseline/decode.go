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
