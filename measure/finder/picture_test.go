package finder_test

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/measure/finder"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

func TestReduceKeepsTheLongerSide(t *testing.T) {
	for _, c := range []struct {
		w, h, toW, toH int
		perPixel       float64
	}{
		{4032, 3024, 384, 288, 10.5},
		{3024, 4032, 288, 384, 10.5},
		{4032, 2268, 384, 216, 10.5},
		{2592, 1944, 384, 288, 6.75},
		{1600, 1200, 384, 288, 1600. / 384},
		{300, 300, 384, 384, 300. / 384},
		{2000, 4, 384, 1, 2000. / 384},
	} {
		p := finder.Reduce(picture.NewFrame(image.NewYCbCr(image.Rect(0, 0, c.w, c.h), image.YCbCrSubsampleRatio420)))
		require.Equal(t, [2]int{c.toW, c.toH}, [2]int{p.W, p.H}, c)
		require.Len(t, p.RGB, 3*p.W*p.H)
		require.InDelta(t, c.perPixel, p.PerPixel, 1e-9)
	}
}

// A reduced pixel is the mean of what it covers: here summed up in steps of a fortieth of a pixel, which of noise leaves
// two levels of doubt.
func TestReduceAgainstItsDefinition(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 8))
	img := image.NewRGBA(image.Rect(0, 0, 900, 610))
	for i := range img.Pix {
		img.Pix[i] = uint8(rnd.Uint32())
	}
	f := picture.NewFrame(img)
	p := finder.Reduce(f)
	full := f.Reduce(1)
	for range 300 {
		i, j := rnd.IntN(p.W), rnd.IntN(p.H)
		const fine = 40
		var sum [3]float64
		n := 0.
		for dy := range int(p.PerPixel*fine) + 1 {
			for dx := range int(p.PerPixel*fine) + 1 {
				x, y := float64(i)*p.PerPixel+(float64(dx)+0.5)/fine, float64(j)*p.PerPixel+(float64(dy)+0.5)/fine
				if x >= float64(i+1)*p.PerPixel || y >= math.Min(float64(j+1)*p.PerPixel, 610) {
					continue
				}
				at := int(y)*900 + min(int(x), 899)
				sum[0], sum[1], sum[2] = sum[0]+float64(full.R[at]), sum[1]+float64(full.G[at]), sum[2]+float64(full.B[at])
				n++
			}
		}
		for c := range sum {
			require.InDelta(t, min(max(sum[c]/n, 0), 255), float64(p.RGB[3*(j*p.W+i)+c]), 2.5, "%d, %d", i, j)
		}
	}
}

// As in measuring, where the copy it starts from has been made for the other steps.
func BenchmarkReduce(b *testing.B) {
	f := picture.NewFrame(image.NewYCbCr(image.Rect(0, 0, 4032, 3024), image.YCbCrSubsampleRatio420))
	f.Reduce(f.Reduction())
	b.ReportAllocs()
	for b.Loop() {
		finder.Reduce(f)
	}
}
