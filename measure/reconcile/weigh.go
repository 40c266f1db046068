package reconcile

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
)

// component is a weighted normal distribution of two lengths.
type component struct {
	m    [2]float64
	p    [3]float64 // variances and covariance: 00, 01, 11
	logw float64
}

// observe updates g by y = a·x + b with variance r and takes the likelihood into its weight.
func (g *component) observe(a [2]float64, b, y, r float64) {
	pa0 := g.p[0]*a[0] + g.p[1]*a[1]
	pa1 := g.p[1]*a[0] + g.p[2]*a[1]
	s := a[0]*pa0 + a[1]*pa1 + r
	d := y - b - a[0]*g.m[0] - a[1]*g.m[1]
	g.logw -= 0.5 * (math.Log(2*math.Pi*s) + d*d/s)
	k0, k1 := pa0/s, pa1/s
	g.m[0] += k0 * d
	g.m[1] += k1 * d
	g.p[0] -= k0 * pa0
	g.p[1] -= k0 * pa1
	g.p[2] -= k1 * pa1
}

// slipBlock weighs the explanations of readings that hang together.
type slipBlock struct {
	keys  [2]measure.Key // what the gaussians are of; the second may be ""
	prior []component
	typed []measure.Reading
	forms [][]slipForm // of each reading; the first is "as typed"
	pairs [][2]int     // of a height and a width, which may be swapped
}

// A slipChoice is one joint explanation: the form of each reading.
type slipChoice struct {
	forms []int
	logp  float64
}

// maxSlips is how many readings of one block may be wrong at once.
const maxSlips = 2

// weigh returns every joint explanation with at most slips slips (one or maxSlips), with its
// logarithmic weight (prior and likelihood).
func (b *slipBlock) weigh(slips int) []slipChoice {
	n := len(b.typed)
	var out []slipChoice
	cur := make([]int, n)
	try := func(extra float64) {
		logp := extra + b.likelihood(cur)
		out = append(out, slipChoice{slices.Clone(cur), logp})
	}
	try(0)
	for i := range n {
		for f := 1; f < len(b.forms[i]); f++ {
			cur[i] = f
			pf := math.Log(b.forms[i][f].prior)
			try(pf)
			for j := i + 1; j < n && slips > 1; j++ {
				for g := 1; g < len(b.forms[j]); g++ {
					cur[j] = g
					prior := pf + math.Log(b.forms[j][g].prior)
					if b.swap(i, j) && b.forms[i][f].name == measure.SlipSwapped && b.forms[j][g].name == measure.SlipSwapped {
						prior = math.Log(slipPriors[measure.SlipSwapped])
					}
					try(prior)
				}
				cur[j] = 0
			}
		}
		cur[i] = 0
	}
	return out
}

func (b *slipBlock) swap(i, j int) bool {
	return slices.Contains(b.pairs, [2]int{i, j}) || slices.Contains(b.pairs, [2]int{j, i})
}

// likelihood of the readings under one joint explanation.
func (b *slipBlock) likelihood(forms []int) float64 {
	spread := 0.0
	for i, f := range forms {
		if b.forms[i][f].spread {
			spread += math.Log(spreadDensity(float64(*b.typed[i].Value)))
		}
	}
	best := math.Inf(-1)
	var logs [64]float64
	list := logs[:0]
	for _, g := range b.prior {
		for i, f := range forms {
			form := &b.forms[i][f]
			if form.spread {
				continue
			}
			g.observe(b.row(form), form.scale*form.on.add, float64(*b.typed[i].Value), form.sigma*form.sigma)
		}
		list = append(list, g.logw)
		best = max(best, g.logw)
	}
	sum := 0.0
	for _, l := range list {
		sum += math.Exp(l - best)
	}
	return spread + best + math.Log(sum)
}

func (b *slipBlock) row(f *slipForm) (a [2]float64) {
	for i, k := range f.on.keys {
		switch k {
		case b.keys[0]:
			a[0] += f.scale * f.on.coef[i]
		case b.keys[1]:
			a[1] += f.scale * f.on.coef[i]
		}
	}
	return a
}

// slipVerdict is what was found of one reading.
type slipVerdict struct {
	form slipForm
	odds float64 // of its name against the next best name
	none float64 // of its name against "as typed"
}

