package hole

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// Find finds and measures every screw hole of each leaf, in order of fromEnd. The
// camera is taken as known, the faces as known to about a millimetre; uncertainties hold for
// the given camera and faces.
//
// One hinge takes one size of screw, so that the size seen best over all holes says where to
// look for the rim and the bore of each; and a leaf's pattern usually repeats end for end and
// on the other leaf, so that a hole is looked for at the places that mirror those found. What
// is reported of each hole is its own measurement.
func Find(f *picture.Frame, cam *geom.Camera, faces []geom.Face) [][]Fit {
	views := make([]*faceView, len(faces))
	rims, bores := make([][]holeSeen, len(faces)), make([][]holeSeen, len(faces))
	for i, face := range faces {
		w := newFaceView(f, cam, face)
		views[i] = w
		m := w.newFaceMap()
		if m == nil {
			continue
		}
		for _, p := range w.centres(m) {
			if c := w.inspect(m, p); c.rimSeen >= seenFew && c.boreSeen >= seenFew && c.rimSeen+c.boreSeen >= seenBoth {
				rims[i] = append(rims[i], w.settleRim(c.holeShape, 0.4))
				u, v, k := w.thrown(c.u, c.v, c.depth)
				bores[i] = append(bores[i], holeSeen{holeShape: holeShape{u: u, v: v, rim: c.bore * k}, rimSeen: c.boreSeen})
			}
		}
	}
	found, rim := chooseHoles(views, rims)
	if n := count(found); slices.ContainsFunc(found, func(leaf []holeSeen) bool { return len(leaf) < 3 || len(leaf)*len(found) != n }) {
		// Hinges have three holes a leaf or more, and as many on either. Where rims are hardly seen
		// the bores may show where they are.
		for i, w := range views {
			for j, c := range rims[i] {
				b := bores[i][j]
				if c.rimSeen < seenMirrored && b.rimSeen > c.rimSeen {
					if b = w.settleRim(b.holeShape, 0.3); b.rimSeen > c.rimSeen {
						rims[i][j] = b
					}
				}
			}
		}
		if more, r := chooseHoles(views, rims); count(more) > n {
			found, rim = more, r
		}
	}
	settleBores(views, found, rim)
	for i, w := range views {
		slices.SortFunc(found[i], func(a, b holeSeen) int { return cmp.Compare(a.v, b.v) })
		for j, c := range found[i] {
			found[i][j] = w.refine(c.holeShape)
		}
	}
	focusOn(views, found)
	for i, w := range views {
		for j := range found[i] {
			w.measureBore(&found[i][j])
		}
	}
	return holdToTool(views, found)
}

// count is how many there are on all leaves.
func count(holes [][]holeSeen) (n int) {
	for _, leaf := range holes {
		n += len(leaf)
	}
	return n
}

// chooseHoles tells holes from what only looks like one, by the rim that most candidates have,
// whose radius it returns. It leaves the candidates as they are.
func chooseHoles(views []*faceView, candidates [][]holeSeen) (found [][]holeSeen, rim float64) {
	found = make([][]holeSeen, len(views))
	cands := make([][]holeSeen, len(views))
	for i := range cands {
		cands[i] = slices.Clone(candidates[i])
	}
	rim = commonRim(cands)
	if rim == 0 {
		return found, 0
	}
	if outer := rimAround(views, cands, rim); outer > 0 {
		for i, w := range views {
			for j, c := range cands[i] {
				if math.Abs(c.rim-rim) < 0.3 {
					cands[i][j] = w.settleRim(w.around(c.holeShape, outer), 0.3)
				}
			}
		}
		rim = commonRim(cands)
	}
	if rim < rimMin/2 { // bores, whose rims are not seen
		return found, rim
	}
	for i, w := range views {
		for j, c := range cands[i] {
			if math.Abs(c.rim-rim) > 0.15 {
				c.rim = rim
				cands[i][j] = w.settleRim(c.holeShape, 0.2)
			}
		}
	}
	bore := lookForBores(views, cands, rim)
	doubtful := make([][]holeSeen, len(views))
	for i := range views {
		for _, c := range cands[i] {
			switch {
			case c.rimSeen >= seenAlone, c.rimSeen >= seenHalf && c.rimSeen+c.boreSeen >= seenTogether:
				found[i] = append(found[i], c)
			case c.rimSeen >= seenHalf:
				doubtful[i] = append(doubtful[i], c)
			}
		}
		found[i] = apart(found[i])
	}
	for i := range views {
		for _, c := range doubtful[i] {
			if mirrors(views, doubtful, i, c) {
				found[i] = apart(append(found[i], c))
			}
		}
	}
	for i, w := range views {
		for _, p := range mirrored(views, found, i) {
			c := w.settleRim(holeShape{u: p.u, v: p.v, rim: rim}, 0.2)
			for _, d := range doubtful[i] {
				if math.Hypot(d.u-p.u, d.v-p.v) < rim && d.rimSeen > c.rimSeen {
					c = d
				}
			}
			if c.boreSeen == 0 {
				c.boreSeen = w.boreProfile(c.holeShape, bore-0.2).seen(bore)
			}
			// A countersink in a dark finish may hardly show round a bore that is plain to see.
			if c.rimSeen >= seenMirrored || c.rimSeen >= seenHalf && c.rimSeen+c.boreSeen >= seenTogether || c.boreSeen >= seenAlone {
				found[i] = apart(append(found[i], c))
			}
		}
	}
	return found, rim
}

