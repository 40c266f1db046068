package finder

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
)

// A Peak is where a channel is higher than all round.
type Peak struct {
	At     measure.Pixel // of the full picture
	Height float64       // 0…1
}

// apart is how far round, in places, a peak must be the highest: twice the standard deviation of the bells that the net
// was taught to draw. Nearer ones are one thing.
const apart = 4

// Peaks are the places where a channel is at least threshold and the highest all round; the highest first.
func (m *Maps) Peaks(c Channel, threshold float64) []Peak {
	plane := m.planes[c]
	var peaks []Peak
	for j := range m.H {
		for i := range m.W {
			if v := plane[j*m.W+i]; float64(v) >= threshold && m.highest(plane, i, j) {
				dx, dy := m.summit(plane, i, j)
				peaks = append(peaks, Peak{m.Pixel(float64(i)+dx, float64(j)+dy), float64(v)})
			}
		}
	}
	slices.SortStableFunc(peaks, func(a, b Peak) int { return cmp.Compare(b.Height, a.Height) })
	return peaks
}

// highest reports whether no place round (i, j) is higher, nor as high and before it.
func (m *Maps) highest(plane []float32, i, j int) bool {
	v := plane[j*m.W+i]
	for y := max(j-apart, 0); y <= min(j+apart, m.H-1); y++ {
		for x := max(i-apart, 0); x <= min(i+apart, m.W-1); x++ {
			if u := plane[y*m.W+x]; u > v || u == v && (y < j || y == j && x < i) {
				return false
			}
		}
	}
	return true
}

// summit is where, from (i, j), the top of the bell through the place and its neighbours lies, at most half a place away:
// a bell's logarithm is a parabola. The neighbours' centroid would go a sixth of the way, as a bell is so much wider. On
// the map's border there is no telling.
func (m *Maps) summit(plane []float32, i, j int) (dx, dy float64) {
	log := func(step int) float64 { return math.Log(max(float64(plane[j*m.W+i+step]), 1e-9)) }
	top := func(step int) float64 {
		before, at, after := log(-step), log(0), log(step)
		if bend := 2*at - before - after; bend > 0 {
			return min(max((after-before)/(2*bend), -0.5), 0.5)
		}
		return 0
	}
	if i > 0 && i < m.W-1 {
		dx = top(1)
	}
	if j > 0 && j < m.H-1 {
		dy = top(m.W)
	}
	return dx, dy
}
