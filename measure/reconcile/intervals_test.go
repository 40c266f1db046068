package reconcile_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"leafgauge/intake/readings"
	"leafgauge/internal/truth"
	"leafgauge/measure"
	"leafgauge/measure/reconcile"

	"github.com/stretchr/testify/require"
)

// A mistyped is one way of typing the sizes of a hinge: what stands for height, width and thickness, with a photo or none.
type mistyped struct {
	name  string
	photo bool
	typed func(h truth.Hinge, by hand) (height, width, thickness string)
}

// exchange types a decimal with two digits side by side, unlike each other, the other way round.
func exchange(s string, rng *rand.Rand) string {
	b := []byte(s)
	var at []int
	for i := range len(b) - 1 {
		if b[i] >= '0' && b[i] <= '9' && b[i+1] >= '0' && b[i+1] <= '9' && b[i] != b[i+1] && strings.Contains(s[:i], ".") {
			at = append(at, i)
		}
	}
	if len(at) == 0 {
		return s
	}
	i := at[rng.IntN(len(at))]
	b[i], b[i+1] = b[i+1], b[i]
	return string(b)
}

// usual types every size as it is; nobody takes a rule to a leaf's thickness.
func usual(h truth.Hinge, by hand) (height, width, thickness string) {
	fine := by
	if by.style == "ruler mm" {
		fine.style = "caliper mm"
	}
	return by.size(h.Height), by.size(h.OpenWidth), fine.fine(h.Thickness)
}

// mistypings are sizes typed right and wrong, a slip at a time.
func mistypings() (all []mistyped) {
	inThickness := func(name string, alter func(mm float64, by hand) string) mistyped {
		return mistyped{name, true, func(h truth.Hinge, by hand) (string, string, string) {
			height, width, _ := usual(h, by)
			return height, width, alter(h.Thickness, by)
		}}
	}
	inHeight := func(name string, alter func(h truth.Hinge, by hand) string) mistyped {
		return mistyped{name, true, func(h truth.Hinge, by hand) (string, string, string) {
			_, width, thickness := usual(h, by)
			return alter(h, by), width, thickness
		}}
	}
	inWidth := func(name string, alter func(h truth.Hinge, by hand) string) mistyped {
		return mistyped{name, true, func(h truth.Hinge, by hand) (string, string, string) {
			height, _, thickness := usual(h, by)
			return height, alter(h, by), thickness
		}}
	}
	inch := func(mm float64, by hand) string { return fmt.Sprintf("%.3f in", (mm+by.gauss(0.04))/25.4) }
	tape := func(mm float64, by hand) string { by.style = "tape"; return by.size(mm) }
	all = []mistyped{
		{"typed right", true, usual},
		{"typed right, no photo", false, usual},
		inThickness("thickness, digits exchanged", func(mm float64, by hand) string { return exchange(inch(mm, by), by.rng) }),
		inThickness("thickness, point slipped", func(mm float64, by hand) string { return fmt.Sprintf("%.2f in", (mm+by.gauss(0.04))/2.54) }),
		inThickness("thickness, point and digits", func(mm float64, by hand) string {
			return exchange(fmt.Sprintf("%.2f in", (mm+by.gauss(0.04))/2.54), by.rng)
		}),
		inThickness("thickness of both leaves", func(mm float64, by hand) string { return inch(2*mm, by) }),
		inHeight("height, digits exchanged", func(h truth.Hinge, by hand) string { return exchange(inch(h.Height, by), by.rng) }),
		inHeight("height with the tips", func(h truth.Hinge, by hand) string {
			return fmt.Sprintf("%.1f mm", h.Height+4+6*by.rng.Float64()+by.gauss(0.04))
		}),
		inHeight("height, a sixteenth off", func(h truth.Hinge, by hand) string { return tape(h.Height+25.4/16, by) }),
		inWidth("width of one leaf", func(h truth.Hinge, by hand) string { return by.size(h.OpenWidth / 2) }),
		inWidth("width without the barrel", func(h truth.Hinge, by hand) string { return by.size(h.OpenWidth - h.Barrel) }),
		inWidth("width in the wrong unit", func(h truth.Hinge, by hand) string { return fmt.Sprintf("%.1f in", h.OpenWidth+by.gauss(0.04)) }),
		{"height and width swapped", true, func(h truth.Hinge, by hand) (string, string, string) {
			height, width, thickness := usual(h, by)
			return width, height, thickness
		}},
	}
	noPhoto := all[2]
	noPhoto.name, noPhoto.photo = "thickness, digits, no photo", false
	return slices.Insert(all, 3, noPhoto)
}

