package store_test

import (
	"database/sql"
	"encoding/json"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/internal/testservers"
	"leafgauge/measure"
	"leafgauge/quote"
	"leafgauge/store"

	"github.com/stretchr/testify/require"
)

func quiet(done, total int) {}

// filled is a shop in the middle of its day: an inquiry with everything, and another one.
func filled(t *testing.T, s *store.Store, photos quote.PhotoStore) (picture []byte) {
	picture = []byte("a picture")
	require.NoError(t, photos.Put(t.Context(), nameOf(picture), picture))
	_, _, err := s.PutStock(t.Context(), []catalog.Item{{StockNumber: "H-1", Height: 88.9, Prices: []catalog.PriceBreak{{From: 1, Price: dollars(t, "4.10")}}}})
	require.NoError(t, err)
	require.NoError(t, s.PutUser(t.Context(), quote.User{Name: "kim", Hash: "h", Owner: true}))
	require.NoError(t, s.PutSetting(t.Context(), "customer_key_secret", "00ff"))
	id := newInquiry(t, s, func(c *quote.Change) {
		c.Inquiry.Text = "3 ½ × 3 ½\n\"quoted\" 'and' \\ <odd>"
		c.Photos = []quote.Photo{{N: 1, Added: noon, Photo: intake.Photo{SHA256: nameOf(picture), Format: "jpeg", Width: 4000, Height: 3000, Orientation: 1, Focal35mm: 26}}}
		c.Letters = []quote.Letter{{Key: "receipt:1:1", Made: noon, Sent: noon}, {Key: "waits", Made: noon}}
		c.Messages = []string{"m@example.com"}
		c.Events = []quote.Event{{At: noon, What: "received"}}
	}).ID
	_, err = s.Change(t.Context(), id, func(d quote.Dossier) (quote.Change, error) {
		return quote.Change{Inquiry: d.Inquiry,
			Findings: []quote.Finding{{Revision: 1, PhotoN: 1, Result: measure.Result{Status: measure.Measured}}},
			Proposal: &quote.Proposal{Inquiry: id, Revision: 1, Made: noon, Fits: []catalog.Fit{{P: 0.1234567890123456789, Verdict: catalog.DropsIn}}},
			Quote:    &quote.Quote{Number: "1-1", Inquiry: id, Made: noon, Net: dollars(t, "12.30"), Tax: dollars(t, "0"), Total: dollars(t, "12.30")}}, nil
	})
	require.NoError(t, err)
	newInquiry(t, s, nil)
	return picture
}

// state is all that a store can be asked about.
func state(t *testing.T, s *store.Store) (all []any) {
	ctx := t.Context()
	for _, id := range []quote.ID{1, 2} {
		d, err := s.Dossier(ctx, id)
		require.NoError(t, err)
		all = append(all, d)
	}
	list, _, err := s.List(ctx, quote.Filter{All: true})
	require.NoError(t, err)
	stock, err := s.Stock(ctx)
	require.NoError(t, err)
	user, err := s.User(ctx, "kim")
	require.NoError(t, err)
	waiting, err := s.Intentions(ctx, noon.Add(time.Hour), 10)
	require.NoError(t, err)
	letters, err := s.Letters(ctx, 10)
	require.NoError(t, err)
	secret, err := s.Setting(ctx, "customer_key_secret")
	require.NoError(t, err)
	byMail, err := s.InquiryByMessage(ctx, []string{"m@example.com"})
	require.NoError(t, err)
	return append(all, list, stock, user, waiting, letters, secret, byMail)
}

func TestABackupMovesBetweenDatabases(t *testing.T) {
	sqlite := func(t *testing.T) string { return filepath.Join(t.TempDir(), "leafgauge.db") }
	postgres := func(t *testing.T) string { return testservers.Postgres(t) }
	for name, way := range map[string][2]func(*testing.T) string{
		"sqlite to postgres": {sqlite, postgres}, "postgres to sqlite": {postgres, sqlite},
		"sqlite to sqlite": {sqlite, sqlite}, "postgres to postgres": {postgres, postgres},
	} {
		t.Run(name, func(t *testing.T) {
			ctx := t.Context()
			from := open(t, way[0](t))
			photos, err := store.OpenPhotos(ctx, t.TempDir())
			require.NoError(t, err)
			picture := filled(t, from, photos)
			dir := filepath.Join(t.TempDir(), "backup")
			made, err := from.Backup(ctx, photos, dir, noon, quiet)
			require.NoError(t, err)
			require.Equal(t, 2, made.Rows("inquiry"))
			require.Equal(t, 1, made.Photos)
			require.Empty(t, made.Missing)

			url := way[1](t)
			otherPhotos, err := store.OpenPhotos(ctx, t.TempDir())
			require.NoError(t, err)
			back, err := store.Restore(ctx, url, otherPhotos, dir, quiet)
			require.NoError(t, err)
			require.Equal(t, made, back)
			to := open(t, url)
			require.Equal(t, state(t, from), state(t, to))
			got, err := otherPhotos.Get(ctx, nameOf(picture))
			require.NoError(t, err)
			require.Equal(t, picture, got)
			require.Equal(t, quote.ID(3), newInquiry(t, to, nil).ID, "numbers go on where they were")

			_, err = store.Restore(ctx, url, otherPhotos, dir, quiet)
			require.ErrorContains(t, err, "restore into an empty one")
			_, err = from.Backup(ctx, photos, dir, noon, quiet)
			require.ErrorContains(t, err, "is not empty")
		})
	}
}

