package hole

import (
	"math"
	"testing"

	"leafgauge/internal/scene"

	"github.com/stretchr/testify/require"
)

// Light laid in patches over rims leaves them ragged: their sizes are doubted more, and
// clean ones no more than before.
func TestRaggedRimsAreDoubted(t *testing.T) {
	s, ok := scene.Load(t, "002")
	require.True(t, ok)
	shared := func() (rim, bore float64) {
		for _, leaf := range Find(s.F, &s.Cam, s.Faces) {
			for _, h := range leaf {
				rim, bore = math.Max(rim, h.SharedRim), math.Max(bore, h.SharedBore)
			}
		}
		return rim, bore
	}
	rim, bore := shared()
	// In places of 10 × 10 px, a millimetre, turn about lighter and darker.
	for y := range s.F.H {
		for x := range s.F.W {
			if p := &s.F.Y[y*s.F.YStride+x]; (x/10+y/10)%2 == 0 {
				*p = uint8(math.Min(255, float64(*p)*1.5))
			}
		}
	}
	raggedRim, raggedBore := shared()
	t.Logf("shared: rim %.3f, bore %.3f mm; ragged %.3f, %.3f", rim, bore, raggedRim, raggedBore)
	require.Greater(t, raggedRim, 1.5*rim)
	require.Greater(t, raggedBore, 1.2*bore)
}
