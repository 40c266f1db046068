package readings

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// A tally is how many hinges a customer asks for, as far as the words say.
type tally struct {
	hinges int // asked for in all; 0 not told
	doors  int // 0 not told
	each   int // hinges on each door; 0 not told
	// open: several numbers are spoken of and the words don't settle which is meant, or it hangs on
	// something that nobody told.
	open bool
}

// Inquiry reads all that a customer wrote: told is what was measured, or an e-mail's whole text; wish
// is the answer to "what do you want". A number that stands alone counts hinges in wish, as it is a
// size in told. A size in wish counts where told has none of its kind. How many hinges are wanted is
// reckoned from both together; where the words leave it open, CountOpen is set.
func Inquiry(told, wish string) measure.Readings {
	r, w := Parse(told), parse(wish, true)
	var all []mention
	all = mentionsOf(told, false, all)
	n := len(all)
	all = mentionsOf(wish, true, all)
	counts := map[measure.Quantity]measure.Reading{} // as they were typed
	keep := func(from []measure.Reading, counted []mention) (out []measure.Reading) {
		for _, x := range from {
			switch x.Quantity {
			case measure.QHingeCount, measure.QHingesPerDoor, measure.QDoorCount:
				if _, known := counts[x.Quantity]; !known {
					counts[x.Quantity] = x
				}
				continue
			}
			if slices.ContainsFunc(counted, func(m mention) bool { return x.Count == nil && x.At[0] == m.at && whole(x.Text) }) {
				continue // "change it to 5"
			}
			out = append(out, x)
		}
		return out
	}
	r.Readings = keep(r.Readings, all[:n])
	own := map[measure.Quantity]bool{}
	for _, x := range r.Readings {
		own[x.Quantity] = true
	}
	for _, x := range keep(w.Readings, all[n:]) {
		if !own[x.Quantity] && x.Quantity != measure.QUnknown {
			r.Readings = append(r.Readings, x)
		}
	}
	var words parser
	words.text = told + "\n" + wish
	words.toks = lex(words.text, 0, min(len(told)+1+len(wish), chunk), nil)
	t := reckon(all, words.any(0, len(words.toks), hedges) || words.after("how", "many") || words.after("don't", "need"), words.any(0, len(words.toks), map[string]bool{"doors": true, "gates": true, "openings": true}))
	if t == (tally{}) { // what was read of counts otherwise
		for q, to := range map[measure.Quantity]*int{measure.QHingeCount: &t.hinges, measure.QHingesPerDoor: &t.each, measure.QDoorCount: &t.doors} {
			if c := counts[q].Count; c != nil {
				*to = *c
			}
		}
	}
	for _, c := range []struct {
		q measure.Quantity
		n int
	}{{measure.QHingeCount, t.hinges}, {measure.QDoorCount, t.doors}, {measure.QHingesPerDoor, t.each}} {
		if c.n <= 0 || c.n > countLimits[c.q] {
			continue
		}
		x := measure.Reading{Quantity: c.q, Count: &c.n, Instrument: measure.InstrumentUnknown, Text: strconv.Itoa(c.n)}
		if as := counts[c.q]; as.Count != nil && *as.Count == c.n {
			x.Text, x.At = as.Text, as.At
		}
		r.Readings = append(r.Readings, x)
	}
	for _, s := range w.Statements {
		if s.Kind == "bearing" || s.Kind == "corner" || s.Kind == "leaf" { // what is wanted tells nothing of the old hinge
			continue
		}
		if !slices.ContainsFunc(r.Statements, func(o measure.Statement) bool { return o.Kind == s.Kind && o.Value == s.Value }) {
			r.Statements = append(r.Statements, s)
		}
	}
	r.Unread = slices.DeleteFunc(append(r.Unread, w.Unread...), func(unread string) bool { // "3 please" was understood
		words := strings.Fields(strings.ToLower(unread))
		return len(words) <= 4 && slices.ContainsFunc(all, func(m mention) bool { return slices.Contains(words, m.text) })
	})
	r.CountOpen = t.open
	if r.Readings == nil {
		r.Readings = []measure.Reading{}
	}
	return r
}

// whole reports a number of digits alone.
func whole(text string) bool {
	_, err := strconv.Atoi(text)
	return err == nil
}

