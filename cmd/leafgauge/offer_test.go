package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"leafgauge/quote"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// An offering is a shop with the demo's shelf and one inquiry that was measured, and both who work at it.
type offering struct {
	*site
	t       *testing.T
	counter client       // by the API
	pages   *http.Client // by the pages, signed in
	key     string
}

// newOffering sends an inquiry whose typed sizes are those of H1107, without its photo: a proposal by
// numbers alone is there at once.
func newOffering(t *testing.T) *offering {
	o := &offering{site: &site{cfg: testConfig(t)}, t: t}
	o.start(t, "all")
	ctx := t.Context()
	require.NoError(t, demoShelf(ctx, o.api(), filepath.Join(testdata, demoStock)))
	require.NoError(t, o.api().desk.AddUser(ctx, "ruth", "four brass screws", true)) // the owner, who sees the figures
	r, err := o.api().desk.Receive(ctx, quote.Submission{Source: quote.FromWeb, Contact: quote.Contact{Name: "Ana Sutter", Email: "ana@example.org"},
		Text: "3 1/2 x 3 1/2 in, 0.097 thick, 1/4 radius"})
	require.NoError(t, err)
	o.key = r.Key
	eventually(t, "it is worked out", func() bool { return o.settled(t, 1) })

	o.counter.base = o.api().base
	var in struct{ Token string }
	require.NoError(t, o.counter.send(ctx, "POST", "/api/v1/sign-in", map[string]string{"name": "ruth", "password": "four brass screws"}, &in))
	o.counter.token = in.Token
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	o.pages = &http.Client{Jar: jar}
	a, err := o.pages.PostForm(o.api().base+"/counter/sign-in", url.Values{"name": {"ruth"}, "password": {"four brass screws"}})
	require.NoError(t, err)
	a.Body.Close()
	return o
}

func (o *offering) dossier() quote.Dossier {
	o.t.Helper()
	d, err := o.api().desk.Dossier(o.t.Context(), 1)
	require.NoError(o.t, err)
	return d
}

// act sends an act by the API at the inquiry's version and returns the problem's code, or "".
func (o *offering) act(name, body string) string {
	o.t.Helper()
	var more map[string]any
	require.NoError(o.t, json.Unmarshal([]byte(body), &more))
	more["version"] = o.dossier().Inquiry.Version
	var d quote.Dossier
	err := o.counter.send(o.t.Context(), "POST", "/api/v1/counter/inquiries/1/"+name, more, &d)
	if err == nil {
		return ""
	}
	code := regexp.MustCompile(`"code":"(\w+)"`).FindStringSubmatch(err.Error())
	require.NotNil(o.t, code, err)
	return code[1]
}

// form sends the page's form that holds a button, as a browser without script does: with all that it
// holds, but for what fields say.
func (o *offering) form(button string, fields url.Values) (status int, page string) {
	o.t.Helper()
	at := o.api().base + "/counter/inquiries/1"
	a, err := o.pages.Get(at)
	require.NoError(o.t, err)
	defer a.Body.Close()
	doc, err := html.Parse(a.Body)
	require.NoError(o.t, err)
	var sent url.Values
	for n := range doc.Descendants() {
		if n.Data != "form" || n.Type != html.ElementNode {
			continue
		}
		held, has := holds(n, button)
		if has && !(held.Has("stock_number") && !held.Has("line_text")) { // not the one-click one
			sent = held
		}
	}
	require.NotNil(o.t, sent, "no form with the button %s", button)
	for name, values := range fields {
		sent[name] = values
	}
	a, err = o.pages.PostForm(at, sent)
	require.NoError(o.t, err)
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	require.NoError(o.t, err)
	return a.StatusCode, string(b)
}

