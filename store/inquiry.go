package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"leafgauge/quote"
)

const selectInquiry = `SELECT id, status, revision, version, source, contact_name, contact_email,
	text, door, wishes, overrules, question, unread, automatic, key_seed, created_us, updated_us
	FROM inquiry`

// inquiryFields scans what selectInquiry reads, without the photos; more takes further columns.
func inquiryFields(r row, more ...any) (q quote.Inquiry, err error) {
	var door, wishes, overrules string
	var created, updated sql.NullInt64
	err = r.Scan(append([]any{&q.ID, &q.Status, &q.Revision, &q.Version, &q.Source, &q.Contact.Name, &q.Contact.Email,
		&q.Text, &door, &wishes, &overrules, &q.Question, &q.Unread, &q.Automatic, &q.KeySeed, &created, &updated}, more...)...)
	if err != nil {
		return q, err
	}
	q.Created, q.Updated = moment(created), moment(updated)
	return q, errors.Join(json.Unmarshal([]byte(door), &q.Door), json.Unmarshal([]byte(wishes), &q.Wishes),
		json.Unmarshal([]byte(overrules), &q.Overrule))
}

// oneInquiry reads the inquiry that where picks, with its photos.
func oneInquiry(ctx context.Context, db querier, where string, args ...any) (quote.Inquiry, error) {
	q, err := inquiryFields(db.QueryRowContext(ctx, selectInquiry+where, args...))
	if err != nil {
		return quote.Inquiry{}, err
	}
	q.Photos, err = photosOf(ctx, db, q.ID)
	return q, err
}

func photosOf(ctx context.Context, db querier, id quote.ID) ([]quote.Photo, error) {
	photos, err := collect(ctx, db, func(r row) (quote.Photo, error) {
		_, p, err := scanPhoto(r)
		return p, err
	}, selectPhoto+" WHERE inquiry = $1 ORDER BY n", id)
	if photos == nil {
		photos = []quote.Photo{}
	}
	return photos, err
}

const selectPhoto = `SELECT inquiry, n, sha256, format, width_px, height_px, orientation, focal_35mm, file_name, added_us FROM photo`

func scanPhoto(r row) (id quote.ID, p quote.Photo, err error) {
	var added sql.NullInt64
	err = r.Scan(&id, &p.N, &p.SHA256, &p.Format, &p.Width, &p.Height, &p.Orientation, &p.Focal35mm, &p.FileName, &added)
	p.Added = moment(added)
	return id, p, err
}

// Create implements quote.Repository.
func (s *Store) Create(ctx context.Context, keyHash []byte, once string, compose func(quote.ID) quote.Change) (made quote.Inquiry, again bool, err error) {
	errAgain := errors.New("came before")
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		n, err := next(ctx, tx, "inquiry") // holds the counter, so that the look-up below sees whoever came first
		if err != nil {
			return err
		}
		if once != "" {
			made, err = oneInquiry(ctx, tx, " WHERE once = $1", once)
			if err == nil {
				return errAgain
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return asDomain(err, "look for the same submission")
			}
		}
		id := quote.ID(n)
		c := compose(id)
		c.Inquiry.ID, c.Inquiry.Version = id, 1
		_, err = tx.ExecContext(ctx, `INSERT INTO inquiry (id, key_hash, key_seed, once, source, automatic, created_us,
			status, revision, version, contact_name, contact_email, text, door, wishes, overrules, question, unread, updated_us, search)
			VALUES ($1, $2, $3, $4, $5, $6, $7, 'received', 1, 1, '', '', '', '', '', '', '', 0, $7, '')`,
			id, hex.EncodeToString(keyHash), c.Inquiry.KeySeed, sql.NullString{String: once, Valid: once != ""},
			c.Inquiry.Source, bit(c.Inquiry.Automatic), micros(c.Inquiry.Created))
		if err != nil {
			return asDomain(err, "new inquiry")
		}
		made, err = s.write(ctx, tx, c)
		return err
	})
	if errors.Is(err, errAgain) {
		return made, true, nil
	}
	if err != nil {
		return quote.Inquiry{}, false, err
	}
	return made, false, nil
}

