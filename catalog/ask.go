package catalog

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"leafgauge/measure"
)

const (
	// inPlay is the least probability of dropping in that keeps a stock hinge in the question.
	inPlay = 0.02
	// leastGain is the expected information, in bits, below which a question is not worth the
	// customer's while.
	leastGain = 0.05
	// noneShare is the least share of "none of these" among the candidates.
	noneShare = 0.02
)

// QPhoto asks for a photo rather than a number.
const QPhoto measure.Quantity = "photo"

// QHand asks for the door's hand.
const QHand measure.Quantity = "handing"

// asking is one question: what it asks for, how well a customer would answer, and how far
// stock hinges of one kind differ in it, both standard deviations in mm.
type asking struct {
	quantity measure.Quantity
	text     string
	answer   float64
	spread   float64
	of       func(*Item) (measure.Length, bool)
	known    func(measure.Best) measure.Estimate
	other    string // asks for it in another way; "" there is none
}

// worth reports whether the answer would halve what is uncertain: 1/√(1/u² + 1/a²) ≤ u/2 where a ≤ u/√3.
func (a asking) worth(old measure.Best) bool {
	known := a.known(old)
	return !known.Known() || a.answer <= known.Sigma.MM()/math.Sqrt(3)
}

// askings are the questions that may be put, the easiest first: of two that say as much the
// first is taken. A size is read off a tape (class II rule, 0.29 mm, and a sixteenth's step,
// 0.46 mm: together 0.54). How well the small ones are answered, the thickness mostly by caliper
// and the radius mostly by eye, and how far hinges of a kind differ is common practice without
// a source.
var askings = []asking{
	{measure.QThickness, "How thick is one leaf at its outer edge, one leaf only? A caliper is best; inches or millimetres.", 0.1, 0.08,
		func(i *Item) (measure.Length, bool) { return i.Thickness, i.Thickness > 0 },
		func(b measure.Best) measure.Estimate { e, _, _ := oldThickness(b); return e }, cardsText},
	{measure.QHeight, "How high is the hinge along its barrel, from end to end of the leaf, without the tips of the pin?", 0.54, 0.4,
		func(i *Item) (measure.Length, bool) { return i.Height, i.Height > 0 },
		func(b measure.Best) measure.Estimate { return b.Height }, ""},
	{measure.QOpenWidth, "How wide is the hinge laid open and flat, from outer edge to outer edge?", 0.54, 0.4,
		func(i *Item) (measure.Length, bool) { return i.OpenWidth, i.OpenWidth > 0 },
		func(b measure.Best) measure.Estimate { return b.OpenWidth }, ""},
	{measure.QCornerRadius, "Are the corners of the leaf square or round, and if round, what is their radius: 1/4 in, 5/8 in or another?", 0.8, 0.3,
		func(i *Item) (measure.Length, bool) { return i.Radius[0], true },
		func(b measure.Best) measure.Estimate {
			if len(b.Leaves) == 0 {
				return measure.Estimate{}
			}
			return b.Leaves[0].CornerRadius
		}, ""},
	{measure.QHoleFromEdge, "How far is the centre of the end screw hole from the leaf's outer edge?", 0.4, 0.25,
		func(i *Item) (measure.Length, bool) { h, ok := endHole(i); return h.FromEdge, ok },
		func(b measure.Best) measure.Estimate { return oldEndHole(b).FromEdge }, ""},
	{measure.QHoleFromEnd, "How far is the centre of the end screw hole from the nearest end of the leaf?", 0.4, 0.25,
		func(i *Item) (measure.Length, bool) { h, ok := endHole(i); return h.FromEnd, ok },
		func(b measure.Best) measure.Estimate { return oldEndHole(b).FromEnd }, ""},
}

// cardsText asks for a leaf's thickness in cards. An ID-1 card is 0.76 ± 0.08 mm thick (ISO/IEC 7810).
const cardsText = "There is a way without a caliper: lay plastic cards (of a library or shop) on one another beside one leaf, flat on the table, until they are as high as the leaf is thick. " +
	"How many cards is it? Halves help: \"2 1/2 cards\"."

