package reconcile

import (
	"fmt"
	"math"
	"slices"

	"leafgauge/measure"

	"gonum.org/v1/gonum/mat"
)

// An input is one row of the least squares that is not a photo's.
type input struct {
	on     combination // typed = scale·on
	scale  float64
	y      float64
	sigma  float64
	source string
	text   string
	soft   bool // a trade size: it is no evidence, and counts for no degree of freedom
}

// combine is the photos' common word, and that of more inputs: a witness over every length
// that any of them speaks of. Photos share the card's size band.
func combine(photos []*witness, more []input) (*witness, error) {
	w, _, err := combineWithin(photos, more)
	return w, err
}

// combined is what combineTraced knows beside the lengths.
type combined struct {
	solution
	keys      []measure.Key
	traces    []measure.Trace
	chiSquare float64
	freedom   int
}

// combineWithin combines so that no length leaves the range of what went into it. Lengths of a photo that hang
// closely together, taken with others that contradict them, can have a best estimate outside of all that was
// seen: then they are taken to hang together less.
func combineWithin(photos []*witness, more []input) (w *witness, c *combined, err error) {
	for _, together := range []float64{1, 0.5, 0.25, 0} {
		list := photos
		if together < 1 {
			list = nil
			for _, p := range photos {
				list = append(list, p.loosened(together))
			}
		}
		if w, c, err = combineTraced(list, more, together); err != nil || w.within(list, more) {
			break
		}
	}
	return w, c, err
}

// loosened is the photo's word with so much of what its lengths have in common.
func (w *witness) loosened(share float64) *witness {
	c := *w
	c.print *= share
	n := len(w.keys)
	c.cov = mat.NewSymDense(n, nil)
	for i := range n {
		c.cov.SetSym(i, i, w.cov.At(i, i))
		for j := range i {
			c.cov.SetSym(i, j, share*w.cov.At(i, j))
		}
	}
	return &c
}

// within reports whether every length of w lies between what its inputs say of it, as far as their 95 %
// intervals reach.
func (w *witness) within(photos []*witness, more []input) bool {
	type reach struct{ low, high float64 }
	said := map[measure.Key]reach{}
	hear := func(k measure.Key, e measure.Estimate) {
		low, high := e.Interval95()
		r, ok := said[k]
		if !ok {
			r = reach{low.MM(), high.MM()}
		}
		said[k] = reach{math.Min(r.low, low.MM()), math.Max(r.high, high.MM())}
	}
	for _, p := range photos {
		for _, k := range p.keys {
			hear(k, p.estimate(k))
		}
	}
	for _, m := range more {
		if len(m.on.keys) == 1 {
			f := m.scale * m.on.coef[0]
			hear(m.on.keys[0], measure.Estimate{Value: measure.Length((m.y - m.scale*m.on.add) / f), Sigma: measure.Length(m.sigma / math.Abs(f))})
		}
	}
	for i, k := range w.keys {
		if r, ok := said[k]; ok && (w.x[i] < r.low || w.x[i] > r.high) {
			return false
		}
	}
	return true
}

