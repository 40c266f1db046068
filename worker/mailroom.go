package worker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"leafgauge/intake"
	"leafgauge/intake/readings"
	"leafgauge/measure"
	"leafgauge/quote"
)

// Inbox is what the Mailroom does at the desk.
type Inbox interface {
	Receive(ctx context.Context, s quote.Submission) (quote.Receipt, error)
	Add(ctx context.Context, id quote.ID, by quote.Role, who string, photos []intake.Photo, text, messageID string) (quote.Inquiry, error)
	ByMessage(ctx context.Context, messageIDs []string) (quote.Inquiry, error)
	Dossier(ctx context.Context, id quote.ID) (quote.Dossier, error)
	Note(ctx context.Context, id quote.ID, who, text string) error
}

// A Doorman admits the pictures of a mail; intake.Doorman is one.
type Doorman interface {
	Admit(name string, data []byte) (intake.Photo, error)
}

// A MailSource hands over mails that came in. A mail that was handed over and neither done
// nor put aside is handed over again.
type MailSource interface {
	Waiting() (names []string, err error) // oldest first
	Read(name string) ([]byte, error)
	Done(name string) error
	PutAside(name, reason string) error // what cannot be taken in
}

// A Mailroom takes in mails: a new one becomes an inquiry, an answer joins its own. Taking
// the same mail in twice is harmless, because the desk knows its Message-ID.
type Mailroom struct {
	desk    Inbox
	source  MailSource
	doorman Doorman
	own     string // the shop's own address
	log     *slog.Logger
}

// mailroomEvery is how often the folder of incoming mail is looked at.
const mailroomEvery = time.Second

// NewMailroom returns a Mailroom for a shop whose letters come from the address own.
func NewMailroom(desk Inbox, source MailSource, doorman Doorman, own string, log *slog.Logger) *Mailroom {
	return &Mailroom{desk, source, doorman, own, log}
}

// Run works until ctx ends.
func (m *Mailroom) Run(ctx context.Context) { repeat(ctx, mailroomEvery, m.log, "mailroom", m.pass) }

// pass takes in every mail that waits. An outage leaves the rest for later; a mail that
// cannot be used is put aside with the reason.
func (m *Mailroom) pass(ctx context.Context) error {
	names, err := m.source.Waiting()
	if err != nil {
		return fmt.Errorf("look for mail: %w", err)
	}
	for _, name := range names {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		raw, err := m.source.Read(name)
		if err != nil {
			return fmt.Errorf("read %s: %w", name, err)
		}
		id, err := m.take(ctx, raw)
		var invalid *intake.InvalidError
		switch {
		case errors.As(err, &invalid):
			m.log.Warn("a mail is put aside", "mail", name, "why", invalid.Text)
			err = m.source.PutAside(name, invalid.Text)
		case err != nil:
			return fmt.Errorf("take in %s: %w", name, err)
		default:
			m.log.Info("mail taken in", "mail", name, "inquiry", id)
			err = m.source.Done(name)
		}
		if err != nil {
			return fmt.Errorf("move %s out of the way: %w", name, err)
		}
	}
	return nil
}

// take takes in one mail and returns the inquiry that it belongs to.
func (m *Mailroom) take(ctx context.Context, raw []byte) (quote.ID, error) {
	mail, err := intake.ParseMail(raw)
	if err != nil {
		return 0, err
	}
	if strings.EqualFold(mail.Address, m.own) && mail.Automatic == "" {
		mail.Automatic = "from the shop itself"
	}
	photos, left := m.photos(mail)
	text := readings.BodyText(mail.Text)
	q, err := m.answers(ctx, mail)
	switch {
	case errors.Is(err, quote.ErrNotFound):
		return m.receive(ctx, mail, photos, text, left)
	case err != nil:
		return 0, err
	}
	return q.ID, m.join(ctx, q.ID, mail, photos, text, left)
}

// photos admits the pictures of a mail and says what was left out: what is too small to be measured
// is taken for a signature's logo.
func (m *Mailroom) photos(mail intake.Mail) (photos []intake.Photo, left []string) {
	left = slices.Clone(mail.Left)
	for _, a := range mail.Pictures {
		p, err := m.doorman.Admit(a.Name, a.Data)
		switch {
		case err != nil:
			left = append(left, a.Name+": "+err.Error())
		case max(p.Width, p.Height) < measure.LeastSide:
			left = append(left, fmt.Sprintf("%s: only %d × %d pixels", a.Name, p.Width, p.Height))
		case len(photos) == quote.MaxPhotos:
			left = append(left, fmt.Sprintf("%s: more than %d photos", a.Name, quote.MaxPhotos))
		default:
			photos = append(photos, p)
		}
	}
	return photos, left
}

