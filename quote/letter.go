package quote

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"net/url"
	"strings"
	"time"

	"leafgauge/catalog"
	"leafgauge/measure"
)

// doorCaution goes with every letter that lets somebody take a hinge off.
const doorCaution = "Support the door before you take out a pin or the last screws of a hinge: an unsupported door falls. " +
	"Leave a fire door, or a door that people must get out by, to somebody licensed for it, and keep to your local code."

// cardHelp is how a good photo is taken.
const cardHelp = "Lay the hinge flat and open on a plain surface, with a library, gift or membership card (85.6 × 54 mm) or our printed one flat beside it, not touching: " +
	measure.NotThese + ". Its numbers may be covered. Hold the phone level above both, so that all of the hinge and the card is in the picture, in daylight and sharp."

// retakeText is what is asked of a customer whose photos cannot be measured.
func retakeText(findings []Finding) string {
	if len(findings) == 0 {
		return "We need a photo of the hinge beside a library or gift card, or its height and open width in inches or millimetres."
	}
	var lines []string
	for _, f := range findings {
		for _, r := range f.Result.RetakeReasons {
			line := r.Advice()
			if len(findings) > 1 {
				line = fmt.Sprintf("Photo %d: %s", f.PhotoN, line)
			}
			lines = append(lines, line)
		}
	}
	if len(lines) == 0 {
		return "The photo does not show enough to tell the hinge's size. Please send another one, or type its height and open width."
	}
	return strings.Join(lines, "\n")
}

// Letters returns letters that wait to be sent, oldest first, as they are to be sent: with
// the customer's link in them.
func (d *Desk) Letters(ctx context.Context, limit int) ([]Letter, error) {
	letters, err := d.repo.Letters(ctx, limit)
	if err != nil {
		return nil, err
	}
	for i, l := range letters {
		if !strings.Contains(l.Body, LinkMark) {
			continue
		}
		q, err := d.repo.Inquiry(ctx, l.Inquiry)
		if err != nil {
			return nil, err
		}
		link, err := d.Link(ctx, q)
		if err != nil {
			return nil, err
		}
		letters[i].Body = strings.ReplaceAll(l.Body, LinkMark, link)
	}
	return letters, nil
}

// LetterSent notes that a letter is out.
func (d *Desk) LetterSent(ctx context.Context, id int64, at time.Time) error {
	return d.repo.LetterSent(ctx, id, at)
}

// Intentions returns revisions that wait to be measured, oldest first.
func (d *Desk) Intentions(ctx context.Context, madeBefore time.Time, limit int) ([]Intention, error) {
	return d.repo.Intentions(ctx, madeBefore, limit)
}

// write puts a letter into c. Nothing is written where there is no address, or where the
// program by itself would answer automatic mail (RFC 3834).
func (d *Desk) write(c *Change, replyTo string, by Role, l Letter) {
	q := c.Inquiry
	if q.Contact.Email == "" || q.Automatic && by == ByProgram {
		return
	}
	l.Inquiry, l.To, l.ReplyTo, l.Made = q.ID, q.Contact, replyTo, q.Updated
	// A second request of the counter's is a new letter; the same act done twice is not.
	l.Key = fmt.Sprintf("%s:%d:%d", l.Kind, q.ID, q.Version+1)
	tag := make([]byte, 9)
	rand.Read(tag) // so that nobody can guess an inquiry's Message-ID and write into it
	l.MessageID = fmt.Sprintf("%s.%d.%s@%s", l.Kind, q.ID, hex.EncodeToString(tag), d.mailHost())
	c.Letters = append(c.Letters, l)
	c.Messages = append(c.Messages, l.MessageID)
}

// mailHost is the right-hand side of the Message-IDs of letters.
func (d *Desk) mailHost() string {
	if _, host, ok := strings.Cut(d.terms.From.Email, "@"); ok && host != "" {
		return host
	}
	if u, err := url.Parse(d.terms.BaseURL); err == nil && u.Hostname() != "" {
		return u.Hostname()
	}
	return "localhost"
}

