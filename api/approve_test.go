package api

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// clean is a proposal that one click approves; change spoils it.
func clean(t *testing.T, change func(*quote.Proposal)) *bench {
	b := newBench(t)
	b.ask()
	b.desk.ready(1, quote.Ready)
	p := b.desk.byID[1].Proposal
	p.Best.Disagreements = nil
	change(p)
	b.signInPages("ruth", "brass screws")
	return b
}

func TestWhatGoesAgainstWhatWasSaidHasNoOneClickButton(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*catalog.Fit)
		button bool
	}{
		"nothing":       {func(f *catalog.Fit) {}, true},
		"a warning":     {func(f *catalog.Fit) { f.Warnings = []string{"None on hand; more in about 6 days."} }, true},
		"does not suit": {func(f *catalog.Fit) { f.Verdict = catalog.DoesNotSuit }, false},
		"another pin":   {func(f *catalog.Fit) { f.Against = []string{"Asked for with a fixed pin; this one has a loose pin."} }, false},
		"below fire table": {func(f *catalog.Fit) {
			f.Against, f.BelowFire = []string{"The published least …"}, "at least 4 1/2 in high"
		}, false},
	} {
		t.Run(name, func(t *testing.T) {
			b := clean(t, func(p *quote.Proposal) { c.change(&p.Fits[0]) })
			page := parse(t, b.get("/counter/inquiries/1"))
			require.Equal(t, c.button, len(page.all("form.short button")) == 1)
			require.Equal(t, !c.button, strings.Contains(page.text("form.short"), "Not by one click:"))
			below := page.all("section.acts button[value=approve]")
			require.Len(t, below, 1, "the counter decides below")
			require.Equal(t, !c.button, attr(below[0], "class") == "quiet")
		})
	}
}

func TestAFireRatedOpeningIsConfirmedFirst(t *testing.T) {
	fire := func(p *quote.Proposal) { p.Door.FireRated, p.Fits[0].FireRated = true, true }
	t.Run("on the page by a tick", func(t *testing.T) {
		b := clean(t, fire)
		page := parse(t, b.get("/counter/inquiries/1"))
		for _, form := range []string{"form.short", "section.acts"} {
			require.Len(t, page.all(form+" input[name=confirm_fire]"), 1)
			for _, box := range page.all(form + " input[name=confirm_fire]") {
				require.Equal(t, "checkbox", attr(box, "type"))
			}
		}
		require.Len(t, page.all("form.short button.quiet"), 1)
		body := url.Values{"act": {"approve"}, "version": {"3"}, "stock_number": {"H-1041"}, "count": {"3"}, "message": {"hello"}}
		w := b.post("/counter/inquiries/1", asForm, body.Encode())
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		page = parse(t, w)
		require.Contains(t, page.text(".wrong"), "The opening is fire-rated. Check its label")
		require.Equal(t, "hello", page.text("textarea#m-approve"))
		require.Equal(t, quote.Ready, b.desk.byID[1].Inquiry.Status)
		body.Set("act", "price")
		require.Equal(t, http.StatusOK, b.post("/counter/inquiries/1", asForm, body.Encode()).Code, "a price needs no tick")
		body.Set("act", "approve")
		body.Set("confirm_fire", attr(page.all("input[name=confirm_fire]")[0], "value"))
		require.Equal(t, http.StatusSeeOther, b.post("/counter/inquiries/1", asForm, body.Encode()).Code)
		require.Equal(t, quote.Quoted, b.desk.byID[1].Inquiry.Status)
	})
	for name, c := range map[string]struct {
		change func(*quote.Proposal)
		also   string
		status int
	}{
		"by the API":                {fire, `,"confirm_fire":true`, http.StatusOK},
		"not by the API":            {fire, ``, http.StatusUnprocessableEntity},
		"no is no":                  {fire, `,"confirm_fire":false`, http.StatusUnprocessableEntity},
		"another door needs no yes": {func(*quote.Proposal) {}, ``, http.StatusOK},
	} {
		t.Run(name, func(t *testing.T) {
			b := clean(t, c.change)
			w := b.post("/api/v1/counter/inquiries/1/approve", "application/json", fmt.Sprintf(`{"version":3,"stock_number":"H-1041","count":3%s}`, c.also))
			require.Equal(t, c.status, w.Code, w.Body)
			if c.status == http.StatusOK {
				require.Equal(t, quote.Quoted, b.desk.byID[1].Inquiry.Status)
				return
			}
			var p problem
			require.NoError(t, json.Unmarshal(w.Body.Bytes(), &p))
			require.Equal(t, "fire_not_confirmed", p.Code)
			require.Equal(t, "confirm_fire", p.Field)
			require.Equal(t, quote.Ready, b.desk.byID[1].Inquiry.Status)
		})
	}
	t.Run("as the form has it, before anything was measured", func(t *testing.T) {
		b := clean(t, func(*quote.Proposal) {})
		b.desk.byID[1].Inquiry.Door.FireRated = true
		w := b.post("/counter/inquiries/1", asForm, "act=approve&version=3&stock_number=H-1041&count=3")
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	})
}