// Shares of a circle that must show an edge: seenFew for a candidate on the coarse map,
// seenAlone for a rim, seenHalf for a rim round a bore that is seen or with its images, seenMirrored for
// one that mirrors a hole already found. Circles laid by chance through rust or along a
// reflection show one over a third to three quarters of their length.
const (
	seenFew      = 0.35
	seenBoth     = 1.0 // rim and bore together, on the coarse map
	seenHalf     = 0.5
	seenTogether = 1.45 // rim and bore: one as if alone, the other well over what chance gives
	seenMirrored = 0.6
	seenAlone    = 0.82
)

// commonRim is the rim radius that most of what is seen agrees on, to about 7 %; 0 for none.
func commonRim(cands [][]holeSeen) float64 {
	var best, most float64
	for _, leaf := range cands {
		for _, c := range leaf {
			var sum, weight float64
			for _, other := range cands {
				for _, o := range other {
					if math.Abs(o.rim-c.rim) < 0.3 {
						t := o.rimSeen * o.rimSeen * o.rimSeen * o.rimSeen
						sum, weight = sum+t*o.rim, weight+t
					}
				}
			}
			if weight > most {
				best, most = sum/weight, weight
			}
		}
	}
	return best
}

// Between the greatest bore and the least rim of hinge screws (see boreMax) stands a diameter of
// sizeBetween mm, give or take sizeDoubt.
const sizeBetween, sizeDoubt = 6.9, 0.25

// rimAround tells whether the circles of radius r that most holes show are their bores, and if
// so the radius of the rims round them; else 0. A rim has a bore inside of it, a bore has a rim
// outside, both about the one axis and of one size in all holes, where the texture of what is
// seen through a bore is not. The better seen of the two decides, and the sizes of screws.
func rimAround(views []*faceView, cands [][]holeSeen, r float64) float64 {
	const step = 0.05
	inner := make([]float64, 0, 64)
	outer := make([]float64, 0, 64)
	add := func(sums []float64, k int, x float64) []float64 {
		for len(sums) <= k {
			sums = append(sums, 0)
		}
		sums[k] += x
		return sums
	}
	n := 0
	widest := math.Min(rimMax/2, r+(thickest(views)+2*thicknessDoubt)*countersinkTan)
	for i, w := range views {
		for _, c := range cands[i] {
			if math.Abs(c.rim-r) >= 0.3 {
				continue
			}
			n++
			width := math.Max(0.35, 2/w.scale(c.u, c.v))
			far := w.around(c.holeShape, widest)
			g := w.ring(c.u, c.v, 0.3, widest+math.Hypot(far.u-c.u, far.v-c.v)+width, coarse)
			e := g.gains(width)
			k := 0
			for b := boreMin / 2; b <= c.rim-coneMin; b += step {
				u, v, s := w.thrown(c.u, c.v, (c.rim-b)/countersinkTan)
				inner = add(inner, k, g.sum(e, u, v, b*s))
				k++
			}
			k = 0
			for q := r + coneMin; q <= widest; q += step {
				h := w.around(c.holeShape, q)
				outer = add(outer, k, g.sum(e, h.u, h.v, q))
				k++
			}
		}
	}
	in, _ := prominence(inner, n)
	out, at := prominence(outer, n)
	if at == 0 || out-in+math.Max(-6, math.Min(6, (sizeBetween-2*r)/sizeDoubt)) <= 0 {
		return 0
	}
	return r + coneMin + float64(at)*step
}

// around is the hole with a rim of a radius whose bore shows as the circle h.rim about h.u, h.v.
func (w *faceView) around(h holeShape, rim float64) holeShape {
	depth := (rim - h.rim) / countersinkTan
	s := w.eh / (w.eh + depth)
	return holeShape{u: w.eu + (h.u-w.eu)/s, v: w.ev + (h.v-w.ev)/s, rim: rim, bore: h.rim / s, depth: depth}
}