func combineTraced(photos []*witness, more []input, together float64) (*witness, *combined, error) {
	out := &witness{at: map[measure.Key]int{}}
	learn := func(k measure.Key) {
		if _, ok := out.at[k]; !ok {
			out.at[k] = len(out.keys)
			out.keys = append(out.keys, k)
		}
	}
	n := len(more)
	for _, p := range photos {
		n += len(p.keys)
		for _, k := range p.keys {
			learn(k)
		}
	}
	for _, m := range more {
		for _, k := range m.on.keys {
			learn(k)
		}
	}
	if n == 0 {
		return out, &combined{}, nil
	}
	if len(photos) > 0 {
		out.photo, out.hinge = photos[0].photo, photos[0].hinge
	}
	a := mat.NewDense(n, len(out.keys), nil)
	v := mat.NewSymDense(n, nil)
	y := make([]float64, n)
	row := 0
	share := together * sharedScale(photos)
	begin := make([]int, len(photos))
	for pi, p := range photos {
		begin[pi] = row
		for i, k := range p.keys {
			a.Set(row+i, out.at[k], 1)
			y[row+i] = p.x[i]
			for j := i; j < len(p.keys); j++ {
				v.SetSym(row+i, row+j, p.cov.At(i, j))
			}
			v.SetSym(row+i, row+i, p.cov.At(i, i)+jitter)
		}
		for qi := range pi {
			for i := range p.keys {
				for j := range photos[qi].keys {
					v.SetSym(begin[qi]+j, row+i, (share*share+p.print*photos[qi].print)*p.x[i]*photos[qi].x[j])
				}
			}
		}
		row += len(p.keys)
	}
	for i, m := range more {
		y[row+i] = m.y - m.scale*m.on.add
		v.SetSym(row+i, row+i, m.sigma*m.sigma)
		for j, k := range m.on.keys {
			a.Set(row+i, out.at[k], a.At(row+i, out.at[k])+m.scale*m.on.coef[j])
		}
	}
	s, err := generalLeastSquares(a, y, v)
	if err != nil {
		// Covariances that contradict each other: the diagonal alone still holds.
		diag := mat.NewSymDense(n, nil)
		for i := range n {
			diag.SetSym(i, i, v.At(i, i)+jitter)
		}
		if s, err = generalLeastSquares(a, y, diag); err != nil {
			return nil, nil, err
		}
	}
	out.x, out.cov = s.x, s.cov
	c := &combined{solution: s, keys: out.keys}
	for pi, p := range photos {
		for i, k := range p.keys {
			c.traces = append(c.traces, measure.Trace{Quantity: k, Source: fmt.Sprintf("photo %d", p.photo),
				Input:  measure.Estimate{Value: measure.Length(p.x[i]), Sigma: measure.Length(math.Sqrt(p.cov.At(i, i)))},
				Weight: share01(s.gain.At(out.at[k], begin[pi]+i)), Residual: s.residual[begin[pi]+i], Used: true})
		}
	}
	soft := 0
	for i, m := range more {
		k, f := m.on.keys[0], m.scale*m.on.coef[0]
		t := measure.Trace{Quantity: k, Source: m.source, Text: m.text, Used: true,
			Weight: share01(s.gain.At(out.at[k], row+i) * f), Residual: s.residual[row+i]}
		if len(m.on.keys) == 1 {
			t.Input = measure.Estimate{Value: measure.Length(y[row+i] / f), Sigma: measure.Length(m.sigma / math.Abs(f))}
		} else {
			t.Input = measure.Estimate{Value: measure.Length(m.y), Sigma: measure.Length(m.sigma)}
		}
		c.traces = append(c.traces, t)
		if m.soft {
			soft++
		}
	}
	c.chiSquare = s.chiSquare
	for i, m := range more {
		if m.soft { // independent rows: their part can be taken off
			d := y[row+i]
			for j := range out.keys {
				d -= a.At(row+i, j) * s.x[j]
			}
			c.chiSquare -= d * d / (m.sigma * m.sigma)
		}
	}
	c.chiSquare = max(0, c.chiSquare)
	c.freedom = max(0, n-soft-len(out.keys))
	return out, c, nil
}

func share01(x float64) float64 { return math.Max(0, math.Min(1, x)) }

// sharedScale is the relative uncertainty that the photos have in common: cardShared, or as
// much of it as every photo's own covariance holds.
func sharedScale(photos []*witness) float64 {
	s := cardShared
	if len(photos) < 2 {
		return s
	}
	for _, p := range photos {
		var ch mat.Cholesky
		c := mat.NewSymDense(len(p.keys), nil)
		c.CopySym(p.cov)
		for i := range p.keys {
			c.SetSym(i, i, c.At(i, i)+jitter)
		}
		if !ch.Factorize(c) {
			return 0
		}
		x := mat.NewVecDense(len(p.x), slices.Clone(p.x))
		var z mat.VecDense
		if err := ch.SolveVecTo(&z, x); err != nil && !isCondition(err) {
			return 0
		}
		if q := mat.Dot(x, &z); q > 0 {
			s = math.Min(s, math.Sqrt(0.8/q))
		}
	}
	return s
}

// likelyTrade is how probable a trade size must be before height and width are drawn to it.
const likelyTrade = 0.9

