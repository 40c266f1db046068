package api

import (
	"encoding/json"
	"image"
	"image/jpeg"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// signInPages signs in as the pages do, by cookie.
func (b *bench) signInPages(name, password string) {
	b.t.Helper()
	w := b.post("/counter/sign-in", asForm, url.Values{"name": {name}, "password": {password}}.Encode())
	require.Equal(b.t, http.StatusSeeOther, w.Code)
	b.cookie = w.Result().Cookies()[0].Value
}

func TestCustomersPath(t *testing.T) {
	b := newBench(t)
	once := attr(parse(t, b.get("/")).all("input[name=once]")[0], "value")
	require.NotEmpty(t, once)
	send := func() string {
		w := b.do(b.form("/", b.photo(), field("once", once), field("readings", "3 1/2 x 3 1/2 in"), field("email", "ana@example.org"), field("door_width", "32")))
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		return w.Header().Get("Location")
	}
	link := send()
	require.Equal(t, link, send(), "pressing the button twice asks once")
	require.Equal(t, quote.FromWeb, b.desk.byID[1].Inquiry.Source)

	require.Equal(t, "We have your question", parse(t, b.get(link)).text("h1"))
	require.Len(t, parse(t, b.get(link)).all("img"), 1)

	t.Run("a photo is asked for again with the reasons as things to do", func(t *testing.T) {
		b.desk.ready(1, quote.NeedsPhoto)
		page := parse(t, b.get(link))
		require.Len(t, page.texts("ul.todo li"), 2)
		require.NotContains(t, page.text("main"), "What we measured", "nothing was: no typed size is passed off as measured")
		w := b.do(b.form(link+"/add", b.photo()))
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		require.Len(t, b.desk.byID[1].Inquiry.Photos, 2)
		w = b.do(b.form(link+"/add", part{"photo", "x.jpg", []byte("no picture")}, field("text", "it is brass")))
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		require.Equal(t, "it is brass", parse(t, w).text("textarea#text"), "what was typed is kept")
	})
	t.Run("a photo that could not be measured is explained where sizes were typed, too", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.ready(1, quote.Ready)
		b.desk.byID[1].Findings[0].Result = measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.TooDark}}
		require.Contains(t, parse(t, b.get(link)).text("figcaption"), "Photo 1: could not be measured. "+measure.TooDark.Advice())
		require.Contains(t, parse(t, b.get(link)).text("dl.facts"), "3.502 in (88.94 mm)", "typed sizes are in both units, too")
	})
	t.Run("the same picture is said to be one", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.event(b.desk.byID[1], quote.ByCustomer, "", quote.SentAgain, "The same picture came twice: it is one picture, and is used once.", quote.Received)
		require.Contains(t, parse(t, b.get(link)).text("main"), "it is one picture")
	})
	t.Run("and for the first time where none came", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.ready(1, quote.NeedsPhoto)
		b.desk.byID[1].Inquiry.Photos = nil
		page := parse(t, b.get(link))
		require.Equal(t, "We need a photo", page.text("h1"))
		require.Equal(t, "How to take it", page.text("#h-retake"))
		require.Contains(t, page.texts("button"), "Send the photo")
	})
	t.Run("words that are no size are no failure to read one", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.byID[1].Inquiry.Text = "3 1/2 x 3 1/2 in, lovely weather, about 7 somethings"
		page := parse(t, b.get(link))
		require.Contains(t, page.text("main"), "We could not read a size in “7”")
		require.NotContains(t, page.text("main"), "in “lovely weather")
	})
	t.Run("nor are a count and a telephone's number, and a reason is not the customer's word", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.byID[1].Inquiry.Text = "3 1/2 x 3 1/2 in, 1 door, call me on 555-0134. Leaf thickness 90 in"
		page := parse(t, b.get(link)).text("main")
		require.NotContains(t, page, "could not read")
		require.Contains(t, page, "We did not use “90 in”: thickness can't be 2286 mm")
		b.desk.ready(1, quote.Ready)
		b.desk.byID[1].Proposal.Readings.Unread = []string{"90 in: thickness can't be 2286 mm"}
		b.signInPages("ruth", "brass screws")
		require.Contains(t, parse(t, b.get("/counter/inquiries/1")).text(".unread"), "“90 in” (thickness can't be 2286 mm)")
	})
	t.Run("a door's size is refused with its limits, and a bare number is inches", func(t *testing.T) {
		b := newBench(t)
		send := func(height string) doc {
			return parse(t, b.do(b.form("/", b.photo(), field("email", "ana@example.org"), field("door_height", height))))
		}
		require.Contains(t, send("5 in").text("main"), "The door's height is “5 in”, read as 5 in (127.0 mm). It must lie between 12 in (305 mm) and 240 in (6096 mm)")
		w := b.do(b.form("/", b.photo(), field("email", "ana@example.org"), field("door_height", "32")))
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		require.Equal(t, 32*measure.Inch, b.desk.byID[1].Inquiry.Door.Height)
	})
	t.Run("what does not agree is said until the quote says it", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.ready(1, quote.Ready)
		b.desk.byID[1].Proposal.Best.Disagreements = []measure.Disagreement{{Quantity: measure.QHeight, Slip: measure.SlipOtherHinge, Sentence: "typed 6 in; the photo says 4 in high"}}
		require.Contains(t, parse(t, b.get(link)).text("main"), "Typed 6 in; the photo says 4 in high.")
		b.desk.byID[1].Proposal.Best.Disagreements[0].Overrule = true
		require.NotContains(t, parse(t, b.get(link)).text("main"), "does not agree")
	})
	t.Run("what was read is played back", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.byID[1].Inquiry.Text = "3 1/2 in high, radius 5/8 in corners, front door by the sea"
		b.desk.byID[1].Inquiry.Wishes = catalog.Wishes{Count: 3, Finish: "brass"}
		require.Contains(t, parse(t, b.get(link)).text("main"),
			"We understood: height 3 1/2 in (88.9 mm), corner radius 5/8 in (15.9 mm), outside door, near the sea, 3 hinges wanted, brass.")
	})
	t.Run("what was ticked and what is wanted too", func(t *testing.T) {
		b := newBench(t)
		w := b.do(b.form("/", b.photo(), field("readings", "3 1/2 in high"), field("email", "ana@example.org"), field("door_width", "32"), field("door_height", "80"),
			field("door_weight", "90"), field("door_closer", "yes"), field("door_fire_rated", "yes"), field("wanted", "to match the old ones"), field("wanted_count", "3")))
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		page := parse(t, b.get(w.Header().Get("Location"))).text("main")
		require.Contains(t, page, "You wrote: 3 1/2 in high What you want: to match the old ones")
		require.Contains(t, page, "We understood: height 3 1/2 in (88.9 mm), door width 32 in (813 mm), door height 80 in (2032 mm), door weight 90 kg (198 lb), with a closer, fire-rated, 3 hinges wanted.")
	})
	t.Run("which of two hinges is no question of hinges that look alike", func(t *testing.T) {
		b := newBench(t)
		link := "/i/" + b.ask()
		b.desk.ready(1, quote.NeedsAnswer)
		require.Contains(t, parse(t, b.get(link)).text(".lead"), "look alike")
		b.desk.byID[1].Proposal.Best.Apart = [][]int{{1}, {2}}
		require.NotContains(t, parse(t, b.get(link)).text(".lead"), "look alike")
	})
	t.Run("a question comes with a drawing of where to measure", func(t *testing.T) {
		b.desk.ready(1, quote.NeedsAnswer)
		page := parse(t, b.get(link))
		require.Contains(t, page.text("p.said"), "How thick is one leaf?")
		require.Len(t, page.all("figure.drawing svg"), 1)
		w := b.do(b.form(link+"/add", field("text", "0.086 in")))
		require.Equal(t, http.StatusSeeOther, w.Code)
		require.Contains(t, b.desk.byID[1].Inquiry.Text, "0.086 in")
	})
	t.Run("a quote can be taken", func(t *testing.T) {
		b.desk.ready(1, quote.Ready)
		_, err := b.desk.Approve(t.Context(), 1, b.desk.byID[1].Inquiry.Version, "ruth", quote.Approval{StockNumber: "H-1041", Count: 4})
		require.NoError(t, err)
		page := parse(t, b.get(link))
		require.Contains(t, page.text("table.money tfoot"), "$14.72")
		require.Contains(t, page.text(".cautions"), "Wedge the door")
		require.NotContains(t, page.text("main"), "ruth", "the counter's names stay inside")
		w := b.post(link+"/decide", asForm, "take=perhaps")
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		w = b.post(link+"/decide", asForm, "take=yes")
		require.Equal(t, http.StatusSeeOther, w.Code)
		require.Equal(t, quote.Won, b.desk.byID[1].Inquiry.Status)
		require.Equal(t, "You took the quote", parse(t, b.get(link)).text("h1"))
	})
	t.Run("one whose day is over cannot, and says so", func(t *testing.T) {
		b := newBench(t)
		key := b.ask()
		b.desk.ready(1, quote.Ready)
		_, err := b.desk.Approve(t.Context(), 1, b.desk.byID[1].Inquiry.Version, "ruth", quote.Approval{StockNumber: "H-1041", Count: 4})
		require.NoError(t, err)
		require.Contains(t, parse(t, b.get("/i/"+key)).texts("button"), "Take this quote")
		b.desk.now = b.desk.now.AddDate(0, 2, 0)
		page := parse(t, b.get("/i/"+key))
		require.Equal(t, "Your quote has run out", page.text("h1"))
		require.Contains(t, page.text(".lead"), "It cannot be taken any more as it is.")
		require.Contains(t, page.text("section.quote"), "It was good until 1 April 2026.")
		require.NotContains(t, page.texts("button"), "Take this quote")
		require.Contains(t, page.texts("button"), "Do not take it")
		own := decode[ownView](t, b.get("/api/v1/inquiries/"+key))
		require.True(t, own.Expired)
		requireProblem(t, b.post("/api/v1/inquiries/"+key+"/decision", asJSON, `{"take":true}`), http.StatusConflict, "quote_expired")
		w := b.post("/i/"+key+"/decide", asForm, "take=yes&quote=Q-1-1")
		require.Equal(t, http.StatusConflict, w.Code)
		require.Contains(t, parse(t, w).text(".wrong li"), "once the counter has extended it")

		b.signInPages("ruth", "brass screws")
		page = parse(t, b.get("/counter/inquiries/1"))
		require.Contains(t, page.text("main"), "has run out: it was good until 1 April 2026")
		for _, bad := range []string{"soon", "2026-02-30"} {
			w = b.post("/counter/inquiries/1", asForm, url.Values{"act": {"extend"}, "version": {"5"}, "valid_until": {bad}, "message": {"still here"}}.Encode())
			require.Equal(t, http.StatusUnprocessableEntity, w.Code)
			page = parse(t, w)
			require.Contains(t, page.text(".wrong"), "“"+bad+"” is no day. Write it like 2026-04-30.")
			require.Equal(t, "still here", page.text("textarea#m-extend"))
			require.Equal(t, bad, attr(page.all("input#valid_until")[0], "value"))
		}
		w = b.post("/counter/inquiries/1", asForm, "act=extend&version=5&valid_until=2026-06-30")
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		require.Contains(t, parse(t, b.get(w.Header().Get("Location"))).text(".notice"), "Extended")
		require.Equal(t, http.StatusSeeOther, b.post("/i/"+key+"/decide", asForm, "take=yes&quote=Q-1-1").Code)
	})
	t.Run("one that was replaced cannot", func(t *testing.T) {
		b := newBench(t)
		key := b.ask()
		b.desk.ready(1, quote.Ready)
		b.signIn("ruth", "brass screws")
		require.Equal(t, http.StatusOK, b.post("/api/v1/counter/inquiries/1/approve", asJSON, `{"version":3}`).Code)
		require.Equal(t, "Q-1-1", attr(parse(t, b.get("/i/"+key)).all("form.row input[name=quote]")[0], "value"))
		require.Equal(t, http.StatusOK, b.post("/api/v1/counter/inquiries/1/revise", asJSON, `{"version":5,"count":6}`).Code)
		w := b.post("/i/"+key+"/decide", asForm, "take=yes&quote=Q-1-1")
		require.Equal(t, http.StatusConflict, w.Code)
		page := parse(t, w)
		require.Contains(t, page.text(".wrong li"), "A newer quote stands in place of that one.")
		require.Equal(t, "Q-1-2", attr(page.all("form.row input[name=quote]")[0], "value"), "and the newer one is shown")
		requireProblem(t, b.post("/api/v1/inquiries/"+key+"/decision", asJSON, `{"take":false,"quote":"Q-1-1"}`), http.StatusConflict, "quote_replaced")
		require.Equal(t, http.StatusOK, b.post("/api/v1/inquiries/"+key+"/decision", asJSON, `{"take":true,"quote":"Q-1-2"}`).Code)
	})
	t.Run("a step that is not possible any more is said on the page", func(t *testing.T) {
		w := b.post(link+"/withdraw", asForm, "")
		require.Equal(t, http.StatusConflict, w.Code)
		require.Contains(t, parse(t, w).text(".wrong li"), "has moved on")
	})
}

