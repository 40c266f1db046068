package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// How far each side of the card, as its edges are placed, lies from the true one, photo by photo:
// by the true camera onto the card's plane, positive outwards. What a card's wall, its shadow and
// a camera's tone curve do to an edge is all in there. The table is what sideSigmaMM and
// sideSigmaPx in cardfit.go are to be judged by.
func TestCardSidesAgainstTruth(t *testing.T) {
	var all, units []float64
	t.Log("photo   offset of the four sides, mm                 in standard uncertainties        px/mm")
	for _, c := range cardTruths(t) {
		s, ok := loadScene(t, c.ID)
		if !ok {
			continue
		}
		got, why := findCard(s.f, c.options())
		require.Empty(t, why, "photo %s", c.ID)
		o := c.Points.Card[0].World
		ex, ey := c.Points.Card[1].World.sub(o), c.Points.Card[3].World.sub(o)
		long, short := ex.norm(), ey.norm()
		require.InDelta(t, cardLong, long, 0.2)
		require.InDelta(t, cardShort, short, 0.2)
		ex, ey = ex.unit(), ey.unit()
		var sum, u2, n [4]float64
		for _, p := range got.points {
			d := s.cam.onto(p.at, level(cardThickness)).sub(o)
			x, y := d.dot(ex)-long/2, d.dot(ey)-short/2
			side := cardSide(x, y, long/2, short/2)
			sum[side] += outlineDistance(x, y, long/2, short/2, 0)
			u2[side] += math.Pow(p.sigma/s.cam.pxPerMM(o), 2)
			n[side]++
		}
		var off, inU [4]float64
		for k := range off {
			require.NotZero(t, n[k], "photo %s, side %d", c.ID, k)
			off[k] = sum[k] / n[k]
			inU[k] = off[k] / (math.Sqrt(u2[k]) / n[k])
			all, units = append(all, off[k]), append(units, inU[k])
		}
		t.Logf("%s   %+.4f %+.4f %+.4f %+.4f   %+5.2f %+5.2f %+5.2f %+5.2f   %5.1f", c.ID, off[0], off[1], off[2], off[3],
			inU[0], inU[1], inU[2], inU[3], s.cam.pxPerMM(o))
	}
	rms := func(a []float64) float64 {
		var s float64
		for _, v := range a {
			s += v * v
		}
		return math.Sqrt(s / float64(len(a)))
	}
	t.Logf("%d sides: median %.4f mm, 95th %.4f, worst %.4f; root mean square of offset/u %.2f, worst %.1f",
		len(all), percentile(all, 0.5), percentile(all, 0.95), percentile(all, 1), rms(units), percentile(units, 1))
	require.Less(t, percentile(all, 0.5), 0.01, "mm")
	require.Less(t, percentile(all, 0.95), 0.03, "mm")
	require.InDelta(t, 1, rms(units), 0.35)
}
