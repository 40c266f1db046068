package store_test

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/internal/testservers"
	"leafgauge/measure"
	"leafgauge/quote"
	"leafgauge/store"

	"github.com/bojanz/currency"
	"github.com/stretchr/testify/require"
)

// noon is some moment, with microseconds.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 123456000, time.UTC)

// onBoth runs a test on SQLite and on PostgreSQL, each time with an empty store and the
// address that it was opened at.
func onBoth(t *testing.T, test func(t *testing.T, s *store.Store, url string)) {
	for name, address := range map[string]func(t *testing.T) string{
		"sqlite": func(t *testing.T) string {
			return "sqlite:" + filepath.Join(t.TempDir(), "shop's data", "leaf%20gauge?.db")
		},
		"postgres": func(t *testing.T) string { return testservers.Postgres(t) },
	} {
		t.Run(name, func(t *testing.T) {
			url := address(t)
			test(t, open(t, url), url)
		})
	}
}

func open(t *testing.T, url string) *store.Store {
	s, err := store.Open(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s
}

// newInquiry creates an inquiry as the desk would, with an intention to measure it.
func newInquiry(t *testing.T, s *store.Store, alter func(*quote.Change)) quote.Inquiry {
	t.Helper()
	q, again, err := s.Create(t.Context(), hash(t.Name(), time.Now().String()), "", func(id quote.ID) quote.Change {
		c := quote.Change{Measure: true, Inquiry: quote.Inquiry{ID: id, Status: quote.Received, Revision: 1, Source: quote.FromWeb,
			Contact: quote.Contact{Name: "Ada Sill", Email: "ada@example.com"}, Text: "3 1/2 x 3 1/2", Overrule: []string{},
			KeySeed: "seed", Created: noon, Updated: noon}}
		if alter != nil {
			alter(&c)
		}
		return c
	})
	require.NoError(t, err)
	require.False(t, again)
	return q
}

func hash(parts ...string) []byte {
	sum := sha256.Sum256([]byte(fmt.Sprint(parts)))
	return sum[:]
}

func dollars(t *testing.T, n string) currency.Amount {
	a, err := currency.NewAmount(n, "USD")
	require.NoError(t, err)
	return a
}

func TestEverythingComesBackAsItWasWritten(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, url string) {
		photo := quote.Photo{N: 1, Added: noon, Photo: intake.Photo{SHA256: "ab", Format: "jpeg", Width: 4000, Height: 3000,
			Orientation: 6, Focal35mm: 26.5, FileName: "hinge ½.jpg"}}
		event := quote.Event{At: noon, By: quote.ByCustomer, Who: "Ada", What: "received", Text: "two\nlines", From: quote.Received, To: quote.Received}
		letter := quote.Letter{Key: "receipt:1:1", Kind: "receipt", To: quote.Contact{Name: "Ada", Email: "ada@example.com"}, Subject: "s", Body: "b",
			Quote: "", ReplyTo: "in@example.com", MessageID: "out@example.com", Made: noon}
		made := newInquiry(t, s, func(c *quote.Change) {
			c.Inquiry.Door = catalog.Door{Width: 813, Thickness: 35, FireRated: true, Weight: 21.5}
			c.Inquiry.Wishes = catalog.Wishes{Finish: "US15", Count: 3}
			c.Inquiry.Automatic = true
			c.Photos, c.Events, c.Letters = []quote.Photo{photo}, []quote.Event{event, event}, []quote.Letter{letter}
			c.Messages = []string{"in@example.com", "out@example.com"}
		})
		require.Equal(t, quote.ID(1), made.ID)
		require.Equal(t, 1, made.Version)
		require.Equal(t, []quote.Photo{photo}, made.Photos)

		proposal := quote.Proposal{Inquiry: 1, Revision: 1, Made: noon, Count: 3,
			Best: measure.Best{Hinge: measure.Hinge{Height: measure.Estimate{Value: 88.9, Sigma: 0.08}, Nominal: measure.Nominal{Size: "3 1/2 x 3 1/2", P: 0.99}}},
			Fits: []catalog.Fit{{Item: catalog.Item{StockNumber: "H-100"}, Verdict: catalog.DropsIn, P: 0.97}}}
		finding := quote.Finding{Inquiry: 1, Revision: 1, PhotoN: 1, Result: measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.Blurred}}}
		offer := quote.Quote{Number: "1-1", Inquiry: 1, Made: noon, Lines: []quote.Line{{StockNumber: "H-100", Count: 3, Each: dollars(t, "4.10"), Sum: dollars(t, "12.30")}},
			Net: dollars(t, "12.30"), Tax: dollars(t, "0.00"), Total: dollars(t, "12.30")}
		later := noon.Add(time.Minute)
		changed, err := s.Change(t.Context(), 1, func(d quote.Dossier) (quote.Change, error) {
			require.Equal(t, made, d.Inquiry)
			c := quote.Change{Inquiry: d.Inquiry, Settled: 1, Proposal: &proposal, Findings: []quote.Finding{finding}, Quote: &offer}
			c.Inquiry.Status, c.Inquiry.Question, c.Inquiry.Unread, c.Inquiry.Updated = quote.Quoted, "Why?", true, later
			c.Inquiry.Overrule = []string{"height:swapped"}
			return c, nil
		})
		require.NoError(t, err)
		require.Equal(t, 2, changed.Version)

		want := made
		want.Version, want.Status, want.Question, want.Unread, want.Updated, want.Overrule = 2, quote.Quoted, "Why?", true, later, []string{"height:swapped"}
		require.Equal(t, want, changed)
		letter.ID, letter.Inquiry = 1, 1
		d, err := s.Dossier(t.Context(), 1)
		require.NoError(t, err)
		require.Equal(t, want, d.Inquiry)
		require.Equal(t, []quote.Finding{finding}, d.Findings)
		require.Equal(t, &proposal, d.Proposal)
		require.Equal(t, []quote.Event{event, event}, d.Events)
		require.Equal(t, []quote.Letter{letter}, d.Letters)
		require.Len(t, d.Quotes, 1)
		require.True(t, offer.Total.Equal(d.Quotes[0].Total))

		q, err := s.QuoteByNumber(t.Context(), "1-1")
		require.NoError(t, err)
		require.Equal(t, d.Quotes[0], q)
		q2, err := s.InquiryByMessage(t.Context(), []string{"unknown", "out@example.com", "unknown too"})
		require.NoError(t, err)
		require.Equal(t, want, q2)
		page, total, err := s.List(t.Context(), quote.Filter{})
		require.NoError(t, err)
		require.Equal(t, 1, total)
		require.Equal(t, []quote.Summary{{Inquiry: want, Best: "3 1/2 x 3 1/2", Top: "H-100", Fit: "drops in", P: 0.97, Turn: quote.ByCounter, Total: "12.30 USD"}}, page)

		again := open(t, url) // another process, or the next start
		d2, err := again.Dossier(t.Context(), 1)
		require.NoError(t, err)
		require.Equal(t, d, d2)
	})
}

