package picture

import (
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/measure/geom"

	"github.com/stretchr/testify/require"
)

func TestColoursMedian(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for n := 1; n <= MostAcross; n++ {
		for range 50 {
			v := make(colours, n)
			var each [3][]float64
			for i := range v {
				c := [3]float64{rnd.Float64() * 255, float64(rnd.IntN(5)), rnd.NormFloat64()*200 + 128}
				v[i] = packed(c[0], c[1], c[2])
				for k := range c {
					each[k] = append(each[k], min(max(c[k], 0), 255))
				}
			}
			got := v.median()
			for k := range each {
				require.InDelta(t, Linear(geom.Median(each[k])), got[k], 1e-4) // a level's hundredth
			}
		}
	}
	require.True(t, math.IsNaN(colours{}.median()[0]))
}
