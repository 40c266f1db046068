package measure

// Options is what is known about a photo beside its pixels. The zero value knows nothing.
type Options struct {
	// Focal35mm is the focal length as 35 mm equivalent (EXIF FocalLengthIn35mmFilm); 0 unknown.
	Focal35mm float64
	// Thickness is the leaf's thickness as typed; the zero Estimate where nobody typed it.
	Thickness Estimate
	// ScaleBar is how long the bar beside a printed card was measured to be; the zero Estimate
	// where nobody measured it. Other cards have none.
	ScaleBar Estimate
	// Clock returns milliseconds since any fixed moment, for Timing; nil leaves it zero.
	Clock func() float64
}

// LeastSide is the least longer side of a picture, px, in which anything can be measured: hinge and card
// laid side by side take some 200 mm, and a millimetre wants two and a half.
const LeastSide = 500
