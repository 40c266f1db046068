package main

import (
	"path/filepath"
	"testing"
	"time"

	"leafgauge/internal/testbrowser"
	"leafgauge/quote"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestWholePathInABrowser goes the way of a customer and of the counter with nothing but a
// browser: form with a photo, proposal, sign-in, approval, and the quote as its customer
// sees it. With LEAFGAUGE_SHOTS set to a folder it leaves pictures of the pages there.
func TestWholePathInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("-short leaves the browser out")
	}
	s := &site{cfg: testConfig(t)}
	s.start(t, "all")
	ctx := t.Context()
	require.NoError(t, demoShelf(ctx, s.api(), filepath.Join(testdata, demoStock)))
	require.NoError(t, s.api().desk.AddUser(ctx, "ruth", "four brass screws", false))
	photo, err := filepath.Abs(filepath.Join(testdata, demoPhoto))
	require.NoError(t, err)

	customer := testbrowser.New(t, 5*time.Minute)
	type css = chromedp.CSS
	do := func(steps ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		require.NoError(t, chromedp.Do(customer, steps...))
	}
	text := func(selector string) string {
		t.Helper()
		s, err := chromedp.Run(customer, chromedp.Text(css(selector)))
		require.NoError(t, err)
		return s
	}
	phone, desk := chromedp.EmulateViewport(390, 844), chromedp.EmulateViewport(1280, 900)

	// The customer asks, with a number of doors that is none at first.
	do(phone, chromedp.Navigate(s.api().base+"/"))
	testbrowser.Shot(t, customer, "1-form")
	do(chromedp.SetUploadFiles(css("#photo"), []string{photo}),
		chromedp.SendKeys(css("#readings"), demoReadings),
		chromedp.SendKeys(css("#door_width"), "32"), chromedp.SendKeys(css("#door_height"), "6'8\""), chromedp.SendKeys(css("#door_thickness"), "1 3/8 in"),
		chromedp.SendKeys(css("#wanted_count"), "3"), chromedp.SendKeys(css("#name"), "Ana Sutter"), chromedp.SendKeys(css("#email"), "ana@example.org"),
		chromedp.SetValue(css("#door_count"), "a few"),
		chromedp.Click(css("main form .go button")), chromedp.WaitVisible(css("[data-said]")))
	require.Contains(t, text("p:has(#door_count) [data-said]"), "number of doors", "beside its field")
	do(chromedp.SetValue(css("#door_count"), "1"), chromedp.Click(css("main form .go button")), chromedp.WaitVisible(css("p.step")))
	testbrowser.Check(t, customer)

	// The page looks again by itself until the program has measured.
	var d quote.Dossier
	eventually(t, "the photo is measured", func() bool {
		d, err = s.api().desk.Dossier(ctx, 1)
		return err == nil && d.Inquiry.Status.Turn() != quote.ByProgram
	})
	do(chromedp.WaitNotPresent(css("[data-watch]")))
	require.Contains(t, text("main"), "What we measured")
	testbrowser.Shot(t, customer, "2-measured")
	link, err := chromedp.Run(customer, chromedp.Location())
	require.NoError(t, err)

	// The counter looks at it and approves.
	do(desk, chromedp.Navigate(s.api().base+"/counter/"), chromedp.WaitVisible(css("#password")))
	testbrowser.Shot(t, customer, "3-sign-in")
	do(chromedp.SendKeys(css("#name"), "ruth"), chromedp.SendKeys(css("#password"), "four brass screws"),
		chromedp.Click(css("form.narrow button")), chromedp.WaitVisible(css("table.list")))
	require.Contains(t, text("table.list"), "Ana Sutter")
	testbrowser.Shot(t, customer, "4-queue")
	do(chromedp.Click(css("table.list tbody a")), chromedp.WaitVisible(css("#approve")))
	eventually(t, "photo and overlay are shown", func() bool {
		shown, err := chromedp.Run(customer, chromedp.Evaluate[bool](`[...document.images].every((i) => i.complete && i.naturalWidth > 100)`))
		return err == nil && shown
	})
	testbrowser.Shot(t, customer, "5-review")
	do(phone)
	testbrowser.Shot(t, customer, "5-review-phone")
	do(desk)
	require.Contains(t, text("table.sizes"), "Height")
	testbrowser.Check(t, customer)
	do(chromedp.SetValue(css("#m-approve"), "Yours by Friday."), chromedp.Click(css("section.acts button[value=approve]")), chromedp.WaitVisible(css("p.notice")))
	require.Contains(t, text("p.notice"), "Approved")
	testbrowser.Shot(t, customer, "6-approved")

	// The customer sees the quote and takes it.
	do(phone, chromedp.Navigate(link), chromedp.WaitVisible(css("section.quote")))
	require.Contains(t, text("section.quote"), "Yours by Friday.")
	testbrowser.Check(t, customer)
	do(chromedp.Navigate(link))
	testbrowser.Shot(t, customer, "7-quote")
	do(chromedp.Click(css("section.quote form button")), chromedp.WaitNotPresent(css("section.quote form")))
	require.Equal(t, "You took the quote", text("h1"))
	d, err = s.api().desk.Dossier(ctx, 1)
	require.NoError(t, err)
	require.Equal(t, quote.Won, d.Inquiry.Status)
	require.Equal(t, "ruth", d.Quotes[0].By)
}
