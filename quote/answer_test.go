package quote_test

import (
	"math"
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// thick is a photo of a hinge whose barrel says little of its leaf: 4 x 4 in, a pin of 6.4 mm and leaves of 3.27 mm.
func thick(t *testing.T) measure.Result {
	for _, i := range shelf(t) {
		if i.Height == 4*measure.Inch && i.OpenWidth == 4*measure.Inch && len(i.Holes) > 0 && i.Handing == "" {
			i.Barrel = 12.96
			return seen(i)
		}
	}
	t.Fatal("no such hinge")
	return measure.Result{}
}

// last is the newest letter of an inquiry, in one line.
func last(d quote.Dossier) string {
	return strings.Join(strings.Fields(d.Letters[len(d.Letters)-1].Body), " ")
}

// Two explanations of one number that are about as likely are asked about, and what is answered is weighed; the same is not
// asked twice.
func TestRivalsAreAskedAbout(t *testing.T) {
	ask := func(t *testing.T, text string) (*bench, quote.ID, quote.Dossier) {
		b := newBench(t)
		id := b.receive(t, func(s *quote.Submission) { s.Text = text }).Inquiry.ID
		return b, id, b.measured(t, id, thick(t))
	}
	add := func(t *testing.T, b *bench, id quote.ID, text string) quote.Dossier {
		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, text, "")
		require.NoError(t, err)
		return b.measured(t, id, thick(t))
	}
	const typed = "thickness .192 in"
	t.Run("by a letter that names both", func(t *testing.T) {
		_, _, d := ask(t, typed)
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		require.Less(t, d.Proposal.Best.Rivals[0].Odds, 30.0)
		require.Contains(t, last(d), "You typed .192 in for the thickness of a leaf: that may be 0.096 in (2.44 mm) or 0.129 in (3.28 mm). How thick is one leaf")
	})
	t.Run("a number that settles it", func(t *testing.T) {
		b, id, _ := ask(t, typed)
		d := add(t, b, id, ".129")
		require.Empty(t, d.Proposal.Best.Rivals)
		require.InDelta(t, 3.28, d.Proposal.Best.Thickness.Value.MM(), 0.05)
		require.NotEqual(t, quote.NeedsAnswer, d.Inquiry.Status, "%v", d.Proposal.Question)
	})
	t.Run("the same number again goes to the counter", func(t *testing.T) {
		b, id, _ := ask(t, typed)
		d := add(t, b, id, "it is .192 in thick, I looked again")
		require.Equal(t, quote.Ready, d.Inquiry.Status)
		require.NotEmpty(t, d.Proposal.Best.Rivals, "the counter sees them")
	})
	t.Run("an answer that says nothing", func(t *testing.T) {
		b, id, _ := ask(t, typed)
		d := add(t, b, id, "dunno, looks thin")
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		require.Contains(t, last(d), "We could not use the answer “dunno, looks thin” to our question.")
		require.Contains(t, last(d), "How many cards is it?", "in another way")
		require.Equal(t, typed+"\n\ndunno, looks thin", d.Inquiry.Text, "nothing is lost")
		d = add(t, b, id, "4 1/2")
		require.Equal(t, typed+"\n\ndunno, looks thin\n\nthickness 3.4 ± 0.3 mm (4 1/2)", d.Inquiry.Text)
		require.InDelta(t, 3.28, d.Proposal.Best.Thickness.Value.MM(), 0.3)
		require.Empty(t, d.Proposal.Best.Rivals)
	})
	t.Run("twice nothing goes to the counter, who sees the words", func(t *testing.T) {
		b, id, _ := ask(t, typed)
		add(t, b, id, "the usual")
		d := add(t, b, id, "idk")
		require.Equal(t, quote.Ready, d.Inquiry.Status)
		require.Contains(t, last(d), "We could not use the answer “idk” to our question. Nothing is lost")
		require.Contains(t, d.Events[len(d.Events)-1].Text, "The answer “idk” could not be used.")
	})
	t.Run("a number typed right asks nothing of it", func(t *testing.T) {
		_, _, d := ask(t, "thickness .129 in")
		require.Empty(t, d.Proposal.Best.Rivals)
		require.NotContains(t, d.Inquiry.Question, "thick")
	})
	t.Run("a size without a photo asks for the photo first", func(t *testing.T) {
		b := newBench(t)
		id := b.receive(t, func(s *quote.Submission) { s.Text, s.Photos = "3 1/2 high, 4 in wide", nil }).Inquiry.ID
		d := b.measured(t, id)
		require.NotEmpty(t, d.Proposal.Best.Rivals, "they may be swapped")
		require.Equal(t, quote.NeedsPhoto, d.Inquiry.Status)
		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "My phone is broken", "")
		require.NoError(t, err)
		d = b.measured(t, id)
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		require.Contains(t, last(d), "3½ in (88.9 mm)")
		require.Contains(t, last(d), "4 in (101.6 mm)")
	})
}

