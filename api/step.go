package api

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"leafgauge/quote"

	"github.com/bojanz/currency"
)

// act is the body of every act of the counter. Version is the inquiry's as it was seen.
type act struct {
	Version        int       `json:"version"`
	StockNumber    string    `json:"stock_number,omitempty"`
	Count          int       `json:"count,omitempty"`           // 0: as proposed
	Each           string    `json:"each,omitempty"`            // price of one, such as "4.50"; empty: the list price
	Lines          []actLine `json:"lines,omitempty"`           // behind that hinge; where nothing is said of it, the first of them is the hinge
	Discount       string    `json:"discount,omitempty"`        // "10 %" or "5.00" off the lines
	DiscountReason string    `json:"discount_reason,omitempty"` // the customer reads it
	Delivery       string    `json:"delivery,omitempty"`        // what it costs, such as "12.00"
	DeliveryText   string    `json:"delivery_text,omitempty"`   // how and when
	Collection     string    `json:"collection,omitempty"`      // where and when, in place of a delivery
	ConfirmPrice   bool      `json:"confirm_price,omitempty"`   // an unusual price is meant
	ValidUntil     string    `json:"valid_until,omitempty"`     // a day such as 2026-04-30
	Message        string    `json:"message,omitempty"`
	Slip           string    `json:"slip,omitempty"` // "height:swapped"
	Overrule       *bool     `json:"overrule,omitempty"`
	Won            *bool     `json:"won,omitempty"`
	ConfirmFire    bool      `json:"confirm_fire,omitempty"`    // the counter has checked a fire-rated opening's label
	ConfirmAgainst bool      `json:"confirm_against,omitempty"` // a hinge that goes against what the customer said is meant
}

// actLine is one line of a quote as it was typed: a stock hinge, or what the words say.
type actLine struct {
	StockNumber string `json:"stock_number,omitempty"`
	Text        string `json:"text,omitempty"`
	Count       int    `json:"count,omitempty"` // 0: one
	Each        string `json:"each,omitempty"`  // may be empty for a stock hinge: the list price

	typedCount string // in a form, whatever it is
}

// CountText is the count as it was typed, or nothing.
func (l actLine) CountText() string {
	if l.Count != 0 {
		return strconv.Itoa(l.Count)
	}
	return l.typedCount
}

// plain reports that nothing but hinge and count is said: the line at the page's top can send no more.
func (a act) plain() bool {
	return a.Each == "" && len(a.Lines) == 0 && a.Discount == "" && a.Delivery == "" && a.DeliveryText == "" && a.Collection == "" && a.ValidUntil == ""
}

// approval makes the act into what the desk takes, filling in what was proposed or, where a quote
// is out, that quote's hinge.
func (s *server) approval(a act, d quote.Dossier) (quote.Approval, error) {
	hinge, lines := actLine{StockNumber: strings.TrimSpace(a.StockNumber), Count: a.Count, Each: strings.TrimSpace(a.Each)}, a.Lines
	if hinge == (actLine{}) && len(lines) > 0 && strings.TrimSpace(lines[0].StockNumber) != "" {
		hinge, lines = lines[0], lines[1:]
	}
	out := quote.Approval{StockNumber: strings.TrimSpace(hinge.StockNumber), Count: hinge.Count, Message: a.Message, Collection: strings.TrimSpace(a.Collection), Confirmed: a.ConfirmPrice, ConfirmedAgainst: a.ConfirmAgainst}
	if d.Inquiry.Status == quote.Quoted && len(d.Quotes) > 0 && len(d.Quotes[0].Lines) > 0 {
		if former := d.Quotes[0].Lines[0]; out.StockNumber == "" {
			out.StockNumber = former.StockNumber
			if out.Count == 0 {
				out.Count = cmp.Or(former.Asked, former.Count)
			}
			if hinge.Each == "" && former.Given {
				out.Each = &former.Each
			}
		}
	}
	if p := d.Proposal; p != nil {
		if out.StockNumber == "" && len(p.Fits) > 0 {
			out.StockNumber = p.Fits[0].Item.StockNumber
		}
		if out.Count == 0 {
			out.Count = p.Count
		}
	}
	if out.StockNumber == "" {
		return out, &fault{status: http.StatusUnprocessableEntity, code: "nothing_to_price", field: "stock_number", detail: "Choose a hinge of the stock list."}
	}
	if out.Count == 0 {
		out.Count = 1
	}
	if out.Count < 1 || out.Count > quote.MaxHinges {
		return out, badField("count", fmt.Sprintf("The number of hinges is a whole number from 1 to %d.", quote.MaxHinges))
	}
	if hinge.Each != "" {
		amount, err := s.money("each", hinge.Each)
		if err != nil {
			return out, err
		}
		out.Each = &amount
	}
	for n, l := range lines {
		w := quote.Wanted{StockNumber: strings.TrimSpace(l.StockNumber), Text: strings.TrimSpace(l.Text), Count: l.Count}
		if each := strings.TrimSpace(l.Each); each != "" {
			amount, err := s.money("lines", each)
			if err != nil {
				return out, badField("lines", fmt.Sprintf("Line %d: %s", n+2, asFault(err).detail))
			}
			w.Each = &amount
		}
		out.More = append(out.More, w)
	}
	return out, s.terms(a, &out)
}

