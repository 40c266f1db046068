package photo

import (
	"math"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/card"

	"github.com/stretchr/testify/require"
)

// The barrel that comes of a picture is the one found when looked for from there: a fit that
// stopped on its way, with a slot's far edge for the barrel's, would move on.
func TestBarrelStays(t *testing.T) {
	for _, id := range scene.PhotoIDs(t) {
		s, ok := scene.Load(t, id)
		if !ok {
			continue
		}
		opt := measure.Options{Focal35mm: s.Focal35}
		card, why := card.Find(s.F, looked(s.F), opt)
		require.Empty(t, why, "photo %s", id)
		h, why := findHinge(s.F, looked(s.F), card, opt)
		require.Empty(t, why, "photo %s", id)
		before := h.p[pBarrel]
		h.barrelAround(s.F, 0.6)
		require.True(t, h.solve(12))
		require.Less(t, math.Abs(h.p[pBarrel]-before), 0.12, "mm, photo %s", id)
	}
}
