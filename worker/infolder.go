package worker

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"leafgauge/intake"
)

// An InFolder is a MailSource that watches a folder for .eml files. What is taken in moves
// to its folder "done", what cannot be to "bad" with a text file that says why.
type InFolder struct {
	dir string
	now func() time.Time
}

// settle is how long a file must have been left alone before it is read, for those that are
// written in place and not renamed into it.
const settle = time.Second

// OpenInFolder makes the folders where they are missing.
func OpenInFolder(dir string, now func() time.Time) (*InFolder, error) {
	for _, sub := range []string{"done", "bad"} {
		if err := os.MkdirAll(filepath.Join(dir, sub), 0o750); err != nil {
			return nil, folderError("incoming mail", dir, err)
		}
	}
	return &InFolder{dir, now}, nil
}

// Waiting implements MailSource.
func (f *InFolder) Waiting() ([]string, error) {
	entries, err := os.ReadDir(f.dir)
	if err != nil {
		return nil, err
	}
	age := map[string]time.Time{}
	var names []string
	for _, e := range entries {
		if !e.Type().IsRegular() || !strings.EqualFold(filepath.Ext(e.Name()), ".eml") || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		info, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if old := f.now().Sub(info.ModTime()); old >= 0 && old < settle {
			continue
		}
		age[e.Name()] = info.ModTime()
		names = append(names, e.Name())
	}
	slices.SortStableFunc(names, func(a, b string) int { return age[a].Compare(age[b]) })
	return names, nil
}

// Read implements MailSource. Of a file that is too big it reads just enough to tell.
func (f *InFolder) Read(name string) ([]byte, error) {
	file, err := os.Open(filepath.Join(f.dir, name))
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, intake.MaxMailBytes+1))
}

// Done implements MailSource.
func (f *InFolder) Done(name string) error { return f.move(name, "done") }

// PutAside implements MailSource.
func (f *InFolder) PutAside(name, reason string) error {
	if err := writeWhole(filepath.Join(f.dir, "bad", name+".reason.txt"), []byte(reason+"\n")); err != nil {
		return err
	}
	return f.move(name, "bad")
}

// move puts a mail out of the way. Another one of that name that is there stays.
func (f *InFolder) move(name, sub string) error {
	to := filepath.Join(f.dir, sub, name)
	for n := 2; ; n++ {
		if _, err := os.Lstat(to); errors.Is(err, fs.ErrNotExist) {
			break
		} else if err != nil {
			return err
		}
		to = filepath.Join(f.dir, sub, fmt.Sprintf("%s-%d.eml", strings.TrimSuffix(name, filepath.Ext(name)), n))
	}
	return os.Rename(filepath.Join(f.dir, name), to)
}
