package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"leafgauge/quote"

	"github.com/bojanz/currency"
)

// act is the body of every act of the counter. Version is the inquiry's as it was seen.
type act struct {
	Version     int    `json:"version"`
	StockNumber string `json:"stock_number,omitempty"`
	Count       int    `json:"count,omitempty"` // 0: as proposed
	Each        string `json:"each,omitempty"`  // price of one, such as "4.50"; empty: the list price
	Message     string `json:"message,omitempty"`
	Slip        string `json:"slip,omitempty"` // "height:swapped"
	Overrule    *bool  `json:"overrule,omitempty"`
	Won         *bool  `json:"won,omitempty"`
	ConfirmFire bool   `json:"confirm_fire,omitempty"` // the counter has checked a fire-rated opening's label
}

// approval makes the act into what the desk takes, filling in what was proposed.
func (s *server) approval(a act, d quote.Dossier) (quote.Approval, error) {
	out := quote.Approval{StockNumber: strings.TrimSpace(a.StockNumber), Count: a.Count, Message: a.Message}
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
	if each := strings.TrimSpace(a.Each); each != "" {
		amount, err := currency.NewAmount(strings.Replace(each, ",", ".", 1), s.Terms.Currency)
		if err != nil || amount.IsNegative() || len(each) > 12 {
			return out, badField("each", fmt.Sprintf("The price “%s” is not an amount. Write it like 4.50, or leave it empty for the list price.", each))
		}
		out.Each = &amount
	}
	return out, nil
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
	{name: "approve", to: quote.Approved, do: (*server).approve},
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
		return s.desk.Decide(r.Context(), id, quote.ByCounter, s.who(r), *a.Won, a.Message)
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

func (s *server) approve(r *http.Request, id quote.ID, a act) error {
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
	_, err = s.desk.Approve(r.Context(), id, a.Version, s.who(r), approval)
	return err
}

// fireRated reports whether the hinge is for a fire-rated opening, by form or words.
func fireRated(d quote.Dossier) bool {
	return d.Inquiry.Door.FireRated || d.Proposal != nil && d.Proposal.Door.FireRated
}