// sum is the sum of gains over the sectors of a circle.
func (g *ring) sum(gain []float64, u, v, r float64) (sum float64) {
	for s := range ringSectors {
		i := int((circleAt(u-g.cu, v-g.cv, r, sectorSin[s], sectorCos[s])-g.r0)/g.dr + 0.5)
		if i >= 1 && i < g.n-1 {
			sum += max(gain[s*g.n+i-1], gain[s*g.n+i], gain[s*g.n+i+1])
		}
	}
	return sum
}

// prominence is how far the greatest of the sums over n circles stands out from the median, and
// which it is: in standard deviations, as sectors' gains have one of about 1 and hang together
// over some three where the ground is textured.
func prominence(sums []float64, n int) (z float64, at int) {
	if len(sums) == 0 {
		return 0, 0
	}
	for k := 1; k+1 < len(sums); k++ { // at an end it may be the flank of another edge
		if sums[k] >= sums[k-1] && sums[k] >= sums[k+1] && (at == 0 || sums[k] > sums[at]) {
			at = k
		}
	}
	if at == 0 {
		return 0, 0
	}
	return (sums[at] - geom.Median(slices.Clone(sums))) / math.Sqrt(3*ringSectors*float64(n)), at
}

// leastApart is how far apart two holes of a leaf are at the least, of their countersinks' sizes: screws
// nearer to each other split the wood (common practice, no source).
const leastApart = 1.4

// Near is how near to its image, mm, a hole is one.
const Near = 1.0

// apart drops the less well seen of holes that lie too near to each other.
func apart(holes []holeSeen) []holeSeen {
	slices.SortStableFunc(holes, func(a, b holeSeen) int { return cmp.Compare(b.rimSeen, a.rimSeen) })
	var kept []holeSeen
	for _, h := range holes {
		if !slices.ContainsFunc(kept, func(k holeSeen) bool { return math.Hypot(h.u-k.u, h.v-k.v) < leastApart*(h.rim+k.rim) }) {
			kept = append(kept, h)
		}
	}
	return kept
}

// mirrors reports whether h on leaf i has two images at least among all: end for end, on the other leaf, and
// there end for end. Circles of one size so placed are holes, though none of them be sure alone: with ten
// more by chance on a leaf of 80 × 40 mm one lies so near to a given place once in 400 times.
func mirrors(views []*faceView, all [][]holeSeen, i int, h holeSeen) bool {
	const near = Near / 2
	images := 0
	for j := range all {
		for _, v := range [2]float64{h.v, views[i].face.Height - h.v} {
			at := func(o holeSeen) bool {
				return math.Abs(h.u-o.u) < near && math.Abs(v-o.v) < near && (j != i || math.Abs(h.v-o.v) > h.rim)
			}
			if slices.ContainsFunc(all[j], at) {
				images++
			}
		}
	}
	return images >= 2
}

// mirrored lists the places on leaf i where the holes found would be mirrored, end for end
// or from the other leaf, and where none has been found.
func mirrored(views []*faceView, found [][]holeSeen, i int) (places []voted) {
	for j := range found {
		for _, h := range found[j] {
			for _, v := range [2]float64{h.v, views[i].face.Height - h.v} {
				near := func(k holeSeen) bool { return math.Hypot(h.u-k.u, v-k.v) < h.rim+k.rim }
				if !slices.ContainsFunc(found[i], near) {
					places = append(places, voted{u: h.u, v: v})
				}
			}
		}
	}
	return places
}

// boreOpen is the least evidence of an edge about an open bore. White paint on white paper
// still gives 0.54 in testdata/photos; a countersink painted flat gives 0.1 to 0.4.
const boreOpen = 0.45

// rimChoice and boreChoice are standard uncertainties of diameters, mm, for what is taken as
// the edge, of all holes alike; boreOwn that of each hole's own: of a bevel bevelWidth wide
// the middle is meant, give or take a sixteenth of it on either side; a bore's edge lies
// between its wall and a table in half shadow (pictures put all their bores off by 0.04 mm in the
// middle, few by 0.2 and more), and both may be of one brightness over a part
// of the edge.
const rimChoice, boreChoice, boreOwn = 0.012, 0.045, 0.03

// rimCoded and boreCoded are the same for how a picture was made where that is more, in terms of how far the sectors of its rims scatter: a phone smooths noise away and sharpens what is left,
// which moves edges of one kind one way, and leaves them ragged; where rims are clean, they are right. On
// pictures drawn like phones' rims were off by 0.7 of it, bores by 1.5.
const rimCoded, boreCoded = 0.75, 1.5

