package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"
)

// The demo inquiry: a photo and what somebody typed beside it, from an invented scenario.
const (
	demoStock    = "stock/demo.csv"
	demoPhoto    = "photos/017.jpg"
	demoReadings = "3.505 in tall, 3.518 in open, leaf 0.095 in thick"
	demoUser     = "counter"
	demoOnce     = "the demo inquiry"
)

// demo fills a running program with the demo stock and a counter user, sends the demo
// inquiry through the public API as any client would, and prints what came of it. What an
// earlier run left is found again.
func demo(s streams, p *program, dir string) error {
	if err := demoShelf(s.ctx, p, filepath.Join(dir, demoStock)); err != nil {
		return err
	}
	password, err := demoPassword(s.ctx, p)
	if err != nil {
		return err
	}
	c := client{base: p.base}
	r, again, err := demoReceipt(s.ctx, c, p.cfg.Data, dir)
	if err != nil {
		return err
	}
	if again {
		fmt.Fprintln(s.out, "\nThe demo inquiry was sent on an earlier run.")
	} else {
		fmt.Fprintln(s.out, "\nThe demo inquiry is sent. Waiting for its proposal …")
	}
	if err := demoWait(s.ctx, c, r.Links.Self); err != nil {
		return err
	}
	var token struct {
		Token string `json:"token"`
	}
	if err := c.send(s.ctx, "POST", "/api/v1/sign-in", map[string]string{"name": demoUser, "password": password}, &token); err != nil {
		return err
	}
	c.token = token.Token
	var d quote.Dossier
	if err := c.send(s.ctx, "GET", fmt.Sprintf("/api/v1/counter/inquiries/%d", r.ID), nil, &d); err != nil {
		return err
	}
	printDossier(s.out, d)
	t := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "\nThe customer's page\t%s\n", r.Links.Page)
	fmt.Fprintf(t, "At the counter\t%s/counter/inquiries/%d\n", p.base, r.ID)
	fmt.Fprintf(t, "Sign in as\t%s\n", demoUser)
	fmt.Fprintf(t, "with the password\t%s\n", password)
	fmt.Fprintf(t, "Letters are in\t%s\n\n", p.cfg.mailOut())
	return t.Flush()
}

// demoShelf puts the demo stock on an empty shelf.
func demoShelf(ctx context.Context, p *program, file string) error {
	have, err := p.desk.Stock(ctx)
	if err != nil || len(have) > 0 {
		return err
	}
	f, err := os.Open(file)
	if err != nil {
		return fmt.Errorf("the demo stock is missing: run this in the project's folder (%w)", err)
	}
	defer f.Close()
	sheet, err := catalog.ReadSheet(f)
	if err != nil {
		return fmt.Errorf("demo stock %s: %w", file, err)
	}
	items, report := catalog.ParseStock(sheet, catalog.ListOptions{Currency: p.cfg.Currency})
	if report.Errors > 0 {
		return fmt.Errorf("demo stock %s: %d errors, first: %s", file, report.Errors, report.Problems[0])
	}
	if _, _, err := p.repo.PutStock(ctx, items); err != nil {
		return fmt.Errorf("demo stock: %w", err)
	}
	p.log.Info("demo stock loaded", "hinges", len(items))
	return nil
}

// demoPassword makes the counter's user where there is none, and keeps the password beside
// the data so that it can be shown again.
func demoPassword(ctx context.Context, p *program) (string, error) {
	file := filepath.Join(p.cfg.Data, "counter-password.txt")
	kept, err := os.ReadFile(file)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("read the counter's password: %w", err)
	}
	password := strings.TrimSpace(string(kept))
	if password != "" {
		if _, err := p.desk.SignIn(ctx, demoUser, password); err == nil || !errors.Is(err, quote.ErrNotFound) {
			return password, err
		}
	}
	password = strings.ToLower(rand.Text()[:16])
	if err := keepFile(file, []byte(password+"\n")); err != nil {
		return "", fmt.Errorf("keep the counter's password: %w", err)
	}
	if err := p.desk.AddUser(ctx, demoUser, password, true); err != nil {
		return "", fmt.Errorf("make the counter's user: %w", err)
	}
	return password, nil
}

// demoSent is the receipt of the demo inquiry.
type demoSent struct {
	ID    quote.ID `json:"id"`
	Key   string   `json:"key"`
	Links struct {
		Self string `json:"self"`
		Page string `json:"page"`
	} `json:"links"`
}

// demoReceipt sends the demo inquiry, unless an earlier run did: its receipt is kept.
func demoReceipt(ctx context.Context, c client, data, dir string) (r demoSent, again bool, err error) {
	file := filepath.Join(data, "demo-receipt.json")
	if kept, err := os.ReadFile(file); err == nil && json.Unmarshal(kept, &r) == nil {
		var view struct {
			Links struct{ Self, Page string } `json:"links"`
		}
		if err := c.send(ctx, "GET", "/api/v1/inquiries/"+r.Key, nil, &view); err == nil {
			r.Links.Self, r.Links.Page = view.Links.Self, view.Links.Page // the address may be another today
			return r, true, nil
		} else if !errors.Is(err, errNotThere) {
			return r, false, err
		}
		r = demoSent{} // the database is a new one
	}
	photo, err := os.ReadFile(filepath.Join(dir, demoPhoto))
	if err != nil {
		return r, false, fmt.Errorf("the demo photo is missing: run this in the project's folder (%w)", err)
	}
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	part, err := form.CreateFormFile("photo", filepath.Base(demoPhoto))
	if err != nil {
		return r, false, err
	}
	part.Write(photo) // a bytes.Buffer takes everything
	for _, f := range [][2]string{
		{"readings", demoReadings}, {"name", "Alex Fairweather"}, {"email", "alex@customer.example"},
		{"door_thickness", "1 3/8 in"}, {"door_width", "32 in"}, {"door_height", "80 in"}, {"wanted", "three, satin nickel if you have it"},
	} {
		if err := form.WriteField(f[0], f[1]); err != nil {
			return r, false, err
		}
	}
	if err := form.Close(); err != nil {
		return r, false, err
	}
	q, err := http.NewRequestWithContext(ctx, "POST", c.base+"/api/v1/inquiries", &body)
	if err != nil {
		return r, false, err
	}
	q.Header.Set("Content-Type", form.FormDataContentType())
	q.Header.Set("Idempotency-Key", demoOnce)
	if err := c.do(q, &r); err != nil {
		return r, false, err
	}
	kept, err := json.Marshal(r)
	if err != nil {
		return r, false, err
	}
	return r, false, keepFile(file, kept)
}

