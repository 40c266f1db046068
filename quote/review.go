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
	"leafgauge/measure"
)

// defaultValidDays is how long a quote holds where the shop did not say (common practice,
// no source).
const defaultValidDays = 30

// Price works out the quote of an approval without writing anything.
func (d *Desk) Price(ctx context.Context, id ID, a Approval) (Quote, error) {
	order, err := d.order(ctx, a)
	if err != nil {
		return Quote{}, err
	}
	do, err := d.repo.Dossier(ctx, id)
	if err != nil {
		return Quote{}, err
	}
	return d.price(do, order, "", a)
}

// order looks up the stock hinges of an approval. The first line is the proposed hinge.
func (d *Desk) order(ctx context.Context, a Approval) ([]ordered, error) {
	var order []ordered
	for n, w := range append([]Wanted{{StockNumber: a.StockNumber, Count: a.Count, Each: a.Each}}, a.More...) {
		o := ordered{Wanted: w}
		o.Text = oneLine(w.Text)
		if n > 0 && o.Count == 0 {
			o.Count = 1
		}
		if number := strings.TrimSpace(w.StockNumber); number != "" || n == 0 {
			if o.Text != "" {
				return nil, invalidLine("A line has a stock number (%s) or words (“%s”), not both.", number, short(o.Text))
			}
			item, err := d.item(ctx, number)
			if err != nil {
				return nil, err
			}
			o.item = &item
		}
		order = append(order, o)
	}
	return order, nil
}

// item finds a stock hinge by its number, in small letters or capitals where only one is meant.
func (d *Desk) item(ctx context.Context, number string) (catalog.Item, error) {
	item, err := d.repo.StockItem(ctx, number)
	if !errors.Is(err, ErrNotFound) {
		return item, err
	}
	stock, err := d.repo.Stock(ctx)
	if err != nil {
		return item, err
	}
	var like []catalog.Item
	for _, i := range stock {
		if strings.EqualFold(i.StockNumber, number) {
			like = append(like, i)
		}
	}
	unknown := &intake.InvalidError{Field: "stock_number", Code: "unknown_stock_number",
		Text: fmt.Sprintf("There is no stock hinge “%s”: choose one of the list.", number)}
	switch len(like) {
	case 0:
		return item, unknown
	case 1:
		return like[0], nil
	}
	unknown.Text = fmt.Sprintf("“%s” may be %s or %s: type it in the same small letters and capitals.", number, like[0].StockNumber, like[1].StockNumber)
	return item, unknown
}

// price makes the quote of order at this moment.
func (d *Desk) price(do Dossier, order []ordered, who string, a Approval) (Quote, error) {
	now := d.now()
	q := Quote{
		Number:  fmt.Sprintf("%d-%d", do.Inquiry.ID, len(do.Quotes)+1),
		Inquiry: do.Inquiry.ID,
		For:     do.Inquiry.Contact.Name,
		Valid:   now.Add(d.validFor()),
		Made:    now,
		By:      who,
		Message: strings.TrimSpace(a.Message),
	}
	if len(do.Quotes) > 0 {
		q.Replaces = do.Quotes[0].Number
	}
	order = slices.Clone(order)
	item := *order[0].item
	door := do.Inquiry.Door
	var sits []string
	if p := do.Proposal; p != nil {
		door = p.Door
		q.Old = p.Best
		if order[0].Count == 0 {
			order[0].Count = p.Count
		}
		fitOf := func(i catalog.Item) int {
			return slices.IndexFunc(p.Fits, func(f catalog.Fit) bool { return f.Item.StockNumber == i.StockNumber })
		}
		if i := fitOf(item); i >= 0 {
			q.Fit = p.Fits[i]
		} else if p.Best.Height.Known() {
			if fits := catalog.Rank(p.Best, []catalog.Item{item}, door, do.Inquiry.Wishes); len(fits) > 0 {
				q.Fit = fits[0]
			}
		}
		for _, o := range order[1:] {
			if o.item == nil {
				continue
			}
			if i := fitOf(*o.item); i >= 0 {
				f := p.Fits[i]
				sits = append(sits, fmt.Sprintf("%s in place of the old hinge: %s, %s sure.", o.item.StockNumber, f.Verdict, measure.Percent(f.P)))
			}
		}
	}
	q.Fit.Item = item // as it is today, not as it was when it was ranked
	if err := q.price(order, a, d.terms); err != nil {
		return Quote{}, err
	}
	q.Notes = slices.Concat(q.Notes, sits, do.countNote(q.Lines[0].Asked), do.finishNote(item), Doubts(q.Old), Unmeasured(do.Findings))
	q.Cautions = catalog.ForCustomer(cautions(catalog.AdviseDoor(door, do.Inquiry.job(q.Fit, q.Old.Said))))
	q.Fit.Warnings, q.Fit.Work = catalog.ForCustomer(q.Fit.Warnings), catalog.ForCustomer(q.Fit.Work)
	return q, nil
}

