package api

import (
	"context"
	"crypto/rand"
	"embed"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"leafgauge/quote"

	"github.com/prometheus/client_golang/prometheus"
)

// Options is everything but desk and doorman. The zero value serves.
type Options struct {
	Terms quote.Terms
	Now   func() time.Time // nil: time.Now
	Log   *slog.Logger     // nil: discards
	// Ready says whether the parts behind the desk answer; nil: always.
	Ready func(context.Context) error
	// SessionKey signs the counter's sessions. Keep it to keep people signed in over a
	// restart and across servers; nil makes a random one.
	SessionKey []byte
	Metrics    *prometheus.Registry // nil: an own one
	// TrustProxy takes the client's address from the last entry of X-Forwarded-For.
	// Set it only behind a proxy that writes that header.
	TrustProxy bool
	// A client's address may post PostBurst times at once and PostsPerSecond after that.
	// Zero: 120 and 1.
	PostsPerSecond float64
	PostBurst      int
}

type server struct {
	desk    Desk
	doorman Doorman
	Options
	pages    map[string]*template.Template
	secure   bool // served over https
	posts    *limiter
	signIns  *limiter
	hashing  chan struct{} // bounds password checks at the same time: each takes 64 MB
	pictures *pictures
	counted  *counted
	openapi  []byte
}

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed static
var staticFiles embed.FS

//go:embed openapi.json
var openapiFile []byte

// New returns the handler of everything: API, pages, health and metrics. It panics when an
// embedded template is broken.
func New(desk Desk, doorman Doorman, opt Options) http.Handler {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Terms.Shop == "" {
		opt.Terms.Shop = "The hinge counter"
	}
	if len(opt.SessionKey) == 0 {
		opt.SessionKey = make([]byte, 32)
		rand.Read(opt.SessionKey) // never fails, see its documentation
	}
	if opt.Metrics == nil {
		opt.Metrics = prometheus.NewRegistry()
	}
	if opt.PostBurst == 0 {
		opt.PostBurst = 120
	}
	if opt.PostsPerSecond == 0 {
		opt.PostsPerSecond = 1
	}
	s := &server{
		desk: desk, doorman: doorman, Options: opt,
		secure:   strings.HasPrefix(opt.Terms.BaseURL, "https://"),
		posts:    newLimiter(opt.PostsPerSecond, opt.PostBurst, opt.Now),
		signIns:  newLimiter(0.1, 10, opt.Now), // ten tries, then one every ten seconds
		hashing:  make(chan struct{}, 2),
		pictures: newPictures(),
		counted:  newCounted(opt.Metrics),
		openapi:  openapiFile,
	}
	s.pages = parsePages()
	return s.routes()
}

// parsePages reads every template once, so that a broken one shows at start. A part that is
// not handed a value by the name it asks for fails, as a misspelt field does.
func parsePages() map[string]*template.Template {
	base := template.New("layout.html").Funcs(templateFuncs).Option("missingkey=error")
	base = template.Must(base.ParseFS(templateFiles, "templates/layout.html", "templates/parts.html"))
	files, err := templateFiles.ReadDir("templates")
	if err != nil {
		panic(fmt.Errorf("api: embedded templates: %w", err))
	}
	pages := map[string]*template.Template{}
	for _, f := range files {
		if name := f.Name(); name != "layout.html" && name != "parts.html" {
			t := template.Must(base.Clone())
			pages[strings.TrimSuffix(name, ".html")] = template.Must(t.ParseFS(templateFiles, "templates/"+name))
		}
	}
	return pages
}
