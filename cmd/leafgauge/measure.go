package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/measure/draw"
	"leafgauge/measure/photo"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// measureCmd measures photos without database or queue.
type measureCmd struct {
	Photos     []string `arg:"" name:"photo" help:"Photo of one hinge, lying open beside a library or gift card."`
	JSON       bool     `name:"json" help:"Print one JSON object a photo, a line each."`
	Overlay    string   `placeholder:"FILE" help:"Write the photo with what was found drawn over it (.png or .jpg; one photo)."`
	Report     string   `placeholder:"FILE" help:"Write a true-to-scale drawing with dimensions (.png or .jpg; one photo)."`
	Thickness  string   `placeholder:"LENGTH" help:"Leaf thickness as measured by caliper: 0.086in, 2.2mm, 86thou."`
	ScaleBar   string   `placeholder:"LENGTH" help:"Length of the bar beside a printed card, by a ruler: 97mm."`
	Covariance bool     `help:"Keep the covariance of all lengths in the JSON."`
}

func (measureCmd) Help() string {
	return `Example: leafgauge measure hinge.jpg --thickness 0.086in --overlay seen.png

Exit status: 0 every photo was measured, 3 a photo must be taken again, 1 failure, 2 usage.`
}

// measuringGC is the garbage collector's percentage while photos are measured one by one. Most of
// the memory is planes of pixels, which are quick to look through for having no pointers, while
// fresh memory costs a page fault every 4 KB: 50 takes 3 to 5 % less processor time than 100,
// 200 takes 8 % more.
const measuringGC = 50

// Run measures the photos one after the other.
func (c measureCmd) Run(s streams) error {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(measuringGC)
	}
	opt := measure.Options{}
	if c.Thickness != "" {
		t, err := caliperLength(c.Thickness)
		if err != nil {
			return exitError{exitUsage, "--thickness " + c.Thickness + ": " + err.Error()}
		}
		opt.Thickness = t
	}
	if c.ScaleBar != "" {
		bar, err := barLength(c.ScaleBar)
		if err != nil {
			return exitError{exitUsage, "--scale-bar " + c.ScaleBar + ": " + err.Error()}
		}
		opt.ScaleBar = bar
	}
	for _, f := range []string{c.Overlay, c.Report} {
		if f == "" {
			continue
		}
		if len(c.Photos) != 1 {
			return exitError{exitUsage, "--overlay and --report take one photo at a time"}
		}
		if !drawable(f) {
			return exitError{exitUsage, f + ": pictures are written as .png or .jpg"}
		}
	}

	bar := progress(s.err, len(c.Photos))
	defer bar.Exit() //nolint:errcheck // only clears a line of the terminal
	retake, failed := false, false
	for _, path := range c.Photos {
		if s.ctx.Err() != nil {
			return exitError{exitFailure, "stopped"}
		}
		r, img, err := measureFile(path, opt)
		if err != nil {
			failed = true
			_ = bar.Clear()
			fmt.Fprintln(s.err, "leafgauge:", err)
			_ = bar.Add(1)
			continue
		}
		retake = retake || r.Status != measure.Measured
		_ = bar.Clear()
		if err := c.print(s.out, path, r); err != nil {
			return err
		}
		_ = bar.Add(1)
		if img == nil {
			continue // never opened: there is nothing to draw on
		}
		if c.Overlay != "" {
			if err := writePicture(c.Overlay, draw.Overlay(img, r)); err != nil {
				return err
			}
		}
		if c.Report != "" && r.Status == measure.Measured {
			if err := writePicture(c.Report, draw.Report(r)); err != nil {
				return err
			}
		}
	}
	switch {
	case failed:
		return exitError{status: exitFailure}
	case retake:
		return exitError{status: exitRetake}
	}
	return nil
}

func (c measureCmd) print(w io.Writer, path string, r measure.Result) error {
	if !c.JSON {
		return printResult(w, path, r)
	}
	if !c.Covariance && r.Hinge != nil {
		h := *r.Hinge
		h.Covariance = nil
		r.Hinge = &h
	}
	return json.NewEncoder(w).Encode(r)
}

