package api

import (
	"context"
	"fmt"
	"net/http/httptest"
	"testing"
	"time"

	"leafgauge/internal/testbrowser"
	"leafgauge/quote"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestPagesInABrowser opens every page on a phone in light colours and on a desk in dark ones.
func TestPagesInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("-short leaves the browser out")
	}
	b := newBench(t)
	keys := map[quote.Status]string{}
	for _, st := range []quote.Status{quote.Received, quote.NeedsPhoto, quote.NeedsAnswer, quote.Ready, quote.Quoted} {
		keys[st] = b.ask()
		id := quote.ID(len(b.desk.byID))
		switch st {
		case quote.Received:
		case quote.Quoted:
			b.desk.ready(id, quote.Ready)
			_, err := b.desk.Approve(context.Background(), id, 3, "ruth", quote.Approval{StockNumber: "H-1041", Count: 4, Message: "We keep four of these back for you."})
			require.NoError(t, err)
		default:
			b.desk.ready(id, st)
		}
	}
	server := httptest.NewServer(b.handler)
	defer server.Close()
	ctx := testbrowser.New(t, 5*time.Minute)
	require.NoError(t, chromedp.Do(ctx,
		chromedp.Navigate(server.URL+"/counter/sign-in"), chromedp.SendKeys(chromedp.CSS("#name"), "olive"),
		chromedp.SendKeys(chromedp.CSS("#password"), "oak doors"), chromedp.Click(chromedp.CSS("form.narrow button")), chromedp.WaitVisible(chromedp.CSS(".list"))))

	for _, p := range []struct{ name, path string }{
		{"ask", "/"}, {"door", "/door?door_width=32+in&door_height=80+in&door_thickness=1+3/8+in&door_fire_rated=yes"}, {"door-empty", "/door"}, {"problems", "/problems"}, {"fault", "/nothing"},
		{"received", "/i/" + keys[quote.Received]}, {"needs-photo", "/i/" + keys[quote.NeedsPhoto]}, {"needs-answer", "/i/" + keys[quote.NeedsAnswer]},
		{"own-ready", "/i/" + keys[quote.Ready]}, {"own-quoted", "/i/" + keys[quote.Quoted]},
		{"sign-in", "/counter/sign-in"}, {"queue", "/counter/"}, {"queue-none", "/counter/?q=nobody"}, {"stock", "/counter/stock"}, {"figures", "/counter/figures"},
		{"review-received", "/counter/inquiries/1"}, {"review-photo", "/counter/inquiries/2"}, {"review", "/counter/inquiries/4"}, {"review-quoted", "/counter/inquiries/5"},
	} {
		for scheme, width := range map[string]int64{"light": 390, "dark": 1280} {
			t.Run(fmt.Sprintf("%s at %d px, %s", p.name, width, scheme), func(t *testing.T) {
				require.NoError(t, chromedp.Do(ctx, testbrowser.Media(scheme), chromedp.EmulateViewport(width, 900), chromedp.Navigate(server.URL+p.path)))
				testbrowser.Shot(t, ctx, fmt.Sprintf("%s-%d", p.name, width))
				testbrowser.Check(t, ctx)
			})
		}
	}
}
