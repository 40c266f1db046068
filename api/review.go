package api

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"
)

// reviewView is one inquiry as the counter works on it.
type reviewView struct {
	quote.Dossier
	State, Whose string
	Age          time.Duration
	Door         []string // as told in the form, filled up from the words once there is a proposal
	Wished       []string
	Photos       []reviewPhoto
	Columns      []string // "Photo 1", … for Sizes
	Sizes        []sizeRow
	Facts        []factRow
	HoleRows     []holeRow
	Trace        []traceRow
	Unread       []unread
	Said         []string
	Slips        []slipView
	Clash        string   // what the disagreements are between, as a heading
	Notes        []string // what else to know of what was sent
	Fits         []fitView
	Topics       []adviceTopic
	Short        *shortView // nil unless there is a proposal to approve
	Fire         bool       // the opening is fire-rated: the counter confirms that before it approves
	Preview      *quote.Quote
	PreviewError string
	Quote        *quote.Quote // newest
	QuoteRunOut  bool
	Replaced     []quote.Quote // the quotes before it
	Rows         []actLine     // of the form: what was typed, and some to fill in
	Letters      []quote.Letter

	Acts    map[string]bool // what may be done now
	Typed   act             // what the forms hold
	Other   string          // a stock number that is not among the fits
	Failed  string          // the act that could not be done
	Failure string          // and why
	Confirm bool            // it was a price that nobody offers without meaning it
	Form    string          // which act the offer's form sends: approve, revise, or none

	Changing    bool   // of a quote that is out: the form for another one stands open
	Until       string // the day that was typed, or that a new quote would be good until
	ExtendWords string
	Retake      string // first words of a request for another photo
	Ask         string // first words of a question
}

type reviewPhoto struct {
	quote.Photo
	Measured bool
	Looked   bool // at this revision
	Reasons  []string
	Result   measure.Result
}

// sizeRow is one length: what each photo says, what was typed, what is believed.
type sizeRow struct {
	Name   string
	Photos []measure.Estimate
	Typed  []string
	Best   measure.Estimate
}

// factRow is one thing that is not a length.
type factRow struct{ Name, Value string }

type holeRow struct {
	Name string // as on the overlay
	measure.Hole
}

type traceRow struct {
	measure.Trace
	Name string
}

type slipView struct {
	measure.Disagreement
	Name string
	What string // of the reading; "" of all
}

type fitView struct {
	catalog.Fit
	N       int
	Drawing template.HTML
	Chosen  bool
	Lands   int // holes that land in old ones
	Each    string
	Inquiry quote.ID
}

// shortView is the proposal in one line, with the button that approves it, where it has one.
type shortView struct {
	StockNumber string
	Headline    string
	P           float64
	Fire        bool
	Against     bool // it does not suit, or goes against what was said or a published least: no button
	Unlike      bool // it has another look or bearing than was asked for
	Wanted      int
	Told        bool // the count follows from what the customer said
	Counted     catalog.HingeCount
	Supplied    int // rounded up to what is sold together
	Total       string
	Sure        bool
	Slips       int
	Clash       string
	Warnings    []string
}

// Clear reports whether nothing asks for a second look before the quote goes out.
func (v shortView) Clear() bool {
	return v.Sure && !v.Fire && !v.Against && v.Told && !v.Counted.Disagree() && !v.Counted.Open && v.Slips == 0 && len(v.Warnings) == 0
}

// OneClick reports whether the line carries its button at all, with whatever weight: not where something
// asks for a decision. What only the stock or a fire label's tick has to say leaves it.
func (v shortView) OneClick() bool {
	return v.Sure && !v.Against && v.Told && !v.Counted.Disagree() && !v.Counted.Open && v.Slips == 0 && !v.Unlike
}

// AgainstSaid is what of the hinge that the form holds goes against what the customer said.
func (v reviewView) AgainstSaid() []string {
	if v.Preview != nil {
		return v.Preview.Fit.AgainstSaid()
	}
	return nil
}

// ChosenAgainst reports whether the hinge that the form holds does not suit, or goes against what was
// said or a published least.
func (v reviewView) ChosenAgainst() bool {
	return slices.ContainsFunc(v.Fits, func(f fitView) bool { return f.Chosen && f.against() })
}

func (f fitView) against() bool { return f.Verdict == catalog.DoesNotSuit || len(f.Against) > 0 }

