package quote_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/quote"

	"github.com/bojanz/currency"
	"github.com/stretchr/testify/require"
)

func dollars(t *testing.T, n string) *currency.Amount {
	a, err := currency.NewAmount(n, "USD")
	require.NoError(t, err)
	return &a
}

// quoted brings an inquiry to its first quote: 4 × H1001 at 5.48 and 8.25 % tax, 23.73.
func (b *bench) quoted(t *testing.T) quote.ID {
	t.Helper()
	id := b.receive(t, nil).Inquiry.ID
	_, err := b.Approve(t.Context(), id, b.settled(t, id).Version, "kim", quote.Approval{StockNumber: "H1001", Count: 3})
	require.NoError(t, err)
	return id
}

func (b *bench) lastLetter(t *testing.T, id quote.ID) quote.Letter {
	t.Helper()
	letters := b.dossier(t, id).Letters
	return letters[len(letters)-1]
}

func TestSeveralLinesInOneQuote(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	q := b.settled(t, id)
	fits := b.dossier(t, id).Proposal.Fits
	second := fits[1].Item
	if second.StockNumber == "H1001" {
		second = fits[0].Item
	}
	made, err := b.Approve(t.Context(), id, q.Version, "kim", quote.Approval{StockNumber: "h1001", Count: 3, More: []quote.Wanted{
		{StockNumber: strings.ToLower(second.StockNumber), Count: 1}, {Text: "#9 x 3/4 screws", Count: 24, Each: dollars(t, "0.09")}, {Text: "Fitting", Each: dollars(t, "35")}}})
	require.NoError(t, err)
	require.Len(t, made.Lines, 4)
	require.Equal(t, "H1001", made.Fit.Item.StockNumber, "the verdict is that of the first")
	require.Equal(t, second.StockNumber, made.Lines[1].StockNumber)
	require.Equal(t, quote.RoundToPacks(1, second.SoldIn), made.Lines[1].Count)
	require.Equal(t, 1, made.Lines[3].Count)
	notes := strings.Join(made.Notes, "\n")
	require.Contains(t, notes, "H1001: Sold in multiples of 2: 3 asked for, 4 supplied, 1 left over.")
	require.Contains(t, notes, second.StockNumber+" in place of the old hinge: ")
	body := b.lastLetter(t, id).Body
	for _, want := range []string{"4 × H1001, ", "24 × #9 x 3/4 screws: $0.09 each, $2.16", "1 × Fitting: $35.00 each, $35.00", second.StockNumber + " in place of the old hinge: "} {
		require.Contains(t, body, want)
	}
	require.Contains(t, b.dossier(t, id).Events[len(b.dossier(t, id).Events)-2].Text, "4 × H1001 and 3 more lines")

	_, err = b.Price(t.Context(), id, quote.Approval{StockNumber: "H1001", Count: 2, More: []quote.Wanted{{StockNumber: "H1002", Text: "too"}}})
	invalid(t, err, "field")
	_, err = b.Price(t.Context(), id, quote.Approval{StockNumber: "H1001", Count: 2, More: []quote.Wanted{{StockNumber: "H9999999"}}})
	invalid(t, err, "unknown_stock_number")
}

func TestStockNumbersInSmallLetters(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	one := b.memory.stock["H1001"]
	one.StockNumber = "ABC-12"
	two := one
	two.StockNumber = "Abc-12"
	b.memory.stock = map[string]catalog.Item{"ABC-12": one}
	q, err := b.Price(t.Context(), id, quote.Approval{StockNumber: " abc-12 ", Count: 2})
	require.NoError(t, err)
	require.Equal(t, "ABC-12", q.Lines[0].StockNumber)
	b.memory.stock["Abc-12"] = two
	_, err = b.Price(t.Context(), id, quote.Approval{StockNumber: "abc-12", Count: 2})
	invalid(t, err, "unknown_stock_number")
	require.ErrorContains(t, err, "may be ABC-12 or Abc-12")
	q, err = b.Price(t.Context(), id, quote.Approval{StockNumber: "Abc-12", Count: 2})
	require.NoError(t, err)
	require.Equal(t, "Abc-12", q.Lines[0].StockNumber)
}

func TestAnUnusualPriceIsAskedAboutFirst(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	q := b.settled(t, id)
	a := quote.Approval{StockNumber: "H1001", Count: 4, Each: dollars(t, "0.55")}
	before := b.dossier(t, id)
	_, err := b.Approve(t.Context(), id, q.Version, "kim", a)
	invalid(t, err, "unusual_price")
	require.ErrorContains(t, err, "H1001 at $0.55 is more than 30 % below its list price, $5.48.")
	require.Equal(t, before, b.dossier(t, id), "nothing was written")
	a.Confirmed = true
	made, err := b.Approve(t.Context(), id, q.Version, "kim", a)
	require.NoError(t, err)
	require.Equal(t, "2.20", made.Net.Number())
}

