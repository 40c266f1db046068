package photo

import (
	"math"
	"testing"

	"leafgauge/measure/hole"

	"github.com/stretchr/testify/assert"
)

// holesAt makes holes of [from edge, from end] pairs.
func holesAt(at ...[2]float64) []hole.Fit {
	var list []hole.Fit
	for _, a := range at {
		list = append(list, hole.Fit{FromEdge: a[0], FromEnd: a[1]})
	}
	return list
}

func TestUnevenHoles(t *testing.T) {
	// A pattern that reads the same from both ends of 76 mm, bowed, and a staggered one.
	bow := [][2]float64{{18, 14}, {10, 38}, {18, 62}}
	rows := [][2]float64{{8, 11}, {20, 29}, {8, 47}, {20, 65}}
	turned := [][2]float64{{20, 11}, {8, 29}, {20, 47}, {8, 65}}
	shifted := func(p [][2]float64, edge, end float64) [][2]float64 {
		var q [][2]float64
		for _, a := range p {
			q = append(q, [2]float64{a[0] + edge, a[1] + end})
		}
		return q
	}
	for _, c := range []struct {
		name   string
		holes  [][]hole.Fit
		uneven bool
	}{
		{"a pair", [][]hole.Fit{holesAt(bow...), holesAt(bow...)}, false},
		{"punched roughly", [][]hole.Fit{holesAt(bow...), holesAt(shifted(bow, 0.5, -0.3)...)}, false},
		{"one hole not found", [][]hole.Fit{holesAt(bow...), holesAt(bow[0], bow[2])}, false},
		{"only an end hole and the middle one found", [][]hole.Fit{holesAt(bow[:2]...), holesAt(bow...)}, false},
		{"one leaf", [][]hole.Fit{holesAt(bow...)}, false},
		{"no holes", [][]hole.Fit{nil, nil}, false},
		{"two rows, turned on the other leaf", [][]hole.Fit{holesAt(rows...), holesAt(turned...)}, false},
		{"an end 6 mm too far out", [][]hole.Fit{holesAt(shifted(bow, 0, 6)...), holesAt(shifted(bow, 0, 6)...)}, true},
		{"the same, one leaf", [][]hole.Fit{holesAt(shifted(bow, 0, 6)...)}, true},
		{"an outer edge 4 mm too far out", [][]hole.Fit{holesAt(shifted(bow, 4, 0)...), holesAt(bow...)}, true},
		{"the same with a hole under what covers it", [][]hole.Fit{holesAt(shifted(bow[1:], 4, 0)...), holesAt(bow...)}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := hingeFit{p: make([]float64, pCount), holes: c.holes, leaves: [2]bool{true, len(c.holes) > 1}}
			h.p[pHeight] = 76
			end, edge := h.unevenness()
			assert.Equal(t, c.uneven, max(math.Abs(end), math.Abs(edge)) > uneven, "%v %v", end, edge)
		})
	}
}
