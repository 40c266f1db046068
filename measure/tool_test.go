package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAgree(t *testing.T) {
	read := func(pairs ...float64) (all []*toolReading) {
		for i := 0; i < len(pairs); i += 2 {
			all = append(all, &toolReading{value: pairs[i], sigma: pairs[i+1]})
		}
		return all
	}
	t.Run("one alone keeps its own", func(t *testing.T) {
		all := read(4, 0.05)
		agree(all)
		require.InDelta(t, 4, all[0].best, 1e-12)
		require.InDelta(t, 0.05, math.Hypot(all[0].own, all[0].shared), 1e-12)
	})
	t.Run("well read ones keep theirs", func(t *testing.T) {
		all := read(4, 0.001, 4.03, 0.001, 3.98, 0.001)
		agree(all)
		for _, a := range all {
			require.InDelta(t, a.value, a.best, 0.0005)
			require.InDelta(t, 0.001, a.own, 0.0002)
		}
	})
	t.Run("ill read ones take the mean", func(t *testing.T) {
		all := read(4, 0.1, 4.1, 0.1, 3.9, 0.1, 4, 0.1)
		agree(all)
		for _, a := range all {
			require.InDelta(t, 4, a.best, 0.005)
			// By hand: own 0.02·0.1/√(0.02² + 0.1²), shared (1 − 0.04/1.04)·√(0.0104/4).
			require.InDelta(t, 0.0196, a.own, 1e-4)
			require.InDelta(t, 0.0490, a.shared, 1e-4)
		}
	})
	t.Run("a gross one does not move the others, and is doubted", func(t *testing.T) {
		all := read(4, 0.03, 4.01, 0.03, 3.99, 0.03, 4, 0.03, 4.01, 0.03, 4.5, 0.03)
		agree(all)
		require.InDelta(t, 4.01, all[0].best, 0.02)
		require.InDelta(t, 4.01, all[5].best, 0.03)
		require.Greater(t, all[5].own, 0.15)
		require.Less(t, all[0].own, 0.03)
	})
	t.Run("honest", func(t *testing.T) {
		// Drawn as the model says, of every number of holes: the mean square of error/u is 1.
		r := rand.New(rand.NewPCG(5, 6))
		for n := 1; n <= 8; n++ {
			var square, count float64
			for range 3000 {
				tool := 4 + r.NormFloat64()
				var all []*toolReading
				var truth []float64
				for range n {
					u := 0.01 + 0.04*r.Float64()
					truth = append(truth, tool+0.02*r.NormFloat64())
					all = append(all, &toolReading{value: truth[len(truth)-1] + u*r.NormFloat64(), sigma: u})
				}
				agree(all)
				for i, a := range all {
					z := (a.best - truth[i]) / math.Hypot(a.own, a.shared)
					square, count = square+z*z, count+1
				}
			}
			require.InDelta(t, 1, square/count, 0.12, "%d holes", n)
		}
	})
}

// TestRimUnlikeTheOthers lets the light of a countersink fade into its face on more than half of
// its circle, as a reflection does, so that an edge further in looks like its rim there.
func TestRimUnlikeTheOthers(t *testing.T) {
	for _, id := range []string{"002", "007", "011"} {
		s, ok := loadScene(t, id)
		require.True(t, ok)
		face, c, rim := s.faces[1], s.holes[1][1], s.rim/2
		centre := s.cam.project(face.at(c[0], c[1]))
		ring := func(r, a float64) float64 {
			sin, cos := math.Sincos(a)
			return s.f.luma(s.cam.project(face.at(c[0]+r*rim*cos, c[1]+r*rim*sin)))
		}
		var outside float64
		for k := range 90 {
			outside += ring(1.1, float64(k)*math.Pi/45) / 90
		}
		reach := int(1.2*rim*s.cam.pxPerMM(face.o)) + 3
		for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
			for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
				e, n := face.place(&s.cam, Pixel{float64(x) + 0.5, float64(y) + 0.5})
				q, a := math.Hypot(e-c[0], n-c[1])/rim, math.Atan2(n-c[1], e-c[0])
				if q > 1.02 || q < 0.8 || math.Abs(a) > 2 {
					continue
				}
				fade := math.Min(1, (q-0.8)/0.12) * math.Min(1, (2-math.Abs(a))/0.5)
				p := &s.f.y[y*s.f.ys+x]
				*p = uint8(math.Round(float64(*p) + fade*(outside-ring(0.97, a))))
			}
		}
		got := findHoles(s.f, &s.cam, s.faces)
		require.Len(t, got[1], len(s.holes[1]), "photo %s", id)
		h := got[1][1]
		u := math.Hypot(h.sigmaRim, h.sharedRim)
		t.Logf("photo %s: centre off by %.3f, %.3f ± %.3f, rim by %.3f ± %.3f", id, h.fromEdge-c[0], h.fromEnd-c[1], h.sigmaPlace, h.rim-s.rim, u)
		require.Less(t, math.Abs(h.rim-s.rim), 3*u)
		require.Less(t, math.Abs(h.fromEdge-c[0]), 3.5*h.sigmaPlace)
		require.Less(t, math.Abs(h.fromEnd-c[1]), 3.5*h.sigmaPlace)
		require.InDelta(t, s.rim, h.rim, 0.15, "mm")
	}
}

