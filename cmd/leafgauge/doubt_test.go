package main

import (
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// ask posts photos with a text and waits for what is made of them.
func (s *site) ask(t *testing.T, text string, photos ...string) (quote.Dossier, demoSent) {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for _, photo := range photos {
		data, err := os.ReadFile(filepath.Join(testdata, photo))
		require.NoError(t, err)
		part, err := form.CreateFormFile("photo", filepath.Base(photo))
		require.NoError(t, err)
		_, err = part.Write(data)
		require.NoError(t, err)
	}
	require.NoError(t, form.WriteField("readings", text))
	require.NoError(t, form.WriteField("email", "lee@customer.example"))
	require.NoError(t, form.Close())
	web := client{base: s.api().base}
	q, err := http.NewRequestWithContext(t.Context(), "POST", web.base+"/api/v1/inquiries", &body)
	require.NoError(t, err)
	q.Header.Set("Content-Type", form.FormDataContentType())
	var sent demoSent
	require.NoError(t, web.do(q, &sent))
	return s.made(t, sent), sent
}

// made waits until an inquiry is worked out.
func (s *site) made(t *testing.T, sent demoSent) quote.Dossier {
	t.Helper()
	require.NoError(t, demoWait(t.Context(), client{base: s.api().base}, sent.Links.Self))
	d, err := s.api().desk.Dossier(t.Context(), sent.ID)
	require.NoError(t, err)
	return d
}

// add posts a further text of the customer.
func (s *site) add(t *testing.T, sent demoSent, text string) quote.Dossier {
	t.Helper()
	client{base: s.api().base}.post(t, "/api/v1/inquiries/"+sent.Key+"/additions", "", [][2]string{{"readings", text}}, &struct{}{})
	return s.made(t, sent)
}

// TestDoubtsGoToTheCustomer sends photos and words that leave a doubt, and follows it to the question that goes out, and to
// the page of the counter, which has no button for one click.
func TestDoubtsGoToTheCustomer(t *testing.T) {
	s := &site{cfg: testConfig(t)}
	s.start(t, "all")
	require.NoError(t, demoShelf(t.Context(), s.api(), filepath.Join(testdata, demoStock)))
	require.NoError(t, s.api().desk.AddUser(t.Context(), "ruth", "four brass screws", true))
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	pages := &http.Client{Jar: jar}
	in, err := pages.PostForm(s.api().base+"/counter/sign-in", url.Values{"name": {"ruth"}, "password": {"four brass screws"}})
	require.NoError(t, err)
	in.Body.Close()
	review := func(t *testing.T, id quote.ID) string {
		t.Helper()
		a, err := pages.Get(s.api().base + fmt.Sprintf("/counter/inquiries/%d", id))
		require.NoError(t, err)
		defer a.Body.Close()
		page, err := io.ReadAll(a.Body)
		require.NoError(t, err)
		return string(page)
	}

	t.Run("two hinges told apart by photo", func(t *testing.T) {
		d, sent := s.ask(t, "4 x 4\n\nphoto 1 is the top hinge, photo 2 the cupboard one. I need 3 of the first and 2 of the second", "photos/003.jpg", "photos/001.jpg")
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		s.letterWith(t, "Your photos show two different hinges: photo 1 and photo 2. Which one is it about?")
		d = s.add(t, sent, "photo 1")
		require.InDelta(t, 101.63, d.Proposal.Best.Height.Value.MM(), 0.3) // photos/003.json
	})
	t.Run("a photo of another hinge than typed", func(t *testing.T) {
		d, sent := s.ask(t, "3 1/2 x 3 1/2 in, 0.086 thick", "photos/002.jpg")
		require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
		s.letterWith(t, "you typed 3½ in (88.9 mm) high and 3½ in (88.9 mm) wide open: they look like two different hinges. Which one is it about?")
		d = s.add(t, sent, "the one in the photo")
		require.Equal(t, quote.Ready, d.Inquiry.Status)
		page := review(t, sent.ID)
		require.Contains(t, page, "Not by one click")
		require.NotContains(t, page, "Change something first", "which stands beside the button")
	})
	t.Run("a metric name", func(t *testing.T) {
		d, _ := s.ask(t, "100 x 100 mm, 2.5mm thick", "photos/008.jpg")
		require.Empty(t, d.Proposal.Best.Disagreements)
		require.InDelta(t, 2.51, d.Proposal.Best.Thickness.Value.MM(), 0.1) // photos/008.json
		require.Equal(t, "H1200", d.Proposal.Fits[0].Item.StockNumber, "4 x 4 in of 0.097 in")
	})
	t.Run("a size that is hardly known", func(t *testing.T) {
		d, _ := s.ask(t, "about 9cm tall, 9 cm across open", "world/003.jpg")
		work := strings.Join(d.Proposal.Fits[0].Work, "\n")
		require.Contains(t, work, "Measure the old hinge's height before anything is cut")
		require.NotContains(t, work, "engthen both cut-outs")
		require.NotContains(t, work, "fill the gap")
	})
	t.Run("a hinge that is much too short", func(t *testing.T) {
		d, sent := s.ask(t, "100 x 75 mm, 2.5 mm thick", "world/012.jpg")
		for range 3 {
			if d.Inquiry.Status != quote.Ready {
				d = s.add(t, sent, "I have no other photo and cannot say more")
			}
		}
		require.Equal(t, quote.Ready, d.Inquiry.Status)
		require.Contains(t, strings.Join(d.Proposal.Fits[0].Against, "\n"), "It leaves a gap of 7/16 in (11.1 mm) in the old cut-out")
		page := review(t, sent.ID)
		require.Contains(t, page, "Not by one click")
		require.NotContains(t, page, "Change something first")
	})
	t.Run("a thickness that no photo shows", func(t *testing.T) {
		for _, photos := range [][]string{{"photos/017.jpg"}, {"photos/001.jpg", "photos/001.jpg"}} {
			d, sent := s.ask(t, "", photos...)
			require.Equal(t, quote.NeedsAnswer, d.Inquiry.Status)
			require.Contains(t, d.Inquiry.Question, "How thick is one leaf at its outer edge")
			d = s.add(t, sent, "I have no caliper")
			require.Contains(t, d.Inquiry.Question, "How many cards is it?")
		}
	})
	t.Run("coarse answers take nothing away", func(t *testing.T) {
		d, sent := s.ask(t, "", "photos/001.jpg")
		was := d.Proposal.Fits[0].P
		d = s.add(t, sent, "leaf is 2mm thick") // 2.01 mm, photos/001.json
		require.Equal(t, "H1001", d.Proposal.Fits[0].Item.StockNumber)
		require.Greater(t, d.Proposal.Fits[0].P, was)
	})
}