// counterReason says a retake reason to the counter.
func counterReason(r measure.Reason) string { return strings.ReplaceAll(string(r), "_", " ") }

// sizeOf picks one length of a hinge.
type sizeOf struct {
	name  string
	typed []measure.Quantity
	of    func(measure.Best) measure.Estimate
}

var sizesShown = []sizeOf{
	{"Height", []measure.Quantity{measure.QHeight}, func(b measure.Best) measure.Estimate { return b.Height }},
	{"Open width", []measure.Quantity{measure.QOpenWidth, measure.QLeafWidth}, func(b measure.Best) measure.Estimate { return b.OpenWidth }},
	{"Leaf thickness", []measure.Quantity{measure.QThickness}, func(b measure.Best) measure.Estimate { return b.Thickness }},
	{"Corner radius, " + catalog.LeafName(0), []measure.Quantity{measure.QCornerRadius, measure.QCornerDiameter}, func(b measure.Best) measure.Estimate { return leafOf(b, 0).CornerRadius }},
	{"Corner radius, " + catalog.LeafName(1), nil, func(b measure.Best) measure.Estimate { return leafOf(b, 1).CornerRadius }},
	{"Barrel", []measure.Quantity{measure.QBarrelDiameter}, func(b measure.Best) measure.Estimate { return b.BarrelDiameter }},
}

func leafOf(b measure.Best, n int) measure.Leaf {
	if n < len(b.Leaves) {
		return b.Leaves[n]
	}
	return measure.Leaf{}
}

// newReviewPage builds the page, for the first showing and for the one after an act that
// could not be done alike.
func (s *server) newReviewPage(r *http.Request, d quote.Dossier, typed act, failed string, failure error) page {
	q := d.Inquiry
	v := reviewView{Dossier: d, State: counterWords[q.Status], Whose: turnWords[q.Turn()], Age: s.Now().Sub(q.Created),
		Door: quote.DoorRead(q.Door), Wished: quote.WishesRead(q.Wishes), Typed: typed, Failed: failed, Acts: stepsFrom(q.Status), Letters: d.Letters, Fire: fireRated(d)}
	if failure != nil {
		told := s.told(r, failure)
		v.Failure, v.Confirm = told.detail, told.code == "unusual_price" || typed.ConfirmPrice
	}
	v.photos(d)
	if p := d.Proposal; p != nil {
		v.proposal(p, typed)
	}
	v.Retake, v.Ask = s.firstWords(v, d)
	if len(d.Quotes) > 0 {
		v.Quote, v.Replaced = &d.Quotes[0], d.Quotes[1:]
		v.QuoteRunOut = q.Status == quote.Quoted && v.Quote.Expired(s.Now())
	}
	switch {
	case v.Acts["approve"]:
		v.Form = "approve"
	case v.Acts["revise"] && v.Quote != nil:
		v.Form = "revise"
		v.Until, v.ExtendWords = typed.ValidUntil, typed.Message
		v.Changing = typed.Version != 0 || typed.StockNumber != actOf(*v.Quote).StockNumber
		if failed != "" && failed != "revise" { // what was typed is another form's
			v.Changing = false
			v.Typed = actOf(*v.Quote)
			v.Typed.Message = typed.Message
		}
	}
	if v.Form != "" {
		if a, err := s.approval(v.Typed, d); err != nil && len(v.Fits) == 0 && v.Typed.StockNumber == "" {
			// Nothing was proposed and nothing chosen yet: there is no price to show.
		} else if err != nil {
			v.PreviewError = asFault(err).detail
		} else if price, err := s.desk.Price(r.Context(), q.ID, a); err != nil {
			v.PreviewError = s.told(r, err).detail
		} else {
			v.Preview = &price
			v.Typed.Count = a.Count
			v.Typed.StockNumber = price.Lines[0].StockNumber // as the stock list writes it
			v.Other = v.Typed.StockNumber
			for i := range v.Fits {
				v.Fits[i].Chosen = v.Fits[i].Item.StockNumber == v.Typed.StockNumber
				if v.Fits[i].Chosen {
					v.Other = ""
				}
			}
		}
	}
	v.Rows = append(slices.Clone(v.Typed.Lines), make([]actLine, emptyRows)...)
	if v.Preview != nil && len(v.Preview.Lines) > 0 && q.Status == quote.Ready && len(v.Fits) > 0 && v.Fits[0].Chosen && failed == "" && v.Typed.plain() {
		first := v.Fits[0]
		v.Short = &shortView{StockNumber: first.Item.StockNumber, Headline: first.Headline(), P: first.P, Fire: v.Fire,
			Against: first.against(), Unlike: len(first.UnlikeAsked) > 0, Wanted: v.Typed.Count, Told: d.Proposal.Counted.Told > 0 || d.Proposal.Door.Hinges > 0, Counted: d.Proposal.Counted,
			Supplied: v.Preview.Lines[0].Count, Total: quote.Money(v.Preview.Total), Sure: first.P >= catalog.SureEnough, Slips: len(v.Slips), Clash: v.Clash, Warnings: first.Warnings}
	}
	return page{Title: fmt.Sprintf("Inquiry %d: %s", q.ID, v.State), Here: "inquiries", Wide: true, Body: v}
}

