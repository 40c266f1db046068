package finder

import (
	"math"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// bells draws bells like those that the net was taught to draw (train.py, heat), at places of the map.
func bells(w, h int, perPlace float64, at ...measure.Pixel) *Maps {
	m := &Maps{W: w, H: h, PerPlace: perPlace}
	m.planes[Hole] = make([]float32, w*h)
	for j := range h {
		for i := range w {
			var v float64
			for _, p := range at {
				v = max(v, math.Exp(-(math.Pow(float64(i)-p.X, 2)+math.Pow(float64(j)-p.Y, 2))/8))
			}
			m.planes[Hole][j*w+i] = float32(v)
		}
	}
	return m
}

func TestPeaksAreWhereTheBellsAre(t *testing.T) {
	m := bells(60, 40, 21, measure.Pixel{X: 10.3, Y: 12.8}, measure.Pixel{X: 30.05, Y: 5.4}, measure.Pixel{X: 59, Y: 39}, measure.Pixel{X: 0, Y: 20.2})
	peaks := m.Peaks(Hole, 0.5)
	require.Len(t, peaks, 4)
	for i := range peaks[1:] {
		require.GreaterOrEqual(t, peaks[i].Height, peaks[i+1].Height)
	}
	// The first place's middle is half a place from the picture's corner.
	for _, want := range []measure.Pixel{{X: 10.8 * 21, Y: 13.3 * 21}, {X: 30.55 * 21, Y: 5.9 * 21}, {X: 59.5 * 21, Y: 39.5 * 21}, {X: 0.5 * 21, Y: 20.7 * 21}} {
		near := math.Inf(1)
		for _, p := range peaks {
			near = min(near, math.Hypot(p.At.X-want.X, p.At.Y-want.Y))
		}
		require.Less(t, near, 0.51*21)
		if want.X > 21 && want.X < 59*21 { // whole bells
			require.Less(t, near, 0.01*21)
		}
	}
	require.Empty(t, m.Peaks(Hole, 1.01))
}

// A level top is one peak, and two bells closer than they are wide are one.
func TestPeaksAreSingle(t *testing.T) {
	m := bells(60, 40, 2, measure.Pixel{X: 20.5, Y: 10.5}, measure.Pixel{X: 40, Y: 30}, measure.Pixel{X: 43, Y: 30})
	require.Len(t, m.Peaks(Hole, 0.2), 2)
}
