package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestHalf95(t *testing.T) {
	require.InDelta(t, 1.96, Estimate{100, 1}.Half95().MM(), 1e-12)
	require.Zero(t, Estimate{}.Half95())
}

func TestPercentClaimsNoCertainty(t *testing.T) {
	for p, want := range map[float64]string{1: "over 99 %", 0.991: "over 99 %", 0.99: "99 %", 0.944: "94 %", 0.01: "1 %", 0.009: "under 1 %", 0: "under 1 %"} {
		require.Equal(t, want, Percent(p), p)
	}
}