// inquiryMark is how the subject of a letter names its inquiry.
var inquiryMark = regexp.MustCompile(`(?i)\(inquiry (\d{1,18})\)`)

// answers finds the inquiry that a mail answers: by the Message-IDs that it names, else by
// the mark in its subject where the customer's own address wrote it. Else ErrNotFound.
func (m *Mailroom) answers(ctx context.Context, mail intake.Mail) (quote.Inquiry, error) {
	if len(mail.Answers) > 0 {
		oldestFirst := slices.Clone(mail.Answers)
		slices.Reverse(oldestFirst)
		q, err := m.desk.ByMessage(ctx, oldestFirst)
		if !errors.Is(err, quote.ErrNotFound) {
			return q, err
		}
	}
	mark := inquiryMark.FindStringSubmatch(mail.Subject)
	if mark == nil || mail.Address == "" {
		return quote.Inquiry{}, quote.ErrNotFound
	}
	id, err := strconv.ParseInt(mark[1], 10, 64)
	if err != nil {
		return quote.Inquiry{}, quote.ErrNotFound
	}
	d, err := m.desk.Dossier(ctx, quote.ID(id))
	if err == nil && !strings.EqualFold(d.Inquiry.Contact.Email, mail.Address) {
		err = quote.ErrNotFound
	}
	return d.Inquiry, err
}

// says reports that a subject is part of what the customer says: it is no answer's, and something can be
// read in it.
func says(subject string) bool {
	for _, mark := range []string{"re:", "fwd:", "fw:", "aw:", "wg:", "tr:"} {
		if len(subject) >= len(mark) && strings.EqualFold(subject[:len(mark)], mark) {
			return false
		}
	}
	r := readings.Inquiry(subject, "")
	return len(r.Readings)+len(r.Statements) > 0
}

// receive makes a mail a new inquiry.
func (m *Mailroom) receive(ctx context.Context, mail intake.Mail, photos []intake.Photo, text string, left []string) (quote.ID, error) {
	if text == "" || says(mail.Subject) {
		text = strings.TrimSpace(mail.Subject + "\n\n" + text)
	}
	r, err := m.desk.Receive(ctx, quote.Submission{
		Source:    quote.FromMail,
		Contact:   quote.Contact{Name: mail.Name, Email: mail.Address},
		Text:      text,
		Photos:    photos,
		Once:      "mail " + mail.MessageID,
		MessageID: mail.MessageID,
		Automatic: mail.Automatic != "",
	})
	if err != nil {
		return 0, err
	}
	if r.Again {
		return r.Inquiry.ID, nil
	}
	return r.Inquiry.ID, m.note(ctx, r.Inquiry.ID, fmt.Sprintf("It came by e-mail, subject %q.", mail.Subject), left)
}

// join adds a mail to the inquiry that it answers. An automatic answer ("I am away until
// Monday") is only noted: measuring again would send a letter, and so on for ever.
func (m *Mailroom) join(ctx context.Context, id quote.ID, mail intake.Mail, photos []intake.Photo, text string, left []string) error {
	if mail.Automatic != "" {
		return m.note(ctx, id, fmt.Sprintf("An automatic e-mail came (%s), subject %q: %s", mail.Automatic, mail.Subject, text), nil)
	}
	if intake.Nothing(photos, text) {
		return m.note(ctx, id, "An e-mail came with nothing new in it.", left)
	}
	if _, err := m.desk.Add(ctx, id, quote.ByCustomer, "", photos, text, mail.MessageID); err != nil {
		return err
	}
	if len(left) == 0 {
		return nil
	}
	return m.note(ctx, id, "An e-mail came.", left)
}

func (m *Mailroom) note(ctx context.Context, id quote.ID, text string, left []string) error {
	if len(left) > 0 {
		text += " Not taken: " + strings.Join(left, "; ") + "."
	}
	if err := m.desk.Note(ctx, id, "", text); err != nil {
		return fmt.Errorf("inquiry %d: note an e-mail: %w", id, err)
	}
	return nil
}