func TestWhatIsNotThereIsNotFound(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		ctx := t.Context()
		for name, err := range map[string]error{
			"inquiry": second(s.Inquiry(ctx, 7)),
			"key":     second(s.InquiryByKey(ctx, hash("none"))),
			"message": second(s.InquiryByMessage(ctx, []string{"a", "b"})),
			"no ids":  second(s.InquiryByMessage(ctx, nil)),
			"dossier": second(s.Dossier(ctx, 7)),
			"quote":   second(s.QuoteByNumber(ctx, "7-1")),
			"item":    second(s.StockItem(ctx, "H-1")),
			"user":    second(s.User(ctx, "nobody")),
			"letter":  s.LetterSent(ctx, 7, noon),
			"change": second(s.Change(ctx, 7, func(quote.Dossier) (quote.Change, error) {
				t.Fatal("asked about an inquiry that is not there")
				return quote.Change{}, nil
			})),
		} {
			require.ErrorIs(t, err, quote.ErrNotFound, name)
		}
		empty, err := s.Setting(ctx, "unset")
		require.NoError(t, err)
		require.Empty(t, empty)
	})
}

func second[T any](_ T, err error) error { return err }

func TestTextThatADatabaseWouldRefuseIsTaken(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		q := newInquiry(t, s, func(c *quote.Change) { c.Inquiry.Text = "3\x00½ \xff 'quoted' \\ $1" })
		require.Equal(t, "3½ \uFFFD 'quoted' \\ $1", q.Text)
	})
}