// Change implements quote.Repository.
func (s *Store) Change(ctx context.Context, id quote.ID, decide func(quote.Dossier) (quote.Change, error)) (made quote.Inquiry, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		q, err := oneInquiry(ctx, tx, " WHERE id = $1"+s.forRow, id)
		if err != nil {
			return asDomain(err, "inquiry %d", id)
		}
		d, err := dossier(ctx, tx, q)
		if err != nil {
			return asDomain(err, "inquiry %d", id)
		}
		c, err := decide(d)
		if err != nil {
			return err
		}
		c.Inquiry.ID, c.Inquiry.Version = id, q.Version+1
		made, err = s.write(ctx, tx, c)
		return err
	})
	if err != nil {
		return quote.Inquiry{}, err
	}
	return made, nil
}

// write writes all of c; the inquiry's row is there and held by tx.
func (s *Store) write(ctx context.Context, tx *sql.Tx, c quote.Change) (quote.Inquiry, error) {
	q := c.Inquiry
	fail := func(err error) (quote.Inquiry, error) {
		return quote.Inquiry{}, asDomain(err, "write inquiry %d", q.ID)
	}
	door, err := asJSON(q.Door)
	if err != nil {
		return fail(err)
	}
	wishes, err := asJSON(q.Wishes)
	if err != nil {
		return fail(err)
	}
	if q.Overrule == nil {
		q.Overrule = []string{}
	}
	overrules, err := asJSON(q.Overrule)
	if err != nil {
		return fail(err)
	}
	search := strings.ToLower(fmt.Sprintf("%d %s %s %s", q.ID, q.Contact.Name, q.Contact.Email, q.Text))
	_, err = tx.ExecContext(ctx, `UPDATE inquiry SET status = $2, revision = $3, version = $4, contact_name = $5,
		contact_email = $6, text = $7, door = $8, wishes = $9, overrules = $10, question = $11, unread = $12,
		updated_us = $13, search = $14 WHERE id = $1`,
		q.ID, q.Status, q.Revision, q.Version, clean(q.Contact.Name), clean(q.Contact.Email), clean(q.Text), door, wishes,
		overrules, clean(q.Question), bit(q.Unread), micros(q.Updated), clean(search))
	if err != nil {
		return fail(err)
	}
	for _, step := range []func(context.Context, *sql.Tx, quote.Change) error{
		writePhotos, writeIntention, writeFindings, writeProposal, writeQuote, writeEvents, writeLetters, writeMessages,
	} {
		if err := step(ctx, tx, c); err != nil {
			return fail(err)
		}
	}
	made, err := oneInquiry(ctx, tx, " WHERE id = $1", q.ID)
	if err != nil {
		return fail(err)
	}
	return made, nil
}

func writePhotos(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	for _, p := range c.Photos {
		_, err := tx.ExecContext(ctx, `INSERT INTO photo (inquiry, n, sha256, format, width_px, height_px, orientation,
			focal_35mm, file_name, added_us) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
			c.Inquiry.ID, p.N, p.SHA256, p.Format, p.Width, p.Height, p.Orientation, p.Focal35mm, clean(p.FileName), micros(p.Added))
		if err != nil {
			return err
		}
	}
	return nil
}

func writeIntention(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	settled := c.Settled
	if c.Measure {
		settled = max(settled, c.Inquiry.Revision-1) // older ones are overtaken
	}
	if settled > 0 {
		if _, err := tx.ExecContext(ctx, "DELETE FROM intention WHERE inquiry = $1 AND revision <= $2", c.Inquiry.ID, settled); err != nil {
			return err
		}
	}
	if !c.Measure {
		return nil
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO intention (inquiry, revision, made_us) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING",
		c.Inquiry.ID, c.Inquiry.Revision, micros(c.Inquiry.Updated))
	return err
}

func writeFindings(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	for _, f := range c.Findings {
		result, err := asJSON(f.Result)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO finding (inquiry, revision, photo, result) VALUES ($1, $2, $3, $4)
			ON CONFLICT (inquiry, revision, photo) DO UPDATE SET result = excluded.result`,
			c.Inquiry.ID, f.Revision, f.PhotoN, result)
		if err != nil {
			return err
		}
	}
	return nil
}

