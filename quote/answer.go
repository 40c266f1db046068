package quote

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"leafgauge/catalog"
	"leafgauge/intake/readings"
	"leafgauge/measure"
)

// answer is text as it is added to what was typed. A bare number or word that answers the
// program's question ("0.086", "left", "lost") is given the name of what was asked where only
// that makes it readable.
func answer(do Dossier, text string) string {
	if text == "" || do.Proposal == nil || do.Proposal.Question == nil {
		return text
	}
	asked := do.Proposal.Question.Quantity
	states := func(text, kind string) bool {
		return slices.ContainsFunc(readings.Parse(text).Statements, func(s measure.Statement) bool { return s.Kind == kind })
	}
	switch {
	case asked == catalog.QPhoto && len(do.Proposal.Best.Apart) > 1: // which of several hinges
		for _, named := range []string{text, "photo " + text, text + " photo"} { // "the second" photo
			if states(named, measure.SaidPhoto) {
				return named
			}
		}
		return text
	case asked == catalog.QPhoto:
		if named := "other leaf " + text; do.Inquiry.Status == NeedsPhoto && !states(text, "leaf") && states(named, "leaf") {
			return named
		}
		return text
	case do.Inquiry.Status != NeedsAnswer:
		return text
	case asked == catalog.QHand:
		if left, right := saysWord(text, "left"), saysWord(text, "right"); !states(text, "handing") && left != right {
			if left {
				return "left hand: " + text
			}
			return "right hand: " + text
		}
		return text
	}
	if asked == measure.QThickness {
		if mm, off, ok := inCards(text, do.Proposal.Question.AsksForCards()); ok {
			return fmt.Sprintf("thickness %.1f ± %.1f mm (%s)", mm, off, text)
		}
		if mm, ok := inHalves(text); ok {
			off := halfOff
			if settles(do.Proposal.Best.Rivals, mm) {
				off = settlingOff
			}
			return fmt.Sprintf("thickness %.1f ± %.2g mm (%s)", mm, off, text)
		}
	}
	says := func(text string) bool {
		return slices.ContainsFunc(readings.Parse(text).Readings, func(r measure.Reading) bool { return r.Quantity == asked })
	}
	named := strings.ReplaceAll(string(asked), "_", " ") + " " + text
	if !putsOff(text) && !ofAnother(text, asked) && !says(text) && says(named) {
		return named
	}
	return text
}

// namesOne reports whether statements name one photo and no other.
func namesOne(all []measure.Statement) bool {
	named := map[string]bool{}
	for _, s := range all {
		if s.Kind == measure.SaidPhoto {
			named[s.Value] = true
		}
	}
	return len(named) == 1
}

// aboutOne is typed with the photo that the customer says it is about: the last one that was named alone. A text that names
// several tells them apart and says of none that it is the one.
func aboutOne(text string, typed measure.Readings) measure.Readings {
	var one *measure.Statement
	for block := range strings.SplitSeq(text, "\n\n") {
		said := readings.Parse(block).Statements
		if namesOne(said) {
			one = &said[slices.IndexFunc(said, func(s measure.Statement) bool { return s.Kind == measure.SaidPhoto })]
		}
	}
	typed.Statements = slices.DeleteFunc(slices.Clone(typed.Statements), func(s measure.Statement) bool { return s.Kind == measure.SaidPhoto })
	if one != nil {
		typed.Statements = append(typed.Statements, *one)
	}
	return typed
}

// sentInstead is the number of the newest photo that came after the question whether the first one or the typed sizes are
// of the hinge that is meant; 0 none.
func sentInstead(do Dossier) (n int) {
	for _, e := range do.Events {
		if e.What != "asked a question" || !catalog.AsksPhotoOrTyped(e.Text) {
			continue
		}
		for _, p := range do.Inquiry.Photos {
			if p.Added.After(e.At) {
				n = p.N
			}
		}
	}
	return n
}

// saysWord reports whether word is one of those of text, in small letters or capitals.
func saysWord(text, word string) bool {
	return slices.Contains(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) }), word)
}

