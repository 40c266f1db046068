package reconcile_test

import (
	"encoding/json"
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
	"gonum.org/v1/gonum/mat"
)

func truthOf(t *testing.T, id string) truth.Truth {
	t.Helper()
	for _, x := range loadTruths(t) {
		if x.ID == id {
			return x
		}
	}
	t.Fatalf("no truth %s", id)
	return truth.Truth{}
}

func seeded() *rand.Rand { return rand.New(rand.NewPCG(12, 7)) }

// only returns the one disagreement, or fails.
func only(t *testing.T, b measure.Best) measure.Disagreement {
	t.Helper()
	require.Len(t, b.Disagreements, 1)
	return b.Disagreements[0]
}

// What the customers of the test photos typed, with the slips that the truth files record.
// The photo's findings are drawn from the truth. A sixteenth misread off a tape may stay
// unnamed: it lies within what a tape and a hand can do.
func TestReconcileTypedOfTestPhotos(t *testing.T) {
	names := map[string]string{"leaf width": measure.SlipLeafWidth, "unit": measure.SlipUnit, "decimal": measure.SlipDecimal, "swapped": measure.SlipSwapped}
	rng := seeded()
	for _, x := range loadTruths(t) {
		var parts []string
		for _, k := range []string{"height", "open_width", "thickness"} {
			if v := x.Readings.Typed[k]; v != "" {
				parts = append(parts, k+" "+v)
			}
		}
		if v := x.Readings.Typed["note"]; v != "" {
			parts = append(parts, v)
		}
		text := strings.Join(parts, "\n")
		best := reconcile.Best([]measure.Result{photoOf(x, rng, 1, 1)}, readings.Parse(text), nil)
		t.Run(x.ID, func(t *testing.T) {
			require.InDelta(t, x.Hinge.Height, best.Height.Value.MM(), 4*simSize)
			if x.Hinge.Leaves == 2 {
				require.InDelta(t, x.Hinge.OpenWidth, best.OpenWidth.Value.MM(), 4*simSize)
			}
			if best.Thickness.Known() {
				// Five caliper uncertainties; "about" typed to a hundredth of an inch is 0.25 mm.
				require.InDelta(t, x.Hinge.Thickness, best.Thickness.Value.MM(), 0.26)
			}
			switch want := names[x.Readings.Blunder]; {
			case want != "":
				require.Equal(t, want, only(t, best).Slip, text)
				require.True(t, best.Disagreements[0].Applied)
			case x.Readings.Blunder == "":
				require.Empty(t, best.Disagreements, text)
			}
		})
	}
}

func TestReconcileSentences(t *testing.T) {
	x := truthOf(t, "018") // 4 high, 3 1/2 wide, corners of 5/8 in
	for text, want := range map[string]struct{ name, says string }{
		"height 4, width 1 3/4":             {"open_width:leaf_width", "typed 1 3/4 in wide; that is one leaf; the photo says 3 1/2 in open"},
		"height 3 1/2, width 4":             {"height:swapped", "typed 3 1/2 in high and 4 in wide; the two look swapped: 4 in high and 3 1/2 in wide; the photo says 4 in high and 3 1/2 in open"},
		"height 101.5 in, width 3 1/2":      {"height:unit", "typed 101.5 in high; that is in another unit: 4 in (101.5 mm)"},
		"thickness 0.97 in":                 {"thickness:decimal", "typed 0.97 in thick; the decimal point slipped: 0.097 in (2.5 mm)"},
		"thickness 4.5 mm":                  {"thickness:both_leaves", "both leaves together; one is 0.089 in"},
		"1 1/4 radius":                      {"corner_radius:diameter", "that is the diameter; the radius is 5/8 in (15.9 mm)"},
		"4 high, 79.2 mm wide":              {"open_width:barrel_left_out", "the barrel was left out"},
		"4 high, 100.2 mm wide":             {"open_width:barrel_twice", "the barrel was counted twice"},
		"5 high, 5 wide":                    {"unknown:different_hinge", "two different hinges"},
		"leaf width 3 1/2":                  {"leaf_width:open_width", "that is both leaves, open"},
		"height 4, width 3 1/2, 3 knuckles": {"knuckles:said", "typed 3 knuckles; the photo shows 5"},
		"square corners":                    {"corner_radius:said", "said square corners; the photo shows round corners of"},
		"hole count 5":                      {"hole_count:said", "typed 5 holes; the photo shows 4 in a leaf"},
	} {
		photo := photoOf(x, seeded(), 1, 1)
		photo.Hinge.OpenWidth.Value = 89.0
		photo.Hinge.Height.Value = 101.5
		photo.Hinge.BarrelDiameter = measure.Estimate{Value: 10.0, Sigma: 0.1}
		if strings.Contains(text, "100.2") {
			photo.Hinge.BarrelDiameter.Value = 11.2
		}
		d := only(t, reconcile.Best([]measure.Result{photo}, readings.Parse(text), nil))
		require.Equal(t, want.name, d.Name(), text)
		require.Contains(t, d.Sentence, want.says, text)
		require.True(t, d.Applied, text)
		require.GreaterOrEqual(t, d.Odds, 10.0, text)
	}
}

