package photo

import (
	"math"
	"slices"

	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// sight gives the tangent of the angle between a face's normal and the line of sight at x,
// towards out: positive where a wall that faces out is seen.
func sight(eye, x, out, n geom.Vec3) float64 {
	d := eye.Sub(x)
	return d.Dot(out) / d.Dot(n)
}

// A view is the picture with the camera that a fit has for it.
type view struct {
	f   *picture.Frame
	cam geom.Camera
	eye geom.Vec3
}

func (h *hingeFit) view(f *picture.Frame) *view {
	v := &view{f: f, cam: h.camera(h.p)}
	v.eye = v.cam.Eye()
	return v
}

// A straightEdge is an edge of a leaf where a fit has it: from a to b, out outward on the face.
type straightEdge struct {
	leaf, kind int
	face       geom.Face
	a, b, out  geom.Vec3
}

// straightEdges are those of a leaf, without what its corners and its barrel may take of them. reach
// is how far off they may be, mm.
func (h *hingeFit) straightEdges(leaf int, reach float64) [3]straightEdge {
	l := h.face(h.p, leaf)
	inner := l.Width - h.p[pBarrel]/2 - 2.5 // clear of the barrel and the swage's bend
	clear := [2]float64{math.Max(l.Radius[0], 2) + 1, math.Max(l.Radius[1], 2) + 1}
	if reach > 2 {
		clear = [2]float64{17, 17} // no radius is known yet: the largest common one
		if inner < 21 {
			clear[0], clear[1] = 10, 10
		}
	}
	return [3]straightEdge{
		{leaf, geom.OuterEdge, l, l.At(0, clear[0]), l.At(0, l.Height-clear[1]), l.U.Mul(-1)},
		{leaf, geom.FirstEnd, l, l.At(clear[0], 0), l.At(inner, 0), l.V.Mul(-1)},
		{leaf, geom.SecondEnd, l, l.At(clear[1], l.Height), l.At(inner, l.Height), l.V},
	}
}

// unseenReach is how far off an edge is looked for that was not found, mm: until its own place is known it follows
// from the others'.
const unseenReach = 2.0

// outlineAround finds the outline's straight edges within reach millimetres of where the
// fit has them, and returns how many of the edges were found.
func (h *hingeFit) outlineAround(f *picture.Frame, reach float64) (edges int) {
	v := h.view(f)
	before := h.edgesSeen()
	h.outline = h.outline[:0]
	var seen [2][3]*seenEdge
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		for kind, e := range h.straightEdges(leaf, reach) {
			within := reach
			if !before[leaf][kind] && !before[leaf][geom.FirstCorner] && !before[leaf][geom.SecondCorner] {
				within = math.Max(reach, unseenReach)
			}
			seen[leaf][kind] = h.lookForEdge(v, e, within)
		}
	}
	for kind := range 3 {
		h.agree(seen[0][kind], seen[1][kind], kind, reach)
		for leaf := range 2 {
			if e := seen[leaf][kind]; e != nil {
				if pts := e.points(&v.cam, e.lines[0]); len(pts) > 0 {
					h.edgeSigma[3*leaf+kind] = math.Hypot(h.edgeSigma[3*leaf+kind], e.doubt)
					h.edgesShare[3*leaf+kind] = e.doubt
					h.outline = append(h.outline, pts...)
					edges++
				}
			}
		}
	}
	return edges
}