// replyTo is the customer's e-mail that started the inquiry, as the first letter has it.
func replyTo(do Dossier) string {
	if len(do.Letters) > 0 {
		return do.Letters[0].ReplyTo
	}
	return ""
}

// letter puts a text between greeting and close.
func letter(t Terms, q Inquiry, kind, subject string, paragraphs ...string) Letter {
	greeting := "Hello,"
	if q.Contact.Name != "" {
		greeting = "Hello " + q.Contact.Name + ","
	}
	all := append([]string{greeting}, paragraphs...)
	all = append(all, t.Shop+"\nInquiry "+fmt.Sprint(q.ID)+": "+LinkMark+
		"\nWhoever has this link can see the inquiry: please keep it to yourself.")
	return Letter{Kind: kind, Subject: fmt.Sprintf("%s (inquiry %d)", subject, q.ID), Body: strings.Join(all, "\n\n") + "\n"}
}

// receiptLetter says what came in; same says of pictures that came more than once, or "".
func receiptLetter(t Terms, q Inquiry, photos int, same string) Letter {
	next := "Next, the hinge is measured in the picture and somebody at the counter looks at the result."
	if photos == 0 {
		next = "Next, what you typed is worked out and somebody at the counter looks at it."
	}
	paragraphs := []string{"We have your question " + received(photos) + ". " + next + " We write to you if we need anything more."}
	if same != "" {
		paragraphs = append(paragraphs, same)
	}
	if heard := q.Understood(); heard != "" {
		paragraphs = append(paragraphs, "We understood: "+heard+". Tell us where that is wrong.")
	}
	return letter(t, q, "receipt", "We have your hinge question", append(paragraphs,
		"You can see how far it is, add a photo or a size, or withdraw the question on this page:\n"+LinkMark,
		"You can also simply answer this e-mail.")...)
}

func retakeLetter(t Terms, q Inquiry, message string) Letter {
	subject := "One more photo of your hinge, please"
	if len(q.Photos) == 0 {
		subject = "A photo of your hinge, please"
	}
	return letter(t, q, "retake", subject,
		message,
		"How it works best: "+cardHelp,
		"Caution: "+doorCaution,
		"Send it by answering this e-mail, or on this page:\n"+LinkMark)
}

func questionLetter(t Terms, q Inquiry, question string) Letter {
	return letter(t, q, "question", "One question about your hinge",
		"To be sure that the new hinge fits, we need one more thing from you:",
		question,
		"If the hinge must come off for it: "+doorCaution,
		"Answer this e-mail, or write it on this page:\n"+LinkMark)
}

func declinedLetter(t Terms, q Inquiry, message string) Letter {
	return letter(t, q, "declined", "About your hinge question",
		"We are sorry that we cannot supply a hinge for this one.",
		message)
}

// quoteLetter is the letter of quote o; former is the one that it replaces, or nil.
func quoteLetter(t Terms, q Inquiry, o Quote, former *Quote) Letter {
	var lines []string
	for _, l := range o.Lines {
		name := l.Text
		if l.StockNumber != "" {
			name = l.StockNumber + ", " + name
		}
		lines = append(lines, fmt.Sprintf("%d × %s: %s each, %s", l.Count, name, Money(l.Each), Money(l.Sum)))
	}
	for _, s := range o.Sums() {
		lines = append(lines, s.Name+": "+Money(s.Amount))
	}
	lines = append(lines, "Good until "+Day(o.Valid))
	paragraphs := []string{"Here is our quote " + o.Number + " for your hinge."}
	add := func(head string, list []string) {
		if len(list) > 0 {
			paragraphs = append(paragraphs, head+"\n- "+strings.Join(list, "\n- "))
		}
	}
	if former != nil {
		add("It replaces our quote "+former.Number+", which no longer holds:", changes(*former, o))
	}
	if o.Message != "" {
		paragraphs = append(paragraphs, o.Message)
	}
	paragraphs = append(paragraphs, strings.Join(lines, "\n"))
	if o.Fit.Verdict != "" {
		paragraphs = append(paragraphs, o.VerdictSentence())
	}
	add("Mind:", o.Fit.Warnings)
	add("Work that is left:", o.Fit.Work)
	add("Please note:", o.Notes)
	add("Caution:", o.Cautions)
	paragraphs = append(paragraphs, "Take it or turn it down on this page, or answer this e-mail:\n"+LinkMark)
	l := letter(t, q, "quote", "Your quote "+o.Number, paragraphs...)
	l.Quote = o.Number
	return l
}

