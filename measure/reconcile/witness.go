package reconcile

import (
	"math"
	"slices"

	"leafgauge/measure"

	"gonum.org/v1/gonum/mat"
)

// cardShared is the relative standard uncertainty that all photos with the same card share:
// the card's own size band (ISO/IEC 7810 limits as uniform: 0.084 % of the long side, 0.059 %
// of the short). It does not average away over several photos.
const cardShared = 0.0007

// twinSigma is how far the two leaves of a hinge differ in width, a standard deviation in
// millimetres (common practice, no source): where one leaf alone was seen, the open width is
// twice its.
const twinSigma = 0.2

// jitter keeps a covariance from being singular: (0.1 µm)².
const jitter = 1e-8

// A witness is what one photo says of the hinge, or what all of them say together.
type witness struct {
	photo int // from 1
	hinge *measure.Hinge
	keys  []measure.Key
	at    map[measure.Key]int
	x     []float64
	cov   *mat.SymDense
	print float64 // relative standard uncertainty that all photos of one print share
}

func newWitness(photo int, h *measure.Hinge) *witness {
	w := &witness{photo: photo, hinge: h, at: map[measure.Key]int{}}
	var sigma []float64
	h.Lengths(func(k measure.Key, e *measure.Estimate) {
		if e.Known() && !math.IsNaN(float64(e.Value)) && !math.IsInf(float64(e.Value), 0) {
			w.at[k] = len(w.keys)
			w.keys = append(w.keys, k)
			w.x = append(w.x, float64(e.Value))
			sigma = append(sigma, float64(e.Sigma))
		}
	})
	n := len(w.keys)
	if n == 0 {
		return w
	}
	w.cov = mat.NewSymDense(n, nil)
	for i, s := range sigma {
		w.cov.SetSym(i, i, s*s)
	}
	if c := h.Covariance; c != nil && len(c.MM2) == len(c.Keys) {
		full := mat.NewSymDense(n, nil)
		full.CopySym(w.cov)
		for a, ka := range c.Keys {
			i, ok := w.at[ka]
			if !ok || len(c.MM2[a]) != len(c.Keys) {
				continue
			}
			for b, kb := range c.Keys[:a+1] {
				if j, ok := w.at[kb]; ok {
					full.SetSym(i, j, c.MM2[a][b])
				}
			}
		}
		if positive(full) {
			w.cov = full
		}
	}
	if _, ok := w.at["open_width"]; !ok {
		if i, ok := w.at["leaf.0.leaf_width"]; ok {
			w.add("open_width", combination{[]measure.Key{w.keys[i]}, []float64{2}, 0}, twinSigma)
		}
	}
	return w
}

// positive reports whether c, with a trace of jitter, is a covariance.
func positive(c *mat.SymDense) bool {
	n := c.SymmetricDim()
	t := mat.NewSymDense(n, nil)
	t.CopySym(c)
	for i := range n {
		if !(c.At(i, i) > 0) {
			return false
		}
		t.SetSym(i, i, c.At(i, i)+jitter)
	}
	var ch mat.Cholesky
	return ch.Factorize(t)
}

// add gives w one more length, a function of its others with an uncertainty of its own.
func (w *witness) add(k measure.Key, f combination, sigma float64) {
	n := len(w.keys)
	t := mat.NewDense(n+1, n, nil)
	for i := range n {
		t.Set(i, i, 1)
	}
	for i, fk := range f.keys {
		t.Set(n, w.at[fk], f.coef[i])
	}
	w.transform(append(slices.Clone(w.keys), k), t)
	w.x[n] += f.add
	w.cov.SetSym(n, n, w.cov.At(n, n)+sigma*sigma)
}

// transform makes w's lengths t times what they were, under new keys.
func (w *witness) transform(keys []measure.Key, t *mat.Dense) {
	var x mat.VecDense
	x.MulVec(t, mat.NewVecDense(len(w.x), w.x))
	var tc, tct mat.Dense
	tc.Mul(t, w.cov)
	tct.Mul(&tc, t.T())
	n := len(keys)
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, (tct.At(i, j)+tct.At(j, i))/2)
		}
	}
	w.keys, w.x, w.cov = keys, append([]float64(nil), x.RawVector().Data...), cov
	w.at = map[measure.Key]int{}
	for i, k := range keys {
		w.at[k] = i
	}
}

// share adds a relative standard uncertainty that all lengths have in common.
func (w *witness) share(rel float64) {
	for i := range w.x {
		for j := i; j < len(w.x); j++ {
			w.cov.SetSym(i, j, w.cov.At(i, j)+rel*rel*w.x[i]*w.x[j])
		}
	}
}

