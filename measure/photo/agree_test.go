package photo

import (
	"math/rand/v2"
	"testing"

	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// What scatters is not what tells: a change in one colour beside noise common to all three.
func TestTelling(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	var d []geom.Vec3
	for range 400 {
		n := 20 * rnd.NormFloat64()
		d = append(d, geom.Vec3{n + rnd.NormFloat64(), n + rnd.NormFloat64(), n + 6 + rnd.NormFloat64()})
	}
	w := telling(d).Unit()
	require.Greater(t, w[2], 0.7)
	require.InDelta(t, 0, w[0]+w[1]+w[2], 0.1)
}

// Which of two lines an edge is, its leaf's mate tells; where it doesn't, the uncertainty covers both.
func TestLeavesAgree(t *testing.T) {
	h := hingeFit{p: make([]float64, pCount)}
	lines := func(l ...picture.Line) *seenEdge { return &seenEdge{lines: l} }
	doubt := func() *seenEdge {
		return lines(picture.Line{At: 0.02, Against: 2}, picture.Line{At: -0.31, Against: 2.3})
	}

	a := doubt()
	h.agree(a, nil, 1, 0.8)
	require.Equal(t, 0.02, a.lines[0].At)
	require.Greater(t, h.edgeSigma[1], 0.15)
	require.Equal(t, edgeBias, h.edgeSigma[4])

	for _, at := range []float64{0, -0.3} {
		a, b := doubt(), lines(picture.Line{At: at})
		h.agree(a, b, 1, 0.8)
		require.InDelta(t, at, a.lines[0].At, 0.05)
		require.Less(t, h.edgeSigma[1], 0.15)
	}

	a, b := doubt(), doubt()
	h.agree(a, b, 1, 0.8)
	require.Greater(t, h.edgeSigma[1], 0.1, "both leaves see the same wall")
	require.Greater(t, h.edgeSigma[4], 0.1)

	h.agree(doubt(), doubt(), 1, 2.5)
	require.Greater(t, h.edgeSigma[1], 0.1, "early, too")
}
