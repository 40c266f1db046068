package quote_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// A bench is a desk with everything in memory, and a clock that stands still.
type bench struct {
	*quote.Desk
	memory *memory
	clock  time.Time
}

var terms = quote.Terms{Shop: "The Corner Shop", Currency: "USD", TaxRate: "8.25", ValidDays: 14,
	BaseURL: "https://hinges.example", From: quote.Contact{Name: "The Corner Shop", Email: "counter@hinges.example"}}

func newBench(t *testing.T) *bench {
	b := &bench{memory: newMemory(), clock: time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)}
	b.Desk = quote.NewDesk(b.memory, b.memory, terms, func() time.Time { return b.clock })
	_, _, err := b.memory.PutStock(t.Context(), shelf(t))
	require.NoError(t, err)
	return b
}

// shelf is the demo stock.
func shelf(t *testing.T) []catalog.Item {
	f, err := os.Open("../testdata/stock/demo.csv")
	require.NoError(t, err)
	defer f.Close()
	sheet, err := catalog.ReadSheet(f)
	require.NoError(t, err)
	items, report := catalog.ParseStock(sheet, catalog.ListOptions{Currency: "USD"})
	require.Zero(t, report.Errors)
	require.NotEmpty(t, items)
	return items
}

func picture(content string) intake.Photo {
	sum := sha256.Sum256([]byte(content))
	return intake.Photo{SHA256: hex.EncodeToString(sum[:]), Format: "jpeg", Bytes: []byte(content), Width: 4000, Height: 3000, Orientation: 1}
}

func question(alter func(*quote.Submission)) quote.Submission {
	s := quote.Submission{Source: quote.FromWeb, Contact: quote.Contact{Name: "Ada Sill", Email: "ada@example.com"},
		Text: "leaf 0.085 in thick", Photos: []intake.Photo{picture("one")}}
	if alter != nil {
		alter(&s)
	}
	return s
}

func (b *bench) receive(t *testing.T, alter func(*quote.Submission)) quote.Receipt {
	t.Helper()
	r, err := b.Receive(t.Context(), question(alter))
	require.NoError(t, err)
	return r
}

func (b *bench) dossier(t *testing.T, id quote.ID) quote.Dossier {
	t.Helper()
	d, err := b.Dossier(t.Context(), id)
	require.NoError(t, err)
	return d
}

// measured runs the measuring job of the inquiry's revision with the given results.
func (b *bench) measured(t *testing.T, id quote.ID, results ...measure.Result) quote.Dossier {
	t.Helper()
	q := b.dossier(t, id).Inquiry
	_, err := b.Start(t.Context(), id, q.Revision)
	require.NoError(t, err)
	var findings []quote.Finding
	for i, r := range results {
		findings = append(findings, quote.Finding{PhotoN: i + 1, Result: r})
	}
	require.NoError(t, b.Finish(t.Context(), id, q.Revision, q.Readings(), findings))
	return b.dossier(t, id)
}

// seen is what a sharp photo would say of a stock hinge; retake is what a bad one says.
func seen(item catalog.Item) measure.Result {
	e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.05} }
	h := measure.Hinge{Height: e(item.Height), OpenWidth: e(item.OpenWidth), BarrelDiameter: e(item.Barrel), Knuckles: item.Knuckles,
		Bearing: item.Bearing, Pattern: measure.PatternArc}
	for range 2 {
		leaf := measure.Leaf{Width: e(item.OpenWidth / 2), CornerRadius: e(item.Radius[0]), Corners: measure.CornersQuarter}
		for _, hole := range item.Holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: e(hole.FromEdge), FromEnd: e(hole.FromEnd), Diameter: e(item.HoleDia), Countersink: e(item.Sink)})
		}
		h.Leaves = append(h.Leaves, leaf)
	}
	return measure.Result{Status: measure.Measured, RetakeReasons: []measure.Reason{}, Hinge: &h}
}

func retake(reasons ...measure.Reason) measure.Result {
	return measure.Result{Status: measure.Retake, RetakeReasons: reasons}
}

// settled brings an inquiry to the counter, whatever the measuring says.
func (b *bench) settled(t *testing.T, id quote.ID) quote.Inquiry {
	t.Helper()
	b.measured(t, id, seen(shelf(t)[0]))
	b.put(id, quote.Ready)
	return b.dossier(t, id).Inquiry
}

// put sets a status by hand.
func (b *bench) put(id quote.ID, s quote.Status) {
	d := b.memory.dossiers[id]
	d.Inquiry.Status = s
	b.memory.dossiers[id] = d
}

func invalid(t *testing.T, err error, code string) {
	t.Helper()
	var e *intake.InvalidError
	require.ErrorAs(t, err, &e)
	require.Equal(t, code, e.Code)
	require.NotEmpty(t, e.Text)
}

func TestReceiveKeepsEverythingBeforeTheReceipt(t *testing.T) {
	b := newBench(t)
	r := b.receive(t, func(s *quote.Submission) { s.MessageID = "in@example.com" })
	d := b.dossier(t, r.Inquiry.ID)
	require.Equal(t, quote.Received, d.Inquiry.Status)
	require.Equal(t, []byte("one"), b.memory.photos[picture("one").SHA256])
	require.Len(t, d.Inquiry.Photos, 1)
	require.Nil(t, d.Inquiry.Photos[0].Bytes, "the file is in the photo store alone")
	require.Equal(t, "received", d.Events[0].What)

	waiting, err := b.Intentions(t.Context(), b.clock.Add(time.Second), 10)
	require.NoError(t, err)
	require.Equal(t, []quote.Intention{{Inquiry: 1, Revision: 1, Made: b.clock}}, waiting)
	require.Len(t, d.Letters, 1)
	for _, id := range []string{"in@example.com", d.Letters[0].MessageID} {
		q, err := b.ByMessage(t.Context(), []string{id})
		require.NoError(t, err, "an answer to %s finds its inquiry", id)
		require.Equal(t, quote.ID(1), q.ID)
	}
	require.Equal(t, "in@example.com", d.Letters[0].ReplyTo)
}

