package locate

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Growing, shrinking, filling and taking apart against their definitions, cell by cell, on
// maps narrower and wider than a word.
func TestBitmapAgainstDefinitions(t *testing.T) {
	rnd := rand.New(rand.NewPCG(11, 1))
	for round := range 40 {
		w, h := 5+rnd.IntN(150), 5+rnd.IntN(40)
		m := newBitmap(w, h)
		share := 0.02 + 0.96*rnd.Float64()
		for j := range h {
			for i := range w {
				if rnd.Float64() < share {
					m.set(i, j)
				}
			}
		}
		r := round % 8
		around := func(i, j int, v bool) bool { // whether a cell round i, j is v
			for y := max(j-r, 0); y <= min(j+r, h-1); y++ {
				for x := max(i-r, 0); x <= min(i+r, w-1); x++ {
					if m.at(x, y) == v {
						return true
					}
				}
			}
			return false
		}
		// The part that each cell is of, by repeated passes: the least number round it.
		label := func(v bool) []int {
			l := make([]int, w*h)
			for o := range l {
				l[o] = -1
				if m.at(o%w, o/w) == v {
					l[o] = o
				}
			}
			for changed := true; changed; {
				changed = false
				for o := range l {
					for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
						i, j := o%w+d[0], o/w+d[1]
						if l[o] < 0 || i < 0 || j < 0 || i >= w || j >= h {
							continue
						}
						if k := l[j*w+i]; k >= 0 && k < l[o] {
							l[o], changed = k, true
						}
					}
				}
			}
			return l
		}
		objects, back := label(true), label(false)
		open := map[int]bool{} // parts of the background that reach the border
		for o, k := range back {
			if i, j := o%w, o/w; k >= 0 && (i == 0 || j == 0 || i == w-1 || j == h-1) {
				open[k] = true
			}
		}
		grown, shrunk, filled := m.grown(r), m.shrunk(r), m.filled()
		for o := range w * h {
			i, j := o%w, o/w
			require.Equal(t, around(i, j, true), grown.at(i, j), "grown by %d", r)
			require.Equal(t, !around(i, j, false), shrunk.at(i, j), "shrunk by %d", r)
			require.Equal(t, !open[back[o]], filled.at(i, j), "filled")
		}
		seen := map[int]int{}
		for _, k := range objects {
			if k >= 0 {
				seen[k]++
			}
		}
		parts := m.parts()
		require.Len(t, parts, len(seen))
		last := -1
		for _, p := range parts {
			first := objects[p.runs[0].j*w+p.runs[0].from]
			require.Equal(t, seen[first], p.cells)
			require.Greater(t, first, last, "in the order of their first cells")
			last = first
			for _, s := range p.runs {
				for i := s.from; i < s.to; i++ {
					require.Equal(t, first, objects[s.j*w+i])
				}
			}
		}
	}
}
