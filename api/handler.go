package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
)

// A handler answers a request or returns why it cannot.
type handler func(w http.ResponseWriter, r *http.Request) error

// json wraps a handler of the API: an error becomes problem details.
func (s *server) json(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			writeProblem(w, s.told(r, err))
		}
	})
}

// page wraps a handler of pages: an error becomes a page with the same words.
func (s *server) page(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		err := h(w, r)
		if err == nil {
			return
		}
		if errors.Is(err, errSignIn) && r.Method == http.MethodGet {
			http.Redirect(w, r, "/counter/sign-in?to="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
			return
		}
		f := s.told(r, err)
		setFaultHeaders(w, f)
		s.render(w, r, f.status, "fault", page{Title: problemTitles[f.code], Body: f.detail})
	})
}

// told logs what went wrong on our side, and returns what the sender is told.
func (s *server) told(r *http.Request, err error) *fault {
	f := asFault(err)
	if f.status >= 500 {
		s.Log.Error("request failed", "route", r.Pattern, "error", err)
	}
	return f
}

// page is what the layout needs; Body is the struct of the page's own template.
type page struct {
	Title  string
	Shop   string
	User   *session // nil when nobody is signed in
	Here   string   // which entry of the counter's menu is this
	Notice string   // what was just done
	Wide   bool     // the counter's pages use the whole window
	Body   any
}

// render writes a page, whole or not at all.
func (s *server) render(w http.ResponseWriter, r *http.Request, status int, name string, p page) error {
	p.Shop = s.Terms.Shop
	if u, ok := s.session(r); ok && strings.HasPrefix(r.URL.Path, "/counter") {
		p.User = &u
	}
	var b bytes.Buffer
	if err := s.pages[name].ExecuteTemplate(&b, "layout.html", p); err != nil {
		if name == "fault" { // nothing simpler is left
			plain(w, http.StatusInternalServerError, "Something failed on our side. Try again in a minute.\n")
			return nil
		}
		return fmt.Errorf("api: page %s: %w", name, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	b.WriteTo(w)
	return nil
}

func writeJSON(w http.ResponseWriter, status int, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("api: answer: %w", err)
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	w.Write(append(b, '\n'))
	return nil
}

func plain(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(status)
	io.WriteString(w, text)
}

// readJSON reads a small JSON body into v; unknown fields are refused, for they are typos.
func readJSON(w http.ResponseWriter, r *http.Request, v any) error {
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<20))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			return err
		}
		return &fault{status: http.StatusBadRequest, code: "body_unreadable", detail: "The body must be one JSON object with the fields of /openapi.json: " + err.Error() + "."}
	}
	return nil
}