// emptyRows are those that a form has for further lines; working out the price adds as many more.
const emptyRows = 3

func (v *reviewView) photos(d quote.Dossier) {
	for _, p := range d.Inquiry.Photos {
		one := reviewPhoto{Photo: p}
		for _, f := range d.Findings {
			if f.PhotoN == p.N {
				one.Looked, one.Result = true, f.Result
				one.Measured = f.Result.Status == measure.Measured
				for _, reason := range f.Result.RetakeReasons {
					one.Reasons = append(one.Reasons, counterReason(reason))
				}
			}
		}
		v.Photos = append(v.Photos, one)
	}
}

func (v *reviewView) proposal(p *quote.Proposal, typed act) {
	var seen []measure.Best
	for _, one := range v.Photos {
		if one.Measured && one.Result.Hinge != nil {
			v.Columns = append(v.Columns, fmt.Sprintf("Photo %d", one.N))
			seen = append(seen, measure.Best{Hinge: *one.Result.Hinge})
		}
	}
	for _, of := range sizesShown {
		row := sizeRow{Name: of.name, Best: of.of(p.Best)}
		some := row.Best.Known()
		for _, b := range seen {
			row.Photos = append(row.Photos, of.of(b))
			some = some || of.of(b).Known()
		}
		for _, t := range p.Readings.Readings {
			for _, quantity := range of.typed {
				if t.Quantity == quantity {
					row.Typed = append(row.Typed, typedWords(t, quantity != of.typed[0]))
					some = true
				}
			}
		}
		if some {
			v.Sizes = append(v.Sizes, row)
		}
	}
	b := p.Best
	if b.Height.Known() {
		v.Facts = []factRow{
			{"Trade size", size(b.Nominal.Size)}, {"Corners", cornerFacts(b)}, {"Holes", holeFacts(b)},
			{"Knuckles", number(b.Knuckles)}, {"Bearing", bearingWords[b.Bearing]}, {"Finish, from its colour", b.FinishHint},
		}
		if b.Nominal.Size != "" {
			v.Facts[0].Value += " (" + measure.Percent(b.Nominal.P) + ")"
		}
		if b.PrintDoubt > 0 {
			v.Facts = append(v.Facts, factRow{"Scale", fmt.Sprintf("by the printed card, its bar not told: all sizes together ± %.1f %%", 100*measure.Coverage95*b.PrintDoubt)})
		}
	}
	for l, leaf := range b.Leaves {
		for h, hole := range leaf.Holes {
			v.HoleRows = append(v.HoleRows, holeRow{measure.HoleName(l, h), hole})
		}
	}
	for _, t := range b.Trace {
		v.Trace = append(v.Trace, traceRow{t, keyWords(t.Quantity)})
	}
	v.Door = quote.DoorRead(p.Door)
	v.Unread = unreadOf(p.Readings.Unread)
	for _, st := range p.Readings.Statements {
		v.Said = append(v.Said, strings.ReplaceAll(st.Kind, "_", " ")+": "+strings.ReplaceAll(st.Value, "_", " "))
	}
	for _, dis := range b.Disagreements {
		s := slipView{Disagreement: dis, Name: dis.Name()}
		if dis.Quantity != measure.QUnknown { // else it is about the whole inquiry
			s.What = quote.QuantityWords[dis.Quantity]
		}
		v.Slips = append(v.Slips, s)
	}
	v.Clash, v.Notes = clashOf(b.Disagreements), b.Notes
	for n, f := range p.Fits {
		one := fitView{Fit: f, N: n + 1, Chosen: n == 0, Drawing: fitDrawing(p.Best, f), Inquiry: v.Inquiry.ID}
		for _, h := range f.Holes {
			if h.Fate == catalog.HoleLands {
				one.Lands++
			}
		}
		if price, err := f.Item.PriceAt(max(1, p.Count)); err == nil {
			one.Each = quote.Money(price)
		}
		v.Fits = append(v.Fits, one)
	}
	v.Topics = byTopic(p.Advice)
}

