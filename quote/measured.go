package quote

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/measure/reconcile"
)

// maxRetakes is how many retake letters the program sends by itself; then a person looks.
const maxRetakes = 3

// Start begins measuring one revision: it moves the inquiry to Measuring and returns it.
// ErrStale means that the revision is measured already, was overtaken, or is closed.
func (d *Desk) Start(ctx context.Context, id ID, revision int) (Inquiry, error) {
	return d.change(ctx, id, func(do Dossier, c *Change) error {
		switch {
		case do.Inquiry.Revision != revision:
			return stale(id, revision)
		case do.Inquiry.Status == Measuring: // a job may run twice
			return errNothing
		case do.Inquiry.Status != Received:
			return stale(id, revision)
		}
		return d.move(c, Measuring, ByProgram, "", "measuring", "")
	})
}

// Finish takes the readings and findings of one revision, reconciles, ranks, and writes the
// proposal, the retake request or the question. Doing it twice is harmless (ErrStale).
func (d *Desk) Finish(ctx context.Context, id ID, revision int, typed measure.Readings, findings []Finding) error {
	before, err := d.repo.Dossier(ctx, id)
	if err != nil {
		return err
	}
	q := before.Inquiry
	if q.Revision != revision || q.Status != Measuring {
		return stale(id, revision)
	}
	stock, err := d.repo.Stock(ctx)
	if err != nil {
		return err
	}
	findings = slices.Clone(findings)
	for i := range findings {
		findings[i].Inquiry, findings[i].Revision = id, revision
	}
	slices.SortFunc(findings, func(a, b Finding) int { return a.PhotoN - b.PhotoN })
	// Everything that the proposal is made of changes only with the revision, so this may
	// stand outside the transaction.
	if n := sentInstead(before); n > 0 {
		q.Text = fmt.Sprintf("photo %d\n\n%s", n, q.Text) // what was written of photos counts more
	}
	p := propose(q, typed, findings, stock, justTold(before)...)
	_, err = d.change(ctx, id, func(do Dossier, c *Change) error {
		if do.Inquiry.Revision != revision || do.Inquiry.Status != Measuring {
			return stale(id, revision)
		}
		made := p // each time anew: the question may be worded by what was asked before
		made.Made = c.Inquiry.Updated
		if p.Question != nil {
			question := *p.Question
			made.Question = &question
		}
		c.Findings, c.Proposal, c.Settled = findings, &made, revision
		return d.conclude(do, c)
	})
	return err
}

func stale(id ID, revision int) error {
	return fmt.Errorf("inquiry %d, revision %d: %w", id, revision, ErrStale)
}

// propose makes the proposal of one revision. What was just told is not asked for.
func propose(q Inquiry, typed measure.Readings, findings []Finding, stock []catalog.Item, told ...measure.Quantity) Proposal {
	p := Proposal{Inquiry: q.ID, Revision: q.Revision, Readings: typed, Fits: []catalog.Fit{}}
	p.Best = reconcile.Best(results(findings), aboutOne(q.Text, typed), q.Overrule)
	door, wish := Told(q.Door, q.Wishes, typed)
	p.Door = door
	p.Counted = catalog.CountHinges(p.Door, wish)
	p.Counted.Open = typed.CountOpen && q.Wishes.Count == 0
	p.Count = p.Counted.Wanted()
	if len(p.Best.Apart) > 1 {
		p.Question = whichHinge(p.Best.Apart)
	}
	if p.Best.Height.Known() {
		if fits := catalog.Rank(p.Best, stock, p.Door, wish); fits != nil {
			p.Fits = fits
		}
		p.Question = catalog.Ask(p.Best, p.Fits, p.Door, told...)
	}
	var fit catalog.Fit
	if len(p.Fits) > 0 {
		fit = p.Fits[0]
	}
	p.Advice = catalog.AdviseDoor(p.Door, q.job(fit, typed.Statements))
	return p
}