func TestReconcileWithoutPhoto(t *testing.T) {
	t.Run("readings alone make a hinge", func(t *testing.T) {
		b := reconcile.Best(nil, readings.Parse("3 1/2 x 3 1/2, 0.086 thick, 1/4 radius, 5 knuckles, ball bearing"), nil)
		require.Equal(t, "3 1/2 x 3 1/2", b.Nominal.Size)
		require.InDelta(t, 88.9, b.Height.Value.MM(), 1e-6)
		require.InDelta(t, 2.184, b.Thickness.Value.MM(), 1e-3)
		require.Equal(t, 5, b.Knuckles)
		require.Equal(t, measure.BallBearing, b.Bearing)
		require.Len(t, b.Leaves, 2)
		for _, l := range b.Leaves {
			require.Equal(t, measure.CornersQuarter, l.Corners)
			require.Empty(t, l.Holes)
		}
		require.Empty(t, b.Disagreements)
	})
	t.Run("a leaf's width for the open width is seen by the trade sizes", func(t *testing.T) {
		b := reconcile.Best(nil, readings.Parse("height 89.1 mm, width 44.6 mm"), nil)
		require.Equal(t, measure.SlipLeafWidth, only(t, b).Slip)
		require.Equal(t, "3 1/2 x 3 1/2", b.Nominal.Size)
	})
	t.Run("a thickness is judged by the usual ones", func(t *testing.T) {
		for text, slip := range map[string]string{"3 1/2 x 3 1/2, thickness 0.97 in": measure.SlipDecimal, "4 x 4, thickness 2.2 in": measure.SlipUnit, "4 1/2 x 4 1/2, thickness 0.268": measure.SlipBothLeaves} {
			require.Equal(t, slip, only(t, reconcile.Best(nil, readings.Parse(text), nil)).Slip, text)
		}
		for _, text := range []string{"4 1/2 x 4 1/2, thickness 0.134", "5 x 5, thickness 0.190", "4 x 4, thickness 0.130", "3 x 3, thickness 0.090", "4 1/2 x 4 1/2, thickness 0.180"} {
			require.Empty(t, reconcile.Best(nil, readings.Parse(text), nil).Disagreements, text)
		}
	})
	t.Run("readings that contradict each other are not averaged away", func(t *testing.T) {
		b := reconcile.Best(nil, readings.Parse("height 4\nheight 4 1/2"), nil)
		require.Equal(t, measure.SlipConflict, only(t, b).Slip)
		require.False(t, b.Disagreements[0].Applied)
		require.Greater(t, b.Height.Sigma.MM(), 5.0, "half the difference is 6.4 mm")
	})
	t.Run("nothing at all", func(t *testing.T) {
		b := reconcile.Best(nil, measure.Readings{}, nil)
		require.False(t, b.Height.Known())
		out, err := json.Marshal(b)
		require.NoError(t, err)
		for _, null := range []string{`"trace":null`, `"disagreements":null`, `"said":null`, `"leaves":null`} {
			require.NotContains(t, string(out), null)
		}
	})
}

