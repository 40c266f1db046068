package api

import (
	"net/http"
	"net/url"
	"os"
	"regexp"
	"testing"

	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// Every button of the counter's page is a step, and says afterwards what was done.
func TestEveryButtonOfThePageIsAStep(t *testing.T) {
	from := map[string]quote.Status{"won": quote.Quoted, "lost": quote.Quoted, "revise": quote.Quoted, "resend": quote.Quoted, "extend": quote.Quoted} // else ready
	leadsTo := map[string]quote.Status{"approve": quote.Quoted, "ask-photo": quote.NeedsPhoto, "ask": quote.NeedsAnswer, "decline": quote.Declined,
		"withdraw": quote.Withdrawn, "won": quote.Won, "lost": quote.Lost, "accept": quote.Measuring, "overrule": quote.Measuring, "note": quote.Ready, "read": quote.Ready,
		"revise": quote.Quoted, "resend": quote.Quoted, "extend": quote.Quoted}
	text, err := os.ReadFile("templates/review.html")
	require.NoError(t, err)
	found := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?:name="act" value|"Act") ?=? ?"([^"{]+)"`).FindAllSubmatch(text, -1) {
		button := string(m[1])
		if button == "price" || found[button] { // the price is only shown
			continue
		}
		found[button] = true
		t.Run(button, func(t *testing.T) {
			b := newBench(t)
			b.ask()
			b.desk.ready(1, quote.Ready)
			if s, ok := from[button]; ok {
				b.desk.byID[1].Inquiry.Status = s
			}
			b.signInPages("ruth", "brass screws")
			w := b.post("/counter/inquiries/1", asForm, url.Values{"act": {button}, "version": {"3"}, "message": {"why"}, "slip": {"open_width:leaf_width"}}.Encode())
			require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
			require.Equal(t, leadsTo[button], b.desk.byID[1].Inquiry.Status)
			require.NotEmpty(t, parse(t, b.get(w.Header().Get("Location"))).text(".notice"))
		})
	}
	require.Len(t, found, len(leadsTo))
}

// The line at the page's top sends no more than hinge and count: where a price was worked out with more,
// it isn't there.
func TestOnlyThePlainIsSentFromTheTop(t *testing.T) {
	b := clean(t, func(*quote.Proposal) {})
	require.Len(t, parse(t, b.get("/counter/inquiries/1")).all("form.short button"), 1)
	w := b.post("/counter/inquiries/1", "application/x-www-form-urlencoded", "act=price&version=2&stock_number=H1001&count=3&each=5.50&discount=10+%25")
	require.Empty(t, parse(t, w).all("form.short button"))
}
