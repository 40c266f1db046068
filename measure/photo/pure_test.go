package photo_test

import (
	"image"
	"image/color"
	"image/draw"
	"slices"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/photo"

	"github.com/stretchr/testify/require"
)

// The same picture gives the same numbers, to the last digit, and is left as it was.
func TestPhotoIsPure(t *testing.T) {
	img, f35 := devPhoto(t, "005")
	small := halved(img)
	y, cb, cr := slices.Clone(small.Y), slices.Clone(small.Cb), slices.Clone(small.Cr)
	opt := measure.Options{Focal35mm: f35}
	first := photo.Measure(small, opt)
	require.Equal(t, measure.Measured, first.Status)
	require.Equal(t, first, photo.Measure(small, opt))
	require.True(t, slices.Equal(y, small.Y) && slices.Equal(cb, small.Cb) && slices.Equal(cr, small.Cr), "the picture is kept")
	require.Zero(t, first.Timing, "no clock, no times")
}

// A picture says the same however it is held in memory: as JPEG decodes it, as red, green and
// blue, or cut from a larger one.
func TestPhotoReadsEveryKindOfImage(t *testing.T) {
	img, f35 := devPhoto(t, "005")
	small := halved(img)
	opt := measure.Options{Focal35mm: f35}
	want := photo.Measure(small, opt)
	require.Equal(t, measure.Measured, want.Status)

	const dx, dy = 37, 11
	at := small.Rect.Add(image.Pt(dx, dy))
	larger := image.NewYCbCr(image.Rect(0, 0, at.Max.X+5, at.Max.Y+3), image.YCbCrSubsampleRatio444)
	for j := range small.Rect.Dy() {
		for i := range small.Rect.Dx() {
			o, p := larger.YOffset(i+dx, j+dy), small.YOffset(i, j)
			larger.Y[o], larger.Cb[o], larger.Cr[o] = small.Y[p], small.Cb[p], small.Cr[p]
		}
	}
	rgba := image.NewRGBA(small.Rect)
	draw.Draw(rgba, rgba.Rect, small, image.Point{}, draw.Src)
	for name, same := range map[string]image.Image{"cut from a larger one": larger.SubImage(at), "RGBA": rgba} {
		r := photo.Measure(same, opt)
		require.Equal(t, measure.Measured, r.Status, name)
		most, which := moved(want.Hinge, r.Hinge)
		// Red, green and blue are rounded to whole levels on the way.
		require.Less(t, most, 1.0, "%s: %s", name, which)
	}
}

// The clock that is handed in is the only one: it is read, and only for Timing.
func TestPhotoReadsTheClockItIsGiven(t *testing.T) {
	now := 0.0
	opt := measure.Options{Clock: func() float64 { now += 10; return now }}
	blank := image.NewUniform(color.Gray{128})
	m := image.NewRGBA(image.Rect(0, 0, 400, 400))
	draw.Draw(m, m.Rect, blank, image.Point{}, draw.Src)
	r := photo.Measure(m, opt)
	require.Equal(t, measure.Retake, r.Status)
	require.Equal(t, 10.0, r.Timing.Card)
	require.Equal(t, 10.0, r.Timing.Total)
	require.Zero(t, r.Timing.Hinge)
}
