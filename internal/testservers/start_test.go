package testservers

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestANamedServerMustAnswer(t *testing.T) {
	t.Setenv(DatabaseURL, "postgres://nobody@127.0.0.1:1/x")
	_, err := findPostgres(t.Context())
	require.ErrorContains(t, err, DatabaseURL, "no other is taken in its place")
	t.Setenv(RedisURL, "redis://127.0.0.1:1")
	_, err = findRedis(t.Context())
	require.ErrorContains(t, err, RedisURL)
}

func TestAStartedServerEndsAndLeavesNothing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "server")
	require.NoError(t, os.Mkdir(dir, 0o700))
	ready := func(context.Context) error { // once the server has written its own process ID
		_, err := os.Stat(filepath.Join(dir, "id"))
		return err
	}
	s, err := start(t.Context(), dir, nil, "TERM", "somewhere", ready, "/bin/sh", "-c", "echo $$ >id; exec sleep 1000")
	require.NoError(t, err)
	id, err := os.ReadFile(filepath.Join(dir, "id"))
	require.NoError(t, err)
	s.stop()
	require.NoDirExists(t, dir)
	require.Error(t, exec.Command("/bin/kill", "-0", strings.TrimSpace(string(id))).Run(), "it still runs")
}

func TestAServerThatDoesNotGetReadySaysWhy(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	dir := filepath.Join(t.TempDir(), "server")
	require.NoError(t, os.Mkdir(dir, 0o700))
	_, err := start(ctx, dir, nil, "TERM", "nowhere", func(context.Context) error { return errors.New("refused") },
		"/bin/sh", "-c", "echo no room left on the disk; exec sleep 1000")
	require.ErrorContains(t, err, "refused")
	require.ErrorContains(t, err, "no room left on the disk")
	require.NoDirExists(t, dir)
}