// mentionsOf adds the numbers of hinges and doors that text speaks of to all.
func mentionsOf(text string, wish bool, all []mention) []mention {
	p := &parser{text: text}
	for _, s := range bodySpans(text) {
		for begin := s[0]; begin < s[1] && len(all) < maxPieces; {
			end := chunkEnd(text, begin, s[1])
			p.toks, p.soughtDoors = lex(text, begin, end, p.toks[:0]), false
			all = p.mentions(wish, all)
			begin = end
		}
	}
	return all
}

// role is what a counted number says of the hinges wanted.
type role uint8

const (
	rHinges role = iota // so many, wanted or merely spoken of
	rHas                // so many are there: "the old door had 2"
	rEach               // so many on each door
	rDoors
	rSpare
	rTotal // so many in all
)

// A mention is one counted number.
type mention struct {
	role
	n        int
	at       int    // byte of the text
	text     string // its first word, in small letters
	sentence int
	amends   bool // it puts right what was said before: "actually make it 4"
	joined   bool // "and", "+" or a comma leads on from the number before it
	or       bool // it is one of two that the writer wavers between
	except   bool // "except the front, which has 3"
	doubt    bool // "3 hinges (maybe)"
	own      bool // of something of its own: "3 for the hall", "2 black"
	wanted   bool // "need 3", or alone in the box for what is wanted
}

var (
	// doorNouns are what hinges hang in.
	doorNouns = map[string]bool{"door": true, "doors": true, "opening": true, "openings": true, "gate": true, "gates": true, "slab": true, "slabs": true, "shutters": true, "door's": true}
	// hingeNouns are words for the hinge, and for one of what is sold.
	hingeNouns = map[string]bool{"hinge": true, "hinges": true, "hindges": true, "butts": true, "pcs": true, "pieces": true, "pc": true, "piece": true, "off": true, "ea": true, "nos": true, "singles": true, "single": true, "hinge's": true,
		"scharniere": true, "charnières": true, "stück": true}
	pairNouns   = map[string]bool{"pair": true, "pairs": true, "pr": true, "prs": true}
	packNouns   = map[string]bool{"pack": true, "packs": true, "pk": true, "pks": true, "set": true, "sets": true, "box": true, "boxes": true, "bag": true, "bags": true, "packet": true, "packets": true}
	wantsWords  = map[string]bool{"need": true, "needs": true, "want": true, "order": true, "qty": true, "quantity": true, "q": true, "quote": true, "buy": true, "send": true, "require": true, "take": true, "have": true, "get": true, "replace": true, "please": true, "only": true, "just": true, "like": true, "brauche": true, "benötige": true, "x": true, "do": true, "would": true, "after": true}
	hasWords    = map[string]bool{"has": true, "had": true, "have": true, "are": true, "were": true, "is": true, "with": true, "carries": true, "carry": true, "takes": true, "got": true, "w/": true, "currently": true, "hangs": true, "hung": true}
	amendWords  = map[string]bool{"actually": true, "sorry": true, "instead": true, "correction": true, "rather": true, "change": true, "changed": true, "scratch": true}
	passedWords = map[string]bool{"ordered": true, "bought": true, "received": true, "wrote": true, "shipped": true, "says": true, "got": true, "missing": true, "sent": true, "said": true, "not": true, "had": true, "did": true, "already": true, "took": true, "between": true, "come": true}
	passedAfter = map[string]bool{"came": true, "arrived": true, "fit": true, "fitted": true} // "the 3 hinges came yesterday"
	eachWords   = map[string]bool{"each": true, "per": true, "every": true, "apiece": true}
	spareWords  = map[string]bool{"spare": true, "spares": true, "extra": true, "extras": true}
	// tailWords may follow a number that counts hinges and has no noun.
	tailWords = map[string]bool{"please": true, "pls": true, "plz": true, "thanks": true, "thx": true, "ty": true, "for": true, "in": true, "if": true, "more": true, "needed": true, "required": true, "wanted": true, "and": true, "total": true, "altogether": true,
		"so": true, "then": true, "all": true, "would": true, "will": true, "with": true, "w": true, "but": true, "because": true, "since": true, "like": true, "identical": true, "new": true, "matching": true, "same": true, "is": true, "nrp": true, "left": true, "right": true, "or": true, "be": true, "cost": true, "instead": true}
	// hedges leave it open how many of those that are spoken of are wanted.
	hedges = map[string]bool{"only": true, "except": true, "most": true, "some": true, "missing": true, "already": true, "rest": true, "broken": true, "bent": true, "bad": true, "units": true, "unit": true, "next": true, "plus": true}
	// doubts leave the number itself open.
	doubts = map[string]bool{"maybe": true, "perhaps": true, "think": true, "unsure": true, "sure": true}
)

