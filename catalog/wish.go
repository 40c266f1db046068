package catalog

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// wanted is what customer and door ask for beside the fit.
type wanted struct {
	finish       Finish     // zero: no wish
	finishWords  string     // as the customer said it
	seen         seenFinish // of the old hinge, by the photo's hint, where there is no wish
	bearing      measure.Bearing
	bearingSure  bool // asked for, not only like the old one
	wish         Wishes
	notFinish    []Finish
	manyFinishes []string // several are asked for, and nobody said which hinge is to have which
	noFinish     string   // asked for, and no finish is known by that name
	types        []string // other kinds of hinge that are spoken of: lift-off, rising butt
	notFire      bool     // said not to be a fire door
	round        bool     // corners are said to be round, and no photo or number tells them
	count        int
	door         Door
	least        sizeRow // hinge height that the door asks for; zero where not known
	knowLeast    bool
	fire         fireLeast // of a fire-rated opening; zero where no row says
}

// A fireLeast is the least hinge of the published table for a fire-rated opening.
type fireLeast struct {
	hinge, leaf measure.Length
	anyDoor     bool // the least of every row that the door may be of: its size is not known
}

// leastFire looks the door's row up. Where its size is not known, less than every row asks for is
// too little all the same; where it is larger than the table goes, nothing is known.
func leastFire(d Door) fireLeast {
	if r, ok := fireHinge(d); ok {
		return fireLeast{r.hinge, r.leaf, false}
	}
	var l fireLeast
	for _, r := range fireRows {
		if d.Thickness > 0 && math.Abs((d.Thickness-r.thickness).MM()) >= 2 || d.Width > r.width+0.5 || d.Height > r.height+0.5 {
			continue
		}
		if l.hinge == 0 {
			l = fireLeast{r.hinge, r.leaf, true}
		}
		l.hinge, l.leaf = min(l.hinge, r.hinge), min(l.leaf, r.leaf)
	}
	return l
}

func (l fireLeast) String() string {
	return fmt.Sprintf("at least %s high with a leaf of %s", Both(l.hinge), thousandths(l.leaf))
}

// wanting collects the wishes: what was asked for, else what the old hinge is.
func wanting(old measure.Best, door Door, wish Wishes) wanted {
	if sameAsOld(wish.Finish) {
		wish.Finish = ""
	}
	asked := wish.Finish
	door, wish = door.Heard(old.Said), wish.Heard(old.Said)
	w := wanted{door: door, wish: wish, count: CountHinges(door, wish).Wanted(), bearing: wish.Bearing, bearingSure: wish.Bearing == measure.BallBearing || wish.Bearing == measure.PlainBearing}
	s := said(old.Said)
	w.manyFinishes = finishesOf(append(strings.Split(asked, " and "), s.values("finish")...))
	if w.manyFinishes = slices.DeleteFunc(w.manyFinishes, func(f string) bool { return f == "" }); len(w.manyFinishes) < 2 {
		w.manyFinishes = nil
	}
	for _, text := range append([]string{asked}, s.values("finish")...) {
		if f, ok := FindFinish(text, ""); ok && w.finish.Look == "" {
			w.finish, w.finishWords = f, text
		}
	}
	for _, st := range old.Said {
		if st.Kind == "finish" && st.Value == w.finishWords && st.Text != "" {
			w.finishWords = st.Text
		}
	}
	for _, st := range old.Said {
		if f, ok := FindFinish(strings.TrimPrefix(st.Value, "not "), ""); ok && st.Kind == "finish" && strings.HasPrefix(st.Value, "not ") {
			w.notFinish = append(w.notFinish, f)
		}
	}
	w.types, w.notFire = s.values("type"), slices.Contains(s.values("fire_label"), "none")
	corners := s.values("corner")
	w.round = slices.Contains(corners, "round") && !slices.Contains(corners, "square") &&
		!slices.ContainsFunc(old.Leaves, func(l measure.Leaf) bool { _, known := radiusOf(l); return known })
	if w.finish.Look == "" {
		w.noFinish = wish.Finish
		w.seen = seenAs(old.FinishHint)
	}
	if !w.bearingSure {
		w.bearing = old.Bearing
	}
	w.least, w.knowLeast = hingeHeight(w.door.Thickness, w.door.Width)
	if w.door.FireRated {
		w.fire = leastFire(w.door)
	}
	return w
}