func TestADamagedBackupIsRefusedWhole(t *testing.T) {
	ctx := t.Context()
	from := open(t, filepath.Join(t.TempDir(), "leafgauge.db"))
	photos, err := store.OpenPhotos(ctx, t.TempDir())
	require.NoError(t, err)
	filled(t, from, photos)

	for want, damage := range map[string]func(dir string) error{
		"no manifest.json":                   func(dir string) error { return os.Remove(filepath.Join(dir, "manifest.json")) },
		"of another kind":                    func(dir string) error { return os.WriteFile(filepath.Join(dir, "manifest.json"), []byte("{}"), 0o600) },
		"tables/letter.jsonl is not as":      func(dir string) error { return os.WriteFile(filepath.Join(dir, "tables", "letter.jsonl"), nil, 0o600) },
		"is damaged: store: photo":           func(dir string) error { return os.RemoveAll(filepath.Join(dir, "photos")) },
		"made by a newer leafgauge":          func(dir string) error { return alterManifest(dir, "schema", 9000) },
		"does not know: restore it with a n": func(dir string) error { return alterManifest(dir, "tables", []map[string]any{{"name": "pets"}}) },
	} {
		t.Run(want, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "backup")
			_, err := from.Backup(ctx, photos, dir, noon, quiet)
			require.NoError(t, err)
			require.NoError(t, damage(dir))
			url := filepath.Join(t.TempDir(), "new.db")
			_, err = store.Restore(ctx, url, photos, dir, quiet)
			require.ErrorContains(t, err, want)
			_, total, err := open(t, url).List(ctx, quote.Filter{All: true})
			require.NoError(t, err)
			require.Zero(t, total, "nothing half restored stays")
		})
	}
}

func alterManifest(dir, field string, value any) error {
	path := filepath.Join(dir, "manifest.json")
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	m := map[string]any{}
	if err := json.Unmarshal(text, &m); err != nil {
		return err
	}
	m[field] = value
	if text, err = json.Marshal(m); err != nil {
		return err
	}
	return os.WriteFile(path, text, 0o600)
}

func TestABackupWithoutAPhotoSaysSo(t *testing.T) {
	ctx := t.Context()
	from := open(t, filepath.Join(t.TempDir(), "leafgauge.db"))
	photos, err := store.OpenPhotos(ctx, t.TempDir())
	require.NoError(t, err)
	picture := filled(t, from, photos)
	empty, err := store.OpenPhotos(ctx, t.TempDir())
	require.NoError(t, err)
	dir := t.TempDir()
	m, err := from.Backup(ctx, empty, dir, noon, quiet)
	require.NoError(t, err)
	require.Equal(t, []string{nameOf(picture)}, m.Missing)
	_, err = store.Restore(ctx, filepath.Join(t.TempDir(), "new.db"), empty, dir, quiet)
	require.NoError(t, err, "the rest can be had back")
}

func TestEveryTableIsInABackup(t *testing.T) {
	path := filepath.Join(t.TempDir(), "leafgauge.db")
	s := open(t, path)
	photos, err := store.OpenPhotos(t.Context(), t.TempDir())
	require.NoError(t, err)
	m, err := s.Backup(t.Context(), photos, t.TempDir(), noon, quiet)
	require.NoError(t, err)
	var in []string
	for _, table := range m.Tables {
		in = append(in, table.Name)
	}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath())
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.Query("SELECT name FROM sqlite_master WHERE type = 'table'")
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		if strings.HasPrefix(name, "goose_") || strings.HasPrefix(name, "sqlite_") {
			continue
		}
		require.True(t, slices.Contains(in, name), "table %s", name)
	}
	require.NoError(t, rows.Err())
}
