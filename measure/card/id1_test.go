package card

import (
	"math"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// Source: ISO/IEC 7810 (as reproduced by public summaries of the standard): ID-1 is nominally
// 85.60 × 53.98 mm (3.370 × 2.125 in) with corners of 3.18 mm (2.88 … 3.48) and 0.76 mm thick
// (0.68 … 0.84). The limits of unused cards, 85.47 … 85.72 and 53.92 … 54.03 mm: clause 5,
// from memory.
func TestCardIsID1(t *testing.T) {
	require.Equal(t, 85.60, measure.ID1Long)
	require.Equal(t, 53.98, measure.ID1Short)
	require.Equal(t, 3.18, measure.ID1Radius)
	require.Equal(t, 0.76, measure.ID1Thickness)
	// Between limits with what is usual in the middle, the standard uncertainty is their width
	// over √24 (triangular, JCGM 100, 4.3.9).
	require.InDelta(t, (85.72-85.47)/math.Sqrt(24), cardLongSigma, 0.0005)
	require.InDelta(t, (54.03-53.92)/math.Sqrt(24), cardShortSigma, 0.0005)
}

// The things most like an ID-1 card must lie outside of what its own tolerances allow:
// 85 × 55 mm is the nearest (European business card; common practice, no source).
func TestNothingElseIsAsLongAsID1(t *testing.T) {
	ratio := measure.ID1Long / measure.ID1Short
	u := ratio * math.Hypot(cardLongSigma/measure.ID1Long, cardShortSigma/measure.ID1Short)
	for name, r := range map[string]float64{
		"European business card": 85.0 / 55, "US business card": 88.9 / 50.8, "Japanese business card": 91.0 / 55, "A8 sheet": 74.0 / 52,
	} {
		require.Greater(t, math.Abs(r-ratio)/u, 10.0, name)
	}
}