// deniedFinish reports that i is in a finish that was said not to be wanted.
func (w wanted) deniedFinish(i *Item) bool {
	look := finishLook(i)
	return look != "" && slices.ContainsFunc(w.notFinish, func(f Finish) bool { return f.Look == look })
}

// loosePin says what speaks against a loose pin where it was not asked for, or "".
func (w wanted) loosePin(i *Item) string {
	other := w.wish.PinKind != "" // was asked for
	if i.PinKind != "loose" || w.wish.PinKind == "loose" || !w.door.pinsOutside() && !(other && w.door.Swing != "in") {
		return ""
	}
	text := "Loose pin: if the door swings out, the pins can be drawn from outside"
	if w.door.Swing == "out" {
		text = "Loose pin: the door swings out, so that the pins can be drawn from outside"
	}
	if other {
		return text + "."
	}
	return text + "; ask about a non-removable pin."
}

// otherSpring says what speaks against i as a spring hinge, or as one without a spring; or "".
func (w wanted) otherSpring(i *Item) string {
	switch spring := i.spring(); {
	case w.wish.Spring == "spring" && !spring:
		return "Asked for as a spring hinge; the stock list calls this one none."
	case w.wish.Spring == "none" && spring:
		return "Asked for without a spring; this one is a spring hinge."
	case w.wish.Spring == "" && spring && !w.door.Closer:
		return "It is a spring hinge, which nobody asked for: it closes the door by itself."
	}
	return ""
}

// handOpen reports that i is handed and the door's hand is not known, otherHand that it is the
// other one.
func (w wanted) handOpen(i *Item) bool { return i.Handing != "" && w.wish.Handing == "" }

func (w wanted) otherHand(i *Item) bool {
	return i.Handing != "" && w.wish.Handing != "" && i.Handing != w.wish.Handing
}

// rusts says how plated steel stands where the door hangs, or "".
func (w wanted) rusts(i *Item) string {
	switch {
	case i.BaseMetal != "steel":
	case w.door.FireRated && (wetPlace(w.door.Place) || w.door.Place == "outside"): // brass softens in a fire
		return fmt.Sprintf("Plated steel rusts where this door hangs: stainless steel that is listed for a fire door lasts (%s).", CommonPractice)
	case wetPlace(w.door.Place):
		return fmt.Sprintf("Plated steel rusts in a %s place: stainless or brass lasts (%s).", w.door.Place, CommonPractice)
	case w.door.Place == "outside":
		return fmt.Sprintf("Plated steel rusts outdoors unless its finish is made for it: stainless or brass lasts (%s).", CommonPractice)
	}
	return ""
}

func (w wanted) otherFinish(i *Item) bool {
	if w.finish.Look == "" {
		return false
	}
	if f, ok := FinishByNumber(i.FinishNo); ok {
		return f.Look != w.finish.Look
	}
	return !strings.EqualFold(i.Finish, w.finish.US)
}

// belowFire reports whether i is less than the published table asks of the door's fire-rated
// opening; false where the table has no row for it. A leaf that only rounds to the table's
// thickness counts as that.
func (w wanted) belowFire(i *Item) bool {
	return w.fire.hinge > 0 && (i.Height < w.fire.hinge-1 || i.Thickness > 0 && i.Thickness < w.fire.leaf-0.001*measure.Inch)
}

// notSteel reports that i is of another metal than fire-rated openings take.
func notSteel(i *Item) bool {
	return i.BaseMetal != "" && i.BaseMetal != "steel" && i.BaseMetal != "stainless"
}

// missesFire says what the published least for the door's fire-rated opening asks for and i is not,
// or "".
func (w wanted) missesFire(i *Item) string {
	if !w.door.FireRated {
		return ""
	}
	var asks []string
	if w.belowFire(i) {
		asks = append(asks, w.fire.String())
	}
	if notSteel(i) {
		asks = append(asks, "steel")
	}
	if i.Bearing == measure.PlainBearing {
		asks = append(asks, "ball bearings")
	}
	return strings.Join(asks, ", ")
}