// measureFile measures one photo. A file that is no usable picture is a Result that asks for
// another, with a nil image; a file that can't be read is an error.
func measureFile(path string, opt measure.Options) (measure.Result, image.Image, error) {
	f, err := os.Open(path)
	if err != nil {
		return measure.Result{}, nil, err
	}
	defer f.Close()
	// One byte more than may be: enough for Admit to refuse it by its size. Room for all of it at
	// once, as far as the file system tells: growing touches several times the memory.
	var b bytes.Buffer
	if info, err := f.Stat(); err == nil {
		b.Grow(int(min(max(info.Size(), 0), intake.MaxPhotoBytes+1)) + bytes.MinRead)
	}
	if _, err := b.ReadFrom(io.LimitReader(f, intake.MaxPhotoBytes+1)); err != nil {
		return measure.Result{}, nil, err
	}
	data := b.Bytes()

	start := time.Now()
	clock := func() float64 { return float64(time.Since(start)) / float64(time.Millisecond) }
	p, img, err := intake.Open(filepath.Base(path), data)
	var invalid *intake.InvalidError
	if errors.As(err, &invalid) {
		reason := measure.Unreadable
		if invalid.Code == intake.CodeTooFewPixels {
			reason = measure.TooSmall
		}
		return measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{reason}}, nil, nil
	}
	if err != nil {
		return measure.Result{}, nil, fmt.Errorf("%s: %w", path, err)
	}
	decoded := clock()
	opt.Focal35mm, opt.Clock = p.Focal35mm, clock
	r := photo.Measure(img, opt)
	r.Timing.Decode, r.Timing.Total = decoded, clock()
	return r, img, nil
}

// caliperSigma is the standard uncertainty of a thickness taken with a caliper: the permissible
// error of a hand caliper is 0.02 to 0.03 mm (ISO 13385-1); paint and burrs take up the rest.
const caliperSigma = 0.03 * measure.Millimetre

// caliperLength reads a length with its unit, such as "0.086in".
func caliperLength(text string) (measure.Estimate, error) {
	l, err := lengthWithUnit(text)
	if err != nil {
		return measure.Estimate{}, err
	}
	if !(l >= 0.5 && l <= 10) { // thinner than foil or thicker than any leaf: a slip of the unit
		return measure.Estimate{}, fmt.Errorf("%v is no leaf's thickness; leaves have 1 to 5 mm", l)
	}
	return measure.Estimate{Value: l, Sigma: caliperSigma}, nil
}

// rulerSigma is the standard uncertainty of the bar's length: read to the nearest millimetre at
// both ends, each uniform within half of one.
const rulerSigma = 0.41 * measure.Millimetre

// barLength reads the length of the bar that shows a print's scale.
func barLength(text string) (measure.Estimate, error) {
	l, err := lengthWithUnit(text)
	if err != nil {
		return measure.Estimate{}, err
	}
	if !(l >= 0.5*measure.PrintedBar && l <= 1.5*measure.PrintedBar) {
		return measure.Estimate{}, fmt.Errorf("the bar is %.0f mm long at true size, so a print's can't be %.0f mm", measure.PrintedBar.MM(), l.MM())
	}
	return measure.Estimate{Value: l, Sigma: rulerSigma}, nil
}

// lengthWithUnit reads a decimal number with its unit.
func lengthWithUnit(text string) (measure.Length, error) {
	units := []struct {
		name string
		is   measure.Length
	}{{"mm", measure.Millimetre}, {"thou", measure.Inch / 1000}, {"inches", measure.Inch}, {"inch", measure.Inch}, {"in", measure.Inch}, {`"`, measure.Inch}, {"″", measure.Inch}}
	for _, u := range units {
		number, ok := strings.CutSuffix(strings.TrimSpace(strings.ToLower(text)), u.name)
		if !ok {
			continue
		}
		n, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil {
			return 0, fmt.Errorf("%q is not a decimal number", strings.TrimSpace(number))
		}
		return measure.Length(n) * u.is, nil
	}
	return 0, errors.New("give the unit too, as in 0.086in or 2.2mm")
}

// progress is a bar on a terminal and nothing anywhere else, nor for a single photo.
func progress(w io.Writer, n int) *progressbar.ProgressBar {
	f, ok := w.(*os.File)
	if n < 2 || !ok || !term.IsTerminal(int(f.Fd())) {
		return progressbar.DefaultSilent(int64(n))
	}
	return progressbar.NewOptions(n, progressbar.OptionSetWriter(w), progressbar.OptionSetDescription("measuring"),
		progressbar.OptionShowCount(), progressbar.OptionClearOnFinish())
}

