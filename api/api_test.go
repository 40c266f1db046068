package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"leafgauge/intake"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// A bench is a server on a fake desk, and a client.
type bench struct {
	t       *testing.T
	desk    *fakeDesk
	handler http.Handler
	cookie  string
	token   string
}

func newBench(t *testing.T) *bench {
	desk := newFakeDesk()
	return &bench{t: t, desk: desk, handler: New(desk, intake.Doorman{}, Options{
		Terms: quote.Terms{Shop: "Elm Street Hardware", Currency: "USD", TaxRate: "8.25", BaseURL: "http://shop.test"},
		Now:   desk.clock, SessionKey: []byte("a key for tests"),
	})}
}

func (b *bench) do(r *http.Request) *httptest.ResponseRecorder {
	b.t.Helper()
	if b.cookie != "" {
		r.AddCookie(&http.Cookie{Name: sessionCookie, Value: b.cookie})
	}
	if b.token != "" {
		r.Header.Set("Authorization", "Bearer "+b.token)
	}
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	return w
}

func (b *bench) get(path string) *httptest.ResponseRecorder {
	b.t.Helper()
	return b.do(httptest.NewRequest("GET", path, nil))
}

func (b *bench) post(path, kind, body string) *httptest.ResponseRecorder {
	b.t.Helper()
	r := httptest.NewRequest("POST", path, strings.NewReader(body))
	r.Header.Set("Content-Type", kind)
	return b.do(r)
}

const (
	asJSON = "application/json"
	asForm = "application/x-www-form-urlencoded"
)

// A part is one field of a form; one with a file name is a photo.
type part struct {
	name, file string
	data       []byte
}

func field(name, text string) part { return part{name: name, data: []byte(text)} }

// form builds a multipart body.
func (b *bench) form(path string, parts ...part) *http.Request {
	b.t.Helper()
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	for _, p := range parts {
		var w io.Writer
		var err error
		if p.file != "" {
			w, err = m.CreateFormFile(p.name, p.file)
		} else {
			w, err = m.CreateFormField(p.name)
		}
		require.NoError(b.t, err)
		_, err = w.Write(p.data)
		require.NoError(b.t, err)
	}
	require.NoError(b.t, m.Close())
	r := httptest.NewRequest("POST", path, &body)
	r.Header.Set("Content-Type", m.FormDataContentType())
	return r
}

func (b *bench) photo() part { return part{"photo", "hinge.jpg", photoFile(b.t)} }

// ask sends a good inquiry and returns its key.
func (b *bench) ask() string {
	b.t.Helper()
	w := b.do(b.form("/api/v1/inquiries", b.photo(), field("readings", "3 1/2 x 1 3/4 in, about three and a bit"),
		field("name", "Ana Sutter"), field("email", "ana@example.org"), field("wanted_count", "3")))
	require.Equal(b.t, http.StatusCreated, w.Code, w.Body)
	return decode[receiptAnswer](b.t, w).Key
}

func (b *bench) signIn(name, password string) {
	b.t.Helper()
	w := b.post("/api/v1/sign-in", asJSON, `{"name":"`+name+`","password":"`+password+`"}`)
	require.Equal(b.t, http.StatusOK, w.Code, w.Body)
	b.token = decode[signInAnswer](b.t, w).Token
}

func decode[T any](t *testing.T, w *httptest.ResponseRecorder) T {
	t.Helper()
	var v T
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &v), w.Body.String())
	return v
}

// RFC 9457: the media type, and the members type, title, status and detail.
func requireProblem(t *testing.T, w *httptest.ResponseRecorder, status int, code string) problem {
	t.Helper()
	require.Equal(t, status, w.Code, w.Body.String())
	require.Equal(t, "application/problem+json", w.Header().Get("Content-Type"))
	p := decode[problem](t, w)
	require.Equal(t, code, p.Code, p.Detail)
	require.Equal(t, status, p.Status)
	require.Equal(t, "/problems#"+code, p.Type)
	require.NotEmpty(t, p.Title)
	require.NotEmpty(t, p.Detail)
	return p
}

