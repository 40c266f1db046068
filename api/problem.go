package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"slices"

	"leafgauge/intake"
	"leafgauge/quote"
)

// A fault is a request that cannot be served, with what the sender can do about it.
type fault struct {
	status int
	code   string // one of problemTitles
	field  string // of the form, or ""
	detail string
	after  int // seconds to wait before the next try, or 0
}

func (f *fault) Error() string { return f.detail }

// problemTitles names every kind of problem once; /problems shows them.
var problemTitles = map[string]string{
	"not_found":              "There is nothing at this address",
	"method":                 "This address does not take that method",
	"sign_in":                "Sign in first",
	"wrong_sign_in":          "Name or password is wrong",
	"owner_only":             "Only the owner may see this",
	"too_many_posts":         "Too many requests",
	"cross_origin":           "The form was sent from another site",
	"body_too_large":         "The request is too large",
	"body_unreadable":        "The request could not be read",
	"no_photo":               "A photo is missing",
	"too_many_photos":        "Too many photos",
	intake.CodeEmpty:         "A photo is empty",
	intake.CodeTooLarge:      "A photo is too large",
	intake.CodeTooManyPixels: "A photo has too many pixels",
	intake.CodeTooFewPixels:  "A photo has too few pixels",
	intake.CodeNotAnImage:    "A photo is not a picture",
	intake.CodeUnsupported:   "A photo's format is not known here",
	intake.CodeDamaged:       "A photo is damaged",
	intake.CodeTooComplex:    "A photo takes too long to open",
	"field":                  "Something typed cannot be used",
	"changed":                "Somebody changed it meanwhile",
	"move":                   "That step is not possible now",
	"internal":               "Something failed on our side",
	"not_ready":              "The service is starting or a part of it does not answer",
	"stopped":                "The request was broken off",
	"nothing_to_price":       "There is nothing to price",
	"unusual_price":          "A price is unusual: say that it is meant",
	"quote_replaced":         "A newer quote stands in its place",
	"quote_expired":          "The quote has run out",
	"fire_not_confirmed":     "A fire-rated opening was not confirmed",

	quote.AgainstNotConfirmed: "A hinge goes against what the customer said: say that it is meant",
}

var (
	errNoSuchPage = &fault{status: http.StatusNotFound, code: "not_found", detail: "Check the address. A customer's link must be complete, up to its last letter."}
	errSignIn     = &fault{status: http.StatusUnauthorized, code: "sign_in", detail: "Sign in at /counter/sign-in, or send the token of POST /api/v1/sign-in as Authorization: Bearer."}
	errOwnerOnly  = &fault{status: http.StatusForbidden, code: "owner_only", detail: "Sign in with the owner's name."}
)

func badField(field, detail string) *fault {
	return &fault{status: http.StatusUnprocessableEntity, code: "field", field: field, detail: detail}
}

// asFault says what the sender is told of err.
func asFault(err error) *fault {
	var f *fault
	var invalid *intake.InvalidError
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &f):
		return f
	case errors.As(err, &invalid):
		f = &fault{status: http.StatusUnprocessableEntity, code: invalid.Code, field: invalid.Field, detail: invalid.Text}
		if _, known := problemTitles[f.code]; !known {
			f.code = "field"
		}
		if f.code == intake.CodeTooLarge {
			f.status = http.StatusRequestEntityTooLarge
		}
		return f
	case errors.As(err, &tooLarge):
		return &fault{status: http.StatusRequestEntityTooLarge, code: "body_too_large", detail: fmt.Sprintf("Send at most %d MB in all.", tooLarge.Limit>>20)}
	case errors.Is(err, quote.ErrNotFound):
		return errNoSuchPage
	case errors.Is(err, quote.ErrStale):
		return &fault{status: http.StatusConflict, code: "changed", detail: "This inquiry was changed since you opened it. Look at it again, then repeat the step if it is still right."}
	case errors.Is(err, quote.ErrMove):
		return &fault{status: http.StatusConflict, code: "move", detail: "The inquiry has moved on, so this step is not possible any more. Look at where it stands now."}
	case errors.Is(err, quote.ErrReplaced):
		return &fault{status: http.StatusConflict, code: "quote_replaced", field: "quote", detail: "A newer quote stands in place of that one. Look at the newer one, then decide."}
	case errors.Is(err, quote.ErrExpired):
		return &fault{status: http.StatusConflict, code: "quote_expired", detail: "The quote was good until a day that is over. It can be taken once the counter has extended it."}
	case errors.Is(err, context.Canceled):
		return &fault{status: 499, code: "stopped", detail: "The sender broke the request off."}
	}
	return &fault{status: http.StatusInternalServerError, code: "internal", detail: "Nothing that was already confirmed is lost. Try again in a minute; if it stays, tell the shop."}
}

// problem is an answer as RFC 9457 describes it. Code and Field are its extension members.
type problem struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail"`
	Code   string `json:"code"`
	Field  string `json:"field,omitempty"`
}

func writeProblem(w http.ResponseWriter, f *fault) {
	w.Header().Set("Content-Type", "application/problem+json")
	setFaultHeaders(w, f)
	w.WriteHeader(f.status)
	json.NewEncoder(w).Encode(problem{
		Type: "/problems#" + f.code, Title: problemTitles[f.code], Status: f.status, Detail: f.detail, Code: f.code, Field: f.field,
	})
}

func setFaultHeaders(w http.ResponseWriter, f *fault) {
	w.Header().Set("Cache-Control", "no-store")
	if f.after > 0 {
		w.Header().Set("Retry-After", fmt.Sprint(f.after))
	}
	if f.status == http.StatusUnauthorized {
		w.Header().Set("WWW-Authenticate", `Bearer realm="counter"`)
	}
}

func problemCodes() []string { return slices.Sorted(maps.Keys(problemTitles)) }