// agree puts first those lines of the two leaves' edges of one kind that are likeliest together,
// and says how far either edge may lie off its line for what else it may be. Either may be nil.
func (h *hingeFit) agree(a, b *seenEdge, kind int, reach float64) {
	h.edgeSigma[kind], h.edgeSigma[3+kind] = edgeBias, edgeBias
	none := []picture.Line{{}}
	la, lb := none, none
	if a != nil {
		la = a.lines
	}
	if b != nil {
		lb = b.lines
	}
	// What is seen of both: leaves are stamped by one tool, and each line is found about as well.
	apart, within := 0.0, math.Hypot(endsAgree, 0.08)
	if kind == geom.OuterEdge {
		// The pin's axis between them is the barrel's.
		apart, within = h.p[pWidth0]-h.p[pWidth1], math.Hypot(widthsAgree, 2*barrelBias)
	}
	early := reach > 2 // the hinge's place is not known well enough to tell more
	if early {
		within = math.Hypot(within, reach/2.5)
	}
	// What the light's model leaves over is much the same in all stretches of an edge: together they
	// count as few.
	const independent = 3
	likely := func(i, j int) float64 {
		c := independent * (la[i].Against + lb[j].Against)
		if a != nil && b != nil {
			d := (apart + la[i].At - lb[j].At) / within
			c += d * d
		}
		if early {
			// Nearest to where it is looked for it is likeliest.
			c += (la[i].At*la[i].At + lb[j].At*lb[j].At) * (2.5 * 2.5) / (reach * reach)
		}
		return c
	}
	bi, bj := 0, 0
	for i := range la {
		for j := range lb {
			if likely(i, j) < likely(bi, bj) {
				bi, bj = i, j
			}
		}
	}
	var w, va, vb float64
	for i := range la {
		for j := range lb {
			p := math.Exp((likely(bi, bj) - likely(i, j)) / 2)
			da, db := la[i].At-la[bi].At, lb[j].At-lb[bj].At
			w, va, vb = w+p, va+p*da*da, vb+p*db*db
		}
	}
	h.edgeSigma[kind] = math.Hypot(edgeBias, math.Sqrt(va/w))
	h.edgeSigma[3+kind] = math.Hypot(edgeBias, math.Sqrt(vb/w))
	la[0], la[bi] = la[bi], la[0]
	lb[0], lb[bj] = lb[bj], lb[0]
}

// focus estimates how blurred edges are in this picture, px: of a few blurs the one that the
// straight edges' profiles fit best.
func (h *hingeFit) focus(f *picture.Frame) {
	cam := h.camera(h.p)
	eye := cam.Eye()
	type edge struct {
		p       picture.Profile
		tan, mm float64
	}
	var edges []edge
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for i, q := range h.outline {
			if q.leaf != leaf || i%2 > 0 { // half of them tell as well
				continue
			}
			a, b := l.Place(&cam, q.at)
			x := l.At(a, b)
			out, along := l.U.Mul(-1), l.V
			switch q.kind {
			case geom.FirstEnd:
				out, along = l.V.Mul(-1), l.U
			case geom.SecondEnd:
				out, along = l.V, l.U
			}
			mm := 1 / cam.PxPerMM(x)
			p := f.AcrossEdge(&cam, x.Sub(along.Mul(3)), x.Add(along.Mul(3)), out, -1.2, 1.8, math.Max(0.5*mm, 0.03), 10)
			edges = append(edges, edge{p, sight(eye, x, out, l.N), mm})
		}
	}
	blurs := [...]float64{0.5, 0.65, 0.85, 1.1, 1.5}
	var known [len(blurs)]bool
	var sums [len(blurs)]float64
	misfit := func(i int) float64 {
		if known[i] {
			return sums[i]
		}
		known[i] = true
		for k := range edges {
			e := &edges[k]
			s := e.p.Search(h.look, e.tan, h.p[pThick], blurs[i]*e.mm)
			if s == nil {
				continue
			}
			const step = 0.06 // mm
			least, at := math.Inf(1), 0.0
			for d := -5 * step; d <= 5.1*step; d += step {
				if c := s.CostWithin(d, least); c < least {
					least, at = c, d
				}
			}
			least = min(least, s.CostWithin(at-step/2, least), s.CostWithin(at+step/2, least))
			sums[i] += math.Min(least/float64(3*len(e.p.S)), 50)
		}
		return sums[i]
	}
	// From the usual one on as long as it gets better.
	best := 1
	for best > 0 && misfit(best-1) <= misfit(best) {
		best--
	}
	for best+1 < len(blurs) && misfit(best+1) < misfit(best) {
		best++
	}
	h.blur = blurs[best]
	if best > 0 && best+1 < len(blurs) {
		// Between them it is where a parabola through their misfits, over the logarithm, is lowest.
		x0, x1, x2 := math.Log(blurs[best-1]), math.Log(blurs[best]), math.Log(blurs[best+1])
		a, b := (misfit(best-1)-misfit(best))*(x2-x1), (misfit(best+1)-misfit(best))*(x1-x0)
		h.blur *= math.Exp((a*(x2-x1) - b*(x1-x0)) / (2 * (a + b)))
	}
}

