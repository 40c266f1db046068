package worker

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"leafgauge/quote"

	"github.com/wneessen/go-mail"
)

// Letters is what the Postman does at the desk.
type Letters interface {
	Letters(ctx context.Context, limit int) ([]quote.Letter, error) // not yet sent, oldest first
	LetterSent(ctx context.Context, id int64, at time.Time) error
	QuoteByNumber(ctx context.Context, number string) (quote.Quote, error)
	Note(ctx context.Context, id quote.ID, who, text string) error
}

// A MailSender brings a mail on its way. Sending the same name twice must not deliver twice
// where the way can tell. An *UndeliverableError says that trying again is of no use.
type MailSender interface {
	Send(ctx context.Context, name string, m *mail.Msg) error
}

// An UndeliverableError is a letter that will never go out as it is.
type UndeliverableError struct{ Err error }

func (e *UndeliverableError) Error() string { return e.Err.Error() }
func (e *UndeliverableError) Unwrap() error { return e.Err }

// A Postman sends the letters that wait in the database, and notes that they are out. A
// crash in between leaves the letter waiting: it has the same name and Message-ID again.
// Run one Postman over a database, or two may send a letter by SMTP at the same moment.
type Postman struct {
	desk   Letters
	sender MailSender
	from   quote.Contact
	pdf    func(quote.Quote) ([]byte, error)
	log    *slog.Logger
	now    func() time.Time
	later  map[int64]pause // letters that failed, by their ID
}

// pause is how long a letter waits after it failed.
type pause struct {
	until time.Time
	next  time.Duration
}

const (
	postmanEvery = 500 * time.Millisecond // a receipt is there by the time that the sender looks
	lettersBatch = 200                    // looked at in one go, so that a long queue stays out of memory
	firstPause   = 5 * time.Second        // after a letter was refused; doubled each time
	longestPause = 15 * time.Minute
)

// NewPostman returns a Postman. pdf draws the quote that some letters carry.
func NewPostman(desk Letters, sender MailSender, from quote.Contact, pdf func(quote.Quote) ([]byte, error), now func() time.Time, log *slog.Logger) *Postman {
	return &Postman{desk, sender, from, pdf, log, now, map[int64]pause{}}
}

// Run works until ctx ends.
func (p *Postman) Run(ctx context.Context) { repeat(ctx, postmanEvery, p.log, "postman", p.pass) }

// pass sends every letter that waits. One that fails does not hold up the others.
func (p *Postman) pass(ctx context.Context) error {
	letters, err := p.desk.Letters(ctx, lettersBatch)
	if err != nil {
		return fmt.Errorf("read the letters: %w", err)
	}
	for _, l := range letters {
		if p.now().Before(p.later[l.ID].until) {
			continue
		}
		var hopeless *UndeliverableError
		err := p.send(ctx, l)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.As(err, &hopeless):
			p.log.Error("a letter cannot be delivered", "letter", l.Key, "inquiry", l.Inquiry, "cause", err)
			if err := p.desk.Note(ctx, l.Inquiry, "", fmt.Sprintf("The letter %q could not be delivered: %v. Please reach the customer another way.", l.Subject, err)); err != nil {
				return fmt.Errorf("note an undeliverable letter: %w", err)
			}
		case err != nil:
			w := min(max(p.later[l.ID].next, firstPause), longestPause)
			p.later[l.ID] = pause{p.now().Add(w), 2 * w}
			p.log.Warn("a letter waits", "letter", l.Key, "inquiry", l.Inquiry, "seconds", w.Seconds(), "cause", err)
			continue
		}
		delete(p.later, l.ID)
		if err := p.desk.LetterSent(ctx, l.ID, p.now()); err != nil {
			return fmt.Errorf("note that letter %s is out: %w", l.Key, err)
		}
	}
	return nil
}

func (p *Postman) send(ctx context.Context, l quote.Letter) error {
	m, err := p.compose(ctx, l)
	if err != nil {
		return err
	}
	return p.sender.Send(ctx, l.Key, m)
}

// compose writes a letter as an e-mail.
func (p *Postman) compose(ctx context.Context, l quote.Letter) (*mail.Msg, error) {
	m := mail.NewMsg(mail.WithNoDefaultUserAgent(), mail.WithCharset(mail.CharsetUTF8))
	if err := m.FromFormat(p.from.Name, p.from.Email); err != nil {
		return nil, fmt.Errorf("the shop's own address %q: %w", p.from.Email, err)
	}
	if err := m.AddToFormat(l.To.Name, l.To.Email); err != nil {
		return nil, &UndeliverableError{fmt.Errorf("%q is no e-mail address", l.To.Email)}
	}
	m.Subject(l.Subject)
	m.SetDateWithValue(l.Made)
	m.SetMessageIDWithValue(l.MessageID)
	if l.ReplyTo != "" {
		m.SetGenHeader(mail.HeaderInReplyTo, "<"+l.ReplyTo+">")
		m.SetGenHeader(mail.HeaderReferences, "<"+l.ReplyTo+">")
	}
	if auto := autoSubmitted(l); auto != "" {
		m.SetGenHeader("Auto-Submitted", auto)
	}
	m.SetBodyString(mail.TypeTextPlain, l.Body)
	if l.Quote != "" {
		q, err := p.desk.QuoteByNumber(ctx, l.Quote)
		if err != nil {
			return nil, fmt.Errorf("quote %s: %w", l.Quote, err)
		}
		file, err := p.pdf(q)
		if err != nil {
			return nil, fmt.Errorf("quote %s as PDF: %w", l.Quote, err)
		}
		m.AttachReadSeeker("quote-"+fileSafe(l.Quote)+".pdf", bytes.NewReader(file), mail.WithFileContentType("application/pdf"))
	}
	return m, nil
}

// autoSubmitted is the field of RFC 3834 section 5 that goes with a letter: those that the
// program writes by itself say so, and no other program will answer them.
func autoSubmitted(l quote.Letter) string {
	switch {
	case l.Kind == "quote" || l.Kind == "declined": // a person decided and had it sent
		return ""
	case l.ReplyTo != "":
		return "auto-replied"
	}
	return "auto-generated"
}