func TestReconcilePhotoOnly(t *testing.T) {
	x := truthOf(t, "003")
	p := photoOf(x, seeded(), 1, 1)
	b := reconcile.Best([]measure.Result{p}, measure.Readings{}, nil)
	require.Equal(t, "4 x 4", b.Nominal.Size)
	require.Empty(t, b.Disagreements)
	// Never pulled hard to the nominal size: by the weight of u²/(u² + 0.92²), some 1 %.
	require.InDelta(t, p.Hinge.Height.Value.MM(), b.Height.Value.MM(), 0.02)
	require.InDelta(t, p.Hinge.Height.Sigma.MM(), b.Height.Sigma.MM(), 0.01)

	odd := p
	h := *p.Hinge
	h.Height.Value, h.OpenWidth.Value = 95.0, 83.0 // no trade size
	odd.Hinge = &h
	b = reconcile.Best([]measure.Result{odd}, measure.Readings{}, nil)
	require.InDelta(t, 95.0, b.Height.Value.MM(), 1e-6, "a hinge of no trade size is left alone")

	retake := measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.Blurred}}
	require.Equal(t, reconcile.Best([]measure.Result{p}, measure.Readings{}, nil).Height, reconcile.Best([]measure.Result{retake, p}, measure.Readings{}, nil).Height)
}

func TestReconcileTwoSlipsAtOnce(t *testing.T) {
	x := truthOf(t, "018")
	p := photoOf(x, seeded(), 1, 1)
	b := reconcile.Best([]measure.Result{p}, readings.Parse("height 101.5 in, width 44.8 mm, thickness 0.90 in"), nil)
	var names []string
	for _, d := range b.Disagreements {
		names = append(names, d.Name())
		require.True(t, d.Applied)
	}
	slices.Sort(names)
	require.Equal(t, []string{"height:unit", "open_width:leaf_width", "thickness:decimal"}, names)
	require.InDelta(t, 2.286, b.Thickness.Value.MM(), 0.02, "the barrel draws a little")
}

// Two digits exchanged, and a height measured along the pin with its tips, are slips that have names.
func TestReconcileDigitsAndTips(t *testing.T) {
	p := photoOf(truthOf(t, "003"), seeded(), 1, 1) // 4 x 4 in
	d := only(t, reconcile.Best([]measure.Result{p}, readings.Parse("4 in high, 107.1 mm wide"), nil))
	require.Equal(t, measure.SlipDigits, d.Slip)
	require.Contains(t, d.Sentence, "two digits were exchanged: 4 in (101.7 mm)")
	d = only(t, reconcile.Best([]measure.Result{p}, readings.Parse("108.6 mm high, 101.7 mm wide"), nil))
	require.Equal(t, "height:with_tips", d.Name())
	require.Contains(t, d.Sentence, "with the tips of the pin")
	// What is corrected is known no better than what was typed.
	typed := readings.Parse("thickness 0.90 in")
	b := reconcile.Best(nil, typed, nil)
	require.InDelta(t, 2.286, b.Thickness.Value.MM(), 1e-3)
	require.GreaterOrEqual(t, b.Thickness.Sigma, typed.Readings[0].U)
}

func TestReconcileOverruled(t *testing.T) {
	x := truthOf(t, "018")
	p := []measure.Result{photoOf(x, seeded(), 1, 1)}
	typed := readings.Parse("height 4, width 1 3/4, thickness 0.97 in")

	t.Run("an overruled slip is shown and not applied: the reading stands as typed", func(t *testing.T) {
		b := reconcile.Best(p, typed, []string{"open_width:leaf_width"})
		var over *measure.Disagreement
		for i, d := range b.Disagreements {
			if d.Overrule {
				over = &b.Disagreements[i]
				continue
			}
			require.NotEqual(t, measure.QOpenWidth, d.Quantity, "no other slip steps into its place")
		}
		require.NotNil(t, over)
		require.Equal(t, measure.SlipLeafWidth, over.Slip)
		require.False(t, over.Applied)
		require.InDelta(t, 1.75*25.4, b.OpenWidth.Value.MM(), 0.1, "what the photo says of it gives way")
		seen := slices.IndexFunc(b.Trace, func(tr measure.Trace) bool { return tr.Quantity == "open_width" && tr.Source == "photo 1" })
		require.GreaterOrEqual(t, seen, 0)
		require.False(t, b.Trace[seen].Used)
		require.InDelta(t, x.Hinge.Height, b.Height.Value.MM(), 0.4, "the rest of the photo stands")
	})
	t.Run("readings of another hinge, believed, stand as typed and the conflict is shown", func(t *testing.T) {
		other := readings.Parse("3 1/2 high, 5 wide")
		b := reconcile.Best(p, other, nil)
		require.True(t, b.OfAnotherHinge(), "%+v", b.Disagreements)
		b = reconcile.Best(p, other, []string{"unknown:different_hinge"})
		require.InDelta(t, 3.5*25.4, b.Height.Value.MM(), 0.5)
		require.InDelta(t, 5*25.4, b.OpenWidth.Value.MM(), 0.5)
		used := 0
		for _, tr := range b.Trace {
			if tr.Source == "typed" && tr.Used {
				used++
			}
		}
		require.Equal(t, 2, used)
		require.True(t, slices.ContainsFunc(b.Disagreements, func(d measure.Disagreement) bool { return d.Slip == measure.SlipOtherHinge && d.Overrule }))
	})
	t.Run("so does one without a photo", func(t *testing.T) {
		b := reconcile.Best(nil, typed, []string{"thickness:decimal"})
		require.InDelta(t, 24.638, b.Thickness.Value.MM(), 1e-3)
	})
	t.Run("an overrule of nothing changes nothing", func(t *testing.T) {
		require.Equal(t, reconcile.Best(p, typed, nil), reconcile.Best(p, typed, []string{"height:swapped", "no:such"}))
	})
}