// photoText asks for a photo where none has shown the holes yet.
const photoText = "Please send a photo of the hinge laid open and flat beside a library or gift card or our printed one (" + measure.NotThese + "), taken from straight above: it shows the size, the corners and every screw hole."

// handText asks for the hand of the hinge, which is that of the door for who pushes it open.
const handText = "Which way does the door swing? Stand where you push it open, so that it swings away from you: are its hinges on your left or on your right?"

// barText asks for the bar on the printed card's sheet.
const barText = "How long is the black and white bar on the sheet of the printed card, measured with a ruler? At true size it is 100 mm; printers often make a page a little smaller."

// barAnswer is how well a bar of 100 mm is read off a ruler, relative.
const barAnswer = 0.004

// barAskings are what the bar tells, each as well as the bar is read.
func barAskings(old measure.Best) []asking {
	var out []asking
	for _, a := range askings {
		if known := a.known(old); known.Known() && (a.quantity == measure.QHeight || a.quantity == measure.QOpenWidth) {
			a.answer = barAnswer * known.Value.MM()
			out = append(out, a)
		}
	}
	return out
}

func endHole(i *Item) (Hole, bool) {
	best, ok := Hole{}, false
	for _, h := range i.Holes {
		if !ok || h.FromEnd < best.FromEnd {
			best, ok = h, true
		}
	}
	return best, ok
}

func oldEndHole(b measure.Best) measure.Hole {
	var best measure.Hole
	for _, l := range b.Leaves {
		for _, h := range l.Holes {
			if h.FromEnd.Known() && (!best.FromEnd.Known() || h.FromEnd.Value < best.FromEnd.Value) {
				best = h
			}
		}
	}
	return best
}

// A candidate is what the old hinge may be: one geometry on the shelf, or none of them.
type candidate struct {
	item   *Item // nil: none of these
	weight float64
}

// Ask returns the one question whose answer would cut the doubt among fits most, or nil
// where the first fit is sure enough.
//
// The measure is expected information (Lindley, "On a measure of the information provided by
// an experiment", Ann. Math. Statist. 27, 1956): by how many bits the answer, whatever it
// turns out to be, is expected to sharpen which of the shelf's geometries the old hinge has.
// Fits that differ in finish, bearing or price only are one candidate: no reading tells them apart.
//
// Which hinge is meant comes first where the photo and what was typed are of two, then a length that what was typed leaves
// two values of. What the answer would not tell much better
// than it is known is not asked, nor what was just told; QPhoto among told says that no photo is to be had.
func Ask(old measure.Best, fits []Fit, door Door, told ...measure.Quantity) *Question {
	if old.OfAnotherHinge() {
		return askWhich(old)
	}
	if q := askRivals(old, told); q != nil {
		return q
	}
	if len(fits) == 0 || fits[0].P >= SureEnough {
		return nil
	}
	if fits[0].handOpen && fits[0].Verdict != DoesNotSuit {
		return &Question{Quantity: QHand, Text: handText, Gain: 1} // either hand is as likely: one bit
	}
	list := candidates(fits)
	if len(list) < 2 {
		return nil
	}
	best := Question{}
	for _, a := range askings {
		if slices.Contains(told, a.quantity) || !a.worth(old) {
			continue
		}
		if gain := information(list, old, []asking{a}, true); gain > best.Gain*1.05 {
			best = Question{Quantity: a.quantity, Text: a.text, Gain: gain, Where: string(a.quantity), Other: a.other}
		}
	}
	if old.PrintDoubt*math.Sqrt(3) >= barAnswer && !slices.Contains(told, measure.QScaleBar) {
		// The bar tells the scale of every length that the photo gave.
		gain := information(list, old, barAskings(old), true)
		if gain > best.Gain*1.05 {
			best = Question{Quantity: measure.QScaleBar, Text: barText, Gain: gain}
		}
	}
	if !holesSeen(old) {
		// A photo shows everything but the thickness.
		gain := information(list, old, askings[1:], false)
		if gain > best.Gain*1.05 {
			best = Question{Quantity: QPhoto, Text: photoText, Gain: gain}
		}
	}
	if best.Gain < leastGain {
		return askFurther(old, fits, told...)
	}
	best.Gain = math.Round(best.Gain*1000) / 1000
	return &best
}