// needsBearing says why the door asks for a bearing hinge, or "".
func (w wanted) needsBearing() string {
	switch {
	case w.door.FireRated:
		return "a fire-rated opening takes ball bearing hinges (NFPA 80)"
	case w.door.Closer:
		return "a door with a closer takes bearing hinges, not plain ones (US Army TM 5-805-8)"
	case w.door.Use == "high":
		return "a door in frequent use takes bearing hinges (US Army TM 5-805-8)"
	case w.door.Weight >= heavyDoor:
		return fmt.Sprintf("a door of %s takes bearing hinges (%s)", w.door.mass(), CommonPractice)
	}
	return ""
}

const noneOnHand = "None on hand"

// stockWarning is what a quote's own notes say of the stock, by the count that it is for.
var stockWarning = regexp.MustCompile(`^(?:` + noneOnHand + `|\d+ on hand, \d+ wanted)[.;]|^Discontinued[.;]`)

// withoutNotes takes the notes on sources out of a sentence; a standard's name stays.
var withoutNotes = strings.NewReplacer(" ("+string(CommonPractice)+")", "", "; "+string(CommonPractice), "", ", from guides that quote it", "",
	" (older 2-8A)", "", " as quoted in a trade page", "", ", second hand", "", ", from memory", "")

// ForCustomer is sentences of a fit or of advice as a customer's letter has them: without what the quote's
// own notes say of the stock, and without the notes on sources, which are the counter's.
func ForCustomer(sentences []string) []string {
	out := []string{}
	for _, s := range sentences {
		if !stockWarning.MatchString(s) {
			out = append(out, withoutNotes.Replace(s))
		}
	}
	return out
}

// A severity is how heavily a point weighs with whoever decides.
type severity int

const (
	mind         severity = iota // to be minded
	unlikeAsked                  // another look or bearing than was asked for
	overRule                     // it goes against a published least
	overCustomer                 // it goes against what the customer said: pin, hand, spring, kind of hinge or door
)

// A point is one thing that speaks against a hinge beside its fit.
type point struct {
	kind     string  // what it is about
	cost     float64 // minutes, as limit.go has them; 0 only warns
	text     string  // a sentence; "" only orders
	severity severity
}