// lay turns a hinge as it would be seen with its leaves exchanged and its ends flipped.
func lay(h measure.Hinge, swap, flip bool) measure.Hinge {
	out := h
	out.Leaves = nil
	for i := range h.Leaves {
		l := h.Leaves[i]
		if swap {
			l = h.Leaves[1-i]
		}
		l.Holes = slices.Clone(l.Holes)
		if flip {
			slices.Reverse(l.Holes)
			for j := range l.Holes {
				l.Holes[j].FromEnd.Value = h.Height.Value - l.Holes[j].FromEnd.Value
			}
		}
		out.Leaves = append(out.Leaves, l)
	}
	return out
}

func TestReconcileSeveralPhotos(t *testing.T) {
	x := truthOf(t, "013") // its leaves have unlike corners
	rng := seeded()
	one, two := photoOf(x, rng, 1, 1), photoOf(x, rng, 1, 1)

	t.Run("two photos know more than one, but share the card", func(t *testing.T) {
		b := reconcile.Best([]measure.Result{one, two}, measure.Readings{}, nil)
		require.Less(t, b.Height.Sigma, one.Hinge.Height.Sigma)
		require.Greater(t, b.Height.Sigma.MM(), simSize/math.Sqrt2)
		// What they share, 0.07 % of the length, is not averaged away.
		bare := func(r measure.Result) measure.Result {
			r.Hinge = &measure.Hinge{Height: r.Hinge.Height}
			return r
		}
		c := reconcile.Best([]measure.Result{bare(one), bare(two)}, measure.Readings{}, nil)
		shared := 0.0007 * x.Hinge.Height
		own := math.Sqrt(simSize*simSize - shared*shared)
		const trade = 0.005 // what the trade size takes off the uncertainty, at most
		require.InDelta(t, math.Hypot(shared, own/math.Sqrt2), c.Height.Sigma.MM(), trade)
		require.Empty(t, b.Disagreements)
		require.InDelta(t, x.Hinge.Left.Holes[0][0], b.Leaves[0].Holes[0].FromEdge.Value.MM(), 0.2)
	})
	t.Run("a hinge that lies the other way round is turned back", func(t *testing.T) {
		for _, swap := range []bool{false, true} {
			for _, flip := range []bool{false, true} {
				turned := two
				h := lay(*two.Hinge, swap, flip)
				turned.Hinge = &h
				b := reconcile.Best([]measure.Result{one, turned}, measure.Readings{}, nil)
				for i, l := range []truth.Leaf{x.Hinge.Left, x.Hinge.Right} {
					require.InDelta(t, l.Radius, b.Leaves[i].CornerRadius.Value.MM(), 0.4)
					for j, o := range l.Holes {
						require.InDelta(t, o[0], b.Leaves[i].Holes[j].FromEdge.Value.MM(), 0.3)
						require.InDelta(t, o[1], b.Leaves[i].Holes[j].FromEnd.Value.MM(), 0.3)
						require.Less(t, b.Leaves[i].Holes[j].FromEdge.Sigma.MM(), simHole)
					}
				}
			}
		}
	})
	t.Run("photos of two hinges say so", func(t *testing.T) {
		other := photoOf(truthOf(t, "002"), rng, 1, 1)
		b := reconcile.Best([]measure.Result{one, other}, measure.Readings{}, nil)
		d := only(t, b)
		require.Equal(t, measure.SlipOtherPhoto, d.Slip)
		require.Contains(t, d.Sentence, "two different hinges")
		unused := 0
		for _, tr := range b.Trace {
			if !tr.Used {
				unused++
			}
		}
		require.Positive(t, unused, "the other photo stays in the trace")
	})
}

