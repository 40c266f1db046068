package photo

import (
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// A router bit of 1/2 in diameter leaves corners of 1/4 in, one of 1 1/4 in corners of 5/8 in
// (common practice, no source): the classes are told apart at a typical uncertainty, and
// what lies between is neither.
func TestCornersOfRouterBits(t *testing.T) {
	fit := func(r float64) *hingeFit {
		h := &hingeFit{p: make([]float64, pCount), cov: make([]float64, pCount*pCount)}
		for k := range 4 {
			h.p[pRadius0+k], h.radius0[k] = r, r
			h.cov[(pRadius0+k)*pCount+pRadius0+k] = 0.15 * 0.15
		}
		return h
	}
	for _, s := range []struct {
		radius measure.Length
		want   measure.Corners
	}{
		{measure.Inch / 2 / 2, measure.CornersQuarter},
		{1.25 * measure.Inch / 2, measure.CornersFiveEighths},
		{measure.Inch / 2 / 2 * 1.05, measure.CornersQuarter},
		{3.0 / 8 * measure.Inch, measure.CornersOther},
		{0, measure.CornersSquare},
	} {
		for leaf := range 2 {
			require.Equal(t, s.want, fit(s.radius.MM()).corners(leaf), s.radius)
		}
	}
	h := fit(6.35)
	h.p[pRadius1], h.radius0[1] = 0, 0
	require.Equal(t, measure.CornersMixed, h.corners(0))
	require.Equal(t, measure.CornersQuarter, h.corners(1))
	// A corner whose arc was not found has nothing but its start: the other tells, or none.
	h = fit(6.35)
	h.p[pRadius1], h.cov[pRadius1*pCount+pRadius1] = 16, 20*20
	require.Equal(t, measure.CornersQuarter, h.corners(0))
	h.cov[pRadius0*pCount+pRadius0] = 20 * 20
	require.Equal(t, measure.CornersNotDecidable, h.corners(0))
}