func TestNothingIsPromisedInAnOutage(t *testing.T) {
	outage := errors.New("no connection")
	t.Run("of the database", func(t *testing.T) {
		b := newBench(t)
		b.memory.down = outage
		_, err := b.Receive(t.Context(), question(nil))
		require.ErrorIs(t, err, outage)
		b.memory.down = nil
		require.Empty(t, b.memory.dossiers)
	})
	t.Run("of the photo store", func(t *testing.T) {
		b := newBench(t)
		b.memory.noDisk = outage
		_, err := b.Receive(t.Context(), question(nil))
		require.ErrorIs(t, err, outage)
		require.Empty(t, b.memory.dossiers, "no inquiry without its photo")
		require.Empty(t, b.memory.intentions)
	})
	t.Run("while measuring", func(t *testing.T) {
		b := newBench(t)
		id := b.receive(t, nil).Inquiry.ID
		_, err := b.Start(t.Context(), id, 1)
		require.NoError(t, err)
		b.memory.down = outage
		require.ErrorIs(t, b.Finish(t.Context(), id, 1, measure.Readings{}, nil), outage)
		b.memory.down = nil
		require.Contains(t, b.memory.intentions, id, "it is still to be measured")
	})
}

func TestTheKey(t *testing.T) {
	b := newBench(t)
	once := func(s *quote.Submission) { s.Once = "abc" }
	r := b.receive(t, once)
	require.Len(t, r.Key, 32, "32 letters of 5 bits: 160, and 128 at least are asked for")
	require.Equal(t, "https://hinges.example/i/"+r.Key, r.Link)
	d, err := b.ByKey(t.Context(), r.Key)
	require.NoError(t, err)
	require.Equal(t, r.Inquiry.ID, d.Inquiry.ID)
	_, err = b.ByKey(t.Context(), strings.ToUpper(r.Key)+" ")
	require.NoError(t, err, "copied by hand")
	_, err = b.ByKey(t.Context(), r.Key[1:]+"8") // 8 is no letter of a key
	require.ErrorIs(t, err, quote.ErrNotFound)
	for hash := range b.memory.keys {
		require.NotContains(t, hash, r.Key)
	}
	for _, l := range d.Letters {
		require.NotContains(t, l.Body+l.MessageID+l.Key, r.Key, "the key is not kept in a letter")
	}

	t.Run("is the same for the same submission", func(t *testing.T) {
		again := b.receive(t, once)
		require.True(t, again.Again)
		require.Equal(t, r.Key, again.Key)
		require.Equal(t, r.Inquiry.ID, again.Inquiry.ID)
		require.Len(t, b.memory.dossiers, 1)
	})
	t.Run("is not shown to somebody else who sends under the same token", func(t *testing.T) {
		_, err := b.Receive(t.Context(), question(func(s *quote.Submission) { s.Once = "abc"; s.Text = "another" }))
		invalid(t, err, "reused")
		_, err = b.Receive(t.Context(), question(func(s *quote.Submission) { s.Once = "abc"; s.Photos = []intake.Photo{picture("two")} }))
		invalid(t, err, "reused")
		other := b.receive(t, func(s *quote.Submission) { s.Once = "abc"; s.Source = quote.FromAPI })
		require.False(t, other.Again, "web and API do not share tokens")
	})
	t.Run("is another one without a token", func(t *testing.T) {
		one, two := b.receive(t, nil), b.receive(t, nil)
		require.NotEqual(t, one.Key, two.Key)
		require.NotEqual(t, one.Inquiry.ID, two.Inquiry.ID)
	})
	t.Run("cannot be made without this server's secret", func(t *testing.T) {
		elsewhere := newBench(t).receive(t, once)
		require.NotEqual(t, r.Key, elsewhere.Key)
	})
	t.Run("goes out in the letter", func(t *testing.T) {
		letters, err := b.Letters(t.Context(), 1)
		require.NoError(t, err)
		require.Contains(t, letters[0].Body, r.Link)
		require.NotContains(t, letters[0].Body, quote.LinkMark)
		require.NotContains(t, letters[0].Subject, r.Key)
		require.NoError(t, b.LetterSent(t.Context(), letters[0].ID, b.clock))
		left, err := b.Letters(t.Context(), 1)
		require.NoError(t, err)
		require.NotEqual(t, letters[0].ID, left[0].ID)
	})
}

func TestWhatCannotBeTakenInSaysWhy(t *testing.T) {
	b := newBench(t)
	for code, alter := range map[string]func(*quote.Submission){
		"nothing_sent":    func(s *quote.Submission) { s.Photos, s.Text = nil, " \n" },
		"too_many_photos": func(s *quote.Submission) { s.Photos = make([]intake.Photo, 7) },
		"too_long":        func(s *quote.Submission) { s.Text = strings.Repeat("3 1/2 ", 1<<18) },
		"not_an_address":  func(s *quote.Submission) { s.Contact.Email = "ada at example" },
	} {
		_, err := b.Receive(t.Context(), question(alter))
		invalid(t, err, code)
	}
	require.Empty(t, b.memory.dossiers)
	require.Empty(t, b.memory.photos)

	t.Run("but an e-mail is answered, not refused", func(t *testing.T) {
		r := b.receive(t, func(s *quote.Submission) { s.Source, s.Photos, s.Text = quote.FromMail, nil, "" })
		d := b.measured(t, r.Inquiry.ID)
		require.Equal(t, quote.NeedsPhoto, d.Inquiry.Status)
		require.Equal(t, "retake", d.Letters[1].Kind)
		require.Contains(t, d.Letters[1].Subject, "A photo of your hinge, please", "not one more")
	})
	t.Run("a line break in a name stays out of a letter's head", func(t *testing.T) {
		r := b.receive(t, func(s *quote.Submission) { s.Contact.Name = "Ada\r\nBcc: all@example.com" })
		require.NotContains(t, r.Inquiry.Contact.Name, "\n")
	})
}