func TestAQuoteIsRevised(t *testing.T) {
	b := newBench(t)
	id := b.quoted(t)
	version := func() int { return b.dossier(t, id).Inquiry.Version }
	a := quote.Approval{StockNumber: "H1001", Count: 4, Discount: &quote.Discount{Percent: "10", Reason: "second visit"}, Delivery: &quote.Delivery{Amount: *dollars(t, "6"), Text: "by post"}}
	_, err := b.Revise(t.Context(), id, version()-1, "kim", a)
	require.ErrorIs(t, err, quote.ErrStale)
	made, err := b.Revise(t.Context(), id, version(), "kim", a)
	require.NoError(t, err)
	require.Equal(t, []string{"1-2", "1-1"}, []string{made.Number, made.Replaces})

	d := b.dossier(t, id)
	require.Equal(t, quote.Quoted, d.Inquiry.Status)
	require.Equal(t, []string{"1-2", "1-1"}, []string{d.Quotes[0].Number, d.Quotes[1].Number})
	require.Equal(t, "1-2", d.Quotes[1].ReplacedBy)
	require.Empty(t, d.Quotes[0].ReplacedBy)
	last := d.Events[len(d.Events)-1]
	require.Equal(t, "revised", last.What)
	require.Contains(t, last.Text, "1-2 replaces 1-1")
	// By hand: 21.92 less 2.192, 2.19, and 6.00 make 25.73; 8.25 % of it is 2.122725, 2.12; to pay 27.85.
	l := b.lastLetter(t, id)
	require.Equal(t, "1-2", l.Quote)
	for _, want := range []string{"It replaces our quote 1-1, which no longer holds:", "- Discount: $2.19, before it was nothing", "- Delivery: $6.00, before it was nothing",
		"- Tax: $2.12, before it was $1.81", "- To pay: $27.85, before it was $23.73", "Discount 10 % (second visit): -$2.19", "Delivery (by post): $6.00", "To pay: $27.85"} {
		require.Contains(t, l.Body, want)
	}
	require.NotContains(t, l.Body, "- Sum of the lines")

	t.Run("the older one cannot be taken any more", func(t *testing.T) {
		before := b.dossier(t, id)
		for _, won := range []bool{true, false} {
			require.ErrorIs(t, b.Decide(t.Context(), id, quote.ByCustomer, "", quote.Decision{Quote: "1-1", Won: won}), quote.ErrReplaced)
		}
		require.Equal(t, before, b.dossier(t, id))
		require.NoError(t, b.Decide(t.Context(), id, quote.ByCustomer, "", quote.Decision{Quote: "1-2", Won: true}))
		require.Equal(t, quote.Won, b.dossier(t, id).Inquiry.Status)
		_, err := b.Revise(t.Context(), id, version(), "kim", a)
		require.ErrorIs(t, err, quote.ErrMove, "what is taken is taken")
	})
	t.Run("a quote after another measuring replaces the one before too", func(t *testing.T) {
		b := newBench(t)
		id := b.quoted(t)
		_, err := b.Add(t.Context(), id, quote.ByCounter, "kim", nil, "leaf 0.080 in thick", "")
		require.NoError(t, err)
		b.put(id, quote.Ready)
		made, err := b.Approve(t.Context(), id, b.dossier(t, id).Inquiry.Version, "kim", quote.Approval{StockNumber: "H1001", Count: 4})
		require.NoError(t, err)
		require.Equal(t, "1-1", made.Replaces)
		require.Contains(t, b.lastLetter(t, id).Body, "The sums are as they were")
	})
}

func TestAQuoteIsSentAgain(t *testing.T) {
	b := newBench(t)
	id := b.quoted(t)
	first := b.lastLetter(t, id)
	require.NoError(t, b.Resend(t.Context(), id, b.dossier(t, id).Inquiry.Version, "kim"))
	again := b.lastLetter(t, id)
	require.Equal(t, []string{first.Subject, first.Body, first.Quote}, []string{again.Subject, again.Body, again.Quote})
	require.NotEqual(t, first.MessageID, again.MessageID)
	d := b.dossier(t, id)
	require.Len(t, d.Quotes, 1)
	require.Equal(t, "sent the quote again", d.Events[len(d.Events)-1].What)

	address := b.memory.dossiers[id]
	address.Inquiry.Contact.Email = ""
	b.memory.dossiers[id] = address
	require.ErrorContains(t, b.Resend(t.Context(), id, d.Inquiry.Version, "kim"), "no e-mail address")
}

