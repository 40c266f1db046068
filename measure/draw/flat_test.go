package draw

import (
	"math"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// Two holes, or any in a line, fit a leaf and its mirror image; the outline tells which it is.
func TestOverlayTellsALeafFromItsMirrorImage(t *testing.T) {
	const width, height, pxPerMM = 37, 100, 12.0
	for name, holes := range map[string][][2]float64{
		"two":       {{10.4, 12}, {17.3, 50}},
		"in a line": {{18, 14}, {18, 50}, {18, 86}},
		"an arc":    {{24, 12}, {11, 50}, {24, 88}},
	} {
		for _, mirror := range []float64{1, -1} {
			sin, cos := math.Sincos(0.4)
			picture := func(x, y float64) measure.Pixel {
				y *= mirror
				return measure.Pixel{X: 1500 + pxPerMM*(cos*x-sin*y), Y: 1700 + pxPerMM*(sin*x+cos*y)}
			}
			l := measure.Leaf{Width: measure.Estimate{Value: width, Sigma: 0.1}}
			for _, h := range holes {
				l.Holes = append(l.Holes, measure.Hole{FromEdge: measure.Estimate{Value: measure.Length(h[0])}, FromEnd: measure.Estimate{Value: measure.Length(h[1])}, CentrePx: picture(h[0], h[1])})
			}
			for _, c := range [][2]float64{{width, 0}, {0, 0}, {0, height}, {width, height}} {
				l.OutlinePx = append(l.OutlinePx, picture(c[0], c[1]))
			}
			r := measure.Result{Image: measure.ImageInfo{PxPerMM: pxPerMM}, Hinge: &measure.Hinge{Height: measure.Estimate{Value: height}, Leaves: []measure.Leaf{l}}}
			f := overlay{scale: 1}.flatten(r, 0)
			require.True(t, f.ok)
			for _, p := range [][2]float64{{0, 0}, {width, 0}, {-6, height}} {
				got, want := f.at(p[0], p[1]), picture(p[0], p[1])
				require.InDelta(t, want.X, got.X, 0.5, "%s, %v", name, p)
				require.InDelta(t, want.Y, got.Y, 0.5, "%s, %v", name, p)
			}
		}
	}
}