func TestTheSameSubmissionTwice(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		var wait sync.WaitGroup
		ids, repeats := make([]quote.ID, 8), make([]bool, 8)
		for i := range ids {
			wait.Go(func() {
				q, again, err := s.Create(t.Context(), hash("same"), "once", func(id quote.ID) quote.Change {
					return quote.Change{Measure: true, Inquiry: quote.Inquiry{ID: id, Status: quote.Received, Revision: 1, Source: quote.FromAPI, Created: noon, Updated: noon}}
				})
				if err != nil {
					t.Error(err)
				}
				ids[i], repeats[i] = q.ID, again
			})
		}
		wait.Wait()
		first := 0
		for i := range ids {
			require.Equal(t, quote.ID(1), ids[i])
			if !repeats[i] {
				first++
			}
		}
		require.Equal(t, 1, first, "one of them made it")
		require.Equal(t, quote.ID(2), newInquiry(t, s, nil).ID, "a repeat uses up no number")
	})
}

// errHalfway is a failure in the middle of an act.
var errHalfway = errors.New("halfway")

func TestNothingHalfWrittenStays(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		q := newInquiry(t, s, nil)
		before, err := s.Dossier(t.Context(), q.ID)
		require.NoError(t, err)

		t.Run("when the decision is an error", func(t *testing.T) {
			_, err := s.Change(t.Context(), q.ID, func(quote.Dossier) (quote.Change, error) { return quote.Change{}, errHalfway })
			require.Equal(t, errHalfway, err, "it comes back as it is")
		})
		t.Run("when the last row is refused", func(t *testing.T) {
			_, err := s.Change(t.Context(), q.ID, func(d quote.Dossier) (quote.Change, error) {
				photo := quote.Photo{N: 1, Photo: intake.Photo{SHA256: "ab"}}
				c := quote.Change{Inquiry: d.Inquiry, Settled: 1, Events: []quote.Event{{What: "photo added"}},
					Photos: []quote.Photo{photo, photo}} // the same place twice
				c.Inquiry.Text = "changed"
				return c, nil
			})
			require.Error(t, err)
		})
		t.Run("when a status is unknown", func(t *testing.T) {
			_, err := s.Change(t.Context(), q.ID, func(d quote.Dossier) (quote.Change, error) {
				d.Inquiry.Status = "lost in the post"
				return quote.Change{Inquiry: d.Inquiry}, nil
			})
			require.Error(t, err)
		})
		t.Run("when a decision panics", func(t *testing.T) {
			require.Panics(t, func() {
				s.Change(t.Context(), q.ID, func(quote.Dossier) (quote.Change, error) { panic("our own mistake") })
			})
		})
		t.Run("when a new one fails", func(t *testing.T) {
			_, _, err := s.Create(t.Context(), hash("new"), "", func(id quote.ID) quote.Change {
				c := quote.Change{Inquiry: before.Inquiry, Measure: true}
				c.Inquiry.Status = "no status"
				return c
			})
			require.Error(t, err)
		})
		t.Run("when the caller gives up", func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			_, err := s.Change(ctx, q.ID, func(d quote.Dossier) (quote.Change, error) {
				cancel()
				return quote.Change{Inquiry: d.Inquiry}, nil
			})
			require.ErrorIs(t, err, context.Canceled)
		})

		after, err := s.Dossier(t.Context(), q.ID)
		require.NoError(t, err)
		require.Equal(t, before, after)
		waiting, err := s.Intentions(t.Context(), noon.Add(time.Hour), 10)
		require.NoError(t, err)
		require.Equal(t, []quote.Intention{{Inquiry: q.ID, Revision: 1, Made: noon}}, waiting)
		_, total, err := s.List(t.Context(), quote.Filter{All: true})
		require.NoError(t, err)
		require.Equal(t, 1, total)
	})
}

