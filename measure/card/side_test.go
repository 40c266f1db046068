package card

import (
	"math"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"

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
		s, ok := scene.Load(t, c.ID)
		if !ok {
			continue
		}
		got, why := find(s.F, c.options())
		require.Empty(t, why, "photo %s", c.ID)
		o := c.Points.Card[0].World
		ex, ey := c.Points.Card[1].World.Sub(o), c.Points.Card[3].World.Sub(o)
		long, short := ex.Norm(), ey.Norm()
		require.InDelta(t, measure.ID1Long, long, 0.2)
		require.InDelta(t, measure.ID1Short, short, 0.2)
		ex, ey = ex.Unit(), ey.Unit()
		var sum, u2, n [4]float64
		for _, p := range got.Points {
			d := s.Cam.Onto(p.At, geom.Level(measure.ID1Thickness)).Sub(o)
			x, y := d.Dot(ex)-long/2, d.Dot(ey)-short/2
			side := Side(x, y, long/2, short/2)
			sum[side] += geom.OutlineDistance(x, y, long/2, short/2, 0)
			u2[side] += math.Pow(p.Sigma/s.Cam.PxPerMM(o), 2)
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
			inU[0], inU[1], inU[2], inU[3], s.Cam.PxPerMM(o))
	}
	rms := func(a []float64) float64 {
		var s float64
		for _, v := range a {
			s += v * v
		}
		return math.Sqrt(s / float64(len(a)))
	}
	t.Logf("%d sides: median %.4f mm, 95th %.4f, worst %.4f; root mean square of offset/u %.2f, worst %.1f",
		len(all), scene.Percentile(all, 0.5), scene.Percentile(all, 0.95), scene.Percentile(all, 1), rms(units), scene.Percentile(units, 1))
	require.Less(t, scene.Percentile(all, 0.5), 0.01, "mm")
	require.Less(t, scene.Percentile(all, 0.95), 0.03, "mm")
	require.InDelta(t, 1, rms(units), 0.35)
}
