package intake

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
)

// strip returns the picture with nothing in it but its pixels, its colour profile, and s.
// It changes no pixel. Where data breaks its format's own structure it fails.
func strip(format string, data []byte, s shot) ([]byte, error) {
	var out []byte
	var err error
	switch format {
	case JPEG:
		out, err = stripJPEG(data, s)
	case PNG:
		out, err = stripPNG(data, s)
	case WebP:
		out, err = stripWebP(data, s)
	default:
		err = errors.New("intake: no such format: " + format)
	}
	return out, asInvalid(err)
}

// maxScans is how many scans a JPEG may have. Encoders write 10 or so; a file of a few hundred
// kilobytes with thousands of scans keeps a decoder busy for minutes.
const maxScans = 24

// maxScanPixels bounds scans × pixels: 50 megapixels in 12 scans, 12 in 24.
const maxScanPixels = 12 * MaxPhotoPixels

var (
	errShort     = errors.New("intake: ends too soon")
	errAnimation = invalidPhoto(CodeUnsupported, "This is an animation. Please send one photo.")
)

// stripJPEG copies the segments that decoding needs (ISO/IEC 10918-1, annex B), puts its own
// APP1 first, and ends at the end-of-image marker.
func stripJPEG(data []byte, s shot) ([]byte, error) {
	out := make([]byte, 0, len(data)+64)
	out = append(out, 0xff, 0xd8)
	if e := s.exif(); e != nil {
		out = segment(out, 0xe1, append([]byte("Exif\x00\x00"), e...))
	}
	scans, pixels := 0, 0
	at := 2
	for {
		// The next marker; anything before it is padding.
		i := bytes.IndexByte(data[at:], 0xff)
		if i < 0 {
			break
		}
		at += i
		for at < len(data) && data[at] == 0xff {
			at++
		}
		if at == len(data) {
			break
		}
		marker := data[at]
		at++
		switch {
		case marker == 0xd9: // end of image: nothing behind it stays
			if scans == 0 {
				return nil, errShort
			}
			return append(out, 0xff, 0xd9), nil
		case marker == 0, marker == 1, marker >= 0xd0 && marker <= 0xd8:
			continue // stand alone
		}
		if at+2 > len(data) {
			return nil, errShort
		}
		n := int(binary.BigEndian.Uint16(data[at:]))
		if n < 2 || at+n > len(data) {
			return nil, errShort
		}
		body := data[at+2 : at+n]
		at += n
		if keepSegment(marker, body) {
			out = segment(out, marker, body)
		}
		if marker >= 0xc0 && marker <= 0xc2 && len(body) >= 5 {
			pixels = int(binary.BigEndian.Uint16(body[1:])) * int(binary.BigEndian.Uint16(body[3:]))
		}
		if marker != 0xda {
			continue
		}
		if scans++; scans > maxScans || scans*pixels > maxScanPixels {
			return nil, invalidPhoto(CodeTooComplex, "This JPEG is built of too many scans to be opened safely. Please send the photo as your phone took it.")
		}
		end := at + scanLength(data[at:])
		out = append(out, data[at:end]...)
		at = end
	}
	// No end marker. The pixels may all be there nevertheless: decoding will tell.
	if scans == 0 {
		return nil, errShort
	}
	return append(out, 0xff, 0xd9), nil
}

// scanLength is the length of the entropy-coded data at the start of data.
func scanLength(data []byte) int {
	at := 0
	for {
		i := bytes.IndexByte(data[at:], 0xff)
		if i < 0 {
			return len(data)
		}
		if at += i; at+1 == len(data) {
			return at // half a marker
		}
		if next := data[at+1]; next != 0 && (next < 0xd0 || next > 0xd7) {
			return at
		}
		at += 2
	}
}

// keepSegment keeps frames, tables, restart intervals, the colour profile and the two
// application segments that say how colours are coded.
func keepSegment(marker byte, body []byte) bool {
	switch {
	case marker == 0xe0:
		return bytes.HasPrefix(body, []byte("JFIF\x00")) && len(body) == 14 // without thumbnail
	case marker == 0xe2:
		return bytes.HasPrefix(body, []byte("ICC_PROFILE\x00"))
	case marker == 0xee:
		return bytes.HasPrefix(body, []byte("Adobe"))
	case marker >= 0xe0 && marker <= 0xef, marker == 0xfe:
		return false
	}
	return true
}

func segment(out []byte, marker byte, body []byte) []byte {
	out = append(out, 0xff, marker)
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	return append(out, body...)
}

