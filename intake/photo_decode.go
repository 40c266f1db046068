package intake

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"sync"

	"leafgauge/intake/baseline"
	"leafgauge/intake/upright"

	"github.com/gen2brain/heic"
	"golang.org/x/image/webp"
)

// Decode returns the upright picture of an admitted photo: *image.YCbCr for all ordinary
// JPEG and WebP photos. Bytes that were not admitted give *InvalidError.
func Decode(p Photo) (img image.Image, err error) {
	// A decoder's panic on a crafted file is that file's fault, not the program's.
	defer func() {
		if r := recover(); r != nil {
			img, err = nil, asInvalid(fmt.Errorf("intake: %s decoder: %v", p.Format, r))
		}
	}()
	switch p.Format {
	case JPEG:
		img, err = decodeJPEG(p.Bytes, p.Orientation)
	case PNG:
		img, err = png.Decode(bytes.NewReader(p.Bytes))
	case WebP:
		img, err = webp.Decode(bytes.NewReader(p.Bytes))
		if a, ok := img.(*image.NYCbCrA); ok {
			img = &a.YCbCr
		}
	default:
		err = errors.New("intake: no decoder for " + p.Format)
	}
	if err != nil {
		return nil, asInvalid(err)
	}
	if p.Format != JPEG {
		img = upright.Turn(img, p.Orientation)
	}
	return img, nil
}

// decodeJPEG decodes a JPEG and turns it: by the decoder of our own where that can, else by
// image/jpeg.
func decodeJPEG(data []byte, orientation int) (image.Image, error) {
	if img := baseline.Decode(data, orientation); img != nil {
		return img, nil
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return upright.Turn(img, orientation), nil
}

// headerSize is the stored size that a picture's header claims.
func headerSize(format string, data []byte) (size, error) {
	var c image.Config
	var err error
	switch format {
	case JPEG:
		c, err = jpeg.DecodeConfig(bytes.NewReader(data))
	case PNG:
		c, err = png.DecodeConfig(bytes.NewReader(data))
		// Sixteen bits a channel take twice the memory.
		deep := c.ColorModel == color.RGBA64Model || c.ColorModel == color.NRGBA64Model
		if err == nil && deep && c.Width > MaxPhotoPixels/2/max(c.Height, 1) {
			return size{}, invalidPhoto(CodeTooManyPixels, "The picture is too large at 16 bits a colour. Please send it as your phone took it.")
		}
	case WebP:
		c, err = webp.DecodeConfig(bytes.NewReader(data))
	case HEIC:
		s, ok := heicSize(data)
		if !ok {
			err = errors.New("no ispe box")
		}
		c.Width, c.Height = s.w, s.h
	}
	if err != nil {
		return size{}, asInvalid(err)
	}
	return size{c.Width, c.Height}, nil
}

// heicSize is the largest size that any "ispe" property of the file claims (ISO/IEC 23008-12):
// in phone files that of the whole picture beside those of its tiles.
func heicSize(data []byte) (size, bool) {
	const metaSpan = 1 << 20 // properties lie in the file's first box or two
	var largest size
	head := data[:min(len(data), metaSpan)]
	for {
		i := bytes.Index(head, []byte("ispe"))
		if i < 0 || len(head) < i+16 {
			break
		}
		w, h := binary.BigEndian.Uint32(head[i+8:]), binary.BigEndian.Uint32(head[i+12:])
		if w < 1<<20 && h < 1<<20 && int(w)*int(h) > largest.w*largest.h {
			largest = size{int(w), int(h)}
		}
		head = head[i+16:]
	}
	return largest, largest.w > 0
}

// heicQuality keeps what a phone's own compression left: its error is well under the noise.
const heicQuality = 96

// onlyBuiltIn keeps the HEIC decoder, which would rather use a library of the machine that it
// happens to run on, to what is built in.
var onlyBuiltIn = sync.OnceFunc(func() { heic.ForceWasmMode = true })

// heicToJPEG turns a HEIC picture, upright as its own boxes say, into a JPEG.
func heicToJPEG(data []byte, claimed size) (out []byte, err error) {
	defer func() {
		if r := recover(); r != nil {
			out, err = nil, errHEIC
		}
	}()
	onlyBuiltIn()
	img, err := heic.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errHEIC
	}
	got := size{img.Bounds().Dx(), img.Bounds().Dy()}
	if got.w*got.h > claimed.w*claimed.h {
		return nil, errHEIC
	}
	if err := got.check(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: heicQuality}); err != nil {
		return nil, errHEIC
	}
	return b.Bytes(), nil
}

var errHEIC = invalidPhoto(CodeDamaged, "This HEIC photo can't be read. Please send it as JPEG: share it by e-mail, or set the camera to its most compatible format and take it again.")
