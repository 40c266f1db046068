package api

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/bojanz/currency"
	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers/legacy"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite openapi.json")

// An operation is one line of the API as its document describes it.
type operation struct {
	route   string
	summary string
	query   []string
	body    any    // JSON; nil none
	form    string // name of a form schema instead
	answers map[int]any
	counter bool
}

type (
	pdfFile struct{}
)

var operations = []operation{
	{route: "POST /api/v1/inquiries", summary: "Send a new inquiry: photos, readings, the door, what is wanted. With an Idempotency-Key it is taken in once.", form: "Inquiry", answers: map[int]any{201: receiptAnswer{}, 200: receiptAnswer{}}},
	{route: "GET /api/v1/inquiries/{key}", summary: "The inquiry as its customer sees it.", answers: map[int]any{200: ownView{}}},
	{route: "POST /api/v1/inquiries/{key}/additions", summary: "Add photos, a reading or an answer.", form: "Addition", answers: map[int]any{200: ownView{}}},
	{route: "POST /api/v1/inquiries/{key}/decision", summary: "Take the quote, or not.", body: decision{}, answers: map[int]any{200: ownView{}}},
	{route: "POST /api/v1/inquiries/{key}/withdrawal", summary: "Close the inquiry: it is not needed any more.", answers: map[int]any{200: ownView{}}},
	{route: "GET /api/v1/inquiries/{key}/quote", summary: "The newest quote.", answers: map[int]any{200: quote.Quote{}}},
	{route: "GET /api/v1/inquiries/{key}/quote.pdf", summary: "The newest quote as PDF.", answers: map[int]any{200: pdfFile{}}},
	{route: "GET /api/v1/door", summary: "What hinges suit a door.", query: []string{"door_width", "door_height", "door_thickness", "door_count", "door_core", "door_material", "door_place", "door_use", "door_swing", "door_weight", "door_inset", "door_clearance", "door_closer", "door_fire_rated"}, answers: map[int]any{200: doorAnswer{}}},
	{route: "POST /api/v1/sign-in", summary: "Sign in at the counter. The token goes into Authorization: Bearer.", body: map[string]string{"name": "", "password": ""}, answers: map[int]any{200: signInAnswer{}}},

	{route: "GET /api/v1/counter/inquiries", summary: "List inquiries; status may come several times, is open by default, and all takes closed ones too.", query: []string{"status", "turn", "q", "sort", "limit", "page", "offset"}, answers: map[int]any{200: listAnswer{}}, counter: true},
	{route: "GET /api/v1/counter/inquiries/{id}", summary: "One inquiry with findings, proposal, quotes, timeline and letters.", answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "GET /api/v1/counter/inquiries/{id}/quote", summary: "Its newest quote.", answers: map[int]any{200: quote.Quote{}}, counter: true},
	{route: "GET /api/v1/counter/inquiries/{id}/quote.pdf", summary: "Its newest quote as PDF.", answers: map[int]any{200: pdfFile{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/additions", summary: "Add photos or words that the customer brought to the counter.", form: "Addition", answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/price", summary: "Work out a quote without making it. Empty fields are filled in as proposed. lines come behind the hinge of stock_number, count and each; where none of these is there, a hinge that lines begin with is the first.", body: act{}, answers: map[int]any{200: quote.Quote{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/approve", summary: "Approve and send the quote. version is the inquiry's as it was seen. Unusual prices are refused (unusual_price) without confirm_price; on a fire-rated opening confirm_fire says that its label was checked.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/ask-photo", summary: "Ask the customer for another photo; message says what to do differently.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/ask", summary: "Ask the customer the question in message.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/decline", summary: "Decline, with the reason in message.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/withdraw", summary: "Close it on the customer's wish.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/decide", summary: "Note whether the quote was taken.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/revise", summary: "Send another quote in place of the one that is out. The body says all of it; without stock_number its hinge stays. Unusual prices are refused (unusual_price) without confirm_price.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/resend", summary: "Send the letter of the newest quote again.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/extend", summary: "Let the newest quote hold until the end of valid_until, a day such as 2026-04-30; without it, for as long as a new one.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/overrule", summary: "Overrule a suggested slip (quantity:slip), or accept it.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "POST /api/v1/counter/inquiries/{id}/note", summary: "Write a note into the timeline.", body: act{}, answers: map[int]any{200: quote.Dossier{}}, counter: true},
	{route: "GET /api/v1/counter/stock", summary: "The stock list; q keeps the hinges in which every word occurs.", query: []string{"q"}, answers: map[int]any{200: stockAnswer{}}, counter: true},
	{route: "GET /api/v1/counter/figures", summary: "The owner's counts.", answers: map[int]any{200: figures{}}, counter: true},
}

// figures has its own name in the document.
type figures quote.Figures

// schemas makes JSON schemas of Go types, each struct once.
type schemas map[string]any

func (s schemas) of(t reflect.Type) map[string]any {
	switch t {
	case reflect.TypeFor[time.Time]():
		return map[string]any{"type": "string", "format": "date-time"}
	case reflect.TypeFor[currency.Amount]():
		return map[string]any{"type": "object", "required": []string{"number", "currency"}, "properties": map[string]any{
			"number": map[string]any{"type": "string"}, "currency": map[string]any{"type": "string"}}}
	case reflect.TypeFor[measure.Pixel]():
		return map[string]any{"type": "array", "items": map[string]any{"type": "number"}, "minItems": 2, "maxItems": 2}
	case reflect.TypeFor[measure.Length]():
		return map[string]any{"type": "number", "description": "millimetres"}
	case reflect.TypeFor[quote.Status]():
		return map[string]any{"type": "string", "enum": quote.Statuses}
	case reflect.TypeFor[measure.Reason]():
		return map[string]any{"type": "string", "enum": measure.Reasons}
	case reflect.TypeFor[pdfFile]():
		return map[string]any{"type": "string", "format": "binary"}
	}
	switch t.Kind() {
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.Int, reflect.Int64:
		return map[string]any{"type": "integer"}
	case reflect.Pointer:
		in := s.of(t.Elem())
		if ref, ok := in["$ref"]; ok {
			return map[string]any{"nullable": true, "allOf": []any{map[string]any{"$ref": ref}}}
		}
		in["nullable"] = true
		return in
	case reflect.Slice:
		return map[string]any{"type": "array", "nullable": true, "items": s.of(t.Elem())}
	case reflect.Array:
		return map[string]any{"type": "array", "minItems": t.Len(), "maxItems": t.Len(), "items": s.of(t.Elem())}
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Struct:
		name := strings.ToUpper(t.Name()[:1]) + t.Name()[1:]
		if pkg := t.PkgPath()[strings.LastIndex(t.PkgPath(), "/")+1:]; pkg != "api" {
			name = strings.ToUpper(pkg[:1]) + pkg[1:] + name
		}
		if _, done := s[name]; !done {
			s[name] = nil // a struct within itself ends here
			properties, required := map[string]any{}, []string{}
			s.fields(t, properties, &required)
			s[name] = map[string]any{"type": "object", "properties": properties, "required": required}
		}
		return map[string]any{"$ref": "#/components/schemas/" + name}
	}
	panic("no schema for " + t.String())
}

func (s schemas) fields(t reflect.Type, properties map[string]any, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && name == "":
			s.fields(f.Type, properties, required)
		case name == "-" || !f.IsExported():
		default:
			if name == "" {
				name = f.Name
			}
			properties[name] = s.of(f.Type)
			if options == "" {
				*required = append(*required, name)
			}
		}
	}
}

// document builds the OpenAPI document of the operations.
func document(t *testing.T) []byte {
	t.Helper()
	all := schemas{}
	textField := map[string]any{"type": "string"}
	photos := map[string]any{"type": "array", "maxItems": quote.MaxPhotos, "items": map[string]any{"type": "string", "format": "binary"}}
	inquiry := map[string]any{"photo": photos}
	for name := range (&form{}).fields() {
		if name != "once" && name != "text" {
			inquiry[name] = textField
		}
	}
	all["Inquiry"] = map[string]any{"type": "object", "required": []string{"photo"}, "properties": inquiry}
	all["Addition"] = map[string]any{"type": "object", "properties": map[string]any{"photo": photos, "text": textField}}
	wrong := map[string]any{"description": "What went wrong and what to do (RFC 9457).", "content": map[string]any{
		"application/problem+json": map[string]any{"schema": all.of(reflect.TypeFor[problem]())}}}

	paths := map[string]any{}
	for _, o := range operations {
		method, path, _ := strings.Cut(o.route, " ")
		var params []any
		for _, m := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(path, -1) {
			kind := "string"
			if m[1] == "id" {
				kind = "integer"
			}
			params = append(params, map[string]any{"name": m[1], "in": "path", "required": true, "schema": map[string]any{"type": kind}})
		}
		for _, q := range o.query {
			params = append(params, map[string]any{"name": q, "in": "query", "schema": textField})
		}
		one := map[string]any{"summary": o.summary, "operationId": regexp.MustCompile(`[^a-z]+`).ReplaceAllString(strings.ToLower(o.route), "_")}
		if o.form == "Inquiry" {
			params = append(params, map[string]any{"name": "Idempotency-Key", "in": "header", "schema": textField})
		}
		if params != nil {
			one["parameters"] = params
		}
		if o.form != "" {
			one["requestBody"] = map[string]any{"required": true, "content": map[string]any{"multipart/form-data": map[string]any{"schema": map[string]any{"$ref": "#/components/schemas/" + o.form}}}}
		}
		if o.body != nil {
			one["requestBody"] = map[string]any{"required": true, "content": map[string]any{"application/json": map[string]any{"schema": all.of(reflect.TypeOf(o.body))}}}
		}
		answers := map[string]any{"default": wrong}
		for status, v := range o.answers {
			kind := "application/json"
			if _, ok := v.(pdfFile); ok {
				kind = "application/pdf"
			}
			answers[fmt.Sprint(status)] = map[string]any{"description": http.StatusText(status), "content": map[string]any{kind: map[string]any{"schema": all.of(reflect.TypeOf(v))}}}
		}
		one["responses"] = answers
		if o.counter {
			one["security"] = []any{map[string]any{"bearer": []string{}}}
		}
		at, _ := paths[path].(map[string]any)
		if at == nil {
			at = map[string]any{}
			paths[path] = at
		}
		at[strings.ToLower(method)] = one
	}
	b, err := json.MarshalIndent(map[string]any{
		"openapi": "3.0.3",
		"info": map[string]any{"title": "leafgauge", "version": "1",
			"description": "Photos of a hinge beside an ISO/IEC 7810 ID-1 card and typed readings in, a matched replacement and a quote out. Lengths are millimetres; u is a standard uncertainty (k = 1)."},
		"paths": paths,
		"components": map[string]any{"schemas": all, "securitySchemes": map[string]any{
			"bearer": map[string]any{"type": "http", "scheme": "bearer"}}},
	}, "", " ")
	require.NoError(t, err)
	return append(b, '\n')
}

func TestOpenAPIDocument(t *testing.T) {
	want := document(t)
	if *update {
		require.NoError(t, os.WriteFile("openapi.json", want, 0o644))
	}
	kept, err := os.ReadFile("openapi.json")
	require.NoError(t, err)
	require.True(t, bytes.Equal(want, kept), "openapi.json is not that of the handlers: go test ./api -run OpenAPI -update")

	doc, err := openapi3.NewLoader().LoadFromData(kept)
	require.NoError(t, err)
	require.NoError(t, doc.Validate(context.Background()))

	t.Run("has every route of the API", func(t *testing.T) {
		routes, err := os.ReadFile("routes.go")
		require.NoError(t, err)
		var have, described []string
		for _, m := range regexp.MustCompile(`"((?:GET|POST) /api/v1/[^"]+)"`).FindAllSubmatch(routes, -1) {
			have = append(have, string(m[1]))
		}
		for _, o := range operations {
			described = append(described, o.route)
		}
		slices.Sort(have)
		slices.Sort(described)
		require.Equal(t, have, described)
	})
}

// TestAnswersAreAsDescribed sends one request of each operation, and checks request and
// answer against the document with an independent validator.
func TestAnswersAreAsDescribed(t *testing.T) {
	b := newBench(t)
	doc, err := openapi3.NewLoader().LoadFromData(openapiFile)
	require.NoError(t, err)
	router, err := legacy.NewRouter(doc)
	require.NoError(t, err)
	seen := map[string]bool{}
	check := func(r *http.Request, status int) *httptest.ResponseRecorder {
		t.Helper()
		var body []byte
		if r.Body != nil {
			var buf bytes.Buffer
			_, err := buf.ReadFrom(r.Body)
			require.NoError(t, err)
			body = buf.Bytes()
		}
		r.Body = http.NoBody
		if len(body) > 0 {
			r.Body = readCloser{bytes.NewReader(body)}
		}
		route, params, err := router.FindRoute(r)
		require.NoError(t, err, r.URL)
		in := &openapi3filter.RequestValidationInput{Request: r, PathParams: params, Route: route, Options: &openapi3filter.Options{
			AuthenticationFunc: openapi3filter.NoopAuthenticationFunc, ExcludeRequestBody: strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/")}}
		if status < 400 {
			require.NoError(t, openapi3filter.ValidateRequest(context.Background(), in), r.URL)
		}
		if len(body) > 0 {
			r.Body = readCloser{bytes.NewReader(body)}
		}
		w := b.do(r)
		require.Equal(t, status, w.Code, w.Body.String())
		out := &openapi3filter.ResponseValidationInput{RequestValidationInput: in, Status: w.Code, Header: w.Header(),
			Options: &openapi3filter.Options{IncludeResponseStatus: true, ExcludeResponseBody: w.Header().Get("Content-Type") == "application/pdf"}}
		out.SetBodyBytes(w.Body.Bytes())
		require.NoError(t, openapi3filter.ValidateResponse(context.Background(), out), r.URL)
		seen[r.Method+" "+route.Path] = true
		return w
	}
	get := func(path string, status int) { t.Helper(); check(httptest.NewRequest("GET", path, nil), status) }
	post := func(path, body string, status int) {
		t.Helper()
		r := httptest.NewRequest("POST", path, strings.NewReader(body))
		r.Header.Set("Content-Type", asJSON)
		check(r, status)
	}

	w := check(b.form("/api/v1/inquiries", b.photo(), field("readings", "3 1/2 x 1 3/4 in, who knows"), field("email", "ana@example.org")), 201)
	own := "/api/v1/inquiries/" + decode[receiptAnswer](t, w).Key
	check(b.form("/api/v1/inquiries", field("readings", "no photo")), 422)
	get(own, 200)
	get("/api/v1/inquiries/wrong", 404)
	b.desk.ready(1, quote.NeedsAnswer)
	get(own, 200)
	check(b.form(own+"/additions", field("text", "0.086 thick")), 200)
	b.desk.ready(1, quote.NeedsPhoto)
	get(own, 200)
	b.desk.ready(1, quote.Ready)
	get(own+"/quote", 404)
	get("/api/v1/door?door_width=32+in&door_height=80+in", 200)
	get("/api/v1/door?door_width=wide", 422)

	counter := "/api/v1/counter/inquiries"
	get(counter, 401)
	post("/api/v1/sign-in", `{"name":"olive","password":"oak doors"}`, 200)
	b.signIn("olive", "oak doors")
	get(counter+"?status=ready&turn=counter&sort=age&q=ana&page=1&limit=5", 200)
	get(counter+"?status=odd", 422)
	get(counter+"/1", 200)
	version := func() int { return b.desk.byID[1].Inquiry.Version }
	do := func(act, body string) {
		t.Helper()
		post(counter+"/1/"+act, fmt.Sprintf(`{"version":%d%s}`, version(), body), 200)
	}
	check(b.form(counter+"/1/additions", b.photo(), field("text", "she says 0.086 thick")), 200)
	b.desk.ready(1, quote.Ready)
	do("price", `,"count":4,"each":"3.10"`)
	do("note", `,"message":"rang her"`)
	do("overrule", `,"slip":"open_width:leaf_width","overrule":false`)
	b.desk.ready(1, quote.Ready)
	do("ask-photo", `,"message":"from above"`)
	do("ask", `,"message":"how thick?"`)
	do("approve", `,"message":"here it is"`)
	do("revise", `,"lines":[{"stock_number":"H-1041","count":2},{"text":"Fitting","each":"35"}],"discount":"10 %","discount_reason":"second visit","delivery":"6","delivery_text":"by post"`)
	do("resend", "")
	do("extend", `,"valid_until":"2026-05-30"`)
	get(counter+"/1/quote", 200)
	get(counter+"/1/quote.pdf", 200)
	get(own+"/quote", 200)
	get(own+"/quote.pdf", 200)
	get(own, 200)
	post(counter+"/1/approve", `{"version":1}`, 409)
	post(own+"/decision", `{"take":false,"why":"found one"}`, 200)
	get("/api/v1/counter/stock?q=ball", 200)
	get("/api/v1/counter/figures", 200)
	for _, act := range []string{"decline", "withdraw"} {
		w := check(b.form("/api/v1/inquiries", b.photo()), 201)
		id := decode[receiptAnswer](t, w).ID
		b.desk.ready(id, quote.Ready)
		post(fmt.Sprintf("%s/%d/%s", counter, id, act), `{"version":3,"message":"we do not carry these"}`, 200)
	}
	w = check(b.form("/api/v1/inquiries", b.photo()), 201)
	check(httptest.NewRequest("POST", "/api/v1/inquiries/"+decode[receiptAnswer](t, w).Key+"/withdrawal", nil), 200)
	w = check(b.form("/api/v1/inquiries", b.photo()), 201)
	id := decode[receiptAnswer](t, w).ID
	b.desk.ready(id, quote.Ready)
	_, err = b.desk.Approve(context.Background(), id, 3, "olive", quote.Approval{StockNumber: "H-1041", Count: 2})
	require.NoError(t, err)
	post(fmt.Sprintf("%s/%d/decide", counter, id), `{"version":5,"won":true}`, 200)

	for _, o := range operations {
		require.True(t, seen[o.route], "%s was not tried", o.route)
	}
	require.Len(t, slices.Collect(maps.Keys(seen)), len(operations))
}

type readCloser struct{ *bytes.Reader }

func (readCloser) Close() error { return nil }
