package reconcile_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"leafgauge/intake/readings"
	"leafgauge/measure"
	"leafgauge/measure/reconcile"

	"github.com/stretchr/testify/require"
)

// usedOf is the input of a typed reading that was used for a length.
func usedOf(t *testing.T, b measure.Best, k measure.Key) measure.Estimate {
	t.Helper()
	i := slices.IndexFunc(b.Trace, func(tr measure.Trace) bool { return tr.Quantity == k && tr.Source == "typed" && tr.Used })
	require.GreaterOrEqual(t, i, 0, "%+v", b.Trace)
	return b.Trace[i].Input
}

// Numbers typed with two digits exchanged, which another slip explains as well: of no hinge is the program
// sure of something wrong without a word.
func TestExchangedDigitsAreNotBelievedAtOnce(t *testing.T) {
	for text, meant := range map[string]float64{"thickness .192": 0.129, "thickness .314 in": 0.134, "thickness .79": 0.097} {
		for _, x := range loadTruths(t) {
			if math.Abs(x.Hinge.Thickness/25.4-meant) > 0.006 || x.Hinge.Leaves == 1 {
				continue
			}
			for seed := range uint64(5) {
				for _, sizes := range []string{"", fmt.Sprintf("height %.1f mm, width %.1f mm, ", x.Hinge.Height, x.Hinge.OpenWidth)} {
					b := reconcile.Best([]measure.Result{photoOf(x, rand.New(rand.NewPCG(seed, 3)), 1, 1)}, readings.Parse(sizes+text), nil)
					low, high := b.Thickness.Interval95()
					holds := b.Thickness.Known() && low.MM() <= x.Hinge.Thickness && x.Hinge.Thickness <= high.MM()
					asked := slices.ContainsFunc(b.Rivals, func(r measure.Rival) bool { return r.Quantity == measure.QThickness })
					said := slices.ContainsFunc(b.Disagreements, func(d measure.Disagreement) bool { return d.Quantity == measure.QThickness })
					require.True(t, holds || asked || said && !b.Thickness.Known() || said, "%s, %q: %v of %.2f", x.ID, sizes+text, b.Thickness, x.Hinge.Thickness)
					require.False(t, b.Thickness.Known() && math.Abs(b.Thickness.Value.MM()-x.Hinge.Thickness) > 4*b.Thickness.Sigma.MM() && !asked, "%s, %q: %v of %.2f, %v",
						x.ID, sizes+text, b.Thickness, x.Hinge.Thickness, b.Rivals)
				}
			}
		}
	}
}

// The case that was told: 2.44 ± 0.05 mm of a leaf of 3.27 mm (photo 006).
func TestRivalsOfAThickness(t *testing.T) {
	x := truthOf(t, "006")
	b := reconcile.Best([]measure.Result{photoOf(x, seeded(), 1, 1)}, readings.Parse("thickness .192 in"), nil)
	require.Len(t, b.Rivals, 1)
	r := b.Rivals[0]
	require.Equal(t, measure.QThickness, r.Quantity)
	require.Equal(t, ".192 in", r.Typed)
	got := []float64{r.Values[0].Inches(), r.Values[1].Inches()}
	slices.Sort(got)
	require.InDeltaSlice(t, []float64{0.096, 0.129}, got, 1e-6)
	require.Less(t, r.Odds, measure.RivalOdds*1.0)
	require.GreaterOrEqual(t, r.Odds, 1.0)
	require.Contains(t, b.Notes[0], "typed .192 in thick: that may be ")

	t.Run("the counter's word settles it", func(t *testing.T) {
		b := reconcile.Best([]measure.Result{photoOf(x, seeded(), 1, 1)}, readings.Parse("thickness .192 in"), []string{"thickness:both_leaves"})
		require.Empty(t, b.Rivals)
	})
	t.Run("sound numbers have none", func(t *testing.T) {
		for _, text := range []string{"thickness .129", "4 x 4, .129 thick", "barrel 0.51, 0.129 thick"} {
			require.Empty(t, reconcile.Best([]measure.Result{photoOf(x, seeded(), 1, 1)}, readings.Parse(text), nil).Rivals, text)
		}
	})
	t.Run("a thickness that the barrel contradicts is less sure", func(t *testing.T) {
		b := reconcile.Best([]measure.Result{photoOf(truthOf(t, "002"), seeded(), 1, 1)}, readings.Parse("thickness 0.120 in"), nil) // of 0.136, its barrel 14.8 mm
		require.Greater(t, b.Thickness.Sigma, usedOf(t, reconcile.Best(nil, readings.Parse("thickness 0.120 in"), nil), "thickness").Sigma)
		i := slices.IndexFunc(b.Trace, func(tr measure.Trace) bool { return tr.Source == "barrel" })
		require.GreaterOrEqual(t, i, 0, "the barrel's own word stays")
		require.True(t, b.Trace[i].Used)
		require.InDelta(t, (14.77-6.35)/2, b.Trace[i].Input.Value.MM(), 0.2)
		require.InDelta(t, 0.5, b.Trace[i].Input.Sigma.MM(), 0.05, "half of how pins differ")
	})
	t.Run("a pin that was measured makes the barrel say more", func(t *testing.T) {
		b := reconcile.Best([]measure.Result{photoOf(x, seeded(), 1, 1)}, readings.Parse("thickness .192 in, pin diameter 1/4 in"), nil)
		require.Len(t, b.Rivals, 1)
		require.InDelta(t, 0.129, b.Rivals[0].Values[0].Inches(), 1e-6, "both leaves of 0.096 in would make a barrel of 11.2 mm")
		require.Greater(t, b.Rivals[0].Odds, 2*r.Odds)
	})
}

