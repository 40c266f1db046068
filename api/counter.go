package api

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/bojanz/currency"
)

const pageLength = 25

// readFilter reads ?status=&turn=&q=&sort=&page= (or limit and offset).
func readFilter(v url.Values) (quote.Filter, int, error) {
	f := quote.Filter{Search: strings.TrimSpace(v.Get("q")), Limit: pageLength}
	for _, s := range v["status"] {
		switch {
		case s == "" || s == "open":
		case s == "all":
			f.All = true
		case slices.Contains(quote.Statuses, quote.Status(s)):
			f.Statuses = append(f.Statuses, quote.Status(s))
		default:
			return f, 1, badField("status", fmt.Sprintf("There is no status “%s”. Use open, all, or one of the statuses of /openapi.json.", s))
		}
	}
	if f.Turn = quote.Role(v.Get("turn")); f.Turn != "" && !slices.Contains(quote.Roles, f.Turn) {
		return f, 1, badField("turn", "Turn is customer, counter or program.")
	}
	var err error
	if f.Sort, err = quote.ParseSort(v.Get("sort")); err != nil {
		return f, 1, err
	}
	number := func(name string, least, most int, to *int) error {
		if t := v.Get(name); t != "" {
			n, err := strconv.Atoi(t)
			if err != nil || n < least || n > most {
				return badField(name, fmt.Sprintf("%s is a whole number from %d to %d.", title(name), least, most))
			}
			*to = n
		}
		return nil
	}
	page := 1
	if err := number("limit", 1, 200, &f.Limit); err != nil {
		return f, 1, err
	}
	if err := number("page", 1, 1_000_000, &page); err != nil {
		return f, 1, err
	}
	f.Offset = (page - 1) * f.Limit
	if err := number("offset", 0, 1_000_000_000, &f.Offset); err != nil {
		return f, 1, err
	}
	return f, page, nil
}

type listAnswer struct {
	Inquiries []quote.Summary `json:"inquiries"`
	Total     int             `json:"total"`
	Limit     int             `json:"limit"`
	Offset    int             `json:"offset"`
}

func (s *server) listInquiries(w http.ResponseWriter, r *http.Request) error {
	f, _, err := readFilter(r.URL.Query())
	if err != nil {
		return err
	}
	list, total, err := s.desk.List(r.Context(), f)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, listAnswer{append([]quote.Summary{}, list...), total, f.Limit, f.Offset})
}

// inquiryID reads the number of the address.
func inquiryID(r *http.Request) (quote.ID, error) {
	n, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || n < 1 {
		return 0, errNoSuchPage
	}
	return quote.ID(n), nil
}

func (s *server) dossier(r *http.Request) (quote.Dossier, error) {
	id, err := inquiryID(r)
	if err != nil {
		return quote.Dossier{}, err
	}
	return s.desk.Dossier(r.Context(), id)
}

func (s *server) getDossier(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, d)
}

// postCounterAddition adds what a customer brought to the counter or told it.
func (s *server) postCounterAddition(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if err := s.add(r, d, f, quote.ByCounter, s.who(r)); err != nil {
		return err
	}
	return s.getDossier(w, r)
}

func (s *server) newestQuote(r *http.Request) (quote.Quote, error) {
	d, err := s.dossier(r)
	if err != nil {
		return quote.Quote{}, err
	}
	if len(d.Quotes) == 0 {
		return quote.Quote{}, errNoQuote
	}
	return d.Quotes[0], nil
}

func (s *server) getQuote(w http.ResponseWriter, r *http.Request) error {
	q, err := s.newestQuote(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, q)
}

func (s *server) quotePDF(w http.ResponseWriter, r *http.Request) error {
	q, err := s.newestQuote(r)
	if err != nil {
		return err
	}
	return s.sendPDF(w, q)
}

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

type stockAnswer struct {
	Items []catalog.Item `json:"items"`
	Total int            `json:"total"`
}

func (s *server) getStock(w http.ResponseWriter, r *http.Request) error {
	items, err := s.desk.Stock(r.Context())
	if err != nil {
		return err
	}
	items = searchStock(items, r.URL.Query().Get("q"))
	return writeJSON(w, http.StatusOK, stockAnswer{append([]catalog.Item{}, items...), len(items)})
}

// searchStock keeps the items in which every word of q occurs.
func searchStock(items []catalog.Item, q string) []catalog.Item {
	words := strings.Fields(strings.ToLower(q))
	if len(words) == 0 {
		return items
	}
	var out []catalog.Item
	for _, i := range items {
		text := strings.ToLower(strings.Join([]string{i.StockNumber, i.Name, i.Size(), i.Finish, i.FinishNo, i.BaseMetal, string(i.Bearing), i.PatternID}, " "))
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) }) {
			out = append(out, i)
		}
	}
	return out
}

// figures are the counts, for the owner alone.
func (s *server) figures(r *http.Request) (quote.Figures, error) {
	if u, _ := s.session(r); !u.Owner {
		return quote.Figures{}, errOwnerOnly
	}
	return s.desk.Figures(r.Context())
}

func (s *server) getFigures(w http.ResponseWriter, r *http.Request) error {
	f, err := s.figures(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, f)
}

// slipName names a disagreement the way Overrule takes it.
func slipName(d measure.Disagreement) string { return string(d.Quantity) + ":" + d.Slip }