// spinner turns on a terminal, as long as nobody knows how long it takes.
func spinner(w io.Writer, doing string) *progressbar.ProgressBar {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return progressbar.DefaultSilent(-1)
	}
	return progressbar.NewOptions(-1, progressbar.OptionSetWriter(w), progressbar.OptionSetDescription(doing),
		progressbar.OptionSpinnerType(14), progressbar.OptionSetRenderBlankState(true), progressbar.OptionClearOnFinish())
}

func drawable(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".png", ".jpg", ".jpeg":
		return true
	}
	return false
}

// writePicture writes img as its name's extension says.
func writePicture(path string, img image.Image) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if strings.EqualFold(filepath.Ext(path), ".png") {
		err = png.Encode(f, img)
	} else {
		err = jpeg.Encode(f, img, &jpeg.Options{Quality: 90})
	}
	return errors.Join(err, f.Close())
}

// printResult prints a table for people: inches as decimal and nearest 1/32, and millimetres
// with the 95 % interval.
func printResult(w io.Writer, path string, r measure.Result) error {
	if r.Status != measure.Measured {
		fmt.Fprintf(w, "%s: please take it again.\n", path)
		for _, reason := range r.RetakeReasons {
			fmt.Fprintln(w, "  "+reason.Advice())
		}
		_, err := fmt.Fprintln(w)
		return err
	}
	h := r.Hinge
	fmt.Fprintf(w, "%s: %s\n", path, summary(*h))
	if scaleUntold(r.Card) {
		fmt.Fprintf(w, "The card was printed, and nobody said at what scale: printers often make a page fit, at 94 to 97 %%, and every\n"+
			"length below is then as much too large. Measure the bar on its sheet with a ruler, and add --scale-bar.\n")
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "\tinches\tnearest 1/32\tmm\t± (95 %)\t")
	row := func(name string, e measure.Estimate) {
		if e.Known() {
			fmt.Fprintf(t, "%s\t%.3f\t%s\t%.2f\t%.2f\t\n", name, e.Value.Inches(), e.Value.Fraction(32), e.Value.MM(), e.Half95().MM())
		}
	}
	row("height", h.Height)
	row("open width", h.OpenWidth)
	row("barrel diameter", h.BarrelDiameter)
	for i, l := range h.Leaves {
		leaf := catalog.LeafName(i) + " "
		if !h.OpenWidth.Known() {
			row(leaf+"width to pin axis", l.Width)
		}
		if l.Corners == measure.CornersSquare {
			fmt.Fprintf(t, "%scorners\tsquare\t\t\t\t\n", leaf)
		} else {
			row(leaf+"corner radius", l.CornerRadius)
		}
		for j, o := range l.Holes {
			hole := "hole " + measure.HoleName(i, j) + " " // as on the overlay and the drawing
			row(hole+"from edge", o.FromEdge)
			row(hole+"from end", o.FromEnd)
			row(hole+"diameter", o.Diameter)
			row(hole+"countersink", o.Countersink)
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprint(w, "From a photo: check with a caliper before you cut or drill.\n\n")
	return err
}

// scaleUntold reports whether the photo was measured by a printed card whose bar nobody measured.
func scaleUntold(c *measure.CardInfo) bool {
	return c != nil && c.PrintScale != nil && *c.PrintScale == measure.PrintScale(measure.Estimate{})
}

// summary is what the hinge is, in a line.
func summary(h measure.Hinge) string {
	var parts []string
	if h.Nominal.Size != "" {
		parts = append(parts, fmt.Sprintf("%s in (%s)", h.Nominal.Size, measure.Percent(h.Nominal.P)))
	} else {
		parts = append(parts, "no trade size")
	}
	parts = append(parts, catalog.Count(len(h.Leaves), "leaf", "leaves"))
	if h.Knuckles > 0 {
		parts = append(parts, fmt.Sprintf("%d knuckles", h.Knuckles))
	}
	if h.Bearing == measure.BallBearing || h.Bearing == measure.PlainBearing {
		parts = append(parts, string(h.Bearing)+" bearing")
	}
	if h.Pattern != "" {
		parts = append(parts, "holes "+cmp.Or(catalog.HolesLie(h.Pattern), "otherwise arranged"))
	}
	if h.FinishHint != "" {
		parts = append(parts, "looks like "+h.FinishHint)
	}
	return strings.Join(parts, ", ")
}

// within writes e with its 95 % interval.
func within(e measure.Estimate) string {
	if !e.Known() {
		return "not measured"
	}
	return fmt.Sprintf("%.2f ± %.2f mm", e.Value.MM(), e.Half95().MM())
}