// A seenEdge is a straight edge as it is looked for.
type seenEdge struct {
	picture.Stretches
	straightEdge
	n          int       // stretches it was cut into
	mid, along geom.Vec3 // the expected edge's middle, and the direction along it
	lines      []picture.Line
	blur       float64 // mm
	doubt      float64 // standard uncertainty of its place as a whole, mm; of another as great it shares with the other edges

	looked bool // for points, near line
	line   picture.Line
	found  []outlinePoint
}

// lookForEdge finds the lines that an edge may be, in stretches, in long ones where it is too faint
// for short ones.
func (h *hingeFit) lookForEdge(v *view, at straightEdge, reach float64) *seenEdge {
	length := at.b.Sub(at.a).Norm()
	if at.b.Sub(at.a).Dot(at.face.At(1, 1).Sub(at.face.O)) < 0 || length < 4 {
		return nil
	}
	n := min(max(int(length/4), 3), 14)
	e := h.cutEdge(v, at, reach, n)
	if n >= 6 && (e == nil || len(e.points(&v.cam, e.lines[0])) == 0) {
		if long := h.cutEdge(v, at, reach, n/2); long != nil {
			return long
		}
	}
	return e
}

// cutEdge cuts an edge into n stretches and finds the lines that explain most of them, the
// likeliest first; nil for none.
func (h *hingeFit) cutEdge(v *view, at straightEdge, reach float64, n int) *seenEdge {
	way := at.b.Sub(at.a)
	length := way.Norm()
	from, shadowed := -reach, h.shadow && reach > 2
	if shadowed {
		from = -picture.Inwards
	} else if rim := h.rim[3*at.leaf+at.kind]; rim > 0 {
		shadowed, from, reach = true, from-0.7, reach+rim
	}
	lo, hi := from-1.2, reach+2.0
	e := &seenEdge{straightEdge: at, n: n, mid: at.a.Add(at.b).Mul(0.5), along: way.Unit()}
	e.blur = h.blur / v.cam.PxPerMM(e.mid)
	for k := range n {
		p := at.a.Add(way.Mul(float64(k) / float64(n)))
		q := at.a.Add(way.Mul(float64(k+1) / float64(n)))
		mid := p.Add(q).Mul(0.5)
		mm := 1 / v.cam.PxPerMM(mid)
		step := math.Max(0.75*mm, 0.04)
		prof := v.f.AcrossEdge(&v.cam, p, q, at.out, lo, hi, step, min(max(12, int(3*length/float64(n))), picture.MostAcross))
		if s := prof.Search(h.look, sight(v.eye, mid, at.out, at.face.N), h.p[pThick], h.blur*mm); s != nil {
			e.Pos = append(e.Pos, (float64(k)+0.5)/float64(n)*length-length/2)
			e.Searches = append(e.Searches, s)
		}
	}
	if len(e.Pos) < 3 || len(e.Pos) < n/3 {
		return nil
	}
	e.Scan(from, reach)
	e.lines = e.Stretches.Lines()
	if len(e.lines) == 0 {
		return nil
	}
	if len(e.lines) > 1 {
		e.lines = e.lines[:min(len(e.lines), picture.MostLines)]
		e.Weigh(e.lines)
	}
	if shadowed {
		if inner, ok := e.Shadowed(e.lines[0], from); ok {
			e.lines = []picture.Line{inner}
		}
	}
	return e
}

// lightShare is how far off an edge is placed as a whole, of its blur, where the light's model fits as well as
// it is meant to: worse as that fits worse. As far again all edges of a hinge are off together, as they are
// alike broken, worn and lit. With both, the edges found in testdata/world, many out of focus, scatter about
// the truth by 1.2 standard uncertainties, those in testdata/photos by 0.5; with 0.02 mm for each by 2.6 and 0.6.
const lightShare = 0.25

// points finds an edge near a line in each stretch; none where something lies over it or it is too
// faint. What was found last is kept.
func (e *seenEdge) points(cam *geom.Camera, line picture.Line) []outlinePoint {
	if !e.looked || e.line != line {
		e.looked, e.line = true, line
		e.found = e.pointsNear(cam, line)
	}
	return e.found
}

