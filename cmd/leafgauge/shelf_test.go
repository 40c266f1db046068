package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

const shelf = "../../testdata/stock/demo.csv"

// commandWith runs one command with something on its standard input.
func commandWith(t *testing.T, stdin string, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(args, streams{context.Background(), strings.NewReader(stdin), &o, &e, func(string) string { return "" }})
	return status, o.String(), e.String()
}

func TestStockIsImportedListedAndExported(t *testing.T) {
	data := filepath.Join(t.TempDir(), "data")
	status, out, errs := commandWith(t, "", "stock", "import", "--data", data, "--dry-run", shelf)
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "373 rows, 0 errors")
	require.Contains(t, out, "nothing was written")
	require.NoDirExists(t, data)

	status, _, errs = commandWith(t, "", "stock", "list", "--data", data)
	require.Equal(t, exitFailure, status)
	require.Contains(t, errs, "stock import FILE")

	status, out, errs = commandWith(t, "", "stock", "import", "--data", data, shelf)
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "373 new, 0 changed")
	status, first, errs := commandWith(t, "", "stock", "export", "--data", data)
	require.Equal(t, exitOK, status, errs)

	// An export comes back as it was; so does a changed price.
	status, out, errs = commandWith(t, first, "stock", "import", "--data", data, "-")
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "0 new, 0 changed, 373 as they were")
	status, out, errs = commandWith(t, strings.Replace(first, "5.48 USD", "5.49 USD", 1), "stock", "import", "--data", data, "-")
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "0 new, 1 changed")

	status, out, _ = commandWith(t, "", "stock", "list", "--data", data, "--search", "h1001", "--json")
	require.Equal(t, exitOK, status)
	var items []catalog.Item
	require.NoError(t, json.Unmarshal([]byte(out), &items))
	require.Len(t, items, 1)
	require.Equal(t, "5.49", items[0].Prices[0].Price.Number())
	status, out, _ = commandWith(t, "", "stock", "list", "--data", data, "--search", "satin nickel")
	require.Equal(t, exitOK, status)
	require.Contains(t, out, "US15 / 646")
}

func TestABadListImportsNothing(t *testing.T) {
	data := filepath.Join(t.TempDir(), "data")
	list := "number,height in,width in\nA,3.5,3.5\nB,3-Jan,3.5\n"
	status, out, errs := commandWith(t, list, "stock", "import", "--data", data, "-")
	require.Equal(t, exitFailure, status)
	require.Contains(t, out, "row 3, height in")
	require.Contains(t, errs, "nothing was imported")
	status, out, _ = commandWith(t, "", "stock", "list", "--data", data)
	require.Equal(t, exitOK, status)
	require.Contains(t, out, "0 hinges of 0")

	status, out, _ = commandWith(t, list, "stock", "import", "--data", data, "--json", "--dry-run", "-")
	require.Equal(t, exitFailure, status)
	var report catalog.Report
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Equal(t, 1, report.Errors)

	status, _, errs = commandWith(t, "", "stock", "import", "--data", data, "nowhere.csv")
	require.Equal(t, exitFailure, status)
	require.Contains(t, errs, "nowhere.csv")
}

func TestAMappingIsRemembered(t *testing.T) {
	dir := t.TempDir()
	data, mapping := filepath.Join(dir, "data"), filepath.Join(dir, "map.json")
	require.NoError(t, os.WriteFile(mapping, []byte(`{"Artikel": "stock number", "Hoehe mm": "height", "Breite mm": "open width"}`), 0o600))
	list := "Artikel,Hoehe mm,Breite mm\nA,88.9,88.9\n"
	status, _, _ := commandWith(t, list, "stock", "import", "--data", data, "-")
	require.Equal(t, exitFailure, status)
	status, _, errs := commandWith(t, list, "stock", "import", "--data", data, "--map", mapping, "-")
	require.Equal(t, exitOK, status, errs)
	status, out, errs := commandWith(t, list, "stock", "import", "--data", data, "-")
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "1 as they were")
}

// bestOf is a best set as JSON for a hinge of the demo shelf.
func bestOf(t *testing.T, number string) string {
	t.Helper()
	items, report, err := readStock(streams{}, shelf, catalog.ListOptions{})
	require.NoError(t, err)
	require.Zero(t, report.Errors)
	for _, i := range items {
		if i.StockNumber != number {
			continue
		}
		e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.05} }
		b := measure.Best{Thickness: e(i.Thickness)}
		b.Height, b.OpenWidth, b.BarrelDiameter = e(i.Height), e(i.OpenWidth), e(i.Barrel)
		for l := range 2 {
			leaf := measure.Leaf{CornerRadius: e(i.Radius[l])}
			for _, h := range i.Holes {
				leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: e(h.FromEdge), FromEnd: e(h.FromEnd), Diameter: e(i.HoleDia)})
			}
			b.Leaves = append(b.Leaves, leaf)
		}
		text, err := json.Marshal(b)
		require.NoError(t, err)
		return string(text)
	}
	t.Fatalf("no %s on the demo shelf", number)
	return ""
}

