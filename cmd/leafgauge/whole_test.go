package main

import (
	"encoding/base64"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leafgauge/intake"
	"leafgauge/internal/testservers"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// letters are the files that went out.
func (s *site) letters(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(s.cfg.mailOut(), "*"))
	require.NoError(t, err)
	for i, f := range files {
		files[i] = filepath.Base(f)
	}
	return files
}

// TestWholeWay goes the whole way of an inquiry on both kinds of servers: a photo is posted,
// measured and proposed; the counter approves; the letters go out once each.
func TestWholeWay(t *testing.T) {
	for name, c := range map[string]struct {
		roles  []string
		served bool
	}{
		"embedded": {roles: []string{"all"}},
		"served":   {roles: []string{"api", "worker", "worker"}, served: true},
	} {
		t.Run(name, func(t *testing.T) {
			s := &site{cfg: testConfig(t)}
			if c.served {
				s.cfg.DatabaseURL = testservers.Postgres(t)
				s.cfg.RedisURL = testservers.Redis(t)
			}
			s.start(t, c.roles...)
			ctx := t.Context()
			require.NoError(t, demoShelf(ctx, s.api(), filepath.Join(testdata, demoStock)))

			// By the public API.
			web := client{base: s.api().base}
			sent, again, err := demoReceipt(ctx, web, s.cfg.Data, testdata)
			require.NoError(t, err)
			require.False(t, again)
			require.NoError(t, demoWait(ctx, web, sent.Links.Self))
			d, err := s.api().desk.Dossier(ctx, sent.ID)
			require.NoError(t, err)
			require.Equal(t, quote.Ready, d.Inquiry.Status, "%+v", d.Events)
			require.Len(t, d.Findings, 1)
			require.NotEmpty(t, d.Proposal.Fits)
			// The photo's truth is in testdata/photos/017.json: 89.04 mm.
			require.InDelta(t, 89.04, d.Proposal.Best.Height.Value.MM(), 0.3)

			best := d.Proposal.Fits[0].Item.StockNumber
			q, err := s.api().desk.Approve(ctx, sent.ID, d.Inquiry.Version, "test", quote.Approval{StockNumber: best, Count: 3, Message: "Here it is."})
			require.NoError(t, err)
			eventually(t, "receipt and quote went out", func() bool { return len(s.letters(t)) == 2 })

			var seen struct {
				Status quote.Status `json:"status"`
				Quote  struct {
					Number string `json:"number"`
				} `json:"quote"`
			}
			require.NoError(t, web.send(ctx, "GET", sent.Links.Self, nil, &seen))
			require.Equal(t, quote.Quoted, seen.Status)
			require.Equal(t, q.Number, seen.Quote.Number)

			// By e-mail, with an answer that joins.
			photo, err := os.ReadFile(filepath.Join(testdata, demoPhoto))
			require.NoError(t, err)
			s.mail(t, "1.eml", "From: Pat <pat@customer.example>\r\nMessage-ID: <first@customer.example>\r\nSubject: hinge\r\n"+
				"Content-Type: multipart/mixed; boundary=B\r\n\r\n--B\r\n\r\n3 1/2 x 3 1/2\r\n--B\r\nContent-Type: image/jpeg; name=h.jpg\r\nContent-Transfer-Encoding: base64\r\n\r\n"+
				lines(base64.StdEncoding.EncodeToString(photo))+"\r\n--B--\r\n")
			mailed := s.waitByMessage(t, "first@customer.example")
			require.Len(t, mailed.Photos, 1)
			require.Equal(t, "3 1/2 x 3 1/2", mailed.Text)
			s.mail(t, "2.eml", "From: pat@customer.example\r\nMessage-ID: <second@customer.example>\r\nIn-Reply-To: <first@customer.example>\r\n\r\nthe leaf is 0.095 in thick\r\n")
			answered := s.waitByMessage(t, "second@customer.example")
			require.Equal(t, mailed.ID, answered.ID)
			s.mail(t, "3.eml", "From: robot@customer.example\r\nMessage-ID: <third@customer.example>\r\nAuto-Submitted: auto-generated\r\n\r\n3 1/2 x 3 1/2\r\n")
			robot := s.waitByMessage(t, "third@customer.example")
			for _, id := range []quote.ID{mailed.ID, robot.ID} {
				eventually(t, "mails are measured", func() bool { return s.settled(t, id) })
			}

			eventually(t, "all letters went out", func() bool {
				waiting, err := s.api().desk.Letters(ctx, 10)
				return err == nil && len(waiting) == 0
			})
			before := s.letters(t)
			receipt := 0
			for _, l := range before {
				raw, err := os.ReadFile(filepath.Join(s.cfg.mailOut(), l))
				require.NoError(t, err)
				require.NotContains(t, string(raw), "robot@customer.example", "automatic mail is not answered")
				if strings.Contains(string(raw), "<first@customer.example>") {
					m, err := intake.ParseMail(raw)
					require.NoError(t, err)
					require.Equal(t, "pat@customer.example", addressee(string(raw)))
					if strings.HasPrefix(l, "receipt") {
						receipt++
						require.Equal(t, "Auto-Submitted: auto-replied", m.Automatic)
					}
				}
			}
			require.Equal(t, 1, receipt)

			// A restart finds everything and sends nothing twice.
			s.stop()
			s.start(t, c.roles...)
			web.base = s.api().base
			found, again, err := demoReceipt(ctx, web, s.cfg.Data, testdata)
			require.NoError(t, err)
			require.True(t, again)
			require.Equal(t, sent.ID, found.ID)
			_, count, err := s.api().desk.List(ctx, quote.Filter{All: true})
			require.NoError(t, err)
			require.Equal(t, 3, count)
			require.Equal(t, before, s.letters(t))
		})
	}
}

func (s *site) mail(t *testing.T, name, text string) {
	t.Helper()
	file := filepath.Join(s.cfg.mailIn(), name)
	require.NoError(t, os.WriteFile(file+".part", []byte(text), 0o600))
	old := time.Now().Add(-time.Minute) // as if it had lain there: it is read at once
	require.NoError(t, os.Chtimes(file+".part", old, old))
	require.NoError(t, os.Rename(file+".part", file))
}

func (s *site) waitByMessage(t *testing.T, id string) (q quote.Inquiry) {
	t.Helper()
	eventually(t, "mail "+id+" is taken in", func() bool {
		var err error
		q, err = s.api().desk.ByMessage(t.Context(), []string{id})
		if !errors.Is(err, quote.ErrNotFound) {
			require.NoError(t, err)
		}
		return err == nil
	})
	return q
}

func addressee(raw string) string {
	_, rest, _ := strings.Cut(raw, "\nTo: ")
	line, _, _ := strings.Cut(rest, "\r\n")
	return line[strings.LastIndex(line, "<")+1 : strings.LastIndex(line, ">")]
}

// lines breaks base64 as RFC 2045 section 6.8 asks for.
func lines(s string) string {
	var b strings.Builder
	for len(s) > 76 {
		b.WriteString(s[:76] + "\r\n")
		s = s[76:]
	}
	return b.String() + s
}
