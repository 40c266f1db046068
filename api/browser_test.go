package api

import (
	"context"
	"fmt"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leafgauge/quote"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// newBrowser starts a headless Chromium for one test.
func newBrowser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	require.NotEmpty(t, path, "no Chromium in PATH: install it (on Debian: apt-get install chromium), or run go test -short")
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(ctx)) // starts it, so that the time limit below is not the browser's own
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// checkPage is run in every page: controls without a name, pictures without words, text of
// too little contrast (WCAG 2.2, 1.4.3: 4.5 to 1), headings that skip a level (1.3.1), targets
// under 24 px (2.5.8), and a page wider than its window (1.4.10).
const checkPage = `(() => {
  const found = [];
  const shown = (e) => e.checkVisibility && e.checkVisibility() && e.getClientRects().length > 0;
  const lum = (c) => { const v = c.map((x) => { x /= 255; return x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4; }); return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
  const rgb = (s) => { const m = s.match(/[\d.]+/g).map(Number); return m.length > 3 && m[3] === 0 ? null : m.slice(0, 3); };
  const ground = (e) => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c) return c; } return [255, 255, 255]; };
  for (const e of document.querySelectorAll("input:not([type=hidden]), select, textarea")) {
    if (!e.labels || e.labels.length === 0) found.push("no label: " + e.outerHTML.slice(0, 80));
  }
  for (const e of document.querySelectorAll("img:not([alt]), svg:not([aria-label]):not([aria-labelledby]):not([aria-hidden])")) found.push("no words: " + e.outerHTML.slice(0, 80));
  for (const e of document.querySelectorAll("a, button, summary")) if (!e.textContent.trim() && !e.querySelector("img[alt]")) found.push("no name: " + e.outerHTML.slice(0, 80));
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  for (const id of ids.filter((x, i) => ids.indexOf(x) !== i)) found.push("id twice: " + id);
  for (const e of document.querySelectorAll("[aria-labelledby], [aria-describedby]")) for (const a of ["aria-labelledby", "aria-describedby"]) if (e.getAttribute(a) && !document.getElementById(e.getAttribute(a))) found.push(a + " names nothing: " + e.getAttribute(a));
  let level = 0;
  for (const h of document.querySelectorAll("h1, h2, h3, h4")) { const l = +h.tagName[1]; if (l > level + 1) found.push("heading skips a level: " + h.textContent); level = l; }
  if (document.querySelectorAll("h1").length !== 1) found.push("not one h1");
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode()); ) {
    const e = n.parentElement;
    if (!n.textContent.trim() || !shown(e) || e.closest("svg, option")) continue;
    const a = lum(rgb(getComputedStyle(e).color) || [0, 0, 0]), b = lum(ground(e));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) found.push("contrast " + ratio.toFixed(2) + ": " + n.textContent.trim().slice(0, 40));
  }
  for (const e of document.querySelectorAll("button, input:not([type=hidden]), select, summary")) { const r = e.getBoundingClientRect(); if (shown(e) && (r.height < 24 || r.width < 20)) found.push("too small: " + e.outerHTML.slice(0, 80)); }
  if (document.documentElement.scrollWidth > document.documentElement.clientWidth + 1) {
    const wide = [...document.querySelectorAll("main *")].filter((e) => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest(".scroll")).map((e) => e.tagName + "." + e.className);
    found.push("wider than the window: " + wide.slice(0, 4).join(", "));
  }
  return found;
})()`

// TestPagesInABrowser opens every page in two widths and both colour schemes.
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
	ctx := newBrowser(t)
	require.NoError(t, chromedp.Do(ctx,
		chromedp.Navigate(server.URL+"/counter/sign-in"), chromedp.SendKeys(chromedp.CSS("#name"), "olive"),
		chromedp.SendKeys(chromedp.CSS("#password"), "oak doors"), chromedp.Click(chromedp.CSS("form.narrow button")), chromedp.WaitVisible(chromedp.CSS(".list"))))

	shots := os.Getenv("LEAFGAUGE_SHOTS")
	for _, p := range []struct{ name, path string }{
		{"ask", "/"}, {"door", "/door?door_width=32+in&door_height=80+in&door_thickness=1+3/8+in&door_fire_rated=yes"}, {"door-empty", "/door"}, {"problems", "/problems"}, {"fault", "/nothing"},
		{"received", "/i/" + keys[quote.Received]}, {"needs-photo", "/i/" + keys[quote.NeedsPhoto]}, {"needs-answer", "/i/" + keys[quote.NeedsAnswer]},
		{"own-ready", "/i/" + keys[quote.Ready]}, {"own-quoted", "/i/" + keys[quote.Quoted]},
		{"sign-in", "/counter/sign-in"}, {"queue", "/counter/"}, {"queue-none", "/counter/?q=nobody"}, {"stock", "/counter/stock"}, {"figures", "/counter/figures"},
		{"review-received", "/counter/inquiries/1"}, {"review-photo", "/counter/inquiries/2"}, {"review", "/counter/inquiries/4"}, {"review-quoted", "/counter/inquiries/5"},
	} {
		for _, width := range []int64{390, 1280} {
			for _, scheme := range []string{"light", "dark"} {
				t.Run(fmt.Sprintf("%s at %d px, %s", p.name, width, scheme), func(t *testing.T) {
					require.NoError(t, chromedp.Do(ctx, media(scheme), chromedp.EmulateViewport(width, 900), chromedp.Navigate(server.URL+p.path),
						chromedp.Evaluate[chromedp.Void](`for (const d of document.querySelectorAll("details")) d.open = true`)))
					found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](checkPage))
					require.NoError(t, err)
					require.Empty(t, found, strings.Join(found, "\n"))
					if shots != "" && scheme == "light" {
						require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(server.URL+p.path)))
						shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
						require.NoError(t, err)
						require.NoError(t, os.MkdirAll(shots, 0o755))
						require.NoError(t, os.WriteFile(filepath.Join(shots, fmt.Sprintf("%s-%d.png", p.name, width)), shot, 0o644))
					}
				})
			}
		}
	}
}

// media sets the colour scheme that the reader prefers.
func media(scheme string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return chromedp.Void{}, err
	}
}
