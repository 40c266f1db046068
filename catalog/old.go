package catalog

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

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

	leaves       int // leaves seen
	pOtherLike   float64
	holes        [2]int // holes known on each leaf
	at           [2]int // index of each leaf's first hole in the vector
	dia          [2][]float64
	knowWidth    bool
	knowCorner   [2]bool
	thickFrom    string // "as told", "typed 0.97 in, taken as …", or how it was guessed
	thick        []thickClass
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
	if o.pOtherLike = pOtherLeafLike; said(b.Said).first("leaf") == "alike" {
		o.pOtherLike = 1
	}
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
	t, from, mix := oldThickness(b)
	o.thickFrom, o.thick = from, mix
	key := measure.Key("")
	if b.Thickness.Known() && len(mix) == 0 {
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
		if l.CornerRadius.Known() && r == l.CornerRadius {
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
	o.makeAlike()
	return o, true
}

// makeAlike uses that a hinge is made regularly: both leaves carry the same corners and the same
// pattern, mirrored at the pin, and a pattern is mirrored at its own middle. Without it the
// photo's errors would pass for holes that lie anyhow. Each is a weak observation, within what
// hinges scatter by, and left out where it plainly is not so (common practice, no source: it is
// likely, not certain).
func (o *oldHinge) makeAlike() {
	if o.knowCorner[0] && o.knowCorner[1] {
		o.observe(newRadiusSigma, atRadius, atRadius+1)
	}
	if n := o.holes[0]; n == o.holes[1] {
		for c := range 2 * n {
			o.observe(newHoleSigma, o.at[0]+c, o.at[1]+c)
		}
	}
	for l, n := range o.holes {
		x := func(k int) int { return o.at[l] + 2*k }
		y := func(k int) int { return x(k) + 1 }
		for k := range n / 2 {
			o.observe(newHoleSigma, x(k), x(n-1-k))
			if m := k + 1; m <= n-1-m { // what lies next inwards has the same middle
				o.observe(newHoleSigma, y(k), y(m), y(n-1-k), y(n-1-m))
			}
		}
	}
}

// observe that lengths are the same in pairs but for a scatter of each: those at even places of
// at, added up, are as much as those at odd ones.
func (o *oldHinge) observe(scatter measure.Length, at ...int) {
	c := make([]float64, len(o.mean))
	for n, i := range at {
		c[i] += float64(1 - 2*(n%2))
	}
	diff, total := 0.0, 0.0
	gain := make([]float64, len(c)) // covariances with the difference, then what it tells of each
	for k := range c {
		for i := range c {
			gain[k] += o.cov[k][i] * c[i]
		}
		diff += c[k] * o.mean[k]
	}
	for k := range c {
		total += c[k] * (gain[k] + c[k]*float64(scatter*scatter))
	}
	if diff*diff > 9*total {
		return
	}
	for k := range c {
		o.mean[k] -= gain[k] / total * diff
		for m := k; m < len(c); m++ {
			o.cov[k][m] -= gain[k] * gain[m] / total
			o.cov[m][k] = o.cov[k][m]
		}
	}
}

// radiusOf returns the corner radius of a leaf, from its class where no number is known. A
// radius more uncertain than the step from square to 1/4 in or from that to 5/8 in says nothing.
func radiusOf(l measure.Leaf) (measure.Estimate, bool) {
	if l.CornerRadius.Known() && l.CornerRadius.Sigma < 3 {
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

// A thickClass is one way the old leaf's thickness may be: t ± u, with a weight.
type thickClass struct{ t, u, weight float64 }

// thickClasses are the usual leaf thicknesses by hinge height (mm) with how often a counter
// meets them. Thicknesses: leafRows. Shares: guesses, no source.
func thickClasses(height measure.Length) []thickClass {
	const u = 0.06 // 0.005 in either way and a coat of plating or paint
	in := func(t, weight float64) thickClass { return thickClass{t * 25.4, u, weight} }
	switch h := height.Inches(); {
	case h < 3.75:
		return []thickClass{in(0.080, 0.15), in(0.085, 0.25), in(0.090, 0.15), in(0.097, 0.20), in(0.123, 0.10)}
	case h < 4.25:
		return []thickClass{in(0.085, 0.20), in(0.090, 0.15), in(0.097, 0.20), in(0.123, 0.10), in(0.130, 0.20)}
	case h < 4.75:
		return []thickClass{in(0.134, 0.65), in(0.180, 0.20)}
	case h < 5.5:
		return []thickClass{in(0.146, 0.60), in(0.190, 0.25)}
	}
	return []thickClass{in(0.160, 0.60), in(0.203, 0.25)}
}

const (
	thickOther = 0.15 // weight of a leaf that is none of the usual ones
	thickRange = 4.0  // over how many mm such leaves spread, evenly
)

// thicknessTold says how the thickness that is known was typed: a corrected one is not as told.
func thicknessTold(b measure.Best) string {
	for _, d := range b.Disagreements {
		if d.Quantity == measure.QThickness && d.Corrects != nil && d.Applied && !d.Overrule {
			return fmt.Sprintf("typed %s, taken as %s", d.Typed, Both(*d.Corrects))
		}
	}
	return "as told"
}

// fineThickness is the standard uncertainty above which a thickness that was told is weighed with the usual ones: a
// coarse number does not take the place of what the size and the barrel say.
const fineThickness = measure.Length(0.12)

// hear weighs a class with what was told.
func (c *thickClass) hear(told measure.Estimate) {
	v, w := c.u*c.u, told.Sigma.MM()*told.Sigma.MM()
	d := told.Value.MM() - c.t
	c.weight *= math.Exp(-d*d/(2*(v+w))) / math.Sqrt(v+w)
	c.t, c.u = c.t+v/(v+w)*d, math.Sqrt(v*w/(v+w))
}

// thicknessAlone is the thickness as it was told, without the barrel's share in it.
func thicknessAlone(b measure.Best) measure.Estimate {
	e := b.Thickness
	for _, t := range b.Trace {
		if rest := 1 - t.Weight; t.Quantity == "thickness" && t.Source == "barrel" && t.Used && rest > 0.01 {
			e.Value = (e.Value - measure.Length(t.Weight)*t.Input.Value) / measure.Length(rest)
			e.Sigma /= measure.Length(math.Sqrt(rest))
		}
	}
	return e
}

// oldThickness is the old leaf's thickness. Where nobody gave it, it follows from the barrel:
// a leaf is rolled once round its pin, so the barrel is the pin and two thicknesses. Pins of
// hinges up to 4 in are taken as 0.24 ± 0.02 in, of larger ones as 0.27 ± 0.03 in (from
// memory and weak). Each usual thickness is weighed by how well pin and barrel go with it;
// something unusual stays possible. Without a barrel the shares alone stand. A thickness that was told
// coarsely is weighed with all of that.
func oldThickness(b measure.Best) (t measure.Estimate, from string, mix []thickClass) {
	open := slices.ContainsFunc(b.Rivals, func(r measure.Rival) bool { return r.Quantity == measure.QThickness }) // weighed already
	if b.Thickness.Known() && (b.Thickness.Sigma <= fineThickness || open) {
		return b.Thickness, thicknessTold(b), nil
	}
	pin, uPin := 0.27*measure.Inch.MM(), 0.03*measure.Inch.MM()
	if b.Height.Value < 4.25*measure.Inch {
		pin, uPin = 0.24*measure.Inch.MM(), 0.02*measure.Inch.MM()
	}
	mix = thickClasses(b.Height.Value)
	from = "guessed from the size"
	other := thickClass{2.9, 1, thickOther}
	if barrel := b.BarrelDiameter; barrel.Known() && (barrel.Value.MM()-pin)/2 > 1 && (barrel.Value.MM()-pin)/2 < 6 {
		from = "guessed from the barrel's diameter"
		for i := range mix {
			s := math.Hypot(math.Hypot(uPin, barrel.Sigma.MM()), 2*mix[i].u)
			z := (barrel.Value.MM() - pin - 2*mix[i].t) / s
			mix[i].weight *= math.Exp(-z*z/2) / (s * math.Sqrt(2*math.Pi))
		}
		other = thickClass{(barrel.Value.MM() - pin) / 2, math.Hypot(uPin, barrel.Sigma.MM()) / 2, thickOther / (2 * thickRange)}
	}
	mix = append(mix, other)
	if told := thicknessAlone(b); told.Known() {
		from = thicknessTold(b) + " and by what is usual"
		for i := range mix {
			mix[i].hear(told)
		}
	}
	var sum, mean, square float64
	for _, c := range mix {
		sum += c.weight
		mean += c.weight * c.t
		square += c.weight * (c.t*c.t + c.u*c.u)
	}
	for i := range mix {
		mix[i].weight /= sum
	}
	mean /= sum
	return measure.Estimate{Value: measure.Length(mean), Sigma: measure.Length(math.Sqrt(max(square/sum-mean*mean, 1e-6)))}, from, mix
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
		if len(o.thick) > 0 {
			x[atThick] = pickThickness(o.thick, rng)
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

// pickThickness draws from a mixture.
func pickThickness(mix []thickClass, rng *rand.Rand) float64 {
	p := rng.Float64()
	for _, c := range mix {
		if p -= c.weight; p < 0 {
			return c.t + c.u*rng.NormFloat64()
		}
	}
	c := mix[len(mix)-1]
	return c.t + c.u*rng.NormFloat64()
}