func TestCounterPages(t *testing.T) {
	b := newBench(t)
	w := b.get("/counter/inquiries/1")
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/counter/sign-in?to=%2Fcounter%2Finquiries%2F1", w.Header().Get("Location"))
	w = b.post("/counter/sign-in", asForm, "name=ruth&password=guess")
	require.Equal(t, http.StatusUnauthorized, w.Code)
	require.Contains(t, parse(t, w).text(".wrong"), "Name or password is wrong")

	b.ask()
	b.desk.ready(1, quote.Ready)
	b.signInPages("ruth", "brass screws")
	queue := parse(t, b.get("/counter/"))
	require.Equal(t, "To check", queue.text(".state"))
	require.Contains(t, queue.text("tr.mine"), "3½ × 3½ in")
	require.Contains(t, queue.text("tr.mine"), "drops in, 94 %")
	require.Contains(t, parse(t, b.get("/counter/?q=nobody")).text("main"), "Nothing found")
	require.Contains(t, parse(t, b.get("/counter/?page=9")).text("main"), "nothing on this page")
	require.Equal(t, http.StatusUnprocessableEntity, b.get("/counter/?sort=size").Code)

	page := parse(t, b.get("/counter/inquiries/1"))
	require.Contains(t, page.text("table.sizes"), "3.502 in ± 0.006") // 88.94 ± 1.96 × 0.08 mm
	require.Contains(t, page.text("table.sizes"), "88.94 ± 0.16 mm")
	require.Contains(t, page.texts("table.sizes th"), "B3", "holes are named as on the photo")
	require.Contains(t, page.text(".slip"), "Typed 1¾ wide; that is one leaf")
	require.Len(t, page.all("article.fit figure svg"), 2)
	require.Contains(t, page.text("section.acts table.money"), "$11.04") // 3 × 3.40 and 8.25 % tax
	require.Contains(t, page.text(".unread"), "about three and a bit")

	t.Run("a price is worked out before it is said", func(t *testing.T) {
		w := b.post("/counter/inquiries/1", asForm, "act=price&version=3&stock_number=H-1077&count=10&each=3.00&message=hello")
		require.Equal(t, http.StatusOK, w.Code)
		page := parse(t, w)
		require.Contains(t, page.text("section.acts table.money"), "$32.48") // 30.00 and 8.25 % tax of it, 2.475
		require.Equal(t, "hello", page.text("textarea#m-approve"))
		require.Equal(t, quote.Ready, b.desk.byID[1].Inquiry.Status)
	})
	t.Run("what was typed survives a mistake", func(t *testing.T) {
		w := b.post("/counter/inquiries/1", asForm, "act=approve&version=3&count=many&message=hello")
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		require.Equal(t, "hello", parse(t, w).text("textarea#m-approve"))
		w = b.post("/counter/inquiries/1", asForm, "act=decline&version=3&message=")
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		require.Contains(t, parse(t, w).text(".wrong"), "Write why")
	})
	t.Run("and somebody else's change", func(t *testing.T) {
		w := b.post("/counter/inquiries/1", asForm, "act=ask&version=2&message=how+thick%3F")
		require.Equal(t, http.StatusConflict, w.Code)
		require.Equal(t, "how thick?", parse(t, w).text("textarea#m-ask"))
	})
	t.Run("what a customer brings is added", func(t *testing.T) {
		w := b.do(b.form("/counter/inquiries/1/add", part{"photo", "x.jpg", []byte("no picture")}, field("text", "0.086 thick")))
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		require.Equal(t, "0.086 thick", parse(t, w).text("textarea#m-add"))
		w = b.do(b.form("/counter/inquiries/1/add", b.photo(), field("text", "0.086 thick")))
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		require.Len(t, b.desk.byID[1].Inquiry.Photos, 2)
		b.desk.ready(1, quote.Ready)
		page = parse(t, b.get("/counter/inquiries/1"))
	})
	t.Run("what speaks against a quick approval is said and takes the button's weight", func(t *testing.T) {
		first := &b.desk.byID[1].Proposal.Fits[0]
		page := parse(t, b.get("/counter/inquiries/1"))
		require.Contains(t, page.text("form.short"), "Typed and photo disagree")
		require.Empty(t, page.all("form.short button"), "it asks for a decision")
		b.desk.byID[1].Proposal.Best.Disagreements = nil
		require.Empty(t, parse(t, b.get("/counter/inquiries/1")).all("form.short button.quiet"))
		first.Warnings = []string{"Fire-rated opening: keep to the terms of its label.", "Undersized for this door: it asks for 4 1/2 in hinges."}
		page = parse(t, b.get("/counter/inquiries/1"))
		require.Equal(t, []string{"Note: Fire-rated opening: keep to the terms of its label.", "Note: Undersized for this door: it asks for 4½ in hinges."}, page.texts("form.short li"))
		require.Len(t, page.all("form.short button.quiet"), 1)
		first.Warnings = nil
		b.desk.byID[1].Proposal.Counted = catalog.HingeCount{Told: 3, ByDoors: 21}
		page = parse(t, b.get("/counter/inquiries/1"))
		require.Equal(t, []string{"3 hinges asked for, 21 by the doors: ask which is meant."}, page.texts("form.short li"))
		require.Empty(t, page.all("form.short button"))
		b.desk.byID[1].Proposal.Counted = catalog.HingeCount{}
		b.desk.byID[1].Proposal.Count = 0
		require.Contains(t, parse(t, b.get("/counter/inquiries/1")).text("form.short"), "How many was not said: 1 taken")
		b.desk.byID[1].Proposal.Count, b.desk.byID[1].Proposal.Counted = 3, catalog.HingeCount{Told: 3}
	})
	t.Run("advice that was kept by an older version shows as before", func(t *testing.T) {
		kept := b.desk.byID[1].Proposal
		now := kept.Advice
		defer func() { kept.Advice = now }()
		require.NoError(t, json.Unmarshal([]byte(`[{"topic":"fire","text":"Ask.","source":"NFPA 80","mark":"source seen, second hand","caution":true},`+
			`{"topic":"fire","text":"At least 4 1/2 in.","source":"","mark":"","caution":false},`+
			`{"topic":"cautions","text":"Support the door.","source":"","mark":"common practice, no source","caution":true}]`), &kept.Advice))
		page := parse(t, b.get("/counter/inquiries/1"))
		require.Equal(t, []string{"Fire", "Cautions"}, page.texts("details.advice summary"))
		require.Equal(t, []string{"Caution: Ask. NFPA 80; source seen, second hand", "At least 4½ in.", "Caution: Support the door. common practice, no source"}, page.texts("details.advice li"))
	})
	t.Run("one click approves", func(t *testing.T) {
		form := page.all("form.short")[0]
		body := url.Values{"act": {"approve"}}
		for _, n := range (doc{t, form}).all("input") {
			body.Set(attr(n, "name"), attr(n, "value"))
		}
		w := b.post("/counter/inquiries/1", asForm, body.Encode())
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		require.Equal(t, quote.Quoted, b.desk.byID[1].Inquiry.Status)
		page := parse(t, b.get(w.Header().Get("Location")))
		require.Contains(t, page.text(".notice"), "Approved")
		require.Contains(t, strings.Join(page.texts(".timeline li"), "\n"), "ruth approved")
		require.Empty(t, page.all("form.short"))
	})
	t.Run("nobody is said to have been asked by automatic mail", func(t *testing.T) {
		b.ask()
		b.desk.ready(2, quote.NeedsPhoto)
		q := &b.desk.byID[2].Inquiry
		q.Automatic, q.Unread, b.desk.byID[2].Letters = true, true, nil
		page := parse(t, b.get("/counter/inquiries/2"))
		require.Contains(t, page.text("form.notice"), "It came by automatic mail")
		require.Contains(t, page.text("main"), "Not asked yet")
	})
	t.Run("a customer's word after that stands out", func(t *testing.T) {
		b.desk.byID[1].Inquiry.Unread = true
		require.Contains(t, parse(t, b.get("/counter/inquiries/1")).text("form.notice"), "customer wrote")
		require.Contains(t, parse(t, b.get("/counter/")).text("tbody"), "customer wrote")
		b.desk.byID[1].Inquiry.Status = quote.Won
		require.Contains(t, parse(t, b.get("/counter/?status=won")).text("tbody"), "customer answered")
	})
	require.Equal(t, http.StatusForbidden, b.get("/counter/figures").Code)
	require.Len(t, parse(t, b.get("/counter/stock?q=h-1077")).all("tbody tr"), 1)
	require.Contains(t, parse(t, b.get("/counter/stock")).text("tbody"), "⅝ in")
}

