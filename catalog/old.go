package catalog

import (
	"fmt"
	"math"
	"math/rand/v2"

	"leafgauge/measure"
)

// An oldHinge is the old hinge's geometry as a vector of lengths with its covariance, and as
// samples drawn from that.
//
// The vector: height, leaf width ×2, thickness, corner radius ×2, then from edge and from
// end of each hole, leaf by leaf.
type oldHinge struct {
	mean []float64
	cov  [][]float64

	leaves       int    // leaves seen
	holes        [2]int // holes known on each leaf
	at           [2]int // index of each leaf's first hole in the vector
	dia          [2][]float64
	knowWidth    bool
	knowCorner   [2]bool
	thickFrom    string // "measured" or how it was guessed
	draws        [][]float64
	holesUnknown bool
}

const (
	atHeight = 0
	atWidth  = 1 // two
	atThick  = 3
	atRadius = 4 // two
	atHoles  = 6
)

// newOldHinge takes the geometry out of a best set. ok is false where not even the height is
// known.
func newOldHinge(b measure.Best) (o oldHinge, ok bool) {
	if !b.Height.Known() {
		return o, false
	}
	type param struct {
		e     measure.Estimate
		key   measure.Key // "" where it is in no covariance
		scale float64
	}
	add := func(ps []param, e measure.Estimate, key measure.Key, scale float64) []param {
		return append(ps, param{measure.Estimate{Value: e.Value * measure.Length(scale), Sigma: e.Sigma * measure.Length(scale)}, key, scale})
	}
	ps := add(nil, b.Height, "height", 1)
	o.leaves = len(b.Leaves)
	leaf := func(k int) (l measure.Leaf, seen bool) {
		if k < len(b.Leaves) {
			return b.Leaves[k], true
		}
		return l, false
	}
	for k := range 2 {
		l, seen := leaf(k)
		switch {
		case seen && l.Width.Known():
			ps = add(ps, l.Width, measure.Key(fmt.Sprintf("leaf.%d.leaf_width", k)), 1)
			o.knowWidth = true
		case b.OpenWidth.Known():
			ps = add(ps, b.OpenWidth, "open_width", 0.5)
			o.knowWidth = true
		case k == 1 && o.knowWidth:
			ps = append(ps, param{ps[atWidth].e, ps[atWidth].key, 1})
		default:
			ps = append(ps, param{measure.Estimate{Value: b.Height.Value / 2, Sigma: 10}, "", 1})
		}
	}
	t, from := oldThickness(b)
	o.thickFrom = from
	key := measure.Key("")
	if b.Thickness.Known() {
		key = "thickness"
	}
	ps = append(ps, param{t, key, 1})
	for k := range 2 {
		l, seen := leaf(k)
		r, known := radiusOf(l)
		o.knowCorner[k] = seen && known
		if !o.knowCorner[k] {
			ps = append(ps, param{measure.Estimate{Value: ps[len(ps)-1].e.Value, Sigma: 0.3}, "", 1})
			continue
		}
		key := measure.Key("")
		if l.CornerRadius.Known() {
			key = measure.Key(fmt.Sprintf("leaf.%d.corner_radius", k))
		}
		ps = append(ps, param{r, key, 1})
	}
	if !o.knowCorner[1] && o.knowCorner[0] {
		ps[atRadius+1] = ps[atRadius]
		ps[atRadius+1].key = ""
	}
	for k := range 2 {
		o.at[k] = len(ps)
		l, _ := leaf(k)
		for h, hole := range l.Holes {
			if !hole.FromEdge.Known() || !hole.FromEnd.Known() {
				continue
			}
			ps = append(ps, param{hole.FromEdge, measure.Key(fmt.Sprintf("leaf.%d.hole.%d.from_edge", k, h)), 1},
				param{hole.FromEnd, measure.Key(fmt.Sprintf("leaf.%d.hole.%d.from_end", k, h)), 1})
			o.dia[k] = append(o.dia[k], hole.Diameter.Value.MM())
			o.holes[k]++
		}
	}
	o.holesUnknown = o.holes[0] == 0 && o.holes[1] == 0

	row := map[measure.Key]int{}
	if b.Covariance != nil {
		for i, k := range b.Covariance.Keys {
			if i < len(b.Covariance.MM2) && len(b.Covariance.MM2[i]) == len(b.Covariance.Keys) {
				row[k] = i
			}
		}
	}
	n := len(ps)
	o.mean = make([]float64, n)
	o.cov = make([][]float64, n)
	for i := range ps {
		o.mean[i] = ps[i].e.Value.MM()
		o.cov[i] = make([]float64, n)
		for j := range ps {
			ri, inI := row[ps[i].key]
			rj, inJ := row[ps[j].key]
			switch {
			case inI && inJ:
				o.cov[i][j] = b.Covariance.MM2[ri][rj] * ps[i].scale * ps[j].scale
			case i == j, ps[i].key != "" && ps[i].key == ps[j].key:
				o.cov[i][j] = ps[i].e.Sigma.MM() * ps[j].e.Sigma.MM()
			}
		}
	}
	return o, true
}

