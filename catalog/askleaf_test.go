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