func TestChangesOfOneInquiryGoOneAfterAnother(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, url string) {
		q := newInquiry(t, s, nil)
		other := open(t, url) // another process
		const each = 20
		var wait sync.WaitGroup
		for _, st := range []*store.Store{s, s, other, other} {
			wait.Go(func() {
				for range each {
					_, err := st.Change(t.Context(), q.ID, func(d quote.Dossier) (quote.Change, error) {
						c := quote.Change{Inquiry: d.Inquiry, Events: []quote.Event{{At: noon, What: "note"}}}
						c.Inquiry.Text += "x"
						return c, nil
					})
					if err != nil {
						t.Error(err)
					}
				}
			})
		}
		wait.Wait()
		d, err := s.Dossier(t.Context(), q.ID)
		require.NoError(t, err)
		require.Len(t, d.Inquiry.Text, len(q.Text)+4*each, "no change was lost")
		require.Equal(t, 1+4*each, d.Inquiry.Version)
		require.Len(t, d.Events, 4*each)
	})
}

func TestAStaleVersionIsSeenUnderTheLock(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		q := newInquiry(t, s, nil)
		act := func() error {
			_, err := s.Change(t.Context(), q.ID, func(d quote.Dossier) (quote.Change, error) {
				if d.Inquiry.Version != q.Version {
					return quote.Change{}, quote.ErrStale
				}
				return quote.Change{Inquiry: d.Inquiry}, nil
			})
			return err
		}
		errs := make(chan error, 6)
		for range cap(errs) {
			go func() { errs <- act() }()
		}
		done := 0
		for range cap(errs) {
			if err := <-errs; err == nil {
				done++
			} else {
				require.ErrorIs(t, err, quote.ErrStale)
			}
		}
		require.Equal(t, 1, done, "of several who saw the same version, one acts")
	})
}

func TestIntentionsWaitUntilSettled(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		waiting := func() []quote.Intention {
			all, err := s.Intentions(t.Context(), noon.Add(time.Hour), 10)
			require.NoError(t, err)
			return all
		}
		change := func(id quote.ID, alter func(*quote.Change)) {
			_, err := s.Change(t.Context(), id, func(d quote.Dossier) (quote.Change, error) {
				c := quote.Change{Inquiry: d.Inquiry}
				alter(&c)
				return c, nil
			})
			require.NoError(t, err)
		}
		a, b := newInquiry(t, s, nil), newInquiry(t, s, func(c *quote.Change) { c.Inquiry.Updated = noon.Add(time.Minute) })
		require.Equal(t, []quote.Intention{{Inquiry: a.ID, Revision: 1, Made: noon}, {Inquiry: b.ID, Revision: 1, Made: noon.Add(time.Minute)}}, waiting())
		none, err := s.Intentions(t.Context(), noon, 10)
		require.NoError(t, err)
		require.Empty(t, none, "made before, not at")
		one, err := s.Intentions(t.Context(), noon.Add(time.Hour), 1)
		require.NoError(t, err)
		require.Len(t, one, 1)

		change(a.ID, func(c *quote.Change) { c.Inquiry.Revision, c.Measure = 2, true })
		require.Equal(t, []quote.Intention{{Inquiry: a.ID, Revision: 2, Made: noon}, {Inquiry: b.ID, Revision: 1, Made: noon.Add(time.Minute)}}, waiting(), "a newer revision overtakes")
		change(a.ID, func(c *quote.Change) { c.Settled = 1 })
		require.Len(t, waiting(), 2, "an older one settles nothing")
		change(a.ID, func(c *quote.Change) { c.Settled = 2 })
		require.Equal(t, []quote.Intention{{Inquiry: b.ID, Revision: 1, Made: noon.Add(time.Minute)}}, waiting())
	})
}

func TestALetterIsWrittenAndSentOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		l := quote.Letter{Key: "quote:1:2", Kind: "quote", Made: noon}
		q := newInquiry(t, s, func(c *quote.Change) { c.Letters = []quote.Letter{l, l} })
		_, err := s.Change(t.Context(), q.ID, func(d quote.Dossier) (quote.Change, error) {
			return quote.Change{Inquiry: d.Inquiry, Letters: []quote.Letter{l, {Key: "quote:1:3", Made: noon}}}, nil
		})
		require.NoError(t, err)
		letters, err := s.Letters(t.Context(), 10)
		require.NoError(t, err)
		require.Len(t, letters, 2)
		require.Equal(t, "quote:1:2", letters[0].Key)

		require.NoError(t, s.LetterSent(t.Context(), letters[0].ID, noon.Add(time.Minute)))
		require.NoError(t, s.LetterSent(t.Context(), letters[0].ID, noon.Add(time.Hour)), "twice is harmless")
		letters, err = s.Letters(t.Context(), 10)
		require.NoError(t, err)
		require.Len(t, letters, 1)
		d, err := s.Dossier(t.Context(), q.ID)
		require.NoError(t, err)
		require.Equal(t, noon.Add(time.Minute), d.Letters[0].Sent, "the first time stands")
	})
}

