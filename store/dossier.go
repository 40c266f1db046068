package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"leafgauge/quote"
)

// Dossier implements quote.Repository.
func (s *Store) Dossier(ctx context.Context, id quote.ID) (d quote.Dossier, err error) {
	err = s.inSnapshot(ctx, func(tx *sql.Tx) error {
		q, err := oneInquiry(ctx, tx, " WHERE id = $1", id)
		if err == nil {
			d, err = dossier(ctx, tx, q)
		}
		return asDomain(err, "dossier %d", id)
	})
	return d, err
}

// dossier reads all that belongs to q.
func dossier(ctx context.Context, db querier, q quote.Inquiry) (d quote.Dossier, err error) {
	d = quote.Dossier{Inquiry: q}
	d.Findings, err = collect(ctx, db, func(r row) (f quote.Finding, err error) {
		var result string
		if err := r.Scan(&f.Inquiry, &f.Revision, &f.PhotoN, &result); err != nil {
			return f, err
		}
		return f, json.Unmarshal([]byte(result), &f.Result)
	}, `SELECT inquiry, revision, photo, result FROM finding
		WHERE inquiry = $1 AND revision = (SELECT MAX(revision) FROM finding WHERE inquiry = $1) ORDER BY photo`, q.ID)
	if err != nil {
		return d, err
	}
	var text string
	err = db.QueryRowContext(ctx, "SELECT proposal FROM proposal WHERE inquiry = $1 ORDER BY revision DESC LIMIT 1", q.ID).Scan(&text)
	if err == nil {
		d.Proposal = new(quote.Proposal)
		err = json.Unmarshal([]byte(text), d.Proposal)
	} else if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	if err != nil {
		return d, err
	}
	d.Quotes, err = collect(ctx, db, scanQuote, "SELECT quote FROM quote WHERE inquiry = $1 ORDER BY made_us DESC, number DESC", q.ID)
	if err != nil {
		return d, err
	}
	d.Events, err = collect(ctx, db, func(r row) (e quote.Event, err error) {
		var at sql.NullInt64
		err = r.Scan(&at, &e.By, &e.Who, &e.What, &e.Text, &e.From, &e.To)
		e.At = moment(at)
		return e, err
	}, "SELECT at_us, by_role, who, what, text, from_status, to_status FROM event WHERE inquiry = $1 ORDER BY n", q.ID)
	if err != nil {
		return d, err
	}
	d.Letters, err = collect(ctx, db, scanLetter, selectLetter+" WHERE inquiry = $1 ORDER BY id", q.ID)
	return d, err
}

func scanQuote(r row) (q quote.Quote, err error) {
	var text string
	if err := r.Scan(&text); err != nil {
		return q, err
	}
	return q, json.Unmarshal([]byte(text), &q)
}

// QuoteByNumber implements quote.Repository.
func (s *Store) QuoteByNumber(ctx context.Context, number string) (quote.Quote, error) {
	q, err := scanQuote(s.db.QueryRowContext(ctx, "SELECT quote FROM quote WHERE number = $1", clean(number)))
	return q, asDomain(err, "quote %s", number)
}
