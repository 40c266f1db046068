package hole

import (
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// TestHolesWithTrueCamera measures the holes of the photos, with their true camera and faces.
func TestHolesWithTrueCamera(t *testing.T) {
	var place, rim, bore []float64
	var placeU, rimU, boreU []float64 // errors in units of their standard uncertainty
	for _, id := range scene.PhotoIDs(t) {
		s, ok := scene.Load(t, id)
		if !ok {
			continue
		}
		got := Find(s.F, &s.Cam, s.Faces)
		// A countersink cannot be deeper than the leaf: where the truth's rim would make it
		// so, the picture shows the widest that the leaf holds.
		trueRim := math.Min(s.Rim, s.Bore+2*s.Thickness*countersinkTan)
		for i := range s.Faces {
			require.Len(t, got[i], len(s.Holes[i]), "photo %s, leaf %d", id, i)
			for k, c := range s.Holes[i] {
				h := got[i][k]
				require.InDelta(t, 0, math.Hypot(h.FromEdge-c[0], h.FromEnd-c[1]), 0.3, "photo %s, leaf %d, hole %d", id, i, k)
				require.False(t, h.Filled)
				place = append(place, h.FromEdge-c[0], h.FromEnd-c[1])
				rim, bore = append(rim, h.Rim-trueRim), append(bore, h.Bore-s.Bore)
				placeU = append(placeU, (h.FromEdge-c[0])/h.SigmaPlace, (h.FromEnd-c[1])/h.SigmaPlace)
				rimU, boreU = append(rimU, (h.Rim-trueRim)/math.Hypot(h.SigmaRim, h.SharedRim)), append(boreU, (h.Bore-s.Bore)/math.Hypot(h.SigmaBore, h.SharedBore))
			}
		}
		if id != "007" { // three holes bowed towards the barrel: see Pattern
			require.Equal(t, s.Pattern, Pattern(got, s.Faces[0].Width, s.Faces[0].Height), "photo %s", id)
		}
	}
	report := func(name string, a []float64, median, most float64) {
		t.Logf("%s: median %.3f, 95th %.3f, worst %.3f mm", name, scene.Percentile(a, 0.5), scene.Percentile(a, 0.95), scene.Percentile(a, 1))
		require.Less(t, scene.Percentile(a, 0.5), median, name)
		require.Less(t, scene.Percentile(a, 0.95), most, name)
	}
	report("place", place, 0.02, 0.06)
	report("rim", rim, 0.04, 0.12)
	report("bore", bore, 0.07, 0.25)
	honest := func(name string, a []float64) {
		var sum float64
		within := 0
		for _, v := range a {
			sum += v * v
			if math.Abs(v) < 1.96 {
				within++
			}
		}
		rms, share := math.Sqrt(sum/float64(len(a))), float64(within)/float64(len(a))
		t.Logf("%s: rms of error/u %.2f, %.0f %% within 1.96 u", name, rms, 100*share)
		require.InDelta(t, 1, rms, 0.35, name)
		require.InDelta(t, 0.95, share, 0.051, name)
	}
	honest("place", placeU)
	honest("rim", rimU)
	honest("bore", boreU)
}

// TestPaintedHole paints one countersink flat and expects it to be reported as filled.
func TestPaintedHole(t *testing.T) {
	for _, id := range []string{"005", "009", "013"} {
		s, ok := scene.Load(t, id)
		require.True(t, ok)
		face, c := s.Faces[0], s.Holes[0][1]
		radius := math.Min(s.Rim, s.Bore+2*s.Thickness*countersinkTan) / 2
		var tone float64 // of the countersink near its rim
		for k := range 60 {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 60)
			tone += s.F.Luma(s.Cam.Project(face.At(c[0]+0.9*radius*cos, c[1]+0.9*radius*sin))) / 60
		}
		centre := s.Cam.Project(face.At(c[0], c[1]))
		reach := int(1.5*radius*s.Cam.PxPerMM(face.O)) + 3
		noise := rand.New(rand.NewPCG(1, 2))
		for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
			for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
				e, n := face.Place(&s.Cam, measure.Pixel{X: float64(x) + 0.5, Y: float64(y) + 0.5})
				if math.Hypot(e-c[0], n-c[1]) < 0.95*radius {
					s.F.Y[y*s.F.YStride+x] = uint8(math.Max(0, math.Min(255, tone+2*noise.NormFloat64())))
				}
			}
		}
		got := Find(s.F, &s.Cam, s.Faces)
		require.Len(t, got[0], len(s.Holes[0]), "photo %s", id)
		for k, h := range got[0] {
			require.Equal(t, k == 1, h.Filled, "photo %s, hole %d", id, k)
			require.Equal(t, k == 1, h.Bore == 0, "photo %s, hole %d", id, k)
		}
	}
}