// mentions adds what p.toks say of numbers of hinges and doors to all. wish: see Inquiry.
func (p *parser) mentions(wish bool, all []mention) []mention {
	sentence := 0
	if n := len(all); n > 0 {
		sentence = all[n-1].sentence + 1
	}
	for b := 0; b < len(p.toks); {
		e := b
		for e < len(p.toks) && !p.breaks(e) {
			e++
		}
		p.begin = b
		doubt := p.any(b, e, doubts)
		last := -1 // where the mention before ends
		for i := b; i < e; {
			m, end, ok := p.mention(i, b, e, wish)
			if !ok {
				i = max(i+1, end)
				continue
			}
			m.sentence = sentence
			m.doubt = doubt
			m.joined = last >= 0 && (p.joins(last, i) || i-last <= 12 && p.kindAt(i-1) == tComma)
			m.amends = p.amends(i, end, b, e)
			if p.at(e, "?") && m.role == rHinges && !m.wanted {
				m.or = m.or || p.near(i, b, "or")
			}
			all = append(all, m)
			i, last = end, end
		}
		sentence++
		b = e + 1
	}
	return all
}

// joins reports that what stands between tokens i and j adds the two numbers up.
func (p *parser) joins(i, j int) bool {
	for k := i; k < j; k++ {
		if w := p.wordAt(k); w == "and" || w == "plus" || p.at(k, "+", "&") {
			return true
		}
	}
	return false
}

// amends reports that the number at tokens i … end-1 puts right an earlier one.
func (p *parser) amends(i, end, b, e int) bool {
	for k := i - 1; k >= b && k >= i-6; k-- {
		w := p.wordAt(k)
		if amendWords[w] || w == "make" && p.wordAt(k+1) == "it" || w == "it" && p.wordAt(k+1) == "is" && p.near(k, b, "but") || w == "no" && (k == b || p.kindAt(k-1) == tComma) && p.kindAt(k+1) == tComma {
			return true
		}
		if p.kindAt(k) == tNumber && k < i-2 {
			break
		}
	}
	return p.wordAt(end) == "instead" || p.wordAt(end) == "is" && p.wordAt(end+1) == "right" || p.wordAt(end) == "rather"
}

// mention reads one counted number at token i of the sentence b … e-1; end is the token behind it.
func (p *parser) mention(i, b, e int, wish bool) (m mention, end int, ok bool) {
	n, end, noun, ok := p.howMany(i, b, e)
	if !ok {
		return m, end, false
	}
	m.n, m.at, m.text = n, p.toks[i].at, strings.ToLower(p.text[p.toks[i].at:p.toks[i].end])
	prev := p.wordAt(i - 1)
	if prev == "and" && p.near(i-1, b, "between") || pairNouns[p.wordAt(i)] && prev == "in" {
		return m, end, false
	}
	if prev == "instead" || prev == "of" && (p.wordAt(i-2) == "instead" || p.wordAt(i-2) == "out") || prev == "not" && p.wordAt(i-2) == "if" || p.wordAt(i-2) == "if" && prev == "not" ||
		p.wordAt(end) == "would" && p.nearAhead(end-1, e, "too") {
		return m, end, false
	}
	for k := i - 1; k >= b && k >= i-3; k-- { // "I ordered 3", "wife says 4", "not 3"
		w := p.wordAt(k)
		if w == "not" && k < i-1 && p.wordAt(k-1) == "if" {
			break
		}
		if w == "said" && p.wordAt(k-1) == "i" { // "I said 3"
			break
		}
		if passedWords[w] {
			if w == "had" || w == "got" {
				m.role = rHas
				return m, end, true
			}
			return m, end, false
		}
		if p.kindAt(k) == tComma {
			break
		}
	}
	each, after := p.eachAt(i, end, b, e)
	switch {
	case noun == "door":
		m.role = rDoors
		if eachWords[prev] || prev == "a" || prev == "the" && n == 1 {
			return m, end, false
		}
	case noun == "spare" && p.near(i, b, "so"): // "5, so that we have one spare"
		return m, end, false
	case noun == "spare":
		m.role = rSpare
	case each:
		m.role = rEach
		end = after
	case noun == "total", p.wordAt(i-1) == "so" && (noun != "" || p.endsClause(end, e) || p.tail(end)), p.at(i-1, "=") && (p.kindAt(i-2) == tNumber || hingeNouns[p.wordAt(i-2)] || doorNouns[p.wordAt(i-2)] || pairNouns[p.wordAt(i-2)]),
		p.totalAt(end):
		m.role = rTotal
	case passedAfter[p.wordAt(end)] && noun != "":
		return m, end, false
	case p.hasBefore(i, b) || noun != "" && p.wordAt(end) == "are" && (p.wordAt(end+1) == "on" || p.wordAt(end+1) == "there" || p.wordAt(end+1) == "in"):
		m.role = rHas
	case noun != "":
		m.role = rHinges
		m.wanted = wish || wantsWords[prev] || wantsWords[p.wordAt(i-2)] || p.kindAt(i) == tWord && i == b
	case p.alone(i, end, b, e, wish):
		m.role, m.wanted = rHinges, true
	default:
		return m, end, false
	}
	m.own = p.wordAt(end) == "for" || p.wordAt(end) == "in" || p.startsSaying(end, e)
	m.or = p.wordAt(end) == "or" || prev == "or" || prev == "maybe"
	for k := i - 1; k >= b && k >= i-7; k-- {
		m.except = m.except || p.wordAt(k) == "except"
	}
	m.except = m.except || p.near(i, b, "but") && m.role == rEach
	return m, end, true
}

