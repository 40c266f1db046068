package finder

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"
)

// A second look goes to where card and hinge are, with room round them, and leaves specks out.
func TestSubject(t *testing.T) {
	m := Maps{W: 192, H: 144, PerPlace: 10}
	for c := range m.planes {
		m.planes[c] = make([]float32, m.W*m.H)
	}
	mark := func(c Channel, r image.Rectangle) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.planes[c][y*m.W+x] = 0.9
			}
		}
	}
	_, ok := m.subject()
	require.False(t, ok)

	mark(Leaf, image.Rect(50, 60, 70, 80))
	box, ok := m.subject()
	require.True(t, ok)
	require.Equal(t, image.Rect(50-20, 60-20, 70+20, 80+20), box, "a hinge alone: the card lies within a hinge's length")

	mark(Card, image.Rect(80, 62, 90, 78))
	mark(Card, image.Rect(85, 90, 87, 92))
	mark(OtherCard, image.Rect(150, 10, 180, 30))
	box, ok = m.subject()
	require.True(t, ok)
	require.Equal(t, image.Rect(50-8, 60-8, 90+8, 80+8), box)
}

// What was seen of a part of the picture lies where it is in the whole one.
func TestPartLiesInWhole(t *testing.T) {
	m := Maps{W: 10, H: 8, PerPlace: 4}
	m.Corner.X, m.Corner.Y = 100, 200
	for c := range m.planes {
		m.planes[c] = make([]float32, m.W*m.H)
	}
	m.planes[Hole][3*m.W+5] = 1
	p := m.Pixel(5, 3)
	v, ok := m.At(Hole, p)
	require.True(t, ok)
	require.InDelta(t, 1, v, 1e-6)
	v, ok = m.Smooth(Hole, p)
	require.True(t, ok)
	require.InDelta(t, 1, v, 1e-6)
	p.X -= 2
	v, _ = m.Smooth(Hole, p)
	require.InDelta(t, 0.5, v, 1e-6)
	p.X -= 2
	v, ok = m.At(Hole, p)
	require.True(t, ok)
	require.Zero(t, v)
	_, ok = m.At(Hole, m.Pixel(-0.6, 3))
	require.False(t, ok)
	require.InDelta(t, 100+5.5*4, m.Peaks(Hole, 0.5)[0].At.X, 1e-6)
}
