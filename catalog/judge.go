package catalog

import (
	"math"
	"math/rand/v2"

	"leafgauge/measure"
)

// A placement is one way of putting a new hinge where the old one was, face up. Turning it
// end for end brings the other end of the pattern up; exchanging the leaves puts the list's
// second leaf where the first was, which only matters where their corners differ.
type placement struct{ turned, exchanged bool }

func (p placement) String() string {
	switch {
	case p.turned && p.exchanged:
		return "end for end, leaves exchanged"
	case p.turned:
		return "end for end"
	case p.exchanged:
		return "leaves exchanged"
	}
	return "as it was"
}

// placements of a hinge: exchanged ones only where the leaves differ, turned ones only where
// the pattern is not symmetric.
func (g *geometry) placements() []placement {
	out := []placement{{}}
	if !g.symmetric {
		out = append(out, placement{turned: true})
	}
	if g.radius[0] != g.radius[1] {
		for _, p := range out[:len(out):len(out)] {
			out = append(out, placement{p.turned, true})
		}
	}
	return out
}

// geometry is what of a stock hinge decides how it sits, in bare millimetres.
type geometry struct {
	height, leaf, thick, tol float64
	radius                   [2]float64
	x, y                     []float64 // holes: from edge, from end
	holeSigma                float64
	holeDia                  float64
	symmetric                bool
	suits                    bool // a full mortise hinge
}

func newGeometry(i *Item, g *geometry) {
	g.height, g.leaf, g.thick, g.tol = i.Height.MM(), i.OpenWidth.MM()/2, i.Thickness.MM(), i.Tolerance.MM()
	g.radius = [2]float64{i.Radius[0].MM(), i.Radius[1].MM()}
	g.x, g.y = g.x[:0], g.y[:0]
	for _, h := range i.Holes {
		g.x, g.y = append(g.x, h.FromEdge.MM()), append(g.y, h.FromEnd.MM())
	}
	g.holeSigma = math.Hypot(newHoleSigma.MM(), i.HoleU.MM())
	g.holeDia = i.HoleDia.MM()
	if g.holeDia == 0 {
		g.holeDia = 5 // of a #9 screw: common practice, no source
	}
	g.suits = i.Mortise == "" || i.Mortise == "full mortise"
	g.symmetric = true
	n := len(g.x)
	for k := range g.x {
		if math.Abs(g.x[k]-g.x[n-1-k]) > 0.01 || math.Abs(g.y[k]+g.y[n-1-k]-g.height) > 0.01 {
			g.symmetric = false
		}
	}
}

const (
	maxHoles = 8                     // on one leaf; more are not judged one by one
	devFixed = 5                     // height, width, thickness, radius ×2
	devHoles = devFixed              // then two for each hole of each leaf
	devCoins = devFixed + 4*maxHoles // then uniform ones for what is not known
	devSize  = devCoins + 4
)

// deviates are how the new hinge differs from its list in each sample, in units of its
// spread. One table serves all stock hinges.
func deviates(n int) [][]float64 {
	rng := rand.New(rand.NewPCG(4, 1959))
	out := make([][]float64, n)
	back := make([]float64, n*devSize)
	for s := range out {
		d := back[s*devSize : (s+1)*devSize]
		d[0], d[1] = 2*rng.Float64()-1, 2*rng.Float64()-1
		for i := 2; i < devCoins; i++ {
			d[i] = rng.NormFloat64()
		}
		for i := devCoins; i < devSize; i++ {
			d[i] = rng.Float64()
		}
		out[s] = d
	}
	return out
}

// The kinds of outcome, in the order of the verdicts.
const (
	isDropIn = iota
	isNewHoles
	isWork
	isGap
	isUnsuited
	outcomes
)

var verdicts = [outcomes]Verdict{DropsIn, NewHoles, CutOutWork, LeavesGap, DoesNotSuit}

// What can be the matter with the outline; each has its own sentence.
const (
	tooTall = iota
	tooShort
	tooWide
	tooNarrow
	tooThick
	tooThin
	corner0Proud
	corner1Proud
	corner0Gap
	corner1Gap
	matters
)

// outcome is one sample's judgement.
type outcome struct {
	class  int
	cost   float64
	matter [matters]bool
	fate   [2][maxHoles]HoleFate // "" where the old leaf's holes are not known
	off    [2][maxHoles]float64
}

const diagonal = math.Sqrt2 - 1 // of a corner radius, what a square corner overlaps along the diagonal