func (e *seenEdge) pointsNear(cam *geom.Camera, line picture.Line) (pts []outlinePoint) {
	var pos, off, sig, misfit []float64
	agree, near := 0, math.Max(0.18, 2.5*e.Step) // mm
	for i, s := range e.Searches {
		at := line.At + line.Slope*e.Pos[i]
		c := s.Find(at-near, at+near)
		if c.OK {
			pos, off, sig, misfit = append(pos, e.Pos[i]), append(off, c.At), append(sig, c.Sigma), append(misfit, c.Misfit)
		}
		if c.OK || e.At(i, at) < picture.MostAgainst/2 {
			agree++
		}
	}
	if agree*2 < e.n || len(pos) < 3 {
		return nil
	}
	res, scatter := geom.OffLine(pos, off)
	e.doubt = lightShare * e.blur * geom.Median(misfit)
	limit := math.Max(3*scatter, 0.08)
	for i := range pos {
		if res[i] > limit {
			continue
		}
		x := e.mid.Add(e.along.Mul(pos[i])).Add(e.out.Mul(off[i]))
		pts = append(pts, outlinePoint{at: cam.Project(x), leaf: e.leaf, kind: e.kind,
			sigma: math.Hypot(math.Hypot(sig[i], scatter), 0.01)})
	}
	if len(pts) < 3 {
		return nil
	}
	return pts
}

// leastRadius is the smallest radius, mm, taken for one: a square corner seen through the samples'
// width, its broken edge and a highlight may pass for nearly three millimetres. An eighth of an
// inch is the smallest router bit for corners.
const leastRadius = 3.0

// The largest radius looked for, and the steps between those tried first, mm.
// Half a millimetre moves an arc's middle by a fifth of one.
const mostRadius, radiusStep = 18.0, 0.5

// cornerLook gives how much the look changes from just inside to just outside of the outline
// with each outer corner rounded by 0, ½, 1 … mm: the mean along the corner's path, of what is
// usual along its straight edges. A corner that is not there has none.
func (h *hingeFit) cornerLook(f *picture.Frame) (look [4][]float64) {
	cam := h.camera(h.p)
	const (
		box  = 19.0 // mm, of the corner looked at: the largest radius and a little straight
		side = 0.45 // mm, inside and outside of the outline: clear of the broken edge
		wide = 0.5  // mm, over which a look is averaged
		dots = 48
	)
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		steps := int(math.Min(box, l.Width-h.p[pBarrel]/2-2) / radiusStep)
		b := float64(steps) * radiusStep
		for end := range 2 {
			// a, c: from the outer edge and from this end; na, nc: outward. The corner and both ways as
			// the camera has them.
			o, u, v := cam.R.Apply(l.O).Add(cam.T), cam.R.Apply(l.U), cam.R.Apply(l.V)
			if end == 1 {
				o, v = o.Add(v.Mul(l.Height)), v.Mul(-1)
			}
			at := func(a, c float64) geom.Vec3 {
				r, g, bl := f.RGB(cam.Image(o.Add(u.Mul(a)).Add(v.Mul(c))))
				return geom.Vec3{r, g, bl}
			}
			change := func(a, c, na, nc float64) (d geom.Vec3) {
				for k := range 3 {
					s := side + wide*float64(k)/2
					d = d.Add(at(a-na*s, c-nc*s)).Sub(at(a+na*s, c+nc*s))
				}
				return d.Mul(1.0 / 3)
			}
			// What changes along the straight edges beyond the largest corner, and how much it varies:
			// the colour that tells best (Fisher 1936).
			var seen []geom.Vec3
			for k := range dots {
				t := (float64(k) + 0.5) / dots
				seen = append(seen, change(0, b+t*(l.Height/2-b), -1, 0), change(b-4*t, 0, 0, -1))
			}
			tell := telling(seen)
			// Contrast beyond what is usual here (a rust spot, a highlight) does not count more.
			var usual []float64
			for _, d := range seen {
				usual = append(usual, tell.Dot(d))
			}
			limit := math.Max(geom.Median(usual), 1e-6)
			contrast := func(a, c, na, nc float64) float64 {
				return min(max(tell.Dot(change(a, c, na, nc)), -limit), limit)
			}
			// Along both edges from the arc's ends on, and along the arc, as integrals.
			straight := make([]float64, max(min(int(mostRadius/radiusStep)+1, steps), 0))
			for sum, k := 0.0, steps-1; k >= 0; k-- {
				for t := 0.25; t < 1; t += 0.5 {
					s := (float64(k) + t) * radiusStep
					sum += radiusStep / 2 * (contrast(s, 0, 0, -1) + contrast(0, s, -1, 0))
				}
				if k < len(straight) {
					straight[k] = sum
				}
			}
			for k, sum := range straight {
				r := float64(k) * radiusStep
				arc := math.Ceil(r * math.Pi / 2 / 0.7)
				for i := 0.5; i < arc; i++ {
					sn, cs := math.Sincos(i / arc * math.Pi / 2)
					sum += r * math.Pi / 2 / arc * contrast(r-r*sn, r-r*cs, -sn, -cs)
				}
				look[2*leaf+end] = append(look[2*leaf+end], sum/(limit*(2*(b-r)+r*math.Pi/2)))
			}
		}
	}
	return look
}