// demoWait asks the API until the inquiry is measured.
func demoWait(ctx context.Context, c client, path string) error {
	limit := time.After(5 * time.Minute)
	for {
		var view struct {
			Status quote.Status `json:"status"`
		}
		if err := c.send(ctx, "GET", path, nil, &view); err != nil {
			return err
		}
		if view.Status != quote.Received && view.Status != quote.Measuring {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-limit:
			return errors.New("the demo inquiry was not measured within five minutes: look at the log above")
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// printDossier prints what a measured inquiry has come to.
func printDossier(w io.Writer, d quote.Dossier) {
	fmt.Fprintf(w, "\nInquiry %d: %s\n", d.Inquiry.ID, strings.ReplaceAll(string(d.Inquiry.Status), "_", " "))
	for _, f := range d.Findings {
		for _, r := range f.Result.RetakeReasons {
			fmt.Fprintf(w, "  Photo %d: %s\n", f.PhotoN, r.Advice())
		}
	}
	p := d.Proposal
	if p == nil {
		return
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "\n  Found\tmm\t± (95 %%)\tin\n")
	line := func(name string, e measure.Estimate) {
		if e.Known() {
			fmt.Fprintf(t, "  %s\t%.2f\t%.2f\t%s\n", name, e.Value.MM(), e.Half95().MM(), e.Value.Fraction(64))
		}
	}
	b := p.Best
	line("height", b.Height)
	line("open width", b.OpenWidth)
	line("thickness", b.Thickness)
	line("barrel", b.BarrelDiameter)
	for i, l := range b.Leaves {
		if l.Corners == measure.CornersSquare {
			fmt.Fprintf(t, "  leaf %d corners\tsquare\t\t\n", i+1)
		} else {
			line(fmt.Sprintf("leaf %d corner radius", i+1), l.CornerRadius)
		}
		for n, h := range l.Holes {
			line("hole "+measure.HoleName(i, n)+" from edge", h.FromEdge)
			line("hole "+measure.HoleName(i, n)+" from end", h.FromEnd)
		}
	}
	t.Flush()
	if b.Nominal.Size != "" {
		fmt.Fprintf(w, "  Trade size %s (%s)", b.Nominal.Size, measure.Percent(b.Nominal.P))
		if b.Knuckles > 0 {
			fmt.Fprintf(w, ", %d knuckles", b.Knuckles)
		}
		if b.Bearing == measure.BallBearing || b.Bearing == measure.PlainBearing {
			fmt.Fprintf(w, ", %s bearing", b.Bearing)
		}
		fmt.Fprintln(w)
	}
	for _, x := range b.Disagreements {
		fmt.Fprintf(w, "  %s\n", x.Sentence)
	}
	if len(p.Fits) > 0 {
		fmt.Fprintln(w, "\n  Best fits")
		for _, f := range p.Fits[:min(5, len(p.Fits))] {
			fmt.Fprintf(t, "  %s\t%s\t%s\t%s\n", f.Item.StockNumber, f.Short(), measure.Percent(f.P), f.Item.Name)
		}
		t.Flush()
	}
	if p.Question != nil {
		fmt.Fprintf(w, "  To be asked: %s\n", p.Question.Text)
	}
}

// A client is a client of the API like any other.
type client struct{ base, token string }

// errNotThere is the API's answer 404.
var errNotThere = errors.New("not there")

// send sends in as JSON, where it is not nil, and reads the answer into out.
func (c client) send(ctx context.Context, method, path string, in, out any) error {
	var body io.Reader
	if in != nil {
		b, err := json.Marshal(in)
		if err != nil {
			return err
		}
		body = bytes.NewReader(b)
	}
	q, err := http.NewRequestWithContext(ctx, method, c.base+path, body)
	if err != nil {
		return err
	}
	if in != nil {
		q.Header.Set("Content-Type", "application/json")
	}
	return c.do(q, out)
}

func (c client) do(q *http.Request, out any) error {
	if c.token != "" {
		q.Header.Set("Authorization", "Bearer "+c.token)
	}
	a, err := http.DefaultClient.Do(q)
	if err != nil {
		return err
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		return err
	}
	switch {
	case a.StatusCode == http.StatusNotFound:
		return fmt.Errorf("%s %s: %w", q.Method, q.URL.Path, errNotThere)
	case a.StatusCode >= 300:
		return fmt.Errorf("%s %s: %s: %s", q.Method, q.URL.Path, a.Status, b)
	}
	return json.Unmarshal(b, out)
}
