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
					sigma: math.Hypot(c.sigma, 0.02)})
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

// cornerSeen reports whether points of a corner's arc are there already.
func (h *hingeFit) cornerSeen(leaf, kind int) bool {
	return slices.ContainsFunc(h.outline, func(q outlinePoint) bool { return q.leaf == leaf && q.kind == kind })
}