func TestReconcileScaleBar(t *testing.T) {
	x := truthOf(t, "003")
	p := []measure.Result{photoOf(x, seeded(), 1/0.94, 1/0.94)}
	p[0].Card.Kind = measure.CardPrinted
	b := reconcile.Best(p, readings.Parse("scale bar 94 mm, 4 x 4"), nil)
	d := only(t, b)
	require.Equal(t, "scale_bar:print_scale", d.Name())
	require.InDelta(t, x.Hinge.Height, b.Height.Value.MM(), 1)
	b = reconcile.Best(p, readings.Parse("scale bar 100 mm"), nil)
	require.Empty(t, b.Disagreements)
	require.Greater(t, b.Height.Sigma.MM(), simSize, "a ruler's doubt of the bar widens the sizes")
	require.Zero(t, b.PrintDoubt)

	t.Run("a bar says nothing of a bank card", func(t *testing.T) {
		p := []measure.Result{photoOf(x, seeded(), 1, 1)}
		require.Equal(t, reconcile.Best(p, measure.Readings{}, nil).Height, reconcile.Best(p, readings.Parse("bar 94 mm"), nil).Height)
	})
	t.Run("a photo that was measured by the bar is corrected once", func(t *testing.T) {
		told := measure.PrintScale(measure.Estimate{Value: 94, Sigma: 0.4})
		scaled := photoOf(x, seeded(), told.Value/0.94, told.Value/0.94)
		scaled.Card.Kind, scaled.Card.PrintScale = measure.CardPrinted, &told
		h := scaled.Hinge
		h.Height.Sigma = measure.Length(math.Hypot(h.Height.Sigma.MM(), told.Sigma*h.Height.Value.MM()))
		h.OpenWidth.Sigma = measure.Length(math.Hypot(h.OpenWidth.Sigma.MM(), told.Sigma*h.OpenWidth.Value.MM()))
		b := reconcile.Best([]measure.Result{scaled}, readings.Parse("bar 94 mm"), nil)
		require.InDelta(t, x.Hinge.Height, b.Height.Value.MM(), 0.5)
	})
	t.Run("without the bar", func(t *testing.T) {
		b := reconcile.Best(p, measure.Readings{}, nil)
		t.Logf("true %.1f; believed %.2f ± %.2f, print ± %.3f; %v", x.Hinge.Height, b.Height.Value.MM(), b.Height.Sigma.MM(), b.PrintDoubt, b.Disagreements)
		require.Less(t, math.Abs(x.Hinge.Height-b.Height.Value.MM()), 3*b.Height.Sigma.MM())
		require.Greater(t, b.PrintDoubt, 0.01)
		right := []measure.Result{photoOf(x, seeded(), 1, 1)}
		right[0].Card.Kind = measure.CardPrinted
		b = reconcile.Best(right, measure.Readings{}, nil)
		t.Logf("true %.1f; believed %.2f ± %.2f, print ± %.3f; %v", x.Hinge.Height, b.Height.Value.MM(), b.Height.Sigma.MM(), b.PrintDoubt, b.Disagreements)
		require.Less(t, math.Abs(x.Hinge.Height-b.Height.Value.MM()), 3*b.Height.Sigma.MM())
		require.GreaterOrEqual(t, b.PrintDoubt, 0.005)
		require.Less(t, b.PrintDoubt, 0.03)
		// A tape that agrees makes a print made to fit unlikely.
		taped := reconcile.Best(right, readings.Parse(fmt.Sprintf("height %.0f mm, open width %.0f mm", x.Hinge.Height, x.Hinge.OpenWidth)), nil)
		require.LessOrEqual(t, taped.PrintDoubt, b.PrintDoubt)
		require.Less(t, taped.PrintDoubt, 0.01)
	})
	t.Run("beside a photo with a bank card", func(t *testing.T) {
		b := reconcile.Best([]measure.Result{photoOf(x, seeded(), 1, 1), p[0]}, measure.Readings{}, nil)
		require.InDelta(t, x.Hinge.Height, b.Height.Value.MM(), 3*simSize)
		require.Zero(t, b.PrintDoubt)
	})
}

