package catalog

import (
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// fireDoor asks for 4 1/2 in high and 0.134 in thick: NFPA 80, Table 6.4.3.1, as guides quote it.
var fireDoor = Door{Width: 36 * measure.Inch, Height: 84 * measure.Inch, Thickness: 1.75 * measure.Inch, FireRated: true}

// A hinge that drops in and stands behind one that does not: the first says which and why.
func TestTheFirstSaysWhyItStandsBeforeOneThatDropsIn(t *testing.T) {
	for name, c := range map[string]struct {
		drops func(*Item) // what is wrong with the one that drops in
		door  Door
		wish  Wishes
		why   string
	}{
		"pin":    {func(i *Item) { i.PinKind = "loose" }, Door{}, Wishes{PinKind: "non-removable"}, "Asked for with a non-removable pin; DROPS has a loose pin."},
		"hand":   {func(i *Item) { i.Handing = "left" }, Door{}, Wishes{Handing: "right"}, "It is handed: left; by what was said the door takes right ones."},
		"spring": {func(i *Item) { i.Name = "Spring hinge" }, Door{}, Wishes{Spring: "none"}, "Asked for without a spring; DROPS is a spring hinge."},
		"finish and pin": {func(i *Item) { i.Finish, i.FinishNo, i.PinKind = "US3", "632", "loose" }, Door{}, Wishes{Finish: "satin nickel", PinKind: "fixed"},
			"Asked for with a fixed pin; DROPS has a loose pin. Asked for in satin nickel; DROPS is bright brass."},
		"rust":       {func(i *Item) { i.BaseMetal, i.OnHand = "steel", 0 }, Door{Place: "coastal"}, Wishes{}, "Plated steel rusts in a coastal place"},
		"fire label": {func(i *Item) { i.Bearing = measure.PlainBearing }, Door{FireRated: true}, Wishes{}, "Plain bearing: a fire-rated opening takes ball bearing hinges (NFPA 80)."},
		"fire metal": {func(i *Item) { i.BaseMetal = "brass" }, Door{FireRated: true}, Wishes{}, "DROPS is of brass; a fire-rated opening takes steel (NFPA 80)."},
		"not on hand": {func(i *Item) {
			i.OnHand, i.LeadDays, i.Gone, i.ReplaceBy, i.Finish, i.FinishNo, i.Bearing = 0, 9, true, "X", "US3", "632", measure.PlainBearing
		}, Door{}, Wishes{Finish: "646", Bearing: measure.BallBearing}, "None on hand; more in about 9 days. Asked for with ball bearings; DROPS has plain ones. Discontinued; replaced by X."},
	} {
		t.Run(name, func(t *testing.T) {
			first, drops := plain(), plain()
			for _, i := range []*Item{&first, &drops} {
				i.Finish, i.FinishNo, i.Bearing, i.BaseMetal = "US15", "646", measure.BallBearing, "stainless"
				i.PinKind = c.wish.PinKind
			}
			first.StockNumber, drops.StockNumber = "FIRST", "DROPS"
			first.Holes = append([]Hole{}, first.Holes...)
			first.Holes[1].FromEdge -= 7 // one screw hole is new in each leaf
			c.drops(&drops)
			old := oldOf(plain())
			old.Bearing = measure.BearingUnknown
			fits := Rank(old, []Item{first, drops}, c.door, c.wish)
			require.Equal(t, "FIRST", fits[0].Item.StockNumber, "%+v", fits)
			require.NotEqual(t, DropsIn, fits[0].Verdict)
			said := strings.Join(fits[0].Reasons, "\n")
			require.Contains(t, said, "It stands before DROPS, which would drop in (")
			require.Contains(t, said, c.why)
		})
	}
}

// However many others come between, the one that drops in is put to the counter.
func TestTheOneThatDropsInIsFoundBehindAnyNumber(t *testing.T) {
	var stock []Item
	for n := range 80 {
		i := plain()
		i.StockNumber = "N" + string(rune('A'+n/26)) + string(rune('A'+n%26))
		i.Radius = [2]measure.Length{measure.Length(n) / 20, 0}
		stock = append(stock, i)
	}
	drops := plain()
	drops.StockNumber, drops.Handing = "DROPS", "left"
	fits := Rank(oldOf(plain()), append(stock, drops), Door{}, Wishes{Handing: "right"})
	require.Len(t, fits, maxFits)
	require.Equal(t, "DROPS", fits[len(fits)-1].Item.StockNumber)
	require.Contains(t, strings.Join(fits[0].Reasons, "\n"), "It stands before DROPS, which would drop in (")
}

// Of a shelf whose hinges are of every pin, hand and kind, the first never goes against what was said
// without saying so, and why it is first.
func TestTheFirstNeverGoesAgainstWhatWasSaidInSilence(t *testing.T) {
	stock := demoStock(t)
	rng := rand.New(rand.NewPCG(8, 13))
	pick := func(s ...string) string { return s[rng.IntN(len(s))] }
	for i := range stock {
		stock[i].Handing, stock[i].PinKind = pick("", "left", "right"), pick("loose", "fixed", "non-removable")
	}
	against := 0
	all := truths(t)
	for range 60 {
		b := all[rng.IntN(len(all))].seen(rng, true)
		some := make([]Item, 0, 12)
		for range 12 {
			some = append(some, stock[rng.IntN(len(stock))])
		}
		wish := Wishes{PinKind: pick("", "loose", "non-removable"), Handing: pick("", "left", "right"), Spring: pick("", "spring")}
		f := Rank(b, some, Door{FireRated: rng.IntN(4) == 0}, wish)[0]
		said := strings.Join(f.Warnings, "\n")
		if wish.Handing != "" && f.Item.Handing != "" && f.Item.Handing != wish.Handing {
			require.Contains(t, said, "It is handed: "+f.Item.Handing)
			require.NotEmpty(t, f.Against)
			require.Equal(t, DoesNotSuit, f.Verdict)
		}
		if wish.PinKind != "" && f.Item.PinKind != wish.PinKind {
			require.Contains(t, said, "Asked for with a "+wish.PinKind+" pin")
			require.NotEmpty(t, f.Against)
		}
		for _, text := range f.Against {
			require.Contains(t, f.Warnings, text)
		}
		said = strings.Join(f.Against, "\n")
		if gap := strings.HasPrefix(said, "It leaves a gap of "); said != "" && !gap && f.Verdict != DoesNotSuit {
			against++
			require.Contains(t, strings.Join(f.Reasons, "\n"), "It stands first, though it goes against what was said or published")
		}
	}
	require.Greater(t, against, 5)
}

// On a labelled door nobody is told to chisel, shim, plug or drill: what differs is said, and whose
// work it is.
func TestWorkOnAFireDoorIsLeftToThoseWhoMay(t *testing.T) {
	handwork := regexp.MustCompile(`(?i)chisel|shim|card|veneer|plug|drill|lead hole|deepen|lengthen|glue|slip|fresh wood`)
	for name, c := range map[string]struct {
		change func(*Item)
		want   string
	}{
		"holes":   {func(i *Item) { i.Holes[0].FromEdge, i.Holes[2].FromEdge = 11, 11 }, "4 of 6 screw holes are not where the old ones are."},
		"corners": {func(i *Item) { i.Radius = [2]measure.Length{} }, "The corners of the left leaf differ: old 1/4 in radius, new square."},
		"taller":  {func(i *Item) { i.Height += in / 2 }, "The new leaf is 1/2 in (12.7 mm) longer than the cut-outs."},
		"shorter": {func(i *Item) { i.Height -= in / 2 }, "Each cut-out is 1/2 in (12.7 mm) longer than the new leaf."},
		"wider":   {func(i *Item) { i.OpenWidth += in / 2 }, "Each leaf is 1/4 in (6.35 mm) wider than its cut-out."},
		"thicker": {func(i *Item) { i.Thickness = 0.123 * in }, "The new leaf is 0.038 in (0.97 mm) thicker than the cut-outs are deep."},
		"thinner": {func(i *Item) { i.Thickness = 0.050 * in }, "The new leaf is 0.035 in (0.89 mm) thinner than the cut-outs are deep."},
		"no list": {func(i *Item) { i.Holes = nil }, "Whether the screw holes are the old ones is not known."},
	} {
		t.Run(name, func(t *testing.T) {
			i := plain()
			i.Holes = append([]Hole{}, i.Holes...)
			c.change(&i)
			f := Rank(oldOf(plain()), []Item{i}, fireDoor, Wishes{})[0]
			said := strings.Join(f.Work, "\n")
			require.Contains(t, said, c.want)
			require.Contains(t, said, "work for its label service or a licensed shop (NFPA 80 § 4.1.3)")
			require.NotRegexp(t, handwork, said)
			require.NotRegexp(t, handwork, DrawFit(oldOf(plain()), f))
		})
	}
	f := Rank(oldOf(plain()), []Item{plain()}, fireDoor, Wishes{})[0]
	require.Empty(t, f.Work, "nothing is left to do")
}

func TestBelowTheFireTableNothingIsSaidToDropIn(t *testing.T) {
	ball := plain()
	ball.Bearing = measure.BallBearing
	rank := func(i Item, d Door) Fit { return Rank(oldOf(plain()), []Item{i}, d, Wishes{})[0] }
	f := rank(ball, fireDoor)
	require.Equal(t, DropsIn, f.Verdict, "how it sits is another matter")
	require.Equal(t, "fits the old cut-out but is below the published least for a fire door: at least 4 1/2 in (114.3 mm) high with a leaf of 0.134 in (3.40 mm)", f.Headline())
	require.NotContains(t, f.Short(), "drops in")
	require.NotEmpty(t, f.Against)
	f = rank(plain(), fireDoor)
	require.Contains(t, f.Headline(), "(3.40 mm), ball bearings")
	// Of a door of unknown size: less than every row asks for.
	f = rank(ball, Door{FireRated: true})
	require.Contains(t, f.Headline(), "at least 3 in (76.2 mm) high with a leaf of 0.092 in (2.34 mm)")
	enough := ball
	enough.Thickness = 0.097 * in
	f = Rank(oldOf(enough), []Item{enough}, Door{FireRated: true}, Wishes{})[0]
	require.Equal(t, "drops in", f.Headline())
	require.Contains(t, strings.Join(f.Warnings, "\n"), "Whether it is the published least for this opening can't be told")
	require.True(t, f.FireRated)
	f = rank(plain(), Door{})
	require.Equal(t, "drops in", f.Headline())
	require.False(t, f.FireRated)
}

func TestAFinishThatThePhotoContradictsIsSaid(t *testing.T) {
	i := plain()
	i.Finish, i.FinishNo = "US15", "646"
	for hint, want := range map[string]string{
		"brass, satin or polished":           "The old hinge looks like brass in the photo; this one is satin nickel. A photo's colours are only a hint.",
		"dark bronze":                        "looks like dark bronze in the photo",
		"black":                              "looks black in the photo",
		"white paint":                        "looks painted white in the photo",
		"grey prime coat or paint":           "looks primed or painted grey in the photo",
		"light grey metal: nickel or chrome": "",
		"":                                   "",
	} {
		old := oldOf(plain())
		old.FinishHint = hint
		said := strings.Join(Rank(old, []Item{i}, Door{}, Wishes{})[0].Warnings, "\n")
		require.Equal(t, want == "", !strings.Contains(said, "photo"), "%s: %s", hint, said)
		require.Contains(t, said, want)
		said = strings.Join(Rank(old, []Item{i}, Door{}, Wishes{Finish: "satin nickel"})[0].Warnings, "\n")
		require.NotContains(t, said, "photo", "what was asked for holds")
	}
	// What a photo can't tell apart is not held against a hinge.
	old := oldOf(plain())
	for no, hint := range map[string]string{"652": "light grey metal: nickel or chrome", "630": "light grey metal: nickel or chrome", "633": "brass, satin or polished",
		"638": "dark bronze", "640": "dark bronze", "600": "white paint", "": "black"} {
		old.FinishHint, i.FinishNo = hint, no
		require.NotContains(t, strings.Join(Rank(old, []Item{i}, Door{}, Wishes{})[0].Warnings, "\n"), "photo", hint)
	}
}
