package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/store"
)

// stockCmd is the shop's shelf: its list in, its list out.
type stockCmd struct {
	Import stockImportCmd `cmd:"" help:"Read a stock list (CSV or XLSX) into the database."`
	List   stockListCmd   `cmd:"" help:"Print the stock."`
	Export stockExportCmd `cmd:"" help:"Write the stock as a CSV that imports back to the same."`
	Sample stockSampleCmd `cmd:"" help:"Take a hinge's hole pattern from a photo of a sample off the shelf."`
}

func (stockCmd) Help() string {
	return `Example:
  leafgauge stock import --dry-run shelf.xlsx
  leafgauge stock list --search "satin nickel"`
}

type stockImportCmd struct {
	File     string `arg:"" help:"The list; - reads standard input."`
	DryRun   bool   `help:"Only say what would be imported and what is wrong."`
	Map      string `placeholder:"FILE" help:"JSON that names the field for each of the list's own headings: {\"Artikel\": \"stock number\"}; it is remembered."`
	Currency string `placeholder:"CODE" default:"USD" env:"LEAFGAUGE_CURRENCY" help:"Currency of prices that name none (${default})."`
	JSON     bool   `name:"json" help:"Print the report as JSON."`
	place    `embed:""`
}

func (stockImportCmd) Help() string {
	return `Columns are found by their headings, in any order; sizes are inches or millimetres, fractions
allowed. Nothing is imported while a single error stands. An import updates by stock number.

Example:
  leafgauge stock import --dry-run shelf.xlsx
  leafgauge stock import shelf.csv`
}

// mappingSetting is where the mapping of headings is remembered.
const mappingSetting = "stock_mapping"

// Run reads the list, reports, and imports it whole or not at all.
func (c stockImportCmd) Run(s streams) error {
	opt := catalog.ListOptions{Currency: c.Currency}
	if c.Map != "" {
		b, err := os.ReadFile(c.Map)
		if err != nil {
			return err
		}
		if err := json.Unmarshal(b, &opt.Mapping); err != nil {
			return fmt.Errorf("%s: not a mapping such as {\"Artikel\": \"stock number\"}: %w", c.Map, err)
		}
	}
	// A dry run looks at the database only where there is one: it creates nothing.
	var repo *store.Store
	_, err := os.Stat(c.databaseURL())
	if !c.DryRun || c.DatabaseURL != "" || err == nil {
		if c.DatabaseURL == "" {
			if err := os.MkdirAll(c.Data, 0o750); err != nil {
				return fmt.Errorf("the data folder cannot be made: %w", err)
			}
		}
		if repo, err = store.Open(s.ctx, c.databaseURL()); err != nil {
			return err
		}
		defer repo.Close()
		opt.Patterns = func() (map[string][]catalog.Hole, error) {
			known, err := repo.Stock(s.ctx)
			return catalog.Patterns(known), err
		}
		if opt.Mapping == nil {
			saved, err := repo.Setting(s.ctx, mappingSetting)
			if err != nil {
				return err
			}
			if saved != "" {
				if err := json.Unmarshal([]byte(saved), &opt.Mapping); err != nil {
					return fmt.Errorf("the remembered mapping of headings is damaged, give it again with --map: %w", err)
				}
			}
		}
	}

	bar := spinner(s.err, "opening")
	counting := false
	opt.Progress = func(done, total int) {
		if !counting {
			_ = bar.Finish()
			bar, counting = progress(s.err, total), true
			bar.Describe("reading")
		}
		_ = bar.Set(done)
	}
	items, report, err := readStock(s, c.File, opt)
	_ = bar.Finish()
	if err != nil {
		return err
	}
	if c.JSON {
		if err := json.NewEncoder(s.out).Encode(report); err != nil {
			return err
		}
	} else {
		printReport(s.out, report)
	}
	if report.Errors > 0 {
		return exitError{exitFailure, fmt.Sprintf("nothing was imported: correct the %s first", catalog.Count(report.Errors, "error", "errors"))}
	}
	if c.DryRun {
		if !c.JSON {
			fmt.Fprintf(s.out, "\nA dry run: nothing was written. Without --dry-run %s would be imported.\n", catalog.Count(len(items), "hinge", "hinges"))
		}
		return nil
	}
	bar = spinner(s.err, "writing")
	added, changed, err := repo.PutStock(s.ctx, items)
	_ = bar.Finish()
	if err != nil {
		return fmt.Errorf("nothing was imported: %w", err)
	}
	if c.Map != "" {
		b, err := json.Marshal(opt.Mapping)
		if err == nil {
			err = repo.PutSetting(s.ctx, mappingSetting, string(b))
		}
		if err != nil {
			return fmt.Errorf("the stock was imported, the mapping could not be remembered: %w", err)
		}
	}
	if !c.JSON {
		fmt.Fprintf(s.out, "\nImported: %d new, %d changed, %d as they were.\n", added, changed, len(items)-added-changed)
	}
	return nil
}