func writeProposal(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	p := c.Proposal
	if p == nil {
		return nil
	}
	text, err := asJSON(p)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO proposal (inquiry, revision, made_us, proposal) VALUES ($1, $2, $3, $4)
		ON CONFLICT (inquiry, revision) DO UPDATE SET made_us = excluded.made_us, proposal = excluded.proposal`,
		c.Inquiry.ID, p.Revision, micros(p.Made), text)
	if err != nil {
		return err
	}
	var top, verdict string
	var prob float64
	if len(p.Fits) > 0 {
		top, verdict, prob = p.Fits[0].Item.StockNumber, p.Fits[0].Short(), p.Fits[0].P
	}
	_, err = tx.ExecContext(ctx, "UPDATE inquiry SET best = $2, top = $3, fit = $4, p = $5 WHERE id = $1",
		c.Inquiry.ID, p.Best.Nominal.Size, top, verdict, prob)
	return err
}

func writeQuote(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	if c.Former != nil {
		text, err := asJSON(c.Former)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE quote SET quote = $2 WHERE number = $1", c.Former.Number, text); err != nil {
			return err
		}
	}
	if c.Quote == nil {
		return nil
	}
	text, err := asJSON(c.Quote)
	if err != nil {
		return err
	}
	first := ""
	if len(c.Quote.Lines) > 0 {
		first = c.Quote.Lines[0].StockNumber
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO quote (number, inquiry, made_us, stock_number, quote) VALUES ($1, $2, $3, $4, $5)",
		c.Quote.Number, c.Inquiry.ID, micros(c.Quote.Made), first, text)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "UPDATE inquiry SET total = $2 WHERE id = $1", c.Inquiry.ID, c.Quote.Total.String())
	return err
}

func writeEvents(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	for _, e := range c.Events {
		_, err := tx.ExecContext(ctx, `INSERT INTO event (inquiry, n, at_us, by_role, who, what, text, from_status, to_status)
			SELECT CAST($1 AS BIGINT), COALESCE(MAX(n), 0) + 1, CAST($2 AS BIGINT), CAST($3 AS TEXT), CAST($4 AS TEXT),
			CAST($5 AS TEXT), CAST($6 AS TEXT), CAST($7 AS TEXT), CAST($8 AS TEXT) FROM event WHERE inquiry = $1`,
			c.Inquiry.ID, micros(e.At), e.By, clean(e.Who), e.What, clean(e.Text), e.From, e.To)
		if err != nil {
			return err
		}
	}
	return nil
}

func writeLetters(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	for _, l := range c.Letters {
		var there int
		err := tx.QueryRowContext(ctx, "SELECT COUNT(*) FROM letter WHERE key = $1", l.Key).Scan(&there)
		if err != nil {
			return err
		}
		if there > 0 {
			continue
		}
		id, err := next(ctx, tx, "letter")
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO letter (id, key, inquiry, kind, to_name, to_email, subject, body, quote,
			reply_to, message_id, made_us, sent_us) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
			id, l.Key, c.Inquiry.ID, l.Kind, clean(l.To.Name), clean(l.To.Email), clean(l.Subject), clean(l.Body), l.Quote,
			clean(l.ReplyTo), l.MessageID, micros(l.Made), micros(l.Sent))
		if err != nil {
			return err
		}
	}
	return nil
}

func writeMessages(ctx context.Context, tx *sql.Tx, c quote.Change) error {
	for _, m := range c.Messages {
		_, err := tx.ExecContext(ctx, "INSERT INTO message (message_id, inquiry) VALUES ($1, $2) ON CONFLICT DO NOTHING", clean(m), c.Inquiry.ID)
		if err != nil {
			return err
		}
	}
	return nil
}

// Inquiry implements quote.Repository.
func (s *Store) Inquiry(ctx context.Context, id quote.ID) (quote.Inquiry, error) {
	q, err := oneInquiry(ctx, s.db, " WHERE id = $1", id)
	return q, asDomain(err, "inquiry %d", id)
}

// InquiryByKey implements quote.Repository.
func (s *Store) InquiryByKey(ctx context.Context, keyHash []byte) (quote.Inquiry, error) {
	q, err := oneInquiry(ctx, s.db, " WHERE key_hash = $1", hex.EncodeToString(keyHash))
	return q, asDomain(err, "inquiry by key")
}

// InquiryByMessage implements quote.Repository: the inquiry of the last of messageIDs that is known.
func (s *Store) InquiryByMessage(ctx context.Context, messageIDs []string) (quote.Inquiry, error) {
	for i := len(messageIDs) - 1; i >= 0; i-- {
		q, err := oneInquiry(ctx, s.db, " WHERE id = (SELECT inquiry FROM message WHERE message_id = $1)", clean(messageIDs[i]))
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		return q, asDomain(err, "inquiry by message")
	}
	return quote.Inquiry{}, asDomain(sql.ErrNoRows, "inquiry by message")
}