// changes says, a line each, which sums of a quote differ from those of the one before.
func changes(was, is Quote) (list []string) {
	for _, part := range []string{"Sum of the lines", "Discount", "Delivery", "Tax", "To pay"} {
		if old, now := was.part(part), is.part(part); old != now {
			list = append(list, part+": "+now+", before it was "+old)
		}
	}
	if list == nil {
		return []string{"The sums are as they were"}
	}
	return list
}

// part is one sum of the quote as it is written; "nothing" where there is none.
func (q Quote) part(name string) string {
	amount := q.Total
	switch name {
	case "Sum of the lines":
		amount, _ = q.goods(q.Net.CurrencyCode()) // a kept quote is in one currency
	case "Discount":
		if q.Discount == nil {
			return "nothing"
		}
		amount = q.Discount.Amount
	case "Delivery":
		if q.Delivery == nil {
			return "nothing"
		}
		amount = q.Delivery.Amount
	case "Tax":
		amount = q.Tax
	}
	if amount.IsZero() {
		return "nothing"
	}
	return Money(amount)
}

func extendedLetter(t Terms, q Inquiry, o Quote, message string) Letter {
	paragraphs := []string{"Our quote " + o.Number + " for your hinge is now good until " + Day(o.Valid) + ". Nothing else of it has changed.", "To pay: " + Money(o.Total)}
	if message != "" {
		paragraphs = append(paragraphs, message)
	}
	paragraphs = append(paragraphs, "Take it or turn it down on this page, or answer this e-mail:\n"+LinkMark)
	l := letter(t, q, "quote", "Your quote "+o.Number+" is good for longer", paragraphs...)
	l.Quote = o.Number
	return l
}

// VerdictSentence says how the new hinge sits where the old one was, and how sure that is.
func (q Quote) VerdictSentence() string {
	f := q.Fit
	sentence := verdict(f)
	if f.BelowFire != "" {
		sentence = belowFire(f)
	}
	try := "try it in its place before you cut or drill."
	if f.FireRated {
		try = "try it in its place first."
	}
	switch p := f.P; {
	case p <= 0 || p > 0.995 || f.Verdict == "":
		return sentence
	case p >= catalog.SureEnough:
		return fmt.Sprintf("%s We are %.0f %% sure.", sentence, 100*p)
	default:
		return fmt.Sprintf("%s That is not certain (%.0f %%): %s", sentence, 100*p, try)
	}
}

// belowFire says how a hinge sits that is less than is published for a fire door.
func belowFire(f catalog.Fit) string {
	least := "is below the published least for a fire door: " + f.BelowFire + "."
	if f.Verdict == catalog.DropsIn {
		return "This hinge fits the old cut-out but " + least
	}
	return verdict(f) + " It " + least
}

// verdict says how a hinge sits. What is left to do on a fire door is not for everybody.
func verdict(f catalog.Fit) string {
	const whose = "; changing that on a labelled door is for its label service or a licensed shop."
	switch v := f.Verdict; v {
	case "":
		return "A hinge for your door."
	case catalog.DropsIn:
		return "This hinge drops in: same cut-out, same screw holes."
	case catalog.NewHoles:
		if f.FireRated {
			return "This hinge fits the old cut-out, but its screw holes lie elsewhere" + whose
		}
		return "This hinge fits the old cut-out; it needs new screw holes."
	case catalog.CutOutWork:
		if f.FireRated {
			return "This hinge does not fit the old cut-out as it is" + whose
		}
		return "This hinge fits once the cut-out has been worked."
	case catalog.LeavesGap:
		if f.FireRated {
			return "This hinge leaves a gap in the old cut-out" + whose
		}
		return "This hinge leaves a gap in the old cut-out."
	case catalog.DoesNotSuit:
		return "This hinge does not suit the place of the old one."
	default:
		return "How this hinge sits: " + string(v) + "."
	}
}