func TestAutomaticMailIsNotAnswered(t *testing.T) {
	b := newBench(t)
	r := b.receive(t, func(s *quote.Submission) { s.Source, s.Automatic = quote.FromMail, true })
	d := b.measured(t, r.Inquiry.ID, retake(measure.Blurred))
	require.Equal(t, quote.NeedsPhoto, d.Inquiry.Status)
	require.Empty(t, d.Letters, "by the program (RFC 3834, section 2)")
	require.NoError(t, b.AskPhoto(t.Context(), r.Inquiry.ID, d.Inquiry.Version, "kim", "A sharper one, please"))
	require.Len(t, b.dossier(t, r.Inquiry.ID).Letters, 1, "a person may write")
}

func TestAGoodPhotoBecomesAProposal(t *testing.T) {
	b := newBench(t)
	item := shelf(t)[0]
	id := b.receive(t, func(s *quote.Submission) {
		s.Text = "leaf 0.080 in thick"
		s.Door = catalog.Door{Height: 2032}
	}).Inquiry.ID
	d := b.measured(t, id, seen(item))
	require.Contains(t, []quote.Status{quote.Ready, quote.NeedsAnswer}, d.Inquiry.Status)
	require.NotNil(t, d.Proposal)
	require.NotEmpty(t, d.Proposal.Fits)
	best := d.Proposal.Fits[0].Item
	require.Equal(t, []any{item.Height, item.OpenWidth, item.Radius}, []any{best.Height, best.OpenWidth, best.Radius})
	require.InDelta(t, float64(item.Height), float64(d.Proposal.Best.Height.Value), 0.2)
	require.Equal(t, 3, d.Proposal.Count, "80 in of door: three hinges by the count rule")
	require.Empty(t, b.memory.intentions, "nothing is left to measure")
	require.NotEmpty(t, d.Proposal.Advice)
	require.Len(t, d.Findings, 1)
	require.Equal(t, id, d.Findings[0].Inquiry)

	require.ErrorIs(t, b.Finish(t.Context(), id, 1, measure.Readings{}, nil), quote.ErrStale, "twice")
	_, err := b.Start(t.Context(), id, 1)
	require.ErrorIs(t, err, quote.ErrStale, "again")
	require.ErrorIs(t, b.Fail(t.Context(), id, 1, "late"), quote.ErrStale)
	require.Equal(t, d, b.dossier(t, id), "and nothing was changed by that")
}

func TestStartMayComeTwice(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	one, err := b.Start(t.Context(), id, 1)
	require.NoError(t, err)
	two, err := b.Start(t.Context(), id, 1)
	require.NoError(t, err)
	require.Equal(t, one, two)
	require.Equal(t, quote.Measuring, one.Status)
	_, err = b.Start(t.Context(), id, 2)
	require.ErrorIs(t, err, quote.ErrStale)
	_, err = b.Start(t.Context(), 77, 1)
	require.ErrorIs(t, err, quote.ErrNotFound)
}

func TestTheDoorIsFilledFromWhatWasTyped(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) {
		s.Text = "leaf 0.080 in thick, door is 1 3/8 thick, 6'8\" tall, 32 wide, 4 hinges"
		s.Door.Width = 700
	}).Inquiry.ID
	d := b.measured(t, id, seen(shelf(t)[0]))
	require.Equal(t, measure.Length(700), d.Proposal.Door.Width, "the form's own number stands")
	require.InDelta(t, 80*25.4, float64(d.Proposal.Door.Height), 0.01)
	require.InDelta(t, 1.375*25.4, float64(d.Proposal.Door.Thickness), 0.01)
	require.Zero(t, d.Inquiry.Door.Height, "what the customer filled in stays as it was")
}

func TestABadPhotoIsAskedForAgain(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "" }).Inquiry.ID
	d := b.measured(t, id, retake(measure.CardWrongSize, measure.Blurred))
	require.Equal(t, quote.NeedsPhoto, d.Inquiry.Status)
	require.Contains(t, d.Inquiry.Question, measure.CardWrongSize.Advice())
	l := d.Letters[1]
	require.Equal(t, "retake", l.Kind)
	require.Contains(t, l.Body, measure.Blurred.Advice())
	require.Contains(t, l.Body, "Support the door", "a caution stands beside advice to take a hinge off")
	require.Empty(t, b.memory.intentions)

	t.Run("nothing new hands it to a person", func(t *testing.T) {
		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "I have no better one", "m2@example.com")
		require.NoError(t, err)
		d := b.measured(t, id, retake(measure.CardWrongSize, measure.Blurred))
		require.Equal(t, quote.Ready, d.Inquiry.Status)
		require.Len(t, d.Letters, 2, "no second letter of the same kind")
	})
	t.Run("a new photo is judged anew", func(t *testing.T) {
		b := newBench(t)
		id := b.receive(t, func(s *quote.Submission) { s.Text = "" }).Inquiry.ID
		b.measured(t, id, retake(measure.Blurred))
		bad := []measure.Result{retake(measure.Blurred)}
		for i, want := range []quote.Status{quote.NeedsPhoto, quote.NeedsPhoto, quote.Ready} {
			_, err := b.Add(t.Context(), id, quote.ByCustomer, "", []intake.Photo{picture("new " + string(rune('a'+i)))}, "", "")
			require.NoError(t, err)
			bad = append(bad, retake(measure.TooDark))
			require.Equal(t, want, b.measured(t, id, bad...).Inquiry.Status, "after photo %d", i+2)
		}
	})
	t.Run("a good photo settles it", func(t *testing.T) {
		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", []intake.Photo{picture("sharp")}, "", "")
		require.NoError(t, err)
		d := b.measured(t, id, retake(measure.Blurred), seen(shelf(t)[0]))
		require.NotEqual(t, quote.NeedsPhoto, d.Inquiry.Status)
		require.Contains(t, d.Events[len(d.Events)-1].Text+d.Events[len(d.Events)-2].Text, "photo 1 could not be measured (blurred)")
	})
}

