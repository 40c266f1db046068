package api

import (
	"fmt"
	"net/http"
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

// acted reads the act, does it, and answers with the dossier as it stands afterwards.
func (s *server) acted(w http.ResponseWriter, r *http.Request, do func(id quote.ID, who string, a act) error) error {
	id, err := inquiryID(r)
	if err != nil {
		return err
	}
	var a act
	if err := readJSON(w, r, &a); err != nil {
		return err
	}
	if err := do(id, s.who(r), a); err != nil {
		return err
	}
	return s.getDossier(w, r)
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

func (s *server) postApprove(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error { return s.approve(r, id, who, a) })
}

func (s *server) approve(r *http.Request, id quote.ID, who string, a act) error {
	d, err := s.desk.Dossier(r.Context(), id)
	if err != nil {
		return err
	}
	approval, err := s.approval(a, d)
	if err != nil {
		return err
	}
	_, err = s.desk.Approve(r.Context(), id, a.Version, who, approval)
	return err
}

func (s *server) postAskPhoto(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error {
		return s.desk.AskPhoto(r.Context(), id, a.Version, who, a.Message)
	})
}

func (s *server) postAsk(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error {
		if strings.TrimSpace(a.Message) == "" {
			return badField("message", "Write the question.")
		}
		return s.desk.AskQuestion(r.Context(), id, a.Version, who, a.Message)
	})
}

func (s *server) postDecline(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error {
		if strings.TrimSpace(a.Message) == "" {
			return badField("message", "Write why; the customer reads it.")
		}
		return s.desk.Decline(r.Context(), id, a.Version, who, a.Message)
	})
}

func (s *server) postWithdraw(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error {
		return s.desk.Withdraw(r.Context(), id, quote.ByCounter, who)
	})
}

func (s *server) postDecide(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error {
		if a.Won == nil {
			return badField("won", "Say whether the quote was taken: true or false.")
		}
		return s.desk.Decide(r.Context(), id, quote.ByCounter, who, *a.Won, a.Message)
	})
}

func (s *server) postOverrule(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error {
		if a.Slip == "" || a.Overrule == nil {
			return badField("slip", "Name the slip, such as height:swapped, and say whether it is overruled: true or false.")
		}
		return s.desk.Overrule(r.Context(), id, a.Version, who, a.Slip, *a.Overrule)
	})
}

func (s *server) postNote(w http.ResponseWriter, r *http.Request) error {
	return s.acted(w, r, func(id quote.ID, who string, a act) error {
		if strings.TrimSpace(a.Message) == "" {
			return badField("message", "Write the note.")
		}
		return s.desk.Note(r.Context(), id, who, a.Message)
	})
}

func (s *server) do(r *http.Request, id quote.ID, what string, a act) error {
	ctx, who := r.Context(), s.who(r)
	needs := func(text string) error {
		if a.Message == "" {
			return badField("message", text)
		}
		return nil
	}
	switch what {
	case "approve":
		return s.approve(r, id, who, a)
	case "ask-photo":
		return s.desk.AskPhoto(ctx, id, a.Version, who, a.Message)
	case "ask":
		if err := needs("Write the question."); err != nil {
			return err
		}
		return s.desk.AskQuestion(ctx, id, a.Version, who, a.Message)
	case "decline":
		if err := needs("Write why; the customer reads it."); err != nil {
			return err
		}
		return s.desk.Decline(ctx, id, a.Version, who, a.Message)
	case "withdraw":
		return s.desk.Withdraw(ctx, id, quote.ByCounter, who)
	case "won", "lost":
		return s.desk.Decide(ctx, id, quote.ByCounter, who, what == "won", a.Message)
	case "accept", "overrule":
		return s.desk.Overrule(ctx, id, a.Version, who, a.Slip, what == "overrule")
	case "read":
		return s.desk.Note(ctx, id, who, "")
	case "note":
		if err := needs("Write the note."); err != nil {
			return err
		}
		return s.desk.Note(ctx, id, who, a.Message)
	}
	return badField("act", "There is no such step.")
}

func actsFrom(s quote.Status) map[string]bool {
	by := quote.ByCounter
	return map[string]bool{
		"approve":   quote.May(s, quote.Approved, by),
		"ask-photo": quote.May(s, quote.NeedsPhoto, by),
		"ask":       quote.May(s, quote.NeedsAnswer, by),
		"decline":   quote.May(s, quote.Declined, by),
		"withdraw":  quote.May(s, quote.Withdrawn, by),
		"decide":    quote.May(s, quote.Won, by),
		"measure":   quote.May(s, quote.Measuring, by),
		"note":      true,
	}
}
