package main

import (
	"fmt"
	"os"
	"strings"
	"time"

	"leafgauge/catalog"
	"leafgauge/store"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// backupCmd copies everything into a folder.
type backupCmd struct {
	place `embed:""`
	Dir   string `arg:"" help:"A new folder for the backup."`
}

func (backupCmd) Help() string {
	return `Writes everything into a folder that "leafgauge restore" reads: inquiries, stock, users,
settings and photos. It may run while leafgauge serves, and it is the same for the embedded
database and for PostgreSQL, so it is also the way from one to the other.
It holds customers' names and addresses: keep it where nobody else reads it.

Example: leafgauge backup /media/usb/leafgauge-monday`
}

// Run writes the backup.
func (c backupCmd) Run(s streams) error {
	db, err := store.Open(s.ctx, c.databaseURL())
	if err != nil {
		return err
	}
	defer db.Close()
	photos, err := store.OpenPhotos(s.ctx, c.photosURL())
	if err != nil {
		return err
	}
	m, err := db.Backup(s.ctx, photos, c.Dir, time.Now(), photoBar(s))
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Backed up %s to %s.\n", contents(m), c.Dir)
	if len(m.Missing) > 0 {
		return fmt.Errorf("the backup is written, but %d photos could not be read and are not in it: %s", len(m.Missing), strings.Join(m.Missing, ", "))
	}
	return nil
}

// restoreCmd reads a backup into an empty database.
type restoreCmd struct {
	place `embed:""`
	Dir   string `arg:"" help:"The folder of the backup."`
}

func (restoreCmd) Help() string {
	return `Reads a backup into a database that is empty or not there yet. Nothing is overwritten, and
a damaged backup is refused as a whole.

Example: leafgauge restore /media/usb/leafgauge-monday --data ./data-new`
}

// Run restores the backup.
func (c restoreCmd) Run(s streams) error {
	photos, err := store.OpenPhotos(s.ctx, c.photosURL())
	if err != nil {
		return err
	}
	m, err := store.Restore(s.ctx, c.databaseURL(), photos, c.Dir, photoBar(s))
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Restored %s from the backup of %s.\n", contents(m), m.Made.Local().Format("2 January 2006 15:04"))
	if len(m.Missing) > 0 {
		fmt.Fprintf(s.err, "leafgauge: %d photos were missing when the backup was made: %s\n", len(m.Missing), strings.Join(m.Missing, ", "))
	}
	return nil
}

func contents(m store.Manifest) string {
	count := catalog.Count
	return strings.Join([]string{count(m.Rows("inquiry"), "inquiry", "inquiries"), count(m.Photos, "photo", "photos"),
		count(m.Rows("stock"), "stock hinge", "stock hinges"), count(m.Rows("account"), "user", "users")}, ", ")
}

// photoBar draws a bar on a terminal, and nothing elsewhere.
func photoBar(s streams) func(done, total int) {
	if f, ok := s.err.(*os.File); !ok || !term.IsTerminal(int(f.Fd())) {
		return func(int, int) {}
	}
	var bar *progressbar.ProgressBar
	return func(done, total int) {
		if bar == nil {
			bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(s.err), progressbar.OptionSetDescription("photos"), progressbar.OptionClearOnFinish())
		}
		bar.Set(done)
	}
}