// evaluate judges one old hinge x against one new hinge g with deviates d. match names the
// old hole nearest to each new one.
func (o *oldHinge) evaluate(g *geometry, p placement, match *[2][maxHoles]int, x, d []float64, out *outcome) {
	*out = outcome{}
	height := g.height + g.tol*d[0]
	leaf := g.leaf + g.tol/2*d[1]
	dH := height - x[atHeight]
	dT := 0.0
	if g.thick > 0 {
		dT = g.thick + newThickSigma.MM()*d[2] - x[atThick]
	}
	play := outlinePlay.MM()
	far := math.Abs(dH) > suitsOutline.MM() || math.Abs(dT) > suitsThickness.MM() || !g.suits
	m := &out.matter
	m[tooTall], m[tooShort] = dH > play, dH < -play
	m[tooThick], m[tooThin] = dT > depthPlay.MM(), dT < -depthPlay.MM()
	if !o.knowWidth && d[devCoins] > pWidthUnknown {
		m[tooWide] = true
	}
	for l := range 2 {
		if o.knowWidth {
			dW := leaf - x[atWidth+l]
			far = far || math.Abs(dW) > suitsOutline.MM()/2
			m[tooWide] = m[tooWide] || dW > play
			m[tooNarrow] = m[tooNarrow] || dW < -play
		}
		r := g.radius[l]
		if p.exchanged {
			r = g.radius[1-l]
		}
		if r > 0 {
			r += newRadiusSigma.MM() * d[3+l]
		}
		dr := diagonal * (r - x[atRadius+l])
		switch {
		case !o.knowCorner[l] && (l == 0 || !o.knowCorner[0]):
			m[corner0Proud+l] = d[devCoins+1] > pCornersUnknown
		case !o.knowCorner[l] && d[devCoins+2] > o.pOtherLike:
			m[corner0Proud+l] = true
		default:
			m[corner0Proud+l] = dr < -cornerPlay.MM()
			m[corner0Gap+l] = dr > cornerPlay.MM()
		}
	}

	cost := 0.0
	if m[tooTall] {
		cost += costLengthen + dH
	}
	if m[tooWide] {
		cost += 2 * costWiden
	}
	if m[tooShort] {
		cost += costFillGap - dH
	}
	if m[tooNarrow] {
		cost += 2 * costFillGap
	}
	if m[tooThick] {
		cost += 2 * (costDeepen + costDeepenMM*dT)
	}
	if m[tooThin] {
		cost += 2 * (costShim - costShimMM*dT)
	}
	for l := range 2 {
		if m[corner0Proud+l] {
			cost += 2 * costChisel
		}
		if m[corner0Gap+l] {
			cost += 2 * costCornerGap
		}
	}

	landed := o.evaluateHoles(g, p, match, x, d, height, out)
	cost += out.cost
	switch {
	case far:
		out.class = isUnsuited
		cost += costUnsuited
	case m[tooShort] || m[tooNarrow] || m[tooThin] || m[corner0Gap] || m[corner1Gap]:
		out.class = isGap
	case m[tooTall] || m[tooWide] || m[tooThick] || m[corner0Proud] || m[corner1Proud]:
		out.class = isWork
	case !landed:
		out.class = isNewHoles
	}
	out.cost = cost
}

// evaluateHoles fills in fates and distances, and the cost of the holes. It reports whether
// every new hole lands.
func (o *oldHinge) evaluateHoles(g *geometry, p placement, match *[2][maxHoles]int, x, d []float64, height float64, out *outcome) (landed bool) {
	n := min(len(g.x), maxHoles)
	if n == 0 {
		out.cost = 3 * (costPlugHole + costFreshHole)
		return false
	}
	if o.holesUnknown {
		if d[devCoins+3] <= pHolesUnknown {
			return true
		}
		out.cost = float64(2*n) * costFreshHole
		return false
	}
	centre := (x[atHeight] - height) / 2
	var dx, dy [2][maxHoles]float64
	sum, count := 0.0, 0.0
	for l := range 2 {
		if o.holes[l] == 0 {
			continue
		}
		for k := range n {
			y := g.y[k]
			if p.turned {
				y = height - y
			}
			dev := devHoles + 2*(l*maxHoles+k)
			at := o.at[l] + 2*match[l][k]
			dx[l][k] = g.x[k] + g.holeSigma*d[dev] - x[at]
			dy[l][k] = y + centre + g.holeSigma*d[dev+1] - x[at+1]
			if math.Abs(dy[l][k]) < 2*landing.MM() {
				sum, count = sum+dy[l][k], count+1
			}
		}
	}
	if count > 0 { // slide the leaf along its cut-out to where the holes agree best
		allow := alongPlay.MM() + math.Abs(centre)
		s := max(-allow, min(allow, sum/count))
		for l := range 2 {
			for k := range n {
				dy[l][k] -= s
			}
		}
	}
	landed = true
	clear := g.holeDia + 1
	for l := range 2 {
		if o.holes[l] == 0 {
			continue
		}
		for k := range n {
			off := math.Hypot(dx[l][k], dy[l][k])
			out.off[l][k] = off
			switch {
			case off <= landing.MM():
				out.fate[l][k] = HoleLands
				out.cost += costPerMM * off
			case off < clear:
				out.fate[l][k] = HoleHalf
				out.cost += costPlugHole + costFreshHole
				landed = false
			default:
				out.fate[l][k] = HoleClear
				out.cost += costFreshHole
				landed = false
			}
		}
	}
	return landed
}

