package api

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake/readings"
	"leafgauge/measure"
	"leafgauge/paper"
	"leafgauge/quote"
)

// receiptAnswer is what POST /api/v1/inquiries answers with.
type receiptAnswer struct {
	ID       quote.ID         `json:"id"`
	Key      string           `json:"key"` // secret; whoever has it sees the inquiry
	Status   quote.Status     `json:"status"`
	Again    bool             `json:"again"`    // the same submission had come before
	Readings measure.Readings `json:"readings"` // as understood; what could not be read is in unread
	Notes    []string         `json:"notes"`    // what the sender should know, in sentences
	Links    links            `json:"links"`
}

type links struct {
	Self string `json:"self"` // of the API
	Page string `json:"page"` // for people
}

// ownView is an inquiry as its customer sees it: no names and no notes of the counter.
type ownView struct {
	ID       quote.ID         `json:"id"`
	Status   quote.Status     `json:"status"`
	Now      string           `json:"now"`  // the status in plain words
	Next     string           `json:"next"` // what happens next
	Revision int              `json:"revision"`
	Created  time.Time        `json:"created"`
	Updated  time.Time        `json:"updated"`
	Photos   []photoView      `json:"photos"`
	Findings *findings        `json:"findings"` // nil until measured
	Readings measure.Readings `json:"readings"`
	Question *questionView    `json:"question"` // nil when none is open
	Message  string           `json:"message"`  // from the counter, when it asked or declined
	Quote    *quote.Quote     `json:"quote"`    // the newest; nil until quoted
	Expired  bool             `json:"expired"`  // its day is over: it cannot be taken until the counter extends it
	Links    links            `json:"links"`
}

type photoView struct {
	N       int              `json:"n"`
	Status  measure.Status   `json:"status,omitempty"` // empty until measured
	Reasons []measure.Reason `json:"retake_reasons"`
	Advice  []string         `json:"advice"` // what to do about each reason
}

type questionView struct {
	Text  string `json:"text"`
	Where string `json:"where"` // which drawing shows where to measure; "" none
}

// findings is the best set in short.
type findings struct {
	Size      string           `json:"size"` // trade size, height first
	Height    measure.Estimate `json:"height"`
	OpenWidth measure.Estimate `json:"open_width,omitzero"`
	Thickness measure.Estimate `json:"thickness,omitzero"`
	Corners   measure.Corners  `json:"corners"` // of the first leaf
	Holes     int              `json:"holes"`   // of the first leaf
	Knuckles  int              `json:"knuckles"`
	Bearing   measure.Bearing  `json:"bearing"`
}

func newFindings(b measure.Best) *findings {
	f := &findings{Size: b.Nominal.Size, Height: b.Height, OpenWidth: b.OpenWidth, Thickness: b.Thickness, Knuckles: b.Knuckles, Bearing: b.Bearing}
	if len(b.Leaves) > 0 {
		f.Corners, f.Holes = b.Leaves[0].Corners, len(b.Leaves[0].Holes)
	}
	return f
}

func (s *server) links(key string) links {
	return links{Self: "/api/v1/inquiries/" + key, Page: strings.TrimRight(s.Terms.BaseURL, "/") + "/i/" + key}
}

