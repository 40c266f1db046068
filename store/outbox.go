package store

import (
	"context"
	"database/sql"
	"time"

	"leafgauge/quote"
)

// Intentions implements quote.Repository, oldest first.
func (s *Store) Intentions(ctx context.Context, madeBefore time.Time, limit int) ([]quote.Intention, error) {
	all, err := collect(ctx, s.db, func(r row) (i quote.Intention, err error) {
		var made sql.NullInt64
		err = r.Scan(&i.Inquiry, &i.Revision, &made)
		i.Made = moment(made)
		return i, err
	}, "SELECT inquiry, revision, made_us FROM intention WHERE made_us < $1 ORDER BY made_us, inquiry LIMIT $2",
		madeBefore.UnixMicro(), limit)
	return all, asDomain(err, "intentions")
}

const selectLetter = `SELECT id, key, inquiry, kind, to_name, to_email, subject, body, quote, reply_to, message_id, made_us, sent_us FROM letter`

func scanLetter(r row) (l quote.Letter, err error) {
	var made, sent sql.NullInt64
	err = r.Scan(&l.ID, &l.Key, &l.Inquiry, &l.Kind, &l.To.Name, &l.To.Email, &l.Subject, &l.Body, &l.Quote, &l.ReplyTo,
		&l.MessageID, &made, &sent)
	l.Made, l.Sent = moment(made), moment(sent)
	return l, err
}

// Letters implements quote.Repository.
func (s *Store) Letters(ctx context.Context, limit int) ([]quote.Letter, error) {
	all, err := collect(ctx, s.db, scanLetter, selectLetter+" WHERE sent_us IS NULL ORDER BY id LIMIT $1", limit)
	return all, asDomain(err, "letters")
}

// LetterSent implements quote.Repository.
func (s *Store) LetterSent(ctx context.Context, id int64, at time.Time) error {
	r, err := s.db.ExecContext(ctx, "UPDATE letter SET sent_us = $2 WHERE id = $1 AND sent_us IS NULL", id, micros(at))
	if err != nil {
		return asDomain(err, "letter %d", id)
	}
	if n, err := r.RowsAffected(); err != nil || n > 0 {
		return asDomain(err, "letter %d", id)
	}
	var there int64 // sent before, or no such letter
	err = s.db.QueryRowContext(ctx, "SELECT id FROM letter WHERE id = $1", id).Scan(&there)
	return asDomain(err, "letter %d", id)
}