func TestAddRaisesTheRevision(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	q, err := b.Add(t.Context(), id, quote.ByCustomer, "", []intake.Photo{picture("one"), picture("two")}, "3 1/2 tall", "m@example.com")
	require.NoError(t, err)
	require.Equal(t, quote.Received, q.Status, "it was not begun yet")
	require.Equal(t, 2, q.Revision)
	require.Len(t, q.Photos, 2, "the same photo is not added twice")
	require.Equal(t, 2, q.Photos[1].N)
	require.Equal(t, "leaf 0.085 in thick\n\n3 1/2 tall", q.Text)
	require.Equal(t, 2, b.memory.intentions[id].Revision)

	again, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "3 1/2 tall", "m@example.com")
	require.NoError(t, err)
	require.Equal(t, q, again, "the same e-mail")
	again, err = b.Add(t.Context(), id, quote.ByCustomer, "", []intake.Photo{picture("two")}, "3 1/2 tall", "")
	require.NoError(t, err)
	require.Equal(t, q, again, "the same form sent twice")

	_, err = b.Start(t.Context(), id, 1)
	require.ErrorIs(t, err, quote.ErrStale, "the first revision was overtaken")
	_, err = b.Start(t.Context(), id, 2)
	require.NoError(t, err)
	_, err = b.Add(t.Context(), id, quote.ByCounter, "kim", nil, "4 hinges", "")
	require.NoError(t, err)
	require.ErrorIs(t, b.Finish(t.Context(), id, 2, measure.Readings{}, nil), quote.ErrStale, "it was overtaken while it was measured")
	d := b.measured(t, id, retake(measure.Blurred), seen(shelf(t)[0]))
	require.Equal(t, 3, d.Proposal.Revision)

	_, err = b.Add(t.Context(), id, quote.ByCustomer, "", nil, " ", "")
	invalid(t, err, "nothing_sent")
}

func TestWhatComesAfterTheQuoteIsKeptUnread(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	for _, s := range []quote.Status{quote.Quoted, quote.Won, quote.Lost, quote.Declined, quote.Withdrawn} {
		b.put(id, s)
		before := b.dossier(t, id).Inquiry
		q, err := b.Add(t.Context(), id, quote.ByCustomer, "", []intake.Photo{picture(string(s))}, "one more thing, "+string(s), "")
		require.NoError(t, err)
		require.Equal(t, s, q.Status)
		require.Equal(t, before.Revision, q.Revision)
		require.Contains(t, q.Text, "one more thing, "+string(s))
		require.Len(t, q.Photos, len(before.Photos)+1)
		require.Equal(t, quote.ByCounter, q.Turn())
		require.NoError(t, b.Note(t.Context(), id, "", "an e-mail came"))
		require.True(t, b.dossier(t, id).Inquiry.Unread, "the program's own remark is nobody's look")
		require.NoError(t, b.Note(t.Context(), id, "kim", ""))
		require.False(t, b.dossier(t, id).Inquiry.Unread)
	}
}

// twins is a shelf of two hinges that only their holes' place tells apart, and what a photo
// that shows the holes badly says of the first.
func twins(t *testing.T, b *bench) measure.Result {
	one := shelf(t)[0]
	two := one
	two.StockNumber, two.PatternID = "TWIN", ""
	two.Holes = slices.Clone(one.Holes)
	for i := range two.Holes {
		two.Holes[i].FromEdge += 1
	}
	b.memory.stock = map[string]catalog.Item{one.StockNumber: one, two.StockNumber: two}
	r := seen(one)
	for _, l := range r.Hinge.Leaves {
		for i := range l.Holes {
			l.Holes[i].FromEdge.Sigma = 0.8
			l.Holes[i].FromEdge.Value += 0.5
		}
	}
	return r
}

func TestOneQuestionIsAskedOnce(t *testing.T) {
	b := newBench(t)
	result := twins(t, b)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "" }).Inquiry.ID
	d := b.measured(t, id, result)
	require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
	require.Equal(t, measure.QHoleFromEdge, d.Proposal.Question.Quantity)
	require.Equal(t, d.Proposal.Question.Text, d.Inquiry.Question)
	require.Equal(t, "question", d.Letters[1].Kind)
	require.Contains(t, d.Letters[1].Body, d.Inquiry.Question)
	require.Contains(t, d.Letters[1].Body, "Support the door")

	q, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "I cannot say", "")
	require.NoError(t, err)
	require.Empty(t, q.Question)
	d = b.measured(t, id, result)
	require.Equal(t, quote.Ready, d.Inquiry.Status, "what brought nothing is not asked again")
}

// Photos of two hinges: nothing is proposed, the customer is asked which one, and the answer settles it.
func TestPhotosOfTwoHingesAreAskedAbout(t *testing.T) {
	items := shelf(t)
	other := slices.IndexFunc(items, func(i catalog.Item) bool { return i.Height > items[0].Height+10 && len(i.Holes) > 0 })
	for _, answer := range []string{"photo 2", "2", "the second one", "It is the one in photo 2, thanks"} {
		b := newBench(t)
		id := b.receive(t, func(s *quote.Submission) {
			s.Text = ""
			s.Photos = append(s.Photos, picture("another hinge"))
		}).Inquiry.ID
		d := b.measured(t, id, seen(items[0]), seen(items[other]))
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		require.Empty(t, d.Proposal.Fits)
		require.False(t, d.Proposal.Best.Height.Known(), "nothing is averaged")
		require.Contains(t, d.Inquiry.Question, "two different hinges: photo 1 and photo 2")
		require.Contains(t, d.Letters[len(d.Letters)-1].Body, "two different hinges")

		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, answer, "")
		require.NoError(t, err)
		d = b.measured(t, id, seen(items[0]), seen(items[other]))
		require.InDelta(t, items[other].Height.MM(), d.Proposal.Best.Height.Value.MM(), 0.3, answer)
		require.NotEmpty(t, d.Proposal.Fits, answer)
		require.Contains(t, strings.Join(d.Proposal.Best.Notes, " "), "photo 2", answer)
	}

	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) { s.Photos = append(s.Photos, picture("another hinge")) }).Inquiry.ID
	b.measured(t, id, seen(items[0]), seen(items[other]))
	_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "I cannot say", "")
	require.NoError(t, err)
	d := b.measured(t, id, seen(items[0]), seen(items[other]))
	require.Equal(t, quote.Ready, d.Inquiry.Status, "what brought nothing is not asked again")
	require.Empty(t, d.Proposal.Fits)
}