// sizeWords are words that tell which size a number is of.
var sizeWords = map[measure.Quantity][]string{
	measure.QHeight: {"high", "height", "tall", "long", "length"}, measure.QOpenWidth: {"wide", "width", "open"}, measure.QThickness: {"thick", "thickness"},
	measure.QCornerRadius: {"radius", "corner", "corners"}, measure.QBarrelDiameter: {"barrel"}, measure.QPinDiameter: {"pin"}, measure.QDoorHeight: {"door"},
}

// ofAnother reports whether a text speaks of another size than was asked for, and not of that.
func ofAnother(text string, asked measure.Quantity) bool {
	other := false
	for q, words := range sizeWords {
		if slices.ContainsFunc(words, func(word string) bool { return saysWord(text, word) }) {
			if q == asked {
				return false
			}
			other = true
		}
	}
	return other
}

// putsOff reports whether a text speaks of later: a number in it is an hour or a telephone's, no size.
func putsOff(text string) bool {
	return slices.ContainsFunc([]string{"tomorrow", "tonight", "later", "call", "phone", "ring", "o", "clock", "week", "weekend", "monday", "tuesday", "wednesday", "thursday",
		"friday", "saturday", "sunday"}, func(word string) bool { return saysWord(text, word) })
}

// cardThickness is that of a card, mm (ISO/IEC 7810: 0.76 ± 0.08).
const cardThickness = 0.76

var (
	cardsForm  = regexp.MustCompile(`(?i)^[^\d½]*?(?:(\d+|one|two|three|four|five|six|seven)\b)?[ -]*(½|1/2|\.5|,5|and a half)?(?:(?: to |-| or )(\d+|three|four|five|six|seven))? *((?:bank |credit |library )?cards?)?\b[^\d]*$`)
	smallWords = []string{"zero", "one", "two", "three", "four", "five", "six", "seven"}
)

// inCards reads a thickness told in cards laid on one another, as "3 cards" or "2 1/2"; the word itself may
// be missing where it was asked for them. off is how far it may be off, mm: half of what was counted in.
func inCards(text string, asked bool) (mm, off float64, ok bool) {
	m := cardsForm.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil || m[1] == "" && m[2] == "" || m[4] == "" && (!asked || hasUnit(text)) {
		return 0, 0, false
	}
	number := func(s string) float64 {
		if k := slices.Index(smallWords, strings.ToLower(s)); k > 0 {
			return float64(k)
		}
		n, _ := strconv.ParseFloat(s, 64)
		return n
	}
	n, step := number(m[1]), 1.0
	if m[2] != "" {
		n, step = n+0.5, 0.5
	}
	if m[3] != "" { // 2 to 3
		n, step = (n+number(m[3]))/2, math.Max(1, math.Abs(number(m[3])-n))
	}
	if n < 1 || n > 8 {
		return 0, 0, false
	}
	return n * cardThickness, math.Hypot(step/2*cardThickness, 0.08*n/2), true
}

// A thickness told in millimetres and a half, "about two and a half mm", is off by this at most, mm: who sees the half
// tells it from the quarters. Where it chooses between two values that were named it is taken as the triangle of those
// limits, 1/√6 of them, and not as the even spread, 1/√3.
const halfOff, settlingOff = 0.2, 0.14

// inHalves reads a thickness told in half millimetres, where the words leave it vaguer than that.
func inHalves(text string) (mm float64, ok bool) {
	var found []measure.Reading
	for _, r := range readings.Parse("thickness " + text).Readings {
		if r.Quantity == measure.QThickness && r.Value != nil {
			found = append(found, r)
		}
	}
	if len(found) != 1 || found[0].UnitAsTyped != "mm" || found[0].U < 0.1 {
		return 0, false
	}
	mm = found[0].Value.MM()
	return mm, math.Abs(math.Mod(2*mm, 2)-1) < 1e-6
}

// settles reports whether a thickness in mm is near one of the two values that were asked about, and not the other.
func settles(rivals []measure.Rival, mm float64) bool {
	at := slices.IndexFunc(rivals, func(r measure.Rival) bool { return r.Quantity == measure.QThickness && len(r.Values) > 1 })
	if at < 0 {
		return false
	}
	near := func(l measure.Length) bool { return math.Abs(l.MM()-mm) <= halfOff }
	return near(rivals[at].Values[0]) != near(rivals[at].Values[1])
}