// Told fills what is empty in door and wishes from what was typed.
func Told(door catalog.Door, wish catalog.Wishes, typed measure.Readings) (catalog.Door, catalog.Wishes) {
	for _, r := range typed.Readings {
		var field *measure.Length
		switch r.Quantity {
		case measure.QDoorWidth:
			field = &door.Width
		case measure.QDoorHeight:
			field = &door.Height
		case measure.QDoorThickness:
			field = &door.Thickness
		case measure.QDoorCount:
			if door.Count == 0 && r.Count != nil {
				door.Count = *r.Count
			}
		case measure.QHingesPerDoor:
			if door.Hinges == 0 && r.Count != nil {
				door.Hinges = *r.Count
			}
		case measure.QHingeCount:
			if wish.Count == 0 && r.Count != nil {
				wish.Count = *r.Count
			}
		}
		if field != nil && *field == 0 && r.Value != nil {
			*field = *r.Value
		}
	}
	return door.Heard(typed.Statements), wish
}

// enough reports whether the hinge is known well enough to look for another.
func enough(b measure.Best) bool {
	if !b.Height.Known() {
		return false
	}
	return b.OpenWidth.Known() || slices.ContainsFunc(b.Leaves, func(l measure.Leaf) bool { return l.Width.Known() })
}

// conclude moves a measured inquiry on: to the customer, who is asked for a photo or one
// answer, or to the counter. What was asked before and brought nothing new is not asked
// again: a person looks instead.
func (d *Desk) conclude(do Dossier, c *Change) error {
	p := c.Proposal
	measured := slices.ContainsFunc(c.Findings, func(f Finding) bool { return f.Result.Status == measure.Measured })
	basis, vague := basisText(c.Findings, measured), unused(do)
	if vague != "" {
		basis += " The answer “" + vague + "” could not be used."
	}

	if len(p.Best.Apart) > 1 {
		if asked(do.Events, p.Question.Text) {
			d.sayUnused(do, c, vague)
			return d.move(c, Ready, ByProgram, "", "measured", "The photos show different hinges, and asking which one brought no answer that says so: please look.")
		}
		note(c, ByProgram, "", "measured", "The photos show different hinges.")
		return d.askAnswer(do, c, p.Question.Text)
	}
	if !enough(p.Best) {
		retakes, seen := 0, 0 // how often the program asked, and how many photos it had seen by then
		for _, e := range do.Events {
			switch e.What {
			case "asked for a photo":
				if e.By == ByProgram {
					retakes++
					seen = -1
				}
			case "photo added":
				seen = 1
			}
		}
		if retakes >= maxRetakes || retakes > 0 && seen < 0 {
			return d.move(c, Ready, ByProgram, "", "measured", basis+" It is not enough for a proposal, and asking again brought nothing new: please look.")
		}
		return d.askForPhoto(do, c, retakeText(c.Findings))
	}
	if p.Best.OfAnotherHinge() {
		if p.Question != nil && !asked(do.Events, p.Question.Text) {
			note(c, ByProgram, "", "measured", basis+" The photo and the typed sizes look like two hinges.")
			return d.askAnswer(do, c, p.Question.Text)
		}
		d.sayUnused(do, c, vague)
		return d.move(c, Ready, ByProgram, "", "measured", basis+" The photo and the typed sizes look like two hinges: please look.")
	}
	if wordedAnew(do, p.Question) {
		note(c, ByProgram, "", "measured", basis)
		if vague != "" {
			p.Question.Text = cannotUse(vague) + "\n" + p.Question.Text
		}
		if p.Question.Quantity == catalog.QPhoto {
			message := p.Question.Text
			if !measured && len(c.Findings) > 0 {
				message = retakeText(c.Findings) + "\n" + message
			}
			return d.askForPhoto(do, c, message)
		}
		return d.askAnswer(do, c, p.Question.Text)
	}
	d.sayUnused(do, c, vague)
	return d.move(c, Ready, ByProgram, "", "measured", basis)
}