// A held counts how often a 95 % interval holds the truth, and how often it is off by more than four standard
// uncertainties: far, and silent where nothing was said or asked about it.
type held struct{ n, within, far, silent int }

func (h *held) count(e measure.Estimate, truth float64, said bool) {
	if !e.Known() {
		return
	}
	h.n++
	off := math.Abs(e.Value.MM() - truth)
	if off <= measure.Coverage95*e.Sigma.MM() {
		h.within++
	}
	if off > 4*e.Sigma.MM() {
		h.far++
		if !said {
			h.silent++
		}
	}
}

func (h held) share() float64 { return float64(h.within) / float64(max(1, h.n)) }

func (h held) String() string {
	return fmt.Sprintf("%4d %5.1f %% %3d %3d", h.n, 100*h.share(), h.far, h.silent)
}

// Sizes typed right and wrong, by hands of their own, with a photo or without: how often the reconciled intervals
// hold, and how often one is surely wrong without a word. A number exchanged into another that a leaf may well be
// (.079 for .097) nobody can see: of that class only a limit on what was reached is held.
func TestIntervalsOfWhatWasTyped(t *testing.T) {
	truths := slices.DeleteFunc(loadTruths(t), func(x truth.Truth) bool { return x.Hinge.Leaves == 1 })
	styles := []string{"caliper mm", "caliper in", "tape", "ruler mm"}
	const each = 40 // 400 for the table in docs/measured.md
	sum := map[string]*held{"height": {}, "open width": {}, "thickness": {}}
	var b strings.Builder
	for k, m := range mistypings() {
		rng := rand.New(rand.NewPCG(1960, uint64(k)))
		row := map[string]*held{"height": {}, "open width": {}, "thickness": {}}
		asked := 0
		for range each {
			x := truths[rng.IntN(len(truths))]
			h, w, th := m.typed(x.Hinge, hand{styles[rng.IntN(len(styles))], rng})
			text := fmt.Sprintf("height %s, width %s, thickness %s", h, w, th)
			var photos []measure.Result
			if m.photo {
				photos = []measure.Result{photoOf(x, rng, 1, 1)}
			}
			best := reconcile.Best(photos, readings.Parse(text), nil)
			sizesWithin(t, text, best)
			if len(best.Rivals) > 0 {
				asked++
			}
			for name, c := range map[string]struct {
				q     measure.Quantity
				e     measure.Estimate
				truth float64
			}{"height": {measure.QHeight, best.Height, x.Hinge.Height}, "open width": {measure.QOpenWidth, best.OpenWidth, x.Hinge.OpenWidth},
				"thickness": {measure.QThickness, best.Thickness, x.Hinge.Thickness}} {
				said := slices.ContainsFunc(best.Disagreements, func(d measure.Disagreement) bool { return d.Quantity == c.q || d.Quantity == measure.QUnknown }) ||
					slices.ContainsFunc(best.Rivals, func(v measure.Rival) bool { return v.Quantity == c.q })
				row[name].count(c.e, c.truth, said)
				sum[name].count(c.e, c.truth, said)
			}
		}
		fmt.Fprintf(&b, "| %-28s | %s | %s | %s | %3d |\n", m.name, row["height"], row["open width"], row["thickness"], asked)
		if !strings.Contains(m.name, "digits") {
			for name, h := range row {
				require.LessOrEqual(t, h.silent, max(1, each/20), "%s: %s", m.name, name)
			}
		}
	}
	fmt.Fprintf(&b, "| %-28s | %s | %s | %s |\n", "all", sum["height"], sum["open width"], sum["thickness"])
	t.Log("\n" + b.String())
	require.Greater(t, sum["height"].share(), 0.93)
	require.Greater(t, sum["open width"].share(), 0.93)
	require.Greater(t, sum["thickness"].share(), 0.82)
}
