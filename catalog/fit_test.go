package catalog

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// oldOf is a hinge measured to be exactly item, with small uncertainties.
func oldOf(item Item) measure.Best {
	e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.03} }
	b := measure.Best{Thickness: e(item.Thickness)}
	b.Height, b.OpenWidth, b.BarrelDiameter = e(item.Height), e(item.OpenWidth), e(item.Barrel)
	b.Bearing = item.Bearing
	for l := range 2 {
		leaf := measure.Leaf{CornerRadius: e(item.Radius[l])}
		for _, h := range item.Holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: e(h.FromEdge), FromEnd: e(h.FromEnd), Diameter: e(item.HoleDia)})
		}
		b.Leaves = append(b.Leaves, leaf)
	}
	return b
}

// plain is a 3 1/2 x 3 1/2 in hinge with three holes and quarter-inch corners.
func plain() Item {
	return Item{StockNumber: "P", Height: 3.5 * in, OpenWidth: 3.5 * in, Tolerance: 0.2, Thickness: 0.085 * in, Radius: [2]measure.Length{in / 4, in / 4},
		Holes: []Hole{{23 * in / 32, 9 * in / 16}, {13 * in / 32, 1.75 * in}, {23 * in / 32, 3.5*in - 9*in/16}}, HoleDia: 0.193 * in, Sink: 0.34 * in,
		Barrel: 0.41 * in, Pin: 0.24 * in, Knuckles: 5, Bearing: measure.PlainBearing, BaseMetal: "steel", Mortise: "full mortise", OnHand: 9}
}

// one judges a single changed hinge against plain.
func one(t testing.TB, change func(*Item)) Fit {
	t.Helper()
	i := plain()
	i.Holes = append([]Hole{}, i.Holes...)
	change(&i)
	fits := Rank(oldOf(plain()), []Item{i}, Door{}, Wishes{})
	require.Len(t, fits, 1)
	return fits[0]
}

func TestVerdicts(t *testing.T) {
	for name, c := range map[string]struct {
		change  func(*Item)
		verdict Verdict
		work    string
	}{
		"the same hinge":               {func(*Item) {}, DropsIn, ""},
		"holes somewhere else":         {func(i *Item) { i.Holes[0].FromEdge, i.Holes[2].FromEdge = 11, 11 }, NewHoles, "fresh wood"},
		"holes half beside":            {func(i *Item) { i.Holes[1].FromEdge += 3 }, NewHoles, "hardwood plug"},
		"square corners":               {func(i *Item) { i.Radius = [2]measure.Length{} }, CutOutWork, "Square the 2 corners of the left leaf's cut-out with a chisel: old corners 1/4 in radius, new square, 0.104 in (2.63 mm)"},
		"rounder corners":              {func(i *Item) { i.Radius = [2]measure.Length{5 * in / 8, 5 * in / 8} }, LeavesGap, "gap of 5/32 in (3.9 mm)"},
		"half an inch taller":          {func(i *Item) { i.Height += in / 2 }, CutOutWork, "Lengthen both cut-outs by 1/2 in (12.7 mm)"},
		"half an inch shorter":         {func(i *Item) { i.Height -= in / 2; i.Holes[2].FromEnd -= in / 2; i.Holes[1].FromEnd -= in / 4 }, LeavesGap, "1/2 in (12.7 mm) longer than the new leaf"},
		"half an inch wider":           {func(i *Item) { i.OpenWidth += in / 2 }, CutOutWork, "Each leaf is 1/4 in (6.35 mm) wider"},
		"half an inch narrower":        {func(i *Item) { i.OpenWidth -= in / 2 }, LeavesGap, "Each leaf is 1/4 in (6.35 mm) narrower"},
		"a standard leaf, 0.123 in":    {func(i *Item) { i.Thickness = 0.123 * in }, CutOutWork, "Deepen each cut-out by 0.038 in (0.97 mm)"},
		"a leaf of half the thickness": {func(i *Item) { i.Thickness = 0.050 * in }, LeavesGap, "Shim under each leaf by 0.035 in (0.89 mm)"},
		"two inches taller":            {func(i *Item) { i.Height = 5.5 * in }, DoesNotSuit, ""},
		"a full surface hinge":         {func(i *Item) { i.Mortise = "full surface" }, DoesNotSuit, ""},
		"no pattern in the list":       {func(i *Item) { i.Holes = nil }, NewHoles, ""},
	} {
		t.Run(name, func(t *testing.T) {
			f := one(t, c.change)
			require.Equal(t, c.verdict, f.Verdict, "%+v", f.Reasons)
			require.Greater(t, f.P, 0.9)
			require.Contains(t, strings.Join(f.Work, "\n"), c.work)
			if c.verdict == DropsIn {
				require.Empty(t, f.Work)
			} else {
				require.Less(t, f.PDropsIn, 0.05)
			}
		})
	}
}