// Exchanged digits and pin tips have their names of every length that they happen to.
func TestDigitsOfBarrelAndPinAndTips(t *testing.T) {
	x := truthOf(t, "004") // a barrel of 10.30 mm, 0.405 in
	p := []measure.Result{photoOf(x, seeded(), 1, 1)}
	for text, want := range map[string]string{
		"barrel 0.405 in": "",
		"barrel 0.450 in": "barrel_diameter:digits",
		"pin 520 thou":    "pin_diameter:digits", // 0.520 in might be centimetres
		"pin 0.250 in":    "",
		fmt.Sprintf("height %.1f mm", x.Hinge.Height+7.5): "height:with_tips",
	} {
		var names []string
		for _, d := range reconcile.Best(p, readings.Parse(text), nil).Disagreements {
			names = append(names, d.Name())
		}
		if want == "" {
			require.Empty(t, names, text)
			continue
		}
		require.Equal(t, []string{want}, names, text)
	}
}

// What was corrected is never known better than what was typed.
func TestACorrectionMakesNothingSurer(t *testing.T) {
	x := truthOf(t, "018") // 4 high, 3 1/2 wide, corners of 5/8 in
	for text, k := range map[string]measure.Key{
		"thickness 4.5 mm":                  "thickness",
		"thickness 0.89 in":                 "thickness",
		"1 1/4 radius":                      "leaf.0.corner_radius",
		"height 101.5 in, width 89.5 mm":    "height",
		"height 101.5 mm, width 1 3/4 in":   "open_width",
		"height 109 mm, width 89.5 mm":      "height",
		"height 105.1 mm, width 89.5 mm":    "height",
		"height 3 1/2 in, width 4 in":       "height",
		"height 4 in, width 79.1 mm":        "open_width",
		"height 4 in, leaf width 89.5 mm":   "open_width",
		"corner diameter 5/8 in, 4 in tall": "leaf.0.corner_radius",
	} {
		typed := readings.Parse(text)
		b := reconcile.Best([]measure.Result{photoOf(x, seeded(), 1, 1)}, typed, nil)
		require.NotEmpty(t, b.Disagreements, text)
		least := measure.Length(math.Inf(1))
		for _, r := range typed.Readings {
			least = min(least, r.U)
		}
		require.GreaterOrEqual(t, usedOf(t, b, k).Sigma, least*(1-1e-9), text)
		for _, d := range b.Disagreements {
			require.NotContains(t, d.Sentence, "as told", text)
			require.Contains(t, d.Sentence, "typed ", text)
		}
	}
}

// Millimetres are said to the hundredth where the tenth would be half right.
func TestSentencesSayHalfTenths(t *testing.T) {
	photo := photoOf(truthOf(t, "018"), seeded(), 1, 1)
	for mm, want := range map[string]string{"57.15 in": "2 1/4 in (57.15 mm)", "44.45 in": "1 3/4 in (44.45 mm)", "88.9 in": "3 1/2 in (88.9 mm)"} {
		typed := readings.Parse("width " + mm)
		photo.Hinge.OpenWidth.Value = *typed.Readings[0].Value / 25.4
		require.Contains(t, only(t, reconcile.Best([]measure.Result{photo}, typed, nil)).Sentence, want)
	}
}