// telling is the direction in which changes are greatest for their scatter.
func telling(d []geom.Vec3) geom.Vec3 {
	var mean geom.Vec3
	for _, v := range d {
		mean = mean.Add(v.Mul(1 / float64(len(d))))
	}
	var c geom.Mat3
	for _, v := range d {
		v = v.Sub(mean)
		for i := range 3 {
			for j := range 3 {
				c[i][j] += v[i] * v[j] / float64(len(d))
			}
		}
	}
	for i := range 3 {
		c[i][i]++ // a level's rounding, at least
	}
	// Cramer's rule: the scale does not matter.
	return c[1].Cross(c[2]).Mul(mean[0]).Add(c[2].Cross(c[0]).Mul(mean[1])).Add(c[0].Cross(c[1]).Mul(mean[2]))
}

// startCorners guesses each outer corner's radius: of all roundings the one along which the
// look changes most.
func (h *hingeFit) startCorners(f *picture.Frame) {
	for k, look := range h.cornerLook(f) {
		if look != nil {
			h.startCorner(k, float64(greatest(look))*radiusStep)
		}
	}
}

func (h *hingeFit) startCorner(k int, radius float64) {
	if radius < leastRadius {
		radius = 0 // square, broken by tumbling
	}
	h.p[pRadius0+k], h.radius0[k] = radius, radius
}

// lookAgain guesses the corners anew whose arc was not found, on a better fit. The two corners
// of a leaf are cut alike (common practice, no source): one is given the other's radius where
// that was found, else both the one that suits both best, but for a corner whose own look
// clearly says otherwise.
func (h *hingeFit) lookAgain(f *picture.Frame) {
	seen := h.arcsSeen()
	settled := func(leaf int) bool {
		return !h.leaves[leaf] || seen[2*leaf] && seen[2*leaf+1] && !h.unlikeArcs(leaf)
	}
	if settled(0) && settled(1) {
		return
	}
	looks := h.cornerLook(f)
	for leaf := range 2 {
		if settled(leaf) {
			continue
		}
		if h.unlikeArcs(leaf) {
			// The one seen worse is doubted.
			k := 2 * leaf
			if h.sigma(pRadius0+k) < h.sigma(pRadius0+k+1) {
				k++
			}
			look := looks[k]
			at := func(r float64) float64 { return look[min(max(int(r/radiusStep+0.5), 0), len(look)-1)] }
			seen[k] = at(h.p[pRadius0+k]) > at(h.p[pRadius0+(k^1)])+unlike
		}
		both := slices.Clone(looks[2*leaf])
		for i, v := range looks[2*leaf+1] {
			both[i] += v
		}
		alike := float64(greatest(both)) * radiusStep
		for k := 2 * leaf; k < 2*leaf+2; k++ {
			if seen[k] {
				alike = h.p[pRadius0+k]
			}
		}
		for k := 2 * leaf; k < 2*leaf+2; k++ {
			if seen[k] {
				continue
			}
			look, radius := looks[k], alike
			at := min(max(int(alike/radiusStep), 0), len(look)-1) // a fit may turn a radius inside out
			const wander = int(2 / radiusStep)                    // the look's peak may lie 2 mm off the radius
			near := slices.Max(look[max(at-wander, 0):min(at+wander+1, len(look))])
			if own := greatest(look); look[own] > near+unlike {
				radius = float64(own) * radiusStep
			}
			h.startCorner(k, radius)
		}
	}
}

