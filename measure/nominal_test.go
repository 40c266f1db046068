package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNearestTradeSize(t *testing.T) {
	known := func(mm, u float64) Estimate { return Estimate{Length(mm), Length(u)} }
	for _, c := range []struct {
		h, w Estimate
		size string
		p    float64 // at least
	}{
		{known(88.9, 0.1), known(89.2, 0.1), "3 1/2 x 3 1/2", 0.99},
		{known(101.5, 0.1), known(89.2, 0.1), "4 x 3 1/2", 0.99},
		{known(114.3, 0.1), known(114.6, 0.1), "4 1/2 x 4 1/2", 0.99},
		{known(76.2, 0.5), Estimate{}, "3", 0.9},
		{known(95.2, 0.1), known(95.2, 0.1), "", 0}, // 3 3/4: no trade size
		{known(120, 0.1), known(80, 0.1), "", 0},
		{Estimate{}, Estimate{}, "", 0},
	} {
		n := NearestTradeSize(c.h, c.w)
		require.Equal(t, c.size, n.Size, "%v x %v", c.h, c.w)
		require.GreaterOrEqual(t, n.P, c.p)
		require.LessOrEqual(t, n.P, 1.0)
	}
	// Half way between two sizes neither is sure.
	n := NearestTradeSize(known(95.25, 6), known(95.25, 6))
	require.Less(t, n.P, 0.9)
}

func TestTradeSizesAddUp(t *testing.T) {
	sum := OddShare
	for _, s := range TradeSizes {
		require.Positive(t, s.Share)
		sum += s.Share
	}
	require.InDelta(t, 1, sum, 1e-9)
}

// Leaf thicknesses as published: 0.134 in for 4 1/2 (three sources agree within 0.001), 0.180
// and 0.190 in for heavy 4 1/2 and 5 in; 0.130 in for 4 in trade sheets. The light class lies
// between 0.085 and 0.097 in (common practice, no source).
func TestLeafGauges(t *testing.T) {
	find := func(height Length, name string) Length {
		for _, g := range LeafGauges(height) {
			if g.Name == name {
				return g.Value
			}
		}
		return 0
	}
	require.InDelta(t, 0.134, find(4.5*Inch, "standard").Inches(), 0.001)
	require.InDelta(t, 0.180, find(4.5*Inch, "heavy").Inches(), 0.001)
	require.InDelta(t, 0.190, find(5*Inch, "heavy").Inches(), 0.005)
	require.InDelta(t, 0.130, find(4*Inch, "standard").Inches(), 0.0005)
	require.InDelta(t, 0.091, find(3.5*Inch, "light").Inches(), 0.006)
	for _, h := range []Length{2 * Inch, 3 * Inch, 3.5 * Inch, 4 * Inch, 4.5 * Inch, 5 * Inch, 6 * Inch} {
		sum := 0.0
		for _, g := range LeafGauges(h) {
			sum += g.Share
		}
		require.Less(t, sum, 1.0, "some leaves are of no usual thickness")
		require.Greater(t, sum, 0.9)
	}
}
