package measure

import (
	"math"
	"testing"

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
		s, ok := loadScene(t, c.id)
		require.True(t, ok)
		for i := range s.faces {
			for _, h := range s.holes[i] {
				fadeRim(&s, i, h, 0.75, c.print)
			}
		}
		got := findHoles(s.f, &s.cam, s.faces)
		rim := math.Min(s.rim, s.bore+2*s.thickness*countersinkTan)
		for i := range s.faces {
			require.Len(t, got[i], len(s.holes[i]), "photo %s, print %v, leaf %d", c.id, c.print, i)
			for k, h := range s.holes[i] {
				g := got[i][k]
				t.Logf("photo %s, print %v, leaf %d, hole %d: off by %.3f, %.3f ± %.3f, rim %+.3f ± %.3f, bore %+.3f ± %.3f", c.id, c.print, i, k,
					g.fromEdge-h[0], g.fromEnd-h[1], g.sigmaPlace, g.rim-rim, math.Hypot(g.sigmaRim, g.sharedRim), g.bore-s.bore, math.Hypot(g.sigmaBore, g.sharedBore))
				assert.InDelta(t, h[0], g.fromEdge, 4*g.sigmaPlace, "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
				assert.InDelta(t, h[1], g.fromEnd, 4*g.sigmaPlace, "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
				assert.InDelta(t, rim, g.rim, 4*math.Hypot(g.sigmaRim, g.sharedRim), "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
				assert.InDelta(t, s.bore, g.bore, 4*math.Hypot(g.sigmaBore, g.sharedBore), "mm, photo %s, print %v, leaf %d, hole %d", c.id, c.print, i, k)
			}
		}
	}
}

// fadeRim brings the light of a countersink nearer to that of the face round it, by a share, and
// blackens a third of the ground seen through the bore in cells about as large as letters.
func fadeRim(s *holeScene, leaf int, c [2]float64, share float64, print bool) {
	face := s.faces[leaf]
	w := newFaceView(s.f, &s.cam, face)
	rim := math.Min(s.rim, s.bore+2*s.thickness*countersinkTan) / 2
	u, v, k := w.thrown(c[0], c[1], math.Min((rim-s.bore/2)/countersinkTan, s.thickness))
	lu, lv, lk := w.thrown(c[0], c[1], s.thickness)
	ppm := s.cam.pxPerMM(face.at(c[0], c[1]))
	centre := s.cam.project(face.at(c[0], c[1]))
	inside := func(x, y, r float64) float64 { return normalCDF((r - math.Hypot(x, y)) * ppm / 0.7) }
	before := *s.f
	before.y = append([]uint8(nil), s.f.y...)
	reach := int(1.2*rim*ppm) + 3
	for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
		for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
			e, n := face.place(&s.cam, Pixel{float64(x) + 0.5, float64(y) + 0.5})
			bore := inside(e-u, n-v, s.bore/2*k) * inside(e-lu, n-lv, s.bore/2*lk)
			sin, cos := math.Sincos(math.Atan2(n-c[1], e-c[0]))
			light := float64(before.y[y*s.f.ys+x])
			round := before.luma(s.cam.project(face.at(c[0]+1.2*rim*cos, c[1]+1.2*rim*sin)))
			light += (1 - bore) * share * inside(e-c[0], n-c[1], 1.15*rim) * (round - light)
			if print && grain(e+0.3*n, n-0.3*e, 0.6) < -0.3 {
				light *= 1 - 0.7*bore
			}
			s.f.y[y*s.f.ys+x] = uint8(math.Max(0, math.Min(255, math.Round(light))))
		}
	}
}

// TestBoresThroughThickerLeaves gives the holes faces that lie too low by what a barrel that was
// not seen well makes of them: the bores must not come out as wide as so thin a leaf would
// make them.
func TestBoresThroughThickerLeaves(t *testing.T) {
	for _, id := range []string{"002", "009", "013"} {
		s, ok := loadScene(t, id)
		require.True(t, ok)
		for i := range s.faces {
			s.faces[i].o[2] -= math.Min(1.2, s.thickness-thicknessMin)
		}
		got := findHoles(s.f, &s.cam, s.faces)
		for i := range s.faces {
			require.Len(t, got[i], len(s.holes[i]), "photo %s, leaf %d", id, i)
			for k, g := range got[i] {
				require.InDelta(t, s.bore, g.bore, 0.25, "mm, photo %s, leaf %d, hole %d", id, i, k)
			}
		}
	}
}