func TestInquiryByAPI(t *testing.T) {
	b := newBench(t)
	r := b.form("/api/v1/inquiries", b.photo(), part{"photo", "second.jpg", photoFile(t)},
		field("readings", "3 1/2 x 3 1/2 in"), field("name", "Ana Sutter"), field("email", "ana@example.org"),
		field("door_width", "32 in"), field("door_height", "2032 mm"), field("door_thickness", "1 3/8"), field("door_count", "2"), field("door_fire_rated", "yes"),
		field("wanted", "satin nickel please"), field("wanted_count", "6"), field("wanted_bearing", "ball"))
	r.Header.Set("Idempotency-Key", "once-7")
	w := b.do(r)
	require.Equal(t, http.StatusCreated, w.Code, w.Body)
	got := decode[receiptAnswer](t, w)
	require.Equal(t, quote.ID(1), got.ID)
	require.Equal(t, "http://shop.test/i/"+got.Key, got.Links.Page)
	require.Equal(t, got.Links.Self, w.Header().Get("Location"))

	q := b.desk.byID[1].Inquiry
	require.Len(t, q.Photos, 2)
	require.Equal(t, quote.FromAPI, q.Source)
	require.Equal(t, "3 1/2 x 3 1/2 in", q.Text)
	require.InDelta(t, 32*25.4, q.Door.Width.MM(), 1e-9) // an inch is 25.4 mm by definition
	require.InDelta(t, 2032, q.Door.Height.MM(), 1e-9)
	require.InDelta(t, 1.375*25.4, q.Door.Thickness.MM(), 1e-9)
	require.Equal(t, 2, q.Door.Count)
	require.True(t, q.Door.FireRated)
	require.Equal(t, 6, q.Wishes.Count)
	require.Equal(t, "ball", string(q.Wishes.Bearing))

	t.Run("the same key again makes nothing new", func(t *testing.T) {
		r := b.form("/api/v1/inquiries", b.photo(), field("email", "ana@example.org"))
		r.Header.Set("Idempotency-Key", "once-7")
		w := b.do(r)
		require.Equal(t, http.StatusOK, w.Code, w.Body)
		again := decode[receiptAnswer](t, w)
		require.True(t, again.Again)
		require.Equal(t, got.Key, again.Key)
		require.Len(t, b.desk.byID, 1)
	})
	t.Run("the customer's view", func(t *testing.T) {
		b.desk.ready(1, quote.NeedsAnswer)
		w := b.get(got.Links.Self)
		require.Equal(t, http.StatusOK, w.Code)
		v := decode[ownView](t, w)
		require.Equal(t, quote.NeedsAnswer, v.Status)
		require.Equal(t, "thickness", v.Question.Where)
		require.Equal(t, "3 1/2 x 3 1/2", v.Findings.Size)
		require.Equal(t, 3, v.Findings.Holes)
		require.Nil(t, v.Quote)
		require.NotContains(t, w.Body.String(), "events")
		require.Equal(t, "no-referrer", w.Header().Get("Referrer-Policy"))
		require.Equal(t, "no-store", w.Header().Get("Cache-Control"))
	})
	t.Run("a wrong key is like no inquiry", func(t *testing.T) {
		requireProblem(t, b.get("/api/v1/inquiries/nosuchkey"), http.StatusNotFound, "not_found")
	})
}

func TestUnreadableReadingIsKept(t *testing.T) {
	b := newBench(t)
	w := b.do(b.form("/api/v1/inquiries", b.photo(), field("readings", "about three and a bit"), field("email", "ana@example.org")))
	require.Equal(t, http.StatusCreated, w.Code, w.Body)
	require.Equal(t, "about three and a bit", b.desk.byID[1].Inquiry.Text)
	for _, note := range decode[receiptAnswer](t, w).Notes {
		require.Contains(t, note, "three and a bit")
	}
}

