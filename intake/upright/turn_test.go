package upright

import (
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/require"
)

// By hand, from the table of Exif 2.32, tag 0x0112: where the stored first row and first
// column lie. A stored picture of 3 × 2 pixels, 1 2 3 over 4 5 6, is upright as:
var uprightByHand = map[int][][]byte{
	1: {{1, 2, 3}, {4, 5, 6}},
	2: {{3, 2, 1}, {6, 5, 4}},
	3: {{6, 5, 4}, {3, 2, 1}},
	4: {{4, 5, 6}, {1, 2, 3}},
	5: {{1, 4}, {2, 5}, {3, 6}},
	6: {{4, 1}, {5, 2}, {6, 3}},
	7: {{6, 3}, {5, 2}, {4, 1}},
	8: {{3, 6}, {2, 5}, {1, 4}},
}

func TestTurn(t *testing.T) {
	for o, want := range uprightByHand {
		gray := image.NewGray(image.Rect(0, 0, 3, 2))
		copy(gray.Pix, []byte{1, 2, 3, 4, 5, 6})
		rgba := image.NewNRGBA(image.Rect(0, 0, 3, 2))
		for i, v := range gray.Pix {
			rgba.SetNRGBA(i%3, i/3, color.NRGBA{v, 0, 0, 255})
		}
		for _, img := range []image.Image{Turn(gray, o), Turn(rgba, o)} {
			for y, row := range want {
				for x, v := range row {
					r, _, _, _ := img.At(x, y).RGBA()
					require.Equal(t, v, byte(r>>8), "orientation %d at %d, %d", o, x, y)
				}
			}
		}
	}
}

func TestTurnYCbCrMovesEveryPixelWithItsColour(t *testing.T) {
	ratios := []image.YCbCrSubsampleRatio{image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420,
		image.YCbCrSubsampleRatio440, image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410}
	for _, ratio := range ratios {
		for _, s := range []struct{ w, h int }{{64, 48}, {65, 48}, {64, 49}, {67, 43}, {1, 1}, {2, 5}, {33, 1}} {
			m := image.NewYCbCr(image.Rect(0, 0, s.w, s.h), ratio)
			for i := range m.Y {
				m.Y[i] = byte(i * 7)
			}
			for i := range m.Cb {
				m.Cb[i], m.Cr[i] = byte(i*11), byte(i*13)
			}
			for o := 1; o <= 8; o++ {
				got := Turn(m, o).(*image.YCbCr)
				tr := For(o)
				require.Equal(t, tr.Bounds(s.w, s.h), got.Rect)
				for y := range got.Rect.Dy() {
					for x := range got.Rect.Dx() {
						sx, sy := tr.At(x, y, s.w, s.h)
						if got.YCbCrAt(x, y) != m.YCbCrAt(sx, sy) {
							require.Equal(t, m.YCbCrAt(sx, sy), got.YCbCrAt(x, y), "%v %v orientation %d at %d, %d", ratio, s, o, x, y)
						}
					}
				}
			}
		}
	}
}
