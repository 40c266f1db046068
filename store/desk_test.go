package store_test

import (
	"errors"
	"sync"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/quote"
	"leafgauge/store"

	"github.com/stretchr/testify/require"
)

// newDesk is a desk over real stores, as the program wires it.
func newDesk(t *testing.T, s *store.Store) *quote.Desk {
	photos, err := store.OpenPhotos(t.Context(), t.TempDir())
	require.NoError(t, err)
	return quote.NewDesk(s, photos, quote.Terms{Shop: "The Corner Shop", Currency: "USD", TaxRate: "0", BaseURL: "https://hinges.example"}, time.Now)
}

func submission(once string) quote.Submission {
	data := []byte("a picture")
	return quote.Submission{Source: quote.FromAPI, Contact: quote.Contact{Name: "Ada", Email: "ada@example.com"}, Once: once,
		Text: "3 1/2 x 3 1/2, 0.085 thick", Photos: []intake.Photo{{SHA256: nameOf(data), Format: "jpeg", Bytes: data, Width: 4000, Height: 3000, Orientation: 1}}}
}

// TestTheDeskOnARealDatabase walks one inquiry from the post to the quote taken.
func TestTheDeskOnARealDatabase(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		ctx := t.Context()
		d := newDesk(t, s)
		item := catalog.Item{StockNumber: "H-1", Name: "Hinge", Height: 88.9, OpenWidth: 88.9, Thickness: 2.16, Tolerance: 0.4, Barrel: 10,
			Holes:   []catalog.Hole{{FromEdge: 10.3, FromEnd: 12.7}, {FromEdge: 10.3, FromEnd: 44.45}, {FromEdge: 10.3, FromEnd: 76.2}},
			HoleDia: 5, Sink: 9, Mortise: "full mortise", Prices: []catalog.PriceBreak{{From: 1, Price: dollars(t, "4.10")}}, OnHand: 100}
		_, _, err := s.PutStock(ctx, []catalog.Item{item})
		require.NoError(t, err)

		r, err := d.Receive(ctx, submission("once"))
		require.NoError(t, err)
		again, err := d.Receive(ctx, submission("once"))
		require.NoError(t, err)
		require.True(t, again.Again)
		require.Equal(t, r.Key, again.Key)
		id := r.Inquiry.ID

		q, err := d.Start(ctx, id, 1)
		require.NoError(t, err)
		bytes, err := d.PhotoBytes(ctx, q.Photos[0].SHA256)
		require.NoError(t, err)
		require.Equal(t, "a picture", string(bytes))
		e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.05} }
		leaf := measure.Leaf{Width: e(44.45), CornerRadius: e(0), Corners: measure.CornersSquare}
		for _, h := range item.Holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: e(h.FromEdge), FromEnd: e(h.FromEnd), Diameter: e(item.HoleDia), Countersink: e(item.Sink)})
		}
		hinge := measure.Hinge{Height: e(88.9), OpenWidth: e(88.9), BarrelDiameter: e(10), Leaves: []measure.Leaf{leaf, leaf}}
		require.NoError(t, d.Finish(ctx, id, 1, q.Readings(), []quote.Finding{{PhotoN: 1, Result: measure.Result{Status: measure.Measured, Hinge: &hinge}}}))
		require.ErrorIs(t, d.Finish(ctx, id, 1, q.Readings(), nil), quote.ErrStale)

		do, err := d.ByKey(ctx, r.Key)
		require.NoError(t, err)
		require.NotNil(t, do.Proposal)
		require.Equal(t, quote.Ready, do.Inquiry.Status)
		made, err := d.Approve(ctx, id, do.Inquiry.Version, "kim", quote.Approval{StockNumber: "H-1", Count: 2})
		require.NoError(t, err)
		kept, err := d.QuoteByNumber(ctx, made.Number)
		require.NoError(t, err)
		require.True(t, made.Total.Equal(kept.Total))
		revised, err := d.Revise(ctx, id, do.Inquiry.Version+1, "kim", quote.Approval{StockNumber: "h-1", Count: 3,
			Discount: &quote.Discount{Percent: "10", Reason: "second visit"}, Delivery: &quote.Delivery{Amount: dollars(t, "6.00"), Text: "by post"}})
		require.NoError(t, err)
		until := time.Now().AddDate(0, 2, 0)
		require.NoError(t, d.Extend(ctx, id, do.Inquiry.Version+2, "kim", until, ""))
		do, err = d.ByKey(ctx, r.Key)
		require.NoError(t, err)
		require.Equal(t, []string{revised.Number, made.Number}, []string{do.Quotes[0].Number, do.Quotes[1].Number})
		require.Equal(t, revised.Number, do.Quotes[1].ReplacedBy)
		require.Equal(t, quote.Day(until), quote.Day(do.Quotes[0].Valid))
		require.Equal(t, "1.23", do.Quotes[0].Discount.Amount.Number()) // 10 % of 3 × 4.10
		list, _, err := d.List(ctx, quote.Filter{})
		require.NoError(t, err)
		require.Equal(t, "17.07 USD", list[0].Total) // 12.30 − 1.23 + 6.00, without tax
		require.ErrorIs(t, d.Decide(ctx, id, quote.ByCustomer, "", quote.Decision{Quote: made.Number, Won: true}), quote.ErrReplaced)
		require.NoError(t, d.Decide(ctx, id, quote.ByCustomer, "", quote.Decision{Quote: revised.Number, Won: true}))
		made = revised

		letters, err := d.Letters(ctx, 10)
		require.NoError(t, err)
		require.Contains(t, letters[0].Body, r.Link)
		require.Equal(t, made.Number, letters[len(letters)-1].Quote)
		found, err := d.ByMessage(ctx, []string{letters[len(letters)-1].MessageID})
		require.NoError(t, err)
		require.Equal(t, id, found.ID)
		waiting, err := d.Intentions(ctx, time.Now().Add(time.Hour), 10)
		require.NoError(t, err)
		require.Empty(t, waiting)
	})
}

func TestOneOfManyFinishes(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, _ string) {
		ctx := t.Context()
		d := newDesk(t, s)
		r, err := d.Receive(ctx, submission(""))
		require.NoError(t, err)
		_, err = d.Start(ctx, r.Inquiry.ID, 1)
		require.NoError(t, err)
		var wait sync.WaitGroup
		results := make([]error, 6)
		for i := range results {
			wait.Go(func() {
				results[i] = d.Finish(ctx, r.Inquiry.ID, 1, r.Inquiry.Readings(), []quote.Finding{{PhotoN: 1, Result: measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.Blurred}}}})
			})
		}
		wait.Wait()
		done := 0
		for _, err := range results {
			if err == nil {
				done++
			} else {
				require.True(t, errors.Is(err, quote.ErrStale), "%v", err)
			}
		}
		require.Equal(t, 1, done)
		do, err := d.Dossier(ctx, r.Inquiry.ID)
		require.NoError(t, err)
		require.Len(t, do.Findings, 1)
	})
}

func TestTheServersSecretIsMadeOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store, url string) {
		other := open(t, url)
		var wait sync.WaitGroup
		for i := range 6 {
			d := newDesk(t, []*store.Store{s, other}[i%2])
			wait.Go(func() {
				r, err := d.Receive(t.Context(), submission("once"))
				if err != nil {
					t.Error(err)
				}
				if r.Inquiry.ID != 1 {
					t.Error("another inquiry", r.Inquiry.ID)
				}
			})
		}
		wait.Wait()
	})
}