// A text that names both photos says of neither that it is the one; an answer that names one does, and the last one counts.
func TestNamingBothPhotosChoosesNone(t *testing.T) {
	items := shelf(t)
	other := slices.IndexFunc(items, func(i catalog.Item) bool { return i.Height > items[0].Height+10 && len(i.Holes) > 0 })
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) {
		s.Text = "photo 1 is the top hinge, photo 2 the cupboard one. I need 3 of the first and 2 of the second"
		s.Photos = append(s.Photos, picture("another hinge"))
	}).Inquiry.ID
	d := b.measured(t, id, seen(items[0]), seen(items[other]))
	require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
	require.Empty(t, d.Proposal.Fits)
	require.Contains(t, d.Inquiry.Question, "two different hinges: photo 1 and photo 2. Which one is it about?")
	for answer, height := range map[string]measure.Length{"photo 1": items[0].Height, "no, I mean photo 2": items[other].Height} {
		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, answer, "")
		require.NoError(t, err)
		d = b.measured(t, id, seen(items[0]), seen(items[other]))
		require.InDelta(t, height.MM(), d.Proposal.Best.Height.Value.MM(), 0.3, answer)
	}
}

// A photo of another hinge than was typed: the customer is asked with both sizes, nothing goes out by one click, and the answer
// is read by a person.
func TestAPhotoOfAnotherHingeThanTypedIsAskedAbout(t *testing.T) {
	items := shelf(t)
	at := slices.IndexFunc(items, func(i catalog.Item) bool {
		return i.Height == 4.5*measure.Inch && i.OpenWidth == 4*measure.Inch && len(i.Holes) > 0
	})
	for answer, used := range map[string]bool{"the one in the photo": true, "3 1/2 x 3 1/2 in": true, "hm": false} {
		b := newBench(t)
		id := b.receive(t, func(s *quote.Submission) { s.Text = "3 1/2 x 3 1/2 in, 0.086 thick" }).Inquiry.ID
		d := b.measured(t, id, seen(items[at]))
		require.True(t, d.Proposal.Best.OfAnotherHinge())
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		require.Contains(t, last(d), "The hinge in your photo is 4½ in (114.3 mm) high and 4 in (101.6 mm) wide open, and you typed 3½ in (88.9 mm) high and 3½ in (88.9 mm) wide open")
		require.NotEmpty(t, d.Proposal.Fits[0].Against, "not by one click")
		_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, answer, "")
		require.NoError(t, err)
		d = b.measured(t, id, seen(items[at]))
		require.Equal(t, quote.Ready, d.Inquiry.Status, answer)
		require.NotEmpty(t, d.Proposal.Fits[0].Against)
		require.Equal(t, !used, strings.Contains(last(d), "could not use the answer"), answer)
	}
}

// The photo that is sent on that question is of the hinge that is meant, and stays so.
func TestThePhotoSentInsteadIsMeant(t *testing.T) {
	items := shelf(t)
	at := slices.IndexFunc(items, func(i catalog.Item) bool {
		return i.Height == 4.5*measure.Inch && i.OpenWidth == 4*measure.Inch && len(i.Holes) > 0
	})
	right := slices.IndexFunc(items, func(i catalog.Item) bool {
		return i.Height == 3.5*measure.Inch && i.OpenWidth == 3.5*measure.Inch && len(i.Holes) > 0
	})
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "3 1/2 x 3 1/2 in, 0.086 thick" }).Inquiry.ID
	b.measured(t, id, seen(items[at]))
	b.clock = b.clock.Add(time.Hour)
	_, err := b.Add(t.Context(), id, quote.ByCustomer, "", []intake.Photo{picture("the right one")}, "", "")
	require.NoError(t, err)
	for _, more := range []string{"", "thank you"} {
		if more != "" {
			b.put(id, quote.Ready)
			_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, more, "")
			require.NoError(t, err)
		}
		d := b.measured(t, id, seen(items[at]), seen(items[right]))
		require.Empty(t, d.Proposal.Best.Apart)
		require.False(t, d.Proposal.Best.OfAnotherHinge())
		require.InDelta(t, 88.9, d.Proposal.Best.Height.Value.MM(), 0.3)
		require.Equal(t, quote.Ready, d.Inquiry.Status)
	}
}

func TestABareNumberAnswersTheQuestion(t *testing.T) {
	b := newBench(t)
	result := twins(t, b)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "" }).Inquiry.ID
	b.measured(t, id, result)
	q, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "10.3 mm", "")
	require.NoError(t, err)
	require.Equal(t, "hole from edge 10.3 mm", q.Text)
	d := b.measured(t, id, result)
	require.Equal(t, measure.QHoleFromEdge, d.Proposal.Readings.Readings[0].Quantity)
	require.Equal(t, "10.3 mm", d.Events[len(d.Events)-2].Text, "the timeline has what was typed")
}

// Everything that one sentence says has its place, and what the form tells stands.
func TestWordsFillDoorAndWish(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) {
		s.Text = "front door by the sea, self closing, heavy use, solid core, right hand, non removable pin"
		s.Door.Use = "low"
		s.Wishes.Text = "3 hinges for an oak door that swings out"
	}).Inquiry.ID
	d := b.measured(t, id, seen(shelf(t)[0]))
	require.Equal(t, catalog.Door{Place: "coastal", Use: "low", Closer: true, Core: "solid", Material: "oak", Swing: "out"}, d.Proposal.Door)
	first := d.Proposal.Fits[0]
	require.Equal(t, "steel", first.Item.BaseMetal)
	require.Contains(t, first.Warnings, "Plated steel rusts in a coastal place: stainless or brass lasts (common practice, no source).")
	require.NotEqual(t, "plain", string(first.Item.Bearing), "a closer takes bearings")
}

func TestAWordAnswersTheQuestionForTheHand(t *testing.T) {
	for typed, want := range map[string]string{"Left": "left hand: Left", "on the right.": "right hand: on the right.", "left hand": "left hand", "left or right?": "left or right?"} {
		b := newBench(t)
		one := shelf(t)[0]
		one.Handing = "left"
		b.memory.stock = map[string]catalog.Item{one.StockNumber: one}
		id := b.receive(t, func(s *quote.Submission) { s.Text = "leaf 0.080 in thick" }).Inquiry.ID
		d := b.measured(t, id, seen(one))
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		require.Equal(t, catalog.QHand, d.Proposal.Question.Quantity)
		q, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, typed, "")
		require.NoError(t, err)
		require.Equal(t, "leaf 0.080 in thick\n\n"+want, q.Text)
		d = b.measured(t, id, seen(one))
		require.Equal(t, quote.Ready, d.Inquiry.Status)
	}
}

