package picture

import (
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Reduced copies are the blocks' means, taken sample by sample.
func TestReduceAgainstItsDefinition(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 1))
	for _, ratio := range []image.YCbCrSubsampleRatio{
		image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420, image.YCbCrSubsampleRatio440,
	} {
		m := image.NewYCbCr(image.Rect(0, 0, 61, 47), ratio)
		for _, plane := range [][]uint8{m.Y, m.Cb, m.Cr} {
			for i := range plane {
				plane[i] = uint8(rnd.Uint32())
			}
		}
		f := NewFrame(m)
		for _, n := range []int{1, 2, 3, 4, 6, 10} {
			s := f.Reduce(n)
			require.Equal(t, [2]int{61 / n, 47 / n}, [2]int{s.W, s.H})
			for j := range s.H {
				for i := range s.W {
					var y, cb, cr float64
					for dy := range n {
						for dx := range n {
							c := m.YCbCrAt(i*n+dx, j*n+dy)
							y, cb, cr = y+float64(c.Y), cb+float64(c.Cb), cr+float64(c.Cr)
						}
					}
					area := float64(n * n)
					y, cb, cr = y/area, cb/area-128, cr/area-128
					o := j*s.W + i
					require.InDelta(t, y+1.402*cr, s.R[o], 1e-3)
					require.InDelta(t, y-0.344136*cb-0.714136*cr, s.G[o], 1e-3)
					require.InDelta(t, y+1.772*cb, s.B[o], 1e-3)
				}
			}
		}
	}
}
