package catalog

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

// Patterns collects the named hole patterns of a stock list.
func Patterns(items []Item) map[string][]Hole {
	p := map[string][]Hole{}
	for _, i := range items {
		if i.PatternID != "" && len(i.Holes) > 0 {
			p[i.PatternID] = i.Holes
		}
	}
	return p
}

// bySize is the pattern name that stands for "the shop's usual pattern of this size": the
// pattern named by the size, such as "4 1/2 x 4", or by the height alone, "4 1/2".
const bySize = "by size"

func lookUpPattern(patterns map[string][]Hole, i Item) ([]Hole, bool) {
	if strings.ToLower(i.PatternID) != bySize {
		holes, ok := patterns[i.PatternID]
		return holes, ok
	}
	if holes, ok := patterns[i.Size()]; ok {
		return holes, true
	}
	holes, ok := patterns[i.Height.Fraction(8)]
	return holes, ok
}

// PatternFromSample makes a stock hinge's hole pattern from a hinge measured off the shop's
// own shelf: each hole is the weighted mean over the leaves that carry it. u is the largest
// standard uncertainty among the holes, the scatter between the leaves included.
func PatternFromSample(h measure.Hinge) (holes []Hole, u measure.Length, err error) {
	if len(h.Leaves) == 0 || len(h.Leaves[0].Holes) == 0 {
		return nil, 0, fmt.Errorf("catalog: the sample shows no screw holes: take the photo with both leaves face up")
	}
	n := len(h.Leaves[0].Holes)
	if len(h.Leaves) == 2 && len(h.Leaves[1].Holes) != n {
		return nil, 0, fmt.Errorf("catalog: the sample's leaves show %d and %d holes: take another photo", n, len(h.Leaves[1].Holes))
	}
	for k := range n {
		var edge, end []measure.Estimate
		for _, l := range h.Leaves {
			edge, end = append(edge, l.Holes[k].FromEdge), append(end, l.Holes[k].FromEnd)
		}
		a, ua := weightedMean(edge)
		b, ub := weightedMean(end)
		holes = append(holes, Hole{micrometre(a), micrometre(b)})
		u = max(u, micrometre(ua), micrometre(ub))
	}
	if u == 0 || math.IsNaN(u.MM()) {
		return nil, 0, fmt.Errorf("catalog: the sample's holes carry no uncertainty")
	}
	slices.SortStableFunc(holes, func(a, b Hole) int {
		if a.FromEnd < b.FromEnd {
			return -1
		}
		return 1
	})
	return holes, u, nil
}

// micrometre rounds a measured length to what it can mean at most.
func micrometre(l measure.Length) measure.Length {
	return measure.Length(math.Round(l.MM()*1000) / 1000)
}

// weightedMean returns the mean weighted by 1/u² and its standard uncertainty, widened by
// the Birge ratio where the estimates scatter more than they say.
func weightedMean(es []measure.Estimate) (mean, u measure.Length) {
	var sw, swx float64
	for _, e := range es {
		w := 1 / float64(e.Sigma*e.Sigma)
		sw, swx = sw+w, swx+w*float64(e.Value)
	}
	m := swx / sw
	var chi float64
	for _, e := range es {
		chi += math.Pow((float64(e.Value)-m)/float64(e.Sigma), 2)
	}
	widen := 1.0
	if len(es) > 1 {
		widen = max(1, math.Sqrt(chi/float64(len(es)-1)))
	}
	return measure.Length(m), measure.Length(widen / math.Sqrt(sw))
}
