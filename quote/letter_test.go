package quote_test

import (
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// quotedTo is the letter of a quote for count of an item, from what the customer sent; the photo, where there is one, shows the item.
func quotedTo(t *testing.T, item catalog.Item, count int, sent func(*quote.Submission), results ...measure.Result) (letter string, made quote.Quote, fit catalog.Fit) {
	t.Helper()
	b := newBench(t)
	_, _, err := b.memory.PutStock(t.Context(), []catalog.Item{item})
	require.NoError(t, err)
	id := b.receive(t, sent).Inquiry.ID
	for _, f := range b.measured(t, id, results...).Proposal.Fits {
		if f.Item.StockNumber == item.StockNumber {
			fit = f
		}
	}
	b.put(id, quote.Ready)
	made, err = b.Approve(t.Context(), id, b.dossier(t, id).Inquiry.Version, "kim", quote.Approval{StockNumber: item.StockNumber, Count: count, ConfirmedAgainst: true})
	require.NoError(t, err)
	letters := b.dossier(t, id).Letters
	return letters[len(letters)-1].Body, made, fit
}

// brassOnSteel is a stock hinge in a brass finish on steel, with a loose pin.
func brassOnSteel(t *testing.T) catalog.Item {
	item := shelf(t)[0]
	item.StockNumber, item.Finish, item.FinishNo, item.BaseMetal, item.PinKind, item.Bearing = "BRASS", "US3", "632", "steel", "loose", measure.PlainBearing
	return item
}

func TestTheSamePictureTwiceIsOne(t *testing.T) {
	b := newBench(t)
	for _, source := range []quote.Source{quote.FromWeb, quote.FromMail} {
		id := b.receive(t, func(s *quote.Submission) {
			s.Source, s.Photos = source, []intake.Photo{picture("one"), picture("one")}
		}).Inquiry.ID
		d := b.dossier(t, id)
		require.Len(t, d.Inquiry.Photos, 1)
		require.Contains(t, d.Letters[0].Body, "with one photo.")
		require.Contains(t, d.Letters[0].Body, "The same picture came twice: it is one picture, and is used once.")
		q, err := b.Add(t.Context(), id, quote.ByCustomer, "", []intake.Photo{picture("two"), picture("two"), picture("one")}, "", "")
		require.NoError(t, err)
		require.Len(t, q.Photos, 2)
	}
}

func TestALetterSaysWhichPhotoCouldNotBeMeasured(t *testing.T) {
	item := shelf(t)[0]
	letter, made, _ := quotedTo(t, item, 3, func(s *quote.Submission) { s.Text = "3 x 3 in, 0.080 thick, 1/4 in radius" }, retake(measure.TooDark))
	want := "Photo 1 could not be measured. " + measure.TooDark.Advice()
	require.Contains(t, made.Notes, want)
	require.Contains(t, letter, want)
}

func TestALetterSaysThatPinsCanBeDrawn(t *testing.T) {
	item := brassOnSteel(t)
	for words, want := range map[string]string{
		"swings out, non-removable pin": "Loose pin: the door swings out, so that the pins can be drawn from outside.",
		"non-removable pin":             "Loose pin: if the door swings out, the pins can be drawn from outside.",
		"front door":                    "Loose pin: if the door swings out, the pins can be drawn from outside; ask about a non-removable pin.",
		"swings in, non-removable pin":  "",
	} {
		letter, _, _ := quotedTo(t, item, 3, func(s *quote.Submission) { s.Text = words }, seen(item))
		if want == "" {
			require.NotContains(t, letter, "Loose pin", words)
			continue
		}
		require.Contains(t, letter, want, words)
	}
}

func TestFinishesAreSaidInTheCustomersWords(t *testing.T) {
	brass, nickel, primed := brassOnSteel(t), shelf(t)[0], shelf(t)[0]
	primed.Finish, primed.FinishNo = "USP", "600"
	for words, c := range map[string]struct {
		item catalog.Item
		want string
		not  string
	}{
		"polished brass": {nickel, "Asked for in polished brass (US3, bright brass); this one is satin nickel.", "solid"},
		"antique brass":  {nickel, "Asked for in antique brass (US5, satin brass, blackened); this one is satin nickel.", ""},
		"satin brass":    {nickel, "Asked for in satin brass; this one is satin nickel.", ""},
		"brass":          {brass, "Brass finish on steel, not solid brass.", "Asked for in"},
		"white":          {primed, "Asked for in “white”: this one is primed, to be painted in it.", "no finish is known"},
		"same as old":    {nickel, "", "no finish is known"},
	} {
		for how, sent := range map[string]func(*quote.Submission){
			"box":   func(s *quote.Submission) { s.Text, s.Wishes.Finish = "", words },
			"words": func(s *quote.Submission) { s.Text = "in " + words },
		} {
			letter, _, _ := quotedTo(t, c.item, 3, sent, seen(c.item))
			require.Contains(t, letter, c.want, words, how)
			if c.not != "" {
				require.NotContains(t, letter, c.not, words, how)
			}
		}
	}
}

func TestSourcesAreTheCountersAndLengthsAreInBothUnits(t *testing.T) {
	item := brassOnSteel(t)
	letter, made, fit := quotedTo(t, item, 3, func(s *quote.Submission) {
		s.Text = "fire door"
		s.Door = catalog.Door{Width: 36 * measure.Inch, Height: 84 * measure.Inch, Thickness: 1.75 * measure.Inch, Place: "coastal"}
	}, seen(item))
	notes := `common practice|no source|guides that quote|trade page|older 2-8A|from memory|second hand`
	require.Regexp(t, notes, strings.Join(fit.Warnings, "\n"), "the counter reads them")
	require.NotRegexp(t, notes, letter)
	require.NotRegexp(t, notes, strings.Join(append(made.Fit.Warnings, made.Cautions...), "\n"))
	require.Contains(t, letter, "The published least for this opening is 4 1/2 in (114.3 mm) high and 0.134 in (3.40 mm) thick (NFPA 80 Table 6.4.3.1); this hinge is 3 in (76.2 mm) high and 0.080 in (2.03 mm) thick.")
	require.Contains(t, letter, "a door 1 3/4 in (44.45 mm) thick and 36 in (914 mm) wide asks for hinges of ")
	require.Contains(t, letter, "(76.2 × 76.2 mm), with #9 x 3/4 in (19.05 mm) screws:")
}

func TestTheStockIsSaidOnce(t *testing.T) {
	item := brassOnSteel(t)
	item.OnHand, item.SoldIn, item.LeadDays = 4, 1, 0
	letter, _, fit := quotedTo(t, item, 21, func(s *quote.Submission) { s.Text = "21 hinges" }, seen(item))
	require.Contains(t, strings.Join(fit.Warnings, "\n"), "4 on hand, 21 wanted.")
	require.Equal(t, 1, strings.Count(letter, "4 on hand"), letter)
}

func TestCountsThatDisagreeAreAskedAbout(t *testing.T) {
	item := brassOnSteel(t)
	door := func(s *quote.Submission) {
		s.Text, s.Wishes.Count = "", 4
		s.Door = catalog.Door{Count: 2, Height: 80 * measure.Inch}
	}
	const asks, some = "You asked for 4 hinges; by the doors it would be 6: tell us if you want 6.", "Replacing only some"
	letter, _, _ := quotedTo(t, item, 4, door, seen(item))
	require.Contains(t, letter, asks)
	require.Contains(t, letter, some)
	letter, _, _ = quotedTo(t, item, 6, door, seen(item))
	require.NotContains(t, letter, asks, "the counter settled it")
	letter, _, _ = quotedTo(t, item, 4, func(s *quote.Submission) { door(s); s.Text = "2 hinges on each door" }, seen(item))
	require.NotContains(t, letter, asks)
	require.NotContains(t, letter, some, "4 are all of both doors")
}

func TestWhatGoesAgainstWhatWasSaidIsConfirmed(t *testing.T) {
	b, item := newBench(t), brassOnSteel(t)
	_, _, err := b.memory.PutStock(t.Context(), []catalog.Item{item})
	require.NoError(t, err)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "non-removable pin" }).Inquiry.ID
	b.measured(t, id, seen(item))
	b.put(id, quote.Ready)
	version := b.dossier(t, id).Inquiry.Version
	a := quote.Approval{StockNumber: item.StockNumber, Count: 3}
	_, err = b.Approve(t.Context(), id, version, "kim", a)
	invalid(t, err, "against_not_confirmed")
	require.ErrorContains(t, err, "Asked for with a non-removable pin; this one has a loose pin.")
	require.Equal(t, quote.Ready, b.dossier(t, id).Inquiry.Status)
	a.ConfirmedAgainst = true
	_, err = b.Approve(t.Context(), id, version, "kim", a)
	require.NoError(t, err)
}