func TestCounterByAPI(t *testing.T) {
	b := newBench(t)
	key := b.ask()
	b.desk.ready(1, quote.Ready)
	requireProblem(t, b.get("/api/v1/counter/inquiries"), http.StatusUnauthorized, "sign_in")
	requireProblem(t, b.post("/api/v1/sign-in", asJSON, `{"name":"ruth","password":"wrong"}`), http.StatusUnauthorized, "wrong_sign_in")
	b.signIn("ruth", "brass screws")

	w := b.get("/api/v1/counter/inquiries?q=ana&status=ready&turn=counter&sort=newest&limit=10")
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	list := decode[listAnswer](t, w)
	require.Equal(t, 1, list.Total)
	require.Equal(t, "H-1041", list.Inquiries[0].Top)
	require.Zero(t, decode[listAnswer](t, b.get("/api/v1/counter/inquiries?q=nobody")).Total)

	d := decode[quote.Dossier](t, b.get("/api/v1/counter/inquiries/1"))
	require.Len(t, d.Proposal.Fits, 2)
	require.Len(t, d.Findings, 1)

	price := decode[quote.Quote](t, b.post("/api/v1/counter/inquiries/1/price", asJSON, `{"count":4,"each":"3.00"}`))
	require.Equal(t, "12.00", price.Net.Number())
	require.Equal(t, "0.99", price.Tax.Number()) // 8.25 % of 12.00
	require.Equal(t, "12.99", price.Total.Number())

	requireProblem(t, b.post("/api/v1/counter/inquiries/1/approve", asJSON, `{"version":1}`), http.StatusConflict, "changed")
	requireProblem(t, b.post("/api/v1/counter/inquiries/1/approve", asJSON, `{"version":3,"each":"cheap"}`), http.StatusUnprocessableEntity, "field")
	requireProblem(t, b.post("/api/v1/counter/inquiries/1/approve", asJSON, `{"version":3,"stock_number":"H-9"}`), http.StatusUnprocessableEntity, "field")
	w = b.post("/api/v1/counter/inquiries/1/note", asJSON, `{"message":"rang her"}`)
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	w = b.post("/api/v1/counter/inquiries/1/approve", asJSON, `{"version":4,"message":"See you Monday"}`)
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	d = decode[quote.Dossier](t, w)
	require.Equal(t, quote.Quoted, d.Inquiry.Status)
	require.Equal(t, "ruth", d.Quotes[0].By)
	require.Equal(t, 3, d.Quotes[0].Lines[0].Count, "the proposed count")

	requireProblem(t, b.post("/api/v1/counter/inquiries/1/ask", asJSON, `{"version":6,"message":"how thick?"}`), http.StatusConflict, "move")

	own := decode[ownView](t, b.get("/api/v1/inquiries/"+key))
	require.Equal(t, "See you Monday", own.Quote.Message)
	pdf := b.get("/api/v1/inquiries/" + key + "/quote.pdf")
	require.Equal(t, "application/pdf", pdf.Header().Get("Content-Type"))
	require.True(t, bytes.HasPrefix(pdf.Body.Bytes(), []byte("%PDF-")))

	w = b.post("/api/v1/inquiries/"+key+"/decision", asJSON, `{"take":true}`)
	require.Equal(t, quote.Won, decode[ownView](t, w).Status)
	requireProblem(t, b.post("/api/v1/inquiries/"+key+"/withdrawal", asJSON, ``), http.StatusConflict, "move")
}

