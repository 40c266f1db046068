package store_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"leafgauge/quote"
	"leafgauge/store"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"github.com/stretchr/testify/require"
)

func nameOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func TestPhotos(t *testing.T) {
	bucket := httptest.NewServer(gofakes3.New(s3mem.New()).Server())
	defer bucket.Close()
	at := strings.TrimPrefix(bucket.URL, "http://")
	for name, address := range map[string]string{
		"folder":           filepath.Join(t.TempDir(), "a", "photos"),
		"folder, as a URL": "file:" + filepath.Join(t.TempDir(), "photos"),
		"bucket":           "s3://key:secret@" + at + "/photos?tls=false&region=somewhere",
		"part of a bucket": "s3://key:secret@" + at + "/photos/shop/one?tls=false&region=somewhere",
	} {
		t.Run(name, func(t *testing.T) {
			ctx := t.Context()
			p, err := store.OpenPhotos(ctx, address)
			require.NoError(t, err)
			data := bytes.Repeat([]byte("a picture "), 300_000)

			_, err = p.Get(ctx, nameOf(data))
			require.ErrorIs(t, err, quote.ErrNotFound)
			require.NoError(t, p.Put(ctx, nameOf(data), data))
			require.NoError(t, p.Put(ctx, nameOf(data), data), "twice is harmless")
			got, err := p.Get(ctx, nameOf(data))
			require.NoError(t, err)
			require.True(t, bytes.Equal(data, got))

			again, err := store.OpenPhotos(ctx, address)
			require.NoError(t, err)
			_, err = again.Get(ctx, nameOf(data))
			require.NoError(t, err)

			require.Error(t, p.Put(ctx, nameOf(data), []byte("other bytes")), "a name is the bytes' own")
			for _, bad := range []string{"", "ab", "../../etc/passwd", strings.Repeat("Z", 64), nameOf(data) + "/.."} {
				require.Error(t, p.Put(ctx, bad, data), bad)
				_, err := p.Get(ctx, bad)
				require.ErrorIs(t, err, quote.ErrNotFound, bad)
			}

			var wait sync.WaitGroup
			for i := range 8 {
				wait.Go(func() {
					data := fmt.Appendf(nil, "picture %d", i/2) // each one twice, side by side
					if err := p.Put(ctx, nameOf(data), data); err != nil {
						t.Error(err)
					}
					if _, err := p.Get(ctx, nameOf(data)); err != nil {
						t.Error(err)
					}
				})
			}
			wait.Wait()
		})
	}
}

func TestADamagedPhotoIsNoPhoto(t *testing.T) {
	dir := t.TempDir()
	p, err := store.OpenPhotos(t.Context(), dir)
	require.NoError(t, err)
	data := []byte("a picture")
	require.NoError(t, p.Put(t.Context(), nameOf(data), data))
	file := filepath.Join(dir, nameOf(data)[:2], nameOf(data))
	require.NoError(t, os.WriteFile(file, data[:4], 0o600))
	_, err = p.Get(t.Context(), nameOf(data))
	require.ErrorContains(t, err, "damaged")
	require.NoError(t, p.Put(t.Context(), nameOf(data), data), "sent again, it is mended")
	_, err = p.Get(t.Context(), nameOf(data))
	require.NoError(t, err)

	left, err := filepath.Glob(filepath.Join(dir, "new-*"))
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestOpenPhotosSaysWhatToDo(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	for address, want := range map[string]string{
		"":                    "give a folder's path",
		"ftp://example.com/x": "give a folder's path or an s3:// address",
		file + "/photos":      "choose one that you may write to",
		"s3://":               "write s3://KEY:SECRET@HOST/BUCKET",
		"s3://k:pw@127.0.0.1:1/b?tls=false&region=r": "check its address, key and rights",
	} {
		_, err := store.OpenPhotos(t.Context(), address)
		require.ErrorContains(t, err, want, address)
		require.NotContains(t, err.Error(), "pw@")
		require.NotContains(t, err.Error(), "\n")
	}
}