func TestListFiltersSortsAndPages(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		for i, status := range quote.Statuses {
			newInquiry(t, s, func(c *quote.Change) {
				c.Inquiry.Status = status
				c.Inquiry.Contact.Name = fmt.Sprintf("Customer %c", 'Z'-i)
				c.Inquiry.Created = noon.Add(-time.Duration(i) * time.Hour)
				c.Inquiry.Updated = noon.Add(time.Duration(i%3) * time.Minute)
				if status == quote.Won {
					c.Inquiry.Text, c.Inquiry.Contact.Name = "100% brass, Öse_1", "Zoë"
					c.Inquiry.Unread = true
				}
				if status == quote.Ready {
					c.Proposal = &quote.Proposal{Revision: 1, Made: noon, Fits: []catalog.Fit{{Item: catalog.Item{StockNumber: "Stock-77"}}}}
				}
			})
		}
		list := func(f quote.Filter) (ids []quote.ID, total int) {
			page, total, err := s.List(t.Context(), f)
			require.NoError(t, err)
			for _, l := range page {
				ids = append(ids, l.ID)
			}
			return ids, total
		}
		only := func(f quote.Filter) []quote.ID { ids, _ := list(f); return ids }

		// IDs follow quote.Statuses: 1 received … 5 ready, 7 quoted, 8 won (unread), 9 lost, 10 declined, 11 withdrawn, 12 stuck.
		require.Equal(t, []quote.ID{12, 8, 7, 6, 5, 4, 3, 2, 1}, only(quote.Filter{}), "open ones and unread ones, oldest first")
		require.Len(t, only(quote.Filter{All: true}), 12)
		require.Equal(t, []quote.ID{9, 8}, only(quote.Filter{Statuses: []quote.Status{quote.Won, quote.Lost}}))
		require.Equal(t, []quote.ID{12, 8, 5}, only(quote.Filter{Turn: quote.ByCounter}))
		require.Equal(t, []quote.ID{7, 4, 3}, only(quote.Filter{Turn: quote.ByCustomer}))
		require.Equal(t, []quote.ID{6, 2, 1}, only(quote.Filter{Turn: quote.ByProgram}))

		require.Equal(t, []quote.ID{1, 2, 3}, only(quote.Filter{Sort: "newest", Limit: 3}))
		require.Equal(t, []quote.ID{12, 9, 6, 3, 11, 8, 5, 2, 10, 7, 4, 1}, only(quote.Filter{Sort: "updated", All: true}))
		require.Equal(t, []quote.ID{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, only(quote.Filter{Sort: "status", All: true}))
		_, _, err := s.List(t.Context(), quote.Filter{Sort: "id; DROP TABLE inquiry"})
		var invalid *intake.InvalidError
		require.ErrorAs(t, err, &invalid)

		ids, total := list(quote.Filter{All: true, Limit: 5, Offset: 10})
		require.Equal(t, 12, total)
		require.Equal(t, []quote.ID{2, 1}, ids)
		ids, total = list(quote.Filter{All: true, Offset: 50})
		require.Equal(t, 12, total)
		require.Empty(t, ids)

		for search, want := range map[string][]quote.ID{
			"zoë": {8}, "ZOË": {8}, "öse": {8}, "100%": {8}, "100_": nil, "öse_1": {8}, "customer y": {2}, "y customer": {2},
			"stock-77": {5}, "#11": {11}, `\`: nil, "'": nil, "ada@EXAMPLE": {12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1},
		} {
			require.Equal(t, want, only(quote.Filter{All: true, Search: search}), search)
		}
	})
}

func TestTalliesAreThoseOfTheDossiers(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		none, total, err := s.Tallies(t.Context(), 10)
		require.NoError(t, err)
		require.Empty(t, none)
		require.Zero(t, total)

		to := func(statuses ...quote.Status) (events []quote.Event) {
			for _, s := range statuses {
				events = append(events, quote.Event{At: noon, What: "moved", To: s})
			}
			return events
		}
		fit := func(number string) catalog.Fit { return catalog.Fit{Item: catalog.Item{StockNumber: number}} }
		proposal := func(revision, slips int, numbers ...string) *quote.Proposal {
			p := &quote.Proposal{Revision: revision, Made: noon, Best: measure.Best{Disagreements: make([]measure.Disagreement, slips)}}
			for _, n := range numbers {
				p.Fits = append(p.Fits, fit(n))
			}
			return p
		}
		offer := func(number, stock string, after time.Duration) *quote.Quote {
			return &quote.Quote{Number: number, Made: noon.Add(after), Fit: fit(stock), Lines: []quote.Line{{StockNumber: stock, Each: dollars(t, "4.10"), Sum: dollars(t, "4.10")}},
				Net: dollars(t, "4.10"), Tax: dollars(t, "0.00"), Total: dollars(t, "4.10")}
		}
		for i, acts := range [][]quote.Change{
			{{}}, // nothing yet
			{{Inquiry: quote.Inquiry{Unread: true, Status: quote.Won}}},
			{{Events: to(quote.Measuring, quote.NeedsPhoto, quote.Ready)}},
			{{Events: to(quote.NeedsAnswer), Proposal: proposal(1, 2, "H-1", "H-2"), Inquiry: quote.Inquiry{Overrule: []string{"height:swapped", "open_width:unit"}}}},
			// Measured twice, and quoted as ranked first by the second measuring; then another.
			{{Proposal: proposal(1, 3, "H-2")}, {Events: to(quote.Ready), Proposal: proposal(2, 1, "H-1")}, {Quote: offer("5-1", "H-1", time.Hour)}, {Quote: offer("5-2", "H-2", 2*time.Hour)}},
			{{Proposal: proposal(1, 0, "H-1")}, {Quote: offer("6-1", "H-2", time.Hour)}, {Quote: offer("6-2", "H-1", time.Hour)}}, // at one moment
			{{Proposal: proposal(1, 1)}, {Quote: offer("7-1", "H-1", time.Minute)}},                                               // nothing fitted
			{{Quote: offer("8-1", "H-1", time.Minute)}}, // by hand
		} {
			q := newInquiry(t, s, func(c *quote.Change) { c.Inquiry.Created = noon.Add(-time.Duration(i/2) * time.Hour) })
			for _, a := range acts {
				_, err := s.Change(t.Context(), q.ID, func(d quote.Dossier) (quote.Change, error) {
					c := a
					c.Inquiry = d.Inquiry
					c.Inquiry.Unread = a.Inquiry.Unread
					c.Inquiry.Status = cmp.Or(a.Inquiry.Status, d.Inquiry.Status)
					c.Inquiry.Overrule = append(c.Inquiry.Overrule, a.Inquiry.Overrule...)
					return c, nil
				})
				require.NoError(t, err)
			}
		}

		var want []quote.Tally
		for _, id := range []quote.ID{2, 1, 4, 3, 6, 5, 8, 7} { // newest first
			d, err := s.Dossier(t.Context(), id)
			require.NoError(t, err)
			want = append(want, d.Tally())
		}
		require.Equal(t, []bool{false, true}, []bool{want[4].FirstTaken, want[5].FirstTaken}, "the sixth and the fifth")
		all, total, err := s.Tallies(t.Context(), 10)
		require.NoError(t, err)
		require.Equal(t, want, all)
		require.Equal(t, 8, total)
		few, total, err := s.Tallies(t.Context(), 3)
		require.NoError(t, err)
		require.Equal(t, want[:3], few)
		require.Equal(t, 8, total)
	})
}

func TestStock(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, url string) {
		item := func(n int, name string) catalog.Item {
			return catalog.Item{StockNumber: fmt.Sprintf("H%05d", n), Name: name, Height: 88.9, Holes: []catalog.Hole{{FromEdge: 10.3, FromEnd: 12.7}},
				Prices: []catalog.PriceBreak{{From: 1, Price: dollars(t, "4.10")}}}
		}
		other := open(t, url)
		var items []catalog.Item
		for i := range 2500 { // more than one batch of reading
			items = append(items, item(i, "plain"))
		}
		items[7].Name = "tab\t, \\N, \\., a \"quote\", a\nline and 3½ ×" // what COPY and JSON have to escape
		added, changed, err := s.PutStock(t.Context(), items)
		require.NoError(t, err)
		require.Equal(t, []int{2500, 0}, []int{added, changed})
		got, err := other.Stock(t.Context())
		require.NoError(t, err)
		require.Equal(t, items, got)

		added, changed, err = s.PutStock(t.Context(), []catalog.Item{item(3, "plain"), item(4, "polished"), item(9000, "new"), item(9000, "newest")})
		require.NoError(t, err)
		require.Equal(t, []int{1, 1}, []int{added, changed}, "one is as it was")
		got, err = other.Stock(t.Context())
		require.NoError(t, err)
		require.Len(t, got, 2501, "another process sees the change")
		require.Equal(t, "polished", got[4].Name)
		one, err := s.StockItem(t.Context(), "H09000")
		require.NoError(t, err)
		require.Equal(t, "newest", one.Name)

		// An import that breaks off leaves everything as it was.
		broken, cancel := context.WithCancel(t.Context())
		cancel()
		_, _, err = s.PutStock(broken, []catalog.Item{item(5, "broken off")})
		require.Error(t, err)
		one, err = s.StockItem(t.Context(), "H00005")
		require.NoError(t, err)
		require.Equal(t, "plain", one.Name)
	})
}

func TestUsersAndSettings(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		ctx := t.Context()
		require.NoError(t, s.PutUser(ctx, quote.User{Name: "kim", Hash: "one", Owner: true}))
		require.NoError(t, s.PutUser(ctx, quote.User{Name: "kim", Hash: "two"}))
		u, err := s.User(ctx, "kim")
		require.NoError(t, err)
		require.Equal(t, quote.User{Name: "kim", Hash: "two"}, u)

		require.NoError(t, s.PutSetting(ctx, "a", "1"))
		require.NoError(t, s.PutSetting(ctx, "a", "2"))
		kept, err := s.KeepSetting(ctx, "a", "3")
		require.NoError(t, err)
		require.Equal(t, "2", kept)
		kept, err = s.KeepSetting(ctx, "b", "3")
		require.NoError(t, err)
		require.Equal(t, "3", kept)
	})
}
