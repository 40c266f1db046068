package intake

import (
	"errors"
	"image"
)

// A Photo is a picture as admitted: checked, stripped of location and trailing data.
type Photo struct {
	SHA256      string  `json:"sha256"` // of Bytes, hex; the name it is kept under
	Format      string  `json:"format"` // jpeg, png, webp, heic
	Bytes       []byte  `json:"-"`
	Width       int     `json:"width_px"` // upright
	Height      int     `json:"height_px"`
	Orientation int     `json:"orientation"` // EXIF 1…8 of Bytes; 1 where absent
	Focal35mm   float64 `json:"focal_35mm"`  // 0 unknown
	FileName    string  `json:"file_name"`   // as sent, made harmless
}

// InvalidError is something a customer sent that cannot be used; Text says what to do.
type InvalidError struct {
	Field string // "photo", "email", …
	Code  string // "not_an_image", "too_many_pixels", …
	Text  string
}

func (e *InvalidError) Error() string { return e.Text }

var errNotBuilt = errors.New("intake: not built yet")

// Admit checks a picture as sent and returns it as it will be kept, or *InvalidError.
func Admit(name string, data []byte) (Photo, error) { return Photo{}, errNotBuilt }

// Decode returns the upright picture of an admitted photo.
func Decode(p Photo) (image.Image, error) { return nil, errNotBuilt }