// solve makes the best set of what explain found.
func (r *reconciler) solve() measure.Best {
	best := measure.Best{Said: []measure.Statement{}, Trace: []measure.Trace{}, Disagreements: slices.Clone(r.found)}
	if best.Disagreements == nil {
		best.Disagreements = []measure.Disagreement{}
	}
	photos := r.photos
	if r.scale != nil || r.doubt > 0 {
		photos = nil
		for _, p := range r.photos {
			p = p.rescaled(r.scale)
			p.share(r.doubt)
			p.print = math.Hypot(p.print, r.doubt)
			photos = append(photos, p)
		}
	}
	var more []input
	var aside []measure.Trace
	for _, t := range r.typed {
		if !t.used || len(t.form.on.keys) == 0 || t.Quantity == measure.QPinDiameter {
			aside = append(aside, t.asideTrace())
			continue
		}
		more = append(more, input{on: t.form.on, scale: t.form.scale, y: float64(*t.Value), sigma: t.form.sigma, source: "typed", text: typedText(t.Reading)})
	}
	if slices.ContainsFunc(more, func(m input) bool { return slices.Equal(m.on.keys, []measure.Key{"thickness"}) }) {
		if e, source, text := r.rolled(); e.Known() {
			more = append(more, input{on: oneLength("thickness", 1), scale: 1, y: e.Value.MM(), sigma: e.Sigma.MM(), source: source, text: text})
		}
	}
	photos, given := r.yield(photos)
	aside = append(aside, given...)
	w, c, err := combineWithin(photos, more)
	if err != nil || len(w.keys) == 0 {
		best.Trace = append(best.Trace, aside...)
		best.Leaves = []measure.Leaf{}
		best.Bearing = measure.BearingUnknown
		return best
	}
	// Where the inputs still contradict each other, the readings that stick out are given the
	// width that the contradiction shows (the Birge ratio), rather than a mean that is too sure.
	if c.freedom > 0 && c.chiSquare > ChiSquareLimit(0.01, c.freedom) {
		ratio := measure.BirgeRatio(c.chiSquare, c.freedom)
		wider := slices.Clone(more)
		for i := range wider {
			if math.Abs(c.residual[len(c.residual)-len(more)+i]) > 3 {
				wider[i].sigma *= math.Max(1, ratio)
			}
		}
		if w2, c2, err := combineWithin(photos, wider); err == nil {
			w, c, more = w2, c2, wider
		}
	}
	// The trade size that is likely by now draws softly.
	if n := measure.NearestTradeSize(w.estimate("height"), w.estimate("open_width")); n.P >= likelyTrade {
		for _, s := range measure.TradeSizes {
			if s.Name() != n.Size && (w.estimate("open_width").Known() || s.Height.Fraction(16) != n.Size || s.Width != s.Height) {
				continue
			}
			draw := func(k measure.Key, l measure.Length) {
				// A size told as a trade size says no more than that: it is not counted twice.
				if e := w.estimate(k); e.Known() && e.Sigma.MM() < 0.9*measure.TradeSigma {
					more = append(more, input{on: oneLength(k, 1), scale: 1, y: float64(l), sigma: measure.TradeSigma, source: "trade size", text: n.Size, soft: true})
				}
			}
			draw("height", s.Height)
			draw("open_width", s.Width)
		}
		if w2, c2, err := combineWithin(photos, more); err == nil {
			w, c = w2, c2
		}
	}
	fill(&best, w, photos)
	best.ChiSquare, best.Freedom = c.chiSquare, c.freedom
	best.Trace = append(append(best.Trace, c.traces...), aside...)
	best.Trace = append(best.Trace, r.unused()...)
	return best
}

// yield takes from the photos what contradicts readings that the counter believes as typed, and traces it as
// set aside.
func (r *reconciler) yield(photos []*witness) (left []*witness, given []measure.Trace) {
	drop := map[measure.Key]bool{}
	for _, t := range r.typed {
		if !t.used || !r.pinned(t.Quantity) {
			continue
		}
		for _, p := range photos {
			m, v, ok := p.of(t.form.on)
			if d := float64(*t.Value) - t.form.scale*m; ok && math.Abs(d) > 3*math.Sqrt(t.form.scale*t.form.scale*v+t.form.sigma*t.form.sigma) {
				for _, k := range t.form.on.keys {
					drop[k] = true
				}
			}
		}
	}
	if len(drop) == 0 {
		return photos, nil
	}
	for _, p := range photos {
		var keep []measure.Key
		for _, k := range p.keys {
			if !drop[k] {
				keep = append(keep, k)
				continue
			}
			given = append(given, measure.Trace{Quantity: k, Source: fmt.Sprintf("photo %d", p.photo), Input: p.estimate(k)})
		}
		if len(keep) > 0 {
			left = append(left, p.only(keep))
		}
	}
	return left, given
}

