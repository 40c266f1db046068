package api

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// pngHeader is a PNG that claims a size and has no such pixels.
func pngHeader(width, height uint32) []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk := binary.BigEndian.AppendUint32([]byte("IHDR"), width)
	chunk = append(binary.BigEndian.AppendUint32(chunk, height), 8, 2, 0, 0, 0)
	binary.Write(&b, binary.BigEndian, uint32(13))
	b.Write(chunk)
	binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(chunk))
	return b.Bytes()
}

func encoded(t *testing.T, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, w, h)), nil))
	return b.Bytes()
}

func TestBadPhotos(t *testing.T) {
	good := photoFile(t)
	wrongSize := bytes.Clone(good)
	at := bytes.Index(wrongSize, []byte{0xff, 0xc0}) // baseline frame header, ITU-T T.81 B.2.2
	require.Positive(t, at)
	binary.BigEndian.PutUint16(wrongSize[at+5:], 3000)
	var tiny bytes.Buffer
	require.NoError(t, png.Encode(&tiny, image.NewGray(image.Rect(0, 0, 1, 1))))

	one := func(name string, data []byte) []part { return []part{{"photo", name, data}} }
	many := func(n int) (all []part) {
		for i := range n {
			all = append(all, part{"photo", fmt.Sprintf("%d.jpg", i), good})
		}
		return all
	}
	for _, tt := range []struct {
		name   string
		parts  []part
		status int
		code   string
	}{
		{"text called a photo", one("hinge.jpg", []byte("this is not a picture at all")), 422, ""},
		{"a cut-off JPEG", one("hinge.jpg", good[:len(good)/2]), 422, intake.CodeDamaged},
		{"one pixel", one("dot.png", tiny.Bytes()), 422, intake.CodeTooFewPixels},
		{"60 megapixels", one("huge.png", pngHeader(10000, 6000)), 422, intake.CodeTooManyPixels},
		{"a false size in the header", one("hinge.jpg", wrongSize), 422, intake.CodeDamaged},
		{"a GIF", one("hinge.gif", []byte("GIF89a\x10\x00\x10\x00\x80\x00\x00\x00\x00\x00\xff\xff\xff,\x00\x00\x00\x00\x10\x00\x10\x00\x00\x02\x01\x00;")), 422, intake.CodeUnsupported},
		{"an empty file", one("hinge.jpg", nil), 422, intake.CodeEmpty},
		{"no photo at all", nil, 422, "no_photo"},
		{"20 photos", many(20), 422, "too_many_photos"},
		{"one of 50 MB", one("hinge.jpg", append(bytes.Clone(good), make([]byte, 50<<20)...)), 413, intake.CodeTooLarge},
		{"70 MB in all", append(append(one("a.jpg", make([]byte, 24<<20)), one("b.jpg", make([]byte, 24<<20))...), one("c.jpg", make([]byte, 24<<20))...), 413, "body_too_large"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t)
			rest := []part{field("readings", "3 1/2 x 3 1/2 in"), field("email", "ana@example.org")}
			w := b.do(b.form("/api/v1/inquiries", append(rest, tt.parts...)...))
			if tt.code == "" {
				tt.code = decode[problem](t, w).Code
			}
			requireProblem(t, w, tt.status, tt.code)

			w = b.do(b.form("/", append(rest, tt.parts...)...))
			require.Equal(t, tt.status, w.Code)
			page := parse(t, w)
			require.NotEmpty(t, page.texts("#errors li"))
			require.Equal(t, "3 1/2 x 3 1/2 in", page.text("textarea#readings"), "what was typed is kept")
			require.Empty(t, b.desk.byID, "nothing half-written stays")
			require.Empty(t, b.desk.photos)
		})
	}
	t.Run("a one-pixel JPEG too", func(t *testing.T) {
		b := newBench(t)
		requireProblem(t, b.do(b.form("/api/v1/inquiries", one("dot.jpg", encoded(t, 1, 1))...)), 422, intake.CodeTooFewPixels)
	})
}

