package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"leafgauge/catalog"
	"leafgauge/intake/readings"
	"leafgauge/measure"
	"leafgauge/measure/reconcile"
	"leafgauge/quote"
)

// fitCmd ranks stock hinges against a measured one, without queue or pages.
type fitCmd struct {
	Findings  string `arg:"" help:"What \"measure --json\" printed, one or several photos of one hinge; - reads standard input."`
	Stock     string `placeholder:"FILE" help:"Stock list (CSV or XLSX); without it the stock that was imported."`
	Readings  string `placeholder:"TEXT" help:"Sizes and words as the customer typed them."`
	Finish    string `placeholder:"FINISH" help:"Finish wanted: satin nickel, US15, 646."`
	Bearing   string `placeholder:"KIND" help:"Bearing wanted: ball or plain." enum:",ball,plain" default:""`
	Count     int    `placeholder:"N" help:"Hinges wanted."`
	JSON      bool   `name:"json" help:"Print one JSON object."`
	doorFlags `embed:"" prefix:"door-"`
	place     `embed:""`
}

func (fitCmd) Help() string {
	return `Example:
  leafgauge measure --json --covariance photo.jpg | leafgauge fit --stock shelf.csv -
  leafgauge fit --stock shelf.csv --readings "0.086 thick" --door-thickness 1-3/8in findings.json`
}

// fitAnswer is the JSON of the command.
type fitAnswer struct {
	Best     measure.Best      `json:"best"`
	Fits     []catalog.Fit     `json:"fits"`
	Question *catalog.Question `json:"question"`
}

// Run ranks and prints.
func (c fitCmd) Run(s streams) error {
	in, err := s.open(c.Findings)
	if err != nil {
		return err
	}
	defer in.Close()
	typed := readings.Parse(c.Readings)
	best, err := readBest(in, typed)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Findings, err)
	}
	door, err := c.door("--door-")
	if err != nil {
		return exitError{exitUsage, err.Error()}
	}
	if _, known := catalog.FindFinish(c.Finish, ""); c.Finish != "" && !known {
		return exitError{exitUsage, fmt.Sprintf("--finish %s: no finish is known by that name or number; write it like satin nickel, US15 or 646", c.Finish)}
	}
	stock, err := c.stock(s)
	if err != nil {
		return err
	}
	if !best.Height.Known() && len(best.Apart) == 0 {
		return errors.New("not even the hinge's height is known: measure a photo, or give it by --readings \"3 1/2 x 3 1/2 in\"")
	}
	door, wish := quote.Told(door, catalog.Wishes{Finish: c.Finish, Bearing: measure.Bearing(c.Bearing), Count: c.Count}, typed)
	a := fitAnswer{Best: best, Fits: catalog.Rank(best, stock, door, wish)}
	if a.Fits == nil {
		a.Fits = []catalog.Fit{}
	}
	a.Question = catalog.Ask(best, a.Fits, door)
	if c.JSON {
		return json.NewEncoder(s.out).Encode(a)
	}
	printFits(s.out, a)
	return nil
}

func (c fitCmd) stock(s streams) ([]catalog.Item, error) {
	if c.Stock != "" {
		items, report, err := readStock(s, c.Stock, catalog.ListOptions{})
		if err != nil {
			return nil, err
		}
		if report.Errors > 0 {
			return nil, fmt.Errorf("%s has %s, the first: %s; see all with: leafgauge stock import --dry-run %s",
				c.Stock, catalog.Count(report.Errors, "error", "errors"), firstError(report), c.Stock)
		}
		return items, nil
	}
	items, err := c.open(s)
	if err == nil && len(items) == 0 {
		err = errors.New("no stock was imported yet: give a list by --stock FILE, or import one with: leafgauge stock import FILE")
	}
	return items, err
}

