package api

import (
	"bytes"
	"crypto/rand"
	"errors"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/printcard"
	"leafgauge/quote"
)

// askView is the customer's form.
type askView struct {
	*form
	MaxPhotos int
}

func (s *server) newAskPage(f *form) page {
	if f.Once == "" {
		f.Once = rand.Text()
	}
	title := "Find a matching hinge"
	if len(f.Errors) > 0 {
		title = "Please look again: " + title
	}
	return page{Title: title, Body: askView{f, quote.MaxPhotos}}
}

func (s *server) askPage(w http.ResponseWriter, r *http.Request) error {
	return s.render(w, r, http.StatusOK, "ask", s.newAskPage(&form{}))
}

// askSubmit takes the form in. What was typed is shown again when something is wrong.
func (s *server) askSubmit(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err == nil {
		var receipt quote.Receipt
		if receipt, err = s.receive(r, f, quote.FromWeb); err == nil {
			http.Redirect(w, r, "/i/"+receipt.Key, http.StatusSeeOther)
			return nil
		}
	}
	told := s.told(r, err)
	if len(f.Errors) == 0 {
		field := told.field
		if field == "" {
			field = "form"
		}
		f.wrong(field, told.code, told.detail)
	}
	setFaultHeaders(w, told)
	return s.render(w, r, told.status, "ask", s.newAskPage(f))
}

// customerView is the page behind a customer's link.
type customerView struct {
	ownView
	Key      string
	Open     bool
	Waiting  bool     // for the program: the page looks again by itself
	Retakes  []string // what to do better in the next photo
	CanTake  bool
	CanLeave bool // the quote is out, whether or not its day is over
	Verdict  string
	Drawing  template.HTML // of the quoted hinge over the old one
	Typed    *form         // after a form error
	Said     string
	Sent     []string // what of the photos was there already
	Wanted   string   // the answer to what else is wanted
	Heard    string   // what was read of it, in one line
	Asked    bool     // for a photo or an answer: the form stands open
	Unread   []unread
	Ask      *questionView
	Question string
	Corners  string
	Doubts   []string // what in photos and typed numbers does not agree
	Measured bool     // some photo; else all there is was typed
}

func (s *server) newCustomerPage(d quote.Dossier, key string, f *form) page {
	v := customerView{ownView: s.newOwnView(d, key), Key: key, Typed: f, Said: d.Inquiry.Text, Wanted: d.Inquiry.Wishes.Text}
	v.Open = v.Status.Open()
	v.Waiting = v.Status.Turn() == quote.ByProgram
	v.CanTake = v.Status == quote.Quoted && !v.Expired
	v.CanLeave = v.Status == quote.Quoted
	v.Asked = v.Status == quote.NeedsPhoto || v.Status == quote.NeedsAnswer
	v.Unread = missedSizes(d.Inquiry.Text+"\n"+d.Inquiry.Wishes.Text, v.Readings)
	for _, e := range d.Events {
		if e.What == quote.SentAgain {
			v.Sent = append(v.Sent, e.Text)
		}
	}
	v.Heard = d.Inquiry.Understood()
	if v.Ask = v.ownView.Question; v.Ask != nil {
		v.Question = v.Ask.Text
	}
	if v.Quote != nil {
		v.Verdict = v.Quote.VerdictSentence()
		v.Drawing = fitDrawing(v.Quote.Old, v.Quote.Fit)
	}
	for _, p := range v.Photos {
		v.Measured = v.Measured || p.Status == measure.Measured
	}
	if v.Findings != nil {
		v.Corners = cornerFacts(d.Proposal.Best)
		if v.Quote == nil { // which has them among its notes
			v.Doubts = quote.Doubts(d.Proposal.Best)
		}
	}
	if v.Status == quote.NeedsPhoto {
		v.Retakes = strings.FieldsFunc(v.Message, func(r rune) bool { return r == '\n' || r == '\r' })
	}
	if v.Typed == nil {
		v.Typed = &form{}
	}
	return page{Title: v.Now, Body: v}
}

func (s *server) customerPage(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "customer", s.newCustomerPage(d, key, nil))
}

// customerAgain shows the customer's page once more with what could not be used.
func (s *server) customerAgain(w http.ResponseWriter, r *http.Request, d quote.Dossier, key string, f *form, err error) error {
	told := s.told(r, err)
	if errors.Is(err, quote.ErrMove) || errors.Is(err, quote.ErrStale) {
		if fresh, e := s.desk.ByKey(r.Context(), key); e == nil {
			d = fresh
		}
	}
	if len(f.Errors) == 0 {
		f.wrong("form", told.code, told.detail)
	}
	setFaultHeaders(w, told)
	return s.render(w, r, told.status, "customer", s.newCustomerPage(d, key, f))
}

