package measure

import "image"

// Options is what is known about a photo beside its pixels. The zero value knows nothing.
type Options struct {
	// Focal35mm is the focal length as 35 mm equivalent (EXIF FocalLengthIn35mmFilm); 0 unknown.
	Focal35mm float64
	// Thickness is the leaf's thickness as typed; the zero Estimate where nobody typed it.
	Thickness Estimate
	// Clock returns milliseconds since any fixed moment, for Timing; nil leaves it zero.
	Clock func() float64
}

// Photo measures an upright picture. It never fails: what cannot be measured comes back as
// a Result with Status Retake and the reasons.
func Photo(img image.Image, opt Options) Result {
	b := img.Bounds()
	return Result{Status: Retake, RetakeReasons: []Reason{CardMissing}, Image: ImageInfo{Width: b.Dx(), Height: b.Dy()}}
}
