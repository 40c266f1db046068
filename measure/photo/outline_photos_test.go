package photo_test

import (
	"image"
	"image/color"
	"math"
	"path/filepath"
	"testing"

	"leafgauge/internal/truth"
	"leafgauge/measure/photo"

	"github.com/stretchr/testify/require"
)

// recodedWith gives a picture as another camera would have coded it: its light to the power gamma, as
// a JPEG of that quality.
func recodedWith(t *testing.T, img image.Image, gamma float64, quality int) image.Image {
	t.Helper()
	b := img.Bounds()
	m := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	var to [256]uint8
	for v := range to {
		to[v] = uint8(255*math.Pow(float64(v)/255, gamma) + 0.5)
	}
	for y := range b.Dy() {
		for x := range b.Dx() {
			c := color.RGBAModel.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.RGBA)
			m.SetRGBA(x, y, color.RGBA{to[c.R], to[c.G], to[c.B], 255})
		}
	}
	return codedAnew(t, m, quality)
}

// Faint corners and edges are seen whatever the picture's coding.
func TestOutlineOfPhotosCodedAnew(t *testing.T) {
	for _, c := range []struct {
		id      string
		gamma   float64
		quality int
	}{
		{"012", 1.2, 92}, // white paint on paper, five eighths
		{"013", 1, 80},   // white paint on paper, a quarter inch and square
		{"013", 0.8, 92},
		{"014", 1, 80},
		{"011", 1.2, 92}, // a wall whose foot is as dark as the leaf's shadow
	} {
		for _, typed := range []bool{false, true} {
			tr, err := truth.Load(filepath.Join("../../testdata/photos", c.id+".json"))
			require.NoError(t, err)
			img, opt := openTruth(t, tr, typed)
			s, err := truth.Score(tr, photo.Measure(recodedWith(t, img, c.gamma, c.quality), opt))
			require.NoError(t, err)
			require.Empty(t, s.Wrong, "%s coded anew %g, %d", c.id, c.gamma, c.quality)
			for _, e := range s.List {
				switch e.Class {
				case truth.Height, truth.OpenWidth, truth.Radius:
					require.Less(t, math.Abs(e.Err), 0.5, "%s coded anew %g, %d: %s", c.id, c.gamma, c.quality, e.Name)
					require.Less(t, math.Abs(e.Err), 3*e.U, "%s coded anew %g, %d: %s", c.id, c.gamma, c.quality, e.Name)
				}
			}
		}
	}
}
