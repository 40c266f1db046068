package measure

import (
	"math"
	"slices"
)

// sight gives the tangent of the angle between a face's normal and the line of sight at x,
// towards out: positive where a wall that faces out is seen.
func sight(eye, x, out, n vec3) float64 {
	d := eye.sub(x)
	return d.dot(out) / d.dot(n)
}

// outlineAround finds the outline's straight edges within reach millimetres of where the
// fit has them, and returns how many of the edges were found.
func (h *hingeFit) outlineAround(f *frame, reach float64) (edges int) {
	cam := h.camera(h.p)
	eye := cam.eye()
	h.outline = h.outline[:0]
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		inner := l.width - h.p[pBarrel]/2 - 2.5 // clear of the barrel and the swage's bend
		clear := [2]float64{math.Max(l.radius[0], 2) + 1, math.Max(l.radius[1], 2) + 1}
		if reach > 2 {
			clear = [2]float64{17, 17} // no radius is known yet: the largest common one
			if inner < 21 {
				clear[0], clear[1] = 10, 10
			}
		}
		for kind := range 3 {
			var a, b, out vec3
			switch kind {
			case 0:
				a, b, out = l.at(0, clear[0]), l.at(0, l.height-clear[1]), l.u.mul(-1)
			case 1:
				a, b, out = l.at(clear[0], 0), l.at(inner, 0), l.v.mul(-1)
			case 2:
				a, b, out = l.at(clear[1], l.height), l.at(inner, l.height), l.v
			}
			if pts := h.straightEdge(f, &cam, eye, l, leaf, kind, a, b, out, reach); len(pts) > 0 {
				h.outline = append(h.outline, pts...)
				edges++
			}
		}
	}
	return edges
}

// focus estimates how blurred edges are in this picture, px: of a few blurs the one that the
// straight edges' profiles fit best.
func (h *hingeFit) focus(f *frame) {
	cam := h.camera(h.p)
	eye := cam.eye()
	best := math.Inf(1)
	blurs := []float64{0.5, 0.65, 0.85, 1.1, 1.5}
	sums := make([]float64, len(blurs))
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for _, q := range h.outline {
			if q.leaf != leaf {
				continue
			}
			a, b := l.place(&cam, q.at)
			x := l.at(a, b)
			out, along := l.u.mul(-1), l.v
			switch q.kind {
			case 1:
				out, along = l.v.mul(-1), l.u
			case 2:
				out, along = l.v, l.u
			}
			mm := 1 / cam.pxPerMM(x)
			p := f.acrossEdge(&cam, x.sub(along.mul(3)), x.add(along.mul(3)), out, -1.2, 1.8, math.Max(0.5*mm, 0.03), 10)
			for i, blur := range blurs {
				if s := p.search(h.look, sight(eye, x, out, l.n), h.p[pThick], blur*mm); s != nil {
					least := math.Inf(1)
					for e := -0.3; e <= 0.3; e += 0.03 {
						least = math.Min(least, s.cost(e))
					}
					sums[i] += math.Min(least/float64(3*len(p.s)), 50)
				}
			}
		}
	}
	for i, s := range sums {
		if s < best {
			best, h.blur = s, blurs[i]
		}
	}
}

