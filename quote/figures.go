package quote

import (
	"context"
	"slices"
	"time"

	"github.com/bojanz/currency"
)

// Figures are the owner's counts, over the newest inquiries.
type Figures struct {
	Counted    int            `json:"counted"` // how many of the newest inquiries were counted
	Total      int            `json:"total"`   // how many there are
	ByStatus   map[Status]int `json:"by_status"`
	Open       int            `json:"open"`
	OldestDays float64        `json:"oldest_open_days"`
	Waiting    map[Role]int   `json:"waiting_for"` // open ones, by whose move it is

	Won  int `json:"won"`
	Lost int `json:"lost"`
	// Totals of the newest quotes, one sum a currency: of those that are out, and of those taken.
	QuotedSums []currency.Amount `json:"quoted_sums"`
	WonSums    []currency.Amount `json:"won_sums"`

	Measured   int     `json:"measured"`       // inquiries whose first photos were enough
	AskedPhoto int     `json:"asked_photo"`    // inquiries that needed another photo
	Asked      int     `json:"asked_question"` // inquiries that needed an answer
	Slips      int     `json:"slips_suggested"`
	Overruled  int     `json:"slips_overruled"`
	FirstTaken int     `json:"first_fit_quoted"` // quotes for the fit that was ranked first
	Quoted     int     `json:"quoted"`           // inquiries with a quote
	HoursQuote float64 `json:"median_hours_to_quote"`
}

// figuresOf is how many of the newest inquiries the figures look at.
const figuresOf = 200

// A Tally is what the figures count of one inquiry.
type Tally struct {
	Status     Status
	Turn       Role // whose move it is
	Created    time.Time
	AskedPhoto bool            // it has been at NeedsPhoto
	Asked      bool            // it has been at NeedsAnswer
	Proposed   bool            // it was measured, to Ready or NeedsAnswer
	Slips      int             // in its newest proposal
	Overruled  int             // slips that the counter overruled
	Quoted     time.Time       // when it was quoted first; zero: never
	FirstTaken bool            // that quote is for the first fit of the newest proposal
	Total      currency.Amount // of the newest quote; the zero Amount: there is none
}

// Tally makes the tally of one inquiry.
func (d Dossier) Tally() Tally {
	t := Tally{Status: d.Inquiry.Status, Turn: d.Inquiry.Turn(), Created: d.Inquiry.Created, Overruled: len(d.Inquiry.Overrule)}
	for _, e := range d.Events {
		t.AskedPhoto = t.AskedPhoto || e.To == NeedsPhoto
		t.Asked = t.Asked || e.To == NeedsAnswer
		t.Proposed = t.Proposed || e.To == Ready || e.To == NeedsAnswer
	}
	if d.Proposal != nil {
		t.Slips = len(d.Proposal.Best.Disagreements)
	}
	if len(d.Quotes) > 0 {
		first := d.Quotes[len(d.Quotes)-1]
		t.Quoted, t.Total = first.Made, d.Quotes[0].Total
		t.FirstTaken = d.Proposal != nil && len(d.Proposal.Fits) > 0 && d.Proposal.Fits[0].Item.StockNumber == first.Fit.Item.StockNumber
	}
	return t
}

// NewFigures counts tallies, those of the newest of total inquiries, as of now.
func NewFigures(tallies []Tally, total int, now time.Time) Figures {
	f := Figures{Counted: len(tallies), Total: total, ByStatus: map[Status]int{}, Waiting: map[Role]int{},
		QuotedSums: []currency.Amount{}, WonSums: []currency.Amount{}}
	var hours []float64
	for _, t := range tallies {
		f.ByStatus[t.Status]++
		if t.Status.Open() {
			f.Open++
			f.Waiting[t.Turn]++
			f.OldestDays = max(f.OldestDays, now.Sub(t.Created).Hours()/24)
		}
		switch t.Status {
		case Quoted:
			f.QuotedSums = addTo(f.QuotedSums, t.Total)
		case Won:
			f.WonSums = addTo(f.WonSums, t.Total)
		}
		switch {
		case t.AskedPhoto:
			f.AskedPhoto++
		case t.Proposed:
			f.Measured++
		}
		if t.Asked {
			f.Asked++
		}
		f.Slips += t.Slips
		f.Overruled += t.Overruled
		if !t.Quoted.IsZero() {
			f.Quoted++
			hours = append(hours, t.Quoted.Sub(t.Created).Hours())
		}
		if t.FirstTaken {
			f.FirstTaken++
		}
	}
	f.Won, f.Lost = f.ByStatus[Won], f.ByStatus[Lost]
	if len(hours) > 0 {
		slices.Sort(hours)
		f.HoursQuote = hours[len(hours)/2]
	}
	return f
}

// addTo adds a to the sum of its currency.
func addTo(sums []currency.Amount, a currency.Amount) []currency.Amount {
	if a.CurrencyCode() == "" {
		return sums
	}
	for i := range sums {
		if sum, err := sums[i].Add(a); err == nil { // else it is another currency's
			sums[i] = sum
			return sums
		}
	}
	return append(sums, a)
}

// Figures counts the newest inquiries for the owner.
func (d *Desk) Figures(ctx context.Context) (Figures, error) {
	tallies, total, err := d.repo.Tallies(ctx, figuresOf)
	if err != nil {
		return Figures{}, err
	}
	return NewFigures(tallies, total, d.now()), nil
}