func TestFitRanksTheShelf(t *testing.T) {
	status, out, errs := commandWith(t, bestOf(t, "H1053"), "fit", "--stock", shelf, "--finish", "satin nickel", "--bearing", "ball", "--json", "-")
	require.Equal(t, exitOK, status, errs)
	var a fitAnswer
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.NotEmpty(t, a.Fits)
	require.Equal(t, catalog.DropsIn, a.Fits[0].Verdict)
	require.Greater(t, a.Fits[0].PDropsIn, catalog.SureEnough)
	require.Contains(t, a.Fits[0].Item.Name, "ball bearing, satin nickel")

	status, out, errs = commandWith(t, bestOf(t, "H1053"), "fit", "--stock", shelf, "--door-thickness", "1-3/4in", "--door-width", "36in", "-")
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "drops in")
	require.Contains(t, out, "Undersized for this door")
	require.Contains(t, out, "support the door before a pin or screw comes out")
}

// What a counter hand types beside a measured hinge, to what the command prints.
func TestFitSaysWhatWordsAndDoorMake(t *testing.T) {
	const handwork = `(?i)chisel|shim|veneer|plug|lead hole|deepen|lengthen|glue`
	two := filepath.Join(t.TempDir(), "two.csv")
	const row = ",Hinge,3-1/2,3-1/2,0.085,%s,23/32 x 9/16; 13/32 x 1-3/4; 23/32 x 2-15/16,0.212,%s,ball,%s,US15,full mortise,%s,4.00,50\n"
	list := "stock number,description,height (in),open width (in),leaf thickness (in),corner radius (in),holes (in),hole diameter (in),pin kind,bearing,base metal,finish,mortise,handing,price,on hand\n" +
		"DROPS" + fmt.Sprintf(row, "1/4", "loose", "steel", "left") + "WORK" + fmt.Sprintf(row, "square", "non-removable", "stainless", "")
	require.NoError(t, os.WriteFile(two, []byte(list), 0o600))
	var old measure.Best
	items, _, err := readStock(streams{}, two, catalog.ListOptions{Currency: "USD"})
	require.NoError(t, err)
	e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.05} }
	old.Height, old.OpenWidth, old.FinishHint = e(items[0].Height), e(items[0].OpenWidth), "brass, satin or polished"
	for range 2 {
		leaf := measure.Leaf{CornerRadius: e(items[0].Radius[0])}
		for _, h := range items[0].Holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: e(h.FromEdge), FromEnd: e(h.FromEnd), Diameter: e(items[0].HoleDia)})
		}
		old.Leaves = append(old.Leaves, leaf)
	}
	seen, err := json.Marshal(measure.Result{Status: measure.Measured, RetakeReasons: []measure.Reason{}, Hinge: &old.Hinge})
	require.NoError(t, err)
	for words, c := range map[string]struct{ says, not []string }{
		"0.085 thick, right hand": {[]string{"WORK: cut-out needs work", "It stands before DROPS, which would drop in (", "It is handed: left; by what was said the door takes right ones.",
			"corners of the left leaf's cut-out", "corners of the right leaf's cut-out"}, []string{"first leaf", "One question"}},
		"0.085 thick, left hand, non-removable pin": {[]string{"DROPS: drops in", "Asked for with a non-removable pin; this one has a loose pin.",
			"It stands first, though it goes against what was said or published (see what to mind): the next that does not is WORK, which needs work on the cut-out."}, nil},
		"0.085 thick, left hand": {[]string{"DROPS: drops in", "The old hinge looks like brass in the photo; this one is satin nickel. A photo's colours are only a hint."},
			[]string{"It stands"}},
		"0.085 thick, left hand, satin nickel": {[]string{"DROPS: drops in"}, []string{"looks like brass"}},
		"0.085 thick, left hand, brass, front door by the sea": {[]string{"DROPS: drops in", "Plated steel rusts in a coastal place", "Asked for in brass (US3, bright brass); this one is satin nickel."},
			[]string{"looks like brass"}},
		"0.085 thick, left hand, fire door 32 x 80 in, 1 3/8 in thick, 2 hinges": {[]string{
			"DROPS: fits the old cut-out but is below the published least for a fire door: at least 3 1/2 in (88.9 mm) high with a leaf of 0.123 in (3.12 mm)",
			"fits, below a fire door's least", "replacing all 3 is safer"}, []string{"DROPS: drops in", "before you cut or drill", handwork}},
		"0.123 thick, right hand, fire door": {[]string{"The corners of the left leaf differ: old 1/4 in radius, new square.",
			"work for its label service or a licensed shop (NFPA 80 § 4.1.3)"}, []string{handwork}},
	} {
		t.Run(words, func(t *testing.T) {
			status, out, errs := commandWith(t, string(seen), "fit", "--stock", two, "--readings", words, "-")
			require.Equal(t, exitOK, status, errs)
			for _, text := range c.says {
				require.Contains(t, out, text)
			}
			for _, text := range c.not {
				require.NotRegexp(t, text, out)
			}
			status, out, errs = commandWith(t, string(seen), "fit", "--stock", two, "--readings", words, "--json", "-")
			require.Equal(t, exitOK, status, errs)
			require.NotRegexp(t, `_mm":\s*-?\d+\.\d{7,}`, out, "88.9, not 88.89999999999999")
			require.Contains(t, out, `"height_mm":88.9,`)
		})
	}
}

