package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestHalf95(t *testing.T) {
	require.InDelta(t, 1.96, Estimate{100, 1}.Half95().MM(), 1e-12)
	require.Zero(t, Estimate{}.Half95())
}
