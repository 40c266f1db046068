package quote

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/intake/readings"
	"leafgauge/measure"
)

// defaultValidDays is how long a quote holds where the shop did not say (common practice,
// no source).
const defaultValidDays = 30

// Price works out the quote of an approval without writing anything.
func (d *Desk) Price(ctx context.Context, id ID, a Approval) (Quote, error) {
	item, err := d.item(ctx, a.StockNumber)
	if err != nil {
		return Quote{}, err
	}
	do, err := d.repo.Dossier(ctx, id)
	if err != nil {
		return Quote{}, err
	}
	return d.price(do, item, "", a)
}

func (d *Desk) item(ctx context.Context, number string) (catalog.Item, error) {
	item, err := d.repo.StockItem(ctx, strings.TrimSpace(number))
	if errors.Is(err, ErrNotFound) {
		return item, &intake.InvalidError{Field: "stock_number", Code: "unknown_stock_number",
			Text: fmt.Sprintf("There is no stock hinge “%s”: choose one of the list.", number)}
	}
	return item, err
}

// price makes the quote of a at this moment.
func (d *Desk) price(do Dossier, item catalog.Item, who string, a Approval) (Quote, error) {
	now := d.now()
	days := d.terms.ValidDays
	if days <= 0 {
		days = defaultValidDays
	}
	q := Quote{
		Number:  fmt.Sprintf("%d-%d", do.Inquiry.ID, len(do.Quotes)+1),
		Inquiry: do.Inquiry.ID,
		TaxRate: d.terms.TaxRate,
		Valid:   now.Add(time.Duration(days) * 24 * time.Hour),
		Made:    now,
		By:      who,
		Message: strings.TrimSpace(a.Message),
	}
	count := a.Count
	door := do.Inquiry.Door
	if p := do.Proposal; p != nil {
		door = p.Door
		q.Old = p.Best
		if count == 0 {
			count = p.Count
		}
		if i := slices.IndexFunc(p.Fits, func(f catalog.Fit) bool { return f.Item.StockNumber == item.StockNumber }); i >= 0 {
			q.Fit = p.Fits[i]
		} else if p.Best.Height.Known() {
			if fits := catalog.Rank(p.Best, []catalog.Item{item}, door, do.Inquiry.Wishes); len(fits) > 0 {
				q.Fit = fits[0]
			}
		}
	}
	q.Fit.Item = item // as it is today, not as it was when it was ranked
	var err error
	if q.Lines, q.Net, q.Tax, q.Total, q.Notes, err = PriceLines(item, count, a.Each, d.terms); err != nil {
		return Quote{}, err
	}
	q.Notes = append(q.Notes, Doubts(q.Old)...)
	q.Cautions = cautions(catalog.AdviseDoor(door, do.Inquiry.job(q.Fit, q.Old.Said)))
	return q, nil
}

// Doubts says, a sentence each, what in the photos and in the typed numbers does not agree. What the
// counter settled is no doubt any more.
func Doubts(b measure.Best) []string {
	var all []string
	for _, d := range b.Disagreements {
		if !d.Overrule {
			all = append(all, catalog.Capital(d.Sentence)+".")
		}
	}
	return all
}

// job is that of fitting a hinge for q, by what its customer wrote and said.
func (q Inquiry) job(f catalog.Fit, said []measure.Statement) catalog.Job {
	said = slices.Concat(said, readings.Parse(q.Wishes.Text).Statements)
	return catalog.JobOf(f, q.Wishes, said, q.Text+"\n"+q.Wishes.Text)
}

// cautions are those of the advice, or the one that goes with every hinge.
func cautions(advice []catalog.Advice) []string {
	var all []string
	for _, a := range advice {
		if a.Caution && !slices.Contains(all, a.Text) {
			all = append(all, a.Text)
		}
	}
	if len(all) == 0 {
		all = append(all, doorCaution)
	}
	return all
}

// current refuses an act on what somebody changed meanwhile.
func current(do Dossier, version int) error {
	if do.Inquiry.Version != version {
		return fmt.Errorf("inquiry %d, version %d: %w", do.Inquiry.ID, version, ErrStale)
	}
	return nil
}

// Approve makes the quote and sends it. version is the one that the counter saw.
func (d *Desk) Approve(ctx context.Context, id ID, version int, who string, a Approval) (Quote, error) {
	item, err := d.item(ctx, a.StockNumber)
	if err != nil {
		return Quote{}, err
	}
	var made Quote
	_, err = d.change(ctx, id, func(do Dossier, c *Change) error {
		if err := current(do, version); err != nil {
			return err
		}
		made, err = d.price(do, item, who, a)
		if err != nil {
			return err
		}
		if err := d.move(c, Approved, ByCounter, who, "approved", approvedText(made)); err != nil {
			return err
		}
		if err := d.move(c, Quoted, ByProgram, "", "quoted", made.Number); err != nil {
			return err
		}
		c.Quote = &made
		c.Inquiry.Question = ""
		d.write(c, replyTo(do), ByCounter, quoteLetter(d.terms, c.Inquiry, made))
		return nil
	})
	if err != nil {
		return Quote{}, err
	}
	return made, nil
}