// hasUnit reports whether a text names a unit of length.
func hasUnit(text string) bool {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) })
	return strings.ContainsAny(text, `"″”`) || slices.ContainsFunc(words, func(word string) bool { _, ok := measure.UnitWord(word); return ok })
}

// askedLast is the program's last question to the customer, where it was the last thing asked, and what the customer
// wrote since. No question: nothing was asked, or a photo came, or somebody at the counter asked.
func askedLast(do Dossier) (question *catalog.Question, words string) {
	last := -1
	for i, e := range do.Events {
		if e.What == "asked a question" || e.What == "asked for a photo" {
			last = i
		}
	}
	if last < 0 || do.Proposal == nil || do.Proposal.Question == nil {
		return nil, ""
	}
	if e := do.Events[last]; e.By != ByProgram || e.What != "asked a question" || !strings.HasSuffix(e.Text, do.Proposal.Question.Text) {
		return nil, ""
	}
	var texts []string
	for _, e := range do.Events[last+1:] {
		switch e.What {
		case "photo added":
			return nil, ""
		case "text added":
			texts = append(texts, e.Text)
		}
	}
	return do.Proposal.Question, strings.Join(texts, "\n\n")
}

// unused is what the customer answered to the program's question where it does not answer it: "dunno, looks thin"; "" where
// it does, or where nothing was asked.
func unused(do Dossier) string {
	question, words := askedLast(do)
	if question == nil || words == "" {
		return ""
	}
	do.Inquiry.Status = NeedsAnswer // as it was when the words came
	if do.Proposal.Best.OfAnotherHinge() && slices.ContainsFunc([]string{"photo", "picture", "typed", "sizes"}, func(word string) bool { return saysWord(words, word) }) {
		return "" // which of two: a person reads it
	}
	if answers(question.Quantity, len(do.Proposal.Best.Apart) > 1, readings.Parse(answer(do, words))) {
		return ""
	}
	return words
}

// answers reports whether what was read of a text answers the question for a quantity.
func answers(asked measure.Quantity, apart bool, read measure.Readings) bool {
	states := func(kind string) bool {
		return slices.ContainsFunc(read.Statements, func(s measure.Statement) bool { return s.Kind == kind })
	}
	sizes := []measure.Quantity{asked}
	switch {
	case asked == catalog.QPhoto && apart:
		return namesOne(read.Statements)
	case asked == catalog.QPhoto:
		return states("leaf") || len(read.Readings) > 0
	case asked == catalog.QHand:
		return states("handing")
	case asked == measure.QOpenWidth:
		sizes = append(sizes, measure.QLeafWidth)
	case asked == measure.QCornerRadius:
		if states("corner") {
			return true
		}
		sizes = append(sizes, measure.QCornerDiameter)
	}
	return slices.ContainsFunc(read.Readings, func(r measure.Reading) bool { return r.Value != nil && slices.Contains(sizes, r.Quantity) })
}

// justTold lists what the customer's last addition gives a number of, which is not asked for again at once, and
// catalog.QPhoto where a photo was asked for and none came.
func justTold(do Dossier) (told []measure.Quantity) {
	photo := false
	for _, e := range do.Events {
		switch e.What {
		case "asked for a photo":
			photo = true
		case "photo added":
			photo = false
		case "text added":
			told = nil
			for _, r := range readings.Parse(e.Text).Readings {
				told = append(told, r.Quantity)
			}
		}
	}
	if question, words := askedLast(do); question != nil && words != "" && unused(do) == "" {
		told = append(told, question.Quantity) // a bare number
	}
	if photo {
		told = append(told, catalog.QPhoto)
	}
	return told
}

// cannotUse tells the customer that an answer says nothing that can be used.
func cannotUse(words string) string {
	words = oneLine(words)
	if r := []rune(words); len(r) > 80 {
		words = string(r[:79]) + "…"
	}
	return "We could not use the answer “" + words + "” to our question."
}

func unusedLetter(t Terms, q Inquiry, words string) Letter {
	return letter(t, q, "answer", "Your answer about your hinge",
		"Thank you for your answer. "+cannotUse(words)+" Nothing is lost: somebody at the counter has your words and looks at your question now. You need not do anything.",
		"If you can say more after all, answer this e-mail, or write it on this page:\n"+LinkMark)
}