func TestBadFields(t *testing.T) {
	for _, tt := range []struct{ field, value, says string }{
		{"email", "ana at example", "is not an e-mail address"},
		{"email", "Ana <ana@example.org>", "is not an e-mail address"},
		{"name", "Ana\r\nBcc: all@example.org", "one line"},
		{"door_width", "wide", "The door's width is “wide”"},
		{"door_height", "3 mm", "The door's height is “3 mm”"},
		{"door_count", "-2", "whole number"},
		{"door_core", "foam", "hollow, solid"},
		{"door_weight", "heavy", "30 kg or 66 lb"},
		{"door_swing", "up", "in, out"},
		{"door_closer", "maybe", "yes or no"},
		{"door_colour", "red", "“door_colour”"},
		{"wanted_count", "a few", "whole number"},
		{"readings", strings.Repeat("x", maxTextBytes+1), "100 kB"},
	} {
		t.Run(tt.field+" "+tt.value[:min(len(tt.value), 12)], func(t *testing.T) {
			b := newBench(t)
			parts := []part{b.photo(), field(tt.field, tt.value)}
			if tt.field != "email" {
				parts = append(parts, field("email", "ana@example.org"))
			}
			p := requireProblem(t, b.do(b.form("/api/v1/inquiries", parts...)), 422, "field")
			require.Equal(t, tt.field, p.Field)
			require.Contains(t, p.Detail, tt.says)
			require.Empty(t, b.desk.byID)
		})
	}
}

// Of the door no parameter and no field is passed over: who misspells one is told which there are.
func TestUnknownDoorFields(t *testing.T) {
	b := newBench(t)
	for query, field := range map[string]string{"door_width=32&width=32": "width", "door_swings=out": "door_swings", "readings=3": "readings",
		"door_width=32&door_width=36": "door_width", "door_fire_rated=perhaps": "door_fire_rated"} {
		p := requireProblem(t, b.get("/api/v1/door?"+query), 422, "field")
		require.Equal(t, field, p.Field, query)
	}
	p := requireProblem(t, b.get("/api/v1/door?door_swings=out"), 422, "field")
	for _, name := range []string{"“door_swings”", "door_width", "door_swing,", "door_weight", "door_fire_rated"} {
		require.Contains(t, p.Detail, name)
	}
	p = requireProblem(t, b.do(b.form("/api/v1/inquiries", b.photo(), field("door_swings", "out"), field("email", "ana@example.org"))), 422, "field")
	require.Equal(t, "door_swings", p.Field)
	require.Contains(t, p.Detail, "door_thickness")
	require.Empty(t, b.desk.byID)
	page := b.do(b.form("/", b.photo(), field("door_swings", "out"), field("email", "ana@example.org")))
	require.Equal(t, http.StatusUnprocessableEntity, page.Code)
	require.Contains(t, parse(t, page).text("[role=alert]"), "“door_swings”")
	w := b.do(b.form("/api/v1/inquiries", b.photo(), field("colour", "red"), field("door_swing", "out"), field("door_weight", "90"), field("email", "ana@example.org")))
	require.Equal(t, http.StatusCreated, w.Code, "another unknown field is nothing to refuse")
	require.Equal(t, "out", b.desk.byID[1].Inquiry.Door.Swing)
	require.InDelta(t, 90, b.desk.byID[1].Inquiry.Door.Weight, 1e-9)
}

func TestDoorAnswer(t *testing.T) {
	b := newBench(t)
	var a struct {
		Answer string           `json:"answer"`
		Door   catalog.Door     `json:"door"`
		Advice []catalog.Advice `json:"advice"`
	}
	w := b.get("/api/v1/door?door_width=36+in&door_height=80+in&door_thickness=1+3/4&door_swing=out&door_place=outside&door_weight=90lb")
	require.Equal(t, http.StatusOK, w.Code)
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &a))
	require.True(t, strings.HasPrefix(a.Answer, "3 hinges, 4½ × 4½ in"), a.Answer)
	require.Contains(t, a.Answer, "non-removable pins")
	require.InDelta(t, 40.823, a.Door.Weight, 0.001) // 90 × 0.45359237, by hand
	require.NotEmpty(t, a.Advice)
}

func TestDamagedRequests(t *testing.T) {
	b := newBench(t)
	cut := httptest.NewRequest("POST", "/api/v1/inquiries", strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"readings\"\r\n\r\n3 1/2"))
	cut.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	requireProblem(t, b.do(cut), 400, "body_unreadable")
	requireProblem(t, b.post("/api/v1/inquiries", "text/plain", "hello"), 415, "body_unreadable")
	requireProblem(t, b.post("/api/v1/sign-in", asJSON, `{"nam":"ruth"}`), 400, "body_unreadable")
	requireProblem(t, b.post("/api/v1/sign-in", asJSON, `{"name":"`+strings.Repeat("x", 2<<20)+`"}`), 413, "body_too_large")
}

