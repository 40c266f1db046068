package finder_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"leafgauge/intake"
	"leafgauge/internal/truth"
	"leafgauge/measure"
	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// Of nearly every card the net shows three corners at least, in photos that it was not trained on.
// Source of the truth: the photos are drawn from exact models, see testdata/photos/README.md and testdata/world/README.md.
func TestPeaksFindCardCorners(t *testing.T) {
	for set, least := range map[string][2]int{"photos": {17, 18}, "world": {11, 14}} {
		all, err := truth.All("../../testdata/" + set)
		require.NoError(t, err)
		var cards, four, three, peaks int
		var off []float64
		for _, tr := range all {
			if !tr.Measurable() {
				continue
			}
			data, err := os.ReadFile(tr.Photo)
			require.NoError(t, err)
			p, err := intake.Admit(filepath.Base(tr.Photo), data)
			require.NoError(t, err)
			img, err := intake.Decode(p)
			require.NoError(t, err)
			m := finder.See(picture.NewFrame(img))
			found := m.Peaks(finder.CardCorner, 0.25)

			corners := tr.Points.Card[:4]
			side := 0.0
			for i, c := range corners {
				side = max(side, distance(c.Px, corners[(i+1)%4].Px))
			}
			seen := 0
			for _, c := range corners {
				near := math.Inf(1)
				for _, p := range found {
					near = min(near, distance(p.At, c.Px))
				}
				if near < 0.04*side {
					seen++
					off = append(off, near/m.PerPlace)
				}
			}
			cards++
			peaks += len(found)
			if seen >= 3 {
				three++
			} else {
				t.Logf("%s/%s: %d corners", set, tr.ID, seen)
			}
			if seen == 4 {
				four++
			}
		}
		t.Logf("%s: %d cards, all four corners %d, three or more %d; %.1f peaks a picture; found corners off by %.2f places in the middle",
			set, cards, four, three, float64(peaks)/float64(cards), geom.Median(off))
		require.Equal(t, least[1], cards, set)
		require.GreaterOrEqual(t, three, least[0], set)
	}
}

func distance(a, b measure.Pixel) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
