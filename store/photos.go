package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"leafgauge/quote"
)

// OpenPhotos opens the store of picture files at address: a folder's path ("file:PATH" too),
// or a bucket, "s3://KEY:SECRET@HOST/BUCKET?region=REGION&tls=false". What is not there yet
// is made.
func OpenPhotos(ctx context.Context, address string) (quote.PhotoStore, error) {
	switch {
	case address == "":
		return nil, errors.New("no place for photos is named: give a folder's path or an s3:// address")
	case strings.HasPrefix(address, "s3://"):
		return openBucket(ctx, address)
	case strings.HasPrefix(address, "file:"):
		return openFolder(strings.TrimPrefix(strings.TrimPrefix(address, "file:"), "//"))
	case strings.Contains(address, "://"):
		scheme, _, _ := strings.Cut(address, "://")
		return nil, fmt.Errorf("a place for photos at %s://… is not known here: give a folder's path or an s3:// address", scheme)
	}
	return openFolder(address)
}

// photoName is a SHA-256 in hex, as admitted photos are named. Nothing else becomes a path.
var photoName = regexp.MustCompile(`^[0-9a-f]{64}$`)

// checkPut refuses a photo whose bytes are not those of its name.
func checkPut(name string, data []byte) error {
	if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != name {
		return fmt.Errorf("store: photo %.64q: the bytes do not have this SHA-256", name)
	}
	return nil
}

// checkGot tells a damaged file from a good one.
func checkGot(name string, data []byte) ([]byte, error) {
	if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != name {
		return nil, fmt.Errorf("store: photo %s is damaged: put the file back from a backup", name)
	}
	return data, nil
}

func noPhoto(name string) error {
	return fmt.Errorf("store: photo %.64q: %w", name, quote.ErrNotFound)
}

// A folder keeps photos as files, in 256 folders by the first two digits of their name.
type folder struct{ dir string }

func openFolder(dir string) (*folder, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder for photos %s cannot be made: choose one that you may write to (%w)", dir, err)
	}
	probe, err := os.CreateTemp(dir, "probe-")
	if err != nil {
		return nil, fmt.Errorf("the folder for photos %s cannot be written: choose one that you may write to (%w)", dir, err)
	}
	return &folder{dir}, errors.Join(probe.Close(), os.Remove(probe.Name()))
}

func (f *folder) path(name string) string { return filepath.Join(f.dir, name[:2], name) }

// Put writes beside the final name, flushes, renames, and flushes the folders, so that after
// a power cut the file is there as a whole or not at all.
func (f *folder) Put(ctx context.Context, name string, data []byte) (err error) {
	if err := checkPut(name, data); err != nil {
		return err
	}
	if old, err := f.Get(ctx, name); err == nil && len(old) == len(data) {
		return syncFile(f.path(name)) // whoever wrote it may not be through with this step
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("store: keep photo %s: %w", name, err)
		}
	}()
	dir := filepath.Dir(f.path(name))
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	t, err := os.CreateTemp(f.dir, "new-")
	if err != nil {
		return err
	}
	defer os.Remove(t.Name()) // after the rename there is nothing to remove
	_, err = t.Write(data)
	if err = errors.Join(err, t.Sync(), t.Close()); err != nil {
		return err
	}
	if err := os.Rename(t.Name(), f.path(name)); err != nil {
		return err
	}
	return errors.Join(syncFile(dir), syncFile(f.dir))
}

// syncFile flushes a file or a folder.
func syncFile(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}

func (f *folder) Get(ctx context.Context, name string) ([]byte, error) {
	if !photoName.MatchString(name) {
		return nil, noPhoto(name)
	}
	data, err := os.ReadFile(f.path(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, noPhoto(name)
	}
	if err != nil {
		return nil, fmt.Errorf("store: photo %s: %w", name, err)
	}
	return checkGot(name, data)
}