// holds is what a form sends when button is pressed, and whether it has that button.
func holds(form *html.Node, button string) (url.Values, bool) {
	sent, has := url.Values{"act": {button}}, false
	attr := func(n *html.Node, name string) (string, bool) {
		for _, a := range n.Attr {
			if a.Key == name {
				return a.Val, true
			}
		}
		return "", false
	}
	for n := range form.Descendants() {
		name, _ := attr(n, "name")
		value, _ := attr(n, "value")
		switch n.Data {
		case "button":
			has = has || name == "act" && value == button
		case "input":
			_, checked := attr(n, "checked")
			if kind, _ := attr(n, "type"); kind != "checkbox" || checked {
				sent.Add(name, value)
			}
		case "textarea":
			if n.FirstChild != nil {
				value = n.FirstChild.Data
			}
			sent.Add(name, value)
		case "select":
			for option := range n.Descendants() {
				if _, chosen := attr(option, "selected"); chosen {
					value, _ = attr(option, "value")
					sent.Add(name, value)
				}
			}
		}
	}
	return sent, has
}

// customer is what the customer's page says, and the quote's PDF.
func (o *offering) customer() (page, pdf string) {
	o.t.Helper()
	get := func(path string) []byte {
		a, err := http.Get(o.api().base + "/i/" + o.key + path)
		require.NoError(o.t, err)
		defer a.Body.Close()
		require.Equal(o.t, http.StatusOK, a.StatusCode)
		b, err := io.ReadAll(a.Body)
		require.NoError(o.t, err)
		return b
	}
	name := filepath.Join(o.t.TempDir(), "q.pdf")
	require.NoError(o.t, os.WriteFile(name, get("/quote.pdf"), 0o600))
	words, err := exec.Command("pdftotext", "-layout", name, "-").Output()
	if err != nil {
		o.t.Skip("no pdftotext: install poppler-utils to read the PDF back")
	}
	return plainText(string(get(""))), plainText(string(words))
}

// plainText is a text or page with single spaces and without its markup.
func plainText(s string) string {
	s = html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(s, " "))
	return strings.Join(strings.Fields(s), " ")
}

func (o *offering) letter() quote.Letter {
	letters := o.dossier().Letters
	return letters[len(letters)-1]
}

// Reckoned by hand, at 8.25 % tax: 4 × 6.62 = 26.48, 24 × 0.09 = 2.16 and 35.00 make 63.64. 10 % of
// it is 6.364, 6.36; with 12.00 for the van 69.28 before tax; 8.25 % of that is 5.7156, 5.72. To pay 75.00.
var byHand = []string{"$26.48", "$2.16", "$35.00", "$63.64", "-$6.36", "$12.00", "$69.28", "$5.72", "$75.00"}

const wholeOffer = `{"lines": [{"stock_number": "h1107", "count": 3}, {"text": "#9 x 3/4 screws", "count": 24, "each": "0,09"}, {"text": "Fitting", "each": " $35 "}],
	"discount": "10 %", "discount_reason": "second visit", "delivery": "12 USD", "delivery_text": "by van on Friday", "message": "See you then."}`