// unlikeArcs reports whether both corners of a leaf were found round, but by more than several
// of their uncertainties apart.
func (h *hingeFit) unlikeArcs(leaf int) bool {
	const mostUnlike = 1.0 // mm
	seen := h.arcsSeen()
	return seen[2*leaf] && seen[2*leaf+1] && math.Abs(h.p[pRadius0+2*leaf]-h.p[pRadius1+2*leaf]) > mostUnlike
}

// unlike is by how much, of the whole, a corner's look must speak against its leaf's other one:
// taking a quarter inch for square or the reverse costs 0.15 of it, as that part of the path
// runs on the leaf or on the table alone.
const unlike = 0.12

// greatest gives the index of the greatest value.
func greatest(v []float64) int {
	best := 0
	for i := range v {
		if v[i] > v[best] {
			best = i
		}
	}
	return best
}

// edgesSeen reports for each leaf and kind of edge whether points of it are there.
func (h *hingeFit) edgesSeen() (seen [2][5]bool) {
	for _, q := range h.outline {
		seen[q.leaf][q.kind] = true
	}
	return seen
}

// arcsSeen reports the same for the corners, as radii are numbered.
func (h *hingeFit) arcsSeen() [4]bool {
	s := h.edgesSeen()
	return [4]bool{s[0][geom.FirstCorner], s[0][geom.SecondCorner], s[1][geom.FirstCorner], s[1][geom.SecondCorner]}
}

// restartCorners gives each corner whose arc was not found the radius of its leaf's other
// corner where that was found, else none, and reports whether an arc is to be looked for.
func (h *hingeFit) restartCorners() bool {
	seen := h.arcsSeen()
	again := false
	for k := range seen {
		if seen[k] || h.radius0[k] == 0 {
			continue
		}
		r := 0.0
		if seen[k^1] {
			r, again = h.radius0[k^1], true
		}
		h.radius0[k], h.p[pRadius0+k] = r, r
	}
	return again
}

// squareCorners makes the corners square whose arcs came out smaller than any radius.
func (h *hingeFit) squareCorners() {
	var drop [4]bool
	for k := range drop {
		if drop[k] = h.radius0[k] > 0 && h.p[pRadius0+k] < leastRadius; drop[k] {
			h.radius0[k], h.p[pRadius0+k] = 0, 0
		}
	}
	h.outline = slices.DeleteFunc(h.outline, func(q outlinePoint) bool { return q.kind >= geom.FirstCorner && drop[2*q.leaf+q.kind-geom.FirstCorner] })
}

// worstArc is the scatter, mm, beyond which places found along an arc are not those of one:
// twice what the faintest corner, white on white, shows.
const worstArc = 0.25

// cornersAround finds points of the rounded corners within reach of where the fit has them.
func (h *hingeFit) cornersAround(f *picture.Frame, reach float64) {
	cam := h.camera(h.p)
	eye := cam.Eye()
	seen := h.edgesSeen()
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for end := range 2 {
			r := l.Radius[end]
			if r < leastRadius || seen[leaf][geom.FirstCorner+end] {
				continue
			}
			dv, cv := -1.0, r
			if end == 1 {
				dv, cv = 1, l.Height-r
			}
			centre := l.At(r, cv)
			n := min(max(int(r*math.Pi/2/1.5), 5), 14)
			var got []outlinePoint
			var angle, off []float64
			for k := range n {
				// From 6° to 84°: beyond, the arc runs into the straight edges.
				a0 := (6 + 78*float64(k)/float64(n)) * math.Pi / 180
				a1 := (6 + 78*float64(k+1)/float64(n)) * math.Pi / 180
				dir := func(a float64) geom.Vec3 { return l.U.Mul(-math.Cos(a)).Add(l.V.Mul(dv * math.Sin(a))) }
				mid := dir((a0 + a1) / 2)
				x := centre.Add(mid.Mul(r))
				mm := 1 / cam.PxPerMM(x)
				const lines = 8
				p := f.Across(&cam, func(i int, s float64) geom.Vec3 {
					return centre.Add(dir(a0 + (a1-a0)*(float64(i)+0.5)/lines).Mul(r + s))
				}, -reach-1.0, reach+1.5, math.Max(0.75*mm, 0.04), lines)
				c := p.Find(h.look, sight(eye, x, mid, l.N), h.p[pThick], h.blur*mm, -reach, reach)
				if !c.OK || c.Step < picture.LeastContrast {
					continue
				}
				got = append(got, outlinePoint{at: cam.Project(centre.Add(mid.Mul(r + c.At))), leaf: leaf, kind: geom.FirstCorner + end,
					sigma: math.Hypot(c.Sigma, 0.02)})
				angle, off = append(angle, (a0+a1)/2), append(off, c.At)
			}
			if len(got) < 4 || len(got)*2 < n {
				continue
			}
			_, res, scatter := tangentArc(angle, off)
			if scatter > worstArc {
				continue
			}
			limit := math.Max(4*scatter, 0.15)
			for i := range got {
				if math.Abs(res[i]) <= limit {
					got[i].sigma = math.Hypot(got[i].sigma, scatter)
					h.outline = append(h.outline, got[i])
				}
			}
		}
	}
}