// orTyped ends the question whether the hinge in the photo is meant or the one that was typed.
const orTyped = "they look like two different hinges. Which one is it about? " +
	"Answer \"the one in the photo\", or type the right sizes, or send a photo of the hinge that you mean."

// AsksPhotoOrTyped reports whether a question is that one.
func AsksPhotoOrTyped(text string) bool { return strings.HasSuffix(text, orTyped) }

// askWhich asks whether the hinge in the photo is meant or the one that was typed, with the sizes of both.
func askWhich(old measure.Best) *Question {
	size := func(height, width measure.Length) string {
		var each []string
		if height > 0 {
			each = append(each, Fractions(Both(height))+" high")
		}
		if width > 0 {
			each = append(each, Fractions(Both(width))+" wide open")
		}
		return strings.Join(each, " and ")
	}
	var height, width measure.Length
	for _, t := range old.Trace {
		if t.Source == "typed" && !t.Used {
			switch measure.Quantity(t.Quantity) {
			case measure.QHeight:
				height = t.Input.Value
			case measure.QOpenWidth:
				width = t.Input.Value
			case measure.QLeafWidth:
				width = 2 * t.Input.Value
			}
		}
	}
	return &Question{Quantity: QPhoto, Gain: 1, Text: fmt.Sprintf("The hinge in your photo is %s, and you typed %s: "+orTyped, size(old.Height.Value, old.OpenWidth.Value), size(height, width))}
}

// rivalWords name what may have two values.
var rivalWords = map[measure.Quantity]string{
	measure.QHeight: "the height", measure.QOpenWidth: "the open width", measure.QThickness: "the thickness of a leaf",
	measure.QCornerRadius: "the corner radius", measure.QCornerDiameter: "the corner's diameter",
}

// askRivals asks for the first length that has two values about as likely: until it is known which, all else
// is built on sand. Of a size a photo tells more than a number typed once more.
func askRivals(old measure.Best, told []measure.Quantity) *Question {
	for _, r := range old.Rivals {
		q := AskRival(r)
		if q == nil || slices.Contains(told, q.Quantity) {
			continue
		}
		if size := r.Quantity == measure.QHeight || r.Quantity == measure.QOpenWidth; size && !holesSeen(old) && !slices.Contains(told, QPhoto) {
			return &Question{Quantity: QPhoto, Text: photoText, Gain: q.Gain}
		}
		return q
	}
	return nil
}

// AsksForCards reports whether the question wants a thickness counted in cards.
func (q *Question) AsksForCards() bool { return strings.HasSuffix(q.Text, cardsText) }

// AskRival asks again for a length of which what was typed leaves two values.
func AskRival(r measure.Rival) *Question {
	q := Question{Quantity: r.Quantity}
	at := slices.IndexFunc(askings, func(a asking) bool {
		return a.quantity == r.Quantity || a.quantity == measure.QCornerRadius && r.Quantity == measure.QCornerDiameter
	})
	if at < 0 || len(r.Values) < 2 {
		return nil
	}
	a := askings[at]
	say := func(l measure.Length) string { return Fractions(Both(l)) }
	if r.Quantity == measure.QThickness {
		say = thousandths
	}
	be := "be"
	if r.Quantity == measure.QCornerRadius || r.Quantity == measure.QCornerDiameter {
		be = "be a radius of"
	}
	doubt := fmt.Sprintf("You typed %s for %s: that may %s %s or %s. ", Fractions(r.Typed), rivalWords[r.Quantity], be, say(r.Values[0]), say(r.Values[1]))
	q.Quantity, q.Where, q.Text = a.quantity, string(a.quantity), doubt+a.text
	if a.other != "" {
		q.Other = doubt + a.other
	}
	p := r.Odds / (1 + r.Odds)
	q.Gain = math.Round(-1000*(p*math.Log2(p)+(1-p)*math.Log2(1-p))) / 1000
	return &q
}

