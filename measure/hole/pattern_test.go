package hole

import (
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

func TestClassifyPattern(t *testing.T) {
	leaf := func(fromEdge ...float64) (h []Fit) {
		for i, e := range fromEdge {
			h = append(h, Fit{FromEdge: e, FromEnd: 12 + 30*float64(i)})
		}
		return h
	}
	for _, c := range []struct {
		name string
		want measure.Pattern
		leaf []Fit
	}{
		{"three, bowed to the edge", measure.PatternArc, leaf(18.2, 10.3, 18.3)},
		{"three, the middle at the barrel", measure.PatternStaggered, leaf(9.4, 19.1, 9.5)},
		{"four on a bow", measure.PatternArc, leaf(22.2, 11.2, 11.2, 22.2)},
		{"four on a bow the other way", measure.PatternArc, leaf(11.1, 22.2, 22.3, 11.1)},
		{"four in zigzag", measure.PatternStaggered, leaf(10, 20, 10.2, 20.1)},
		{"five in zigzag", measure.PatternStaggered, leaf(10, 20, 10.2, 20.1, 10)},
		{"five on a bow", measure.PatternArc, leaf(22, 15, 12, 15, 22)},
		{"straight row", measure.PatternOther, leaf(12, 12.3, 11.8, 12.1)},
		{"slanting row", measure.PatternOther, leaf(10, 14, 18)},
		{"two", measure.PatternOther, leaf(10, 20)},
		{"none", measure.PatternOther, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, Pattern([][]Fit{c.leaf, c.leaf}, 44, 100))
			// Which end comes first does not matter, nor do the few tenths of scatter.
			turned := make([]Fit, len(c.leaf))
			for i, h := range c.leaf {
				h.FromEnd = 200 - h.FromEnd
				h.FromEdge += 0.3 * float64(i%2)
				turned[i] = h
			}
			require.Equal(t, c.want, Pattern([][]Fit{turned}, 44, 100))
		})
	}
	require.Equal(t, measure.PatternOther, Pattern([][]Fit{leaf(18, 10, 18), leaf(9, 19, 9)}, 44, 100), "leaves that differ")
	require.Equal(t, measure.PatternOther, Pattern(nil, 44, 100))
}