// (√2 − 1) × r: a square leaf in a radius cut-out overlaps along the diagonal by 0.104 in
// for 1/4 in and 0.259 in for 5/8 in (derived geometry).
func TestCornerOverlap(t *testing.T) {
	require.InDelta(t, 2.63, diagonal*(in/4).MM(), 0.005)
	require.InDelta(t, 6.58, diagonal*(5*in/8).MM(), 0.005)
}

func TestAZigzagIsTurnedEndForEnd(t *testing.T) {
	zigzag := func(i *Item) {
		i.Holes = []Hole{{10, 13}, {18, 34}, {10, 55}, {18, i.Height - 13}}
	}
	old := plain()
	zigzag(&old)
	turned := plain()
	zigzag(&turned)
	for k := range turned.Holes {
		turned.Holes[k].FromEnd = turned.Height - turned.Holes[k].FromEnd
	}
	f := Rank(oldOf(old), []Item{turned}, Door{}, Wishes{})[0]
	require.Equal(t, "end for end", f.Placement)
	require.Equal(t, DropsIn, f.Verdict)
	require.Len(t, f.Holes, 8)
}

func TestUnlikeLeavesAreExchanged(t *testing.T) {
	old := plain()
	old.Radius = [2]measure.Length{0, in / 4}
	new := plain()
	new.Radius = [2]measure.Length{in / 4, 0}
	f := Rank(oldOf(old), []Item{new}, Door{}, Wishes{})[0]
	require.Equal(t, "leaves exchanged", f.Placement)
	require.Equal(t, DropsIn, f.Verdict)
	f = Rank(oldOf(old), []Item{plain()}, Door{}, Wishes{})[0]
	require.Equal(t, LeavesGap, f.Verdict)
}

func TestWhatIsNotKnownIsNoDropIn(t *testing.T) {
	for name, forget := range map[string]func(*measure.Best){
		"the holes": func(b *measure.Best) { b.Leaves[0].Holes, b.Leaves[1].Holes = nil, nil },
		"the corners": func(b *measure.Best) {
			b.Leaves[0].CornerRadius, b.Leaves[1].CornerRadius = measure.Estimate{}, measure.Estimate{}
		},
		"the other leaf": func(b *measure.Best) { b.Leaves = b.Leaves[:1] },
		"the width":      func(b *measure.Best) { b.OpenWidth = measure.Estimate{} },
		"all but height": func(b *measure.Best) {
			*b = measure.Best{Hinge: measure.Hinge{Height: b.Height}}
		},
	} {
		b := oldOf(plain())
		forget(&b)
		f := Rank(b, []Item{plain()}, Door{}, Wishes{})[0]
		require.Less(t, f.PDropsIn, SureEnough, name)
	}
	require.Nil(t, Rank(measure.Best{}, []Item{plain()}, Door{}, Wishes{}))
	require.Nil(t, Rank(oldOf(plain()), nil, Door{}, Wishes{}))
}

// Errors that two holes share do not part them: with the same variances, a common error in
// all places leaves the holes' distances known.
func TestCovarianceMatters(t *testing.T) {
	b := oldOf(plain())
	item := plain()
	cov := &measure.Covariance{}
	for l := range 2 {
		for k := range 3 {
			for _, c := range []string{"from_edge", "from_end"} {
				cov.Keys = append(cov.Keys, measure.Key("leaf."+string(rune('0'+l))+".hole."+string(rune('0'+k))+"."+c))
			}
		}
	}
	const u = 0.45
	n := len(cov.Keys)
	for range n {
		cov.MM2 = append(cov.MM2, make([]float64, n))
	}
	for i := range n {
		cov.MM2[i][i] = u * u
	}
	b.Covariance = cov
	apart := Rank(b, []Item{item}, Door{}, Wishes{})[0].PDropsIn
	for i := range n {
		for j := range n {
			if i%2 == 1 && j%2 == 1 { // along the leaf, where it can slide
				cov.MM2[i][j] = u * u
			} else if i != j {
				cov.MM2[i][j] = 0
			} else {
				cov.MM2[i][i] = 0.03 * 0.03
			}
		}
	}
	together := Rank(b, []Item{item}, Door{}, Wishes{})[0].PDropsIn
	require.Greater(t, together, apart+0.1)
}