// readStock reads the list in a file, or standard input for -.
func readStock(s streams, path string, opt catalog.ListOptions) ([]catalog.Item, catalog.Report, error) {
	f, err := s.open(path)
	if err != nil {
		return nil, catalog.Report{}, err
	}
	defer f.Close()
	sheet, err := catalog.ReadSheet(f)
	if err != nil {
		return nil, catalog.Report{}, fmt.Errorf("%s: %w", path, err)
	}
	items, report := catalog.ParseStock(sheet, opt)
	return items, report, nil
}

// open opens a file to read, or standard input for -.
func (s streams) open(path string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(s.stdin), nil
	}
	return os.Open(path)
}

func firstError(r catalog.Report) string {
	for _, p := range r.Problems {
		if !p.Warning {
			return p.String()
		}
	}
	return "unknown"
}

// shownProblems is how many problems of one column are printed one by one.
const shownProblems = 10

func printReport(w io.Writer, r catalog.Report) {
	for _, n := range r.Notes {
		fmt.Fprintln(w, n)
	}
	if len(r.Columns) > 0 {
		t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		fmt.Fprintln(t, "\nHEADING\tTAKEN FOR\tUNIT")
		for _, c := range r.Columns {
			field := c.Field
			if field == "" {
				field = "(passed over)"
			}
			fmt.Fprintf(t, "%s\t%s\t%s\n", c.Heading, field, c.Unit)
		}
		t.Flush()
	}
	fmt.Fprintf(w, "\n%s, %s, %s.\n", catalog.Count(r.Rows, "row", "rows"), catalog.Count(r.Errors, "error", "errors"), catalog.Count(r.Warnings, "warning", "warnings"))
	for _, warning := range []bool{false, true} {
		shown := map[string]int{}
		more := map[string]int{}
		for _, p := range r.Problems {
			if p.Warning != warning {
				continue
			}
			kind := p.Column
			if shown[kind]++; shown[kind] > shownProblems {
				more[kind]++
				continue
			}
			word := "error  "
			if warning {
				word = "warning"
			}
			fmt.Fprintf(w, "  %s %s\n", word, p)
		}
		for _, u := range r.Unlisted {
			if u.Warning == warning {
				more[u.Column] += u.Count
			}
		}
		for _, kind := range slices.Sorted(maps.Keys(more)) {
			where := "of the whole list"
			if kind != "" {
				where = fmt.Sprintf("in column %q", kind)
			}
			fmt.Fprintf(w, "          and %d more %s\n", more[kind], where)
		}
	}
}

type stockListCmd struct {
	Search string `placeholder:"TEXT" help:"Only hinges whose number, name or finish contains it."`
	JSON   bool   `name:"json" help:"Print a JSON array."`
	place  `embed:""`
}

func (stockListCmd) Help() string {
	return `Example:
  leafgauge stock list --search "satin nickel"`
}

// Run prints the stock.
func (c stockListCmd) Run(s streams) error {
	items, err := c.open(s)
	if err != nil {
		return err
	}
	found := []catalog.Item{}
	for _, i := range items {
		if strings.Contains(strings.ToLower(i.StockNumber+" "+i.Name+" "+i.Finish+" "+i.FinishNo), strings.ToLower(c.Search)) {
			found = append(found, i)
		}
	}
	if c.JSON {
		return json.NewEncoder(s.out).Encode(found)
	}
	t := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "STOCK NUMBER\tSIZE\tTHICK\tCORNERS\tHOLES\tBEARING\tFINISH\tON HAND\tPRICE\tSOLD IN")
	for _, i := range found {
		corners := catalog.CornerText(i.Radius)
		price := "none"
		if len(i.Prices) > 0 {
			price = i.Prices[0].Price.String()
		}
		fmt.Fprintf(t, "%s\t%s\t%.3f\t%s\t%d\t%s\t%s\t%d\t%s\t%d\n", i.StockNumber, i.Size(), i.Thickness.Inches(), corners, len(i.Holes), i.Bearing,
			strings.Trim(i.Finish+" / "+i.FinishNo, " /"), i.OnHand, price, i.SoldIn)
	}
	t.Flush()
	fmt.Fprintf(s.out, "%s of %d\n", catalog.Count(len(found), "hinge", "hinges"), len(items))
	return nil
}