// clashOf says between what disagreements are.
func clashOf(all []measure.Disagreement) string {
	photos, typed := false, false
	for _, d := range all {
		if d.Slip == measure.SlipOtherPhoto {
			photos = true
		} else {
			typed = true
		}
	}
	switch {
	case photos && typed:
		return "Photos and what was typed disagree"
	case photos:
		return "The photos show different hinges"
	}
	return "Typed and photo disagree"
}

func typedWords(t measure.Reading, named bool) string {
	text := "“" + t.Text + "”"
	if t.Value != nil {
		text += " =\u00a0" + strings.ReplaceAll(mm(*t.Value), " ", "\u00a0")
	}
	if named {
		text += " (" + quote.QuantityWords[t.Quantity] + ")"
	}
	return text
}

func number(n int) string {
	if n == 0 {
		return "not clear"
	}
	return strconv.Itoa(n)
}

func cornerFacts(b measure.Best) string {
	var each []string
	for _, l := range b.Leaves {
		each = append(each, cornerWords[l.Corners])
	}
	if len(each) == 2 && each[0] == each[1] {
		return each[0]
	}
	return strings.Join(each, "; ")
}

func holeFacts(b measure.Best) string {
	var each []string
	seen := 0
	for _, l := range b.Leaves {
		seen += len(l.Holes)
		each = append(each, strconv.Itoa(len(l.Holes)))
	}
	if seen == 0 {
		return number(0)
	}
	return strings.Join(each, " + ") + ", " + patternWords(b.Pattern)
}

// keyWords turns "leaf.0.hole.2.from_edge" into "left leaf, hole 3, from edge".
func keyWords(k measure.Key) string {
	parts := strings.Split(string(k), ".")
	var out []string
	for i := 0; i < len(parts); i++ {
		word := strings.ReplaceAll(parts[i], "_", " ")
		if i+1 < len(parts) {
			if n, err := strconv.Atoi(parts[i+1]); err == nil {
				if i++; word == "leaf" {
					word = catalog.LeafName(n)
				} else {
					word += " " + strconv.Itoa(n+1)
				}
			}
		}
		out = append(out, word)
	}
	return strings.Join(out, ", ")
}

// firstWords are what the counter's requests start with; it may change them.
func (s *server) firstWords(v reviewView, d quote.Dossier) (retake, ask string) {
	var advice []string
	seen := map[string]bool{}
	for _, p := range s.newOwnView(d, "").Photos {
		for _, a := range p.Advice {
			if !seen[a] {
				seen[a] = true
				advice = append(advice, a)
			}
		}
	}
	retake = strings.Join(advice, " ")
	if p := d.Proposal; p != nil && p.Question != nil {
		ask = p.Question.Text
	}
	return retake, ask
}

var doneWords = map[string]string{
	"approve": "Approved. The quote is on its way to the customer.", "ask-photo": "The customer was asked for another photo.",
	"ask": "The question is on its way to the customer.", "decline": "Declined. The customer gets your reason.",
	"withdraw": "Closed as withdrawn.", "won": "Noted as taken.", "lost": "Noted as not taken.", "note": "Note added.", "read": "Marked as read.",
	"revise": "The new quote is on its way to the customer.", "resend": "The quote is on its way to the customer again.",
	"extend": "Extended. The customer is told.",
	"accept": "Suggestion accepted.", "overrule": "Suggestion overruled. The sizes are being worked out again.",
	"add": "Added. The sizes are being worked out again.",
}