// howMany reads "three hinges", "2 pair", "a dozen and a half", "2 packs of 3", "3": the number,
// the token behind it, and the noun: hinge, door, spare, total, or "" none.
func (p *parser) howMany(i, b, e int) (n, end int, noun string, ok bool) {
	w := p.wordAt(i)
	prev := p.wordAt(i - 1)
	switch {
	case w == "a" && (pairNouns[p.wordAt(i+1)] || p.wordAt(i+1) == "couple" || p.wordAt(i+1) == "dozen" || p.wordAt(i+1) == "single" || spareWords[p.wordAt(i+1)] || packNouns[p.wordAt(i+1)]),
		pairNouns[w] && !pairNouns[prev] && p.kindAt(i-1) != tNumber, w == "half" && (p.wordAt(i+1) == "a" && p.wordAt(i+2) == "dozen" || p.wordAt(i+1) == "dozen"):
		k := i
		half := false
		if w == "a" {
			k++
		}
		if w == "half" {
			half = true
			for p.wordAt(k) != "dozen" {
				k++
			}
		}
		switch u := p.wordAt(k); {
		case pairNouns[u]:
			n = 2
			if (p.wordAt(k+1) == "and" || p.at(k+1, "+")) && p.wordAt(k+2) == "a" && p.wordAt(k+3) == "half" {
				n, k = 3, k+3
			}
		case u == "couple":
			n = 2
		case u == "dozen":
			n = 12
			if half {
				n = 6
			} else if p.wordAt(k+1) == "and" && p.wordAt(k+2) == "a" && p.wordAt(k+3) == "half" {
				n, k = 18, k+3
			}
		case u == "single":
			n = 1
		case spareWords[u]:
			return 1, k + 1, "spare", true
		case packNouns[u]:
			if a, got := p.amount(k + 2); got && p.wordAt(k+1) == "of" && a.whole && !a.junk && a.unit == "" {
				return int(a.value), a.upt, "hinge", true
			}
			return 0, i + 1, "", false
		}
		end = k + 1
		if p.wordAt(end) == "of" {
			end++
		}
		for end < e && (countAdjectives[p.wordAt(end)]) {
			end++
		}
		if hingeNouns[p.wordAt(end)] {
			end++
		}
		if p.kindAt(end) == tOpen && p.kindAt(end+1) == tNumber && p.kindAt(end+2) == tClose {
			end += 3
		}
		return n, end, "hinge", true
	case w == "one" && prev == "the" && needWords[p.wordAt(i-2)]:
		return 1, i + 1, "hinge", true
	case w == "one" && (p.wordAt(i+1) == "and") && p.wordAt(i+2) == "a" && p.wordAt(i+3) == "half" && pairNouns[p.wordAt(i+4)]:
		return 3, i + 5, "hinge", true
	}
	if k := p.kindAt(i); k != tNumber && k != tVulgar && k != tWord {
		return 0, i + 1, "", false
	}
	if k := p.kindAt(i); k == tWord {
		if _, is := numberWords[w]; !is {
			return 0, i + 1, "", false
		}
	}
	a, got := p.amount(i)
	if !got {
		return 0, i + 1, "", false
	}
	if u := p.wordAt(i + 1); a.junk && notLengths[u] && countAdjectives[u] && doorNouns[p.wordAt(i+2)] { // "2 bedroom doors"
		return int(a.value), i + 3, "door", true
	}
	if p.mixedPair(a) {
		return int(math.Round(2 * a.value)), a.upt + 1, "hinge", true
	}
	if !a.whole || a.junk || a.gauge || a.unit != "" || a.negative || a.fraction > 0 || a.value < 1 || a.value > 5000 {
		if a.whole && a.unit == "in" && p.wordAt(i+1) == "in" && !a.negative && !a.junk { // "2 in antique brass"
			if p.startsSaying(i+2, e) || p.wordAt(i+2) == "the" {
				return int(a.value), i + 1, "", a.value <= 500
			}
		}
		return 0, max(i+1, a.upt), "", false
	}
	n, end = int(a.value), a.upt
	if a.dozen && p.wordAt(end) == "and" && p.wordAt(end+1) == "a" && p.wordAt(end+2) == "half" {
		n, end = n+6, end+3
	}
	// sizes beside: "4 x 4", "3 - 3 1/2"
	if p.wordAt(end) == "by" || p.kindAt(end) == tSlash || p.kindAt(i-1) == tSlash || prev == "by" || p.kindAt(i-1) == tOther && p.at(i-1, "#", "$", "£", "€") ||
		p.kindAt(end) == tVulgar || p.kindAt(end) == tDash && p.kindAt(end+1) == tNumber && p.gluedAt(end) {
		return 0, end, "", false
	}
	if p.kindAt(end) == tTimes {
		if p.kindAt(end+1) == tNumber || p.kindAt(end+1) == tVulgar || numberWords[p.wordAt(end+1)] > 0 {
			next, _ := p.amount(end + 1)
			if next.unit != "" && p.gluedAt(end) && !p.gluedAt(end+1) {
				return n, end + 1, "hinge", true
			}
			if !(next.unit != "" && p.gluedAt(end) && !p.gluedAt(end+1)) && countNouns[p.wordAt(next.upt)] == "" { // "2x 4 inch"
				return 0, end + 1, "", false
			}
		}
		end++
	}
	if p.kindAt(end) != tTimes && p.at(end, "+") && p.kindAt(end+1) != tNumber && numberWords[p.wordAt(end+1)] == 0 && p.wordAt(end+1) != "a" {
		return 0, end, "", false
	}
	if p.kindAt(i-1) == tTimes && i > b { // "x12", "hinges x 6"; behind a size it is one
		if k := p.kindAt(i - 2); i-2 >= b && (k == tNumber || k == tVulgar || k == tDouble || k == tPrime || unitOf(p.wordAt(i-2)) != "" && p.wordAt(i-2) != "in") && !p.gluedAt(i) {
			return 0, end, "", false
		}
		if i-2 >= b && (p.kindAt(i-2) == tNumber || p.kindAt(i-2) == tVulgar) {
			return 0, end, "", false
		}
	}
	if isNumbered := prev == "no" && p.kindAt(i-1) == tWord || prev == "flat" || prev == "aged" || prev == "grade"; isNumbered && !p.near(i, b, "need") {
		return 0, end, "", false
	}
	at := end
	if p.kindAt(at) == tOpen && p.kindAt(at+1) == tNumber && p.kindAt(at+2) == tClose { // "twelve (12)"
		at += 3
	}
	if p.kindAt(at) == tDash && hingeNouns[p.wordAt(at+1)] {
		return 0, end, "", false
	}
	for at < e && (countAdjectives[p.wordAt(at)] || p.wordAt(at) == "door's") && !doorNouns[p.wordAt(at)] && !eachWords[p.wordAt(at)] {
		at++
	}
	if p.wordAt(at) == "" && p.kindAt(at) == tClose {
		at++
	}
	switch u := p.wordAt(at); {
	case hingeNouns[u]:
		if u == "off" && !p.endsClause(at+1, e) && p.wordAt(at+1) != "please" {
			return 0, end, "", false
		}
		return n, at + 1, "hinge", true
	case u == "hinge's":
		return n, at + 1, "hinge", true
	case pairNouns[u]:
		end = at + 1
		if (p.wordAt(end) == "and" || p.at(end, "+")) && p.wordAt(end+1) == "a" && p.wordAt(end+2) == "half" {
			return 2*n + 1, end + 3, "hinge", true
		}
		return 2 * n, end, "hinge", true
	case doorNouns[u] || u == "door's" || u == "doorways":
		if hingeNouns[p.wordAt(at+1)] {
			return n, at + 2, "hinge", true
		}
		return n, at + 1, "door", true
	case spareWords[u]:
		return n, at + 1, "spare", true
	case packNouns[u]:
		if c, got := p.amount(at + 2); got && (p.wordAt(at+1) == "of" || p.kindAt(at+1) == tOpen) && c.whole && c.unit == "" && !c.junk {
			return n * int(c.value), c.upt, "hinge", true
		}
		return 0, at, "", false
	case u == "of" || u == "em" || p.wordAt(end) == "of":
		if t := p.wordAt(end + 1); p.wordAt(end) == "of" && (t == "them" || t == "em" || t == "those" || t == "these" || t == "this" || t == "your" || t == "such" || p.endsClause(end+1, e)) {
			return n, end + 2, "hinge", true
		}
		return 0, end + 1, "", false
	case u == "no" && p.kindAt(at+1) == tPoint, u == "no" && p.endsClause(at+1, e):
		return n, at + 1, "hinge", true
	}
	return n, end, "", true
}