// tangentArc fits an arc tangent to the outer edge to places off a guessed one, and returns
// how far outward of the guess the end lies that it is tangent to. With the radius greater by
// d and the end outward by e the arc moves by d·(1 − cos a − sin a) + e·sin a at angle a.
// Strays count by their distance, not its square: four rounds of reweighting.
func tangentArc(angle, off []float64) (end float64, res []float64, scatter float64) {
	res = slices.Clone(off)
	for round := range 5 {
		var pp, pq, qq, py, qy float64
		for i, a := range angle {
			sn, cs := math.Sincos(a)
			p, q, w := 1-cs-sn, sn, 1.0
			if round > 0 {
				w = 1 / math.Max(math.Abs(res[i]), 0.02)
			}
			pp, pq, qq = pp+w*p*p, pq+w*p*q, qq+w*q*q
			py, qy = py+w*p*off[i], qy+w*q*off[i]
		}
		det := pp*qq - pq*pq
		d, e := (py*qq-qy*pq)/det, (qy*pp-py*pq)/det
		for i, a := range angle {
			sn, cs := math.Sincos(a)
			res[i] = off[i] - d*(1-cs-sn) - e*sn
		}
		end = e
	}
	dev := make([]float64, len(res))
	for i, r := range res {
		dev[i] = math.Abs(r)
	}
	return end, res, 1.4826 * geom.Median(dev)
}

// mostApart is how far, mm, an end's straight points may lie off the line that its corners'
// arcs are tangent to: several times what edges found anew differ by, and half of what a wall's
// foot or a shadow taken for the edge is off.
const mostApart = 0.35

// dropEnds drops the straight points of ends that the arcs beside them contradict, on all
// leaves with such an arc, and reports whether there were any. An arc is seen against other
// light at every angle, so that no one wall or shadow is taken for all of it.
func (h *hingeFit) dropEnds() bool {
	cam := h.camera(h.p)
	var drop [2][2]bool
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for end := range 2 {
			var straight, angle, off []float64
			for _, q := range h.outline {
				if q.leaf != leaf {
					continue
				}
				a, b := l.Place(&cam, q.at)
				switch q.kind {
				case geom.FirstEnd + end:
					straight = append(straight, l.Outside(q.kind, a, b))
				case geom.FirstCorner + end:
					if end == 1 {
						b = l.Height - b
					}
					r := l.Radius[end]
					angle = append(angle, math.Atan2(r-b, r-a))
					off = append(off, math.Hypot(r-a, r-b)-r)
				}
			}
			if len(straight) == 0 || len(angle) < 6 {
				continue // too short an arc to say where its end lies
			}
			e, _, scatter := tangentArc(angle, off)
			drop[leaf][end] = math.Abs(e-geom.Median(straight)) > math.Max(mostApart, 3*scatter)
		}
	}
	if drop == [2][2]bool{} {
		return false
	}
	h.outline = slices.DeleteFunc(h.outline, func(q outlinePoint) bool {
		return (q.kind == geom.FirstEnd || q.kind == geom.SecondEnd) && drop[q.leaf][q.kind-geom.FirstEnd]
	})
	return true
}