// The words "two and a half mm" choose between two values that were asked about.
func TestHalvesChooseBetweenTwoValues(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "thickness 2.84 mm" }).Inquiry.ID
	result := seen(twoAndAHalf(t))
	d := b.measured(t, id, result)
	require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
	require.Contains(t, last(d), "that may be 0.112 in (2.84 mm) or 0.098 in (2.48 mm)")
	_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "About two and a half mm", "")
	require.NoError(t, err)
	d = b.measured(t, id, result)
	require.Empty(t, d.Proposal.Best.Rivals)
	require.InDelta(t, 2.48, d.Proposal.Best.Thickness.Value.MM(), 0.05)
	require.NotEqual(t, quote.NeedsAnswer, d.Inquiry.Status)
}

// twoAndAHalf is a hinge of 4 x 4 in with leaves of 0.097 in.
func twoAndAHalf(t *testing.T) catalog.Item {
	for _, i := range shelf(t) {
		if i.Height == 4*measure.Inch && i.OpenWidth == 4*measure.Inch && len(i.Holes) > 0 && i.Handing == "" && math.Abs(i.Thickness.MM()-2.464) < 0.01 {
			return i
		}
	}
	t.Fatal("no such hinge")
	return catalog.Item{}
}

// What was corrected is not called as told.
func TestACorrectedThicknessIsNotAsTold(t *testing.T) {
	b := newBench(t)
	for text, want := range map[string]string{"thickness 0.129 in": "as told", "thickness 1.29 in": "typed 1.29 in, taken as 0.129 in (3.28 mm)"} {
		id := b.receive(t, func(s *quote.Submission) { s.Text = text }).Inquiry.ID
		d := b.measured(t, id, thick(t))
		require.Contains(t, strings.Join(d.Proposal.Fits[0].Reasons, "\n"), ", "+want+".", text)
	}
}