// matchHoles finds the old hole nearest to each new one.
func (o *oldHinge) matchHoles(g *geometry, p placement, match *[2][maxHoles]int) {
	centre := (o.mean[atHeight] - g.height) / 2
	for l := range 2 {
		for k := range min(len(g.x), maxHoles) {
			y := g.y[k]
			if p.turned {
				y = g.height - y
			}
			best := math.Inf(1)
			for h := range o.holes[l] {
				at := o.at[l] + 2*h
				dx, dy := g.x[k]-o.mean[at], y+centre-o.mean[at+1]
				if d := dx*dx + dy*dy; d < best {
					best, match[l][k] = d, h
				}
			}
		}
	}
}

var noDeviates = func() []float64 {
	d := make([]float64, devSize)
	for i := devCoins; i < devSize; i++ {
		d[i] = 0.5
	}
	return d
}()

// outlineBound is the cost of a hinge of quite another size or kind; ok is true where it is
// near enough for bound to look at its holes. Most of a shelf is of another size.
func (o *oldHinge) outlineBound(i *Item) (cost float64, ok bool) {
	h, w := math.Abs(i.Height.MM()-o.mean[atHeight]), 0.0
	if o.knowWidth {
		w = math.Abs(i.OpenWidth.MM()/2 - o.mean[atWidth])
	}
	ok = h <= suitsOutline.MM()+2 && w <= suitsOutline.MM()/2+2 && (i.Mortise == "" || i.Mortise == "full mortise")
	return costUnsuited + h + w, ok
}

// bound judges g once, at the likeliest values, and returns the best placement's cost and whether
// it drops in there.
func (o *oldHinge) bound(g *geometry) (cost float64, drops bool) {
	var out outcome
	var match [2][maxHoles]int
	cost = math.Inf(1)
	turns, swaps := 2, 1
	if g.symmetric {
		turns = 1
	}
	if g.radius[0] != g.radius[1] {
		swaps = 2
	}
	for t := range turns {
		o.matchHoles(g, placement{turned: t == 1}, &match)
		for s := range swaps {
			o.evaluate(g, placement{t == 1, s == 1}, &match, o.mean, noDeviates, &out)
			if out.cost < cost {
				cost, drops = out.cost, out.class == isDropIn
			}
		}
	}
	return cost, drops
}

// judgement is a stock hinge's geometry judged over all samples, in its best placement.
type judgement struct {
	placement placement
	match     [2][maxHoles]int
	p         [outcomes]float64
	matter    [matters]float64
	fates     [2][maxHoles]map[HoleFate]float64
	off       [2][maxHoles]float64 // mean
	cost      float64
	mean      outcome // at the likeliest values
}

// judge judges g over all samples, in every placement, and keeps the best.
func (o *oldHinge) judge(g *geometry, devs [][]float64) judgement {
	best := judgement{cost: math.Inf(1)}
	cheapest := math.Inf(1)
	type try struct {
		p     placement
		match [2][maxHoles]int
		mean  outcome
	}
	var tries []try
	for _, p := range g.placements() {
		t := try{p: p}
		o.matchHoles(g, p, &t.match)
		o.evaluate(g, p, &t.match, o.mean, noDeviates, &t.mean)
		cheapest = min(cheapest, t.mean.cost)
		tries = append(tries, t)
	}
	var out outcome
	for _, t := range tries {
		if t.mean.cost > cheapest+2*costPlugHole {
			continue // cannot win: more than the doubt about two holes behind
		}
		j := judgement{placement: t.p, match: t.match, mean: t.mean}
		var land, half, clear [2][maxHoles]int
		w := 1 / float64(len(devs))
		for s, d := range devs {
			o.evaluate(g, t.p, &t.match, o.draws[s], d, &out)
			j.p[out.class] += w
			j.cost += w * out.cost
			for i, is := range out.matter {
				if is {
					j.matter[i] += w
				}
			}
			for l := range 2 {
				for k := range min(len(g.x), maxHoles) {
					switch out.fate[l][k] {
					case HoleLands:
						land[l][k]++
					case HoleHalf:
						half[l][k]++
					case HoleClear:
						clear[l][k]++
					}
					j.off[l][k] += w * out.off[l][k]
				}
			}
		}
		for l := range 2 {
			for k := range min(len(g.x), maxHoles) {
				j.fates[l][k] = map[HoleFate]float64{HoleLands: w * float64(land[l][k]), HoleHalf: w * float64(half[l][k]), HoleClear: w * float64(clear[l][k])}
			}
		}
		if j.cost < best.cost {
			best = j
		}
	}
	return best
}

// verdict is the likeliest outcome and its probability.
func (j *judgement) verdict() (Verdict, float64) {
	best := 0
	for i, p := range j.p {
		if p > j.p[best] {
			best = i
		}
	}
	return verdicts[best], j.p[best]
}

// length is a bare number of millimetres as a Length.
func length(mm float64) measure.Length { return measure.Length(mm) }