// open reads the stock of a database that is there already.
func (p place) open(s streams) ([]catalog.Item, error) {
	if p.DatabaseURL == "" {
		if _, err := os.Stat(p.databaseURL()); errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("there is no database in %s: import a list with: leafgauge stock import FILE", p.Data)
		}
	}
	repo, err := store.Open(s.ctx, p.databaseURL())
	if err != nil {
		return nil, err
	}
	defer repo.Close()
	return repo.Stock(s.ctx)
}

type stockExportCmd struct {
	File  string `arg:"" optional:"" default:"-" help:"CSV to write; - or nothing is standard output."`
	place `embed:""`
}

func (stockExportCmd) Help() string {
	return `Example:
  leafgauge stock export shelf.csv`
}

// Run writes the stock.
func (c stockExportCmd) Run(s streams) error {
	items, err := c.open(s)
	if err != nil {
		return err
	}
	if c.File == "-" {
		return catalog.WriteStock(s.out, items)
	}
	return writeWhole(c.File, func(w io.Writer) error { return catalog.WriteStock(w, items) })
}

// writeWhole writes a file completely or leaves the old one as it was.
func writeWhole(path string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) //nolint:errcheck // gone already when all went well
	if _, err := f.Write(b.Bytes()); err != nil {
		f.Close()
		return err
	}
	if err := f.Sync(); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Chmod(f.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

type stockSampleCmd struct {
	Number   string `arg:"" help:"Stock number of the hinge."`
	Findings string `arg:"" help:"What \"measure --json\" printed of a photo of the sample; - reads standard input."`
	DryRun   bool   `help:"Only print the pattern."`
	place    `embed:""`
}

func (stockSampleCmd) Help() string {
	return `Example:
  leafgauge measure --json sample.jpg | leafgauge stock sample H1042 -`
}

// Run stores a measured pattern with a stock hinge.
func (c stockSampleCmd) Run(s streams) error {
	in, err := s.open(c.Findings)
	if err != nil {
		return err
	}
	defer in.Close()
	var r measure.Result
	if err := json.NewDecoder(in).Decode(&r); err != nil {
		return fmt.Errorf("%s: this is not the JSON that \"leafgauge measure --json\" prints: %w", c.Findings, err)
	}
	if r.Hinge == nil {
		return fmt.Errorf("the sample's photo could not be measured (%v): take it again", r.RetakeReasons)
	}
	holes, u, err := catalog.PatternFromSample(*r.Hinge)
	if err != nil {
		return err
	}
	repo, err := store.Open(s.ctx, c.databaseURL())
	if err != nil {
		return err
	}
	defer repo.Close()
	item, err := repo.StockItem(s.ctx, c.Number)
	if err != nil {
		return fmt.Errorf("stock number %s: %w", c.Number, err)
	}
	if d := r.Hinge.Height.Value - item.Height; d > 3 || d < -3 {
		return fmt.Errorf("the sample is %.1f mm high, %s is listed with %.1f mm: is it the same hinge?", r.Hinge.Height.Value.MM(), c.Number, item.Height.MM())
	}
	for _, h := range holes {
		fmt.Fprintf(s.out, "from edge %.2f mm (%s in), from end %.2f mm (%s in)\n", h.FromEdge.MM(), h.FromEdge.Fraction(64), h.FromEnd.MM(), h.FromEnd.Fraction(64))
	}
	fmt.Fprintf(s.out, "standard uncertainty %.2f mm\n", u.MM())
	if c.DryRun {
		return nil
	}
	item.Holes, item.HoleU, item.PatternID = holes, u, ""
	if _, _, err := repo.PutStock(s.ctx, []catalog.Item{item}); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "%s has this pattern now.\n", c.Number)
	return nil
}