// Every number lists what went into it, and the weights add up to one.
func TestReconcileTrace(t *testing.T) {
	x := truthOf(t, "003")
	rng := seeded()
	p := []measure.Result{photoOf(x, rng, 1, 1), photoOf(x, rng, 1, 1)}
	b := reconcile.Best(p, readings.Parse("height 4, width 4, 0.087 thick, 1/4 radius"), nil)
	sums := map[measure.Key]float64{}
	for _, tr := range b.Trace {
		if tr.Used {
			sums[tr.Quantity] += tr.Weight
		}
	}
	for _, k := range []measure.Key{"height", "open_width", "thickness", "barrel_diameter", "leaf.0.corner_radius", "leaf.1.hole.2.from_end"} {
		require.InDelta(t, 1, sums[k], 1e-6, k)
	}
	// The covariance covers every length in the hinge and is one.
	require.NotNil(t, b.Covariance)
	require.Contains(t, b.Covariance.Keys, measure.Key("thickness"))
	n := len(b.Covariance.Keys)
	c := mat.NewSymDense(n, nil)
	for i, row := range b.Covariance.MM2 {
		require.Len(t, row, n)
		for j, v := range row {
			require.InDelta(t, b.Covariance.MM2[j][i], v, 1e-12)
			c.SetSym(i, j, v)
		}
	}
	var ch mat.Cholesky
	require.True(t, ch.Factorize(c))
	i := slices.Index(b.Covariance.Keys, "height")
	require.InDelta(t, b.Height.Sigma.MM(), math.Sqrt(b.Covariance.MM2[i][i]), 1e-9)
}

// The order of photos and readings changes nothing but the numbering, and a reading that
// agrees makes the size surer.
func TestReconcileProperties(t *testing.T) {
	x := truthOf(t, "003")
	for seed := range uint64(25) {
		rng := rand.New(rand.NewPCG(seed, 1))
		p, q := photoOf(x, rng, 1, 1), photoOf(x, rng, 1, 1)
		a, b := reconcile.Best([]measure.Result{p, q}, measure.Readings{}, nil), reconcile.Best([]measure.Result{q, p}, measure.Readings{}, nil)
		require.InDelta(t, a.Height.Value.MM(), b.Height.Value.MM(), 1e-6)
		require.InDelta(t, a.OpenWidth.Sigma.MM(), b.OpenWidth.Sigma.MM(), 1e-6)

		r := readings.Parse(fmt.Sprintf("height %.2f mm, width %.2f mm, thickness 2.2 mm", x.Hinge.Height, x.Hinge.OpenWidth))
		one := reconcile.Best([]measure.Result{p}, r, nil)
		slices.Reverse(r.Readings)
		two := reconcile.Best([]measure.Result{p}, r, nil)
		require.InDelta(t, one.Height.Value.MM(), two.Height.Value.MM(), 1e-6)
		require.Less(t, one.Height.Sigma, p.Hinge.Height.Sigma)
	}
}

// A text full of readings must not make the explanations explode.
func TestReconcileManyReadings(t *testing.T) {
	var s strings.Builder
	for i := range 300 {
		fmt.Fprintf(&s, "height %d.%d mm, width %d.%d mm, leaf width %d.5 mm, thickness 2.%d mm\n", 80+i%40, i%10, 70+i%50, i%7, 30+i%20, i%10)
	}
	b := reconcile.Best([]measure.Result{photoOf(truthOf(t, "003"), seeded(), 1, 1)}, readings.Parse(s.String()), nil)
	require.True(t, b.Height.Known())
}