// straightEdge cuts an edge into stretches, finds each, and keeps those that lie on one line.
func (h *hingeFit) straightEdge(f *frame, cam *camera, eye vec3, l leafFace, leaf, kind int, a, b, out vec3, reach float64) []outlinePoint {
	length := b.sub(a).norm()
	if b.sub(a).dot(l.at(1, 1).sub(l.o)) < 0 || length < 4 {
		return nil
	}
	n := min(max(int(length/4), 3), 14)
	var pos, off, sig []float64
	var searches []*edgeSearch
	var cuts []cut
	lo, hi := -reach-1.2, reach+2.0
	for k := range n {
		p := a.add(b.sub(a).mul(float64(k) / float64(n)))
		q := a.add(b.sub(a).mul(float64(k+1) / float64(n)))
		mid := p.add(q).mul(0.5)
		mm := 1 / cam.pxPerMM(mid)
		step := math.Max(0.75*mm, 0.04)
		prof := f.acrossEdge(cam, p, q, out, lo, hi, step, 12)
		s := prof.search(h.look, sight(eye, mid, out, l.n), h.p[pThick], h.blur*mm)
		if s == nil {
			continue
		}
		c := s.find(-reach, reach)
		if !c.ok || c.step < leastContrast {
			continue
		}
		pos = append(pos, (float64(k)+0.5)/float64(n)*length)
		off = append(off, c.at)
		sig = append(sig, c.sigma)
		searches, cuts = append(searches, s), append(cuts, c)
	}
	if len(pos) < 3 || len(pos) < n/3 {
		return nil
	}
	settle(searches, cuts, pos, off, sig)
	res, scatter := offLine(pos, off)
	limit := math.Max(3*scatter, 0.08)
	kept := 0
	for _, r := range res {
		if r <= limit {
			kept++
		}
	}
	if kept < 3 || kept*2 < n {
		return nil
	}
	var pts []outlinePoint
	along := b.sub(a).unit()
	for i := range pos {
		if res[i] > limit {
			continue
		}
		x := a.add(along.mul(pos[i])).add(out.mul(off[i]))
		pts = append(pts, outlinePoint{at: cam.project(x), leaf: leaf, kind: kind,
			sigma: math.Hypot(math.Hypot(sig[i], scatter), 0.01)})
	}
	return pts
}

// settle makes the stretches of one edge agree where some of them took another line for it
// (a wall's foot, a shadow's): of the places found, the one that explains all stretches best
// is taken, and each stretch is searched again near it.
func settle(searches []*edgeSearch, cuts []cut, pos, off, sig []float64) {
	const near = 0.12 // mm
	slope, level := theilSen(pos, off)
	var tries []float64
	spread := false
	for i := range pos {
		d := off[i] - slope*pos[i]
		spread = spread || math.Abs(d-level) > near
		if !slices.ContainsFunc(tries, func(t float64) bool { return math.Abs(t-d) < near/2 }) {
			tries = append(tries, d)
		}
	}
	if !spread {
		return
	}
	best, bestCost := level, math.Inf(1)
	for _, d := range tries {
		sum := 0.0
		for i, s := range searches {
			c := math.Inf(1)
			for e := -near / 2; e <= near/2; e += near / 4 {
				c = math.Min(c, s.cost(d+slope*pos[i]+e))
			}
			sum += math.Min(c/(cuts[i].cost+1), 4)
		}
		if sum < bestCost {
			best, bestCost = d, sum
		}
	}
	for i, s := range searches {
		at := best + slope*pos[i]
		if math.Abs(off[i]-at) <= near {
			continue
		}
		if c := s.find(at-1.5*near, at+1.5*near); c.ok {
			off[i], sig[i] = c.at, c.sigma
		}
	}
}

// leastContrast is how much better, per sample and in its noise, an edge must explain a
// profile than no edge there: white paint on white paper reaches about one.
const leastContrast = 0.3

