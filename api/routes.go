package api

import (
	"io/fs"
	"net/http"
	"path"
	"strings"

	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// routes is every address that leafgauge answers.
func (s *server) routes() http.Handler {
	mux := http.NewServeMux()
	static, err := fs.Sub(staticFiles, "static")
	if err != nil {
		panic(err) // the folder is embedded
	}
	page := func(pattern string, h handler) { mux.Handle(pattern, s.page(h)) }
	json := func(pattern string, h handler) { mux.Handle(pattern, s.json(h)) }
	counter := func(pattern string, h handler) { mux.Handle(pattern, s.page(s.signedIn(h))) }
	counterJSON := func(pattern string, h handler) { mux.Handle(pattern, s.json(s.signedIn(h))) }
	counterStep := func(pattern string) { counterJSON(pattern, s.postStep(path.Base(pattern))) }

	mux.Handle("GET /static/", cacheForever(http.StripPrefix("/static/", http.FileServerFS(static))))
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, r *http.Request) { plain(w, http.StatusOK, "ok\n") })
	json("GET /readyz", s.readyz)
	json("GET /openapi.json", s.openAPI)
	mux.Handle("GET /metrics", s.near(promhttp.HandlerFor(s.Metrics, promhttp.HandlerOpts{})))

	// The customer, by JSON.
	json("POST /api/v1/inquiries", s.limited(s.postInquiry))
	json("GET /api/v1/inquiries/{key}", s.getInquiry)
	json("POST /api/v1/inquiries/{key}/additions", s.limited(s.postAddition))
	json("POST /api/v1/inquiries/{key}/decision", s.limited(s.postDecision))
	json("POST /api/v1/inquiries/{key}/withdrawal", s.limited(s.postWithdrawal))
	json("GET /api/v1/inquiries/{key}/quote", s.getOwnQuote)
	json("GET /api/v1/inquiries/{key}/quote.pdf", s.ownQuotePDF)
	json("GET /api/v1/door", s.getDoor)

	// The counter, by JSON.
	json("POST /api/v1/sign-in", s.limited(s.postSignIn))
	counterJSON("GET /api/v1/counter/inquiries", s.listInquiries)
	counterJSON("GET /api/v1/counter/inquiries/{id}", s.getDossier)
	counterJSON("GET /api/v1/counter/inquiries/{id}/quote", s.getQuote)
	counterJSON("GET /api/v1/counter/inquiries/{id}/quote.pdf", s.quotePDF)
	counterJSON("POST /api/v1/counter/inquiries/{id}/additions", s.postCounterAddition)
	counterJSON("POST /api/v1/counter/inquiries/{id}/price", s.postPrice)
	counterStep("POST /api/v1/counter/inquiries/{id}/approve")
	counterStep("POST /api/v1/counter/inquiries/{id}/ask-photo")
	counterStep("POST /api/v1/counter/inquiries/{id}/ask")
	counterStep("POST /api/v1/counter/inquiries/{id}/decline")
	counterStep("POST /api/v1/counter/inquiries/{id}/withdraw")
	counterStep("POST /api/v1/counter/inquiries/{id}/decide")
	counterStep("POST /api/v1/counter/inquiries/{id}/revise")
	counterStep("POST /api/v1/counter/inquiries/{id}/resend")
	counterStep("POST /api/v1/counter/inquiries/{id}/extend")
	counterStep("POST /api/v1/counter/inquiries/{id}/overrule")
	counterStep("POST /api/v1/counter/inquiries/{id}/note")
	counterJSON("GET /api/v1/counter/stock", s.getStock)
	counterJSON("GET /api/v1/counter/figures", s.getFigures)
	json("/api/", func(w http.ResponseWriter, r *http.Request) error { return noSuch(mux, w, r) })

	// The customer's pages.
	page("GET /{$}", s.askPage)
	page("POST /{$}", s.limited(s.askSubmit))
	page("GET /i/{key}", s.customerPage)
	page("GET /i/{key}/photos/{n}", s.customerPhoto)
	page("GET /i/{key}/quote.pdf", s.ownQuotePDF)
	page("POST /i/{key}/add", s.limited(s.customerAdd))
	page("POST /i/{key}/decide", s.limited(s.customerDecide))
	page("POST /i/{key}/withdraw", s.limited(s.customerWithdraw))
	page("GET /door", s.doorPage)
	page("GET /problems", s.problemsPage)
	page("GET /card.pdf", s.cardPDF)

	// The counter's pages.
	page("GET /counter/sign-in", s.signInPage)
	page("POST /counter/sign-in", s.limited(s.signInSubmit))
	page("POST /counter/sign-out", s.signOut)
	counter("GET /counter/{$}", s.queuePage)
	counter("GET /counter/inquiries/{id}", s.reviewPage)
	counter("POST /counter/inquiries/{id}", s.reviewSubmit)
	counter("POST /counter/inquiries/{id}/add", s.reviewAdd)
	counter("GET /counter/inquiries/{id}/photos/{n}", s.counterPhoto)
	counter("GET /counter/inquiries/{id}/photos/{n}/overlay", s.overlay)
	counter("GET /counter/inquiries/{id}/quote.pdf", s.quotePDF)
	counter("GET /counter/stock", s.stockPage)
	counter("GET /counter/figures", s.figuresPage)
	mux.Handle("GET /counter", http.RedirectHandler("/counter/", http.StatusSeeOther))
	page("/", func(w http.ResponseWriter, r *http.Request) error { return noSuch(mux, w, r) })

	return s.observed(mux, s.headers(s.sameOrigin(mux)))
}

// noSuch tells an address that does not exist from a method that it does not take.
func noSuch(mux *http.ServeMux, w http.ResponseWriter, r *http.Request) error {
	for _, method := range []string{http.MethodGet, http.MethodPost} {
		other := r.Clone(r.Context())
		other.Method = method
		if _, pattern := mux.Handler(other); strings.HasPrefix(pattern, method+" ") {
			w.Header().Set("Allow", method)
			return &fault{status: http.StatusMethodNotAllowed, code: "method", detail: "Use " + method + " here."}
		}
	}
	return errNoSuchPage
}
