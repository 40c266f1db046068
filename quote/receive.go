package quote

import (
	"context"
	"errors"
	"fmt"
	"net/mail"
	"slices"
	"strings"
	"unicode"

	"leafgauge/catalog"
	"leafgauge/intake"
)

// Limits on what one customer may send.
const (
	MaxPhotos        = 6                  // with one submission
	MaxInquiryPhotos = 24                 // of one inquiry
	MaxHinges        = 2000               // wanted with one inquiry, and approved for one
	maxText          = intake.MaxMailText // bytes: whatever an e-mail may hold
)

// Receive takes in a new question. It returns only after everything is on disk. The same
// submission under the same Once returns the first one's receipt; another one under the
// same Once is refused.
func (d *Desk) Receive(ctx context.Context, s Submission) (Receipt, error) {
	s.Contact = Contact{oneLine(s.Contact.Name), oneLine(s.Contact.Email)}
	s.Text = strings.TrimSpace(s.Text)
	if err := check(s); err != nil {
		return Receipt{}, err
	}
	seed, token := seedAndToken(s)
	key, err := d.key(ctx, seed)
	if err != nil {
		return Receipt{}, err
	}
	if err := d.keepPhotos(ctx, s.Photos); err != nil {
		return Receipt{}, err
	}
	photos, same := once(s.Photos)
	now := d.now()
	q, again, err := d.repo.Create(ctx, KeyHash(key), token, func(id ID) Change {
		q := Inquiry{ID: id, Status: Received, Revision: 1, Source: s.Source, Contact: s.Contact, Text: s.Text,
			Door: s.Door, Wishes: s.Wishes, Overrule: []string{}, Automatic: s.Automatic, Unread: s.Automatic, KeySeed: seed, Created: now, Updated: now}
		c := Change{Inquiry: q, Measure: true, Photos: number(photos, 1, q)}
		note(&c, ByCustomer, "", "received", received(len(photos)))
		if same != "" {
			note(&c, ByCustomer, "", SentAgain, same)
		}
		if s.MessageID != "" {
			c.Messages = append(c.Messages, s.MessageID)
		}
		d.write(&c, s.MessageID, ByProgram, receiptLetter(d.terms, q, len(photos), same))
		return c
	})
	if err != nil {
		return Receipt{}, err
	}
	if again {
		first, err := d.repo.InquiryByKey(ctx, KeyHash(key))
		if errors.Is(err, ErrNotFound) || err == nil && first.ID != q.ID {
			return Receipt{}, &intake.InvalidError{Field: "Idempotency-Key", Code: "reused",
				Text: "This idempotency key came with a different inquiry before. Send the new inquiry under a new key."}
		}
		if err != nil {
			return Receipt{}, err
		}
	}
	return Receipt{Inquiry: q, Key: key, Link: d.link(key), Again: again}, nil
}

// check refuses what cannot be taken in. E-mail is never refused for what it lacks: a
// letter asks for it instead.
func check(s Submission) error {
	if err := checkSent(s.Photos, s.Text); err != nil {
		return err
	}
	if s.Source == FromMail {
		return nil
	}
	if s.Contact.Email != "" {
		a, err := mail.ParseAddress(s.Contact.Email)
		if err != nil || a.Address != s.Contact.Email {
			return &intake.InvalidError{Field: "email", Code: "not_an_address",
				Text: "This is no e-mail address: write it as name@example.com, or leave it empty and keep the link."}
		}
	}
	if len(s.Contact.Name) > 200 || len(s.Contact.Email) > 254 {
		return &intake.InvalidError{Field: "name", Code: "too_long", Text: "The name or e-mail address is too long: shorten it."}
	}
	if intake.Nothing(s.Photos, s.Text) {
		return &intake.InvalidError{Field: "photo", Code: "nothing_sent",
			Text: "Nothing to go by yet: add a photo of the hinge beside a library or gift card, or type its sizes."}
	}
	return nil
}

func checkSent(photos []intake.Photo, text string) error {
	if len(photos) > MaxPhotos {
		return &intake.InvalidError{Field: "photo", Code: "too_many_photos",
			Text: fmt.Sprintf("%d photos are too many at once: send the best %d.", len(photos), MaxPhotos)}
	}
	if len(text) > maxText {
		return &intake.InvalidError{Field: "readings", Code: "too_long",
			Text: "The text is too long: write the sizes and what you want in a few lines."}
	}
	return nil
}

// keepPhotos puts the files where they are safe, before anything names them.
func (d *Desk) keepPhotos(ctx context.Context, photos []intake.Photo) error {
	for _, p := range photos {
		if err := d.photos.Put(ctx, p.SHA256, p.Bytes); err != nil {
			return fmt.Errorf("quote: keep photo: %w", err)
		}
	}
	return nil
}