// theilSen fits y = slope·x + level by medians, unmoved by up to 29 % of strays: Theil 1950,
// Sen 1968.
func theilSen(x, y []float64) (slope, level float64) {
	var s []float64
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[j] != x[i] {
				s = append(s, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	slope = medianOf(s)
	var r []float64
	for i := range x {
		r = append(r, y[i]-slope*x[i])
	}
	return slope, medianOf(r)
}

// offLine gives how far each place lies off the line through all of them, and their scatter
// as a standard deviation (1.4826 × the median, for normal errors).
func offLine(x, y []float64) (res []float64, scatter float64) {
	slope, level := theilSen(x, y)
	for i := range x {
		res = append(res, math.Abs(y[i]-slope*x[i]-level))
	}
	return res, 1.4826 * medianOf(slices.Clone(res))
}

// leastRadius is the smallest radius, mm, taken for one: a straight corner seen through the
// samples' width and its broken edge may pass for two millimetres.
const leastRadius = 2.5

// startCorners guesses each outer corner's radius: of all roundings from none to 18 mm the
// one along which the look changes most from just inside to just outside.
func (h *hingeFit) startCorners(f *frame) {
	cam := h.camera(h.p)
	const (
		box  = 19.0 // mm, of the corner looked at: the largest radius and a little straight
		side = 0.45 // mm, inside and outside of the outline: clear of the broken edge
		dots = 48
	)
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		b := math.Min(box, l.width-h.p[pBarrel]/2-2)
		for end := range 2 {
			// a, c: from the outer edge and from this end.
			at := func(a, c float64) [3]float64 {
				if end == 1 {
					c = l.height - c
				}
				r, g, bl := f.rgb(cam.project(l.at(a, c)))
				return [3]float64{r, g, bl}
			}
			contrast := func(a, c, na, nc float64) float64 {
				in, out := at(a-na*side, c-nc*side), at(a+na*side, c+nc*side)
				d := 0.0
				for k := range 3 {
					d += math.Abs(in[k] - out[k])
				}
				return d
			}
			path := func(r float64) []float64 {
				length := 2*(b-r) + r*math.Pi/2
				var v []float64
				for k := range dots {
					s := (float64(k) + 0.5) / dots * length
					switch {
					case s < b-r:
						v = append(v, contrast(b-s, 0, 0, -1))
					case s < b-r+r*math.Pi/2:
						sn, cs := math.Sincos((s - (b - r)) / r)
						v = append(v, contrast(r-r*sn, r-r*cs, -sn, -cs))
					default:
						v = append(v, contrast(0, r+s-(b-r)-r*math.Pi/2, -1, 0))
					}
				}
				return v
			}
			// Contrast beyond what is usual here (a rust spot, a highlight) does not count more.
			limit := medianOf(path(0)[:dots/4])
			best, radius := -1.0, 0.0
			for r := 0.0; r <= 18 && r < b; r += 0.25 {
				sum := 0.0
				for _, c := range path(r) {
					sum += math.Min(c, limit)
				}
				if sum > best {
					best, radius = sum, r
				}
			}
			if radius < leastRadius {
				radius = 0 // square, broken by tumbling
			}
			h.p[pRadius0+2*leaf+end] = radius
			h.radius0[2*leaf+end] = radius
		}
	}
}

// restartCorners gives each corner whose arc was not found the radius of its leaf's other
// corner where that was found, else none, and reports whether an arc is to be looked for.
func (h *hingeFit) restartCorners() bool {
	var seen [4]bool
	for _, q := range h.outline {
		if q.kind >= 3 {
			seen[2*q.leaf+q.kind-3] = true
		}
	}
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

// cornersAround finds points of the rounded corners within reach of where the fit has them.
func (h *hingeFit) cornersAround(f *frame, reach float64) {
	cam := h.camera(h.p)
	eye := cam.eye()
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for end := range 2 {
			r := l.radius[end]
			if r < leastRadius || h.cornerSeen(leaf, 3+end) {
				continue
			}
			dv, cv := -1.0, r
			if end == 1 {
				dv, cv = 1, l.height-r
			}
			centre := l.at(r, cv)
			n := min(max(int(r*math.Pi/2/1.5), 5), 14)
			var got []outlinePoint
			var off []float64
			for k := range n {
				// From 6° to 84°: beyond, the arc runs into the straight edges.
				a0 := (6 + 78*float64(k)/float64(n)) * math.Pi / 180
				a1 := (6 + 78*float64(k+1)/float64(n)) * math.Pi / 180
				dir := func(a float64) vec3 { return l.u.mul(-math.Cos(a)).add(l.v.mul(dv * math.Sin(a))) }
				mid := dir((a0 + a1) / 2)
				x := centre.add(mid.mul(r))
				mm := 1 / cam.pxPerMM(x)
				const lines = 8
				p := f.across(&cam, func(i int, s float64) vec3 {
					return centre.add(dir(a0 + (a1-a0)*(float64(i)+0.5)/lines).mul(r + s))
				}, -reach-1.0, reach+1.5, math.Max(0.75*mm, 0.04), lines)
				c := p.find(h.look, sight(eye, x, mid, l.n), h.p[pThick], h.blur*mm, -reach, reach)
				if !c.ok || c.step < leastContrast {
					continue
				}
				got = append(got, outlinePoint{at: cam.project(centre.add(mid.mul(r + c.at))), leaf: leaf, kind: 3 + end,
					sigma: math.Hypot(c.sigma, 0.03)})
				off = append(off, c.at)
			}
			if len(got) < 4 || len(got)*2 < n {
				continue
			}
			mid := medianOf(append([]float64(nil), off...))
			var dev []float64
			for _, o := range off {
				dev = append(dev, math.Abs(o-mid))
			}
			scatter := 1.4826 * medianOf(append([]float64(nil), dev...))
			limit := math.Max(4*scatter, 0.15)
			for i := range got {
				if dev[i] <= limit {
					got[i].sigma = math.Hypot(got[i].sigma, scatter)
					h.outline = append(h.outline, got[i])
				}
			}
		}
	}
}

// silhouette gives where, on the level plane through the pin's axis, the edge of a barrel of
// radius r is seen on the side of out: x and z are the eye's distance from the axis towards
// out and above it. With a leaf on that side (gap: half the swage gap) a barrel seen from
// the same side ends where it meets the leaf's face, else at the tangent.
func silhouette(x, z, r, gap float64, leaf bool) float64 {
	d := math.Hypot(x, z)
	ang := math.Atan2(x, z) + math.Acos(math.Min(1, r/d))
	tx, tz := r*math.Sin(ang), r*math.Cos(ang)
	at := tx - (x-tx)*tz/(z-tz)
	if leaf && tz < -gap {
		cx := math.Sqrt(math.Max(0, r*r-gap*gap))
		at = cx + (x-cx)*gap/(z+gap)
	}
	return at
}

// axisFrame gives the barrel's axis, its direction, the way out to leaf 0's side, and the
// eye's place across and above the axis on that side.
func (h *hingeFit) axisFrame(cam *camera) (axis, v, out vec3, x, z float64) {
	s, c := math.Sincos(h.p[pPhi])
	v, out = vec3{c, s, 0}, vec3{-s, c, 0}
	axis = vec3{h.p[pX], h.p[pY], h.p[pBarrel] / 2}
	d := cam.eye().sub(axis)
	return axis, v, out, d.dot(out), d[2]
}

// startBarrel finds the barrel's diameter, the axis being midway between the outer edges:
// the pair of steps where a barrel would show them, with the evenest leaves beside it.
func (h *hingeFit) startBarrel(f *frame) {
	cam := h.camera(h.p)
	axis, v, out, ex, ez := h.axisFrame(&cam)
	mm := 1 / cam.pxPerMM(axis)
	step := math.Max(mm, 0.08)
	const lines = 60
	const reach = 18.0
	p := f.across(&cam, func(k int, t float64) vec3 {
		return axis.add(v.mul((float64(k)/(lines-1) - 0.5) * 0.9 * h.p[pHeight])).add(out.mul(t))
	}, -reach, reach, step, lines)
	n := len(p.s)
	w := max(1, int(0.15/step))
	slope := make([]float64, n)
	sum := make([]float64, n+1)
	for i := range n {
		if i >= w && i < n-w {
			for ch := range 3 {
				if d := math.Abs(p.v[ch][i+w] - p.v[ch][i-w]); !math.IsNaN(d) {
					slope[i] += d / (p.v[ch][i+w] + p.v[ch][i-w] + 0.02)
				}
			}
		}
		sum[i+1] = sum[i] + slope[i]
	}
	index := func(t float64) int { return min(max(int(math.Round((t+reach)/step)), 0), n-1) }
	peak := func(t float64) float64 {
		m := 0.0
		for i := index(t - 0.25); i <= index(t+0.25); i++ {
			m = math.Max(m, slope[i])
		}
		return m
	}
	rest := func(a, b float64) float64 { return (sum[index(b)] - sum[index(a)]) / float64(index(b)-index(a)+1) }
	type trial struct{ d, score float64 }
	var trials []trial
	best := 0.0
	for d := leastBarrel; d <= mostBarrel; d += 0.1 {
		r := d / 2
		score := 0.0
		for off := -1.0; off <= 1.0; off += 0.25 {
			a := off + silhouette(ex, ez, r, h.p[pGap]/2, true)
			b := off - silhouette(-ex, ez, r, h.p[pGap]/2, true)
			e := math.Min(peak(a), peak(b)) + 0.3*math.Max(peak(a), peak(b))
			quiet := rest(a+0.8, a+4.5) + rest(b-4.5, b-0.8)
			score = math.Max(score, e/(quiet+0.02)*math.Exp(-off*off/2-(d-11.5)*(d-11.5)/(2*9)))
		}
		trials = append(trials, trial{d, score})
		best = math.Max(best, score)
	}
	// The slot beside the barrel shows the same steps a little farther out: the least
	// diameter that scores nearly as well as the best.
	for _, t := range trials {
		if t.score >= 0.75*best {
			h.startAt(t.d)
			return
		}
	}
}

// startAt takes a barrel's diameter as a start, and the thickness that goes with it.
func (h *hingeFit) startAt(d float64) {
	h.p[pBarrel] = d
	if !h.thick.Known() {
		h.p[pThick] = math.Max(1.8, (d-pinDiameter)/2)
	}
}

// Looking at a barrel from above, by the tangent of the angle from the vertical towards a
// side: beyond nearSide that side is the near one, where the leaf's bend hides the barrel's
// edge but for the slots cut for the other leaf's knuckles; beyond nearLimit the slot's
// shadow hides it there too.
const nearSide, nearLimit = 0.12, 0.35

// barrelAround finds the barrel's silhouette: on the far side the last of the metal before
// the leaf behind it, on the near side where a slot shows it.
func (h *hingeFit) barrelAround(f *frame, reach float64) {
	cam := h.camera(h.p)
	h.barrel = h.barrel[:0]
	r := h.p[pBarrel] / 2
	for leaf := range 2 {
		axis, v, out, x, z := h.axisFrame(&cam)
		if leaf == 1 {
			out, x = out.mul(-1), -x
		}
		near := h.leaves[leaf] && x/z > nearSide
		if near && x/z > nearLimit {
			continue
		}
		at := silhouette(x, z, r, h.p[pGap]/2, h.leaves[leaf])
		n := 16
		var pos, off, strength []float64
		for k := range n {
			v0 := (0.04 + 0.92*float64(k)/float64(n) - 0.5) * h.p[pHeight]
			v1 := (0.04 + 0.92*float64(k+1)/float64(n) - 0.5) * h.p[pHeight]
			mid := axis.add(v.mul((v0 + v1) / 2)).add(out.mul(at))
			mm := 1 / cam.pxPerMM(mid)
			const lines = 8
			step := math.Max(0.5*mm, 0.03)
			p := f.across(&cam, func(i int, t float64) vec3 {
				return axis.add(v.mul(v0 + (v1-v0)*(float64(i)+0.5)/lines)).add(out.mul(at + t))
			}, -reach-0.5, reach+0.9, step, lines)
			if t, w, slot, ok := p.barrelStep(h.blur*mm, !h.leaves[leaf]); ok && (slot || !near) {
				pos, off, strength = append(pos, (v0+v1)/2), append(off, t), append(strength, w)
			}
		}
		pos, off = strongest(pos, off, strength)
		doubt := 0.0
		if h.leaves[leaf] {
			pos, off, doubt = inner(pos, off)
		} else {
			pos, off = outermost(pos, off, 0.6)
		}
		if len(pos) < 4 {
			continue
		}
		res, scatter := offLine(pos, off)
		// Places along one side share what shifts them (shading, the slot's shadow): they tell
		// no more than a few independent ones.
		sigma := math.Hypot(math.Hypot(scatter, doubt), barrelBias) * math.Sqrt(math.Max(1, float64(len(pos))/4))
		for i := range pos {
			if res[i] > math.Max(3*scatter, 0.06) {
				continue
			}
			q := axis.add(v.mul(pos[i])).add(out.mul(at + off[i]))
			h.barrel = append(h.barrel, barrelPoint{at: cam.project(q), leaf: leaf, sigma: sigma})
		}
	}
}

// strongest keeps the places with at least half of the best one's strength: where a
// painted knuckle runs into its own leaf there is hardly an edge.
func strongest(pos, off, strength []float64) (p, o []float64) {
	top := 0.0
	for _, w := range strength {
		top = math.Max(top, w)
	}
	for i, w := range strength {
		if w >= top/2 {
			p, o = append(p, pos[i]), append(o, off[i])
		}
	}
	return p, o
}

// inner keeps the inner group where places fall into two, the barrel's edge and that of the
// leaf cut out for it, and tells how much the places would move by the other choice, mm.
func inner(pos, off []float64) (p, o []float64, doubt float64) {
	const apart, share = 0.2, 0.3 // mm; of the places
	sorted := append([]float64(nil), off...)
	slices.Sort(sorted)
	n := len(sorted)
	cut := math.Inf(1)
	for i := 1; i < n; i++ {
		if sorted[i]-sorted[i-1] > apart && float64(i) >= share*float64(n) {
			cut = sorted[i]
			doubt = (sorted[(i+n)/2] - sorted[i/2]) * float64(n-i) / float64(n)
			break
		}
	}
	for i := range off {
		if off[i] < cut {
			p, o = append(p, pos[i]), append(o, off[i])
		}
	}
	return p, o, doubt
}

// outermost keeps the places within band of the third farthest out: knuckles, not the
// spaces between them.
func outermost(pos, off []float64, band float64) (p, o []float64) {
	if len(off) < 4 {
		return nil, nil
	}
	sorted := append([]float64(nil), off...)
	slices.Sort(sorted)
	top := sorted[len(sorted)-3]
	for i := range off {
		if math.Abs(off[i]-top) <= band {
			p, o = append(p, pos[i]), append(o, off[i])
		}
	}
	return p, o
}

// cornerSeen reports whether points of a corner's arc are there already.
func (h *hingeFit) cornerSeen(leaf, kind int) bool {
	return slices.ContainsFunc(h.outline, func(q outlinePoint) bool { return q.leaf == leaf && q.kind == kind })
}

// startFreeBarrel finds the barrel of a single leaf: along its free side stand knuckles,
// whose silhouettes lie farthest out, and between them the spaces cut for the other leaf's
// knuckles, whose edge lies one barrel and a little clearance farther in.
func (h *hingeFit) startFreeBarrel(f *frame) {
	leaf := 0
	if h.leaves[1] {
		leaf = 1
	}
	cam := h.camera(h.p)
	l := h.face(h.p, leaf)
	const stretches, lines = 28, 6
	var outer, inner []float64
	var all []float64
	mm := 1 / cam.pxPerMM(l.at(l.width, l.height/2))
	step := math.Max(mm, 0.08)
	for k := range stretches {
		v0, v1 := l.height*(0.02+0.96*float64(k)/stretches), l.height*(0.02+0.96*float64(k+1)/stretches)
		p := f.across(&cam, func(i int, t float64) vec3 {
			return l.at(l.width+t, v0+(v1-v0)*(float64(i)+0.5)/lines)
		}, -13, 12, step, lines)
		// The strongest step, of light in proportion, so that a shadow's foot does not win.
		w := max(1, int(0.2/step))
		top, at := 0.0, 0.0
		for i := w; i < len(p.s)-w; i++ {
			d := 0.0
			for c := range 3 {
				d += math.Abs(p.v[c][i+w]-p.v[c][i-w]) / (p.v[c][i+w] + p.v[c][i-w] + 0.02)
			}
			if d > top {
				top, at = d, p.s[i]
			}
		}
		if top > 0.1 {
			all = append(all, at)
		}
	}
	if len(all) < 8 {
		return
	}
	slices.Sort(all)
	top := all[len(all)-3]
	for _, t := range all {
		switch {
		case t > top-1.2:
			outer = append(outer, t)
		case t > top-mostBarrel && t < top-leastBarrel:
			inner = append(inner, t)
		}
	}
	if len(outer) < 3 || len(inner) < 3 {
		return
	}
	// The silhouette stands on the axis' level, the cut on the face: both are read on the
	// face, which is half the swage gap lower; the difference is within the spread.
	const clearance, spread = 0.4, 0.3 // mm, between a knuckle and the leaf cut out for it
	d := medianOf(outer) - medianOf(inner) - clearance
	h.freeBarrel = Estimate{Length(d), spread}
	move := medianOf(outer) - d/2
	h.p[pWidth0], h.p[pWidth1] = h.p[pWidth0]+move, h.p[pWidth1]+move
	h.p[pX] -= move * -l.u[0] / math.Hypot(l.u[0], l.u[1])
	h.p[pY] -= move * -l.u[1] / math.Hypot(l.u[0], l.u[1])
	h.width0 = h.p[pWidth0]
	h.startAt(d)
}

// slotWidth is the widest slot between a barrel and the leaf cut out for it, mm (common
// practice: a few tenths), seen aslant.
const slotWidth = 0.8

// barrelStep finds a barrel's silhouette on a profile that runs outward from the barrel over
// its edge on to the leaf: the strongest step, or where that is a leaf's edge with a dark
// slot before it, the step at the slot's other side. On a free side, where the table lies
// beyond, steps count in proportion to the light, so that a shadow's rim does not win.
func (p profile) barrelStep(blur float64, free bool) (place, strength float64, slot, ok bool) {
	n := len(p.s)
	step := p.s[1] - p.s[0]
	w := max(1, int(math.Round(blur/step)))
	d := make([]float64, n)
	top := 0.0
	for i := w; i < n-w; i++ {
		for c := range 3 {
			step := p.v[c][i+w] - p.v[c][i-w]
			if free {
				step /= p.v[c][i+w] + p.v[c][i-w] + 0.02
			}
			d[i] += step
		}
		if math.IsNaN(d[i]) {
			return 0, 0, false, false
		}
		if p.s[i] > -0.7 {
			top = math.Max(top, math.Abs(d[i]))
		}
	}
	if !free && top < 8*p.noise || top < 0.03 && free {
		return 0, 0, false, false
	}
	peak := func(i int) bool {
		return math.Abs(d[i]) >= math.Abs(d[i-1]) && math.Abs(d[i]) >= math.Abs(d[i+1])
	}
	at := func(i int) float64 {
		a, b, c := math.Abs(d[i-1]), math.Abs(d[i]), math.Abs(d[i+1])
		t := 0.0
		if q := a - 2*b + c; q < 0 {
			t = 0.5 * (a - c) / q
		}
		return p.s[i] + t*step
	}
	best := 0
	for i := w + 2; i < n-w-1; i++ {
		if p.s[i] > -0.7 && peak(i) && math.Abs(d[i]) >= top {
			best = i
		}
	}
	if best == 0 {
		return 0, 0, false, false
	}
	if d[best] > 0 {
		for j := best - 1; j > w+1 && p.s[best]-p.s[j] <= slotWidth; j-- {
			if d[j] < 0 && -d[j] >= 0.35*d[best] && peak(j) {
				return at(j), top, true, true
			}
		}
	}
	return at(best), top, d[best] < 0, true
}
