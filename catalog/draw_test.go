package catalog

import (
	"encoding/xml"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// wellFormed parses an SVG and returns its title.
func wellFormed(t *testing.T, svg string) (title string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	in := ""
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return title
		}
		require.NoError(t, err)
		switch x := tok.(type) {
		case xml.StartElement:
			in = x.Name.Local
			require.NotContains(t, []string{"image", "script", "use", "foreignObject", "style"}, in)
			for _, a := range x.Attr {
				require.NotContains(t, a.Name.Local, "href")
				require.NotContains(t, a.Value, "NaN")
				require.NotContains(t, a.Value, "Inf")
			}
		case xml.CharData:
			if in == "title" && title == "" {
				title = string(x)
			}
		}
	}
}

// keep writes drawings into a folder where they can be looked at, when asked to.
func keep(t *testing.T, name, svg string) {
	if dir := os.Getenv("LEAFGAUGE_TEST_DRAWINGS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+".svg"), []byte(svg), 0o644))
	}
}

func TestDrawWhereKnowsEveryPlace(t *testing.T) {
	for _, w := range []string{"height", "open_width", "thickness", "hole_from_edge", "hole_from_end", "corner_radius", "hole_diameter", "barrel_diameter"} {
		svg := DrawWhere(w)
		require.NotEmpty(t, wellFormed(t, svg), w)
		keep(t, "where-"+w, svg)
	}
	require.Empty(t, DrawWhere("elsewhere"))
}

func TestDrawFitShowsOldAndNew(t *testing.T) {
	stock := demoStock(t)
	rng := rand.New(rand.NewPCG(1, 1))
	for _, tr := range truths(t) {
		b := tr.seen(rng, true)
		b.Knuckles = 5
		fits := Rank(b, stock, Door{}, Wishes{})
		for n, f := range []Fit{fits[0], fits[len(fits)-1]} {
			svg := DrawFit(b, f)
			require.Contains(t, wellFormed(t, svg), f.Item.StockNumber)
			keep(t, "fit-"+tr.ID+"-"+string(rune('a'+n)), svg)
		}
	}
}

func TestDrawFitIsHarmless(t *testing.T) {
	nasty := Item{StockNumber: `<script>alert("x")</script>&`, Height: 88.9, OpenWidth: 88.9}
	svg := DrawFit(measure.Best{}, Fit{Item: nasty, Verdict: DoesNotSuit})
	require.Contains(t, wellFormed(t, svg), "<script>") // as text
	require.NotContains(t, svg, "<script>")
	require.Empty(t, DrawFit(measure.Best{}, Fit{}))
}
