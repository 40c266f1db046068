package main

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func runReadings(t *testing.T, stdin string, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e strings.Builder
	s := streams{ctx: context.Background(), stdin: strings.NewReader(stdin), out: &o, err: &e, getenv: func(string) string { return "" }}
	status = run(append([]string{"readings"}, args...), s)
	return status, o.String(), e.String()
}

func TestReadingsCommand(t *testing.T) {
	t.Run("JSON as the contract has it", func(t *testing.T) {
		status, out, errs := runReadings(t, "", "--json", `3 1/2" x 4", 3 holes each side`)
		require.Equal(t, exitOK, status)
		require.Empty(t, errs)
		var got map[string]any
		require.NoError(t, json.Unmarshal([]byte(out), &got))
		list := got["readings"].([]any)
		require.Len(t, list, 3)
		first := list[0].(map[string]any)
		require.Equal(t, "height", first["quantity"])
		require.InDelta(t, 88.9, first["value_mm"], 1e-9)
		require.Nil(t, first["count"])
		require.Contains(t, first, "count")
		last := list[2].(map[string]any)
		require.Equal(t, "hole_count", last["quantity"])
		require.InDelta(t, 3, last["count"], 0)
		require.Nil(t, last["value_mm"])
		require.Equal(t, []any{}, got["statements"])
		require.Equal(t, []any{}, got["unread"])
	})
	t.Run("plain words, and what was not read", func(t *testing.T) {
		status, out, _ := runReadings(t, "", "3 foot hinge, 0.086 thick")
		require.Equal(t, exitOK, status)
		require.Contains(t, out, "0.086 in")
		require.Contains(t, out, "not read")
		require.Contains(t, out, "height can't be 914.4 mm")
	})
	t.Run("from standard input", func(t *testing.T) {
		status, out, _ := runReadings(t, "height 89 mm\n", "-")
		require.Equal(t, exitOK, status)
		require.Contains(t, out, "89.00 ± 0.80 mm")
	})
	t.Run("nothing in it", func(t *testing.T) {
		_, out, _ := runReadings(t, "", "")
		require.Contains(t, out, "nothing to read")
	})
	t.Run("no text is a usage error", func(t *testing.T) {
		status, _, errs := runReadings(t, "")
		require.Equal(t, exitUsage, status)
		require.Contains(t, errs, "readings --help")
	})
	t.Run("too long a text says what to do", func(t *testing.T) {
		status, _, errs := runReadings(t, strings.Repeat("a", maxReadingsText+1), "-")
		require.Equal(t, exitFailure, status)
		require.Contains(t, errs, "16 MiB")
	})
}
