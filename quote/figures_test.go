package quote_test

import (
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/bojanz/currency"
	"github.com/stretchr/testify/require"
)

func TestTally(t *testing.T) {
	noon := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	to := func(statuses ...quote.Status) (events []quote.Event) {
		for _, s := range statuses {
			events = append(events, quote.Event{To: s})
		}
		return events
	}
	fit := func(number string) catalog.Fit { return catalog.Fit{Item: catalog.Item{StockNumber: number}} }
	proposal := &quote.Proposal{Fits: []catalog.Fit{fit("H-1"), fit("H-2")}, Best: measure.Best{Disagreements: make([]measure.Disagreement, 2)}}
	first := quote.Quote{Made: noon, Fit: fit("H-1")}
	second := quote.Quote{Made: noon.Add(time.Hour), Fit: fit("H-2")}
	for name, c := range map[string]struct {
		of   quote.Dossier
		want quote.Tally
	}{
		"nothing yet": {quote.Dossier{Inquiry: quote.Inquiry{Status: quote.Received, Created: noon}},
			quote.Tally{Status: quote.Received, Turn: quote.ByProgram, Created: noon}},
		"the customer wrote unasked": {quote.Dossier{Inquiry: quote.Inquiry{Status: quote.Quoted, Unread: true}},
			quote.Tally{Status: quote.Quoted, Turn: quote.ByCounter}},
		"measured at once": {quote.Dossier{Events: to(quote.Received, quote.Measuring, quote.Ready)},
			quote.Tally{Proposed: true}},
		"after another photo": {quote.Dossier{Events: to(quote.Measuring, quote.NeedsPhoto, quote.Measuring, quote.Ready)},
			quote.Tally{AskedPhoto: true, Proposed: true}},
		"after an answer": {quote.Dossier{Events: to(quote.Measuring, quote.NeedsAnswer, quote.Measuring)},
			quote.Tally{Asked: true, Proposed: true}},
		"slips": {quote.Dossier{Inquiry: quote.Inquiry{Overrule: []string{"height:swapped"}}, Proposal: proposal},
			quote.Tally{Slips: 2, Overruled: 1}},
		"quoted as ranked first":       {quote.Dossier{Proposal: proposal, Quotes: []quote.Quote{second, first}}, quote.Tally{Slips: 2, Quoted: noon, FirstTaken: true}},
		"quoted as ranked second":      {quote.Dossier{Proposal: proposal, Quotes: []quote.Quote{second}}, quote.Tally{Slips: 2, Quoted: noon.Add(time.Hour)}},
		"quoted by hand":               {quote.Dossier{Quotes: []quote.Quote{first}}, quote.Tally{Quoted: noon}},
		"quoted where nothing did fit": {quote.Dossier{Proposal: &quote.Proposal{}, Quotes: []quote.Quote{first}}, quote.Tally{Quoted: noon}},
	} {
		t.Run(name, func(t *testing.T) { require.Equal(t, c.want, c.of.Tally()) })
	}
}

func TestFigures(t *testing.T) {
	money := func(n, code string) currency.Amount {
		a, err := currency.NewAmount(n, code)
		require.NoError(t, err)
		return a
	}
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	ago := func(hours int) time.Time { return now.Add(-time.Duration(hours) * time.Hour) }
	f := quote.NewFigures([]quote.Tally{
		{Status: quote.Ready, Turn: quote.ByCounter, Created: ago(12), Proposed: true, Slips: 2, Overruled: 1},
		{Status: quote.NeedsPhoto, Turn: quote.ByCustomer, Created: ago(36), AskedPhoto: true},
		{Status: quote.Quoted, Turn: quote.ByCounter, Created: ago(24), AskedPhoto: true, Asked: true, Proposed: true, Quoted: ago(21), Total: money("10.10", "USD")},
		{Status: quote.Won, Created: ago(48), Proposed: true, Asked: true, Slips: 1, Quoted: ago(47), FirstTaken: true, Total: money("0.95", "USD")},
		{Status: quote.Lost, Turn: quote.ByCounter, Created: ago(100), Proposed: true, Quoted: ago(95), Total: money("7.00", "USD")},
	}, 300, now)
	require.Equal(t, quote.Figures{Counted: 5, Total: 300, Open: 3, OldestDays: 1.5, // the oldest is closed
		ByStatus: map[quote.Status]int{quote.Ready: 1, quote.NeedsPhoto: 1, quote.Quoted: 1, quote.Won: 1, quote.Lost: 1},
		Waiting:  map[quote.Role]int{quote.ByCounter: 2, quote.ByCustomer: 1},
		Won:      1, Lost: 1, Measured: 3, AskedPhoto: 2, Asked: 2, Slips: 3, Overruled: 1, FirstTaken: 1, Quoted: 3,
		HoursQuote: 3, // of 1, 3 and 5
		QuotedSums: []currency.Amount{money("10.10", "USD")}, WonSums: []currency.Amount{money("0.95", "USD")},
	}, f)
	require.Equal(t, quote.Figures{Counted: 0, ByStatus: map[quote.Status]int{}, Waiting: map[quote.Role]int{},
		QuotedSums: []currency.Amount{}, WonSums: []currency.Amount{}}, quote.NewFigures(nil, 0, now))

	won := func(n, code string) quote.Tally { return quote.Tally{Status: quote.Won, Total: money(n, code)} }
	f = quote.NewFigures([]quote.Tally{won("10.10", "USD"), won("0.95", "USD"), won("4.00", "EUR"), {Status: quote.Won}}, 4, now)
	require.Len(t, f.WonSums, 2, "another currency is no addend")
	require.Equal(t, []string{"11.05 USD", "4.00 EUR"}, []string{f.WonSums[0].String(), f.WonSums[1].String()})
}

func TestTheDeskCountsItsInquiries(t *testing.T) {
	b := newBench(t)
	b.receive(t, nil)
	b.measured(t, b.receive(t, nil).Inquiry.ID)
	f, err := b.Figures(t.Context())
	require.NoError(t, err)
	require.Equal(t, 2, f.Counted)
	require.Equal(t, 1, f.ByStatus[quote.Received])
	require.Equal(t, 1, f.AskedPhoto)
}