func TestEveryActOfTheCounter(t *testing.T) {
	for _, tt := range []struct {
		act, body string
		want      quote.Status
	}{
		{"ask-photo", `{"version":3,"message":"from above, please"}`, quote.NeedsPhoto},
		{"ask", `{"version":3,"message":"how thick?"}`, quote.NeedsAnswer},
		{"decline", `{"version":3,"message":"we do not carry these"}`, quote.Declined},
		{"withdraw", `{"version":3}`, quote.Withdrawn},
		{"overrule", `{"version":3,"slip":"open_width:leaf_width","overrule":true}`, quote.Measuring},
		{"approve", `{"version":3}`, quote.Quoted},
	} {
		t.Run(tt.act, func(t *testing.T) {
			b := newBench(t)
			b.ask()
			b.desk.ready(1, quote.Ready)
			b.signIn("ruth", "brass screws")
			w := b.post("/api/v1/counter/inquiries/1/"+tt.act, asJSON, tt.body)
			require.Equal(t, http.StatusOK, w.Code, w.Body)
			require.Equal(t, tt.want, decode[quote.Dossier](t, w).Inquiry.Status)
			events := b.desk.byID[1].Events
			require.Equal(t, "ruth", events[2].Who)
		})
	}
}

func TestOutage(t *testing.T) {
	b := newBench(t)
	b.desk.down = errors.New("database: connection refused at 10.0.0.3")
	w := b.do(b.form("/api/v1/inquiries", b.photo(), field("email", "ana@example.org")))
	p := requireProblem(t, w, http.StatusInternalServerError, "internal")
	require.NotContains(t, p.Detail, "10.0.0.3")
}

func TestSessions(t *testing.T) {
	b := newBench(t)
	b.signIn("ruth", "brass screws")
	good := b.token
	t.Run("a changed token is refused", func(t *testing.T) {
		b.token = strings.Replace(good, good[:4], "eyJh", 1) + "A"
		requireProblem(t, b.get("/api/v1/counter/stock"), http.StatusUnauthorized, "sign_in")
	})
	t.Run("an old one too", func(t *testing.T) {
		b.token = good
		require.Equal(t, http.StatusOK, b.get("/api/v1/counter/stock").Code)
		b.desk.now = b.desk.now.Add(sessionLength)
		requireProblem(t, b.get("/api/v1/counter/stock"), http.StatusUnauthorized, "sign_in")
	})
	t.Run("only the owner sees the figures", func(t *testing.T) {
		b := newBench(t)
		b.signIn("ruth", "brass screws")
		requireProblem(t, b.get("/api/v1/counter/figures"), http.StatusForbidden, "owner_only")
		b.signIn("olive", "oak doors")
		b.ask()
		b.desk.ready(1, quote.Ready)
		f := decode[figures](t, b.get("/api/v1/counter/figures"))
		require.Equal(t, 1, f.Open)
		require.Equal(t, 1, f.Measured)
		require.Equal(t, 1, f.Waiting[quote.ByCounter])
	})
	t.Run("guessing is held back", func(t *testing.T) {
		b := newBench(t)
		var last *httptest.ResponseRecorder
		for range 11 {
			last = b.post("/api/v1/sign-in", asJSON, `{"name":"ruth","password":"guess"}`)
		}
		requireProblem(t, last, http.StatusTooManyRequests, "too_many_posts")
		require.NotEmpty(t, last.Header().Get("Retry-After"))
	})
}

func TestPostsAreLimitedPerAddress(t *testing.T) {
	desk := newFakeDesk()
	h := New(desk, intake.Doorman{}, Options{Now: desk.clock, PostBurst: 2, PostsPerSecond: 1})
	send := func(from string) int {
		r := httptest.NewRequest("POST", "/api/v1/inquiries", nil)
		r.RemoteAddr = from
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code
	}
	require.Equal(t, http.StatusUnsupportedMediaType, send("192.0.2.1:1000"))
	require.Equal(t, http.StatusUnsupportedMediaType, send("192.0.2.1:1001"))
	require.Equal(t, http.StatusTooManyRequests, send("192.0.2.1:1002"))
	require.Equal(t, http.StatusUnsupportedMediaType, send("192.0.2.2:1003"), "another address is free")
	require.Equal(t, http.StatusUnsupportedMediaType, send("[2001:db8::1]:1"))
	require.Equal(t, http.StatusUnsupportedMediaType, send("[2001:db8::2]:1"))
	require.Equal(t, http.StatusTooManyRequests, send("[2001:db8::3]:1"), "one IPv6 network is one sender")
	desk.now = desk.now.Add(time.Second)
	require.Equal(t, http.StatusUnsupportedMediaType, send("192.0.2.1:1004"), "a second later there is room for one")
}