// settleRim moves a candidate onto the strongest circle near it, its radius within reach, and
// says on how much of its length it is seen.
func (w *faceView) settleRim(h holeShape, reach float64) holeSeen {
	ppm := w.scale(h.u, h.v)
	width := math.Max(0.35, 2/ppm)
	g := w.ring(h.u, h.v, math.Max(h.rim-reach-0.7-width, 0.3), h.rim+reach+0.7+width, coarse)
	e := g.gains(width)
	h.u, h.v, h.rim = g.strongest(e, h.rim-reach, h.rim+reach, 0.5)
	return holeSeen{holeShape: h, rimSeen: g.hits(e, h.u, h.v, h.rim, 0.1+1/ppm)}
}

// A boreProfile is on how much of its length a bore within a rim is seen, by its radius.
type boreProfile struct {
	low  float64 // mm
	hits []float64
}

const boreProfileStep = 0.05 // mm

func (w *faceView) boreProfile(h holeShape, low float64) boreProfile {
	ppm := w.scale(h.u, h.v)
	width := math.Max(0.35, 2/ppm)
	u, v, _ := w.thrown(h.u, h.v, (h.rim-low)/countersinkTan)
	g := w.ring(h.u, h.v, 0.2, h.rim+math.Hypot(u-h.u, v-h.v)+width, coarse)
	e := g.gains(width)
	p := boreProfile{low: low}
	for b := low; b <= h.rim-coneMin; b += boreProfileStep {
		u, v, s := w.thrown(h.u, h.v, (h.rim-b)/countersinkTan)
		p.hits = append(p.hits, g.hits(e, u, v, b*s, 0.1+1/ppm))
	}
	return p
}

// seen is the greatest share about radius r.
func (p boreProfile) seen(r float64) (most float64) {
	k := int((r-p.low)/boreProfileStep + 0.5)
	for i := max(k-2, 0); i <= min(k+2, len(p.hits)-1); i++ {
		most = math.Max(most, p.hits[i])
	}
	return most
}

// lookForBores says for holes of radius rim how well the bore is seen within each, of the one
// radius that all agree on best, and returns that radius.
func lookForBores(views []*faceView, holes [][]holeSeen, rim float64) (bore float64) {
	low := math.Max(boreMin/2, rim-(thickest(views)+2*thicknessDoubt)*countersinkTan)
	profiles := make([][]boreProfile, len(holes))
	var total []float64
	for i, w := range views {
		for _, c := range holes[i] {
			p := w.boreProfile(c.holeShape, low)
			total = append(total, make([]float64, max(0, len(p.hits)-len(total)))...)
			for k, x := range p.hits {
				total[k] += x * x * x * x * c.rimSeen
			}
			profiles[i] = append(profiles[i], p)
		}
	}
	best := 0
	for k := range total {
		if total[k] > total[best] {
			best = k
		}
	}
	bore = low + float64(best)*boreProfileStep
	for i := range holes {
		for j := range holes[i] {
			holes[i][j].boreSeen = profiles[i][j].seen(bore)
		}
	}
	return bore
}

// thickest is the greatest thickness of the leaves, mm.
func thickest(views []*faceView) (t float64) {
	for _, w := range views {
		t = math.Max(t, w.thickness)
	}
	return t
}

// settleBores finds the bores about the axes of the rims found: first the radius with which all
// holes together agree best, then that of each hole near it. Where that is the least that a
// countersink through leaves of the given thickness leaves, they may be thicker, and show their
// bores farther from the middles of their rims.
func settleBores(views []*faceView, found [][]holeSeen, rim float64) {
	if count(found) == 0 {
		return
	}
	given := make([]float64, len(views))
	for i, w := range views {
		given[i] = w.thickness
	}
	const most = 1.5 // mm thicker
	high := math.Min(boreMax/2, rim-coneMin)
	narrowest := func() float64 { return rim - (thickest(views)+slack)*countersinkTan }
	// scan tries bores from radius low on and returns the likest, up to widest, that the leaves allow.
	scan := func(low, widest float64) (scans [][]boreScan, r, least float64) {
		scans = make([][]boreScan, len(found))
		var total []float64
		for i, w := range views {
			for _, c := range found[i] {
				sc := w.scanBores(c.holeShape, given[i], low, high, coarse)
				total = append(total, make([]float64, len(sc.misfit)-len(total))...)
				for k, m := range sc.misfit {
					total[k] += m
				}
				scans[i] = append(scans[i], sc)
			}
		}
		least = math.Inf(1)
		for k, m := range total {
			if x := low + float64(k)*boreStep; x >= narrowest()-1e-9 && x <= widest && m < least {
				r, least = x, m
			}
		}
		return scans, r, least
	}
	low := math.Max(boreMin/2, narrowest())
	scans, common, _ := scan(low, high+boreStep)
	thicker := 0.
	if common < low+2.5*boreStep && low > boreMin/2 {
		low = math.Max(boreMin/2, low-most*countersinkTan)
		best, widest := math.Inf(1), common
		for _, more := range [...]float64{0, 0.5, 1, most} {
			for i, w := range views {
				w.thickness = math.Min(given[i]+more, thicknessMax)
			}
			s, r, m := scan(low, widest)
			if m += more * more / 2 / (thicknessDoubt * thicknessDoubt); m < best {
				best, scans, common, thicker = m, s, r, more
			}
		}
	}
	for i, w := range views {
		w.thickness = math.Min(given[i]+thicker, thicknessMax)
		for j := range found[i] {
			c := &found[i][j]
			c.bore, _, _ = scans[i][j].near(common, boreReach)
			c.depth = c.depthExpected(w.thickness)
		}
	}
}

