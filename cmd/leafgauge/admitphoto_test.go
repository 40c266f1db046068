package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"
)

// The test binary is the program itself when it is started as the child that opens a picture.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == "admit-photo" {
		os.Exit(run(os.Args[1:], streams{context.Background(), os.Stdin, os.Stdout, os.Stderr, os.Getenv}))
	}
	os.Exit(m.Run())
}

func TestAdmitPhotoRunsInItsOwnProcess(t *testing.T) {
	self, err := os.Executable()
	require.NoError(t, err)
	photo, err := os.ReadFile(photos + "016.jpg")
	require.NoError(t, err)
	child := exec.CommandContext(t.Context(), self, "admit-photo", "016.jpg")
	child.Stdin = bytes.NewReader(photo)
	got, err := child.Output()
	require.NoError(t, err)
	head, kept, _ := bytes.Cut(got, []byte("\n"))
	require.Contains(t, string(head), `"width_px":1600`)
	require.Equal(t, []byte{0xff, 0xd8}, kept[:2])
}

func TestHelpDoesNotShowTheChild(t *testing.T) {
	status, out, _ := command("--help")
	require.Equal(t, exitOK, status)
	require.Contains(t, out, "measure")
	require.NotContains(t, out, "admit-photo")
}
