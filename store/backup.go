package store

import (
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"leafgauge/quote"
)

// A backup is a folder that either kind of database and either kind of photo store is
// written to and read from:
//
//	manifest.json       what is in it, written last: a folder without it is not complete
//	tables/NAME.jsonl   the columns' names as a JSON array, then one array a row
//	photos/ab/abcd…     the picture files, under their SHA-256
const backupFormat = "leafgauge backup 1"

// tables are all tables, those that others refer to first.
var tables = []string{"counter", "setting", "account", "stock", "inquiry", "photo", "message", "intention", "finding",
	"proposal", "quote", "event", "letter"}

// A Manifest says what is in a backup.
type Manifest struct {
	Format  string          `json:"format"`
	Schema  int64           `json:"schema"`
	Made    time.Time       `json:"made"`
	Tables  []ManifestTable `json:"tables"`
	Photos  int             `json:"photos"`
	Missing []string        `json:"missing_photos"` // known to the database, not to be had from the photo store
}

// A ManifestTable is one table's file.
type ManifestTable struct {
	Name   string `json:"name"`
	Rows   int    `json:"rows"`
	SHA256 string `json:"sha256"` // of the file, hex
}

// Rows returns how many rows of a table are in the backup.
func (m Manifest) Rows(table string) int {
	for _, t := range m.Tables {
		if t.Name == table {
			return t.Rows
		}
	}
	return 0
}

// Backup writes one state of the database and the photos that it names into dir, which must
// be empty or not be there yet. progress is told how many photos of how many are done.
// A photo that cannot be had is left out and listed in the manifest.
func (s *Store) Backup(ctx context.Context, photos quote.PhotoStore, dir string, now time.Time, progress func(done, total int)) (Manifest, error) {
	m := Manifest{Format: backupFormat, Made: now.UTC(), Missing: []string{}}
	if old, err := os.ReadDir(dir); err == nil && len(old) > 0 {
		return m, fmt.Errorf("the folder %s is not empty: name a new one for the backup", dir)
	}
	if err := os.MkdirAll(filepath.Join(dir, "tables"), 0o700); err != nil {
		return m, fmt.Errorf("the backup's folder cannot be made: choose one that you may write to (%w)", err)
	}
	p, err := s.provider()
	if err != nil {
		return m, err
	}
	if m.Schema, err = p.GetDBVersion(ctx); err != nil {
		return m, asDomain(err, "schema's version")
	}
	var names []string
	err = s.inSnapshot(ctx, func(tx *sql.Tx) error {
		for _, table := range tables {
			t, err := dumpTable(ctx, tx, table, tableFile(dir, table))
			if err != nil {
				return asDomain(err, "back up table %s", table)
			}
			m.Tables = append(m.Tables, t)
		}
		names, err = photoNames(ctx, tx)
		return err
	})
	if err != nil {
		return m, err
	}
	to, err := openFolder(filepath.Join(dir, "photos"))
	if err != nil {
		return m, err
	}
	for i, name := range names {
		data, err := photos.Get(ctx, name)
		if ctx.Err() != nil {
			return m, ctx.Err()
		}
		if err != nil {
			m.Missing = append(m.Missing, name)
		} else if err := to.Put(ctx, name, data); err != nil {
			return m, err
		} else {
			m.Photos++
		}
		progress(i+1, len(names))
	}
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return m, err
	}
	return m, writeFile(filepath.Join(dir, "manifest.json"), func(w io.Writer) error {
		_, err := w.Write(append(text, '\n'))
		return err
	})
}

func tableFile(dir, table string) string { return filepath.Join(dir, "tables", table+".jsonl") }

func photoNames(ctx context.Context, db querier) ([]string, error) {
	names, err := collect(ctx, db, func(r row) (name string, err error) { return name, r.Scan(&name) },
		"SELECT DISTINCT sha256 FROM photo ORDER BY sha256")
	return names, asDomain(err, "photos' names")
}

// writeFile writes a file that is on disk when it returns.
func writeFile(path string, fill func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	err = fill(w)
	return errors.Join(err, w.Flush(), f.Sync(), f.Close(), syncFile(filepath.Dir(path)))
}

// dumpTable writes all rows of a table.
func dumpTable(ctx context.Context, db querier, table, path string) (t ManifestTable, err error) {
	t.Name = table
	rows, err := db.QueryContext(ctx, "SELECT * FROM "+table+" ORDER BY 1, 2")
	if err != nil {
		return t, err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return t, err
	}
	sum := sha256.New()
	err = writeFile(path, func(w io.Writer) error {
		out := json.NewEncoder(io.MultiWriter(w, sum))
		if err := out.Encode(columns); err != nil {
			return err
		}
		for rows.Next() {
			values, places := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				places[i] = &values[i]
			}
			if err := rows.Scan(places...); err != nil {
				return err
			}
			for i, v := range values {
				switch v := v.(type) {
				case nil, string, int64, float64:
				case []byte:
					values[i] = string(v)
				default:
					return fmt.Errorf("column %s holds a %T", columns[i], v)
				}
			}
			if err := out.Encode(values); err != nil {
				return err
			}
			t.Rows++
		}
		return rows.Err()
	})
	t.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return t, err
}