// TestRimBesideGlare puts light beside a hole that is too bright for the picture, blurred as the
// edge is: the rim lies further in there by the look of it. What is said of the hole's place
// must allow for that.
func TestRimBesideGlare(t *testing.T) {
	var square, n float64
	for _, id := range []string{"002", "005", "011"} {
		for turn := range 4 {
			s, ok := loadScene(t, id)
			require.True(t, ok)
			face, c, rim := s.faces[0], s.holes[0][1], s.rim/2
			scale := s.cam.pxPerMM(face.at(c[0], c[1]))
			centre := s.cam.project(face.at(c[0], c[1]))
			reach := int(2 * rim * scale)
			for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
				for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
					e, v := face.place(&s.cam, Pixel{float64(x) + 0.5, float64(y) + 0.5})
					q, a := math.Hypot(e-c[0], v-c[1]), math.Atan2(v-c[1], e-c[0])-float64(turn)*math.Pi/2
					p := &s.f.y[y*s.f.ys+x]
					light := linearOf(float64(*p)) + 4*normalCDF((q-rim)*scale/0.85)*normalCDF(math.Cos(a)*q*scale/2)
					*p = uint8(math.Round(255 * math.Pow(math.Min(light, 1), 1/2.2)))
				}
			}
			got := findHoles(s.f, &s.cam, s.faces)
			require.Len(t, got[0], len(s.holes[0]), "photo %s", id)
			h := got[0][1]
			t.Logf("photo %s: centre off by %.3f, %.3f ± %.3f, rim by %.3f ± %.3f", id, h.fromEdge-c[0], h.fromEnd-c[1], h.sigmaPlace,
				h.rim-s.rim, math.Hypot(h.sigmaRim, h.sharedRim))
			for _, d := range []float64{h.fromEdge - c[0], h.fromEnd - c[1]} {
				require.Less(t, math.Abs(d), 3*h.sigmaPlace, "mm, photo %s", id)
				square, n = square+d*d/h.sigmaPlace/h.sigmaPlace, n+1
			}
		}
	}
	require.Less(t, math.Sqrt(square/n), 1.35, "error/u")
}

// TestBoresOfBlurredPhoto blurs photos as if the lens were a little out of focus: the bores
// must stay what they were.
func TestBoresOfBlurredPhoto(t *testing.T) {
	for _, id := range []string{"004", "014", "016"} {
		s, ok := loadScene(t, id)
		require.True(t, ok)
		mean := func() (m, n float64) {
			for i, leaf := range findHoles(s.f, &s.cam, s.faces) {
				require.Len(t, leaf, len(s.holes[i]))
				for _, h := range leaf {
					m, n = m+h.bore, n+1
				}
			}
			return m / n, n
		}
		sharp, _ := mean()
		blurPlane(s.f, 1.3)
		blurred, _ := mean()
		t.Logf("photo %s: bores %.3f mm, blurred %.3f, truly %.3f", id, sharp, blurred, s.bore)
		require.InDelta(t, sharp, blurred, 0.06, "mm, photo %s", id)
	}
}

// blurPlane blurs the light of a frame by a standard deviation, px.
func blurPlane(f *frame, sigma float64) {
	n := int(3 * sigma)
	var kernel []float64
	sum := 0.0
	for i := -n; i <= n; i++ {
		kernel = append(kernel, math.Exp(-float64(i*i)/2/sigma/sigma))
		sum += kernel[len(kernel)-1]
	}
	pass := func(from []float64, to []float64, dx, dy int) {
		for y := range f.h {
			for x := range f.w {
				v := 0.0
				for i, k := range kernel {
					px, py := min(max(x+(i-n)*dx, 0), f.w-1), min(max(y+(i-n)*dy, 0), f.h-1)
					v += k / sum * from[py*f.w+px]
				}
				to[y*f.w+x] = v
			}
		}
	}
	a, b := make([]float64, f.w*f.h), make([]float64, f.w*f.h)
	for y := range f.h {
		for x := range f.w {
			a[y*f.w+x] = linearOf(float64(f.y[y*f.ys+x]))
		}
	}
	pass(a, b, 1, 0)
	pass(b, a, 0, 1)
	for y := range f.h {
		for x := range f.w {
			f.y[y*f.ys+x] = uint8(math.Round(255 * math.Pow(a[y*f.w+x], 1/2.2)))
		}
	}
}