func TestRankingProperties(t *testing.T) {
	stock := demoStock(t)
	all := truths(t)
	rapid.Check(t, func(t *rapid.T) {
		tr := all[rapid.IntRange(0, len(all)-1).Draw(t, "hinge")]
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		b := tr.seen(rng, rapid.Bool().Draw(t, "thickness"))
		fits := Rank(b, stock, Door{}, Wishes{})
		require.LessOrEqual(t, len(fits), maxFits)
		for k, f := range fits {
			require.GreaterOrEqual(t, f.P, 0.2-1e-9) // the likeliest of five
			require.LessOrEqual(t, f.P, 1+1e-9)
			require.LessOrEqual(t, f.PDropsIn, 1+1e-9)
			require.False(t, math.IsNaN(f.Cost))
			if k > 0 {
				require.LessOrEqual(t, fits[k-1].Cost, f.Cost)
			}
			if f.Verdict == DropsIn {
				require.InDelta(t, f.PDropsIn, f.P, 1e-12)
			}
			for _, h := range f.Holes {
				require.NotEmpty(t, h.Fate)
				require.GreaterOrEqual(t, h.PFate, 1.0/3-1e-9)
			}
		}
		require.Equal(t, fits, Rank(b, stock, Door{}, Wishes{})) // the same every time
	})
}

func TestWishesOrderHingesThatFitAlike(t *testing.T) {
	make := func(number, finish, bhma string, bearing measure.Bearing, onHand int) Item {
		i := plain()
		i.StockNumber, i.Finish, i.FinishNo, i.Bearing, i.OnHand = number, finish, bhma, bearing, onHand
		return i
	}
	stock := []Item{make("black", "US19", "631", measure.PlainBearing, 50), make("nickel", "US15", "646", measure.PlainBearing, 50),
		make("nickel ball", "US15", "646", measure.BallBearing, 50), make("nickel none", "US15", "646", measure.PlainBearing, 0)}
	first := func(w Wishes, d Door) Fit { return Rank(oldOf(plain()), stock, d, w)[0] }
	require.Equal(t, "nickel", first(Wishes{Finish: "brushed nickel"}, Door{}).Item.StockNumber)
	require.Equal(t, "black", first(Wishes{Finish: "US19"}, Door{}).Item.StockNumber)
	f := first(Wishes{Finish: "646", Bearing: measure.BallBearing}, Door{})
	require.Equal(t, "nickel ball", f.Item.StockNumber)
	f = first(Wishes{Finish: "646"}, Door{Closer: true})
	require.Equal(t, "nickel ball", f.Item.StockNumber)
	f = first(Wishes{Finish: "646"}, Door{})
	require.Equal(t, []Alternative{{"nickel ball", "The same with ball bearings, 50 on hand."}}, f.Also)
	// A fire-rated opening never goes without its caution.
	f = first(Wishes{}, Door{FireRated: true})
	require.Contains(t, strings.Join(f.Warnings, " "), "authority having jurisdiction")
	f = first(Wishes{}, Door{Thickness: 1.75 * in, Width: 36 * in})
	require.Contains(t, strings.Join(f.Warnings, " "), "Undersized")
}

// Typed "3.5 x 3.5" only: nothing that is merely possible gets a size to cut to, and every ±
// that people read holds 95 times in 100 (1.96 standard uncertainties, JCGM 100 table G.1).
func TestWorkThatIsOnlyPossibleHasNoSize(t *testing.T) {
	b := measure.Best{}
	b.Height, b.OpenWidth = measure.Estimate{Value: 88.9, Sigma: 0.65}, measure.Estimate{Value: 88.9, Sigma: 0.65}
	f := Rank(b, []Item{plain()}, Door{}, Wishes{})[0]
	said := strings.Join(f.Work, "\n")
	require.Contains(t, said, "Measure the old hinge's height before anything is cut: it is known to ± 0.050 in (1.27 mm) only, and the new leaf may be too long for its place or too short.")
	require.NotContains(t, said, "ngthen both cut-outs")
	require.NotContains(t, said, "0.000 in")
	require.Contains(t, f.Reasons[0], "3 1/2 in (88.9 mm) against 88.90 ± 1.27 mm")
	require.Contains(t, f.Reasons[1], "3 1/2 in (88.9 mm) against 88.90 ± 1.27 mm")
	require.Contains(t, DrawFit(b, f), "± 1.27 mm")
}

