package catalog

import (
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

func TestHolesLie(t *testing.T) {
	require.Equal(t, []string{"in an arc", "staggered", "", ""},
		[]string{HolesLie(measure.PatternArc), HolesLie(measure.PatternStaggered), HolesLie(measure.PatternOther), HolesLie("")})
}

func TestCountAndCapital(t *testing.T) {
	require.Equal(t, []string{"0 leaves", "1 leaf", "2 leaves"}, []string{Count(0, "leaf", "leaves"), Count(1, "leaf", "leaves"), Count(2, "leaf", "leaves")})
	require.Equal(t, []string{"", "Typed", "É", "½ in"}, []string{Capital(""), Capital("typed"), Capital("é"), Capital("½ in")})
}