func approvedText(q Quote) string {
	l := q.Lines[0]
	return fmt.Sprintf("%d × %s, %s in all", l.Count, l.StockNumber, Money(q.Total))
}

// AskPhoto asks the customer for another photo.
func (d *Desk) AskPhoto(ctx context.Context, id ID, version int, who, message string) error {
	return d.ask(ctx, id, version, who, message, NeedsPhoto, "asked for a photo", retakeLetter)
}

// AskQuestion asks the customer one question.
func (d *Desk) AskQuestion(ctx context.Context, id ID, version int, who, question string) error {
	return d.ask(ctx, id, version, who, question, NeedsAnswer, "asked a question", questionLetter)
}

func (d *Desk) ask(ctx context.Context, id ID, version int, who, message string, to Status, what string, letter func(Terms, Inquiry, string) Letter) error {
	message = strings.TrimSpace(message)
	if message == "" {
		return &intake.InvalidError{Field: "message", Code: "empty", Text: "Write what the customer should send or answer."}
	}
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		if err := current(do, version); err != nil {
			return err
		}
		c.Inquiry.Question = message
		if err := d.move(c, to, ByCounter, who, what, message); err != nil {
			return err
		}
		d.write(c, replyTo(do), ByCounter, letter(d.terms, c.Inquiry, message))
		return nil
	})
	return err
}

// Decline tells the customer that the shop cannot help, and why.
func (d *Desk) Decline(ctx context.Context, id ID, version int, who, message string) error {
	message = strings.TrimSpace(message)
	if message == "" {
		return &intake.InvalidError{Field: "message", Code: "empty", Text: "Write to the customer why the shop cannot help."}
	}
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		if err := current(do, version); err != nil {
			return err
		}
		c.Inquiry.Question = ""
		if err := d.move(c, Declined, ByCounter, who, "declined", message); err != nil {
			return err
		}
		d.write(c, replyTo(do), ByCounter, declinedLetter(d.terms, c.Inquiry, message))
		return nil
	})
	return err
}

// Withdraw closes an inquiry on the customer's wish. Doing it twice is harmless.
func (d *Desk) Withdraw(ctx context.Context, id ID, by Role, who string) error {
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		if do.Inquiry.Status == Withdrawn {
			return errNothing
		}
		c.Inquiry.Question = ""
		return d.move(c, Withdrawn, by, who, "withdrawn", "")
	})
	return err
}

// Decide records whether a quote was taken. Saying the same twice is harmless.
func (d *Desk) Decide(ctx context.Context, id ID, by Role, who string, won bool, why string) error {
	to := Lost
	if won {
		to = Won
	}
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		if do.Inquiry.Status == to {
			return errNothing
		}
		if by == ByCustomer {
			c.Inquiry.Unread = true // the counter has something to do: pack it, or think about why
		}
		return d.move(c, to, by, who, string(to), strings.TrimSpace(why))
	})
	return err
}

// Overrule overrules a suggested slip ("height:swapped") and has the inquiry measured again,
// or accepts it: accepting one that was never overruled is only written down.
func (d *Desk) Overrule(ctx context.Context, id ID, version int, who, slip string, overrule bool) error {
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		if err := current(do, version); err != nil {
			return err
		}
		q := &c.Inquiry
		known := slices.Contains(q.Overrule, slip)
		if p := do.Proposal; p != nil && !known {
			for _, dis := range p.Best.Disagreements {
				known = known || slip == string(dis.Quantity)+":"+dis.Slip
			}
		}
		if !known {
			return &intake.InvalidError{Field: "slip", Code: "unknown_slip",
				Text: fmt.Sprintf("There is no disagreement %q in this inquiry: load the page again.", slip)}
		}
		switch standing := slices.Contains(q.Overrule, slip); {
		case overrule && standing:
			return errNothing
		case overrule:
			q.Overrule = append(slices.Clone(q.Overrule), slip)
			return d.measureAgain(c, ByCounter, who, "overruled", slip)
		case standing:
			q.Overrule = slices.DeleteFunc(slices.Clone(q.Overrule), func(s string) bool { return s == slip })
			return d.measureAgain(c, ByCounter, who, "accepted", slip)
		}
		note(c, ByCounter, who, "accepted", slip)
		return nil
	})
	return err
}

// Note writes a remark into the timeline. Where who is a person, it also says that what the
// customer wrote has been read; text may be empty for that alone.
func (d *Desk) Note(ctx context.Context, id ID, who, text string) error {
	text = strings.TrimSpace(text)
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		switch {
		case who == "" && text == "", text == "" && !do.Inquiry.Unread:
			return errNothing
		case who == "":
			note(c, ByProgram, "", "note", text)
			return nil
		}
		c.Inquiry.Unread = false
		what := "note"
		if text == "" {
			what = "read"
		}
		note(c, ByCounter, who, what, text)
		return nil
	})
	return err
}