// points are all that speaks against i.
func (w wanted) points(i *Item) (out []point) {
	say := func(kind string, cost float64, how severity, format string, args ...any) {
		out = append(out, point{kind, cost, fmt.Sprintf(format, args...), how})
	}
	w.otherKind(i, say)
	if w.door.FireRated {
		say("fire", 0, mind, "Fire-rated opening: keep to the terms of its label and ask the authority having jurisdiction before anything is changed.")
		if notSteel(i) {
			say("metal", costWrongDoor, overRule, "This hinge is of %s; a fire-rated opening takes steel (NFPA 80).", i.BaseMetal)
		}
		switch {
		case w.belowFire(i):
			opening := "this opening"
			if w.fire.anyDoor {
				opening = "any door of the table"
			}
			say("least", costWrongDoor, overRule, "The published least for %s is %s high and %s thick (%s); this hinge is %s high and %s thick.",
				opening, Both(w.fire.hinge), thousandths(w.fire.leaf), fireSource, Both(i.Height), thousandths(i.Thickness))
		case w.fire.hinge == 0 || w.fire.anyDoor:
			say("least", 0, mind, "Whether it is the published least for this opening can't be told: the door's size is not known, or larger than the table goes.")
		}
	}
	if why := w.needsBearing(); why != "" && i.Bearing == measure.PlainBearing {
		how := mind
		if w.door.FireRated {
			how = overRule
		}
		say("bearing", costWrongDoor, how, "Plain bearing: %s.", why)
	}
	if w.knowLeast && i.Height < w.least.hinge-1 {
		say("size", costUndersized, mind, "Undersized for this door: a door %s thick and %s wide asks for hinges of %s (%s).",
			Both(w.door.Thickness), Both(w.door.Width), Both(w.least.hinge), w.least.source)
	}
	if text := w.rusts(i); text != "" {
		cost := costUndersized
		if !wetPlace(w.door.Place) {
			cost /= 2
		}
		say("place", cost, mind, "%s", text)
	}
	if i.PinKind != "" && w.wish.PinKind != "" && i.PinKind != w.wish.PinKind {
		say("pin", costPin, overCustomer, "Asked for with a %s pin; this one has a %s pin.", w.wish.PinKind, i.PinKind)
	}
	if text := w.loosePin(i); text != "" {
		cost := costPin
		if w.wish.PinKind != "" {
			cost = 0 // it costs already what was asked for and is not
		}
		say("pin", cost, mind, "%s", text)
	}
	if text := w.otherSpring(i); text != "" {
		say("spring", costSpring, overCustomer, "%s", text)
	}
	if w.otherFinish(i) && len(w.manyFinishes) == 0 {
		say("finish", costFinish, unlikeAsked, "Asked for in %s; this one is %s.", w.finish.named(w.finishWords), cmp.Or(finishLook(i), i.Finish, "of another finish"))
	}
	if look := finishLook(i); look != "" && w.seen.differs(look) {
		say("finish", costFinish/2, mind, "The old hinge %s in the photo; this one is %s. A photo's colours are only a hint.", w.seen.words, look)
	}
	switch look := finishLook(i); {
	case len(w.manyFinishes) > 0:
		say("finish", 0, unlikeAsked, "Asked for in %s: ask which is to have which; this one is %s.", strings.Join(w.manyFinishes, " and "), cmp.Or(look, i.Finish, "of a finish that the list does not give"))
	case w.noFinish == "":
	case strings.HasPrefix(look, "primed"):
		say("finish", 0, unlikeAsked, "Asked for in “%s”: this one is primed, to be painted in it.", w.noFinish)
	default:
		say("finish", 0, unlikeAsked, "Asked for in “%s”, and no finish is known by that name; this one is %s.", w.noFinish, cmp.Or(look, i.Finish, "of a finish that the list does not give"))
	}
	if w.deniedFinish(i) {
		say("finish", costFinish, unlikeAsked, "Not wanted in %s; this one is.", finishLook(i))
	}
	if w.squareForRound(i) {
		say("corners", 2*costChisel, mind, "Said to have round corners; this one's are square.")
	}
	switch {
	case i.Bearing == w.bearing || i.Bearing != measure.BallBearing && i.Bearing != measure.PlainBearing || w.bearing == "" || w.bearing == measure.BearingUnknown:
	case w.bearingSure:
		say("bearing", costBearing, unlikeAsked, "Asked for with %s bearings; this one has %s ones.", w.bearing, i.Bearing)
	default:
		out = append(out, point{kind: "bearing", cost: costBearing / 2})
	}
	switch {
	case w.otherHand(i):
		say("hand", costUnsuited, overCustomer, "It is handed: %s; by what was said the door takes %s ones.", i.Handing, w.wish.Handing)
	case w.handOpen(i):
		say("hand", costHandOpen, mind, "It is handed: %s. Check which way the door swings.", i.Handing)
	case i.Handing != "":
		say("hand", 0, mind, "It is handed: %s. Check which way the door swings.", i.Handing)
	}
	switch {
	case i.Gone && i.ReplaceBy != "":
		say("kept", costGone, mind, "Discontinued; replaced by %s.", i.ReplaceBy)
	case i.Gone:
		say("kept", costGone, mind, "Discontinued.")
	}
	short := fmt.Sprintf("%d on hand, %d wanted", max(i.OnHand, 0), w.count)
	if w.count == 0 {
		short = noneOnHand
	}
	switch {
	case i.OnHand >= max(w.count, 1):
	case i.LeadDays > 0:
		say("on hand", costNotOnHand, mind, "%s; more in about %s.", short, Count(i.LeadDays, "day", "days"))
	default:
		say("on hand", costNotOnHand, mind, "%s.", short)
	}
	switch n := w.door.each(); {
	case n > 0 && w.count > 0 && w.count < n*max(w.door.Count, 1):
		say("count", 0, mind, "Replacing only some of a door's hinges: the new ones should match the rest in size, thickness and wear; replacing all %d is safer.", n)
	case n == 0 && w.count == 1:
		say("count", 0, mind, "Replacing only one of a door's hinges: it should match the rest in size, thickness and wear; replacing all of them (2 up to 60 in of height, 3 up to 90 in) is safer.")
	}
	if len(i.Prices) > 0 {
		out = append(out, point{kind: "price", cost: costPerMoney * bare(i.Prices[0])})
	}
	return out
}