// slack is how much thicker leaves may be than given without saying so, mm.
const slack = 0.3

// boreReach is how far the bore of one hole may lie from that of the others, mm in radius: a
// worn or reamed hole.
const boreReach = 0.15

// thicknessDoubt is how far a leaf's thickness may be from what its face's height above the table
// makes it, a standard deviation, mm: the height comes from a first fit, where the barrel tells
// the thickness by its pin (pinSigma), or from a reading.
const thicknessDoubt = 0.35

// surelySeen is how many times its noise a step counts at the most, but for a little.
const surelySeen = 15

// gainTable is the evidence of a step by its size in units of its noise.
var gainTable = geom.NewCurve(0, surelySeen, 2000, func(t float64) float64 { return math.Log(1 + t*t/9) })

// gains is, by sector and radius, the evidence of a step: ln(1 + t²/9), t the step in units of
// its noise over a length width (mm) to either side. t counts up to surelySeen: beyond, a step is as
// sure as can be, and a short strong edge must not outweigh a long faint one (what little is
// added keeps the strongest step the greatest).
func (g *ring) gains(width float64) []float64 {
	m := max(int(width/g.dr), 2)
	const skip = 1 // samples next to the edge, half a pixel each side, are in transition
	// What is the same in all sectors: how many samples there are to either side, and what a step
	// counts.
	type sides struct {
		in, out       int
		perIn, perOut float64
		perNoise      float64
	}
	places := make([]sides, 0, g.n)
	for i := 2 + skip; i+1+skip <= g.n-2; i++ {
		p := sides{in: min(m, i-skip), out: min(m, g.n-i-1-skip)}
		p.perIn, p.perOut = 1/float64(p.in), 1/float64(p.out)
		p.perNoise = 1 / (g.noise * math.Sqrt(2*(p.perIn+p.perOut)))
		places = append(places, p)
	}
	gain := make([]float64, ringSectors*g.n)
	sum := make([]float64, g.n+1)
	for s := range ringSectors {
		for i, x := range g.light[s] {
			sum[i+1] = sum[i] + x
		}
		row := gain[s*g.n : (s+1)*g.n]
		for k, p := range places {
			a, b := k+2, k+3+2*skip
			d := (sum[b+p.out]-sum[b])*p.perOut - (sum[a]-sum[a-p.in])*p.perIn
			t := math.Abs(d) * p.perNoise
			x := gainTable.At(t)
			if t > surelySeen {
				x += 2e-3 * math.Log(t/surelySeen)
			}
			row[k+2+skip] = x
		}
	}
	return gain
}

// strongest is the circle of radius low…high, its centre within reach of the ring's, that has
// the greatest sum of gains.
func (g *ring) strongest(gain []float64, low, high, reach float64) (u, v, r float64) {
	const step = 0.1
	best := -1.0
	u, v, r = g.cu, g.cv, (low+high)/2
	n := int(reach/step + 0.5)
	perStep := 1 / g.dr
	var shift [ringSectors]float64 // of a circle's samples, to be rounded down
	for a := -n; a <= n; a++ {
		for b := -n; b <= n; b++ {
			du, dv := float64(a)*step, float64(b)*step
			for s := range shift {
				shift[s] = (circleAt(du, dv, (low+high)/2, sectorSin[s], sectorCos[s])-(low+high)/2-g.r0)*perStep + 0.5
			}
			for q := low; q <= high+1e-9; q += step / 2 {
				var sum float64
				at := q * perStep
				for s := range shift {
					i := int(at + shift[s])
					if i >= 0 && i < g.n {
						sum += gain[s*g.n+i]
					}
				}
				if sum > best {
					best, u, v, r = sum, g.cu+du, g.cv+dv, q
				}
			}
		}
	}
	return u, v, r
}