// newOwnView picks from a dossier what its customer may see.
func (s *server) newOwnView(d quote.Dossier, key string) ownView {
	q := d.Inquiry
	words := customerWords[q.Status]
	if q.Status == quote.NeedsPhoto && len(q.Photos) == 0 {
		words = firstPhotoWords
	}
	if q.Status == quote.NeedsAnswer && d.Proposal != nil && len(d.Proposal.Best.Apart) > 1 {
		words = whichWords
	}
	v := ownView{ID: q.ID, Status: q.Status, Now: words.Now, Next: words.Next, Revision: q.Revision,
		Created: q.Created, Updated: q.Updated, Readings: q.Readings(), Photos: []photoView{}, Links: s.links(key)}
	for _, p := range q.Photos {
		one := photoView{N: p.N, Reasons: []measure.Reason{}, Advice: []string{}}
		for _, f := range d.Findings {
			if f.PhotoN == p.N {
				one.Status = f.Result.Status
				for _, reason := range f.Result.RetakeReasons {
					one.Reasons = append(one.Reasons, reason)
					one.Advice = append(one.Advice, reason.Advice())
				}
			}
		}
		v.Photos = append(v.Photos, one)
	}
	if p := d.Proposal; p != nil && p.Best.Height.Known() {
		v.Findings = newFindings(p.Best)
	}
	switch q.Status {
	case quote.NeedsAnswer:
		v.Question = &questionView{Text: q.Question}
		if p := d.Proposal; p != nil && p.Question != nil && p.Question.Text == q.Question {
			v.Question.Where = p.Question.Where
		}
	case quote.NeedsPhoto:
		v.Message = q.Question
	case quote.Declined:
		for _, e := range d.Events {
			if e.To == quote.Declined {
				v.Message = e.Text
			}
		}
	}
	if len(d.Quotes) > 0 && (q.Status == quote.Quoted || q.Status == quote.Won || q.Status == quote.Lost) {
		v.Quote = &d.Quotes[0]
		if v.Expired = q.Status == quote.Quoted && v.Quote.Expired(s.Now()); v.Expired {
			v.Now, v.Next = expiredWords.Now, expiredWords.Next
		}
	}
	return v
}

func (s *server) postInquiry(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if once := r.Header.Get("Idempotency-Key"); once != "" {
		f.Once = once
	}
	source := quote.FromAPI
	if r.Header.Get("X-Form") != "" { // the customer's form, sent by its script
		source = quote.FromWeb
	}
	receipt, err := s.receive(r, f, source)
	if err != nil {
		return err
	}
	status := http.StatusCreated
	if receipt.Again {
		status = http.StatusOK
	}
	read := readings.Inquiry(f.Readings, f.Wanted)
	a := receiptAnswer{ID: receipt.Inquiry.ID, Key: receipt.Key, Status: receipt.Inquiry.Status, Again: receipt.Again,
		Readings: read, Notes: notesOn(f.Readings, read), Links: s.links(receipt.Key)}
	w.Header().Set("Location", a.Links.Self)
	return writeJSON(w, status, a)
}

// notesOn says what could not be read.
func notesOn(text string, read measure.Readings) []string {
	notes := []string{}
	for _, u := range missedSizes(text, read) {
		notes = append(notes, u.String()+" It is kept, and the counter sees it. Sizes are best typed like 3 1/2 x 3 1/2 in, or 89 mm.")
	}
	return notes
}

// receive checks a form and hands it to the desk.
func (s *server) receive(r *http.Request, f *form, source quote.Source) (quote.Receipt, error) {
	if len(f.Once) > 200 {
		return quote.Receipt{}, badField("once", "Keep the Idempotency-Key to 200 letters.")
	}
	sub := f.submission(source, s.doorman)
	if err := f.fault(); err != nil {
		return quote.Receipt{}, err
	}
	return s.desk.Receive(r.Context(), sub)
}

// own is the dossier behind the key of the address. A wrong key is like no page at all.
func (s *server) own(r *http.Request) (quote.Dossier, string, error) {
	key := r.PathValue("key")
	if len(key) > 200 {
		return quote.Dossier{}, key, errNoSuchPage
	}
	d, err := s.desk.ByKey(r.Context(), key)
	return d, key, err
}

func (s *server) getInquiry(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, s.newOwnView(d, key))
}

func (s *server) postAddition(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if err := s.add(r, d, f, quote.ByCustomer, ""); err != nil {
		return err
	}
	if d, err = s.desk.ByKey(r.Context(), key); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, s.newOwnView(d, key))
}

