// Package testbrowser opens pages in a real Chromium for tests, and looks at them for what
// keeps people out.
package testbrowser

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// New starts a headless Chromium for one test, to be used for at most limit.
func New(t *testing.T, limit time.Duration) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	require.NotEmpty(t, path, "no Chromium in PATH: install it (on Debian: apt-get install chromium), or leave the browser out with go test -short")
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(ctx)) // starts it, so that the limit below is not the browser's own
	ctx, cancel = context.WithTimeout(ctx, limit)
	t.Cleanup(cancel)
	return ctx
}

// Media sets the colour scheme that the reader prefers: light or dark.
func Media(scheme string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return chromedp.Void{}, err
	}
}

// Shot saves the whole page as name.png in the folder that LEAFGAUGE_SHOTS names, if it does.
func Shot(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("LEAFGAUGE_SHOTS")
	if dir == "" {
		return
	}
	shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), shot, 0o644))
}

// Check opens every part of the page that is folded and fails on what it finds wrong.
func Check(t *testing.T, ctx context.Context) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](`for (const d of document.querySelectorAll("details")) d.open = true`)))
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](checkPage, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	require.Empty(t, found, strings.Join(found, "\n"))
}

// checkPage is run in every page: controls without a name, pictures without words, text of
// too little contrast (WCAG 2.2, 1.4.3: 4.5 to 1), headings that skip a level (1.3.1), targets
// under 24 px (2.5.8), a page wider than its window (1.4.10), and
// anything that the page's own security policy had to stop.
const checkPage = `(async () => {
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
  const stopped = await new Promise((done) => {
    new ReportingObserver((reports) => done(reports), { types: ["csp-violation"], buffered: true }).observe();
    setTimeout(() => done([]), 20);
  });
  for (const r of stopped) found.push("stopped by the policy: " + r.body.effectiveDirective + " " + r.body.blockedURL);
  return found;
})()`