// hits is the share of sectors that show an edge on the circle: a step of at least four times
// its noise that is greatest within a tolerance of the circle, not on the way to a greater one.
func (g *ring) hits(gain []float64, u, v, r, tolerance float64) float64 {
	least := math.Log(1 + 16./9)
	n := 0
	for s := range ringSectors {
		c := circleAt(u-g.cu, v-g.cv, r, sectorSin[s], sectorCos[s])
		i0, i1 := max(int((c-tolerance-g.r0)/g.dr+0.5), 1), min(int((c+tolerance-g.r0)/g.dr+0.5), g.n-2)
		row := gain[s*g.n : (s+1)*g.n]
		for i := i0; i <= i1; i++ {
			if row[i] > least && row[i] >= row[i-1] && row[i] >= row[i+1] {
				n++
				break
			}
		}
	}
	return float64(n) / ringSectors
}

// A holeSeen is a candidate with how well the picture supports its two circles: the mean,
// over the circle, of a step's saturated evidence (0 none, 1 certain).
type holeSeen struct {
	holeShape
	rimSeen, boreSeen float64
	scatter           float64     // of the rim's sectors about its circle, mm
	cov               [25]float64 // of the holeShape's numbers, mm²
}

// sigma is the standard uncertainty of the holeShape's k-th number, mm.
func (h *holeSeen) sigma(k int) float64 { return math.Sqrt(h.cov[k*5+k]) }

// mapStep is the grid of the search map, mm: four to the smallest bevel-to-bore distance that
// matters for finding, coarse enough to be quick.
const mapStep = 0.3

// centresKept is how many places are looked at: more than twice the most holes of a leaf (five, in
// hinges of 6 in).
const centresKept = 12

// A voted place is where votes say that a circle may have its centre.
type voted struct{ u, v, votes float64 }

// A faceMap is a leaf's face straightened, for finding: gradients of its light by place.
type faceMap struct {
	nu, nv  int
	grad    [][2]float32 // 0 where the face is not surely seen
	typical float64      // median size of the gradient
	crests  []int        // cells where the gradient is greatest across the edge
}

// coneMin is the least width of a countersink, rim to bore, mm. A flat head stands 1.7 mm
// (No. 6) to 3.1 mm (No. 14) beyond its clearance hole (ASME B18.6.1); worn and shallow ones less.
const coneMin = 1.2

const (
	mapInset  = 1.5 // mm: the outline is known to about 1 mm, and its own edge must not vote
	barrelMin = 4.0 // mm: no barrel is thinner than 8 mm
)

// centres votes for the centres of circles on the face: every place with a gradient votes
// along it, both ways, for centres at the radii that rims and bores have. Votes are clipped
// so that strong edges (rust, shadow) count no more than faint ones.
func (w *faceView) centres(m *faceMap) []voted {
	nu, nv := m.nu, m.nv
	low, clip := float32(1.5*m.typical), float32(3*m.typical)
	votes := make([]float32, nu*nv)
	k0, k1 := int(math.Round(boreMin/2/mapStep)), int(math.Round(rimMax/2/mapStep))
	for _, k := range m.crests {
		g := m.grad[k]
		s := float32(math.Sqrt(float64(g[0]*g[0] + g[1]*g[1])))
		if s < low {
			continue
		}
		i, j := float32(k/nv)+0.5, float32(k%nv)+0.5
		du, dv := g[0]/s, g[1]/s
		weight := min(s, clip) / clip
		for _, sign := range [2]float32{1, -1} {
			for q := k0; q <= k1; q++ {
				x, y := i+sign*du*float32(q), j+sign*dv*float32(q)
				if x < 0 || y < 0 || x >= float32(nu) || y >= float32(nv) {
					break
				}
				votes[int(x)*nv+int(y)] += weight
			}
		}
	}
	votes = boxBlur3(boxBlur3(votes, nu, nv), nu, nv)
	var peaks []voted
	for i := 1; i < nu-1; i++ {
		for j := 1; j < nv-1; j++ {
			k := i*nv + j
			v := votes[k]
			if v <= votes[k-1] || v <= votes[k+1] || v <= votes[k-nv] || v <= votes[k+nv] {
				continue
			}
			peaks = append(peaks, voted{mapInset + (float64(i)+0.5)*mapStep, mapInset + (float64(j)+0.5)*mapStep, float64(v)})
		}
	}
	slices.SortFunc(peaks, func(a, b voted) int { return cmp.Compare(b.votes, a.votes) })
	// Two holes do not overlap.
	var kept []voted
	for _, p := range peaks {
		clear := true
		for _, q := range kept {
			if math.Hypot(p.u-q.u, p.v-q.v) < rimMin/2 {
				clear = false
			}
		}
		if clear {
			kept = append(kept, p)
		}
		if len(kept) == centresKept {
			break
		}
	}
	return kept
}