// Whatever a photo or a text hands over, the best set is made of numbers.
func TestReconcileOddInput(t *testing.T) {
	nan := math.NaN()
	length := func(mm float64) *measure.Length { l := measure.Length(mm); return &l }
	for name, change := range map[string]func(h *measure.Hinge){
		"covariance not positive":  func(h *measure.Hinge) { h.Covariance.MM2 = [][]float64{{0.01, 0.5}, {0.5, 0.01}} },
		"covariance not a number":  func(h *measure.Hinge) { h.Covariance.MM2 = [][]float64{{0.01, nan}, {nan, 0.01}} },
		"covariance too short":     func(h *measure.Hinge) { h.Covariance.MM2 = [][]float64{{0.01}} },
		"covariance of other keys": func(h *measure.Hinge) { h.Covariance.Keys = []measure.Key{"no", "such"} },
		"no covariance":            func(h *measure.Hinge) { h.Covariance = nil },
		"no leaves":                func(h *measure.Hinge) { h.Leaves = nil },
		"one leaf":                 func(h *measure.Hinge) { h.Leaves, h.OpenWidth = h.Leaves[:1], measure.Estimate{} },
		"height not a number":      func(h *measure.Hinge) { h.Height.Value = measure.Length(nan) },
		"nothing measured":         func(h *measure.Hinge) { *h = measure.Hinge{} },
		"very sure":                func(h *measure.Hinge) { h.Height.Sigma = 1e-9 },
	} {
		t.Run(name, func(t *testing.T) {
			p := photoOf(truthOf(t, "003"), seeded(), 1, 1)
			change(p.Hinge)
			typed := readings.Parse("4 x 4, 0.087 thick, 1/4 radius, 13/32 from edge, 1 3/16 between holes, 3/16 hole diameter, barrel 7/16")
			typed.Readings = append(typed.Readings,
				measure.Reading{Quantity: measure.QHeight, Value: length(1e6), U: 1e-6},
				measure.Reading{Quantity: measure.QThickness, Value: length(1e-6), U: 1},
				measure.Reading{Quantity: measure.QOpenWidth, Value: length(-4), U: 1},
				measure.Reading{Quantity: measure.QHoleFromEnd, Value: length(4)})
			for _, photos := range [][]measure.Result{{p}, {p, p}, nil} {
				b := reconcile.Best(photos, typed, nil)
				_, err := json.Marshal(b) // refuses what is no number
				require.NoError(t, err)
				require.True(t, b.Height.Known())
			}
		})
	}
}

// A thickness typed with the sizes of another hinge is that hinge's: a cut-out must not be
// deepened by it.
func TestAnotherHingesThicknessIsSetAside(t *testing.T) {
	photo := photoOf(truthOf(t, "002"), seeded(), 1, 1)
	typed := readings.Parse("89 mm x 89 mm, 2.2 mm thick, 1/4 radius")
	b := reconcile.Best([]measure.Result{photo}, typed, nil)
	d := only(t, b)
	require.Equal(t, measure.SlipOtherHinge, d.Slip)
	require.True(t, b.OfAnotherHinge())
	require.False(t, b.Thickness.Known())
	require.Contains(t, d.Typed, "2.2 mm")
	b = reconcile.Best([]measure.Result{photo}, typed, []string{d.Name()})
	require.False(t, b.OfAnotherHinge(), "overruled")
}

func TestTypedThickness(t *testing.T) {
	for text, want := range map[string]float64{"3 1/2 x 3 1/2, 0.086 thick": 2.184, "4 x 4, thickness 0.97 in": 2.464, "4 1/2 x 4 1/2, 0.268 thick": 3.404, "4 x 4": 0} {
		require.InDelta(t, want, reconcile.Thickness(readings.Parse(text), nil).Value.MM(), 0.01, text)
	}
}

