package catalog

import (
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// Nothing is said to drop in on a guess: below SureEnough something is always asked.
func TestADropInThatIsNotSureAlwaysAsks(t *testing.T) {
	seen := func(change func(*measure.Best)) measure.Best {
		b := oldOf(plain())
		change(&b)
		return b
	}
	for name, c := range map[string]struct {
		old      measure.Best
		quantity measure.Quantity
		text     string
	}{
		"one leaf":         {seen(func(b *measure.Best) { b.Leaves = b.Leaves[:1] }), QPhoto, otherLeafText},
		"corners not read": {seen(func(b *measure.Best) { b.Leaves[1].CornerRadius = measure.Estimate{Value: 1.4, Sigma: 10} }), measure.QCornerRadius, otherCornersText},
		"holes a little vague": {seen(func(b *measure.Best) {
			for l := range b.Leaves {
				for h := range b.Leaves[l].Holes {
					b.Leaves[l].Holes[h].FromEdge.Sigma, b.Leaves[l].Holes[h].FromEnd.Sigma = 0.4, 0.4
				}
			}
		}), "", ""},
	} {
		fits := Rank(c.old, []Item{plain()}, Door{}, Wishes{})
		require.Equal(t, DropsIn, fits[0].Verdict, name)
		require.Less(t, fits[0].P, SureEnough, name)
		q := Ask(c.old, fits, Door{})
		require.NotNil(t, q, name)
		require.Positive(t, q.Gain)
		if c.text != "" {
			require.Equal(t, c.text, q.Text, name)
			require.Equal(t, c.quantity, q.Quantity, name)
		}
		if q.Where != "" {
			require.NotEmpty(t, DrawWhere(q.Where))
		}
	}
	sure := oldOf(plain())
	require.Nil(t, Ask(sure, Rank(sure, []Item{plain()}, Door{}, Wishes{}), Door{}))
}

// A photo that is told no thickness cannot tell it: the thickness is asked for, by caliper and else by cards, and never a second
// photo; nor is one asked of who has sent two.
func TestNoSecondPhotoForWhatNoPhotoShows(t *testing.T) {
	old := oldOf(plain())
	old.Thickness = measure.Estimate{}
	first := Fit{Item: plain(), Verdict: DropsIn, P: 0.85, PDropsIn: 0.85, thickDoubt: 0.12}
	q := askFurther(old, []Fit{first})
	require.NotNil(t, q)
	require.Equal(t, measure.QThickness, q.Quantity)
	require.Contains(t, q.Other, "How many cards is it?")
	require.Nil(t, askFurther(old, []Fit{first}, measure.QThickness), "just told")
	first.thickDoubt = 0.01
	old.Trace = []measure.Trace{{Quantity: "height", Source: "photo 1"}, {Quantity: "open_width", Source: "photo 1"}}
	q = askFurther(old, []Fit{first})
	require.NotNil(t, q)
	require.Equal(t, QPhoto, q.Quantity, "one photo, and the doubt is what a photo shows")
	old.Trace = append(old.Trace, measure.Trace{Quantity: "height", Source: "photo 2"})
	require.Nil(t, askFurther(old, []Fit{first}), "two were sent")
}

// A coarse thickness that agrees never lowers what the size and the barrel say, and never widens it.
func TestACoarseThicknessTakesNothingAway(t *testing.T) {
	untold := oldOf(plain()) // 0.085 in, 2.16 mm
	untold.Thickness = measure.Estimate{}
	before, _, _ := oldThickness(untold)
	drops := func(b measure.Best) float64 { return Rank(b, []Item{plain()}, Door{}, Wishes{})[0].PDropsIn }
	was := drops(untold)
	for _, sigma := range []measure.Length{0.15, 0.23, 0.33, 0.41, 1} {
		told := untold
		told.Thickness = measure.Estimate{Value: 2.16, Sigma: sigma}
		now, from, _ := oldThickness(told)
		require.LessOrEqual(t, now.Sigma, before.Sigma, sigma)
		require.LessOrEqual(t, now.Sigma, sigma)
		require.Contains(t, from, "as told")
		require.GreaterOrEqual(t, drops(told), was, sigma)
	}
	fine := untold
	fine.Thickness = measure.Estimate{Value: 2.3, Sigma: 0.05}
	now, from, _ := oldThickness(fine)
	require.Equal(t, fine.Thickness, now, "a fine one stands as told")
	require.Equal(t, "as told", from)
}