func TestPictures(t *testing.T) {
	b := newBench(t)
	key := b.ask()
	b.desk.ready(1, quote.Ready)
	w := b.get("/i/" + key + "/photos/1")
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "image/jpeg", w.Header().Get("Content-Type"))
	require.Equal(t, "default-src 'none'; sandbox", w.Header().Get("Content-Security-Policy"))
	require.Equal(t, http.StatusNotFound, b.get("/i/"+key+"/photos/2").Code)
	require.Equal(t, http.StatusSeeOther, b.get("/counter/inquiries/1/photos/1").Code, "not without signing in")
	b.signInPages("ruth", "brass screws")
	require.Equal(t, "image/jpeg", b.get("/counter/inquiries/1/photos/1/overlay").Header().Get("Content-Type"))
	w = b.get("/counter/inquiries/1/photos/1?file=1")
	require.Equal(t, b.desk.photos[b.desk.byID[1].Inquiry.Photos[0].SHA256], w.Body.Bytes())
	require.Contains(t, w.Header().Get("Content-Disposition"), "attachment")

	// Where the card was found, what is written on it is in none of the pictures.
	d := b.desk.byID[1]
	whole, err := intake.Decode(intake.Photo{Bytes: b.desk.photos[d.Inquiry.Photos[0].SHA256], Format: d.Inquiry.Photos[0].Format, Width: d.Inquiry.Photos[0].Width, Height: d.Inquiry.Photos[0].Height})
	require.NoError(t, err)
	wide, high := float64(whole.Bounds().Dx()), float64(whole.Bounds().Dy())
	corner := func(u, v float64) measure.Pixel { return measure.Pixel{X: u * wide, Y: v * high} }
	d.Findings[0].Result.Card = &measure.CardInfo{Kind: measure.CardID1, CornersPx: [4]measure.Pixel{corner(0.1, 0.1), corner(0.9, 0.1), corner(0.9, 0.9), corner(0.1, 0.9)}}
	d.Findings[0].Revision = 2
	colours := func(img image.Image) uint32 { // how far apart along the middle
		lo, hi := uint32(1<<16), uint32(0)
		for u := 0.3; u < 0.7; u += 0.01 {
			_, green, _, _ := img.At(int(u*float64(img.Bounds().Dx())), img.Bounds().Dy()/2).RGBA()
			lo, hi = min(lo, green), max(hi, green)
		}
		return (hi - lo) >> 8
	}
	require.Greater(t, colours(whole), uint32(20))
	for _, path := range []string{"/i/" + key + "/photos/1", "/counter/inquiries/1/photos/1", "/counter/inquiries/1/photos/1?file=1"} {
		img, err := jpeg.Decode(b.get(path).Body)
		require.NoError(t, err, path)
		require.Less(t, colours(img), uint32(4), path)
	}
}