// terms reads discount and delivery.
func (s *server) terms(a act, out *quote.Approval) error {
	var err error
	if out.Discount, err = quote.ParseDiscount(a.Discount, s.Terms.Currency); err != nil {
		return badField("discount", asFault(err).detail)
	}
	reason := strings.TrimSpace(a.DiscountReason)
	switch {
	case out.Discount != nil:
		out.Discount.Reason = reason
	case reason != "":
		return badField("discount", fmt.Sprintf("How much is the discount for “%s”? Write it like 10 %% or 5.00.", reason))
	}
	how := strings.TrimSpace(a.DeliveryText)
	switch price := strings.TrimSpace(a.Delivery); {
	case price != "":
		amount, err := s.money("delivery", price)
		if err != nil {
			return err
		}
		out.Delivery = &quote.Delivery{Amount: amount, Text: how}
	case how != "":
		return badField("delivery", fmt.Sprintf("What does the delivery “%s” cost? Write 0 where it is free.", how))
	}
	return nil
}

// money reads a typed amount.
func (s *server) money(field, text string) (currency.Amount, error) {
	amount, err := quote.ParseMoney(text, s.Terms.Currency)
	if err != nil {
		return amount, badField(field, asFault(err).detail)
	}
	return amount, nil
}

// actOf is the act that would make the quote once more.
func actOf(q quote.Quote) act {
	a := act{Message: q.Message, Collection: q.Collection}
	for _, l := range q.Lines {
		line := actLine{StockNumber: l.StockNumber, Count: cmp.Or(l.Asked, l.Count)}
		if l.StockNumber == "" {
			line.Text = l.Text
		}
		if l.Given {
			line.Each = l.Each.Number()
		}
		a.Lines = append(a.Lines, line)
	}
	if len(a.Lines) > 0 {
		a.StockNumber, a.Count, a.Each, a.Lines = a.Lines[0].StockNumber, a.Lines[0].Count, a.Lines[0].Each, a.Lines[1:]
	}
	if d := q.Discount; d != nil {
		a.Discount, a.DiscountReason = d.Amount.Number(), d.Reason
		if d.Percent != "" {
			a.Discount = d.Percent + " %"
		}
	}
	if d := q.Delivery; d != nil {
		a.Delivery, a.DeliveryText = d.Amount.Number(), d.Text
	}
	return a
}

func (s *server) postPrice(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	var a act
	if err := readJSON(w, r, &a); err != nil {
		return err
	}
	approval, err := s.approval(a, d)
	if err != nil {
		return err
	}
	q, err := s.desk.Price(r.Context(), d.Inquiry.ID, approval)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, q)
}

// A step is one act of the counter on an inquiry: for the API, whose address ends in its
// name, and for the buttons of the page alike.
type step struct {
	name string
	// to is where it leads: the page offers it where the counter may go there. The desk checks
	// that again. "" is nowhere, from anywhere.
	to quote.Status
	// buttons are the page's, each with what it says of the act; nil is one of the step's name.
	buttons map[string]func(*act)
	// empty is told where the act has no message; "" where it needs none.
	empty string
	// missing says what a body of the API lacks that a button's form always has; nil is nothing.
	missing func(act) error
	do      func(s *server, r *http.Request, id quote.ID, a act) error
}