// only is the photo's word on some of its lengths.
func (w *witness) only(keys []measure.Key) *witness {
	c := *w
	t := mat.NewDense(len(keys), len(w.keys), nil)
	for i, k := range keys {
		t.Set(i, w.at[k], 1)
	}
	c.transform(keys, t)
	return &c
}

// unused traces the photos that nothing is taken from.
func (r *reconciler) unused() (all []measure.Trace) {
	for _, o := range r.others {
		for _, k := range o.keys {
			all = append(all, measure.Trace{Quantity: k, Source: fmt.Sprintf("photo %d", o.photo), Input: o.estimate(k)})
		}
	}
	return all
}

func (t typedReading) asideTrace() measure.Trace {
	return measure.Trace{Quantity: measure.Key(t.Quantity), Source: "typed", Text: typedText(t.Reading), Input: measure.Estimate{Value: *t.Value, Sigma: t.U}}
}

// rescaled is the photo's word with another reference: what lies along the hinge's height
// takes one scale, what lies across the other.
func (w *witness) rescaled(s *scaleSlip) *witness {
	if s == nil {
		s = &scaleSlip{h: 1, w: 1}
	}
	c := *w
	t := mat.NewDense(len(w.keys), len(w.keys), nil)
	both := math.Sqrt(s.h * s.w)
	for i, k := range w.keys {
		f := both
		switch {
		case k == "height" || suffix(k, "from_end"):
			f = s.h
		case k == "open_width" || suffix(k, "leaf_width") || suffix(k, "from_edge") || k == "barrel_diameter":
			f = s.w
		}
		t.Set(i, i, f)
	}
	c.transform(slices.Clone(w.keys), t)
	return &c
}

func suffix(k measure.Key, end string) bool {
	return len(k) > len(end) && string(k[len(k)-len(end):]) == end
}

// fill writes the reconciled lengths into b: into the reference photo's hinge where there is
// one, else into a hinge of two leaves of which no more is known.
func fill(b *measure.Best, w *witness, photos []*witness) {
	if len(photos) > 0 {
		b.Hinge = cloneHinge(*photos[0].hinge)
	} else {
		b.Bearing = measure.BearingUnknown
		b.Leaves = []measure.Leaf{{Holes: []measure.Hole{}, OutlinePx: []measure.Pixel{}}, {Holes: []measure.Hole{}, OutlinePx: []measure.Pixel{}}}
		// What was typed of corners was typed of all of them.
		if i, ok := w.at[measure.LeafKey(0, "corner_radius")]; ok {
			w.add(measure.LeafKey(1, "corner_radius"), oneLength(w.keys[i], 1), 0.05)
		}
	}
	b.Hinge.Lengths(func(k measure.Key, e *measure.Estimate) {
		if x := w.estimate(k); x.Known() {
			*e = x
		}
	})
	b.Thickness = w.estimate("thickness")
	if len(photos) == 0 {
		for i := range b.Leaves {
			b.Leaves[i].Corners = cornersOf(b.Leaves[i].CornerRadius)
		}
	}
	cov := &measure.Covariance{Keys: slices.Clone(w.keys)}
	for i := range w.keys {
		line := make([]float64, len(w.keys))
		for j := range w.keys {
			line[j] = w.cov.At(i, j)
		}
		cov.MM2 = append(cov.MM2, line)
	}
	b.Covariance = cov
}

func cloneHinge(h measure.Hinge) measure.Hinge {
	h.Leaves = slices.Clone(h.Leaves)
	for i := range h.Leaves {
		h.Leaves[i].Holes = slices.Clone(h.Leaves[i].Holes)
		if h.Leaves[i].Holes == nil {
			h.Leaves[i].Holes = []measure.Hole{}
		}
	}
	return h
}

// cornersOf classes a radius that was typed.
func cornersOf(r measure.Estimate) measure.Corners {
	switch {
	case !r.Known():
		return measure.CornersNotDecidable
	case r.Value < 1.5:
		return measure.CornersSquare
	case math.Abs(float64(r.Value)-6.35) < 1.6:
		return measure.CornersQuarter
	case math.Abs(float64(r.Value)-15.875) < 2.5:
		return measure.CornersFiveEighths
	}
	return measure.CornersOther
}