func holesSeen(b measure.Best) bool { return oldEndHole(b).FromEnd.Known() }

// candidates are the geometries in play with their probabilities, the last one "none".
func candidates(fits []Fit) []candidate {
	at := map[alike]int{}
	var list []candidate
	sum := 0.0
	for i := range fits {
		f := &fits[i]
		if f.PDropsIn < inPlay {
			continue
		}
		a := alikeOf(&f.Item)
		if _, ok := at[a]; ok {
			continue
		}
		at[a] = len(list)
		list = append(list, candidate{&f.Item, f.PDropsIn})
		sum += f.PDropsIn
	}
	if len(list) == 0 {
		return nil
	}
	none := math.Max(noneShare, 1-sum)
	list = append(list, candidate{nil, none})
	for i := range list {
		list[i].weight /= sum + none
	}
	return list
}

// askDraws is how many answers are tried for each candidate.
const askDraws = 200

// information is the expected information, in bits, of hearing the answers to all of asks
// together. hand says that a customer reads them; a photo measures to photoU.
func information(list []candidate, old measure.Best, asks []asking, hand bool) float64 {
	const photoU = 0.1 // mm
	dims := len(asks)
	mean := make([][]float64, len(list))
	sigma := make([][]float64, len(list))
	for d, a := range asks {
		u := a.answer
		if !hand {
			u = photoU
		}
		known := a.known(old)
		// The values on the shelf, for what "none of these" might have.
		low, high := math.Inf(1), math.Inf(-1)
		for _, c := range list {
			if c.item == nil {
				continue
			}
			if v, ok := a.of(c.item); ok {
				low, high = math.Min(low, v.MM()), math.Max(high, v.MM())
			}
		}
		if math.IsInf(low, 0) {
			low, high = 0, 0
		}
		wideMean, wideSigma := (low+high)/2, math.Max(high-low, math.Max(6*a.spread, 0.15*high))
		for i, c := range list {
			m, s := wideMean, wideSigma
			if c.item != nil {
				if v, ok := a.of(c.item); ok {
					m, s = v.MM(), a.spread
				}
			}
			if known.Known() { // what is known already is no news
				w := s * s / (s*s + known.Sigma.MM()*known.Sigma.MM())
				m, s = m+w*(known.Value.MM()-m), s*math.Sqrt(1-w)
			}
			if mean[i] == nil {
				mean[i], sigma[i] = make([]float64, dims), make([]float64, dims)
			}
			mean[i][d], sigma[i][d] = m, math.Hypot(s, u)
		}
	}
	logDensity := func(i int, y []float64) float64 {
		l := 0.0
		for d := range y {
			z := (y[d] - mean[i][d]) / sigma[i][d]
			l -= z*z/2 + math.Log(sigma[i][d])
		}
		return l
	}
	rng := rand.New(rand.NewPCG(27, 1956)) // the same doubt gives the same question
	gain := 0.0
	y := make([]float64, dims)
	z := make([]float64, dims)
	l := make([]float64, len(list))
	for i, c := range list {
		for n := range askDraws {
			for d := range y {
				if n%2 == 0 {
					z[d] = rng.NormFloat64()
				} else {
					z[d] = -z[d]
				}
				y[d] = mean[i][d] + sigma[i][d]*z[d]
			}
			top := math.Inf(-1)
			for j := range list {
				l[j] = math.Log(list[j].weight) + logDensity(j, y)
				top = math.Max(top, l[j])
			}
			sum := 0.0
			for j := range list {
				sum += math.Exp(l[j] - top)
			}
			// log2 of p(y | c) / p(y)
			gain += c.weight * (logDensity(i, y) - top - math.Log(sum)) / math.Ln2 / askDraws
		}
	}
	return math.Max(0, gain)
}
