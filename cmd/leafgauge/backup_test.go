package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leafgauge/quote"
	"leafgauge/store"

	"github.com/stretchr/testify/require"
)

// typed runs leafgauge with something on standard input.
func typed(input string, args ...string) (status int, out, errs string) {
	var o, e bytes.Buffer
	status = run(args, streams{ctx: context.Background(), stdin: strings.NewReader(input), out: &o, err: &e, getenv: func(string) string { return "" }})
	return status, o.String(), e.String()
}

func signIn(t *testing.T, data, name, password string) (quote.User, error) {
	db, err := store.Open(t.Context(), filepath.Join(data, "leafgauge.db"))
	require.NoError(t, err)
	defer db.Close()
	return quote.NewDesk(db, nil, quote.Terms{}, time.Now).SignIn(t.Context(), name, password)
}

func TestUserAdd(t *testing.T) {
	data := t.TempDir()
	status, out, errs := typed("open the counter\n", "user", "add", "kim", "--owner", "--data", data)
	require.Equal(t, exitOK, status, errs)
	require.NotContains(t, out+errs, "open the counter")
	u, err := signIn(t, data, "kim", "open the counter")
	require.NoError(t, err)
	require.True(t, u.Owner)

	t.Run("makes a password where none is given", func(t *testing.T) {
		status, out, errs := typed("", "user", "add", "lou", "--data", data)
		require.Equal(t, exitOK, status, errs)
		_, password, ok := strings.Cut(strings.TrimSpace(out), "Password: ")
		require.True(t, ok)
		u, err := signIn(t, data, "lou", password)
		require.NoError(t, err)
		require.False(t, u.Owner)
	})
	t.Run("sets a new one", func(t *testing.T) {
		status, _, errs := typed("close the counter", "user", "add", "kim", "--data", data)
		require.Equal(t, exitOK, status, errs)
		_, err := signIn(t, data, "kim", "open the counter")
		require.ErrorIs(t, err, quote.ErrNotFound)
		_, err = signIn(t, data, "kim", "close the counter")
		require.NoError(t, err)
	})
	t.Run("refuses a short one", func(t *testing.T) {
		status, _, errs := typed("kim\n", "user", "add", "kim", "--data", data)
		require.Equal(t, exitFailure, status)
		require.Contains(t, errs, "at least 10 characters")
		_, err := signIn(t, data, "kim", "close the counter")
		require.NoError(t, err, "the old one stands")
	})
}

func TestBackupAndRestore(t *testing.T) {
	data, other, dir := t.TempDir(), filepath.Join(t.TempDir(), "new"), filepath.Join(t.TempDir(), "backup")
	status, _, errs := typed("open the counter", "user", "add", "kim", "--data", data)
	require.Equal(t, exitOK, status, errs)

	status, out, errs := typed("", "backup", dir, "--data", data)
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "0 inquiries, 0 photos, 0 stock hinges, 1 user")
	status, out, errs = typed("", "restore", dir, "--data", other)
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "Restored 0 inquiries")
	_, err := signIn(t, other, "kim", "open the counter")
	require.NoError(t, err)

	for name, c := range map[string]struct {
		args []string
		want string
	}{
		"into a folder with something in it": {[]string{"backup", dir, "--data", data}, "name a new one"},
		"over what is there":                 {[]string{"restore", dir, "--data", data}, "restore into an empty one"},
		"from nothing":                       {[]string{"restore", t.TempDir(), "--data", filepath.Join(t.TempDir(), "x")}, "no complete backup"},
	} {
		t.Run(name, func(t *testing.T) {
			status, _, errs := typed("", c.args...)
			require.Equal(t, exitFailure, status)
			require.Contains(t, errs, c.want)
		})
	}
	t.Run("keeps it to itself", func(t *testing.T) {
		for _, name := range []string{dir, filepath.Join(dir, "manifest.json"), filepath.Join(dir, "tables", "account.jsonl")} {
			info, err := os.Stat(name)
			require.NoError(t, err)
			require.Zero(t, info.Mode().Perm()&0o077, name)
		}
	})
}