func TestAnOfferOfSeveralLinesReachesTheCustomer(t *testing.T) {
	for by, send := range map[string]func(o *offering){
		"the API": func(o *offering) { require.Empty(o.t, o.act("approve", wholeOffer)) },
		"the page": func(o *offering) {
			status, page := o.form("approve", url.Values{"other_stock_number": {"h1107"}, "count": {"3"},
				"line_stock_number": {"", "", ""}, "line_text": {"#9 x 3/4 screws", "", "Fitting"}, "line_count": {"24", "", ""}, "line_each": {"0,09", "", " $35 "},
				"discount": {"10 %"}, "discount_reason": {"second visit"}, "delivery": {"12 USD"}, "delivery_text": {"by van on Friday"}, "message": {"See you then."}})
			require.Equal(o.t, http.StatusOK, status, page)
			require.Contains(o.t, page, "Approved.")
		},
	} {
		t.Run(by, func(t *testing.T) {
			o := newOffering(t)
			send(o)
			made := o.dossier().Quotes[0]
			require.Len(t, made.Lines, 3)
			require.Equal(t, "75.00", made.Total.Number())
			page, pdf := o.customer()
			letter := o.letter()
			for what, text := range map[string]string{"letter": letter.Body, "page": page, "PDF": strings.ReplaceAll(pdf, "−", "-")} {
				for _, want := range append(byHand, "H1107", "Fitting", "Sum of the lines", "Discount 10 % (second visit)", "Delivery (by van on Friday)", "Before tax", "Tax 8.25 %", "To pay", "See you then.") {
					require.Contains(t, text, want, what)
				}
			}
			require.Equal(t, "1-1", letter.Quote)
			list, _, err := o.api().desk.List(t.Context(), quote.Filter{All: true})
			require.NoError(t, err)
			require.Equal(t, "75.00 USD", list[0].Total)
			var figures quote.Figures
			require.NoError(t, o.counter.send(t.Context(), "GET", "/api/v1/counter/figures", nil, &figures))
			require.Len(t, figures.QuotedSums, 1)
			require.True(t, figures.QuotedSums[0].Equal(made.Total))
			figured, err := o.pages.Get(o.api().base + "/counter/figures")
			require.NoError(t, err)
			defer figured.Body.Close()
			b, err := io.ReadAll(figured.Body)
			require.NoError(t, err)
			require.Contains(t, plainText(string(b)), "Sum of the quotes that are out $75.00")
		})
	}
}

func TestAQuoteIsRevisedExtendedAndSentAgain(t *testing.T) {
	o := newOffering(t)
	require.Empty(t, o.act("approve", `{"stock_number": "H1107", "count": 3}`)) // sold as 4: 26.48 and 2.1846: 28.66
	first := o.letter()
	require.Empty(t, o.act("resend", `{}`))
	require.Equal(t, first.Body, o.letter().Body)
	require.NotEqual(t, first.MessageID, o.letter().MessageID)

	until := time.Now().AddDate(0, 3, 0)
	status, page := o.form("extend", url.Values{"valid_until": {until.Format(time.DateOnly)}, "message": {"We keep them."}})
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "Extended.")
	require.Contains(t, o.letter().Body, "now good until "+quote.Day(until))
	own, pdf := o.customer()
	require.Contains(t, own, "Good until "+quote.Day(until))
	require.Contains(t, pdf, "good until "+quote.Day(until))

	// The form holds the quote that is out: only what is changed is typed.
	status, page = o.form("revise", url.Values{"collection": {"At the counter, from Tuesday"}, "discount": {"2.50"}})
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "The new quote is on its way")
	require.Contains(t, plainText(page), "Before it: quote 1-1")
	require.Contains(t, plainText(page), "$28.66, replaced by 1-2")
	d := o.dossier()
	require.Equal(t, []string{"1-2", "1-1"}, []string{d.Quotes[0].Number, d.Quotes[1].Number})
	require.Equal(t, 4, d.Quotes[0].Lines[0].Count)
	// 26.48 − 2.50 = 23.98; 8.25 % of it is 1.97835, 1.98; to pay 25.96.
	own, pdf = o.customer()
	for what, text := range map[string]string{"letter": o.letter().Body, "page": own, "PDF": pdf} {
		for _, want := range []string{"1-2", "1-1", "$25.96", "$23.98", "To be collected: At the counter, from Tuesday", "3 asked for, 4 supplied"} {
			require.Contains(t, text, want, what)
		}
	}
	require.Contains(t, o.letter().Body, "To pay: $25.96, before it was $28.66")
	require.Contains(t, own, "It replaces our quote 1-1")

	// What the customer saw before cannot be taken any more; the newest can.
	decide := func(number string) error {
		var out any
		return client{base: o.api().base}.send(t.Context(), "POST", "/api/v1/inquiries/"+o.key+"/decision", map[string]any{"take": true, "quote": number}, &out)
	}
	require.ErrorContains(t, decide("1-1"), "quote_replaced")
	require.NoError(t, decide("1-2"))
	for _, act := range []string{"revise", "resend", "extend"} {
		require.Equal(t, "move", o.act(act, `{}`))
	}
}