// Answers as people give them: what answers the question, and what does not.
func TestAnswersClearAndVague(t *testing.T) {
	for _, c := range []struct {
		asked  measure.Quantity
		answer string
		used   bool
	}{
		{measure.QThickness, "0.086", true},
		{measure.QThickness, ".129 in", true},
		{measure.QThickness, "86 thou", true},
		{measure.QThickness, "2.2 mm", true},
		{measure.QThickness, "about 2 mm", true},
		{measure.QThickness, "2,2mm", true},
		{measure.QThickness, "3/32 or so", true},
		{measure.QThickness, "it is 0.13 inches thick", true},
		{measure.QThickness, "3 bank cards", true},
		{measure.QThickness, "two and a half cards", true},
		{measure.QThickness, "3½ cards", true},
		{measure.QThickness, "2 to 3 cards", true},
		{measure.QThickness, "dunno, looks thin", false},
		{measure.QThickness, "not sure", false},
		{measure.QThickness, "the usual", false},
		{measure.QThickness, "idk", false},
		{measure.QThickness, "?", false},
		{measure.QThickness, "standard thickness", false},
		{measure.QThickness, "I have no caliper", false},
		{measure.QThickness, "like the other ones", false},
		{measure.QThickness, "I'll measure it tomorrow at 5", false},
		{measure.QThickness, "call me, 555 0123", false},
		{measure.QThickness, "brass", false},
		{measure.QThickness, "the hinge is 4 in high", false},
		{measure.QThickness, "ok thanks", false},
		{measure.QHeight, "3 1/2", true},
		{measure.QHeight, "89 mm", true},
		{measure.QHeight, "same as before", false},
		{measure.QOpenWidth, "3 1/2 in", true},
		{measure.QOpenWidth, "one leaf is 1 3/4 wide", true},
		{measure.QOpenWidth, "wide enough", false},
		{measure.QCornerRadius, "square", true},
		{measure.QCornerRadius, "1/4", true},
		{measure.QCornerRadius, "round like a dime", true},
		{measure.QCornerRadius, "no idea", false},
		{measure.QScaleBar, "97 mm", true},
		{measure.QScaleBar, "didn't print it", false},
		{catalog.QHand, "left", true},
		{catalog.QHand, "on the right.", true},
		{catalog.QHand, "left or right?", false},
		{catalog.QHand, "depends", false},
	} {
		b := newBench(t)
		id := b.receive(t, func(s *quote.Submission) { s.Text = "" }).Inquiry.ID
		b.measured(t, id, thick(t))
		b.asked(id, catalog.Question{Quantity: c.asked, Text: "How much is it?"})
		d := b.dossier(t, id)
		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, c.answer, "")
		require.NoError(t, err)
		after := b.measured(t, id, thick(t))
		require.True(t, strings.HasSuffix(after.Inquiry.Text, c.answer) || strings.HasSuffix(after.Inquiry.Text, "("+c.answer+")"), "nothing is lost: %s", after.Inquiry.Text)
		said := ""
		for _, l := range after.Letters[len(d.Letters):] {
			said += l.Body
		}
		require.Equal(t, !c.used, strings.Contains(said, "We could not use the answer “"+c.answer+"” to our question."), "%s: %s\n%s", c.asked, c.answer, said)
		shown := ""
		for _, e := range after.Events {
			shown += e.Text + "\n"
		}
		require.Contains(t, shown, c.answer, "the counter sees the words")
		require.Contains(t, []quote.Status{quote.Ready, quote.NeedsAnswer, quote.NeedsPhoto}, after.Inquiry.Status)
	}
}

// Cards laid on one another are a thickness, with half of what was counted in as its limits: 0.76 ± 0.08 mm each (ISO/IEC 7810).
func TestThicknessInCards(t *testing.T) {
	for text, want := range map[string]string{
		"3 cards": "thickness 2.3 ± 0.4 mm (3 cards)", "3": "thickness 2.3 ± 0.4 mm (3)", "2 1/2": "thickness 1.9 ± 0.2 mm (2 1/2)", "about 3½ cards": "thickness 2.7 ± 0.2 mm (about 3½ cards)",
		"two": "thickness 1.5 ± 0.4 mm (two)", "four and a half bank cards": "thickness 3.4 ± 0.3 mm (four and a half bank cards)", "2 to 3": "thickness 1.9 ± 0.4 mm (2 to 3)",
		"2 mm": "2 mm", "2.5 mm": "2.5 mm", "0.129": "0.129", "1.9": "thickness 1.9", "1/8 in": "1/8 in", "twelve": "twelve", "no cards here": "no cards here",
	} {
		b := newBench(t)
		id := b.receive(t, func(s *quote.Submission) { s.Text = "" }).Inquiry.ID
		b.measured(t, id, thick(t))
		fits := []catalog.Question{*catalog.AskRival(measure.Rival{Quantity: measure.QThickness, Typed: ".192", Values: []measure.Length{2.4, 3.3}, Odds: 2})}
		fits[0].Text = fits[0].Other
		b.asked(id, fits[0])
		q, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, text, "")
		require.NoError(t, err)
		require.Equal(t, want, q.Text)
	}
}

// asked is as if the program had asked that.
func (b *bench) asked(id quote.ID, q catalog.Question) {
	d := b.memory.dossiers[id]
	p := *d.Proposal
	p.Question = &q
	d.Proposal, d.Inquiry.Status, d.Inquiry.Question = &p, quote.NeedsAnswer, q.Text
	d.Events = append(d.Events, quote.Event{At: b.clock, By: quote.ByProgram, What: "asked a question", Text: q.Text, To: quote.NeedsAnswer})
	b.memory.dossiers[id] = d
}
