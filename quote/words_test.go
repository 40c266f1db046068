package quote

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestWords(t *testing.T) {
	require.Equal(t, "$1,234.50", Money(dollars(t, "1234.5")))
	require.Equal(t, "1 April 2026", Day(time.Date(2026, 4, 1, 9, 30, 0, 0, time.UTC)))
}