// readBest reads findings: one or several results of measuring, or a best set, and
// reconciles results with what was typed.
func readBest(in io.Reader, typed measure.Readings) (measure.Best, error) {
	const most = 64 << 20
	dec := json.NewDecoder(io.LimitReader(in, most))
	var results []measure.Result
	for {
		var raw json.RawMessage
		err := dec.Decode(&raw)
		if err == io.EOF {
			break
		}
		if err != nil {
			return measure.Best{}, fmt.Errorf("this is not the JSON that \"leafgauge measure --json\" prints: %w", err)
		}
		var probe struct {
			Best   json.RawMessage  `json:"best"`
			Status measure.Status   `json:"status"`
			Height measure.Estimate `json:"height"`
		}
		if err := json.Unmarshal(raw, &probe); err != nil {
			return measure.Best{}, fmt.Errorf("this is not the JSON that \"leafgauge measure --json\" prints: %w", err)
		}
		if probe.Best != nil {
			raw = probe.Best
			probe.Height.Sigma = 1
		}
		if probe.Status == "" && probe.Height.Known() {
			var b measure.Best
			err := json.Unmarshal(raw, &b)
			return b, err
		}
		var r measure.Result
		if err := json.Unmarshal(raw, &r); err != nil {
			return measure.Best{}, fmt.Errorf("this is not the JSON that \"leafgauge measure --json\" prints: %w", err)
		}
		results = append(results, r)
	}
	measured := 0
	var why []string
	for _, r := range results {
		if r.Status == measure.Measured {
			measured++
		}
		for _, reason := range r.RetakeReasons {
			why = append(why, string(reason))
		}
	}
	best := reconcile.Best(results, typed, nil)
	if !best.Height.Known() && measured == 0 {
		if len(why) > 0 {
			return measure.Best{}, fmt.Errorf("no photo could be measured (%s): take it again, or give the size by --readings", strings.Join(why, ", "))
		}
		if len(results) == 0 && len(typed.Readings) == 0 {
			return measure.Best{}, errors.New("there are no findings in it")
		}
	}
	return best, nil
}

// printDisagreements says what does not agree, and what else to know of what was sent.
func printDisagreements(w io.Writer, b measure.Best) {
	n := 0
	for _, d := range b.Disagreements {
		fmt.Fprintf(w, "  Mind  %s\n", d.Sentence)
		n++
	}
	for _, s := range b.Notes {
		fmt.Fprintf(w, "  Note  %s\n", s)
		n++
	}
	if n > 0 {
		fmt.Fprintln(w)
	}
}

func printFits(w io.Writer, a fitAnswer) {
	if len(a.Best.Apart) > 0 {
		var each []string
		for _, n := range a.Best.Apart {
			each = append(each, measure.PhotoNames(n))
		}
		fmt.Fprintf(w, "The photos show different hinges: %s. Nothing is ranked until it is known which one it is about: give the findings of one.\n", strings.Join(each, "; "))
		printDisagreements(w, a.Best)
		return
	}
	size := a.Best.Nominal.Size
	switch {
	case size == "":
		size = "no trade size"
	case !strings.HasSuffix(size, " mm"):
		size += " in"
	}
	fmt.Fprintf(w, "Old hinge: %s; height %s, open width %s, leaf thickness %s (± at 95 %%)\n\n", size, within(a.Best.Height), within(a.Best.OpenWidth), within(a.Best.Thickness))
	printDisagreements(w, a.Best)
	if len(a.Fits) == 0 {
		fmt.Fprintln(w, "The stock list is empty.")
		return
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "STOCK NUMBER\tVERDICT\tSURE\tDROPS IN\tPLACED\tON HAND\tHINGE")
	for _, f := range a.Fits {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%d\t%s\n", f.Item.StockNumber, f.Short(), measure.Percent(f.P), measure.Percent(f.PDropsIn), f.Placement, f.Item.OnHand, f.Item.Name)
	}
	t.Flush()
	f := a.Fits[0]
	fmt.Fprintf(w, "\n%s: %s\n", f.Item.StockNumber, f.Headline())
	for _, part := range []struct {
		head  string
		lines []string
	}{{"Why", f.Reasons}, {"Work", f.Work}, {"Mind", f.Warnings}} {
		for _, l := range part.lines {
			fmt.Fprintf(w, "  %-5s %s\n", part.head, l)
			part.head = ""
		}
	}
	for _, x := range f.Also {
		fmt.Fprintf(w, "  Also  %s: %s\n", x.StockNumber, x.Text)
	}
	try := "before you cut or drill, and"
	if f.FireRated {
		try = "first: cut-outs and screw holes of a labelled door are for its label service or a licensed shop; and"
	}
	fmt.Fprintf(w, "\nTry the new hinge in the old place %s support the door before a pin or screw comes out.\nWhat else to mind, and what suits the door: leafgauge door\n", try)
	if a.Question != nil {
		fmt.Fprintf(w, "\nOne question would settle it: %s\n", a.Question.Text)
	}
}
