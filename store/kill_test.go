package store_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leafgauge/intake"
	"leafgauge/quote"
	"leafgauge/store"

	"github.com/stretchr/testify/require"
)

// killVariable makes this test binary a process that takes in inquiries until it is killed.
const killVariable = "LEAFGAUGE_TEST_RECEIVE_UNTIL_KILLED"

func TestMain(m *testing.M) {
	if dir := os.Getenv(killVariable); dir != "" {
		fmt.Fprintln(os.Stderr, receiveUntilKilled(dir))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// receiveUntilKilled prints each customer's key as soon as it has the receipt.
func receiveUntilKilled(dir string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(dir, "leafgauge.db"))
	if err != nil {
		return err
	}
	photos, err := store.OpenPhotos(ctx, filepath.Join(dir, "photos"))
	if err != nil {
		return err
	}
	d := quote.NewDesk(s, photos, quote.Terms{}, time.Now)
	for i := 0; ; i++ {
		data := fmt.Appendf(nil, "picture %d", i)
		r, err := d.Receive(ctx, quote.Submission{Source: quote.FromWeb, Photos: []intake.Photo{{SHA256: nameOf(data), Bytes: data}}})
		if err != nil {
			return err
		}
		fmt.Println("receipt", r.Key)
	}
}

// TestWhatHasAReceiptOutlivesAKill kills a process in the middle of its work. (That a power
// cut does no harm either rests on fsync, which no test can see.)
func TestWhatHasAReceiptOutlivesAKill(t *testing.T) {
	dir := t.TempDir()
	self, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), self)
	cmd.Env = append(os.Environ(), killVariable+"="+dir)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var keys []string
	for lines := bufio.NewScanner(out); lines.Scan(); {
		key, ok := strings.CutPrefix(lines.Text(), "receipt ")
		require.True(t, ok, lines.Text())
		keys = append(keys, key)
		if len(keys) == 50 {
			require.NoError(t, cmd.Process.Kill())
		}
	}
	require.Error(t, cmd.Wait(), "it was killed")
	require.GreaterOrEqual(t, len(keys), 50)

	s := open(t, filepath.Join(dir, "leafgauge.db"))
	photos, err := store.OpenPhotos(t.Context(), filepath.Join(dir, "photos"))
	require.NoError(t, err)
	d := quote.NewDesk(s, photos, quote.Terms{}, time.Now)
	for i, key := range keys {
		do, err := d.ByKey(t.Context(), key)
		require.NoError(t, err, "receipt %d", i)
		require.Len(t, do.Inquiry.Photos, 1)
		data, err := d.PhotoBytes(t.Context(), do.Inquiry.Photos[0].SHA256)
		require.NoError(t, err)
		require.Equal(t, fmt.Sprintf("picture %d", i), string(data))
	}
	// At most one more was written whose receipt nobody saw; each that is there is to be measured.
	_, total, err := s.List(t.Context(), quote.Filter{All: true})
	require.NoError(t, err)
	require.GreaterOrEqual(t, total, len(keys))
	waiting, err := s.Intentions(t.Context(), time.Now().Add(time.Hour), 1000)
	require.NoError(t, err)
	require.Len(t, waiting, total)
}