// From a typed inquiry to the question for the hand, and on to what the answer makes of it.
func TestATypedInquiryAsksForTheHand(t *testing.T) {
	for answer, right := range map[string]bool{"on the left": true, "right": false} {
		b := newBench(t)
		one := shelf(t)[0]
		one.Handing = "left"
		b.memory.stock = map[string]catalog.Item{one.StockNumber: one}
		id := b.receive(t, func(s *quote.Submission) {
			s.Photos, s.Text = nil, "3 x 3 in, leaf 0.080 in thick, 1/4 in radius corners, satin nickel"
		}).Inquiry.ID
		d := b.measured(t, id)
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		require.LessOrEqual(t, d.Proposal.Fits[0].PDropsIn, 0.5)
		require.Contains(t, strings.Join(d.Proposal.Fits[0].Warnings, "\n"), "It is handed: left. Check which way the door swings.")
		require.Contains(t, d.Inquiry.Question, "Which way does the door swing?")
		letters, err := b.Letters(t.Context(), 9)
		require.NoError(t, err)
		require.Contains(t, letters[len(letters)-1].Body, "are its hinges on your left or on your right?")
		was := d.Proposal.Fits[0].PDropsIn
		_, err = b.Add(t.Context(), id, quote.ByCustomer, "", nil, answer, "")
		require.NoError(t, err)
		first := b.measured(t, id).Proposal.Fits[0]
		if right {
			require.InDelta(t, 2*was, first.PDropsIn, 0.02)
			require.Empty(t, first.Against)
			continue
		}
		require.Equal(t, catalog.DoesNotSuit, first.Verdict)
		require.Equal(t, []string{"It is handed: left; by what was said the door takes right ones."}, first.Against)
		require.Contains(t, first.Reasons, "It is handed: left; the door takes right ones.")
	}
}

func TestALostLeafIsNotAskedForAgain(t *testing.T) {
	b := newBench(t)
	one := shelf(t)[0]
	b.memory.stock = map[string]catalog.Item{one.StockNumber: one}
	half := seen(one)
	half.Hinge.Leaves = half.Hinge.Leaves[:1]
	id := b.receive(t, func(s *quote.Submission) { s.Text = "leaf 0.080 in thick" }).Inquiry.ID
	d := b.measured(t, id, half)
	require.Equal(t, quote.NeedsPhoto, d.Inquiry.Status)
	require.Contains(t, d.Inquiry.Question, "If the other leaf is lost, just write so.")
	q, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "lost", "")
	require.NoError(t, err)
	require.Equal(t, "leaf 0.080 in thick\n\nother leaf lost", q.Text)
	d = b.measured(t, id, half)
	require.Equal(t, quote.Ready, d.Inquiry.Status)
	require.Nil(t, d.Proposal.Question)
}

func TestSizesAloneAskForAPhotoOnce(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "3 1/2 x 3 1/2" }).Inquiry.ID
	d := b.measured(t, id, retake(measure.Blurred))
	require.Equal(t, quote.NeedsPhoto, d.Inquiry.Status)
	require.NotEmpty(t, d.Proposal.Fits, "the counter may go on without")
	require.Contains(t, d.Inquiry.Question, measure.Blurred.Advice())
	_, err := b.Add(t.Context(), id, quote.ByCustomer, "", nil, "My phone is broken", "")
	require.NoError(t, err)
	d = b.measured(t, id, retake(measure.Blurred))
	require.Equal(t, quote.Ready, d.Inquiry.Status)
	require.Contains(t, d.Events[len(d.Events)-1].Text, "From the typed readings alone; photo 1 could not be measured (blurred)")
}

func TestApproveMakesTheQuoteAndSendsIt(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	q := b.settled(t, id)
	a := quote.Approval{StockNumber: "H1001", Count: 3, Message: "It is on the shelf."}
	preview, err := b.Price(t.Context(), id, a)
	require.NoError(t, err)
	require.Empty(t, b.dossier(t, id).Quotes, "a preview writes nothing")

	_, err = b.Approve(t.Context(), id, q.Version-1, "kim", a)
	require.ErrorIs(t, err, quote.ErrStale)
	made, err := b.Approve(t.Context(), id, q.Version, "kim", a)
	require.NoError(t, err)
	require.Equal(t, "1-1", made.Number)
	require.True(t, preview.Total.Equal(made.Total))
	// By hand: sold in pairs, so 4 at 5.48 make 21.92; 8.25 % of it is 1.8084, 1.81.
	require.Equal(t, "21.92", made.Net.Number())
	require.Equal(t, "1.81", made.Tax.Number())
	require.Equal(t, "23.73", made.Total.Number())
	require.Equal(t, b.clock.Add(14*24*time.Hour), made.Valid)
	require.NotEmpty(t, made.Cautions)
	require.Equal(t, "H1001", made.Fit.Item.StockNumber)

	d := b.dossier(t, id)
	require.Equal(t, quote.Quoted, d.Inquiry.Status)
	var moves []quote.Status
	for _, e := range d.Events[len(d.Events)-2:] {
		moves = append(moves, e.To)
	}
	require.Equal(t, []quote.Status{quote.Approved, quote.Quoted}, moves)
	l := d.Letters[len(d.Letters)-1]
	require.Equal(t, "quote", l.Kind)
	require.Equal(t, "1-1", l.Quote)
	for _, want := range []string{"It is on the shelf.", "$21.92", "Tax 8.25 %: $1.81", "To pay: $23.73", "16 March 2026", "Caution:"} {
		require.Contains(t, l.Body, want)
	}
	_, err = b.Approve(t.Context(), id, d.Inquiry.Version, "kim", a)
	require.ErrorIs(t, err, quote.ErrMove, "a second click")
	_, err = b.Approve(t.Context(), id, d.Inquiry.Version, "kim", quote.Approval{StockNumber: "none"})
	invalid(t, err, "unknown_stock_number")

	require.NoError(t, b.Decide(t.Context(), id, quote.ByCustomer, "", quote.Decision{Won: true, Why: "thanks"}))
	require.NoError(t, b.Decide(t.Context(), id, quote.ByCustomer, "", quote.Decision{Won: true, Why: "thanks"}))
	d = b.dossier(t, id)
	require.Equal(t, quote.Won, d.Inquiry.Status)
	require.True(t, d.Inquiry.Unread, "somebody has to pack it")
	require.ErrorIs(t, b.Decide(t.Context(), id, quote.ByCustomer, "", quote.Decision{}), quote.ErrMove)
}

