package card

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// What is reached on lifelike photographs is held: the card's corners lie within 0.5 % of its side, or the picture is refused
// with the reason that a person would give. The goal is all of them.
func TestCardOnLifelikePhotos(t *testing.T) {
	paths, err := filepath.Glob("../../testdata/world/*.json")
	require.NoError(t, err)
	reason := map[string]measure.Reason{
		"no card in the picture": measure.CardMissing, "card not wholly in the picture": measure.CardCutOff,
		"card is not ID-1 size": measure.CardWrongSize, "too blurred": measure.Blurred,
	}
	var found, refused, astray int
	for _, p := range paths {
		b, err := os.ReadFile(p)
		require.NoError(t, err)
		c := cardTruth{path: strings.TrimSuffix(p, ".json") + ".jpg"}
		require.NoError(t, json.Unmarshal(b, &c))
		got, why := find(picture.NewFrame(c.picture(t)), c.options())
		if want, ok := reason[c.Expect]; ok {
			require.NotEmpty(t, why, "%s: %s", c.ID, c.Expect)
			if why[0] == want {
				refused++
			}
			continue
		}
		if len(why) > 0 {
			t.Log(c.ID, why)
			continue
		}
		off, side := math.Inf(1), 0.0
		for turn := range 4 {
			for _, way := range []int{1, 3} { // the truth may run the other way round
				var worst float64
				for k := range 4 {
					worst = math.Max(worst, geom.Distance(got.Corners[k], c.Points.Card[(turn+way*k)%4].Px))
				}
				off = math.Min(off, worst)
			}
			side += geom.Distance(c.Points.Card[turn].Px, c.Points.Card[(turn+1)%4].Px) / 4
		}
		if off < 0.005*side {
			found++
		} else {
			t.Logf("%s: off by %.2f %% of a side", c.ID, 100*off/side)
			astray++
		}
	}
	t.Logf("found and right %d, refused rightly %d, astray %d, of %d", found, refused, astray, len(paths))
	require.Equal(t, 18, len(paths))
	require.GreaterOrEqual(t, found, 10)
	require.Equal(t, 4, refused)
	require.LessOrEqual(t, astray, 2)
}