func TestDoorPage(t *testing.T) {
	b := newBench(t)
	page := parse(t, b.get("/door?door_width=32&door_height=80+in&door_thickness=1+3%2F8"))
	require.Contains(t, page.text("main"), "width 32 in (813 mm), door height 80 in (2032 mm), door thickness 1⅜ in (34.9 mm)")
	require.True(t, strings.HasPrefix(page.text(".answer"), "3 hinges, 3½ × 3½ in (89 × 89 mm)"), "the answer before all else")
	require.Equal(t, "Count", page.texts("details.advice summary")[0], "a topic folded under its heading")
	for k, topic := range page.all("details.advice") {
		open := slices.ContainsFunc(topic.Attr, func(a html.Attribute) bool { return a.Key == "open" })
		require.Equal(t, page.texts("details.advice summary")[k] == "Cautions", open, "cautions are not folded away")
	}
	// Three hinges up to 90 in: NFPA 80 § 6.4.3 and common practice.
	require.Contains(t, strings.Join(page.texts(".advice li"), "\n"), "3 hinges")
	w := b.get("/door?door_width=wide")
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	page = parse(t, w)
	field := page.all("input#door_width")[0]
	require.Equal(t, "wide", attr(field, "value"))
	require.Equal(t, "true", attr(field, "aria-invalid"))
	require.Contains(t, page.text(".grid p #"+attr(field, "aria-describedby")), "The door's width is “wide”", "beside its field")
	require.Empty(t, attr(page.all("input#door_height")[0], "aria-invalid"))
}

