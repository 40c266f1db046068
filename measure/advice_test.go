package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestEveryReasonHasItsAdvice(t *testing.T) {
	require.Len(t, advice, len(Reasons))
	seen := map[string]bool{}
	for _, r := range Reasons {
		s := r.Advice()
		require.Equal(t, advice[r], s)
		require.False(t, seen[s], "two reasons share %q", s)
		require.NotContains(t, s, "_")
		seen[s] = true
	}
	require.NotEmpty(t, Reason("of a later version").Advice())
}
