package catalog

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// truth is the part of testdata/photos/NNN.json that a fit needs.
type truth struct {
	ID     string `json:"id"`
	Expect string
	Hinge  *struct {
		Height, Thickness float64
		OpenWidth         float64 `json:"open_width"`
		Barrel            float64 `json:"barrel_diameter"`
		Hole              float64 `json:"hole_diameter"`
		Leaves            int
		Bearing, Finish   string
		Left, Right       struct {
			Radius float64
			Holes  [][2]float64
		}
	}
}

func truths(t testing.TB) []truth {
	t.Helper()
	names, err := filepath.Glob("../testdata/photos/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	var out []truth
	for _, n := range names {
		b, err := os.ReadFile(n)
		require.NoError(t, err)
		var tr truth
		require.NoError(t, json.Unmarshal(b, &tr), n)
		if tr.Hinge != nil {
			out = append(out, tr)
		}
	}
	return out
}

// seen is a hinge as a photo of average quality gives it: the truth with normal errors, part
// of them a common scale error, and the covariance that belongs to them.
func (tr truth) seen(rng *rand.Rand, thickness bool) measure.Best {
	h := tr.Hinge
	const uScale, uOut, uHole, uRadius = 0.0006, 0.05, 0.04, 0.1
	scale := 1 + uScale*rng.NormFloat64()
	cov := &measure.Covariance{}
	var values []float64
	see := func(key measure.Key, v, u float64) measure.Estimate {
		cov.Keys = append(cov.Keys, key)
		values = append(values, v)
		e := measure.Estimate{Value: measure.Length(v*scale + u*rng.NormFloat64())}
		total := u*u + v*v*uScale*uScale
		cov.MM2 = append(cov.MM2, []float64{total})
		e.Sigma = measure.Length(math.Sqrt(total))
		return e
	}
	b := measure.Best{Said: []measure.Statement{}}
	b.Height = see("height", h.Height, uOut)
	b.OpenWidth = see("open_width", h.OpenWidth, uOut)
	b.BarrelDiameter = see("barrel_diameter", h.Barrel, uOut)
	b.Bearing = measure.Bearing(h.Bearing)
	b.FinishHint = h.Finish
	sides := []struct {
		Radius float64
		Holes  [][2]float64
	}{h.Left, h.Right}[:h.Leaves]
	for l, s := range sides {
		leaf := measure.Leaf{CornerRadius: see(measure.Key(fmt.Sprintf("leaf.%d.corner_radius", l)), s.Radius, uRadius)}
		for k, at := range s.Holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{
				FromEdge: see(measure.Key(fmt.Sprintf("leaf.%d.hole.%d.from_edge", l, k)), at[0], uHole),
				FromEnd:  see(measure.Key(fmt.Sprintf("leaf.%d.hole.%d.from_end", l, k)), at[1], uHole),
				Diameter: measure.Estimate{Value: measure.Length(h.Hole), Sigma: 0.1},
			})
		}
		b.Leaves = append(b.Leaves, leaf)
	}
	for i := range cov.MM2 {
		own := cov.MM2[i][0]
		cov.MM2[i] = make([]float64, len(cov.Keys))
		for j := range cov.MM2[i] {
			cov.MM2[i][j] = values[i] * values[j] * uScale * uScale
		}
		cov.MM2[i][i] = own
	}
	b.Covariance = cov
	if thickness {
		b.Thickness = measure.Estimate{Value: measure.Length(h.Thickness + 0.02*rng.NormFloat64()), Sigma: 0.02}
	}
	return b
}

// right reports whether i is the same type of hinge as the truth: size, corners of each
// leaf, thickness class, and a hole pattern within manufacturing tolerance.
func (tr truth) right(i *Item) bool { return tr.like(i, 0.5) }

// fits reports whether i truly drops in where the hinge was: as right, but as much higher or
// lower as a cut-out takes.
func (tr truth) fits(i *Item) bool { return tr.like(i, outlinePlay.MM()) }

func (tr truth) like(i *Item, height float64) bool {
	h := tr.Hinge
	near := func(a measure.Length, b, tol float64) bool { return a.MM() > b-tol && a.MM() < b+tol }
	if i.Mortise != "full mortise" || !near(i.Height, h.Height, height) || !near(i.OpenWidth, h.OpenWidth, 0.8) || !near(i.Thickness, h.Thickness, 0.4) {
		return false
	}
	corners := func(a, b measure.Length) bool {
		return near(a, h.Left.Radius, 0.4) && (h.Leaves == 1 || near(b, h.Right.Radius, 0.4))
	}
	if !corners(i.Radius[0], i.Radius[1]) && !corners(i.Radius[1], i.Radius[0]) {
		return false
	}
	holes := func(turned bool) bool {
		if len(i.Holes) != len(h.Left.Holes) {
			return false
		}
		for k, at := range h.Left.Holes {
			g := i.Holes[k]
			if turned {
				g = i.Holes[len(i.Holes)-1-k]
				g.FromEnd = i.Height - g.FromEnd
			}
			if !near(g.FromEdge, at[0], 0.35) || !near(g.FromEnd-i.Height/2, at[1]-h.Height/2, 0.35) {
				return false
			}
		}
		return true
	}
	return holes(false) || holes(true)
}

func TestTheRightHingeIsOnTheShelf(t *testing.T) {
	stock := demoStock(t)
	for _, tr := range truths(t) {
		n := 0
		for i := range stock {
			if tr.right(&stock[i]) {
				n++
			}
		}
		require.Positive(t, n, "hinge %s", tr.ID)
	}
}

// On the photos' hinges, seen with the errors of an ordinary photo, the right hinge comes
// first, with the thickness typed and without; where it is not sure to drop in, the one
// question is asked.
func TestTheRightHingeComesFirst(t *testing.T) {
	stock := demoStock(t)
	rng := rand.New(rand.NewPCG(7, 7))
	sure, all := 0, 0
	for _, tr := range truths(t) {
		for _, thickness := range []bool{true, false} {
			b := tr.seen(rng, thickness)
			fits := Rank(b, stock, Door{}, Wishes{})
			require.NotEmpty(t, fits)
			f := fits[0]
			t.Logf("%s thickness typed %-5v %s %-26s p %.2f drops in %.2f, cost %.1f; %s; %v", tr.ID, thickness, f.Item.StockNumber, f.Verdict, f.P, f.PDropsIn, f.Cost, f.Item.Name, f.Placement)
			require.True(t, tr.right(&f.Item), tr.ID)
			all++
			if f.PDropsIn >= SureEnough {
				sure++
				continue
			}
			require.NotNil(t, Ask(b, fits, Door{}), tr.ID)
		}
	}
	t.Logf("%d of %d sure", sure, all)
	require.Greater(t, sure, all*3/5)
}
