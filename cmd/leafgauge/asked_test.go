package main

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leafgauge/intake"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// post sends a form with a photo, or without where photo is "".
func (c client) post(t *testing.T, path, photo string, fields [][2]string, out any) {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	if photo != "" {
		data, err := os.ReadFile(filepath.Join(testdata, photo))
		require.NoError(t, err)
		part, err := form.CreateFormFile("photo", filepath.Base(photo))
		require.NoError(t, err)
		_, err = part.Write(data)
		require.NoError(t, err)
	}
	for _, f := range fields {
		require.NoError(t, form.WriteField(f[0], f[1]))
	}
	require.NoError(t, form.Close())
	q, err := http.NewRequestWithContext(t.Context(), "POST", c.base+path, &body)
	require.NoError(t, err)
	q.Header.Set("Content-Type", form.FormDataContentType())
	require.NoError(t, c.do(q, out))
}

// letterWith waits for a letter that holds text, and returns its own.
func (s *site) letterWith(t *testing.T, text string) (body string) {
	t.Helper()
	eventually(t, "a letter with “"+text+"”", func() bool {
		for _, name := range s.letters(t) {
			raw, err := os.ReadFile(filepath.Join(s.cfg.mailOut(), name))
			require.NoError(t, err)
			m, err := intake.ParseMail(raw)
			require.NoError(t, err)
			if body = strings.Join(strings.Fields(m.Text), " "); strings.Contains(body, text) {
				return true
			}
		}
		return false
	})
	return body
}

// TestANumberThatMayBeTwoIsAskedAbout goes from a posted photo with two digits of the thickness exchanged to the letter that
// asks, over an answer that says nothing to one that settles it. The leaf of 006 is 3.27 mm thick (its truth), .129 in.
func TestANumberThatMayBeTwoIsAskedAbout(t *testing.T) {
	s := &site{cfg: testConfig(t)}
	s.start(t, "all")
	ctx := t.Context()
	require.NoError(t, demoShelf(ctx, s.api(), filepath.Join(testdata, demoStock)))
	web := client{base: s.api().base}
	var sent demoSent
	web.post(t, "/api/v1/inquiries", "photos/006.jpg", [][2]string{{"readings", "leaf thickness .192 in"}, {"email", "lee@customer.example"}}, &sent)
	require.NoError(t, demoWait(ctx, web, sent.Links.Self))
	dossier := func() quote.Dossier {
		t.Helper()
		require.NoError(t, demoWait(ctx, web, sent.Links.Self))
		d, err := s.api().desk.Dossier(ctx, sent.ID)
		require.NoError(t, err)
		return d
	}
	d := dossier()
	require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status, "%+v", d.Proposal.Best.Disagreements)
	const both = "You typed .192 in for the thickness of a leaf: that may be "
	letter := s.letterWith(t, both)
	for _, want := range []string{"0.096 in (2.44 mm)", "0.129 in (3.28 mm)", "How thick is one leaf"} {
		require.Contains(t, letter, want)
	}

	web.post(t, "/api/v1/inquiries/"+sent.Key+"/additions", "", [][2]string{{"readings", "dunno, looks thin"}}, &struct{}{})
	d = dossier()
	require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
	require.Contains(t, d.Inquiry.Text, "dunno, looks thin", "nothing is lost")
	require.Contains(t, s.letterWith(t, "We could not use the answer “dunno, looks thin” to our question."), "How many cards is it?", "another way to answer")

	web.post(t, "/api/v1/inquiries/"+sent.Key+"/additions", "", [][2]string{{"readings", "4 1/2 cards"}}, &struct{}{})
	d = dossier()
	require.Empty(t, d.Proposal.Best.Rivals)
	require.InDelta(t, 3.27, d.Proposal.Best.Thickness.Value.MM(), 2*d.Proposal.Best.Thickness.Sigma.MM())
	require.NotEqual(t, quote.NeedsAnswer, d.Inquiry.Status, "%v", d.Proposal.Question)
	require.InDelta(t, 101.83, d.Proposal.Best.OpenWidth.Value.MM(), 3*d.Proposal.Best.OpenWidth.Sigma.MM(), "the photo was measured with what is believed")
}