// eachAt reports that the number is said of each door, and where that ends.
func (p *parser) eachAt(i, end, b, e int) (bool, int) {
	w, x := p.wordAt(end), p.wordAt(end+1)
	switch {
	case w == "per" && p.endsClause(end+1, e) && p.doorsSpokenOf(): // "six doors, 2 hinges per"
		return true, end + 1
	case p.kindAt(end) == tSlash && doorNouns[x]: // "3/door"
		return true, end + 2
	case (w == "per" || w == "a" || w == "every" || w == "each") && (doorNouns[x] || x == "leaf"):
		return true, end + 2
	case w == "each" || w == "apiece":
		return p.doorsSpokenOf(), end + 1
	case w == "to" && x == "the" && doorNouns[p.wordAt(end+2)], w == "on" && (x == "each" || x == "every") && (doorNouns[p.wordAt(end+2)] || p.wordAt(end+2) == "one" || p.endsClause(end+2, e)),
		(w == "for" || w == "to" || w == "in") && (x == "each" || x == "every") && !(p.wordAt(end+2) == "of"):
		return true, end + 3
	case w == "for" && x == "each" && p.wordAt(end+2) == "of":
		return true, end + 2
	}
	// "each door has 3", "each gate needs a pair", "3 doors with 3 hinges", "all 4 doors w/ 3"
	for k := i - 1; k >= b && k >= i-4; k-- {
		v := p.wordAt(k)
		if doorNouns[v] || v == "leaf" || v == "door's" {
			with := false
			for j := k + 1; j < i; j++ {
				u := p.wordAt(j)
				with = with || hasWords[u] || u == "needs" || u == "w" || u == "get" || u == "gets" || u == "take"
			}
			q := k - 1
			for q >= b && q >= k-3 && p.kindAt(q) != tComma && !eachWords[p.wordAt(q)] && p.kindAt(q) != tNumber && numberWords[p.wordAt(q)] == 0 {
				q--
			}
			counted := q >= b && q >= k-3 && p.kindAt(q) != tComma
			if counted && (with || p.kindAt(i-1) == tTimes || p.kindAt(i-1) == tComma && eachWords[w]) {
				return true, end
			}
			return false, end
		}
		if eachWords[v] && k == i-2 && (hasWords[p.wordAt(i-1)] || p.wordAt(i-1) == "needs" || p.wordAt(i-1) == "takes" || p.wordAt(i-1) == "wants") { // "each needs 3"
			return true, end
		}
		if eachWords[v] && k == i-1 && !hingeNouns[w] && w != "of" {
			return p.doorsSpokenOf(), end
		}
	}
	if p.kindAt(end) == tTimes && (p.kindAt(end+1) == tNumber) && doorNouns[p.wordAt(end+2)] {
		return true, end + 1
	}
	return false, end
}