func TestAQuoteHoldsUntilItsDayIsOver(t *testing.T) {
	b := newBench(t)
	id := b.quoted(t) // on 2 March, for 14 days
	take := quote.Decision{Quote: "1-1", Won: true}
	b.clock = time.Date(2026, 3, 19, 9, 0, 0, 0, time.UTC)
	before := b.dossier(t, id)
	for _, by := range []quote.Role{quote.ByCustomer, quote.ByCounter} {
		require.ErrorIs(t, b.Decide(t.Context(), id, by, "", take), quote.ErrExpired)
	}
	require.ErrorContains(t, b.Resend(t.Context(), id, before.Inquiry.Version, "kim"), "let it hold for longer first")
	require.Equal(t, before, b.dossier(t, id))

	extend := func(day time.Time) error {
		return b.Extend(t.Context(), id, b.dossier(t, id).Inquiry.Version, "kim", day, "We kept them for you.")
	}
	require.ErrorContains(t, extend(time.Date(2026, 3, 16, 20, 0, 0, 0, time.UTC)), "good until 16 March 2026 already")
	require.ErrorContains(t, extend(time.Date(2026, 3, 17, 0, 0, 0, 0, time.UTC)), "choose a day to come")
	require.ErrorContains(t, extend(time.Date(2036, 3, 17, 0, 0, 0, 0, time.UTC)), "more than a year")
	require.NoError(t, extend(time.Date(2026, 4, 30, 0, 0, 0, 0, time.UTC)))
	d := b.dossier(t, id)
	require.Len(t, d.Quotes, 1)
	require.Equal(t, "30 April 2026", quote.Day(d.Quotes[0].Valid))
	require.Equal(t, "1-1, good until 30 April 2026", d.Events[len(d.Events)-1].Text)
	l := b.lastLetter(t, id)
	require.Equal(t, "1-1", l.Quote)
	for _, want := range []string{"now good until 30 April 2026", "To pay: $23.73", "We kept them for you."} {
		require.Contains(t, l.Body, want)
	}
	require.NoError(t, b.Resend(t.Context(), id, d.Inquiry.Version, "kim"))
	require.Contains(t, b.lastLetter(t, id).Body, "Good until 30 April 2026", "as it stands now")
	require.NoError(t, b.Decide(t.Context(), id, quote.ByCustomer, "", take))

	t.Run("for as long as a new one, where no day is said", func(t *testing.T) {
		b := newBench(t)
		id := b.quoted(t)
		b.clock = b.clock.Add(5 * 24 * time.Hour)
		require.NoError(t, b.Extend(t.Context(), id, b.dossier(t, id).Inquiry.Version, "kim", time.Time{}, ""))
		require.Equal(t, "21 March 2026", quote.Day(b.dossier(t, id).Quotes[0].Valid))
	})
	t.Run("on that day it can be taken wherever it is still that day", func(t *testing.T) {
		q := quote.Quote{Valid: time.Date(2026, 3, 16, 1, 0, 0, 0, time.UTC)}
		require.False(t, q.Expired(time.Date(2026, 3, 17, 11, 59, 0, 0, time.UTC))) // 23:59 on the 16th at UTC−12
		require.True(t, q.Expired(time.Date(2026, 3, 17, 12, 1, 0, 0, time.UTC)))
	})
	t.Run("one past its day can be turned down", func(t *testing.T) {
		b := newBench(t)
		id := b.quoted(t)
		b.clock = b.clock.AddDate(1, 0, 0)
		require.NoError(t, b.Decide(t.Context(), id, quote.ByCustomer, "", quote.Decision{Quote: "1-1"}))
	})
}

// Acts on a quote that is out are refused where none is.
func TestOnlyAQuoteThatIsOutIsWorkedOn(t *testing.T) {
	for _, s := range slices.DeleteFunc(slices.Clone(quote.Statuses), func(s quote.Status) bool { return s == quote.Quoted }) {
		b := newBench(t)
		id := b.quoted(t)
		b.put(id, s)
		before := b.dossier(t, id)
		v := before.Inquiry.Version
		require.ErrorIs(t, second(b.Revise(t.Context(), id, v, "kim", quote.Approval{StockNumber: "H1001", Count: 2})), quote.ErrMove, s)
		require.ErrorIs(t, b.Resend(t.Context(), id, v, "kim"), quote.ErrMove, s)
		require.ErrorIs(t, b.Extend(t.Context(), id, v, "kim", b.clock.AddDate(0, 2, 0), ""), quote.ErrMove, s)
		require.Equal(t, before, b.dossier(t, id))
	}
}