func (d *Desk) validFor() time.Duration {
	days := d.terms.ValidDays
	if days <= 0 {
		days = defaultValidDays
	}
	return time.Duration(days) * 24 * time.Hour
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

// Unmeasured says of each photo that could not be measured why, and what to do about it.
func Unmeasured(findings []Finding) []string {
	var all []string
	for _, f := range findings {
		if f.Result.Status != measure.Retake {
			continue
		}
		text := fmt.Sprintf("Photo %d could not be measured.", f.PhotoN)
		for _, r := range f.Result.RetakeReasons {
			text += " " + r.Advice()
		}
		all = append(all, text)
	}
	return all
}

// countNote asks which number is meant where that asked for, which is quoted, is not what the doors take.
func (do Dossier) countNote(quoted int) []string {
	if do.Proposal == nil {
		return nil
	}
	c := do.Proposal.Counted
	if !c.Disagree() || quoted != c.Told {
		return nil
	}
	return []string{fmt.Sprintf("You asked for %s; by the doors it would be %d: tell us if you want %d.", catalog.Count(c.Told, "hinge", "hinges"), c.ByDoors, c.ByDoors)}
}

// finishNote says of plated steel that it is not the metal that was named.
func (do Dossier) finishNote(item catalog.Item) []string {
	if note := catalog.PlatedNote(do.Inquiry.Wishes.Heard(do.Inquiry.Readings().Statements).Finish, item); note != "" {
		return []string{note}
	}
	return nil
}

// job is that of fitting a hinge for q, by what its customer wrote and said.
func (q Inquiry) job(f catalog.Fit, said []measure.Statement) catalog.Job {
	if len(said) == 0 { // nothing was proposed yet
		said = q.Readings().Statements
	}
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

// AgainstNotConfirmed is the code of a hinge that goes against what the customer said, and nobody said that it is meant.
const AgainstNotConfirmed = "against_not_confirmed"

// Approve makes the quote and sends it. version is the one that the counter saw.
func (d *Desk) Approve(ctx context.Context, id ID, version int, who string, a Approval) (Quote, error) {
	return d.offer(ctx, id, version, who, a, func(made Quote, c *Change) error {
		if err := d.move(c, Approved, ByCounter, who, "approved", approvedText(made)); err != nil {
			return err
		}
		return d.move(c, Quoted, ByProgram, "", "quoted", made.Number)
	})
}

// Revise makes another quote in place of the one that is out, and sends it.
func (d *Desk) Revise(ctx context.Context, id ID, version int, who string, a Approval) (Quote, error) {
	return d.offer(ctx, id, version, who, a, func(made Quote, c *Change) error {
		if c.Inquiry.Status != Quoted || made.Replaces == "" {
			return fmt.Errorf("inquiry %d, %s: nothing to revise: %w", id, c.Inquiry.Status, ErrMove)
		}
		return d.move(c, Quoted, ByCounter, who, "revised", fmt.Sprintf("%s replaces %s: %s", made.Number, made.Replaces, approvedText(made)))
	})
}

// offer makes a quote, has it moved where it belongs, and sends it. The quote before it is marked replaced.
func (d *Desk) offer(ctx context.Context, id ID, version int, who string, a Approval, moved func(Quote, *Change) error) (Quote, error) {
	order, err := d.order(ctx, a)
	if err != nil {
		return Quote{}, err
	}
	var made Quote
	_, err = d.change(ctx, id, func(do Dossier, c *Change) error {
		if err := current(do, version); err != nil {
			return err
		}
		made, err = d.price(do, order, who, a)
		if err != nil {
			return err
		}
		if len(do.Quotes) > 0 && do.Quotes[0].Valid.After(made.Valid) { // a longer promise stands
			made.Valid = do.Quotes[0].Valid
		}
		if err := moved(made, c); err != nil {
			return err
		}
		if against := made.Fit.AgainstSaid(); len(against) > 0 && !a.ConfirmedAgainst {
			return &intake.InvalidError{Field: "confirm_against", Code: AgainstNotConfirmed, Text: strings.Join(against, " ") + " Is that meant? Nothing was sent yet."}
		}
		odd, err := made.unusual(order)
		if err != nil {
			return err
		}
		if len(odd) > 0 && !a.Confirmed {
			return &intake.InvalidError{Field: "confirm_price", Code: "unusual_price",
				Text: strings.Join(odd, " ") + " Is that meant? Nothing was sent yet."}
		}
		c.Quote = &made
		if len(do.Quotes) > 0 {
			former := do.Quotes[0]
			former.ReplacedBy = made.Number
			c.Former = &former
		}
		c.Inquiry.Question = ""
		d.write(c, replyTo(do), ByCounter, quoteLetter(d.terms, c.Inquiry, made, c.Former))
		return nil
	})
	if err != nil {
		return Quote{}, err
	}
	return made, nil
}

func approvedText(q Quote) string {
	l := q.Lines[0]
	more := ""
	if n := len(q.Lines) - 1; n > 0 {
		more = " and " + catalog.Count(n, "more line", "more lines")
	}
	return fmt.Sprintf("%d × %s%s, %s in all", l.Count, l.StockNumber, more, Money(q.Total))
}

// Resend sends the letter of the newest quote once more, as the quote stands now.
func (d *Desk) Resend(ctx context.Context, id ID, version int, who string) error {
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		newest, err := d.out(do, version, c, who, "sent the quote again")
		if err != nil {
			return err
		}
		if newest.Expired(d.now()) {
			return &intake.InvalidError{Field: "valid_until", Code: "field", Text: fmt.Sprintf("The quote was good until %s: let it hold for longer first.", Day(newest.Valid))}
		}
		if do.Inquiry.Contact.Email == "" {
			return &intake.InvalidError{Field: "email", Code: "field", Text: "There is no e-mail address to send it to: print the PDF instead."}
		}
		var former *Quote
		if len(do.Quotes) > 1 {
			former = &do.Quotes[1]
		}
		d.write(c, replyTo(do), ByCounter, quoteLetter(d.terms, c.Inquiry, newest, former))
		return nil
	})
	return err
}

