package locate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// seenGround is an empty map of w × h cells, all seen.
func seenGround(w, h int) *Ground {
	g := newGround(w, h, -float64(w-1)/2*groundCell, -float64(h-1)/2*groundCell, groundCell)
	g.seen = newBitmap(w, h).inverse()
	return g
}

// mask marks the cells whose places in says are in.
func (g *Ground) mask(in func(x, y float64) bool) *bitmap {
	m := newBitmap(g.w, g.h)
	for j := range g.h {
		for i := range g.w {
			if in(g.x0+float64(i)*groundCell, g.y0+float64(j)*groundCell) {
				m.set(i, j)
			}
		}
	}
	return m
}

// oblong is a rectangle a × b about (x, y), its first side along phi.
func oblong(x0, y0, phi, a, b float64) func(x, y float64) bool {
	s, c := math.Sincos(phi)
	return func(x, y float64) bool {
		x, y = x-x0, y-y0
		return math.Abs(x*c+y*s) <= a/2 && math.Abs(-x*s+y*c) <= b/2
	}
}

// Rectangles of known size and turn get their own box back.
func TestBoxOfRectangles(t *testing.T) {
	for _, deg := range []float64{0, 7, 30, 45, 77, 89} {
		for _, size := range [][2]float64{{89, 89}, {101.6, 44}, {60, 20}} {
			g := seenGround(int(160/groundCell), int(160/groundCell))
			m := g.mask(oblong(4, -3, deg*math.Pi/180, size[0], size[1]))
			blobs := g.blobs(m, 0)
			require.Len(t, blobs, 1)
			require.False(t, blobs[0].border)
			b := g.boxOf(blobs[0])
			const cells = 2 * groundCell // the rectangle's own edge is only known to a cell
			require.InDelta(t, 4, b.x, cells)
			require.InDelta(t, -3, b.y, cells)
			require.InDelta(t, size[0], math.Max(b.a, b.b), cells, "at %g°", deg)
			require.InDelta(t, size[1], math.Min(b.a, b.b), cells, "at %g°", deg)
			require.Greater(t, b.fill, 0.93)
			if size[0] != size[1] {
				phi := b.phi
				if b.b > b.a {
					phi += math.Pi / 2
				}
				require.InDelta(t, 0, math.Remainder(phi-deg*math.Pi/180, math.Pi), 0.025, "rad at %g°", deg)
			}
		}
	}
}

// Separate things stay separate, specks and scratches go, and what touches the end of what is
// seen says so.
func TestBlobs(t *testing.T) {
	g := seenGround(int(200/groundCell), int(120/groundCell))
	one, two := oblong(-50, 0, 0.2, 60, 40), oblong(40, 5, 1, 50, 30)
	rnd := rand.New(rand.NewPCG(12, 1))
	r := int(1.5 / groundCell)
	m := g.mask(func(x, y float64) bool {
		speck := rnd.Float64() < 0.02
		scratch := math.Abs(y-30+0.2*x) < groundCell
		return one(x, y) || two(x, y) || speck || scratch
	})
	blobs := g.blobs(m, r)
	require.Len(t, blobs, 2)
	areas := []float64{}
	for _, b := range blobs {
		require.False(t, b.border)
		areas = append(areas, float64(b.cells)*groundCell*groundCell)
	}
	slices.Sort(areas)
	require.InEpsilon(t, 50*30, areas[0], 0.06)
	require.InEpsilon(t, 60*40, areas[1], 0.06)

	cut := seenGround(int(100/groundCell), int(100/groundCell))
	cut.seen = cut.mask(func(x, y float64) bool { return x < 20 }) // the picture ends there, mm
	m = cut.mask(func(x, y float64) bool { return x < 20 && math.Abs(y) < 20 && x > -20 })
	blobs = cut.blobs(m, 0)
	require.Len(t, blobs, 1)
	require.True(t, blobs[0].border)
	require.Empty(t, cut.blobs(newBitmap(cut.w, cut.h), r))
}

// A drawn pair of leaves with a barrel, seen from above beside a card's place: found within
// some millimetres, whichever way it is turned.
func TestLocateDrawnHinge(t *testing.T) {
	const w, h = 800, 960
	for i, deg := range []float64{25, 90} {
		phi := deg * math.Pi / 180
		s, c := math.Sincos(phi)
		const x0, y0, height, width, barrel = 10.0, 95.0, 88.9, 44.5, 12.0
		light := func(x, y float64) geom.Vec3 {
			// From the drawing's plane to the leaves': both seen nearly from above.
			p, q := (x-x0)*c+(y-y0)*s, -(x-x0)*s+(y-y0)*c
			a := math.Abs(q)
			switch {
			case math.Abs(p) > height/2 || a > width:
				if geom.OutlineDistance(x, y, measure.ID1Long/2, measure.ID1Short/2, measure.ID1Radius) < 0 {
					return geom.Vec3{0.1, 0.2, 0.5}
				}
				return geom.Vec3{0.55, 0.5, 0.45}
			case a < barrel/2: // round: bright along the middle, dark at the edges
				v := 0.05 + 0.35*math.Sqrt(1-4*q*q/(barrel*barrel))
				return geom.Vec3{v, v, v}
			}
			for _, hole := range [3]float64{-30, 0, 30} {
				if math.Hypot(p-hole, a-28) < 4.5 {
					return geom.Vec3{0.04, 0.04, 0.04}
				}
			}
			return geom.Vec3{0.22, 0.22, 0.21}
		}
		cam := scene.LookAt(w, h, 26, 4, 4, 30, 0, 0, 50)
		g := Map(picture.NewFrame(scene.Drawn{W: w, H: h, Cam: cam, Noise: 2, Light: light}.Draw(uint64(i))), &cam)
		g.FindObjects()
		found := g.ByAreas(SurfaceLimits[0])
		require.NotEmpty(t, found, "at %g°", deg)
		f := found[0]
		t.Logf("at %3g°: middle %.1f %.1f, turn %.1f°, height %.1f, widths %.1f %.1f, barrel %.1f",
			deg, f.Cx, f.Cy, f.Phi*180/math.Pi, f.Height, f.Width[0], f.Width[1], f.Barrel)
		require.False(t, f.CutOff)
		require.InDelta(t, x0, f.Cx, 2)
		require.InDelta(t, y0, f.Cy, 2)
		require.InDelta(t, 0, math.Remainder(f.Phi-phi, math.Pi), 0.04)
		require.InDelta(t, height, f.Height, 2.5)
		require.InDelta(t, width, f.Width[0], 2.5)
		require.InDelta(t, width, f.Width[1], 2.5)
		require.InDelta(t, barrel, f.Barrel, 3)
	}
}
