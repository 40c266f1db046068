package hole

import (
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

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
		s, ok := scene.Load(t, id)
		require.True(t, ok)
		face, c, rim := s.Faces[1], s.Holes[1][1], s.Rim/2
		centre := s.Cam.Project(face.At(c[0], c[1]))
		ring := func(r, a float64) float64 {
			sin, cos := math.Sincos(a)
			return s.F.Luma(s.Cam.Project(face.At(c[0]+r*rim*cos, c[1]+r*rim*sin)))
		}
		var outside float64
		for k := range 90 {
			outside += ring(1.1, float64(k)*math.Pi/45) / 90
		}
		reach := int(1.2*rim*s.Cam.PxPerMM(face.O)) + 3
		for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
			for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
				e, n := face.Place(&s.Cam, measure.Pixel{X: float64(x) + 0.5, Y: float64(y) + 0.5})
				q, a := math.Hypot(e-c[0], n-c[1])/rim, math.Atan2(n-c[1], e-c[0])
				if q > 1.02 || q < 0.8 || math.Abs(a) > 2 {
					continue
				}
				fade := math.Min(1, (q-0.8)/0.12) * math.Min(1, (2-math.Abs(a))/0.5)
				p := &s.F.Y[y*s.F.YStride+x]
				*p = uint8(math.Round(float64(*p) + fade*(outside-ring(0.97, a))))
			}
		}
		got := Find(s.F, &s.Cam, s.Faces)
		require.Len(t, got[1], len(s.Holes[1]), "photo %s", id)
		h := got[1][1]
		u := math.Hypot(h.SigmaRim, h.SharedRim)
		t.Logf("photo %s: centre off by %.3f, %.3f ± %.3f, rim by %.3f ± %.3f", id, h.FromEdge-c[0], h.FromEnd-c[1], h.SigmaPlace, h.Rim-s.Rim, u)
		require.Less(t, math.Abs(h.Rim-s.Rim), 3*u)
		require.Less(t, math.Abs(h.FromEdge-c[0]), 3.5*h.SigmaPlace)
		require.Less(t, math.Abs(h.FromEnd-c[1]), 3.5*h.SigmaPlace)
		require.InDelta(t, s.Rim, h.Rim, 0.15, "mm")
	}
}

// TestRimBesideGlare puts light beside a hole that is too bright for the picture, blurred as the
// edge is: the rim lies further in there by the look of it. What is said of the hole's place
// must allow for that.
func TestRimBesideGlare(t *testing.T) {
	var square, n float64
	for _, id := range []string{"002", "005", "011"} {
		for turn := range 4 {
			s, ok := scene.Load(t, id)
			require.True(t, ok)
			face, c, rim := s.Faces[0], s.Holes[0][1], s.Rim/2
			scale := s.Cam.PxPerMM(face.At(c[0], c[1]))
			centre := s.Cam.Project(face.At(c[0], c[1]))
			reach := int(2 * rim * scale)
			for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
				for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
					e, v := face.Place(&s.Cam, measure.Pixel{X: float64(x) + 0.5, Y: float64(y) + 0.5})
					q, a := math.Hypot(e-c[0], v-c[1]), math.Atan2(v-c[1], e-c[0])-float64(turn)*math.Pi/2
					p := &s.F.Y[y*s.F.YStride+x]
					light := picture.Linear(float64(*p)) + 4*geom.NormalCDF((q-rim)*scale/0.85)*geom.NormalCDF(math.Cos(a)*q*scale/2)
					*p = uint8(math.Round(255 * math.Pow(math.Min(light, 1), 1/2.2)))
				}
			}
			got := Find(s.F, &s.Cam, s.Faces)
			require.Len(t, got[0], len(s.Holes[0]), "photo %s", id)
			h := got[0][1]
			t.Logf("photo %s: centre off by %.3f, %.3f ± %.3f, rim by %.3f ± %.3f", id, h.FromEdge-c[0], h.FromEnd-c[1], h.SigmaPlace,
				h.Rim-s.Rim, math.Hypot(h.SigmaRim, h.SharedRim))
			for _, d := range []float64{h.FromEdge - c[0], h.FromEnd - c[1]} {
				require.Less(t, math.Abs(d), 3*h.SigmaPlace, "mm, photo %s", id)
				square, n = square+d*d/h.SigmaPlace/h.SigmaPlace, n+1
			}
		}
	}
	require.Less(t, math.Sqrt(square/n), 1.35, "error/u")
}

// TestBoresOfBlurredPhoto blurs photos as if the lens were a little out of focus: the bores
// must stay what they were.
func TestBoresOfBlurredPhoto(t *testing.T) {
	for _, id := range []string{"004", "014", "016"} {
		s, ok := scene.Load(t, id)
		require.True(t, ok)
		mean := func() (m, n float64) {
			for i, leaf := range Find(s.F, &s.Cam, s.Faces) {
				require.Len(t, leaf, len(s.Holes[i]))
				for _, h := range leaf {
					m, n = m+h.Bore, n+1
				}
			}
			return m / n, n
		}
		sharp, _ := mean()
		blurPlane(s.F, 1.3)
		blurred, _ := mean()
		t.Logf("photo %s: bores %.3f mm, blurred %.3f, truly %.3f", id, sharp, blurred, s.Bore)
		require.InDelta(t, sharp, blurred, 0.06, "mm, photo %s", id)
	}
}

// blurPlane blurs the light of a frame by a standard deviation, px.
func blurPlane(f *picture.Frame, sigma float64) {
	n := int(3 * sigma)
	var kernel []float64
	sum := 0.0
	for i := -n; i <= n; i++ {
		kernel = append(kernel, math.Exp(-float64(i*i)/2/sigma/sigma))
		sum += kernel[len(kernel)-1]
	}
	pass := func(from []float64, to []float64, dx, dy int) {
		for y := range f.H {
			for x := range f.W {
				v := 0.0
				for i, k := range kernel {
					px, py := min(max(x+(i-n)*dx, 0), f.W-1), min(max(y+(i-n)*dy, 0), f.H-1)
					v += k / sum * from[py*f.W+px]
				}
				to[y*f.W+x] = v
			}
		}
	}
	a, b := make([]float64, f.W*f.H), make([]float64, f.W*f.H)
	for y := range f.H {
		for x := range f.W {
			a[y*f.W+x] = picture.Linear(float64(f.Y[y*f.YStride+x]))
		}
	}
	pass(a, b, 1, 0)
	pass(b, a, 0, 1)
	for y := range f.H {
		for x := range f.W {
			f.Y[y*f.YStride+x] = uint8(math.Round(255 * math.Pow(a[y*f.W+x], 1/2.2)))
		}
	}
}