// maxExtended is how far ahead a quote may hold: a date further off is taken for a typing slip.
const maxExtended = 366 * 24 * time.Hour

// Extend lets the newest quote hold until the end of a later day, and tells the customer. The zero
// until is as many days from now as a new quote holds.
func (d *Desk) Extend(ctx context.Context, id ID, version int, who string, until time.Time, message string) error {
	now := d.now()
	if until.IsZero() {
		until = now.Add(d.validFor())
	}
	// Noon, so that the day stays the same day wherever it is written.
	until = time.Date(until.Year(), until.Month(), until.Day(), 12, 0, 0, 0, time.UTC)
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		q, err := d.out(do, version, c, who, "extended the quote")
		if err != nil {
			return err
		}
		c.Events[len(c.Events)-1].Text = q.Number + ", good until " + Day(until)
		was := q.Valid
		switch q.Valid = until; {
		case !q.lastDay().After(Quote{Valid: was}.lastDay()):
			return &intake.InvalidError{Field: "valid_until", Code: "field", Text: fmt.Sprintf("The quote is good until %s already: choose a later day.", Day(was))}
		case q.Expired(now):
			return &intake.InvalidError{Field: "valid_until", Code: "field", Text: Day(until) + " is past: choose a day to come."}
		case until.After(now.Add(maxExtended)):
			return &intake.InvalidError{Field: "valid_until", Code: "field", Text: Day(until) + " is more than a year ahead: choose an earlier day."}
		}
		c.Former = &q
		d.write(c, replyTo(do), ByCounter, extendedLetter(d.terms, c.Inquiry, q, strings.TrimSpace(message)))
		return nil
	})
	return err
}

// out is the quote that is out, for an act on it that leaves the inquiry quoted.
func (d *Desk) out(do Dossier, version int, c *Change, who, what string) (Quote, error) {
	if err := current(do, version); err != nil {
		return Quote{}, err
	}
	if do.Inquiry.Status != Quoted || len(do.Quotes) == 0 {
		return Quote{}, fmt.Errorf("inquiry %d, %s: no quote is out: %w", do.Inquiry.ID, do.Inquiry.Status, ErrMove)
	}
	return do.Quotes[0], d.move(c, Quoted, ByCounter, who, what, do.Quotes[0].Number)
}

// lastDay is the beginning of the last day on which the quote holds.
func (q Quote) lastDay() time.Time {
	y, m, day := q.Valid.Date()
	return time.Date(y, m, day, 0, 0, 0, 0, time.UTC)
}

// Expired reports whether the day that the quote says it is good until is over: everywhere on
// Earth, so that nobody is refused on that day.
func (q Quote) Expired(now time.Time) bool {
	const farthestWest = 12 * time.Hour // behind UTC
	return now.After(q.lastDay().Add(24*time.Hour + farthestWest))
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

// Decide records whether the newest quote was taken. Saying the same twice is harmless. A quote that
// was replaced is refused with ErrReplaced, and taking one whose day is over with ErrExpired.
func (d *Desk) Decide(ctx context.Context, id ID, by Role, who string, dec Decision) error {
	to := Lost
	if dec.Won {
		to = Won
	}
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		var newest Quote
		if len(do.Quotes) > 0 {
			newest = do.Quotes[0]
		}
		if dec.Quote != "" && dec.Quote != newest.Number {
			return fmt.Errorf("inquiry %d, quote %s: %w", id, dec.Quote, ErrReplaced)
		}
		if do.Inquiry.Status == to {
			return errNothing
		}
		if by == ByCustomer {
			c.Inquiry.Unread = true // the counter has something to do: pack it, or think about why
		}
		if err := d.move(c, to, by, who, string(to), strings.TrimSpace(dec.Why)); err != nil {
			return err
		}
		if dec.Won && newest.Number != "" && newest.Expired(d.now()) {
			return fmt.Errorf("inquiry %d, quote %s: %w", id, newest.Number, ErrExpired)
		}
		return nil
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