// hasBefore: "the door has three", "there are 3", "the old one had 3".
func (p *parser) hasBefore(i, b int) bool {
	for k := i - 1; k >= b && k >= i-3; k-- {
		w := p.wordAt(k)
		if wantsWords[w] && w != "have" {
			return false
		}
		if hasWords[w] && !(w == "have" && (p.wordAt(k-1) == "i" || p.wordAt(k-2) == "could")) && !(w == "is" && p.wordAt(k-1) == "it" && p.near(k, b, "but")) {
			return true
		}
		if p.kindAt(k) == tComma {
			return false
		}
	}
	return false
}

// totalAt: "6 in all", "8 in total", "12 altogether" at token i.
func (p *parser) totalAt(i int) bool {
	w, x := p.wordAt(i), p.wordAt(i+1)
	return w == "in" && (x == "all" || x == "total") || w == "total" || w == "altogether"
}

// alone reports a number that has no noun and yet counts hinges.
func (p *parser) alone(i, end, b, e int, wish bool) bool {
	prev := p.wordAt(i - 1)
	w := p.wordAt(end)
	announced := w == "please" || w == "pls" || w == "plz" || prev == "said" || p.kindAt(i+1) == tTimes && end == i+2 && p.endsClause(end, e) || needWords[prev] || prev == "like" && (p.wordAt(i-2) == "would" || p.wordAt(i-2) == "i'd") || prev == "q" || (prev == "it" && (p.wordAt(i-2) == "make" || p.wordAt(i-2) == "is")) || prev == "to" && p.wordAt(i-2) == "it" ||
		prev == "for" && p.wordAt(i-2) == "quote" || prev == "would" && (p.wordAt(end) == "cost" || p.wordAt(end) == "be") || p.at(i-1, ":", "=") && (needWords[p.wordAt(i-2)] || p.wordAt(i-2) == "q") ||
		(prev == "only" || prev == "just") && (i-1 == b || needWords[p.wordAt(i-2)]) || p.kindAt(i-1) == tTimes && (i-1 == b || hingeNouns[p.wordAt(i-2)]) || p.kindAt(i-1) == tOpen && needWords[p.wordAt(i-2)]
	instead := p.wordAt(end) == "instead" && p.wordAt(end+1) == "of"
	tailed := p.endsClause(end, e) || p.tail(end) || p.kindAt(end) == tOpen || p.startsSaying(end, e) || p.at(end, "+", "&")
	if !tailed || dimWords[p.wordAt(end)] != dNone {
		return false
	}
	if announced || instead {
		return true
	}
	if i == b && p.endsClause(end, e) && (wish || p.kindAt(i) == tWord && p.kindAt(end) != tComma) { // "Three."
		return true
	}
	if !wish {
		return false
	}
	led := i == b || p.kindAt(i-1) == tComma || p.kindAt(i-1) == tColon || p.at(i-1, "+", "&") || prev == "and" || wantsWords[prev] || prev == "would" || prev == "another" || prev == "all" || prev == "or" || prev == "ok" || prev == "hi" ||
		p.saidBefore(i, b) || prev == "about"
	return led && (end >= e || p.wordAt(end) != "of")
}

