package measure

import (
	"encoding/json"
	"math"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// An inch is 25.4 mm exactly (international yard and pound agreement, 1959).
func TestInch(t *testing.T) {
	require.Equal(t, 25.4, Inch.MM())
	require.InDelta(t, 304.8, Foot.MM(), 1e-12)
	for inches, mm := range map[float64]float64{3: 76.2, 3.5: 88.9, 4: 101.6, 4.5: 114.3, 5: 127, 6: 152.4} {
		require.InDelta(t, mm, (Length(inches) * Inch).MM(), 1e-12)
		require.InDelta(t, inches, Length(mm).Inches(), 1e-12)
	}
}

// Expected by hand: to the nearest of that denominator, in lowest terms.
func TestFraction(t *testing.T) {
	for _, s := range []struct {
		inches      float64
		denominator int
		want        string
	}{
		{0, 16, "0"}, {3, 16, "3"}, {3.5, 16, "3 1/2"}, {3.5, 2, "3 1/2"}, {0.25, 16, "1/4"}, {0.625, 8, "5/8"},
		{0.40625, 32, "13/32"}, {3.99, 16, "4"}, {3.97, 16, "4"}, {3.96, 16, "3 15/16"}, {-0.5, 16, "-1/2"}, {-3.5, 16, "-3 1/2"},
		{0.02, 16, "0"}, {-0.02, 16, "0"}, {-0.03, 16, "0"}, {0.04, 16, "1/16"}, {88.9 / 25.4, 16, "3 1/2"}, {1.0 / 3, 64, "21/64"},
		{4.4375, 1, "4"}, {5.6, 1, "6"},
	} {
		require.Equal(t, s.want, (Length(s.inches) * Inch).Fraction(s.denominator), "%g in in %dths", s.inches, s.denominator)
	}
}

// A fraction read back is within half of its step.
func TestFractionIsNearest(t *testing.T) {
	for l := Length(-30); l < 200; l += 0.173 {
		for _, d := range []int{1, 2, 4, 8, 16, 32, 64} {
			text := l.Fraction(d)
			var sum float64
			for _, word := range strings.Fields(strings.TrimPrefix(text, "-")) {
				r, ok := new(big.Rat).SetString(word)
				require.True(t, ok, text)
				f, _ := r.Float64()
				sum += f
			}
			if strings.HasPrefix(text, "-") {
				sum = -sum
			}
			require.InDelta(t, l.Inches(), sum, 0.5/float64(d)+1e-9, text)
		}
	}
}

func TestLengthPrints(t *testing.T) {
	require.Equal(t, "88.90 mm", (3.5 * Inch).String())
	require.Equal(t, "88.90 ± 0.08 mm", Estimate{88.9, 0.08}.String())
	require.Equal(t, "not measured", Estimate{}.String())
	low, high := Estimate{100, 1}.Interval95()
	require.InDelta(t, 98.04, low.MM(), 1e-9)
	require.InDelta(t, 101.96, high.MM(), 1e-9)
}

func TestLengthInJSON(t *testing.T) {
	for l, want := range map[Length]string{3.5 * Inch: "88.9", 85.6: "85.6", 0.0000004: "0", -0.125 * Inch: "-3.175"} {
		got, err := json.Marshal(l)
		require.NoError(t, err)
		require.Equal(t, want, string(got))
	}
	_, err := json.Marshal(Length(math.NaN()))
	require.Error(t, err)
}