func TestAnotherBearingThanTheOldOnesIsSaid(t *testing.T) {
	old, i := oldOf(plain()), plain()
	for was, want := range map[measure.Bearing]string{measure.BallBearing: "Plain bearing; the old hinge has ball bearings", measure.PlainBearing: "", measure.BearingUnknown: ""} {
		old.Bearing, i.Bearing = was, measure.PlainBearing
		said := strings.Join(Rank(old, []Item{i}, Door{}, Wishes{})[0].Reasons, "\n")
		require.Equal(t, want != "", strings.Contains(said, "bearing"), said)
		require.Contains(t, said, want)
	}
	old.Bearing, i.Bearing = measure.PlainBearing, measure.BallBearing
	require.Contains(t, Rank(old, []Item{i}, Door{}, Wishes{})[0].Reasons, "Ball bearing; the old hinge is plain.")
}

func TestWhatWasAskedForAndIsNotIsSaid(t *testing.T) {
	i := plain()
	i.Finish, i.FinishNo = "US4", "633"
	f := Rank(oldOf(plain()), []Item{i}, Door{}, Wishes{Finish: "satin nickel", Bearing: measure.BallBearing})[0]
	require.Equal(t, []string{"Asked for in satin nickel; this one is satin brass.", "Asked for with ball bearings; this one has plain ones."}, f.Warnings)
	f = Rank(oldOf(plain()), []Item{i}, Door{}, Wishes{})[0]
	require.Empty(t, f.Warnings, "the old hinge's finish and bearing are no wish")
}

func TestWhatAGoodHandAdds(t *testing.T) {
	i := plain()
	i.Finish, i.FinishNo, i.OnHand = "US15", "646", 2
	other := i
	other.StockNumber, other.Finish, other.FinishNo, other.OnHand = "OTHER", "US3", "632", 9
	f := Rank(oldOf(plain()), []Item{i, other}, Door{}, Wishes{Finish: "satin nickel", Count: 3})[0]
	require.Equal(t, i.StockNumber, f.Item.StockNumber)
	require.Equal(t, []Alternative{{"OTHER", "On hand in another finish: bright brass, 9."}}, f.Also)
	f = Rank(oldOf(plain()), []Item{i, other}, Door{}, Wishes{Finish: "satin nickel", Count: 2})[0]
	require.Empty(t, f.Also, "enough on hand")

	f = Rank(oldOf(plain()), []Item{other}, Door{}, Wishes{Count: 1})[0]
	require.Len(t, f.Warnings, 1)
	require.Contains(t, f.Warnings[0], "replacing all of them (2 up to 60 in of height, 3 up to 90 in)")
	// 4 1/2 x 0.134 in for a door 1 3/4 in thick up to 4 × 8 ft: NFPA 80, Table 6.4.3.1, as guides quote it.
	door := Door{Width: 36 * measure.Inch, Height: 84 * measure.Inch, Thickness: 1.75 * measure.Inch, FireRated: true}
	f = Rank(oldOf(plain()), []Item{other}, door, Wishes{})[0]
	require.Contains(t, strings.Join(f.Warnings, "\n"), "The published least for this opening is 4 1/2 in (114.3 mm) high and 0.134 in (3.40 mm) thick")
	require.NotContains(t, strings.Join(f.Warnings, "\n"), "[", "what a mark means is said on the advice's page, not in a letter")
}

func TestBothUnits(t *testing.T) {
	for mm, want := range map[measure.Length]string{
		12.7: "1/2 in (12.7 mm)", 87.1: "3.43 in (87.1 mm)", 0.3: "0.012 in (0.30 mm)", -0.3: "0.012 in (0.30 mm)", 90: "3.54 in (90.0 mm)",
		101.6: "4 in (101.6 mm)", 819.15: "32 1/4 in (819 mm)", 2133.6: "84 in (2134 mm)", 2000: "78 3/4 in (2000 mm)",
		44.45: "1 3/4 in (44.45 mm)", 57.15: "2 1/4 in (57.15 mm)", 3.3: "0.130 in (3.30 mm)", 3.175: "1/8 in (3.2 mm)", 76.2: "3 in (76.2 mm)",
	} {
		require.Equal(t, want, Both(mm))
	}
}

