package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestClassifyPattern(t *testing.T) {
	leaf := func(fromEdge ...float64) (h []holeFit) {
		for i, e := range fromEdge {
			h = append(h, holeFit{fromEdge: e, fromEnd: 12 + 30*float64(i)})
		}
		return h
	}
	for _, c := range []struct {
		name string
		want Pattern
		leaf []holeFit
	}{
		{"three, bowed to the edge", PatternArc, leaf(18.2, 10.3, 18.3)},
		{"three, the middle at the barrel", PatternStaggered, leaf(9.4, 19.1, 9.5)},
		{"four on a bow", PatternArc, leaf(22.2, 11.2, 11.2, 22.2)},
		{"four on a bow the other way", PatternArc, leaf(11.1, 22.2, 22.3, 11.1)},
		{"four in zigzag", PatternStaggered, leaf(10, 20, 10.2, 20.1)},
		{"five in zigzag", PatternStaggered, leaf(10, 20, 10.2, 20.1, 10)},
		{"five on a bow", PatternArc, leaf(22, 15, 12, 15, 22)},
		{"straight row", PatternOther, leaf(12, 12.3, 11.8, 12.1)},
		{"slanting row", PatternOther, leaf(10, 14, 18)},
		{"two", PatternOther, leaf(10, 20)},
		{"none", PatternOther, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, classifyPattern([][]holeFit{c.leaf, c.leaf}, 44, 100))
			// Which end comes first does not matter, nor do the few tenths of scatter.
			turned := make([]holeFit, len(c.leaf))
			for i, h := range c.leaf {
				h.fromEnd = 200 - h.fromEnd
				h.fromEdge += 0.3 * float64(i%2)
				turned[i] = h
			}
			require.Equal(t, c.want, classifyPattern([][]holeFit{turned}, 44, 100))
		})
	}
	require.Equal(t, PatternOther, classifyPattern([][]holeFit{leaf(18, 10, 18), leaf(9, 19, 9)}, 44, 100), "leaves that differ")
	require.Equal(t, PatternOther, classifyPattern(nil, 44, 100))
}