func TestFitSaysWhatIsMissing(t *testing.T) {
	for name, c := range map[string]struct {
		stdin string
		args  []string
		say   string
	}{
		"no JSON":           {"hello", nil, "measure --json"},
		"nothing":           {"", nil, "no findings"},
		"a retake":          {`{"status":"retake","retake_reasons":["card_missing"],"image":{}}`, nil, "card_missing"},
		"a list with a sin": {bestOf(t, "H1053"), []string{"--stock", "shelf_test.go"}, "has 1 error, the first"},
	} {
		args := append([]string{"fit", "--stock", shelf, "-"}, c.args...)
		status, _, errs := commandWith(t, c.stdin, args...)
		require.Equal(t, exitFailure, status, name)
		require.Contains(t, errs, c.say, name)
	}
	status, _, errs := commandWith(t, bestOf(t, "H1053"), "fit", "--stock", shelf, "--door-width", "wide", "-")
	require.Equal(t, exitUsage, status)
	require.Contains(t, errs, "--door-width: ")
	status, _, errs = commandWith(t, bestOf(t, "H1053"), "fit", "--stock", shelf, "--finish", "banana", "-")
	require.Equal(t, exitUsage, status)
	require.Contains(t, errs, "--finish banana: no finish is known")
}

func TestDoorAdvice(t *testing.T) {
	status, out, errs := commandWith(t, "", "door", "--width", "32in", "--height", "80in", "--thickness", "1-3/8in")
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "3 hinges for a door 80 in")
	require.Contains(t, out, "NFPA 80")
	require.Contains(t, out, "common practice, no source")
	require.Contains(t, out, "! Support the door")

	status, out, errs = commandWith(t, "", "door", "--width", "2ft 8in", "--height", "6'8\"", "--thickness", "35mm", "--fire-rated", "--json")
	require.Equal(t, exitOK, status, errs)
	var a struct {
		Door   catalog.Door     `json:"door"`
		Advice []catalog.Advice `json:"advice"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.InDelta(t, 812.8, a.Door.Width.MM(), 1e-9)
	require.NotEmpty(t, a.Advice)
	require.Contains(t, out, "authority having jurisdiction")

	for _, args := range [][]string{{"door"}, {"door", "--width", "32"}, {"door", "--width", "-3in"}, {"door", "--height", "90ft"}, {"door", "--core", "straw", "--width", "32in"}, {"door", "--width", "32in", "--weight", "-2"}} {
		status, out, errs := commandWith(t, "", args...)
		require.Equal(t, exitUsage, status, "%v", args)
		require.NotEmpty(t, errs)
		require.Empty(t, out)
	}
}

func TestASamplesPatternIsStored(t *testing.T) {
	data := filepath.Join(t.TempDir(), "data")
	status, _, errs := commandWith(t, "", "stock", "import", "--data", data, shelf)
	require.Equal(t, exitOK, status, errs)
	e := func(v float64) measure.Estimate { return measure.Estimate{Value: measure.Length(v), Sigma: 0.06} }
	leaf := measure.Leaf{Holes: []measure.Hole{{FromEdge: e(18.4), FromEnd: e(14.2)}, {FromEdge: e(10.2), FromEnd: e(38.2)}, {FromEdge: e(18.3), FromEnd: e(62.1)}}}
	text, err := json.Marshal(measure.Result{Status: measure.Measured, RetakeReasons: []measure.Reason{}, Hinge: &measure.Hinge{Height: e(76.3), Leaves: []measure.Leaf{leaf, leaf}}})
	require.NoError(t, err)

	status, out, errs := commandWith(t, string(text), "stock", "sample", "--data", data, "H1001", "-")
	require.Equal(t, exitOK, status, errs)
	require.Contains(t, out, "standard uncertainty 0.04 mm") // 0.06 ⁄ √2: two leaves that agree
	status, out, _ = commandWith(t, "", "stock", "list", "--data", data, "--search", "H1001", "--json")
	require.Equal(t, exitOK, status)
	var items []catalog.Item
	require.NoError(t, json.Unmarshal([]byte(out), &items))
	require.InDelta(t, 18.4, items[0].Holes[0].FromEdge.MM(), 1e-6)
	require.InDelta(t, 0.0424, items[0].HoleU.MM(), 5e-4) // kept to the micrometre
	require.Empty(t, items[0].PatternID)

	for number, say := range map[string]string{"H1300": "is it the same hinge", "H9999": "H9999"} {
		status, _, errs = commandWith(t, string(text), "stock", "sample", "--data", data, number, "-")
		require.Equal(t, exitFailure, status)
		require.Contains(t, errs, say)
	}
	status, _, errs = commandWith(t, `{"status":"retake","retake_reasons":["glare"]}`, "stock", "sample", "--data", data, "H1001", "-")
	require.Equal(t, exitFailure, status)
	require.Contains(t, errs, "glare")
}