func (s *server) reviewPage(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	v := r.URL.Query()
	typed := act{StockNumber: v.Get("stock_number")}
	if d.Inquiry.Status == quote.Quoted && len(d.Quotes) > 0 {
		chosen := typed.StockNumber
		if typed = actOf(d.Quotes[0]); chosen != "" && chosen != typed.StockNumber {
			typed.StockNumber, typed.Each = chosen, ""
		}
	}
	p := s.newReviewPage(r, d, typed, "", nil)
	p.Notice = doneWords[v.Get("done")]
	return s.render(w, r, http.StatusOK, "review", p)
}

// reviewSubmit does one act of the counter.
func (s *server) reviewSubmit(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	r.Body = http.MaxBytesReader(w, r.Body, 1<<20)
	if err := r.ParseForm(); err != nil {
		return unreadable(err)
	}
	f := r.PostForm
	a := act{StockNumber: f.Get("stock_number"), Each: f.Get("each"), Message: strings.TrimSpace(f.Get("message")), Slip: f.Get("slip"),
		Discount: f.Get("discount"), DiscountReason: f.Get("discount_reason"), Delivery: f.Get("delivery"), DeliveryText: f.Get("delivery_text"),
		Collection: f.Get("collection"), ConfirmPrice: f.Get("confirm_price") == "yes", ValidUntil: f.Get("valid_until"), ConfirmFire: f.Get("confirm_fire") == "yes", ConfirmAgainst: f.Get("confirm_against") == "yes"}
	what := f.Get("act")
	a.Version, _ = strconv.Atoi(f.Get("version")) // 0 is stale, and says so
	if other := strings.TrimSpace(f.Get("other_stock_number")); other != "" {
		a.StockNumber = other
	}
	if t := strings.TrimSpace(f.Get("count")); t != "" {
		if a.Count, err = strconv.Atoi(t); err != nil || a.Count < 1 {
			a.Count = 0
			return s.reviewAgain(w, r, d, a, what, badField("count", "“"+t+"” is not a number of hinges. Write a whole number from 1."))
		}
	}
	if a.Lines, err = formLines(f); err != nil {
		return s.reviewAgain(w, r, d, a, what, err)
	}
	if what == "price" {
		return s.render(w, r, http.StatusOK, "review", s.newReviewPage(r, d, a, "", nil))
	}
	if err := s.press(r, d.Inquiry.ID, what, a); err != nil {
		return s.reviewAgain(w, r, d, a, what, err)
	}
	http.Redirect(w, r, fmt.Sprintf("/counter/inquiries/%d?done=%s", d.Inquiry.ID, what), http.StatusSeeOther)
	return nil
}

// formLines reads the rows of further lines; rows in which nothing was typed are none.
func formLines(f url.Values) (lines []actLine, err error) {
	at := func(name string, n int) string {
		if n < len(f[name]) {
			return strings.TrimSpace(f[name][n])
		}
		return ""
	}
	for n := range f["line_text"] {
		l := actLine{StockNumber: at("line_stock_number", n), Text: at("line_text", n), Each: at("line_each", n), typedCount: at("line_count", n)}
		if l == (actLine{}) {
			continue
		}
		if t := l.typedCount; t != "" {
			if l.Count, _ = strconv.Atoi(t); l.Count < 1 {
				l.Count = 0
				err = badField("lines", fmt.Sprintf("Line %d: “%s” is not a number of them. Write a whole number from 1.", len(lines)+2, t))
			}
		}
		lines = append(lines, l)
	}
	return lines, err
}

// reviewAdd adds what a customer brought to the counter or told it.
func (s *server) reviewAdd(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	f, err := readForm(w, r)
	if err == nil {
		err = s.add(r, d, f, quote.ByCounter, s.who(r))
	}
	if err != nil {
		return s.reviewAgain(w, r, d, act{Message: f.Readings}, "add", err)
	}
	http.Redirect(w, r, fmt.Sprintf("/counter/inquiries/%d?done=add", d.Inquiry.ID), http.StatusSeeOther)
	return nil
}

// reviewAgain shows the inquiry as it stands now, with what was typed and why it was refused.
func (s *server) reviewAgain(w http.ResponseWriter, r *http.Request, d quote.Dossier, a act, what string, err error) error {
	if fresh, e := s.desk.Dossier(r.Context(), d.Inquiry.ID); e == nil {
		d = fresh
	}
	told := s.told(r, err)
	setFaultHeaders(w, told)
	return s.render(w, r, told.status, "review", s.newReviewPage(r, d, a, what, told))
}

func (s *server) counterPhoto(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	return s.sendPhoto(w, r, d)
}
