package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// finishWords are words that the hint for a finish must hold, as the truth names the finish.
var finishWords = map[string]string{
	"satin nickel": "nickel", "satin chrome": "chrome", "dark bronze": "dark bronze", "black": "black",
	"satin brass": "brass", "polished brass": "brass", "painted white": "white paint", "prime coat": "prime coat",
}

// TestLooksWithTrueCamera describes barrel and finish of the photos, with their true camera and
// faces.
func TestLooksWithTrueCamera(t *testing.T) {
	tipsSeen := 0
	for _, id := range photoIDs(t) {
		s, ok := loadScene(t, id)
		if !ok {
			continue
		}
		knuckles, bearing, tips := describeBarrel(s.f, &s.cam, s.faces, s.barrel)
		require.Equal(t, s.knuckles, knuckles, "photo %s", id)
		if len(s.faces) == 1 {
			s.bearing = BearingUnknown // what runs between the knuckles is not in the picture
		}
		require.Equal(t, s.bearing, bearing, "photo %s", id)
		if tips { // they may stay unseen, white on white or behind the barrel, but are not made up
			require.True(t, s.tips, "photo %s", id)
			tipsSeen++
		}
		require.Contains(t, finishHint(s.f, &s.cam, s.faces, s.barrel, [3]float64{}), finishWords[s.finish], "photo %s", id)
	}
	require.GreaterOrEqual(t, tipsSeen, 8)
}