// Four outer holes and their mirror tell more than each alone; what plainly is not regular is left.
func TestAHingeIsTakenToBeMadeRegularly(t *testing.T) {
	const u = 0.15
	seen := func(first, radius measure.Length) (off, sigma, r float64) {
		b := oldOf(plain())
		for l := range b.Leaves {
			b.Leaves[l].CornerRadius.Sigma = u
			for h := range b.Leaves[l].Holes {
				b.Leaves[l].Holes[h].FromEdge.Sigma, b.Leaves[l].Holes[h].FromEnd.Sigma = u, u
			}
		}
		b.Leaves[0].Holes[0].FromEdge.Value += first
		b.Leaves[0].CornerRadius.Value += radius
		o, ok := newOldHinge(b)
		require.True(t, ok)
		return o.mean[o.at[0]] - plain().Holes[0].FromEdge.MM(), math.Sqrt(o.cov[o.at[0]][o.at[0]]), o.mean[atRadius] - plain().Radius[0].MM()
	}
	off, sigma, r := seen(0.3, 0.3)
	require.Less(t, off, 0.2)
	require.Greater(t, off, 0.3/4, "no more than the mean of all four")
	require.Less(t, sigma, u)
	require.InDelta(t, 0.3, 2*r, 0.15, "about the mean of both leaves")
	off, _, r = seen(2, 2)
	require.InDelta(t, 2, off, 0.01)
	require.InDelta(t, 2, r, 0.01)
}

// A stock list's screw is said in both units; what is written otherwise stays as it is.
func TestScrewText(t *testing.T) {
	for screw, want := range map[string]string{"#9 x 3/4": "#9 x 3/4 in (19.05 mm)", "#9 x 1": "#9 x 1 in (25.4 mm)", "#12 x 1 1/4 in": "#12 x 1 1/4 in (31.75 mm)",
		"#9 x 1/0": "#9 x 1/0", "4 x 30 mm": "4 x 30 mm", "": ""} {
		require.Equal(t, want, ScrewText(screw), screw)
	}
}

// No figure is given that is smaller than the old size is known to, and never two works that go against each other.
func TestNoWorkFromASizeThatIsNotKnown(t *testing.T) {
	b := measure.Best{}
	b.Height, b.OpenWidth = measure.Estimate{Value: 90, Sigma: 5.6}, measure.Estimate{Value: 90, Sigma: 3}
	for _, door := range []Door{{}, {FireRated: true}} {
		f := Rank(b, []Item{plain()}, door, Wishes{})[0]
		said := strings.Join(f.Work, "\n")
		require.Contains(t, said, "Measure the old hinge's height before anything is cut: it is known to ± 0.43 in (11.0 mm) only")
		require.Contains(t, said, "Measure the old leaf's width before anything is cut: it is known to ± 0.116 in (2.94 mm) only")
		require.NotContains(t, said, "0.043 in")
		require.NotContains(t, strings.ToLower(said), "lengthen")
		require.NotContains(t, said, "fill the gap")
	}
}

// What leaves a gap of more than 2 mm, or may be another hinge than meant, waits for a person.
func TestWhatIsNotSettledIsMarked(t *testing.T) {
	for short, marked := range map[measure.Length]bool{0: false, 1.5: false, 2.5: true, 11: true} {
		i := plain()
		i.Height -= short
		f := Rank(oldOf(plain()), []Item{i}, Door{}, Wishes{})[0]
		require.Equal(t, marked, strings.Contains(strings.Join(f.Against, "\n"), "It leaves a gap of "+Both(short)), "%v: %v", short, f.Against)
		require.Subset(t, f.Warnings, f.Against)
	}
	b := oldOf(plain())
	b.Disagreements = []measure.Disagreement{{Quantity: measure.QUnknown, Slip: measure.SlipOtherHinge}}
	require.Contains(t, strings.Join(Rank(b, []Item{plain()}, Door{}, Wishes{})[0].Against, "\n"), "look like two different hinges")
	b.Disagreements[0].Overrule = true
	require.Empty(t, Rank(b, []Item{plain()}, Door{}, Wishes{})[0].Against)
}
