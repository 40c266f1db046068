package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// The barrel that comes of a picture is the one found when looked for from there: a fit that
// stopped on its way, with a slot's far edge for the barrel's, would move on.
func TestBarrelStays(t *testing.T) {
	for _, id := range photoIDs(t) {
		s, ok := loadScene(t, id)
		if !ok {
			continue
		}
		opt := Options{Focal35mm: s.focal35}
		card, why := findCard(s.f, opt)
		require.Empty(t, why, "photo %s", id)
		h, why := findHinge(s.f, card, opt)
		require.Empty(t, why, "photo %s", id)
		before := h.p[pBarrel]
		h.barrelAround(s.f, 0.6)
		require.True(t, h.solve(12))
		require.Less(t, math.Abs(h.p[pBarrel]-before), 0.12, "mm, photo %s", id)
	}
}