// stripPNG copies the chunks that decoding and colour need (ISO/IEC 15948).
func stripPNG(data []byte, s shot) ([]byte, error) {
	out := append(make([]byte, 0, len(data)+64), data[:8]...)
	for at := 8; ; {
		if at+12 > len(data) {
			return nil, errShort
		}
		n := int(binary.BigEndian.Uint32(data[at:]))
		if n > len(data)-at-12 {
			return nil, errShort
		}
		kind := string(data[at+4 : at+8])
		chunk := data[at : at+12+n]
		at += 12 + n
		switch kind {
		case "acTL":
			return nil, errAnimation
		case "IHDR":
			out = append(out, chunk...)
			if e := s.exif(); e != nil {
				out = pngChunk(out, "eXIf", e)
			}
		case "PLTE", "tRNS", "gAMA", "cHRM", "sRGB", "iCCP", "sBIT", "IDAT":
			out = append(out, chunk...)
		case "IEND":
			return append(out, chunk...), nil
		}
	}
}

func pngChunk(out []byte, kind string, body []byte) []byte {
	out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
	from := len(out)
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[from:]))
}

// Flags of the VP8X chunk (RFC 9649, section 2.7).
const webpAnimated, webpEXIF, webpAlpha, webpICC = 0x02, 0x08, 0x10, 0x20

// stripWebP copies the picture's own chunks (RFC 9649).
func stripWebP(data []byte, s shot) ([]byte, error) {
	var kept []byte
	var flags byte
	var canvas []byte // of the VP8X chunk: width − 1 and height − 1, 24 bits each
	end := int(binary.LittleEndian.Uint32(data[4:])) + 8
	if end > len(data) {
		return nil, errShort
	}
	pixels := false
	for at := 12; at+8 <= end; {
		kind := string(data[at : at+4])
		n := int(binary.LittleEndian.Uint32(data[at+4:]))
		if n > end-at-8 {
			return nil, errShort
		}
		body := data[at+8 : at+8+n]
		at += 8 + n + n%2
		switch kind {
		case "VP8X":
			if n < 10 {
				return nil, errShort
			}
			if body[0]&webpAnimated != 0 {
				return nil, errAnimation
			}
			canvas, flags = body[4:10], flags|body[0]&webpAlpha
		case "ICCP":
			flags |= webpICC
			kept = webpChunk(kept, kind, body)
		case "ALPH":
			kept = webpChunk(kept, kind, body)
		case "VP8 ", "VP8L":
			// The picture has a size of its own, which the decoder goes by.
			frame, ok := webpFrame(kind, body)
			if !ok || pixels || canvas != nil && frame != canvasSize(canvas) {
				return nil, errors.New("intake: frame and canvas differ")
			}
			pixels = true
			kept = webpChunk(kept, kind, body)
		}
	}
	if !pixels {
		return nil, errShort
	}
	if canvas == nil {
		stored, err := headerSize(WebP, data)
		if err != nil {
			return nil, err
		}
		w, h := stored.w-1, stored.h-1
		canvas = []byte{byte(w), byte(w >> 8), byte(w >> 16), byte(h), byte(h >> 8), byte(h >> 16)}
	}
	if e := s.exif(); e != nil {
		flags |= webpEXIF
		kept = webpChunk(kept, "EXIF", e)
	}
	out := append(make([]byte, 0, len(kept)+64), "RIFF\x00\x00\x00\x00WEBP"...)
	if flags != 0 {
		out = webpChunk(out, "VP8X", append([]byte{flags, 0, 0, 0}, canvas...))
	}
	out = append(out, kept...)
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	return out, nil
}

// webpFrame is the size of a frame (RFC 6386, section 9.1; RFC 9649, section 3.4).
func webpFrame(kind string, body []byte) (size, bool) {
	if kind == "VP8L" {
		if len(body) < 5 || body[0] != 0x2f {
			return size{}, false
		}
		bits := binary.LittleEndian.Uint32(body[1:])
		return size{int(bits&0x3fff) + 1, int(bits>>14&0x3fff) + 1}, true
	}
	if len(body) < 10 {
		return size{}, false
	}
	w, h := binary.LittleEndian.Uint16(body[6:]), binary.LittleEndian.Uint16(body[8:])
	return size{int(w & 0x3fff), int(h & 0x3fff)}, true
}

func canvasSize(c []byte) size {
	return size{1 + int(c[0]) + int(c[1])<<8 + int(c[2])<<16, 1 + int(c[3]) + int(c[4])<<8 + int(c[5])<<16}
}

func webpChunk(out []byte, kind string, body []byte) []byte {
	out = append(out, kind...)
	out = binary.LittleEndian.AppendUint32(out, uint32(len(body)))
	out = append(out, body...)
	if len(body)%2 == 1 {
		out = append(out, 0)
	}
	return out
}