// cost orders hinges that sit alike: what the door asks for, then the wishes, then stock and
// price.
func (w wanted) cost(i *Item) (c float64) {
	for _, p := range w.points(i) {
		c += p.cost
	}
	return c
}

// bare is a price as a bare number, for ordering only; money is reckoned in decimals.
func bare(b PriceBreak) float64 {
	v, err := strconv.ParseFloat(b.Price.Number(), 64)
	if err != nil {
		return 0
	}
	return v
}

// squareForRound reports that i has square corners, and round ones are said to be wanted.
func (w wanted) squareForRound(i *Item) bool { return w.round && i.Radius == [2]measure.Length{} }

func wetPlace(place string) bool { return place == "wet" || place == "coastal" }

// alternatives are the stock hinges that a good hand would mention beside f: the same size,
// corners and holes, for the same hand, with ball bearings, with a heavier leaf, in another
// finish where of this one fewer than need are on hand.
func alternatives(f Fit, stock []*Item, need int) []Alternative {
	out := []Alternative{}
	i := &f.Item
	var ball, heavy, finish *Item
	better := func(a, b *Item) bool { return b == nil || a.OnHand > b.OnHand }
	for _, c := range stock {
		if c.Height != i.Height || c.OpenWidth != i.OpenWidth || c.OnHand <= 0 || c.Radius != i.Radius || c.Gone || c.StockNumber == i.StockNumber || !samePattern(c, i) ||
			c.Handing != "" && c.Handing != i.Handing || c.spring() != i.spring() {
			continue
		}
		sameLook := c.Finish == i.Finish && c.FinishNo == i.FinishNo
		switch {
		case sameLook && c.Thickness == i.Thickness && c.Bearing == measure.BallBearing && i.Bearing == measure.PlainBearing && better(c, ball):
			ball = c
		case sameLook && c.Thickness > i.Thickness+depthPlay/4 && better(c, heavy):
			heavy = c
		case !sameLook && c.Thickness == i.Thickness && c.Bearing == i.Bearing && i.OnHand < need && c.OnHand >= need && better(c, finish):
			finish = c
		}
	}
	if ball != nil {
		out = append(out, Alternative{ball.StockNumber, fmt.Sprintf("The same with ball bearings, %d on hand.", ball.OnHand)})
	}
	if heavy != nil {
		out = append(out, Alternative{heavy.StockNumber, fmt.Sprintf("The same with a heavier leaf, %s, %d on hand; the cut-outs go deeper by %s.",
			thousandths(heavy.Thickness), heavy.OnHand, Both(heavy.Thickness-i.Thickness))})
	}
	if finish != nil {
		out = append(out, Alternative{finish.StockNumber, fmt.Sprintf("On hand in another finish: %s, %d.", cmp.Or(finishLook(finish), finish.Finish), finish.OnHand)})
	}
	return out
}

func finishLook(i *Item) string {
	f, _ := FinishByNumber(i.FinishNo)
	return f.Look
}

func samePattern(a, b *Item) bool {
	if a.PatternID != "" && a.PatternID == b.PatternID {
		return true
	}
	if len(a.Holes) != len(b.Holes) {
		return false
	}
	for k := range a.Holes {
		d := max(a.Holes[k].FromEdge-b.Holes[k].FromEdge, b.Holes[k].FromEdge-a.Holes[k].FromEdge,
			a.Holes[k].FromEnd-b.Holes[k].FromEnd, b.Holes[k].FromEnd-a.Holes[k].FromEnd)
		if d > 0.1 {
			return false
		}
	}
	return len(a.Holes) > 0
}