func TestWhatGoesAgainstWhatWasSaidIsConfirmedFirst(t *testing.T) {
	const says = "Asked for with a non-removable pin; this one has a loose pin."
	against := func(p *quote.Proposal) { p.Fits[0].Against, p.Fits[0].Contradicts = []string{says}, []string{says} }
	t.Run("on the page by a tick", func(t *testing.T) {
		b := clean(t, against)
		page := parse(t, b.get("/counter/inquiries/1"))
		require.Len(t, page.all("section.acts input[name=confirm_against]"), 1)
		body := url.Values{"act": {"approve"}, "version": {"3"}, "stock_number": {"H-1041"}, "count": {"3"}}
		w := b.post("/counter/inquiries/1", asForm, body.Encode())
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		require.Contains(t, parse(t, w).text(".wrong"), says)
		body.Set("confirm_against", "yes")
		require.Equal(t, http.StatusSeeOther, b.post("/counter/inquiries/1", asForm, body.Encode()).Code)
	})
	t.Run("by the API", func(t *testing.T) {
		b := clean(t, against)
		const to, plain = "/api/v1/counter/inquiries/1/approve", `{"version":3,"stock_number":"H-1041","count":3`
		requireProblem(t, b.post(to, asJSON, plain+`}`), http.StatusUnprocessableEntity, "against_not_confirmed")
		require.Equal(t, http.StatusOK, b.post(to, asJSON, plain+`,"confirm_against":true}`).Code)
	})
	t.Run("where nothing is contradicted there is nothing to tick", func(t *testing.T) {
		b := clean(t, func(*quote.Proposal) {})
		require.Empty(t, parse(t, b.get("/counter/inquiries/1")).all("input[name=confirm_against]"))
		w := b.post("/api/v1/counter/inquiries/1/approve", asJSON, `{"version":3,"stock_number":"H-1041","count":3}`)
		require.Equal(t, http.StatusOK, w.Code, w.Body)
	})
}

// The counter reads what the fit says: the headline, why the first is first, and left and right leaf.
func TestThePageSaysWhatTheFitSays(t *testing.T) {
	b := clean(t, func(p *quote.Proposal) {
		f := &p.Fits[0]
		f.BelowFire = "at least 4 1/2 in (114.3 mm) high"
		f.Reasons = []string{"It stands before H-1077, which would drop in (97 %) but: Asked for with a fixed pin; H-1077 has a loose pin."}
	})
	page := parse(t, b.get("/counter/inquiries/1"))
	require.Contains(t, page.text("form.short"), "H-1041 fits the old cut-out but is below the published least for a fire door: at least 4½ in (114.3 mm) high")
	require.NotContains(t, page.text("article.fit .v"), "rops in")
	require.Contains(t, page.text("article.fit"), "It stands before H-1077")
	require.Contains(t, page.text("article.fit"), "Left leaf, hole 1")
	require.Contains(t, page.text("table.sizes"), "Corner radius, right leaf")
	require.NotRegexp(t, `(?i)(first|second) leaf|leaf [12]\b`, page.text("main"))
}

// Customer and counter read of a hinge below the published least for a fire door what the letter says.
func TestTheCustomersPageDoesNotCallItADropIn(t *testing.T) {
	b := newBench(t)
	link := "/i/" + b.ask()
	b.desk.ready(1, quote.Ready)
	f := &b.desk.byID[1].Proposal.Fits[0]
	f.FireRated, f.BelowFire, f.Work = true, "at least 4 1/2 in (114.3 mm) high", nil
	_, err := b.desk.Approve(t.Context(), 1, b.desk.byID[1].Inquiry.Version, "ruth", quote.Approval{StockNumber: "H-1041", Count: 4})
	require.NoError(t, err)
	page := parse(t, b.get(link))
	require.Equal(t, "This hinge fits the old cut-out but is below the published least for a fire door: at least 4 1/2 in (114.3 mm) high. We are 94 % sure.", page.text("p.verdict"))
	require.NotContains(t, page.text("main"), "drops in")
}
