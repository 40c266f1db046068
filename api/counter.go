package api

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"leafgauge/catalog"
	"leafgauge/quote"
)

// pageLength is how many inquiries a page of the list shows: two screens of a laptop.
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
				return badField(name, fmt.Sprintf("%s is a whole number from %d to %d.", catalog.Capital(name), least, most))
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
