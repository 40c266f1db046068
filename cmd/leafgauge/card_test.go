package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCardWritesAPDF(t *testing.T) {
	file := filepath.Join(t.TempDir(), "card.pdf")
	status, _, errs := command("card", file, "--paper", "a4")
	require.Equal(t, exitOK, status, errs)
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "%PDF-", string(b[:5]))

	status, _, errs = command("card", file, "--paper", "napkin")
	require.Equal(t, exitUsage, status)
	require.Contains(t, errs, "a4")
	status, _, _ = command("card", filepath.Join(t.TempDir(), "no", "such", "folder.pdf"))
	require.Equal(t, exitFailure, status)
}
