package finder

import (
	"math"
	"sync"

	"leafgauge/measure"
)

// A Channel is one of the things that the net looks for.
type Channel int

// The channels in the net's order: what a place belongs to, and how near it is to a place of a kind.
const (
	Card Channel = iota
	Leaf
	OtherCard
	CardCorner
	Hole
	LeafCorner
	PinEnd
	Channels // how many there are
)

// Maps say for each place of a picture, or of a part of one, how likely each channel is there, 0…1. A map's places are two
// pixels of the reduced picture wide and high.
type Maps struct {
	W, H     int
	PerPlace float64       // how many pixels of the full picture a place is wide and high
	Corner   measure.Pixel // where the maps' corner lies in the full picture
	planes   [Channels][]float32
}

// Plane has a channel's places row by row.
func (m *Maps) Plane(c Channel) []float32 { return m.planes[c] }

// Pixel is where a place's middle lies in the full picture; whole numbers are middles.
func (m *Maps) Pixel(i, j float64) measure.Pixel {
	return measure.Pixel{X: m.Corner.X + (i+0.5)*m.PerPlace, Y: m.Corner.Y + (j+0.5)*m.PerPlace}
}

// At is what a channel says of a place in the full picture; ok is false outside of what was looked at.
func (m *Maps) At(c Channel, p measure.Pixel) (v float64, ok bool) {
	x, y := int(math.Floor((p.X-m.Corner.X)/m.PerPlace)), int(math.Floor((p.Y-m.Corner.Y)/m.PerPlace))
	if x < 0 || y < 0 || x >= m.W || y >= m.H {
		return 0, false
	}
	return float64(m.planes[c][y*m.W+x]), true
}

// Smooth is the same, and the places round p taken in by how near they are.
func (m *Maps) Smooth(c Channel, p measure.Pixel) (v float64, ok bool) {
	x, y := (p.X-m.Corner.X)/m.PerPlace-0.5, (p.Y-m.Corner.Y)/m.PerPlace-0.5
	if x < -0.5 || y < -0.5 || x >= float64(m.W)-0.5 || y >= float64(m.H)-0.5 {
		return 0, false
	}
	i, j := max(0, min(int(x), m.W-2)), max(0, min(int(y), m.H-2))
	fx, fy := min(max(x-float64(i), 0), 1), min(max(y-float64(j), 0), 1)
	a, b := m.planes[c][j*m.W+i:], m.planes[c][(j+1)*m.W+i:]
	return (float64(a[0])*(1-fx)+float64(a[1])*fx)*(1-fy) + (float64(b[0])*(1-fx)+float64(b[1])*fx)*fy, true
}

// What the net was trained to see as zero and one of a picture's levels, in 255ths.
const mean, spread = 0.45 * 255, 0.25 * 255

// benches are in nobody's use.
var benches sync.Pool

// Look has the net look at a picture. Pictures whose longer side isn't 384 px it has not learnt to read.
func Look(p Picture) Maps {
	const whole = 32 // the coarsest grid's places, px
	w, h := (p.W+whole-1)/whole*whole, (p.H+whole-1)/whole*whole
	t, ok := benches.Get().(*bench)
	if !ok || t.in.w != w || t.in.h != h {
		t = newBench(w, h)
	}
	defer benches.Put(t)
	for y := range h {
		// Beyond the picture its edge is repeated.
		from, to := p.RGB[3*p.W*min(y, p.H-1):][:3*p.W], t.in.row(y)
		for i, v := range from {
			to[i] = (float32(v) - mean) / spread
		}
		for i := len(from); i < len(to); i++ {
			to[i] = to[i-3]
		}
	}
	n := theNet()
	out := n.run(t)

	m := Maps{W: (p.W + 1) / 2, H: (p.H + 1) / 2, PerPlace: 2 * p.PerPixel, Corner: p.Corner}
	all := make([]float32, int(Channels)*m.W*m.H)
	for c := range m.planes {
		m.planes[c], all = all[:m.W*m.H], all[m.W*m.H:]
	}
	row := t.row[:out.w*n.last.out]
	for y := range (m.H + 1) / 2 {
		n.last.run(row, out.row(y))
		// A place here is two by two of the maps', each channel's four side by side.
		for c, plane := range m.planes {
			for j := 2 * y; j < min(2*y+2, m.H); j++ {
				for i := range m.W {
					v := row[i/2*n.last.out+4*c+j%2*2+i%2]
					plane[j*m.W+i] = float32(1 / (1 + math.Exp(-float64(v))))
				}
			}
		}
	}
	return m
}