// add puts a form's photos and text to an inquiry.
func (s *server) add(r *http.Request, d quote.Dossier, f *form, by quote.Role, who string) error {
	photos := f.admit(s.doorman)
	if len(f.uploads) == 0 && f.Readings == "" && len(f.Errors) == 0 {
		f.wrong("photo", "no_photo", "Add a photo, or write something.")
	}
	if n := len(d.Inquiry.Photos) + len(photos); n > quote.MaxInquiryPhotos {
		f.wrong("photo", "too_many_photos", fmt.Sprintf("This question has %d photos already, which is all that it can take.", len(d.Inquiry.Photos)))
	}
	if err := f.fault(); err != nil {
		return err
	}
	_, err := s.desk.Add(r.Context(), d.Inquiry.ID, by, who, photos, f.Readings, "")
	return err
}

func (s *server) postDecision(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	var in decision
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	if in.Take == nil {
		return badField("take", "Say whether the quote is taken: true or false.")
	}
	if err := s.desk.Decide(r.Context(), d.Inquiry.ID, quote.ByCustomer, "", quote.Decision{Quote: in.Quote, Won: *in.Take, Why: in.Why}); err != nil {
		return err
	}
	if d, err = s.desk.ByKey(r.Context(), key); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, s.newOwnView(d, key))
}

// decision is whether a quote was taken.
type decision struct {
	Take  *bool  `json:"take"`
	Why   string `json:"why"`
	Quote string `json:"quote,omitempty"` // number of the one that was seen; a replaced one is refused
}

func (s *server) postWithdrawal(w http.ResponseWriter, r *http.Request) error {
	d, key, err := s.own(r)
	if err != nil {
		return err
	}
	if err := s.desk.Withdraw(r.Context(), d.Inquiry.ID, quote.ByCustomer, ""); err != nil {
		return err
	}
	if d, err = s.desk.ByKey(r.Context(), key); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, s.newOwnView(d, key))
}

var errNoQuote = &fault{status: http.StatusNotFound, code: "not_found", detail: "There is no quote yet."}

func (s *server) ownQuote(r *http.Request) (quote.Quote, error) {
	d, key, err := s.own(r)
	if err != nil {
		return quote.Quote{}, err
	}
	v := s.newOwnView(d, key)
	if v.Quote == nil {
		return quote.Quote{}, errNoQuote
	}
	return *v.Quote, nil
}

func (s *server) getOwnQuote(w http.ResponseWriter, r *http.Request) error {
	q, err := s.ownQuote(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, q)
}

func (s *server) ownQuotePDF(w http.ResponseWriter, r *http.Request) error {
	q, err := s.ownQuote(r)
	if err != nil {
		return err
	}
	return s.sendPDF(w, q)
}

func (s *server) sendPDF(w http.ResponseWriter, q quote.Quote) error {
	b, err := paper.PDF(q, s.Terms)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`inline; filename="quote-%s.pdf"`, plainName(q.Number)))
	w.Write(b)
	return nil
}

// plainName keeps letters, digits and dashes.
func plainName(s string) string {
	b := []rune(s)
	for i, r := range b {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-') {
			b[i] = '-'
		}
	}
	return string(b)
}

func (s *server) getDoor(w http.ResponseWriter, r *http.Request) error {
	f, d := doorQuery(r)
	if err := f.fault(); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, doorAnswer{catalog.AnswerDoor(d), d, catalog.AdviseDoor(d, catalog.Job{})})
}

type doorAnswer struct {
	Answer string           `json:"answer"` // in one line
	Door   catalog.Door     `json:"door"`
	Advice []catalog.Advice `json:"advice"`
}

// doorQuery reads a door from the query, by the same names as the form's. A parameter of another
// name, or given twice, is an error.
func doorQuery(r *http.Request) (*form, catalog.Door) {
	f := &form{}
	fields := f.fields()
	query := r.URL.Query()
	for _, name := range slices.Sorted(maps.Keys(query)) {
		switch to := fields[name]; {
		case to == nil || !strings.HasPrefix(name, doorPrefix):
			f.unknown("parameter", name)
		case len(query[name]) > 1:
			f.wrong(name, "field", fmt.Sprintf("%s is given %d times: give it once.", spoken(name), len(query[name])))
		default:
			f.set(name, to, query.Get(name))
		}
	}
	return f, f.door()
}