// chosen are the texts of the options that are selected.
func chosen(page doc, selector string) (out []string) {
	for k, n := range page.all(selector) {
		if slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == "selected" }) {
			out = append(out, page.texts(selector)[k])
		}
	}
	return out
}

// What is clicked and typed beside the sizes comes back, and nothing is passed over in silence.
func TestDoorPageTakesItAll(t *testing.T) {
	b := newBench(t)
	w := b.get("/door?door_width=36&door_height=80&door_thickness=1+3/4&door_swing=out&door_weight=90+lb&door_place=outside")
	require.Equal(t, http.StatusOK, w.Code)
	page := parse(t, w)
	require.Contains(t, page.text(".answer"), "non-removable pins")
	require.Contains(t, page.text(".answer"), "it weighs 41 kg (90 lb)")
	require.Contains(t, page.text("main"), "swings out")
	require.Equal(t, []string{"Outwards"}, chosen(page, "select#door_swing option"))
	require.Equal(t, "90 lb", attr(page.all("input#door_weight")[0], "value"))
	w = b.get("/door?door_width=36&door_colour=red")
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	require.Contains(t, parse(t, w).text("[role=alert]"), "“door_colour”")
	w = b.get("/door?door_width=&door_height=&door_material=")
	require.Equal(t, http.StatusOK, w.Code)
	page = parse(t, w)
	require.Empty(t, page.all(".answer"))
	require.Contains(t, page.text("main"), "Write at least")
}