// newFaceMap samples the face. It returns nil for a face too small to hold a screw hole.
func (w *faceView) newFaceMap() *faceMap {
	const inset = mapInset
	nu := int((w.face.Width - barrelMin - inset) / mapStep)
	nv := int((w.face.Height - 2*inset) / mapStep)
	if nu < 20 || nv < 20 {
		return nil
	}
	// The map, each cell averaged over about its own area.
	light := make([]float32, nu*nv)
	ppm := w.scale(w.face.Width/2, w.face.Height/2)
	sub := min(max(int(mapStep*ppm/1.5+0.5), 1), 2)
	span := float64(nv) * mapStep
	line := make([]float64, nv*sub)
	for i := range nu * sub {
		u := inset + (float64(i)+0.5)/float64(sub)*mapStep
		first := inset + 0.5/float64(sub)*mapStep
		last := inset + span - 0.5/float64(sub)*mapStep
		clear(line)
		w.f.AlongParabola(w.project(u, first), w.project(u, (first+last)/2),
			w.project(u, last), line)
		row := light[i/sub*nv : i/sub*nv+nv]
		for j, x := range line {
			row[j/sub] += float32(x)
		}
	}
	for k, x := range light {
		light[k] = float32(255 * math.Sqrt(float64(x)/float64(sub*sub))) // about as the eye sees it
	}
	// Gradients of the map smoothed over 3 × 3.
	sm := boxBlur3(light, nu, nv)
	grad := make([][2]float32, nu*nv)
	var sizes []float64
	for i := 1; i < nu-1; i++ {
		for j := 1; j < nv-1; j++ {
			k := i*nv + j
			u, v := inset+float64(i)*mapStep, inset+float64(j)*mapStep
			if w.outside(u, v) > -inset {
				continue
			}
			gu, gv := sm[k+nv]-sm[k-nv], sm[k+1]-sm[k-1]
			grad[k] = [2]float32{gu, gv}
			if k%3 == 0 {
				sizes = append(sizes, float64(gu*gu+gv*gv))
			}
		}
	}
	if len(sizes) == 0 {
		return nil
	}
	typical := math.Sqrt(geom.Pick(sizes, len(sizes)/2))
	m := &faceMap{nu: nu, nv: nv, grad: grad, typical: math.Max(typical, 0.1)}
	m.thin()
	return m
}

// outside is the distance of a place on the face from its outline, positive outside.
func (w *faceView) outside(u, v float64) float64 {
	r := w.face.Radius[0]
	if v > w.face.Height/2 {
		r = w.face.Radius[1]
	}
	// The barrel's side is open: the leaf runs on under the barrel.
	return geom.OutlineDistance(u-w.face.Width, v-w.face.Height/2, w.face.Width, w.face.Height/2, r)
}

func boxBlur3(a []float32, nu, nv int) []float32 {
	b := make([]float32, len(a))
	for i := range nu {
		row, out := a[i*nv:(i+1)*nv], b[i*nv:(i+1)*nv]
		for j := 1; j < nv-1; j++ {
			out[j] = row[j-1] + row[j] + row[j+1]
		}
	}
	c := make([]float32, len(a))
	for i := 1; i < nu-1; i++ {
		for j := range nv {
			k := i*nv + j
			c[k] = (b[k-nv] + b[k] + b[k+nv]) / 9
		}
	}
	return c
}

// thin keeps gradients only where they are greatest across the edge, so that the flanks of a
// strong edge do not pass for a second one, and then lets each reach one cell to either side.
func (m *faceMap) thin() {
	size := make([]float32, len(m.grad))
	for k, g := range m.grad {
		size[k] = g[0]*g[0] + g[1]*g[1]
	}
	wide := make([][2]float32, len(m.grad))
	for i := 1; i < m.nu-1; i++ {
		for j := 1; j < m.nv-1; j++ {
			k := i*m.nv + j
			if size[k] == 0 {
				continue
			}
			g, d := m.grad[k], 0 // to the next cell across the edge
			if 4*g[0]*g[0] >= size[k] {
				d = m.nv
				if g[0] < 0 {
					d = -d
				}
			}
			if 4*g[1]*g[1] >= size[k] {
				if g[1] < 0 {
					d--
				} else {
					d++
				}
			}
			if size[k] < size[k+d] || size[k] < size[k-d] {
				continue
			}
			m.crests = append(m.crests, k)
			for _, q := range [3]int{k - d, k, k + d} {
				if wide[q][0]*wide[q][0]+wide[q][1]*wide[q][1] < size[k] {
					wide[q] = g
				}
			}
		}
	}
	m.grad = wide
}