// From the words "fire door" to the letter that goes out.
func TestAFireDoorsLetter(t *testing.T) {
	const handwork = `(?i)shim|veneer|plug|lead hole|deepen|lengthen|glue|before you cut or drill|drops in`
	light, square := shelf(t)[0], shelf(t)[0]
	for n := range shelf(t) { // another hinge of its size with square corners
		if i := shelf(t)[n]; i.Height == light.Height && i.Radius == [2]measure.Length{} && i.Thickness == 0.085*measure.Inch {
			square = i
			break
		}
	}
	for name, c := range map[string]struct {
		item catalog.Item
		says []string
	}{
		"it would drop in": {light, []string{"This hinge fits the old cut-out but is below the published least for a fire door: at least 4 1/2 in (114.3 mm) high with a leaf of 0.134 in (3.40 mm)."}},
		"it would not": {square, []string{"This hinge does not fit the old cut-out as it is; changing that on a labelled door is for its label service or a licensed shop.",
			"It is below the published least for a fire door", "The corners of the left leaf differ: old 1/4 in radius, new square."}},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			id := b.receive(t, func(s *quote.Submission) {
				s.Text = "leaf 0.080 in thick, fire door 36 x 84 in, 1 3/4 thick"
			}).Inquiry.ID
			b.measured(t, id, seen(light))
			b.put(id, quote.Ready)
			_, err := b.Approve(t.Context(), id, b.dossier(t, id).Inquiry.Version, "kim", quote.Approval{StockNumber: c.item.StockNumber, Count: 3})
			require.NoError(t, err)
			letters, err := b.Letters(t.Context(), 9)
			require.NoError(t, err)
			last := letters[len(letters)-1].Body
			for _, text := range c.says {
				require.Contains(t, last, text)
			}
			before, _, _ := strings.Cut(last, "Caution:")
			require.NotRegexp(t, handwork+"|(?i)chisel|drill", before)
		})
	}
}

func TestTheReceiptPlaysBackWhatWasRead(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) {
		s.Text = "3 1/2 in high, 2 doors, three hinges on each door, brass"
		s.Wishes.Count = 6
	}).Inquiry.ID
	require.Contains(t, b.dossier(t, id).Letters[0].Body, "We understood: height 3 1/2 in (88.9 mm), 2 doors, 3 hinges on each door, brass, 6 hinges wanted. Tell us where that is wrong.")
	id = b.receive(t, func(s *quote.Submission) {
		s.Text = "1 hinge wanted, 3 hinges on each door, swings in"
		s.Door = catalog.Door{Width: 32 * measure.Inch, Height: 80 * measure.Inch, Thickness: 1.75 * measure.Inch, Weight: 90, Count: 2, Core: "solid", Material: "oak",
			Place: "coastal", Use: "high", Swing: "in", Closer: true, FireRated: true}
		s.Wishes.Finish = "polished brass"
	}).Inquiry.ID
	body := b.dossier(t, id).Letters[0].Body
	require.Contains(t, body, "We understood: 1 hinge wanted, 3 hinges on each door, swings in, door width 32 in (813 mm), door height 80 in (2032 mm), door thickness 1 3/4 in (44.45 mm), "+
		"door weight 90 kg (198 lb), 2 doors, solid core, oak, near the sea, heavy use, with a closer, fire-rated, polished brass. Tell")
	require.Contains(t, body, "We write to you if we need anything more.")
	require.NotContains(t, body, "You need not do anything")
	id = b.receive(t, func(s *quote.Submission) { s.Text = "Hello" }).Inquiry.ID
	require.NotContains(t, b.dossier(t, id).Letters[0].Body, "understood")
}

func TestTheQuoteSaysWhatDoesNotAgree(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, func(s *quote.Submission) { s.Text = "height 6 in, width 6 in" }).Inquiry.ID
	q := b.settled(t, id)
	best := b.dossier(t, id).Proposal.Best
	require.NotEmpty(t, best.Disagreements)
	made, err := b.Approve(t.Context(), id, q.Version, "kim", quote.Approval{StockNumber: "H1001", Count: 3})
	require.NoError(t, err)
	letters := b.dossier(t, id).Letters
	for _, said := range quote.Doubts(best) {
		require.Contains(t, said, "Typed 6 in")
		require.Contains(t, made.Notes, said)
		require.Contains(t, letters[len(letters)-1].Body, said)
	}
	best.Disagreements[0].Overrule = true
	require.Less(t, len(quote.Doubts(best)), len(best.Disagreements), "the counter settled it")
}

func TestOverruleIsMeasuredAgain(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	q := b.settled(t, id)
	b.memory.dossiers[id].Proposal.Best.Disagreements = []measure.Disagreement{{Quantity: measure.QHeight, Slip: "swapped"}}
	invalid(t, b.Overrule(t.Context(), id, q.Version, "kim", "height:decimal", true), "unknown_slip")
	require.NoError(t, b.Overrule(t.Context(), id, q.Version, "kim", "height:swapped", false))
	require.Equal(t, 1, b.dossier(t, id).Inquiry.Revision, "accepting is written down, no more")
	require.ErrorIs(t, b.Overrule(t.Context(), id, q.Version, "kim", "height:swapped", true), quote.ErrStale)

	require.NoError(t, b.Overrule(t.Context(), id, q.Version+1, "kim", "height:swapped", true))
	q = b.dossier(t, id).Inquiry
	require.Equal(t, []string{"height:swapped"}, q.Overrule)
	require.Equal(t, quote.Measuring, q.Status)
	require.Equal(t, 2, b.memory.intentions[id].Revision)
	require.NoError(t, b.Overrule(t.Context(), id, q.Version, "kim", "height:swapped", false))
	require.Empty(t, b.dossier(t, id).Inquiry.Overrule)
}

