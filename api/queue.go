package api

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"leafgauge/catalog"
	"leafgauge/quote"
)

// queueView is the list of inquiries.
type queueView struct {
	Rows       []queueRow
	Total      int
	From, To   int
	Prev, Next string // addresses of the pages beside this one, or ""
	Search     string
	Status     string
	Turn       string
	States     []choice
	Turns      []choice
	Sorts      []choice
	Filtered   bool
}

type choice struct {
	Value, Text string
	Chosen      bool
}

type queueRow struct {
	quote.Summary
	State, Whose string
	Age          time.Duration
	Mine         bool // the counter's move
	Size         string
	Quoted       string // the newest quote's total
}

// sortWords says an order of the list.
var sortWords = map[quote.Sort]string{
	quote.SortAge: "Oldest first", quote.SortNewest: "Newest first", quote.SortUpdated: "Latest change first", quote.SortStatus: "By state",
}

func (s *server) newQueuePage(r *http.Request) (page, error) {
	v := r.URL.Query()
	f, n, err := readFilter(v)
	if err != nil {
		return page{}, err
	}
	list, total, err := s.desk.List(r.Context(), f)
	if err != nil {
		return page{}, err
	}
	q := queueView{Total: total, From: f.Offset + 1, To: f.Offset + len(list), Search: f.Search, Status: v.Get("status"), Turn: v.Get("turn")}
	q.Filtered = q.Search != "" || q.Status != "" || q.Turn != ""
	for _, i := range list {
		q.Rows = append(q.Rows, queueRow{Summary: i, State: counterWords[i.Status], Whose: turnWords[i.Inquiry.Turn()],
			Age: s.Now().Sub(i.Created), Mine: i.Inquiry.Turn() == quote.ByCounter, Size: size(i.Best), Quoted: moneyText(i.Total)})
	}
	beside := func(page int) string {
		w := url.Values{}
		for k := range v {
			w[k] = v[k]
		}
		w.Set("page", strconv.Itoa(page))
		return "/counter/?" + w.Encode()
	}
	if n > 1 {
		q.Prev = beside(n - 1)
	}
	if f.Offset+len(list) < total {
		q.Next = beside(n + 1)
	}
	q.States = []choice{{"", "All open ones", q.Status == ""}, {"all", "Closed ones too", q.Status == "all"}}
	for _, st := range quote.Statuses {
		q.States = append(q.States, choice{string(st), counterWords[st], q.Status == string(st)})
	}
	q.Turns = []choice{{"", "Anybody", q.Turn == ""}}
	for _, role := range quote.Roles {
		q.Turns = append(q.Turns, choice{string(role), turnWords[role], q.Turn == string(role)})
	}
	for _, so := range quote.Sorts {
		q.Sorts = append(q.Sorts, choice{string(so), sortWords[so], so == f.Sort})
	}
	return page{Title: "Inquiries", Here: "inquiries", Wide: true, Body: q}, nil
}

func (s *server) queuePage(w http.ResponseWriter, r *http.Request) error {
	p, err := s.newQueuePage(r)
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "queue", p)
}

// stockView is the stock list.
type stockView struct {
	Items  []catalog.Item
	Shown  int
	Total  int
	Search string
}

// stockShown bounds the rows of one page of the stock list; a search finds the others.
const stockShown = 200

func (s *server) stockPage(w http.ResponseWriter, r *http.Request) error {
	items, err := s.desk.Stock(r.Context())
	if err != nil {
		return err
	}
	v := stockView{Search: strings.TrimSpace(r.URL.Query().Get("q"))}
	found := searchStock(items, v.Search)
	v.Total = len(found)
	v.Items = found[:min(len(found), stockShown)]
	v.Shown = len(v.Items)
	return s.render(w, r, http.StatusOK, "stock", page{Title: "Stock list", Here: "stock", Wide: true, Body: v})
}

// figuresView is the owner's page of counts.
type figuresView struct {
	quote.Figures
	Oldest  time.Duration // how long the oldest open inquiry waits
	ToQuote time.Duration // median
	States  []countRow
	Waiters []countRow
}

type countRow struct {
	Name  string
	Count int
}

func (s *server) figuresPage(w http.ResponseWriter, r *http.Request) error {
	f, err := s.figures(r)
	if err != nil {
		return err
	}
	hours := func(n float64) time.Duration { return time.Duration(n * float64(time.Hour)) }
	v := figuresView{Figures: f, Oldest: hours(24 * f.OldestDays), ToQuote: hours(f.HoursQuote)}
	for _, st := range quote.Statuses {
		if n := f.ByStatus[st]; n > 0 {
			v.States = append(v.States, countRow{counterWords[st], n})
		}
	}
	for _, role := range quote.Roles {
		v.Waiters = append(v.Waiters, countRow{turnWords[role], f.Waiting[role]})
	}
	return s.render(w, r, http.StatusOK, "figures", page{Title: "Figures", Here: "figures", Wide: true, Body: v})
}

// signInView is the sign-in form.
type signInView struct{ Name, To, Error string }

func (s *server) signInPage(w http.ResponseWriter, r *http.Request) error {
	return s.render(w, r, http.StatusOK, "signin", page{Title: "Counter sign-in", Body: signInView{To: inside(r.URL.Query().Get("to"))}})
}

func (s *server) signInSubmit(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, 1<<20)
	v := signInView{Name: strings.TrimSpace(r.PostFormValue("name")), To: inside(r.PostFormValue("to"))}
	u, err := s.signIn(r, v.Name, r.PostFormValue("password"))
	if err != nil {
		told := s.told(r, err)
		v.Error = told.detail
		setFaultHeaders(w, told)
		return s.render(w, r, told.status, "signin", page{Title: "Counter sign-in", Body: v})
	}
	s.setCookie(w, u)
	http.Redirect(w, r, v.To, http.StatusSeeOther)
	return nil
}

// inside keeps a way back to the counter's own pages.
func inside(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(u.Path, "/counter/") || strings.HasPrefix(u.Path, "/counter/sign") {
		return "/counter/"
	}
	return u.RequestURI()
}

func (s *server) signOut(w http.ResponseWriter, r *http.Request) error {
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Path: "/", MaxAge: -1, HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteLaxMode})
	http.Redirect(w, r, "/counter/sign-in", http.StatusSeeOther)
	return nil
}
