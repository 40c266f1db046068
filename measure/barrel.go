package measure

import (
	"math"
	"slices"
)

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