func TestFailLeavesItToAPerson(t *testing.T) {
	b := newBench(t)
	id := b.receive(t, nil).Inquiry.ID
	require.NoError(t, b.Fail(t.Context(), id, 1, "the disk is on fire"))
	d := b.dossier(t, id)
	require.Equal(t, quote.Stuck, d.Inquiry.Status)
	require.Equal(t, "the disk is on fire", d.Events[len(d.Events)-1].Text)
	require.Equal(t, quote.ByCounter, d.Inquiry.Turn())
	require.Empty(t, b.memory.intentions)
	_, err := b.Add(t.Context(), id, quote.ByCounter, "kim", nil, "once more", "")
	require.NoError(t, err)
	require.Contains(t, b.memory.intentions, id)
}

func TestUsers(t *testing.T) {
	b := newBench(t)
	require.NoError(t, b.AddUser(t.Context(), " kim ", "open the counter", true))
	u, err := b.SignIn(t.Context(), "kim", "open the counter")
	require.NoError(t, err)
	require.True(t, u.Owner)
	require.NotContains(t, u.Hash, "open")
	for _, wrong := range [][2]string{{"kim", "open the Counter"}, {"kim", ""}, {"nobody", "open the counter"}, {"", ""}} {
		_, err := b.SignIn(t.Context(), wrong[0], wrong[1])
		require.ErrorIs(t, err, quote.ErrNotFound)
	}
	invalid(t, b.AddUser(t.Context(), "kim", "short", false), "bad_password")
	invalid(t, b.AddUser(t.Context(), "  ", "long enough to pass", false), "bad_name")
	b.memory.down = errors.New("no connection")
	_, err = b.SignIn(t.Context(), "kim", "open the counter")
	require.NotErrorIs(t, err, quote.ErrNotFound, "an outage is no wrong password")
}

// TestEveryActInEveryStatus tries every act of the desk in every status.
func TestEveryActInEveryStatus(t *testing.T) {
	ctx := context.Background()
	open := "received measuring needs_photo needs_answer ready approved quoted stuck"
	for _, act := range []struct {
		name  string
		from  string // the statuses that it is allowed in
		to    quote.Status
		try   func(b *bench, id quote.ID, version int) error
		quiet string // the statuses in which nothing is to be done, and no error
	}{
		{"start", "received", quote.Measuring, func(b *bench, id quote.ID, _ int) error { return second(b.Start(ctx, id, 1)) }, "measuring"},
		{"fail", "received measuring", quote.Stuck, func(b *bench, id quote.ID, _ int) error { return b.Fail(ctx, id, 1, "why") }, ""},
		{"add by counter", "measuring needs_photo needs_answer ready stuck quoted", quote.Measuring, func(b *bench, id quote.ID, _ int) error {
			return second(b.Add(ctx, id, quote.ByCounter, "kim", nil, "more", ""))
		}, "received"},
		{"approve", "needs_photo needs_answer ready stuck", quote.Quoted, func(b *bench, id quote.ID, v int) error {
			return second(b.Approve(ctx, id, v, "kim", quote.Approval{StockNumber: "H1001", Count: 2}))
		}, ""},
		{"ask for a photo", "needs_photo needs_answer ready stuck", quote.NeedsPhoto, func(b *bench, id quote.ID, v int) error { return b.AskPhoto(ctx, id, v, "kim", "please") }, ""},
		{"ask a question", "needs_photo needs_answer ready stuck", quote.NeedsAnswer, func(b *bench, id quote.ID, v int) error { return b.AskQuestion(ctx, id, v, "kim", "why?") }, ""},
		{"decline", open, quote.Declined, func(b *bench, id quote.ID, v int) error { return b.Decline(ctx, id, v, "kim", "sorry") }, ""},
		{"withdraw", open, quote.Withdrawn, func(b *bench, id quote.ID, _ int) error { return b.Withdraw(ctx, id, quote.ByCustomer, "") }, "withdrawn"},
		{"won", "quoted", quote.Won, func(b *bench, id quote.ID, _ int) error {
			return b.Decide(ctx, id, quote.ByCounter, "kim", quote.Decision{Won: true})
		}, "won"},
		{"lost", "quoted", quote.Lost, func(b *bench, id quote.ID, _ int) error {
			return b.Decide(ctx, id, quote.ByCustomer, "", quote.Decision{})
		}, "lost"},
	} {
		t.Run(act.name, func(t *testing.T) {
			for _, s := range quote.Statuses {
				b := newBench(t)
				id := b.receive(t, nil).Inquiry.ID
				b.put(id, s)
				before := b.dossier(t, id)
				err := act.try(b, id, before.Inquiry.Version)
				after := b.dossier(t, id)
				switch {
				case strings.Contains(" "+act.from+" ", " "+string(s)+" "):
					require.NoError(t, err, s)
					require.Equal(t, act.to, after.Inquiry.Status, "from %s", s)
					last := after.Events[len(after.Events)-1]
					require.Equal(t, act.to, last.To, "the timeline says so")
					require.Equal(t, act.to == quote.Measuring, len(b.memory.intentions) == 1, "from %s: what is to be measured", s)
				case strings.Contains(" "+act.quiet+" ", " "+string(s)+" "):
					require.NoError(t, err, s)
					require.Equal(t, s, after.Inquiry.Status)
				default:
					require.True(t, errors.Is(err, quote.ErrMove) || errors.Is(err, quote.ErrStale), "from %s: %v", s, err)
					require.Equal(t, before, after, "a refused act writes nothing")
				}
			}
		})
	}
}

func second[T any](_ T, err error) error { return err }

func TestPhotoBytes(t *testing.T) {
	b := newBench(t)
	b.receive(t, nil)
	data, err := b.PhotoBytes(t.Context(), picture("one").SHA256)
	require.NoError(t, err)
	require.True(t, bytes.Equal([]byte("one"), data))
}