// tail reports a word at token i that goes on after a count without a noun.
func (p *parser) tail(i int) bool {
	return tailWords[p.wordAt(i)] || p.kindAt(i) == tDash && !p.gluedAt(i)
}

// startsSaying reports that a statement, such as a finish, begins at token i.
func (p *parser) startsSaying(i, e int) bool {
	if i >= e || p.kindAt(i) != tWord {
		return false
	}
	for _, s := range sayings()[p.wordAt(i)] {
		if p.sayingAt(i, s.words) {
			return true
		}
	}
	return false
}

func (p *parser) sayingAt(i int, words []string) bool {
	for k, w := range words {
		if p.wordAt(i+k) != w {
			return false
		}
	}
	return true
}

// saidBefore: "black 3".
func (p *parser) saidBefore(i, b int) bool {
	for k := max(b, i-3); k < i; k++ {
		for _, s := range sayings()[p.wordAt(k)] {
			if k+len(s.words) == i && p.sayingAt(k, s.words) && (s.kind == "finish" || s.kind == "corner") {
				return true
			}
		}
	}
	return false
}

// reckon makes one number of what was mentioned.
//
// hedged: words stand somewhere that leave open which of those spoken of are wanted; many: doors are
// spoken of in the plural.
func reckon(all []mention, hedged, many bool) tally {
	var t tally
	of := func(r role) (out []mention) {
		for _, m := range all {
			if m.role == r {
				out = append(out, m)
			}
		}
		return out
	}
	last := func(ms []mention) int { return ms[len(ms)-1].n }
	differ := func(ms []mention) bool {
		return slices.ContainsFunc(ms, func(m mention) bool { return m.n != ms[0].n })
	}
	doors, each, hinges, spares, totals, has := of(rDoors), of(rEach), of(rHinges), of(rSpare), of(rTotal), of(rHas)

	open := false
	for k, m := range all {
		same := k > 0 && all[k-1].n == m.n || k+1 < len(all) && all[k+1].n == m.n
		open = open || m.except || m.doubt && m.role != rDoors || m.or && m.role == rHinges && !same
	}
	t.open = open
	spare := 0
	for _, m := range spares {
		spare += m.n
	}
	// What amends says it anew.
	for k := len(all) - 1; k >= 0; k-- {
		if m := all[k]; m.amends && (m.role == rHinges || m.role == rTotal || m.role == rHas) {
			t.hinges, t.open = m.n, false
			return t
		}
	}
	product, pairs := 0, 0
	for i, m := range all { // doors and what hangs on them, in the order in which they stand
		if m.role != rEach {
			continue
		}
		d := 0
		for k := i - 1; k >= 0 && d == 0; k-- {
			if all[k].role == rEach {
				break
			}
			if all[k].role == rDoors {
				d = all[k].n
			}
		}
		for k := i + 1; k < len(all) && d == 0 && pairs == 0; k++ {
			if all[k].role == rEach {
				break
			}
			if all[k].role == rDoors {
				d = all[k].n
			}
		}
		if d > 0 {
			product += d * m.n
			pairs++
		}
	}
	switch {
	case len(each) > 0 && !differ(each):
		t.each = each[0].n
	case len(each) == 0 && len(has) > 0 && !differ(has) && len(hinges) == 0:
		t.each = has[0].n
	}
	if len(doors) > 0 && !differ(doors) {
		t.doors = doors[0].n
	}
	if len(totals) > 0 {
		t.hinges = last(totals)
		sum := 0
		for _, m := range hinges {
			sum += m.n
		}
		t.open = t.open || sum > 0 && pairs == 0 && len(hinges) == 1 && sum > t.hinges
		return t
	}
	if len(hinges) == 0 && (hedged || len(each) > 0 && len(doors) == 0 && many) {
		t.open = true
	}
	if pairs > 0 && len(hinges) == 0 {
		if pairs > 1 || spare > 0 {
			t.hinges, t.each, t.doors = product+spare, 0, 0
		}
		return t
	}
	if len(hinges) == 0 {
		if len(has) > 1 && differ(has) {
			t.open = true
		}
		if spare > 0 && t.each == 0 {
			t.hinges = spare
		}
		return t
	}
	if hedged && differ(slices.Concat(hinges, each)) || t.doors > 0 && len(each) == 0 && slices.ContainsFunc(hinges, func(m mention) bool { return m.n < t.doors }) ||
		len(each) > 0 && len(has) > 0 && differ(slices.Concat(each, has)) {
		t.open = true
	}
	wanted := slices.DeleteFunc(slices.Clone(hinges), func(m mention) bool { return !m.wanted })
	if len(wanted) == 0 {
		wanted = hinges
	}
	sum, joined := 0, true
	for k, m := range wanted {
		sum += m.n
		t.open = t.open || m.or && len(wanted) > 1
		if k > 0 {
			joined = joined && (m.joined || m.sentence == wanted[k-1].sentence && m.own && wanted[k-1].own)
		}
	}
	switch {
	case len(wanted) > 2 && sum == 2*wanted[0].n: // "ten hinges: four for the office, six for the hall"
		t.hinges = wanted[0].n + spare
	case !differ(wanted) && !(joined && len(wanted) > 1 && wanted[0].own && wanted[1].own):
		t.hinges = wanted[0].n + spare
	case joined:
		t.hinges = sum + spare
	default:
		t.hinges, t.open = wanted[0].n+spare, true
	}
	if pairs > 0 && product != t.hinges {
		t.open = true
	}
	return t
}

// at reports that token i is one of texts.
func (p *parser) at(i int, texts ...string) bool {
	return i >= 0 && i < len(p.toks) && p.isText(i, texts...)
}

// any reports that one of words stands among tokens i … e-1.
func (p *parser) any(i, e int, words map[string]bool) bool {
	for k := i; k < e && k < len(p.toks); k++ {
		if w := p.wordAt(k); w != "" && words[w] {
			return true
		}
	}
	return false
}

// after reports word b right behind word a.
func (p *parser) after(a, b string) bool {
	for i := range p.toks {
		if p.wordAt(i) == a && p.wordAt(i+1) == b {
			return true
		}
	}
	return false
}