// What a customer types is text on every page, never markup.
func TestTypedTextIsNeverMarkup(t *testing.T) {
	b := newBench(t)
	const nasty = `"><script>alert(1)</script><img src=x onerror=alert(1)>`
	w := b.do(b.form("/api/v1/inquiries", part{"photo", nasty + ".jpg", photoFile(t)}, field("readings", nasty), field("name", nasty), field("wanted", nasty), field("door_material", nasty)))
	require.Equal(t, http.StatusCreated, w.Code, w.Body)
	key := decode[receiptAnswer](t, w).Key
	b.desk.ready(1, quote.Ready)
	require.NoError(t, b.desk.Note(t.Context(), 1, "ruth", nasty))
	b.signIn("ruth", "brass screws")
	b.cookie, b.token = b.token, ""
	for _, path := range []string{"/i/" + key, "/counter/", "/counter/inquiries/1"} {
		page := parse(t, b.get(path))
		for _, n := range page.all("script") {
			require.Equal(t, "/static/page.js", attr(n, "src"), path)
		}
		for _, n := range page.all("img") {
			require.Empty(t, attr(n, "onerror"), path)
		}
		require.Contains(t, page.text("body"), "<script>alert(1)</script>", path)
	}
}

// A doc is a parsed page that tests pick from.
type doc struct {
	t    *testing.T
	root *html.Node
}

func parse(t *testing.T, w *httptest.ResponseRecorder) doc {
	t.Helper()
	require.Equal(t, "text/html; charset=utf-8", w.Header().Get("Content-Type"), w.Body.String())
	root, err := html.Parse(bytes.NewReader(w.Body.Bytes()))
	require.NoError(t, err)
	return doc{t, root}
}

// all returns the nodes that a selector of tag#id and tag.class steps picks.
func (d doc) all(selector string) []*html.Node {
	found := []*html.Node{d.root}
	for _, step := range strings.Fields(selector) {
		var next []*html.Node
		for _, from := range found {
			for n := range from.Descendants() {
				if n.Type == html.ElementNode && matches(n, step) {
					next = append(next, n)
				}
			}
		}
		found = next
	}
	return found
}

func matches(n *html.Node, step string) bool {
	rest := step
	if i := strings.IndexAny(step, "#.["); i >= 0 {
		rest = step[i:]
		step = step[:i]
	} else {
		rest = ""
	}
	if step != "" && n.Data != step {
		return false
	}
	switch {
	case strings.HasPrefix(rest, "#"):
		return attr(n, "id") == rest[1:]
	case strings.HasPrefix(rest, "."):
		return strings.Contains(" "+attr(n, "class")+" ", " "+rest[1:]+" ")
	case strings.HasPrefix(rest, "["):
		name, value, _ := strings.Cut(strings.Trim(rest, "[]"), "=")
		return attr(n, name) == value
	}
	return true
}

func (d doc) texts(selector string) (out []string) {
	for _, n := range d.all(selector) {
		out = append(out, words(n))
	}
	return out
}

// text is the text of the first node that selector picks; there must be one.
func (d doc) text(selector string) string {
	d.t.Helper()
	all := d.texts(selector)
	require.NotEmpty(d.t, all, "nothing is "+selector)
	return all[0]
}

func words(n *html.Node) string {
	var b strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			b.WriteString(c.Data)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// Whatever is sent as a form is answered with what to do, never with a failure of ours.
func FuzzForm(f *testing.F) {
	f.Add("multipart/form-data; boundary=x", []byte("--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\n\xff\xd8\xff\r\n--x--\r\n"))
	f.Add("application/x-www-form-urlencoded", []byte("readings=3+1%2F2&door_width=%zz&email=a@b"))
	f.Add("multipart/form-data", []byte("--"))
	f.Fuzz(func(t *testing.T, kind string, body []byte) {
		desk := newFakeDesk()
		h := New(desk, intake.Doorman{}, Options{Now: desk.clock, PostBurst: 1 << 30})
		for _, path := range []string{"/api/v1/inquiries", "/"} {
			r := httptest.NewRequest("POST", path, bytes.NewReader(body))
			r.Header["Content-Type"] = []string{kind}
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			require.Less(t, w.Code, 500, w.Body.String())
			require.NotEmpty(t, w.Body.Bytes())
		}
	})
}