// radiusOf returns the corner radius of a leaf, from its class where no number is known.
func radiusOf(l measure.Leaf) (measure.Estimate, bool) {
	if l.CornerRadius.Known() {
		return l.CornerRadius, true
	}
	// A class alone is somebody's word: 0.4 mm covers how radii are made.
	const u = 0.4
	switch l.Corners {
	case measure.CornersSquare:
		return measure.Estimate{Value: 0, Sigma: u}, true
	case measure.CornersQuarter:
		return measure.Estimate{Value: measure.Inch / 4, Sigma: u}, true
	case measure.CornersFiveEighths:
		return measure.Estimate{Value: measure.Inch * 5 / 8, Sigma: u}, true
	}
	return measure.Estimate{}, false
}

// oldThickness is the old leaf's thickness. Where nobody gave it, it is what a barrel of the
// measured diameter leaves of it: a leaf is rolled once round its pin, so the barrel is the
// pin and two thicknesses. Pins of hinges up to 4 in are taken as 0.24 ± 0.014 in, of larger
// ones as 0.27 ± 0.03 in (from memory and weak: light 3 1/2 in hinges have pins of about
// 1/4 in). Without a barrel it is what hinges of the height have.
func oldThickness(b measure.Best) (t measure.Estimate, from string) {
	if b.Thickness.Known() {
		return b.Thickness, "measured"
	}
	small := b.Height.Value < 4.25*measure.Inch
	if b.BarrelDiameter.Known() {
		pin, u := 0.27*measure.Inch, 0.03*measure.Inch
		if small {
			pin, u = 0.24*measure.Inch, 0.014*measure.Inch
		}
		v := (b.BarrelDiameter.Value - pin) / 2
		s := measure.Length(math.Hypot(u.MM(), b.BarrelDiameter.Sigma.MM()) / 2)
		if v > 1.2 && v < 6 {
			return measure.Estimate{Value: v, Sigma: s}, "guessed from the barrel's diameter"
		}
	}
	if small {
		return measure.Estimate{Value: 2.6, Sigma: 0.5}, "guessed from the size"
	}
	return measure.Estimate{Value: 3.6, Sigma: 0.6}, "guessed from the size"
}

// draw fills o.draws with n samples of the vector. The same hinge gives the same samples.
func (o *oldHinge) draw(n int) {
	l := cholesky(o.cov)
	rng := rand.New(rand.NewPCG(20, 26))
	k := len(o.mean)
	z := make([]float64, k)
	back := make([]float64, n*k)
	o.draws = make([][]float64, n)
	for s := range o.draws {
		x := back[s*k : (s+1)*k]
		sign := 1.0
		if s%2 == 1 { // antithetic pairs: the mean of the samples is the mean
			sign = -1
		} else {
			for i := range z {
				z[i] = rng.NormFloat64()
			}
		}
		for i := range x {
			x[i] = o.mean[i]
			for j := 0; j <= i; j++ {
				x[i] += sign * l[i][j] * z[j]
			}
		}
		for i := atRadius; i < atHoles; i++ {
			x[i] = max(x[i], 0)
		}
		o.draws[s] = x
	}
}

// cholesky returns the lower triangle l with l·lᵀ = c. Directions that rounding has made
// slightly negative get no variance.
func cholesky(c [][]float64) [][]float64 {
	n := len(c)
	l := make([][]float64, n)
	for i := range l {
		l[i] = make([]float64, n)
		for j := 0; j <= i; j++ {
			s := c[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			switch {
			case i == j:
				l[i][i] = math.Sqrt(max(s, 0))
			case l[j][j] > 1e-9:
				l[i][j] = s / l[j][j]
			}
		}
	}
	return l
}