func TestCardToPrint(t *testing.T) {
	b := newBench(t)
	for _, link := range parse(t, b.get("/")).all("figcaption a") {
		w := b.get(attr(link, "href"))
		require.Equal(t, http.StatusOK, w.Code)
		require.Equal(t, "application/pdf", w.Header().Get("Content-Type"))
	}
	require.Equal(t, http.StatusUnprocessableEntity, b.get("/card.pdf?paper=napkin").Code)
}

func TestWords(t *testing.T) {
	for _, s := range quote.Statuses {
		require.NotEmpty(t, customerWords[s].Now, s)
		require.NotEmpty(t, counterWords[s], s)
	}
	for _, s := range quote.Sorts {
		require.NotEmpty(t, sortWords[s], s)
	}
	for _, r := range quote.Roles {
		require.NotEmpty(t, turnWords[r], r)
	}
	require.Equal(t, "3½ × 3½ in", size("3 1/2 x 3 1/2"))
	require.Equal(t, "4 × 4 in", size("4 x 4"))
	require.Equal(t, "90 × 76 mm", size("90 x 76 mm"))
	require.Equal(t, "4½ in", size("4 1/2"))
	require.Equal(t, "114 mm", size("114 mm"))
	require.Equal(t, []string{"$26.48", "", "much"}, []string{moneyText("26.48 USD"), moneyText(""), moneyText("much")})
	require.Equal(t, "−0.5 σ", sigmas(-0.52))
	require.Equal(t, []string{"", "240 to 1", "Over 1,000 to 1"}, []string{odds(0.5), odds(240), odds(1e9)})
	require.Equal(t, "steel, satin nickel (US15\u00a0/\u00a0646)", finishText(catalog.Item{BaseMetal: "steel", Finish: "US15", FinishNo: "646"}))
	require.Equal(t, "brass, antique", finishText(catalog.Item{BaseMetal: "brass", Finish: "antique"}))
	require.Equal(t, "steel", finishText(catalog.Item{BaseMetal: "steel"}))
	require.Equal(t, "left leaf, hole 3, from edge", keyWords("leaf.0.hole.2.from_edge"))
}

// A square corner's radius is nothing, and so it is called square; what nobody saw is not.
func TestEstimateOfSquareCorner(t *testing.T) {
	written := func(e measure.Estimate) string {
		var b strings.Builder
		require.NoError(t, parsePages()["review"].ExecuteTemplate(&b, "estimate", e))
		return b.String()
	}
	require.Contains(t, written(measure.Estimate{Value: 0, Sigma: 0.1}), "square")
	require.Contains(t, written(measure.Estimate{Value: 6.35, Sigma: 0.1}), "6.35")
	require.NotContains(t, written(measure.Estimate{Value: 1, Sigma: 2}), "square")
	require.Contains(t, written(measure.Estimate{}), "not seen")
}
