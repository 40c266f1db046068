package finder

import (
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/png"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// The weights are those of the training's log.
func TestWeightsAreTheTrainings(t *testing.T) {
	log, err := os.ReadFile("../../tools/finder/train.log")
	require.NoError(t, err)
	sum := sha256.Sum256(weights)
	require.Contains(t, string(log), "sha256 of finder.bin "+hex.EncodeToString(sum[:]))
}

func readPNG(t testing.TB, path string) image.Image {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	return img
}

func drawn(t testing.TB) Picture {
	img := readPNG(t, "testdata/drawn.png")
	p := Picture{W: img.Bounds().Dx(), H: img.Bounds().Dy(), PerPixel: 1}
	for y := range p.H {
		for x := range p.W {
			r, g, b, _ := img.At(x, y).RGBA()
			p.RGB = append(p.RGB, uint8(r>>8), uint8(g>>8), uint8(b>>8))
		}
	}
	return p
}

// The net says here what it said where it was trained, of a drawn picture (train.py, check.npz), save for the
// weights' rounding to 16 bits and the answer's to 8.
func TestLookSaysWhatTheTrainingDid(t *testing.T) {
	m := Look(drawn(t))
	answer := readPNG(t, "testdata/answer.png").(*image.Gray)
	require.Equal(t, [2]int{192, 144}, [2]int{m.W, m.H})
	require.Equal(t, int(Channels)*m.H, answer.Rect.Dy())
	for c := range Channels {
		var sum, most float64
		peaks := 0
		want := func(i, j int) float64 { return float64(answer.GrayAt(i, int(c)*m.H+j).Y) / 255 }
		for j := range m.H {
			for i := range m.W {
				off := math.Abs(float64(m.Plane(c)[j*m.W+i]) - want(i, j))
				sum += off
				most = max(most, off)
			}
		}
		t.Logf("channel %d: mean difference %.5f, largest %.4f", c, sum/float64(m.W*m.H), most)
		require.Less(t, sum/float64(m.W*m.H), 0.01, c)
		_ = peaks
	}
}

func BenchmarkLook(b *testing.B) {
	p := drawn(b)
	b.ReportAllocs()
	for b.Loop() {
		Look(p)
	}
}
