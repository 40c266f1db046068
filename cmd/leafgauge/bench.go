package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"text/tabwriter"

	"leafgauge/internal/truth"
	"leafgauge/measure"
)

// benchCmd times the steps of measuring.
type benchCmd struct {
	Photos    []string `arg:"" name:"photo" help:"Photos to measure."`
	Runs      int      `default:"3" help:"How often each photo is measured; the table has the medians."`
	Thickness bool     `help:"Tell the measuring the true leaf thickness, as if typed."`
}

func (benchCmd) Help() string {
	return `Prints how long each step takes, in milliseconds. Where a truth file lies beside a photo
(001.json beside 001.jpg), it prints the errors too.

Example: leafgauge bench testdata/photos/*.jpg`
}

func (c benchCmd) Run(s streams) error {
	if c.Runs < 1 {
		return exitError{exitUsage, "--runs must be 1 or more"}
	}
	bar := progress(s.err, len(c.Photos))
	t := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "photo\tmegapixels\tdecode\tcard\thinge\ttotal\tstatus\t")
	var scores []truth.Errors
	var all []measure.Timing
	for _, path := range c.Photos {
		if s.ctx.Err() != nil {
			return exitError{exitFailure, "stopped"}
		}
		tr, err := truth.Load(strings.TrimSuffix(path, filepath.Ext(path)) + ".json")
		known := err == nil
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		opt := measure.Options{}
		if known && c.Thickness {
			opt.Thickness = measure.Estimate{Value: measure.Length(tr.Hinge.Thickness), Sigma: caliperSigma}
		}
		var times []measure.Timing
		var r measure.Result
		for range c.Runs {
			if r, _, err = measureFile(path, opt); err != nil {
				return err
			}
			times = append(times, r.Timing)
		}
		m := medianTiming(times)
		all = append(all, m)
		status := string(r.Status)
		for _, reason := range r.RetakeReasons {
			status = string(reason)
		}
		fmt.Fprintf(t, "%s\t%.1f\t%.0f\t%.0f\t%.0f\t%.0f\t%s\t\n", filepath.Base(path),
			float64(r.Image.Width)*float64(r.Image.Height)/1e6, m.Decode, m.Card, m.Hinge, m.Total, status)
		if known {
			score, err := truth.Score(tr, r)
			if err != nil {
				return err
			}
			scores = append(scores, score)
		}
		_ = bar.Add(1)
	}
	_ = bar.Exit()
	m := medianTiming(all)
	fmt.Fprintf(t, "median\t\t%.0f\t%.0f\t%.0f\t%.0f\t\t\n", m.Decode, m.Card, m.Hinge, m.Total)
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "times in ms; %d processors", runtime.GOMAXPROCS(0))
	if peak := peakMemory(); peak > 0 {
		fmt.Fprintf(s.out, "; peak memory %d MB", peak)
	}
	fmt.Fprintln(s.out)
	if len(scores) > 0 {
		fmt.Fprintln(s.out)
		fmt.Fprint(s.out, truth.Table(scores))
	}
	return nil
}

// medianTiming is the median of each step by itself.
func medianTiming(ts []measure.Timing) measure.Timing {
	median := func(step func(measure.Timing) float64) float64 {
		v := make([]float64, len(ts))
		for i, t := range ts {
			v[i] = step(t)
		}
		slices.SortFunc(v, cmp.Compare[float64])
		return v[len(v)/2]
	}
	return measure.Timing{
		Decode: median(func(t measure.Timing) float64 { return t.Decode }),
		Card:   median(func(t measure.Timing) float64 { return t.Card }),
		Hinge:  median(func(t measure.Timing) float64 { return t.Hinge }),
		Total:  median(func(t measure.Timing) float64 { return t.Total }),
	}
}

// peakMemory is the most memory this process has had, in MB; 0 where the system doesn't say.
func peakMemory() int {
	b, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(b)) {
		var kb int
		if n, _ := fmt.Sscanf(line, "VmHWM: %d kB", &kb); n == 1 {
			return kb >> 10
		}
	}
	return 0
}