func (s *server) customerAdd(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	f, err := readForm(w, r)
	if err == nil {
		err = s.add(r, d, f, quote.ByCustomer, "")
	}
	if err != nil {
		return s.customerAgain(w, r, d, key, f, err)
	}
	http.Redirect(w, r, "/i/"+key, http.StatusSeeOther)
	return nil
}

func (s *server) customerDecide(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	r.Body = http.MaxBytesReader(w, r.Body, 1<<20)
	take := r.PostFormValue("take")
	if take != "yes" && take != "no" {
		return s.customerAgain(w, r, d, key, &form{}, badField("take", "Choose whether you take the quote."))
	}
	dec := quote.Decision{Quote: r.PostFormValue("quote"), Won: take == "yes", Why: r.PostFormValue("why")}
	if err := s.desk.Decide(r.Context(), d.Inquiry.ID, quote.ByCustomer, "", dec); err != nil {
		return s.customerAgain(w, r, d, key, &form{}, err)
	}
	http.Redirect(w, r, "/i/"+key, http.StatusSeeOther)
	return nil
}

func (s *server) customerWithdraw(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	if err := s.desk.Withdraw(r.Context(), d.Inquiry.ID, quote.ByCustomer, ""); err != nil {
		return s.customerAgain(w, r, d, key, &form{}, err)
	}
	http.Redirect(w, r, "/i/"+key, http.StatusSeeOther)
	return nil
}

// doorView is the public page on what suits a door.
type doorView struct {
	*form
	Asked  bool
	Answer string // in one line
	Topics []adviceTopic
	Read   []string // the door as understood
}

// adviceTopic is all advice on one thing.
type adviceTopic struct {
	Name  string
	Lines []catalog.Advice
}

// Cautions reports that t is cautions alone, which are not folded away.
func (t adviceTopic) Cautions() bool {
	return !slices.ContainsFunc(t.Lines, func(a catalog.Advice) bool { return !a.Caution })
}

func byTopic(all []catalog.Advice) []adviceTopic {
	var topics []adviceTopic
	at := map[string]int{}
	for _, a := range all {
		i, ok := at[a.Topic]
		if !ok {
			i = len(topics)
			at[a.Topic] = i
			topics = append(topics, adviceTopic{Name: a.Topic})
		}
		topics[i].Lines = append(topics[i].Lines, a)
	}
	return topics
}

func (s *server) doorPage(w http.ResponseWriter, r *http.Request) error {
	f, d := doorQuery(r)
	v := doorView{form: f, Asked: len(r.URL.Query()) > 0}
	if len(f.Errors) == 0 && d != (catalog.Door{}) {
		v.Answer = catalog.AnswerDoor(d)
		v.Topics = byTopic(catalog.AdviseDoor(d, catalog.Job{}))
		v.Read = quote.DoorRead(d)
	}
	status := http.StatusOK
	if len(f.Errors) > 0 {
		status = http.StatusUnprocessableEntity
	}
	return s.render(w, r, status, "door", page{Title: "What hinges suit a door", Body: v})
}

// problemView is one kind of problem of the API.
type problemView struct{ Code, Title string }

func (s *server) problemsPage(w http.ResponseWriter, r *http.Request) error {
	var list []problemView
	for _, code := range problemCodes() {
		list = append(list, problemView{code, problemTitles[code]})
	}
	return s.render(w, r, http.StatusOK, "problems", page{Title: "Problems that the API reports", Body: list})
}

// cardPDF is the project's own reference card, to be printed.
func (s *server) cardPDF(w http.ResponseWriter, r *http.Request) error {
	name := r.URL.Query().Get("paper")
	if !slices.Contains(printcard.Papers, name) {
		return badField("paper", "Choose the paper: "+strings.Join(printcard.Papers, " or ")+".")
	}
	var b bytes.Buffer
	if err := printcard.Write(&b, name); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", `inline; filename="reference-card-`+name+`.pdf"`)
	b.WriteTo(w)
	return nil
}

func (s *server) customerPhoto(w http.ResponseWriter, r *http.Request) error {
	d, _, err := s.own(r)
	if err != nil {
		return err
	}
	return s.sendPhoto(w, r, d)
}