// ReadManifest reads what is in the backup in dir, and checks that its tables are whole.
func ReadManifest(dir string) (m Manifest, err error) {
	text, err := os.ReadFile(filepath.Join(dir, "manifest.json"))
	if errors.Is(err, os.ErrNotExist) {
		return m, fmt.Errorf("there is no complete backup in %s: it has no manifest.json", dir)
	}
	if err != nil {
		return m, err
	}
	if err := json.Unmarshal(text, &m); err != nil || m.Format != backupFormat {
		return m, fmt.Errorf("%s is no backup that this leafgauge reads: its manifest.json is damaged or of another kind", dir)
	}
	known := map[string]bool{}
	for _, t := range tables {
		known[t] = true
	}
	for _, t := range m.Tables {
		if !known[t.Name] {
			return m, fmt.Errorf("the backup in %s has a table %q that this leafgauge does not know: restore it with a newer one", dir, t.Name)
		}
		f, err := os.Open(tableFile(dir, t.Name))
		if err != nil {
			return m, fmt.Errorf("the backup in %s is damaged: %w", dir, err)
		}
		sum := sha256.New()
		_, err = io.Copy(sum, f)
		f.Close()
		if err != nil || hex.EncodeToString(sum.Sum(nil)) != t.SHA256 {
			return m, fmt.Errorf("the backup in %s is damaged: tables/%s.jsonl is not as it was written", dir, t.Name)
		}
	}
	return m, nil
}

// Restore reads the backup in dir into the empty database at dsn, and its photos into photos.
// It checks the whole backup first; the database is filled in one transaction, after the
// photos, or not at all.
func Restore(ctx context.Context, dsn string, photos quote.PhotoStore, dir string, progress func(done, total int)) (Manifest, error) {
	m, err := ReadManifest(dir)
	if err != nil {
		return m, err
	}
	s, err := connect(ctx, dsn)
	if err != nil {
		return m, err
	}
	defer s.Close()
	if err := s.prepare(ctx, m.Schema); err != nil {
		return m, s.explain(err, dsn)
	}
	from, err := openFolder(filepath.Join(dir, "photos"))
	if err != nil {
		return m, err
	}
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		for _, table := range []string{"setting", "counter"} { // a fresh database has some of its own
			if _, err := tx.ExecContext(ctx, "DELETE FROM "+table); err != nil {
				return asDomain(err, "clear %s", table)
			}
		}
		for _, t := range m.Tables {
			if err := loadTable(ctx, tx, t, tableFile(dir, t.Name)); err != nil {
				return asDomain(err, "restore table %s", t.Name)
			}
		}
		names, err := photoNames(ctx, tx)
		if err != nil {
			return err
		}
		missing := map[string]bool{}
		for _, name := range m.Missing {
			missing[name] = true
		}
		for i, name := range names {
			if missing[name] {
				continue
			}
			data, err := from.Get(ctx, name)
			if err != nil {
				return fmt.Errorf("the backup in %s is damaged: %w", dir, err)
			}
			if err := photos.Put(ctx, name, data); err != nil {
				return err
			}
			progress(i+1, len(names))
		}
		return nil
	})
	if err != nil {
		return m, err
	}
	return m, s.migrate(ctx, -1)
}

// prepare brings an empty database to the schema of a backup.
func (s *Store) prepare(ctx context.Context, schema int64) error {
	p, err := s.provider()
	if err != nil {
		return err
	}
	current, target, err := p.GetVersions(ctx)
	switch {
	case err != nil:
		return err
	case current > target:
		return errNewer{current, target}
	case schema > target:
		return fmt.Errorf("the backup was made by a newer leafgauge (schema %d, this one knows %d): restore it with that one", schema, target)
	case current > schema:
		return errors.New("the backup is older than this database: name a database that does not exist yet, and it is brought up to date there")
	}
	if err := s.migrate(ctx, schema); err != nil {
		return err
	}
	for _, table := range []string{"inquiry", "stock", "account"} {
		var n int
		if err := s.db.QueryRowContext(ctx, "SELECT COUNT(*) FROM "+table).Scan(&n); err != nil {
			return asDomain(err, "look into %s", table)
		}
		if n > 0 {
			return fmt.Errorf("the database is in use (%d rows in %s): restore into an empty one, so that nothing is overwritten", n, table)
		}
	}
	return nil
}

// mostArgs is how many values one INSERT takes. SQLite looks each $n up among those before it,
// so that a statement's cost grows with the square of their number.
const mostArgs = 400

// loadTable reads what dumpTable wrote.
func loadTable(ctx context.Context, tx *sql.Tx, t ManifestTable, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	in := json.NewDecoder(bufio.NewReader(f))
	in.UseNumber()
	var columns []string
	if err := in.Decode(&columns); err != nil {
		return err
	}
	for _, c := range columns {
		if c == "" || strings.Trim(c, "abcdefghijklmnopqrstuvwxyz_0123456789") != "" {
			return fmt.Errorf("%q is no column's name", c)
		}
	}
	var rows []string
	var args []any
	flush := func() error {
		if len(rows) == 0 {
			return nil
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO "+t.Name+" ("+strings.Join(columns, ", ")+") VALUES "+strings.Join(rows, ", "), args...)
		rows, args = rows[:0], args[:0]
		return err
	}
	for n := range t.Rows {
		var values []any
		if err := in.Decode(&values); err != nil {
			return fmt.Errorf("row %d: %w", n+1, err)
		}
		if len(values) != len(columns) {
			return fmt.Errorf("row %d has %d values for %d columns", n+1, len(values), len(columns))
		}
		marks := make([]string, len(values))
		for i, v := range values {
			if number, ok := v.(json.Number); ok {
				if v, err = number.Int64(); err != nil {
					if v, err = number.Float64(); err != nil {
						return fmt.Errorf("row %d: %w", n+1, err)
					}
				}
			}
			args = append(args, v)
			marks[i] = fmt.Sprintf("$%d", len(args))
		}
		rows = append(rows, "("+strings.Join(marks, ", ")+")")
		if len(args) > mostArgs-len(columns) {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	return flush()
}