func TestAPriceIsTakenAsTypedOrAskedAbout(t *testing.T) {
	o := newOffering(t)
	for body, code := range map[string]string{
		`{"stock_number": "H1107", "each": "1e3"}`:                                        "field",
		`{"stock_number": "H1107", "each": "-6"}`:                                         "field",
		`{"stock_number": "H1107", "each": "6.6.2"}`:                                      "field",
		`{"stock_number": "H1107", "each": "6.625"}`:                                      "field",
		`{"stock_number": "H1107", "lines": [{"text": "Fitting"}]}`:                       "field",
		`{"stock_number": "H1107", "lines": [{"stock_number": "none"}]}`:                  "field",
		`{"stock_number": "H1107", "discount": "110 %"}`:                                  "field",
		`{"stock_number": "H1107", "discount_reason": "friends"}`:                         "field",
		`{"stock_number": "H1107", "delivery": "1", "collection": "here"}`:                "field",
		`{"stock_number": "H1107", "delivery_text": "by van"}`:                            "field",
		`{"stock_number": "H1107", "each": "0"}`:                                          "unusual_price",
		`{"stock_number": "H1107", "each": "66.20"}`:                                      "unusual_price",
		`{"stock_number": "H1107", "discount": "50 %"}`:                                   "unusual_price",
		`{"stock_number": "H1107", "lines": [{"text": "Fitting", "each": "0"}]}`:          "unusual_price",
		`{"stock_number": "H1107", "lines": [{"stock_number": "H1099", "each": "0.39"}]}`: "unusual_price",
	} {
		require.Equal(t, code, o.act("approve", body), body)
	}
	require.Empty(t, o.dossier().Quotes)

	typed := url.Values{"stock_number": {"H1107"}, "other_stock_number": {"h1107"}, "count": {"4"}, "each": {"$0.66"}, "line_text": {"Cutting"}, "line_stock_number": {""},
		"line_count": {"2"}, "line_each": {"7,50"}, "discount": {"1 %"}, "discount_reason": {"sorry for the wait"}, "collection": {"here"}, "message": {"Yours by Friday."}}
	status, page := o.form("approve", typed)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, plainText(page), "H1107 at $0.66 with the discount is more than 30 % below its list price, $6.62. Is that meant?")
	doc, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	var kept url.Values
	for n := range doc.Descendants() {
		if held, has := holds(n, "approve"); n.Data == "form" && has {
			kept = held
		}
	}
	for _, name := range []string{"count", "each", "discount", "discount_reason", "collection", "message"} {
		require.Equal(t, typed[name], kept[name], name)
	}
	require.Equal(t, []string{"Cutting", "2", "7,50"}, []string{kept["line_text"][0], kept["line_count"][0], kept["line_each"][0]})
	require.False(t, kept.Has("confirm_price"), "nobody has said yes yet")
	require.Contains(t, page, `name="confirm_price"`)
	kept.Set("confirm_price", "yes")
	a, err := o.pages.PostForm(o.api().base+"/counter/inquiries/1", kept)
	require.NoError(t, err)
	a.Body.Close()
	require.Equal(t, http.StatusOK, a.StatusCode)
	require.Equal(t, "0.66", o.dossier().Quotes[0].Lines[0].Each.Number())
	own, _ := o.customer()
	require.Contains(t, own, "$0.66")
}

// A version, a stock number and a count alone still make a quote.
func TestAnApprovalOfTheHingeAlone(t *testing.T) {
	o := newOffering(t)
	require.Empty(t, o.act("approve", `{"stock_number": "H1107", "count": 3}`))
	made := o.dossier().Quotes[0]
	require.Len(t, made.Lines, 1)
	require.Equal(t, 4, made.Lines[0].Count)
	require.Nil(t, made.Discount)
	require.Nil(t, made.Delivery)
	require.True(t, slices.Contains(made.Notes, "Sold in multiples of 2: 3 asked for, 4 supplied, 1 left over."), fmt.Sprint(made.Notes))
}
