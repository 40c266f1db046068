package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestMedianOf(t *testing.T) {
	require.True(t, math.IsNaN(Median(nil)))
	require.Equal(t, 3.0, Median([]float64{3}))
	require.Equal(t, 2.5, Median([]float64{4, 1, 2, 3}))
	require.Equal(t, 2.0, Median([]float64{9, 1, 2}))
}

// Theil's and Sen's line is not moved by a quarter of strays.
func TestTheilSen(t *testing.T) {
	var x, y []float64
	for i := range 16 {
		x, y = append(x, float64(i)), append(y, 0.5*float64(i)-2)
		if i%4 == 1 {
			y[i] += 100
		}
	}
	slope, level := theilSen(x, y)
	require.InDelta(t, 0.5, slope, 1e-12)
	require.InDelta(t, -2, level, 1e-12)
}
