package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"path"
	"strings"
	"unicode"

	"leafgauge/intake/upright"
)

// What is taken. A phone's largest ordinary picture is 48 megapixels and about 20 MB.
const (
	MaxPhotoBytes  = 25 << 20
	MaxPhotoPixels = 50_000_000
	// minPhotoSide is the shortest side, in pixels, that can be a photo at all. A picture above
	// it may still be too small to measure; that is for measure to say.
	minPhotoSide = 16
)

// Formats of a Photo.
const (
	JPEG = "jpeg"
	PNG  = "png"
	WebP = "webp"
	HEIC = "heic" // as sent only: it is kept as a JPEG, which every browser can show
)

// A Photo is a picture as admitted: checked, stripped of location and trailing data.
type Photo struct {
	SHA256      string  `json:"sha256"` // of Bytes, hex; the name it is kept under
	Format      string  `json:"format"` // of Bytes: jpeg, png, webp
	Bytes       []byte  `json:"-"`
	Width       int     `json:"width_px"` // upright
	Height      int     `json:"height_px"`
	Orientation int     `json:"orientation"` // EXIF 1…8 of Bytes; 1 where absent
	Focal35mm   float64 `json:"focal_35mm"`  // 0 unknown
	FileName    string  `json:"file_name"`   // as sent, made harmless
}

// Nothing reports whether a customer sent neither a photo nor a word.
func Nothing(photos []Photo, text string) bool { return len(photos) == 0 && text == "" }

// InvalidError is something a customer sent that cannot be used; Text says what to do.
type InvalidError struct {
	Field string // "photo", "email", …
	Code  string // "not_an_image", "too_many_pixels", …
	Text  string
}

func (e *InvalidError) Error() string { return e.Text }

// Codes of the *InvalidError that Admit returns.
const (
	CodeEmpty         = "empty"
	CodeTooLarge      = "too_large"       // bytes
	CodeTooManyPixels = "too_many_pixels" // by its header
	CodeTooFewPixels  = "too_few_pixels"
	CodeNotAnImage    = "not_an_image"
	CodeUnsupported   = "unsupported_format"
	CodeDamaged       = "damaged" // cut short, or not what its header says
	CodeTooComplex    = "too_complex"
)

func invalidPhoto(code, format string, args ...any) *InvalidError {
	return &InvalidError{Field: "photo", Code: code, Text: fmt.Sprintf(format, args...)}
}

// Admit checks a picture as sent and returns it as it will be kept, or *InvalidError.
// The format is told from the bytes alone, by the short list above. The kept bytes hold the
// same pixels without place, maker's notes, thumbnails or anything behind the picture; of the
// camera's notes only orientation and focal length stay. They have been decoded once, whole.
// Admitting kept bytes again gives the same bytes. What strangers send is for a Doorman to admit.
func Admit(name string, data []byte) (Photo, error) {
	p, _, err := Open(name, data)
	return p, err
}

// Open is Admit and Decode in one, with a single decoding.
func Open(name string, data []byte) (Photo, image.Image, error) {
	p := Photo{FileName: harmlessName(name)}
	switch {
	case len(data) == 0:
		return Photo{}, nil, invalidPhoto(CodeEmpty, "The photo file is empty. Please choose the photo again and send it once more.")
	case len(data) > MaxPhotoBytes:
		return Photo{}, nil, invalidPhoto(CodeTooLarge, "The photo file has %d MB; up to %d MB can be taken. Please send it in your phone's normal picture size.",
			(len(data)+1<<19)>>20, MaxPhotoBytes>>20)
	}
	format, err := sniff(data)
	if err != nil {
		return Photo{}, nil, err
	}
	p.Format = format

	stored, err := headerSize(format, data)
	if err != nil {
		return Photo{}, nil, err
	}
	if err := stored.check(); err != nil {
		return Photo{}, nil, err
	}
	shot := readShot(format, data, stored)
	if format == HEIC {
		// The decoder turns it upright itself.
		p.Format, shot.orientation = JPEG, 1
		if data, err = heicToJPEG(data, stored); err != nil {
			return Photo{}, nil, err
		}
	}
	if p.Bytes, err = strip(p.Format, data, shot); err != nil {
		return Photo{}, nil, err
	}
	p.Orientation, p.Focal35mm = shot.orientation, shot.focal35
	img, err := Decode(p)
	if err != nil {
		return Photo{}, nil, err
	}
	p.Width, p.Height = img.Bounds().Dx(), img.Bounds().Dy()
	got := size{p.Width, p.Height}
	if upright.For(p.Orientation).Transpose {
		got = size{p.Height, p.Width}
	}
	if format != HEIC && got != stored {
		return Photo{}, nil, invalidPhoto(CodeDamaged, "The photo says that it is %v pixels large but is %v. Please send it again as your phone took it.", stored, got)
	}
	sum := sha256.Sum256(p.Bytes)
	p.SHA256 = hex.EncodeToString(sum[:])
	return p, img, nil
}

