package catalog

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFractions(t *testing.T) {
	require.Equal(t, "3½ × 3½ in, ¼ in radius, 5/32 and 13/32 stay, 31/2 too", Fractions("3 1/2 x 3 1/2 in, 1/4 in radius, 5/32 and 13/32 stay, 31/2 too"))
	require.Equal(t, "#12 × 1¼ screws, 2-5/32 stays", Fractions("#12 x 1-1/4 screws, 2-5/32 stays"))
}