// wordedAnew reports whether a question may be put: not the one that was put before, nor for the same as the last
// one, unless there is another way to answer, by which it is worded then.
func wordedAnew(do Dossier, q *catalog.Question) bool {
	if q == nil {
		return false
	}
	last, _ := askedLast(do)
	if again := last != nil && last.Quantity == q.Quantity && q.Quantity != catalog.QPhoto; !again && !asked(do.Events, q.Text) {
		return true
	}
	if q.Other == "" || asked(do.Events, q.Other) {
		return false
	}
	q.Text = q.Other
	return true
}

// sayUnused tells the customer that the counter looks where the answer could not be used.
func (d *Desk) sayUnused(do Dossier, c *Change, words string) {
	if words != "" {
		d.write(c, replyTo(do), ByProgram, unusedLetter(d.terms, c.Inquiry, words))
	}
}

// whichHinge asks which of several hinges it is about; apart are the numbers of the photos by hinge.
func whichHinge(apart [][]int) *catalog.Question {
	var each []string
	for _, n := range apart {
		each = append(each, measure.PhotoNames(n))
	}
	last := len(each) - 1
	many := "two"
	if len(each) > 2 {
		many = fmt.Sprint(len(each))
	}
	return &catalog.Question{Quantity: catalog.QPhoto, Text: fmt.Sprintf("Your photos show %s different hinges: %s and %s. Which one is it about? "+
		"Answer with the number of its photo, such as \"photo %d\"; for the other, send it as a new question.", many, strings.Join(each[:last], ", "), each[last], apart[0][0])}
}

// askAnswer moves on to NeedsAnswer by the program.
func (d *Desk) askAnswer(do Dossier, c *Change, question string) error {
	c.Inquiry.Question = question
	if err := d.move(c, NeedsAnswer, ByProgram, "", "asked a question", question); err != nil {
		return err
	}
	d.write(c, replyTo(do), ByProgram, questionLetter(d.terms, c.Inquiry, question))
	return nil
}

// askForPhoto moves on to NeedsPhoto by the program.
func (d *Desk) askForPhoto(do Dossier, c *Change, message string) error {
	c.Inquiry.Question = message
	if err := d.move(c, NeedsPhoto, ByProgram, "", "asked for a photo", message); err != nil {
		return err
	}
	d.write(c, replyTo(do), ByProgram, retakeLetter(d.terms, c.Inquiry, message))
	return nil
}

// asked reports whether a question was put to the customer before.
func asked(events []Event, question string) bool {
	return slices.ContainsFunc(events, func(e Event) bool {
		return strings.HasSuffix(e.Text, question) && (e.What == "asked a question" || e.What == "asked for a photo")
	})
}

// basisText says what the measuring rests on.
func basisText(findings []Finding, measured bool) string {
	var refused []string
	for _, f := range findings {
		if f.Result.Status == measure.Measured {
			continue
		}
		var reasons []string
		for _, r := range f.Result.RetakeReasons {
			reasons = append(reasons, strings.ReplaceAll(string(r), "_", " "))
		}
		refused = append(refused, fmt.Sprintf("photo %d could not be measured (%s)", f.PhotoN, strings.Join(reasons, ", ")))
	}
	var text string
	switch {
	case len(findings) == 0:
		text = "From the typed readings alone: there is no photo"
	case !measured:
		text = "From the typed readings alone"
	default:
		text = "From the photo and what was typed"
	}
	if len(refused) > 0 {
		text += "; " + strings.Join(refused, "; ")
	}
	return text + "."
}

// Fail marks an inquiry stuck: its job has failed for good.
func (d *Desk) Fail(ctx context.Context, id ID, revision int, cause string) error {
	_, err := d.change(ctx, id, func(do Dossier, c *Change) error {
		if s := do.Inquiry.Status; do.Inquiry.Revision != revision || s != Measuring && s != Received {
			return stale(id, revision)
		}
		return d.move(c, Stuck, ByProgram, "", "stuck", cause)
	})
	return err
}