// A size is a picture's width and height in pixels.
type size struct{ w, h int }

func (s size) String() string { return fmt.Sprintf("%d × %d", s.w, s.h) }

func (s size) check() error {
	switch {
	case s.w < minPhotoSide || s.h < minPhotoSide:
		return invalidPhoto(CodeTooFewPixels, "The picture is only %v pixels large. Please send the photo itself, in its original size.", s)
	case s.w > MaxPhotoPixels/s.h:
		return invalidPhoto(CodeTooManyPixels, "The picture is %v pixels large; up to %d megapixels can be taken. Please send it in your phone's normal picture size.",
			s, MaxPhotoPixels/1_000_000)
	}
	return nil
}

// sniff tells the format of data by its first bytes.
func sniff(data []byte) (string, error) {
	has := func(at int, s string) bool { return len(data) >= at+len(s) && string(data[at:at+len(s)]) == s }
	brand := func(names ...string) bool {
		if !has(4, "ftyp") {
			return false
		}
		// The brands of an ISO/IEC 14496-12 file lie in its first box; the list is short.
		head := data[8:min(len(data), 64)]
		for _, n := range names {
			if bytes.Contains(head, []byte(n)) {
				return true
			}
		}
		return false
	}
	const send = "Please send a JPEG, PNG, WebP or HEIC picture, such as your phone's camera takes."
	switch {
	case has(0, "\xff\xd8\xff"):
		return JPEG, nil
	case has(0, "\x89PNG\r\n\x1a\n"):
		return PNG, nil
	case has(0, "RIFF") && has(8, "WEBP"):
		return WebP, nil
	case brand("avif", "avis"):
		return "", invalidPhoto(CodeUnsupported, "AVIF pictures can't be read here. "+send)
	case brand("heic", "heix", "heim", "heis", "mif1"):
		return HEIC, nil
	case brand(""):
		return "", invalidPhoto(CodeUnsupported, "This looks like a video. "+send)
	case has(0, "GIF8"), has(0, "BM"), has(0, "II*\x00"), has(0, "MM\x00*"), has(0, "\xff\x0a"), has(4, "JXL "):
		return "", invalidPhoto(CodeUnsupported, "This kind of picture can't be read here. "+send)
	case has(0, "%PDF"):
		return "", invalidPhoto(CodeUnsupported, "This is a PDF document. "+send)
	}
	return "", invalidPhoto(CodeNotAnImage, "This file is not a picture. "+send)
}

// harmlessName is a file name as sent, without folders, control characters or great length.
func harmlessName(name string) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) || strings.ContainsRune(`/<>"|?*:`, r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	name = strings.Trim(name, ". ")
	if r := []rune(name); len(r) > 100 {
		name = string(r[len(r)-100:])
	}
	if name == "" {
		return "photo"
	}
	return name
}

// asInvalid passes an *InvalidError on and makes any other error of a decoder one.
func asInvalid(err error) error {
	var invalid *InvalidError
	if err == nil || errors.As(err, &invalid) {
		return err
	}
	return invalidPhoto(CodeDamaged, "The photo is damaged or was cut short on its way. Please send it again, as your phone took it.")
}