// verdicts sums the explanations into one slipVerdict a reading: the likeliest name, in its
// likeliest form. all holds the choices of every hypothesis of the whole inquiry.
func (b *slipBlock) verdicts(all []slipChoice) []slipVerdict {
	top := slices.MaxFunc(all, func(x, y slipChoice) int { return cmp.Compare(x.logp, y.logp) }).logp
	out := make([]slipVerdict, len(b.typed))
	for i := range b.typed {
		p := make([]float64, len(b.forms[i]))
		for _, c := range all {
			p[c.forms[i]] += math.Exp(c.logp - top)
		}
		byName := map[string]float64{}
		likeliest := map[string]int{}
		for f, v := range p {
			name := b.forms[i][f].name
			if j, ok := likeliest[name]; !ok || v > p[j] {
				likeliest[name] = f
			}
			byName[name] += v
		}
		first, second := slipNone, 0.0
		names := make([]string, 0, len(byName))
		for name := range byName {
			names = append(names, name)
		}
		slices.Sort(names) // the same answer every time
		for _, name := range names {
			if byName[name] > byName[first] {
				first = name
			}
		}
		for _, name := range names {
			if name != first {
				second = max(second, byName[name])
			}
		}
		const least = 1e-9 // odds are not told beyond a thousand million to one
		out[i] = slipVerdict{
			form: b.forms[i][likeliest[first]],
			odds: byName[first] / max(second, least*byName[first]),
			none: byName[first] / max(byName[slipNone], least*byName[first]),
		}
	}
	return out
}

// totalWeight is the logarithm of the summed weights.
func totalWeight(list []slipChoice) float64 {
	top := math.Inf(-1)
	for _, c := range list {
		top = max(top, c.logp)
	}
	sum := 0.0
	for _, c := range list {
		sum += math.Exp(c.logp - top)
	}
	return top + math.Log(sum)
}

// sizePrior is the distribution of height and open width before photo and readings.
func sizePrior() []component {
	var list []component
	v := measure.TradeSigma * measure.TradeSigma
	for _, s := range measure.TradeSizes {
		list = append(list, component{m: [2]float64{float64(s.Height), float64(s.Width)}, p: [3]float64{v, 0, v}, logw: math.Log(s.Share)})
	}
	const mid, half = (measure.OddHigh + measure.OddLow) / 2, (measure.OddHigh - measure.OddLow) / 2
	odd := half * half / 3
	return append(list, component{m: [2]float64{mid, mid}, p: [3]float64{odd, 0, odd}, logw: math.Log(measure.OddShare)})
}

// photoSize is a photo's word on height and open width, either of which may be missing.
type photoSize struct {
	height, width measure.Estimate
	cov           float64
}

// scaled is s as it would be with another reference.
func (s photoSize) scaled(h, w float64) photoSize {
	s.height = measure.Estimate{Value: s.height.Value * measure.Length(h), Sigma: s.height.Sigma * measure.Length(h)}
	s.width = measure.Estimate{Value: s.width.Value * measure.Length(w), Sigma: s.width.Sigma * measure.Length(w)}
	s.cov *= h * w
	return s
}

// take updates every component by s, and drops those that it rules out.
func (s photoSize) take(list []component) []component {
	out := make([]component, 0, len(list))
	best := math.Inf(-1)
	for _, g := range list {
		vh := float64(s.height.Sigma * s.height.Sigma)
		vw := float64(s.width.Sigma * s.width.Sigma)
		switch {
		case s.height.Known() && s.width.Known():
			rho := s.cov / vh
			g.observe([2]float64{1, 0}, 0, float64(s.height.Value), vh)
			g.observe([2]float64{-rho, 1}, 0, float64(s.width.Value)-rho*float64(s.height.Value), max(vw-s.cov*rho, vw*1e-3))
		case s.height.Known():
			g.observe([2]float64{1, 0}, 0, float64(s.height.Value), vh)
		case s.width.Known():
			g.observe([2]float64{0, 1}, 0, float64(s.width.Value), vw)
		}
		best = max(best, g.logw)
		out = append(out, g)
	}
	const negligible = 20 // e⁻²⁰
	return slices.DeleteFunc(out, func(g component) bool { return g.logw < best-negligible })
}

// thicknessPrior is the distribution of leaf thickness, where the height is distributed as in
// sizes.
func thicknessPrior(sizes []component) []component {
	top := math.Inf(-1)
	for _, g := range sizes {
		top = max(top, g.logw)
	}
	sum, weights := 0.0, map[float64]float64{} // by nominal height, in mm
	for _, g := range sizes {
		w := math.Exp(g.logw - top)
		h := math.Round(g.m[0]/12.7) * 12.7
		weights[h] += w
		sum += w
	}
	heights := make([]float64, 0, len(weights))
	for h := range weights {
		heights = append(heights, h)
	}
	slices.Sort(heights)
	var list []component
	for _, h := range heights {
		rest := 1.0
		for _, t := range measure.LeafGauges(measure.Length(h)) {
			rest -= t.Share
			list = append(list, component{m: [2]float64{float64(t.Value)}, p: [3]float64{float64(t.Sigma * t.Sigma), 0, 1}, logw: math.Log(t.Share * weights[h] / sum)})
		}
		list = append(list, component{m: [2]float64{measure.OddThicknessMean}, p: [3]float64{measure.OddThicknessSigma * measure.OddThicknessSigma, 0, 1}, logw: math.Log(rest * weights[h] / sum)})
	}
	return list
}
