package catalog

import (
	"math"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

func askItem(number string, height, width, thick, radius, edge float64) Item {
	return Item{StockNumber: number, Height: measure.Length(height), OpenWidth: measure.Length(width), Tolerance: 0.5,
		Thickness: measure.Length(thick), Radius: [2]measure.Length{measure.Length(radius), measure.Length(radius)},
		Holes: []Hole{{measure.Length(edge), 14}, {11, measure.Length(height / 2)}, {measure.Length(edge), measure.Length(height - 14)}}}
}

func askBest(thick, radius measure.Estimate, holes bool) measure.Best {
	b := measure.Best{Hinge: measure.Hinge{Height: measure.Estimate{Value: 88.9, Sigma: 0.1}, OpenWidth: measure.Estimate{Value: 89, Sigma: 0.1}}, Thickness: thick}
	for range 2 {
		l := measure.Leaf{CornerRadius: radius, Holes: []measure.Hole{}}
		if holes {
			l.Holes = append(l.Holes, measure.Hole{FromEdge: measure.Estimate{Value: 20, Sigma: 0.05}, FromEnd: measure.Estimate{Value: 14, Sigma: 0.05}})
		}
		b.Leaves = append(b.Leaves, l)
	}
	return b
}

func TestAsk(t *testing.T) {
	light, heavy := askItem("A", 88.9, 88.9, 2.2, 6.35, 20), askItem("B", 88.9, 88.9, 3.1, 6.35, 20)
	known := measure.Estimate{Value: 6.35, Sigma: 0.1}

	t.Run("two leaf thicknesses in play ask for the thickness", func(t *testing.T) {
		q := Ask(askBest(measure.Estimate{}, known, true), []Fit{{Item: light, P: 0.5, PDropsIn: 0.5}, {Item: heavy, P: 0.45, PDropsIn: 0.45}}, Door{})
		require.NotNil(t, q)
		require.Equal(t, measure.QThickness, q.Quantity)
		require.NotEmpty(t, DrawWhere(q.Where))
		// Two even candidates hold one bit between them; the answer settles nearly all of it.
		require.Greater(t, q.Gain, 0.5)
		require.Less(t, q.Gain, 1.3)
	})
	t.Run("a photo is asked for where no hole was seen and the holes decide", func(t *testing.T) {
		near, far := askItem("A", 88.9, 88.9, 2.2, 6.35, 20), askItem("B", 88.9, 88.9, 2.2, 15.875, 14)
		q := Ask(askBest(measure.Estimate{Value: 2.2, Sigma: 0.05}, measure.Estimate{}, false), []Fit{{Item: near, P: 0.4, PDropsIn: 0.4}, {Item: far, P: 0.4, PDropsIn: 0.4}}, Door{})
		require.NotNil(t, q)
		require.Equal(t, QPhoto, q.Quantity)
	})
	t.Run("a printed card of unknown scale asks for its bar", func(t *testing.T) {
		small, large := askItem("A", 88.9, 88.9, 2.2, 6.35, 20), askItem("B", 92, 92, 2.2, 6.35, 20)
		fits := []Fit{{Item: small, P: 0.5, PDropsIn: 0.5}, {Item: large, P: 0.4, PDropsIn: 0.4}}
		old := askBest(measure.Estimate{Value: 2.2, Sigma: 0.05}, known, true)
		old.Height, old.OpenWidth = measure.Estimate{Value: 90, Sigma: 1.8}, measure.Estimate{Value: 90, Sigma: 1.8}
		q := Ask(old, fits, Door{})
		require.NotNil(t, q)
		require.NotEqual(t, measure.QScaleBar, q.Quantity, "a bank card has no bar")
		old.PrintDoubt = 0.02
		q = Ask(old, fits, Door{})
		require.NotNil(t, q)
		require.Equal(t, measure.QScaleBar, q.Quantity)
		require.Contains(t, q.Text, "100 mm")
	})
	t.Run("what is known better than the answer would be is not asked", func(t *testing.T) {
		fits := []Fit{{Item: light, P: 0.5, PDropsIn: 0.5}, {Item: heavy, P: 0.45, PDropsIn: 0.45}}
		for u, asked := range map[measure.Length]bool{0.4: true, 0.3: true, 0.12: false, 0.05: false} { // an answer is good to 0.1 mm
			q := Ask(askBest(measure.Estimate{Value: 2.6, Sigma: u}, known, true), fits, Door{})
			require.Equal(t, asked, q != nil && q.Quantity == measure.QThickness, "± %v: %v", u, q)
		}
	})
	t.Run("what was just told is not asked", func(t *testing.T) {
		fits := []Fit{{Item: light, P: 0.5, PDropsIn: 0.5}, {Item: heavy, P: 0.45, PDropsIn: 0.45}}
		q := Ask(askBest(measure.Estimate{}, known, true), fits, Door{}, measure.QThickness)
		require.True(t, q == nil || q.Quantity != measure.QThickness, "%v", q)
	})
	t.Run("two values of one number come first", func(t *testing.T) {
		old := askBest(measure.Estimate{Value: 2.4, Sigma: 0.4}, known, true)
		old.Rivals = []measure.Rival{{Quantity: measure.QHeight, Typed: "3 1/2 in", Values: []measure.Length{88.9, 76.2}, Odds: 3}}
		q := Ask(old, []Fit{{Item: light, P: 0.97, PDropsIn: 0.97}}, Door{})
		require.NotNil(t, q, "however sure the fit")
		require.Equal(t, measure.QHeight, q.Quantity)
		require.Contains(t, q.Text, "You typed 3½ in for the height: that may be 3½ in (88.9 mm) or 3 in (76.2 mm). How high is the hinge")
		require.NotEmpty(t, DrawWhere(q.Where))
		require.InDelta(t, 0.811, q.Gain, 1e-3) // the entropy of 3:1, −0.75 log2 0.75 − 0.25 log2 0.25
		require.Nil(t, Ask(old, nil, Door{}, measure.QHeight), "just told")
		for l := range old.Leaves {
			old.Leaves[l].Holes = nil
		}
		require.Equal(t, QPhoto, Ask(old, nil, Door{}).Quantity, "a photo tells a size better")
		require.Equal(t, measure.QHeight, Ask(old, nil, Door{}, QPhoto).Quantity, "where none is to be had")
	})
	t.Run("a sure fit asks nothing", func(t *testing.T) {
		require.Nil(t, Ask(askBest(measure.Estimate{}, known, true), []Fit{{Item: light, P: 0.97, PDropsIn: 0.97}}, Door{}))
	})
	t.Run("fits that differ in finish only ask no size", func(t *testing.T) {
		brass := light
		brass.StockNumber, brass.Finish = "C", "US3"
		one := Ask(askBest(measure.Estimate{Value: 2.2, Sigma: 0.05}, known, true), []Fit{{Item: light, P: 0.85, PDropsIn: 0.85}, {Item: brass, P: 0.85, PDropsIn: 0.85}}, Door{})
		alone := Ask(askBest(measure.Estimate{Value: 2.2, Sigma: 0.05}, known, true), []Fit{{Item: light, P: 0.85, PDropsIn: 0.85}}, Door{})
		require.Equal(t, alone, one)
	})
	t.Run("nothing in play asks nothing", func(t *testing.T) {
		require.Nil(t, Ask(askBest(measure.Estimate{}, known, true), nil, Door{}))
		require.Nil(t, Ask(askBest(measure.Estimate{}, known, true), []Fit{{Item: light, P: 0.6}}, Door{}))
	})
}

// The information of an answer about two even, well parted candidates is one bit; about two
// that are the same it is none. Both follow from the definition (Lindley 1956).
func TestInformationOfTwoCandidates(t *testing.T) {
	a := askings[0]
	a.known = func(measure.Best) measure.Estimate { return measure.Estimate{} }
	two := func(x, y float64) []candidate {
		i, j := askItem("A", 88.9, 88.9, x, 6.35, 20), askItem("B", 88.9, 88.9, y, 6.35, 20)
		return []candidate{{&i, 0.5}, {&j, 0.5}}
	}
	require.InDelta(t, 1, information(two(2, 5), measure.Best{}, []asking{a}, true), 1e-6)
	require.InDelta(t, 0, information(two(3, 3), measure.Best{}, []asking{a}, true), 1e-12)
	// Two even normals one standard deviation apart: 0.1595 bits by numerical integration of
	// ½Σ∫p_i log2(p_i/p) (done here on a fine grid, below).
	s := math.Hypot(a.answer, a.spread)
	want := 0.0
	const step = 1e-3
	for z := -8.0; z < 9; z += step {
		p, q := math.Exp(-z*z/2), math.Exp(-(z-1)*(z-1)/2)
		want += 0.5 * step * (p*math.Log2(2*p/(p+q)) + q*math.Log2(2*q/(p+q))) / math.Sqrt(2*math.Pi)
	}
	got := information(two(3, 3+s), measure.Best{}, []asking{a}, true)
	require.InDelta(t, want, got, 0.03) // 400 draws: standard error about 0.02
}
