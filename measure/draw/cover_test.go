package draw_test

import (
	"image"
	"os"
	"testing"

	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/measure/draw"
	"leafgauge/measure/photo"

	"github.com/stretchr/testify/require"
)

// Nothing written on the card is left, its edges are, and the hinge comes out as before.
func TestCoverCard(t *testing.T) {
	data, err := os.ReadFile("../../testdata/photos/001.jpg")
	require.NoError(t, err)
	p, err := intake.Admit("001.jpg", data)
	require.NoError(t, err)
	img, err := intake.Decode(p)
	require.NoError(t, err)
	r := photo.Measure(img, measure.Options{})
	require.Equal(t, measure.Measured, r.Status)
	covered := draw.CoverCard(img, r)
	c := r.Card.CornersPx
	at := func(img image.Image, u, v float64) any {
		x := (1-v)*((1-u)*c[0].X+u*c[1].X) + v*((1-u)*c[3].X+u*c[2].X)
		y := (1-v)*((1-u)*c[0].Y+u*c[1].Y) + v*((1-u)*c[3].Y+u*c[2].Y)
		red, green, blue, _ := img.At(int(x), int(y)).RGBA()
		return [3]uint32{red >> 8, green >> 8, blue >> 8}
	}
	colours := map[any]bool{}
	for u := 0.1; u < 0.9; u += 0.01 {
		for v := 0.1; v < 0.9; v += 0.01 {
			colours[at(covered, u, v)] = true
		}
	}
	require.Len(t, colours, 1, "one colour all over")
	for u := -0.1; u < 1.1; u += 0.01 {
		for _, v := range []float64{-0.05, 0.02, 0.98, 1.05} {
			require.Equal(t, at(img, u, v), at(covered, u, v), "the edges stay")
		}
	}
	again := photo.Measure(covered, measure.Options{})
	require.Equal(t, measure.Measured, again.Status)
	require.InDelta(t, r.Hinge.Height.Value.MM(), again.Hinge.Height.Value.MM(), 0.02)
	require.InDelta(t, r.Hinge.OpenWidth.Value.MM(), again.Hinge.OpenWidth.Value.MM(), 0.02)

	require.Same(t, img, draw.CoverCard(img, measure.Result{}), "where no card was found nothing is drawn")
}