// steps are all that the counter does to an inquiry, but for adding to it.
var steps = []step{
	{name: "approve", to: quote.Approved, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.offer(r, id, a, s.desk.Approve)
	}},
	{name: "ask-photo", to: quote.NeedsPhoto, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.AskPhoto(r.Context(), id, a.Version, s.who(r), a.Message)
	}},
	{name: "ask", to: quote.NeedsAnswer, empty: "Write the question.", do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.AskQuestion(r.Context(), id, a.Version, s.who(r), a.Message)
	}},
	{name: "decline", to: quote.Declined, empty: "Write why; the customer reads it.", do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.Decline(r.Context(), id, a.Version, s.who(r), a.Message)
	}},
	{name: "withdraw", to: quote.Withdrawn, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.Withdraw(r.Context(), id, quote.ByCounter, s.who(r))
	}},
	{name: "decide", to: quote.Won, buttons: map[string]func(*act){
		"won":  func(a *act) { a.Won = new(true) },
		"lost": func(a *act) { a.Won = new(false) },
	}, missing: func(a act) error {
		if a.Won == nil {
			return badField("won", "Say whether the quote was taken: true or false.")
		}
		return nil
	}, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.Decide(r.Context(), id, quote.ByCounter, s.who(r), quote.Decision{Won: *a.Won, Why: a.Message})
	}},
	{name: "revise", to: quote.Quoted, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.offer(r, id, a, s.desk.Revise)
	}},
	{name: "resend", to: quote.Quoted, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.Resend(r.Context(), id, a.Version, s.who(r))
	}},
	{name: "extend", to: quote.Quoted, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		until, err := parseDay(a.ValidUntil)
		if err != nil {
			return err
		}
		return s.desk.Extend(r.Context(), id, a.Version, s.who(r), until, a.Message)
	}},
	{name: "overrule", to: quote.Measuring, buttons: map[string]func(*act){
		"overrule": func(a *act) { a.Overrule = new(true) },
		"accept":   func(a *act) { a.Overrule = new(false) },
	}, missing: func(a act) error {
		if a.Slip == "" || a.Overrule == nil {
			return badField("slip", "Name the slip, such as height:swapped, and say whether it is overruled: true or false.")
		}
		return nil
	}, do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.Overrule(r.Context(), id, a.Version, s.who(r), a.Slip, *a.Overrule)
	}},
	{name: "note", empty: "Write the note.", do: func(s *server, r *http.Request, id quote.ID, a act) error {
		return s.desk.Note(r.Context(), id, s.who(r), a.Message)
	}},
	{name: "read", do: func(s *server, r *http.Request, id quote.ID, a act) error { // of the page alone
		return s.desk.Note(r.Context(), id, s.who(r), "")
	}},
}

// take takes the step.
func (st step) take(s *server, r *http.Request, id quote.ID, a act) error {
	if st.empty != "" && strings.TrimSpace(a.Message) == "" {
		return badField("message", st.empty)
	}
	return st.do(s, r, id, a)
}

// postStep is the step of that name for the API: it answers with the dossier as it stands
// afterwards.
func (s *server) postStep(name string) handler {
	st := steps[slices.IndexFunc(steps, func(st step) bool { return st.name == name })]
	return func(w http.ResponseWriter, r *http.Request) error {
		id, err := inquiryID(r)
		if err != nil {
			return err
		}
		var a act
		if err := readJSON(w, r, &a); err != nil {
			return err
		}
		if st.missing != nil {
			if err := st.missing(a); err != nil {
				return err
			}
		}
		if err := st.take(s, r, id, a); err != nil {
			return err
		}
		return s.getDossier(w, r)
	}
}

// press takes the step of one of the page's buttons.
func (s *server) press(r *http.Request, id quote.ID, button string, a act) error {
	for _, st := range steps {
		says, ok := st.buttons[button]
		switch {
		case ok:
			says(&a)
		case st.buttons != nil || st.name != button:
			continue
		}
		return st.take(s, r, id, a)
	}
	return badField("act", "There is no such step.")
}

// stepsFrom says which steps the page offers.
func stepsFrom(s quote.Status) map[string]bool {
	may := map[string]bool{"measure": quote.May(s, quote.Measuring, quote.ByCounter)} // to add something, too
	for _, st := range steps {
		may[st.name] = st.to == "" || quote.May(s, st.to, quote.ByCounter)
	}
	return may
}

// offer makes and sends the quote that the act says, by one of the desk's two ways.
func (s *server) offer(r *http.Request, id quote.ID, a act,
	by func(ctx context.Context, id quote.ID, version int, who string, a quote.Approval) (quote.Quote, error)) error {
	d, err := s.desk.Dossier(r.Context(), id)
	if err != nil {
		return err
	}
	if fireRated(d) && !a.ConfirmFire {
		return &fault{status: http.StatusUnprocessableEntity, code: "fire_not_confirmed", field: "confirm_fire",
			detail: "The opening is fire-rated. Check its label, and that hinge, size and count are right for it; then say so."}
	}
	approval, err := s.approval(a, d)
	if err != nil {
		return err
	}
	_, err = by(r.Context(), id, a.Version, s.who(r), approval)
	return err
}

// parseDay reads a day such as 2026-04-30; the zero time for none.
func parseDay(text string) (time.Time, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return time.Time{}, nil
	}
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return day, badField("valid_until", shortName(text)+" is no day. Write it like 2026-04-30.")
	}
	return day, nil
}

// fireRated reports whether the hinge is for a fire-rated opening, by form or words.
func fireRated(d quote.Dossier) bool {
	return d.Inquiry.Door.FireRated || d.Proposal != nil && d.Proposal.Door.FireRated
}