func TestHeaders(t *testing.T) {
	b := newBench(t)
	w := b.get("/")
	csp := w.Header().Get("Content-Security-Policy")
	require.Contains(t, csp, "default-src 'none'")
	require.NotContains(t, csp, "http")
	require.NotContains(t, csp, "unsafe")
	require.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"))

	t.Run("a form sent from another site is refused", func(t *testing.T) {
		r := httptest.NewRequest("POST", "/counter/sign-out", nil)
		r.Header.Set("Sec-Fetch-Site", "cross-site")
		w := b.do(r)
		require.Equal(t, http.StatusForbidden, w.Code)
		require.Contains(t, w.Body.String(), "from another site")
		r = httptest.NewRequest("POST", "/api/v1/sign-in", strings.NewReader("{}"))
		r.Header.Set("Origin", "https://evil.example")
		requireProblem(t, b.do(r), http.StatusForbidden, "cross_origin")
	})
	t.Run("a customer's own link may post without an origin", func(t *testing.T) {
		key := b.ask()
		r := httptest.NewRequest("POST", "/i/"+key+"/withdraw", nil)
		r.Header.Set("Origin", "null") // what a browser sends from a page with no-referrer
		require.Equal(t, http.StatusSeeOther, b.do(r).Code)
	})
	t.Run("the session cookie is for this site's pages only", func(t *testing.T) {
		w := b.post("/counter/sign-in", asForm, "name=ruth&password=brass+screws&to=//evil.test/x")
		require.Equal(t, http.StatusSeeOther, w.Code)
		require.Equal(t, "/counter/", w.Header().Get("Location"))
		c := w.Result().Cookies()[0]
		require.True(t, c.HttpOnly)
		require.Equal(t, http.SameSiteLaxMode, c.SameSite)
	})
}

func TestHealthAndMetrics(t *testing.T) {
	desk := newFakeDesk()
	broken := errors.New("redis is away")
	h := New(desk, intake.Doorman{}, Options{Ready: func(context.Context) error { return broken }})
	get := func(path, from string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("GET", path, nil)
		r.RemoteAddr = from
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	require.Equal(t, "ok\n", get("/healthz", "192.0.2.1:1").Body.String())
	requireProblem(t, get("/readyz", "192.0.2.1:1"), http.StatusServiceUnavailable, "not_ready")
	broken = nil
	require.Equal(t, http.StatusOK, get("/readyz", "192.0.2.1:1").Code)
	require.Contains(t, get("/metrics", "127.0.0.1:1").Body.String(), `leafgauge_http_requests_total{route="GET /readyz",status="503"} 1`)
	require.Equal(t, http.StatusNotFound, get("/metrics", "192.0.2.1:1").Code, "figures are for the machine's own network")
}

func TestNoSuchAddress(t *testing.T) {
	b := newBench(t)
	requireProblem(t, b.get("/api/v1/nothing"), http.StatusNotFound, "not_found")
	w := b.get("/nothing")
	require.Equal(t, http.StatusNotFound, w.Code)
	require.Contains(t, w.Body.String(), "That did not work")
	p := requireProblem(t, b.do(httptest.NewRequest("DELETE", "/api/v1/inquiries/k", nil)), http.StatusMethodNotAllowed, "method")
	require.Contains(t, p.Detail, "GET")
}
