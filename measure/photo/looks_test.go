package photo

import (
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"

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
	for _, id := range scene.PhotoIDs(t) {
		s, ok := scene.Load(t, id)
		if !ok {
			continue
		}
		knuckles, bearing, tips := describeBarrel(s.F, &s.Cam, s.Faces, s.Barrel)
		require.Equal(t, s.Knuckles, knuckles, "photo %s", id)
		if len(s.Faces) == 1 {
			s.Bearing = measure.BearingUnknown // what runs between the knuckles is not in the picture
		}
		require.Equal(t, s.Bearing, bearing, "photo %s", id)
		if tips { // they may stay unseen, white on white or behind the barrel, but are not made up
			require.True(t, s.Tips, "photo %s", id)
			tipsSeen++
		}
		require.Contains(t, finishHint(s.F, &s.Cam, s.Faces, s.Barrel, [3]float64{}), finishWords[s.Finish], "photo %s", id)
	}
	require.GreaterOrEqual(t, tipsSeen, 8)
}
