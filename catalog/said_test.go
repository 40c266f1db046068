package catalog

import (
	"slices"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// say makes statements of kinds and values in turn.
func say(pairs ...string) []measure.Statement {
	var out []measure.Statement
	for p := range slices.Chunk(pairs, 2) {
		out = append(out, measure.Statement{Kind: p[0], Value: p[1]})
	}
	return out
}

func TestDoorHeard(t *testing.T) {
	said := say("use", "exterior", "use", "coastal", "use", "closer", "use", "heavy", "wood", "solid core", "wood", "oak", "swing", "out", "fire_label", "rated")
	require.Equal(t, Door{Place: "coastal", Use: "high", Closer: true, Core: "solid", Material: "oak", Swing: "out", FireRated: true}, Door{}.Heard(said))
	told := Door{Place: "inside", Use: "low", Core: "hollow", Material: "pine", Swing: "in", Closer: true, FireRated: true}
	require.Equal(t, told, told.Heard(said), "what the form tells stands")
	require.Equal(t, Door{}, Door{}.Heard(say("fire_label", "none", "use", "not closer", "wood", "not oak")))
	require.Equal(t, Door{Place: "inside", Core: "solid"}, Door{}.Heard(say("use", "not exterior", "wood", "not hollow core", "fire_label", "not rated")))
}

func TestWishesHeard(t *testing.T) {
	said := say("finish", "satin nickel", "bearing", "ball", "pin", "non-removable", "handing", "right reverse", "spring", "none")
	want := Wishes{Finish: "satin nickel", Bearing: measure.BallBearing, PinKind: "non-removable", Handing: "left", Spring: "none"}
	require.Equal(t, want, Wishes{}.Heard(said))
	require.Equal(t, want, want.Heard(say("finish", "brass", "bearing", "plain", "pin", "loose", "handing", "right", "spring", "spring")))
	require.Empty(t, Wishes{}.Heard(say("handing", "left", "handing", "right")).Handing, "of two hands none")
	require.Empty(t, Wishes{}.Heard(say("handing", "left", "handing", "right", "handing", "left")).Handing, "of two hands none")
	require.Equal(t, "left", Wishes{}.Heard(say("handing", "left", "handing", "right reverse")).Handing, "said twice")
	require.Empty(t, Wishes{}.Heard(say("finish", "not brass")).Finish)
}

// A hinge that drops in for sure, but is handed, is half sure until the hand is known.
func TestAHandedHingeIsHalfSure(t *testing.T) {
	old, item := handed()
	fits := Rank(old, []Item{item}, Door{}, Wishes{})
	require.Equal(t, DropsIn, fits[0].Verdict)
	sure := fits[0].P
	require.Greater(t, sure, SureEnough)

	item.Handing = "left"
	either := item
	either.StockNumber, either.Handing = "Z", ""
	fits = Rank(old, []Item{item}, Door{}, Wishes{})
	require.Equal(t, DropsIn, fits[0].Verdict)
	require.InDelta(t, sure/2, fits[0].P, 1e-9)
	require.LessOrEqual(t, fits[0].PDropsIn, 0.5)
	require.Equal(t, QHand, Ask(old, fits, Door{}).Quantity)
	require.Equal(t, "Z", Rank(old, []Item{item, either}, Door{}, Wishes{})[0].Item.StockNumber, "one for either hand goes before")

	drilled := item
	drilled.Holes = []Hole{{14, 18}, {30, 44.45}, {14, 70.9}}
	fits = Rank(old, []Item{drilled}, Door{}, Wishes{})
	require.Equal(t, NewHoles, fits[0].Verdict)
	require.LessOrEqual(t, fits[0].P, 0.5)
	require.Equal(t, QHand, Ask(old, fits, Door{}).Quantity, "where it needs new holes, too")

	fits = Rank(old, []Item{item}, Door{}, Wishes{Handing: "left"})
	require.InDelta(t, sure, fits[0].P, 1e-9)
	require.Nil(t, Ask(old, fits, Door{}))

	fits = Rank(old, []Item{item, either}, Door{}, Wishes{Handing: "right"})
	require.Equal(t, "Z", fits[0].Item.StockNumber)
	require.Equal(t, DoesNotSuit, fits[1].Verdict)
	require.Equal(t, "It is handed: left; the door takes right ones.", fits[1].Reasons[0])
	require.Empty(t, fits[1].Work)
}

// handed is an old hinge, known closely, and the stock hinge that it is.
func handed() (measure.Best, Item) {
	e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.02} }
	holes := []Hole{{18, 14}, {10, 44.45}, {18, 74.9}}
	item := Item{StockNumber: "A", Height: 88.9, OpenWidth: 88.9, Thickness: 2.2, Radius: [2]measure.Length{6.35, 6.35}, Holes: holes, HoleDia: 5, OnHand: 9}
	var old measure.Best
	old.Height, old.OpenWidth, old.Thickness = e(88.9), e(88.9), e(2.2)
	for range 2 {
		leaf := measure.Leaf{Width: e(44.45), CornerRadius: e(6.35)}
		for _, h := range holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: e(h.FromEdge), FromEnd: e(h.FromEnd), Diameter: e(5)})
		}
		old.Leaves = append(old.Leaves, leaf)
	}
	return old, item
}

func TestDenialsAreHeard(t *testing.T) {
	old, item := handed()
	item.Finish, item.FinishNo, item.PinKind, item.BaseMetal = "US3", "632", "loose", "steel"
	other := item
	other.StockNumber, other.Finish, other.FinishNo = "B", "US15", "646"
	stock := []Item{item, other}
	require.Equal(t, "A", Rank(old, stock, Door{}, Wishes{})[0].Item.StockNumber)
	old.Said = say("finish", "not brass")
	fits := Rank(old, stock, Door{}, Wishes{})
	require.Equal(t, "B", fits[0].Item.StockNumber)
	require.NotContains(t, fits[0].Warnings, "Not wanted in bright brass; this one is.")
	require.Contains(t, fits[1].Warnings, "Not wanted in bright brass; this one is.")

	old.Said = say("pin", "not loose")
	require.Contains(t, Rank(old, stock, Door{}, Wishes{})[0].Warnings, "Asked for with a fixed pin; this one has a loose pin.")
	require.NotContains(t, Rank(old, stock, Door{}, Wishes{PinKind: "loose"})[0].Warnings, "Asked for with a fixed pin; this one has a loose pin.")
}