// gains is how well the map supports circles about a place of radii from boreMin/2 on in steps of
// mapStep, to compare circles by: the mean over the length of
// ln(1 + (gradient across it / twice the typical)²). Parts off the map count as none.
func (m *faceMap) gains(u, v float64, out []float64) {
	scale := 1 / (4 * m.typical * m.typical)
	for k := range out {
		out[k] = 1
	}
	for _, d := range circlePoints {
		x, y := (u+boreMin/2*d[0]-mapInset)/mapStep, (v+boreMin/2*d[1]-mapInset)/mapStep
		for k := range out {
			if i, j := int(x), int(y); i >= 0 && j >= 0 && i < m.nu && j < m.nv {
				g := m.grad[i*m.nv+j]
				across := float64(g[0])*d[0] + float64(g[1])*d[1]
				out[k] *= 1 + across*across*scale
			}
			x, y = x+d[0], y+d[1]
		}
	}
	for k, product := range out {
		out[k] = math.Log(product) / float64(len(circlePoints))
	}
}

// seen is the share of a circle's length that shows an edge on the map.
func (m *faceMap) seen(u, v, r float64) float64 {
	lim := 4 * m.typical * m.typical
	sum := 0.0
	for _, d := range circlePoints {
		g := m.across(u, v, r, d)
		sum += g / (g + lim)
	}
	return sum / float64(len(circlePoints))
}

// across is the square of the gradient across a circle where it lies in direction d.
func (m *faceMap) across(u, v, r float64, d [2]float64) float64 {
	i := int((u + r*d[0] - mapInset) * (1 / mapStep))
	j := int((v + r*d[1] - mapInset) * (1 / mapStep))
	if i < 0 || j < 0 || i >= m.nu || j >= m.nv {
		return 0
	}
	k := i*m.nv + j
	g := float64(m.grad[k][0])*d[0] + float64(m.grad[k][1])*d[1]
	return g * g
}

var circlePoints = func() (p [32][2]float64) {
	for i := range p {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(len(p)))
		p[i] = [2]float64{c, s}
	}
	return p
}()

// inspect looks about a voted centre, which may be the rim's or that of the bore as thrown
// onto the face, for the pair of circles that the map supports best.
func (w *faceView) inspect(m *faceMap, p voted) holeSeen {
	const step = 2 * mapStep
	const radiusStep, radii, gap = mapStep, 21, 4 // (rimMax − boreMin)/2 and coneMin in radius steps
	const half = 2                                // steps to either side, a little over a millimetre
	away := [2]float64{p.u - w.eu, p.v - w.ev}
	d := math.Hypot(away[0], away[1])
	reach := math.Min(rimMax/2/countersinkTan, w.thickness) * d / w.eh // longest parallax of a bore
	if d > 0 {
		away[0], away[1] = away[0]/d, away[1]/d
	}
	na, nb := half+int(reach/step+0.5)+half+1, 2*half+1
	at := func(a, b int) (float64, float64) {
		x, y := float64(a-half)*step, float64(b-half)*step
		return p.u + x*away[0] - y*away[1], p.v + x*away[1] + y*away[0]
	}
	table := make([]float64, na*nb*radii)
	for a := range na {
		for b := range nb {
			u, v := at(a, b)
			m.gains(u, v, table[(a*nb+b)*radii:(a*nb+b+1)*radii])
		}
	}
	// The bore's centre lies towards the eye by the parallax, by how much smaller than the rim it is.
	var back [radii]int
	for k := range back {
		depth := holeShape{rim: float64(k) * radiusStep}.depthExpected(w.thickness)
		back[k] = int(depth*d/(w.eh+depth)/step + 0.5)
	}
	least := int(math.Ceil((rimMin - boreMin) / 2 / radiusStep)) // of a rim
	bores := int(math.Floor((boreMax-boreMin)/2/radiusStep)) + 1
	var best holeSeen
	top := 0.0
	for a := range na {
		for b := range nb {
			rims := table[(a*nb+b)*radii:][:radii]
			for k := least; k < radii; k++ {
				for q := range min(k-gap+1, bores) {
					if a < back[k-q] {
						continue
					}
					if s := rims[k] + table[((a-back[k-q])*nb+b)*radii+q]; s > top {
						top = s
						best.u, best.v = at(a, b)
						best.rim, best.bore = boreMin/2+float64(k)*radiusStep, boreMin/2+float64(q)*radiusStep
					}
				}
			}
		}
	}
	best.depth = best.depthExpected(w.thickness)
	best.rimSeen = m.seen(best.u, best.v, best.rim)
	bu, bv, k := w.thrown(best.u, best.v, best.depth)
	best.boreSeen = m.seen(bu, bv, best.bore*k)
	return best
}
