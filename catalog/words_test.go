package catalog

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCountAndCapital(t *testing.T) {
	require.Equal(t, []string{"0 leaves", "1 leaf", "2 leaves"}, []string{Count(0, "leaf", "leaves"), Count(1, "leaf", "leaves"), Count(2, "leaf", "leaves")})
	require.Equal(t, []string{"", "Typed", "É", "½ in"}, []string{Capital(""), Capital("typed"), Capital("é"), Capital("½ in")})
}
