package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"leafgauge/intake/readings"
	"leafgauge/measure"
)

// readingsCmd is "leafgauge readings TEXT".
type readingsCmd struct {
	Text string `arg:"" help:"What was typed; - reads it from standard input."`
	JSON bool   `name:"json" help:"Print one JSON object."`
}

// Help is the longer text of "leafgauge readings --help".
func (readingsCmd) Help() string {
	return `Reads hinge and door sizes out of free text. ± is the 95 % interval of a size taken with the
instrument named, or the likeliest one.

Example:
  leafgauge readings '3 1/2" x 3-1/2", 0.086 thick, quarter inch corners'
  leafgauge readings --json - < letter.txt`
}

// maxReadingsText is the most that is read from standard input: sixteen mebibytes.
const maxReadingsText = 16 << 20

// Run prints what was understood, and what was not.
func (c *readingsCmd) Run(s streams) error {
	text := c.Text
	if text == "-" {
		b, err := io.ReadAll(io.LimitReader(s.stdin, maxReadingsText+1))
		if err != nil {
			return fmt.Errorf("read standard input: %w", err)
		}
		if len(b) > maxReadingsText {
			return exitError{exitFailure, "the text is longer than 16 MiB; send the part with the sizes in it"}
		}
		text = string(b)
	}
	r := readings.Inquiry(text, "")
	if c.JSON {
		enc := json.NewEncoder(s.out)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		return enc.Encode(r)
	}
	return printReadings(s.out, r)
}

func printReadings(out io.Writer, r measure.Readings) error {
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	for _, x := range r.Readings {
		if x.Count != nil {
			fmt.Fprintf(w, "%s\t%d\t\t\t%q\n", x.Quantity, *x.Count, x.Text)
			continue
		}
		fmt.Fprintf(w, "%s\t%s in\t%s\t%s\t%q\n", x.Quantity, inches(*x.Value),
			within(measure.Estimate{Value: *x.Value, Sigma: x.U}), x.Instrument, x.Text)
	}
	for _, x := range r.Statements {
		fmt.Fprintf(w, "%s\t%s\t\t\t%q\n", x.Kind, x.Value, x.Text)
	}
	for _, x := range r.Unread {
		fmt.Fprintf(w, "not read\t%s\n", x)
	}
	if len(r.Readings)+len(r.Statements)+len(r.Unread) == 0 {
		fmt.Fprintln(w, "nothing to read in it")
	}
	return w.Flush()
}

// inches is l as a fraction where it is one, to 1/64, else in thousandths.
func inches(l measure.Length) string {
	if n := l.Inches() * 64; math.Abs(n-math.Round(n)) < 1e-6 {
		return l.Fraction(64)
	}
	return fmt.Sprintf("%.3f", l.Inches())
}
