package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"strings"

	"leafgauge/quote"

	"github.com/bojanz/currency"
)

// selectTally reads the newest inquiries. Slips are counted here in Go: the two databases have no
// common word for looking into JSON.
const selectTally = `SELECT status, unread, created_us, overrules,
	EXISTS (SELECT 1 FROM event WHERE event.inquiry = newest.id AND to_status = 'needs_photo'),
	EXISTS (SELECT 1 FROM event WHERE event.inquiry = newest.id AND to_status = 'needs_answer'),
	EXISTS (SELECT 1 FROM event WHERE event.inquiry = newest.id AND to_status IN ('ready', 'needs_answer')),
	(SELECT proposal FROM proposal WHERE proposal.inquiry = newest.id ORDER BY revision DESC LIMIT 1),
	(SELECT made_us FROM quote WHERE quote.inquiry = newest.id ORDER BY made_us, number LIMIT 1),
	COALESCE(top <> '' AND top = (SELECT stock_number FROM quote WHERE quote.inquiry = newest.id ORDER BY made_us, number LIMIT 1), FALSE),
	total, (SELECT COUNT(*) FROM inquiry)
	FROM (SELECT id, status, unread, created_us, overrules, top, total FROM inquiry ORDER BY created_us DESC, id DESC LIMIT $1) AS newest
	ORDER BY created_us DESC, id DESC`

// Tallies implements quote.Repository.
func (s *Store) Tallies(ctx context.Context, newest int) (tallies []quote.Tally, total int, err error) {
	tallies, err = collect(ctx, s.db, func(r row) (t quote.Tally, err error) {
		var q quote.Inquiry
		var created, quoted sql.NullInt64
		var overrules, sum string
		var proposal sql.NullString
		if err := r.Scan(&q.Status, &q.Unread, &created, &overrules, &t.AskedPhoto, &t.Asked, &t.Proposed, &proposal, &quoted, &t.FirstTaken, &sum, &total); err != nil {
			return t, err
		}
		t.Status, t.Turn, t.Created, t.Quoted = q.Status, q.Turn(), moment(created), moment(quoted)
		err = json.Unmarshal([]byte(overrules), &q.Overrule)
		t.Overruled = len(q.Overrule)
		if number, code, ok := strings.Cut(sum, " "); ok { // else there is no quote
			var e error
			t.Total, e = currency.NewAmount(number, code)
			err = errors.Join(err, e)
		}
		if proposal.Valid {
			var p struct {
				Best struct {
					Disagreements []struct{} `json:"disagreements"`
				} `json:"best"`
			}
			err = errors.Join(err, json.Unmarshal([]byte(proposal.String), &p))
			t.Slips = len(p.Best.Disagreements)
		}
		return t, err
	}, selectTally, newest)
	return tallies, total, asDomain(err, "tallies")
}