// reprint takes the scale that a photo's printed card was taken for out of w, and puts in
// another.
func (w *witness) reprint(was, is measure.Ratio) {
	k := is.Value / was.Value
	for i := range w.x {
		w.x[i] *= k
	}
	rel := is.Sigma*is.Sigma - was.Sigma*was.Sigma
	cov := mat.NewSymDense(len(w.x), nil)
	for i := range w.x {
		for j := i; j < len(w.x); j++ {
			cov.SetSym(i, j, k*k*w.cov.At(i, j)+rel*w.x[i]*w.x[j])
		}
	}
	if positive(cov) {
		w.cov, w.print = cov, is.Sigma
	}
}

// of evaluates f: its value and variance. ok is false where w lacks one of its lengths.
func (w *witness) of(f combination) (value, variance float64, ok bool) {
	value = f.add
	for i, k := range f.keys {
		a, found := w.at[k]
		if !found {
			return 0, 0, false
		}
		value += f.coef[i] * w.x[a]
		for j, l := range f.keys {
			if b, found := w.at[l]; found {
				variance += f.coef[i] * f.coef[j] * w.cov.At(a, b)
			}
		}
	}
	return value, variance, true
}

func (w *witness) estimate(k measure.Key) measure.Estimate {
	if w == nil {
		return measure.Estimate{}
	}
	i, ok := w.at[k]
	if !ok {
		return measure.Estimate{}
	}
	return measure.Estimate{Value: measure.Length(w.x[i]), Sigma: measure.Length(math.Sqrt(w.cov.At(i, i)))}
}

// turnedCost is how much better, in twice the logarithm of the likelihood, a turned hinge must match than one that lies as
// in the other photo: a symmetrical one is not turned by noise (some 5 % in favour of lying so).
const turnedCost = 6

// align turns w so that its leaves and ends are those of ref: a hinge may lie the other way
// round in each photo. Leaves and holes of which the two differ in number are left out.
func (w *witness) align(ref *witness) {
	type way struct {
		keys []measure.Key
		t    *mat.Dense
		cost float64
	}
	var best *way
	for _, swap := range []bool{false, true} {
		for _, flip := range []bool{false, true} {
			if swap && len(w.hinge.Leaves) != 2 {
				continue
			}
			if _, ok := w.at["height"]; flip && !ok {
				continue
			}
			forms := w.mapping(ref, swap, flip)
			keys := make([]measure.Key, 0, len(forms))
			for _, k := range ref.keys {
				if _, ok := forms[k]; ok {
					keys = append(keys, k)
				}
			}
			t := mat.NewDense(max(1, len(keys)), len(w.keys), nil)
			cost := 0.0
			for i, k := range keys {
				f := forms[k]
				for j, fk := range f.keys {
					t.Set(i, w.at[fk], f.coef[j])
				}
				v, s2, _ := w.of(f)
				r := ref.at[k]
				d := v - ref.x[r]
				// A hole that one photo has wrong must not decide alone.
				v2 := s2 + ref.cov.At(r, r)
				cost += math.Min(25, d*d/v2) + math.Log(v2)
			}
			cost -= 20 * float64(len(keys)) // more in common is better
			for _, turned := range []bool{swap, flip} {
				if turned {
					cost += turnedCost
				}
			}
			if len(keys) > 0 && (best == nil || cost < best.cost) {
				best = &way{keys, t, cost}
			}
		}
	}
	if best != nil {
		w.transform(best.keys, best.t)
	}
}

// mapping says how ref's lengths are made of w's, when leaves are swapped and ends flipped.
func (w *witness) mapping(ref *witness, swap, flip bool) map[measure.Key]combination {
	m := map[measure.Key]combination{}
	put := func(to, from measure.Key, height bool) {
		if _, ok := w.at[from]; !ok {
			return
		}
		if _, ok := ref.at[to]; !ok {
			return
		}
		f := oneLength(from, 1)
		if height {
			f = combination{[]measure.Key{"height", from}, []float64{1, -1}, 0}
		}
		m[to] = f
	}
	for _, k := range []measure.Key{"height", "open_width", "barrel_diameter"} {
		put(k, k, false)
	}
	for i := range ref.hinge.Leaves {
		from := i
		if swap {
			from = 1 - i
		}
		if from >= len(w.hinge.Leaves) {
			continue
		}
		put(measure.LeafKey(i, "leaf_width"), measure.LeafKey(from, "leaf_width"), false)
		put(measure.LeafKey(i, "corner_radius"), measure.LeafKey(from, "corner_radius"), false)
		n := len(ref.hinge.Leaves[i].Holes)
		if len(w.hinge.Leaves[from].Holes) != n {
			continue
		}
		for j := range n {
			o := j
			if flip {
				o = n - 1 - j
			}
			for _, name := range []string{"from_edge", "from_end", "diameter", "countersink"} {
				put(measure.HoleKey(i, j, name), measure.HoleKey(from, o, name), flip && name == "from_end")
			}
		}
	}
	return m
}