// Metric shops call a hinge of 4 in 100 mm, of 3 in 75 and so on (common practice, no source): such a name is no measurement.
func TestMetricNamesOfInchSizes(t *testing.T) {
	x := truthOf(t, "008") // 4 x 4 in, 2.51 mm thick
	for _, text := range []string{"100 x 100 mm, 2.5mm thick", "10 x 10 cm, 2.5 mm thick", "102 x 102 mm, 2.5 mm thick"} {
		b := reconcile.Best([]measure.Result{photoOf(x, seeded(), 1, 1)}, readings.Parse(text), nil)
		require.Empty(t, b.Disagreements, text)
		require.InDelta(t, x.Hinge.Height, b.Height.Value.MM(), 4*simSize)
		require.InDelta(t, 2.5, b.Thickness.Value.MM(), 0.05, "the thickness is taken over")
	}
	for name, inch := range map[string]float64{"75": 3, "90": 3.5, "100": 4, "115": 4.5, "125": 5, "150": 6} {
		b := reconcile.Best(nil, readings.Parse(fmt.Sprintf("height %s mm, width %s mm", name, name)), nil)
		require.Empty(t, b.Disagreements)
		require.Equal(t, name, fmt.Sprintf("%.0f", b.Height.Value.MM()), "as typed")
		require.Equal(t, name+".0", fmt.Sprintf("%.1f", b.OpenWidth.Value.MM()), "as typed")
		require.Less(t, math.Abs(b.Height.Value.MM()-25.4*inch), 2*b.Height.Sigma.MM(), "it may be the inch size")
	}
	b := reconcile.Best(nil, readings.Parse("height 100.0 mm by caliper, width 100.0 mm by caliper"), nil)
	require.Less(t, b.Height.Sigma.MM(), 0.3, "a measurement stays one")
}

// Two hinges are told apart in both units.
func TestTwoHingesInBothUnits(t *testing.T) {
	b := reconcile.Best([]measure.Result{photoOf(truthOf(t, "008"), seeded(), 1, 1)}, readings.Parse("65 x 65 mm, 2.5mm thick"), nil)
	d := only(t, b)
	require.Equal(t, measure.SlipOtherHinge, d.Slip)
	require.Contains(t, d.Sentence, "65 mm (2 9/16 in) high, 65 mm (2 9/16 in) wide")
	require.Regexp(t, `4 in \(101\.\d mm\) high and 4 in \(10[12]\.\d mm\) open`, d.Sentence)
}

// Two values that are alike are not swapped, whatever the photo says.
func TestEqualSizesAreNotSwapped(t *testing.T) {
	for _, id := range []string{"008", "018", "001", "002"} {
		for _, text := range []string{"5 in high and 5 in wide", "4 in high, 4 in wide", "height 100 mm, width 101 mm", "3 1/2 high, 3 1/2 wide"} {
			for _, photos := range [][]measure.Result{{photoOf(truthOf(t, id), seeded(), 1, 1)}, nil} {
				b := reconcile.Best(photos, readings.Parse(text), nil)
				for _, d := range b.Disagreements {
					require.NotEqual(t, measure.SlipSwapped, d.Slip, "%s, %s: %s", id, text, d.Sentence)
				}
			}
		}
	}
}

// Where the counter believes a width typed of what the photo takes for another hinge, the leaves are as wide
// as that.
func TestBelievedWidthIsTheLeavesToo(t *testing.T) {
	e := func(mm float64) measure.Estimate { return measure.Estimate{Value: measure.Length(mm), Sigma: 0.05} }
	photo := measure.Result{Status: measure.Measured, Hinge: &measure.Hinge{Height: e(101.6), OpenWidth: e(89.6),
		Leaves: []measure.Leaf{{Width: e(44.8)}, {Width: e(44.8)}}}}
	b := reconcile.Best([]measure.Result{photo}, readings.Parse("4 1/2 x 4 1/2"), []string{"unknown:different_hinge"})
	require.InDelta(t, 114.3, b.OpenWidth.Value.MM(), 0.01)
	for _, l := range b.Leaves {
		require.InDelta(t, 57.15, l.Width.Value.MM(), 0.01)
	}
}

// A corner radius typed of the hinge and believed holds for both leaves, whose corners the photo sees alike.
func TestABelievedRadiusIsBothLeaves(t *testing.T) {
	e := func(mm float64) measure.Estimate { return measure.Estimate{Value: measure.Length(mm), Sigma: 0.07} }
	leaf := measure.Leaf{Width: e(44.8), CornerRadius: e(15.9), Corners: measure.CornersFiveEighths}
	photo := measure.Result{Status: measure.Measured, Hinge: &measure.Hinge{Height: e(101.6), OpenWidth: e(89.6), Leaves: []measure.Leaf{leaf, leaf}}}
	b := reconcile.Best([]measure.Result{photo}, readings.Parse("1/4 radius corners"), []string{"corner_radius:unexplained"})
	for _, l := range b.Leaves {
		require.InDelta(t, 6.35, l.CornerRadius.Value.MM(), 0.1)
		require.Equal(t, measure.CornersQuarter, l.Corners)
	}
}
