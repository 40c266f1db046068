package hole

import (
	"math"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFaintRims takes three quarters of their contrast from the countersinks, so that the bores
// are what stands out, and lays print on the ground under them.
func TestFaintRims(t *testing.T) {
	for _, c := range []struct {
		id    string
		print bool
	}{{"009", false}, {"009", true}, {"012", false}, {"018", false}, {"018", true}} {
		s, ok := scene.Load(t, c.id)
		require.True(t, ok)
		for i := range s.Faces {
			for _, h := range s.Holes[i] {
				fadeRim(&s, i, h, 0.75, c.print)
			}
		}
		got := Find(s.F, &s.Cam, s.Faces)
		rim := math.Min(s.Rim, s.Bore+2*s.Thickness*countersinkTan)
		for i := range s.Faces {
			require.Len(t, got[i], len(s.Holes[i]), "photo %s, print %v, leaf %d", c.id, c.print, i)
			for k, h := range s.Holes[i] {
				g := got[i][k]
				t.Logf("photo %s, print %v, leaf %d, hole %d: off by %.3f, %.3f ± %.3f, rim %+.3f ± %.3f, bore %+.3f ± %.3f", c.id, c.print, i, k,
					g.FromEdge-h[0], g.FromEnd-h[1], g.SigmaPlace, g.Rim-rim, math.Hypot(g.SigmaRim, g.SharedRim), g.Bore-s.Bore, math.Hypot(g.SigmaBore, g.SharedBore))
				assert.InDelta(t, h[0], g.FromEdge, 4*g.SigmaPlace, "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
				assert.InDelta(t, h[1], g.FromEnd, 4*g.SigmaPlace, "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
				assert.InDelta(t, rim, g.Rim, 4*math.Hypot(g.SigmaRim, g.SharedRim), "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
				assert.InDelta(t, s.Bore, g.Bore, 4*math.Hypot(g.SigmaBore, g.SharedBore), "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
			}
		}
	}
}

// fadeRim brings the light of a countersink nearer to that of the face round it, by a share, and
// blackens a third of the ground seen through the bore in cells about as large as letters.
func fadeRim(s *scene.Kept, leaf int, c [2]float64, share float64, print bool) {
	face := s.Faces[leaf]
	w := newFaceView(s.F, &s.Cam, face)
	rim := math.Min(s.Rim, s.Bore+2*s.Thickness*countersinkTan) / 2
	u, v, k := w.thrown(c[0], c[1], math.Min((rim-s.Bore/2)/countersinkTan, s.Thickness))
	lu, lv, lk := w.thrown(c[0], c[1], s.Thickness)
	ppm := s.Cam.PxPerMM(face.At(c[0], c[1]))
	centre := s.Cam.Project(face.At(c[0], c[1]))
	inside := func(x, y, r float64) float64 { return geom.NormalCDF((r - math.Hypot(x, y)) * ppm / 0.7) }
	before := *s.F
	before.Y = append([]uint8(nil), s.F.Y...)
	reach := int(1.2*rim*ppm) + 3
	for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
		for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
			e, n := face.Place(&s.Cam, measure.Pixel{X: float64(x) + 0.5, Y: float64(y) + 0.5})
			bore := inside(e-u, n-v, s.Bore/2*k) * inside(e-lu, n-lv, s.Bore/2*lk)
			sin, cos := math.Sincos(math.Atan2(n-c[1], e-c[0]))
			light := float64(before.Y[y*s.F.YStride+x])
			round := before.Luma(s.Cam.Project(face.At(c[0]+1.2*rim*cos, c[1]+1.2*rim*sin)))
			light += (1 - bore) * share * inside(e-c[0], n-c[1], 1.15*rim) * (round - light)
			if print && scene.Grain(e+0.3*n, n-0.3*e, 0.6) < -0.3 {
				light *= 1 - 0.7*bore
			}
			s.F.Y[y*s.F.YStride+x] = uint8(math.Max(0, math.Min(255, math.Round(light))))
		}
	}
}

// TestBoresThroughThickerLeaves gives the holes faces that lie too low by what a barrel that was
// not seen well makes of them: the bores must not come out as wide as so thin a leaf would
// make them.
func TestBoresThroughThickerLeaves(t *testing.T) {
	for _, id := range []string{"002", "009", "013"} {
		s, ok := scene.Load(t, id)
		require.True(t, ok)
		for i := range s.Faces {
			s.Faces[i].O[2] -= math.Min(1.2, s.Thickness-thicknessMin)
		}
		got := Find(s.F, &s.Cam, s.Faces)
		for i := range s.Faces {
			require.Len(t, got[i], len(s.Holes[i]), "photo %s, leaf %d", id, i)
			for k, g := range got[i] {
				require.InDelta(t, s.Bore, g.Bore, 0.25, "mm, photo %s, leaf %d, hole %d", id, i, k)
			}
		}
	}
}