// SentAgain is the event that says which photos came more than once; its text is the customer's too.
const SentAgain = "photo sent again"

// once leaves each picture of photos once, and says so where one came more often; "" otherwise.
func once(photos []intake.Photo) (each []intake.Photo, same string) {
	for _, p := range photos {
		if !slices.ContainsFunc(each, func(o intake.Photo) bool { return o.SHA256 == p.SHA256 }) {
			each = append(each, p)
		}
	}
	switch again := len(photos) - len(each); again {
	case 0:
	case 1:
		same = "The same picture came twice: it is one picture, and is used once."
	default:
		same = fmt.Sprintf("%d of the pictures are the same as others: each is used once.", again)
	}
	return each, same
}

// number gives admitted photos their place in an inquiry.
func number(photos []intake.Photo, from int, q Inquiry) []Photo {
	numbered := make([]Photo, len(photos))
	for i, p := range photos {
		p.Bytes = nil
		numbered[i] = Photo{Photo: p, N: from + i, Added: q.Updated}
	}
	return numbered
}

func received(photos int) string {
	switch photos {
	case 0:
		return "without a photo"
	case 1:
		return "with one photo"
	}
	return fmt.Sprintf("with %d photos", photos)
}

// oneLine makes a line of text harmless for a letter's head.
func oneLine(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s))
}

// ByKey returns the dossier behind a customer's secret link.
func (d *Desk) ByKey(ctx context.Context, key string) (Dossier, error) {
	q, err := d.repo.InquiryByKey(ctx, KeyHash(key))
	if err != nil {
		return Dossier{}, err
	}
	return d.repo.Dossier(ctx, q.ID)
}

// Add adds photos and text (an answer, a further reading) to an inquiry, which is then
// measured again at the next revision. What a customer sends after it was quoted or closed
// is kept and shown to the counter as unread, and not measured. What is there already (the
// same photo, the same e-mail) is not added again.
func (d *Desk) Add(ctx context.Context, id ID, by Role, who string, photos []intake.Photo, text, messageID string) (Inquiry, error) {
	text = strings.TrimSpace(text)
	if err := checkSent(photos, text); err != nil {
		return Inquiry{}, err
	}
	if intake.Nothing(photos, text) {
		return Inquiry{}, &intake.InvalidError{Field: "photo", Code: "nothing_sent", Text: "Nothing was added: choose a photo, or type the answer."}
	}
	if messageID != "" {
		q, err := d.repo.InquiryByMessage(ctx, []string{messageID})
		if err == nil && q.ID == id {
			return q, nil
		}
		if err != nil && !errors.Is(err, ErrNotFound) {
			return Inquiry{}, err
		}
	}
	if err := d.keepPhotos(ctx, photos); err != nil {
		return Inquiry{}, err
	}
	return d.change(ctx, id, func(do Dossier, c *Change) error {
		q := &c.Inquiry
		each, same := once(photos)
		fresh := slices.DeleteFunc(slices.Clone(each), func(p intake.Photo) bool {
			return slices.ContainsFunc(q.Photos, func(old Photo) bool { return old.SHA256 == p.SHA256 })
		})
		if len(q.Photos)+len(fresh) > MaxInquiryPhotos {
			return &intake.InvalidError{Field: "photo", Code: "too_many_photos",
				Text: fmt.Sprintf("This inquiry has %d photos already: please call or write to the shop.", len(q.Photos))}
		}
		added := answer(do, text)
		if len(fresh) == 0 && (text == "" || q.Text == added || strings.HasSuffix(q.Text, "\n\n"+added)) {
			return errNothing
		}
		if same != "" {
			note(c, by, who, SentAgain, same)
		}
		if again := len(each) - len(fresh); again > 0 {
			note(c, by, who, SentAgain, catalog.Count(again, "photo was", "photos were")+" there already: not added again.")
		}
		c.Photos = number(fresh, len(q.Photos)+1, *q)
		if text != "" {
			q.Text = strings.TrimSpace(q.Text + "\n\n" + added)
			if len(q.Text) > 2*maxText {
				return &intake.InvalidError{Field: "readings", Code: "too_long", Text: "This inquiry holds too much text already: please call the shop."}
			}
		}
		if messageID != "" {
			c.Messages = append(c.Messages, messageID)
		}
		what := "photo added"
		if len(fresh) == 0 {
			what = "text added"
		}
		if by == ByCustomer && !May(q.Status, Measuring, by) && q.Status != Received {
			q.Unread = true
			note(c, by, who, what, text)
			return nil
		}
		return d.measureAgain(c, by, who, what, text)
	})
}
