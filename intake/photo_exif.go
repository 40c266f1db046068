package intake

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"time"

	"github.com/bep/imagemeta"
)

// A shot is what stays of a picture's camera notes.
type shot struct {
	orientation int     // 1…8
	focal35     float64 // 35 mm equivalent, by the diagonal (CIPA DCG-001); 0 unknown
}

// filmDiagonal is that of the 36 × 24 mm frame, in mm.
const filmDiagonal = 43.2666

// Focal lengths of phone and hand cameras, as 35 mm equivalent; anything outside is a slip.
const minFocal35, maxFocal35 = 8, 400

// readShot reads the camera's notes. Damaged or absent notes are no notes.
func readShot(format string, data []byte, stored size) (s shot) {
	s.orientation = 1
	kinds := map[string]imagemeta.ImageFormat{JPEG: imagemeta.JPEG, PNG: imagemeta.PNG, WebP: imagemeta.WebP, HEIC: imagemeta.HEIF}
	tags := map[string]float64{}
	defer func() {
		if recover() != nil {
			s = shot{orientation: 1}
		}
	}()
	// An error leaves what was read before it.
	_, _ = imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(data), ImageFormat: kinds[format], Sources: imagemeta.EXIF,
		LimitNumTags: 2000, LimitTagSize: 1000, Timeout: 2 * time.Second,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool {
			switch t.Tag {
			case "Orientation":
				return t.Namespace == "IFD0"
			case "FocalLengthIn35mmFormat", "FocalLength", "FocalPlaneXResolution", "FocalPlaneResolutionUnit", "ExifImageWidth", "ExifImageHeight":
				return true
			}
			return false
		},
		HandleTag: func(t imagemeta.TagInfo) error {
			if _, again := tags[t.Tag]; !again {
				tags[t.Tag] = number(t.Value)
			}
			return nil
		},
		Warnf: func(string, ...any) {},
	})
	if o := tags["Orientation"]; o >= 1 && o <= 8 && o == math.Trunc(o) {
		s.orientation = int(o)
	}
	s.focal35 = focal35(tags, stored)
	return s
}

// focal35 is the 35 mm equivalent of the picture as stored. A picture whose proportions are
// no longer those that the camera noted was cropped, and the camera's notes do not hold for it.
func focal35(tags map[string]float64, stored size) float64 {
	w, h := tags["ExifImageWidth"], tags["ExifImageHeight"]
	if w > 0 && h > 0 {
		noted, now := math.Max(w, h)/math.Min(w, h), float64(max(stored.w, stored.h))/float64(min(stored.w, stored.h))
		if math.Abs(noted/now-1) > 0.01 {
			return 0
		}
	}
	f := tags["FocalLengthIn35mmFormat"]
	if f == 0 {
		// Pixels of the sensor per unit along the stored width: 2 is inch, 3 cm, 4 mm (Exif 2.32, 0xA210).
		unit := map[float64]float64{0: 25.4, 2: 25.4, 3: 10, 4: 1}[tags["FocalPlaneResolutionUnit"]]
		if perMM := tags["FocalPlaneXResolution"] / unit; w > 0 && h > 0 && unit > 0 && perMM > 0 {
			f = tags["FocalLength"] * perMM * filmDiagonal / math.Hypot(w, h)
		}
	}
	if !(f >= minFocal35 && f <= maxFocal35) {
		return 0
	}
	return math.Round(f*100) / 100
}

// number is an EXIF value as a number; 0 where it is none.
func number(v any) float64 {
	switch n := v.(type) {
	case uint8:
		return float64(n)
	case uint16:
		return float64(n)
	case uint32:
		return float64(n)
	case int16:
		return float64(n)
	case int32:
		return float64(n)
	case int:
		return float64(n)
	case float32:
		return float64(n)
	case float64:
		return n
	case interface{ Float64() float64 }:
		return n.Float64()
	case fmt.Stringer:
		var f float64
		_, _ = fmt.Sscan(n.String(), &f)
		return f
	}
	return 0
}

// exif writes s as the smallest TIFF block that says it, or nil where there is nothing to
// say. A fractional equivalent has no tag of its own and is rounded to whole millimetres in
// the file; Photo.Focal35mm keeps the fraction.
func (s shot) exif() []byte {
	focal := uint16(math.Round(s.focal35))
	if s.orientation == 1 && focal == 0 {
		return nil
	}
	var b bytes.Buffer
	le := func(v ...any) {
		for _, x := range v {
			_ = binary.Write(&b, binary.LittleEndian, x)
		}
	}
	short := func(tag, value uint16) { le(tag, uint16(3), uint32(1), value, uint16(0)) }
	b.WriteString("II*\x00")
	le(uint32(8)) // the first directory follows
	if focal == 0 {
		le(uint16(1))
		short(0x0112, uint16(s.orientation))
		le(uint32(0))
		return b.Bytes()
	}
	le(uint16(2))
	short(0x0112, uint16(s.orientation))
	const exifAt = 8 + 2 + 2*12 + 4
	le(uint16(0x8769), uint16(4), uint32(1), uint32(exifAt)) // the Exif directory
	le(uint32(0))
	le(uint16(1))
	short(0xA405, focal)
	le(uint32(0))
	return b.Bytes()
}
