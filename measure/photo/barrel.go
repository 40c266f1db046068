package photo

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/locate"
	"leafgauge/measure/picture"
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

// axisFrame gives the barrel's axis, its direction, the way out to a leaf's side, and the
// eye's place across and above the axis on that side.
func (h *hingeFit) axisFrame(cam *geom.Camera, leaf int) (axis, v, out geom.Vec3, x, z float64) {
	s, c := math.Sincos(h.p[pPhi])
	v, out = geom.Vec3{c, s, 0}, geom.Vec3{-s, c, 0}
	if leaf == 1 {
		out = out.Mul(-1)
	}
	axis = geom.Vec3{h.p[pX], h.p[pY], h.p[pBarrel] / 2}
	d := cam.Eye().Sub(axis)
	return axis, v, out, d.Dot(out), d[2]
}

// startBarrel finds the barrel's diameter, the axis being midway between the outer edges:
// the pair of steps where a barrel would show them, with the evenest leaves beside it.
func (h *hingeFit) startBarrel(f *picture.Frame) {
	cam := h.camera(h.p)
	axis, v, out, ex, ez := h.axisFrame(&cam, 0)
	mm := 1 / cam.PxPerMM(axis)
	step := math.Max(mm, 0.08)
	const reach = 18.0
	// A slot lies beside every other knuckle only: steps are taken on stretches, not on all of
	// the length at once.
	const stretches, lines = 12, 10
	n := int(math.Round(2*reach/step)) + 1
	w := max(1, int(0.15/step))
	slope := make([]float64, n)
	for k := range stretches {
		p := f.Across(&cam, func(i int, t float64) geom.Vec3 {
			s := (float64(k) + (float64(i)+0.5)/lines) / stretches
			return axis.Add(v.Mul((s - 0.5) * 0.9 * h.p[pHeight])).Add(out.Mul(t))
		}, -reach, reach, step, lines)
		for i, d := range changes(p, w) {
			slope[i] += d / stretches
		}
	}
	sum := make([]float64, n+1)
	for i := range n {
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
	var best trial
	for d := locate.LeastBarrel; d <= locate.MostBarrel; d += 0.1 {
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
		if score > best.score {
			best = trial{d, score}
		}
	}
	// The slot beside the barrel shows the same steps a little farther out: the least
	// diameter that scores nearly as well as the best and is no more than two slots smaller.
	for _, t := range trials {
		if t.score >= 0.75*best.score && t.d >= best.d-2*slotWidth {
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
// edge but for the slots cut for the other leaf's knuckles.
const nearSide = 0.12

// barrelAround finds the barrel's silhouette, within reach millimetres of where the fit has it:
// on both sides of a pair, on the free side of a single leaf, whose other side shows its spaces
// as well as its knuckles.
func (h *hingeFit) barrelAround(f *picture.Frame, reach float64) {
	cam := h.camera(h.p)
	h.barrel = h.barrel[:0]
	for leaf := range 2 {
		switch {
		case !h.leaves[leaf]:
			h.besideTable(f, &cam, leaf, reach)
		case h.leaves[1-leaf]:
			h.besideLeaf(f, &cam, leaf, reach)
		}
	}
}

// besideLeaf finds the silhouette on a side where a leaf lies: the barrel's limb against its
// own leaf's face, or the last of it before the slot cut in the leaf for the other's knuckles.
// Lines along the barrel are sorted into those with a slot and those without, and each lot's
// median profile is read, so that rust and noise along it do not count.
func (h *hingeFit) besideLeaf(f *picture.Frame, cam *geom.Camera, leaf int, reach float64) {
	axis, v, out, x, z := h.axisFrame(cam, leaf)
	tan := x / z
	at := silhouette(x, z, h.p[pBarrel]/2, h.p[pGap]/2, true)
	mm := 1 / cam.PxPerMM(axis.Add(out.Mul(at)))
	step := math.Max(0.5*mm, 0.03)
	const lines = 96
	along := func(k float64) geom.Vec3 { return axis.Add(v.Mul((k/lines - 0.5) * 0.92 * h.p[pHeight])) }
	lo, hi := -reach-0.5, reach+slotWidth+0.4
	n := int((hi-lo)/step) + 1
	strip := make([][]float64, lines)
	way := cam.R.Apply(out) // as the camera has it
	for k := range lines {
		l := make([]float64, n)
		from := cam.R.Apply(along(float64(k) + 0.5)).Add(cam.T)
		for i := range l {
			q := cam.Image(from.Add(way.Mul(at + lo + float64(i)*step)))
			if !f.Inside(q, 1) {
				return
			}
			l[i] = picture.Linear(f.Luma(q))
		}
		strip[k] = l
	}
	end := func(part []int, slot bool) (t float64, ok bool) {
		return limb(medianProfile(strip, part), h.blur*mm/step, slotWidth/step, slot)
	}
	slot, plain := slotLines(strip)
	if len(slot) > 0 {
		if _, ok := end(slot, true); !ok {
			slot, plain = nil, append(slot, plain...)
			slices.Sort(plain)
		}
	}
	type found struct{ k, t float64 }
	var all []found
	for lot, group := range [2][]int{slot, plain} {
		if lot == 1 && tan > nearSide {
			continue // the leaf's bend hides the barrel's edge
		}
		for half := range 2 {
			part := group[half*len(group)/2 : (half+1)*len(group)/2]
			if len(part) < 6 {
				continue
			}
			if t, ok := end(part, lot == 0); ok {
				k := 0.0
				for _, i := range part {
					k += float64(i) + 0.5
				}
				all = append(all, found{k / float64(len(part)), lo + t*step})
			}
		}
	}
	sigma := barrelBias
	if tan > nearSide {
		sigma = slotBias
	}
	// Parts of one side that disagree took different lines for its end.
	var mean, square float64
	for _, q := range all {
		mean, square = mean+q.t/float64(len(all)), square+q.t*q.t/float64(len(all))
	}
	sigma = math.Hypot(sigma, math.Sqrt(math.Max(0, square-mean*mean)))
	for _, q := range all {
		if math.Abs(q.t) > reach {
			continue
		}
		px := cam.Project(along(q.k).Add(out.Mul(at + q.t)))
		h.barrel = append(h.barrel, barrelPoint{at: px, leaf: leaf, sigma: sigma * math.Sqrt(float64(len(all)))})
	}
}

// slotLines sorts lines across a barrel's edge into those that pass over a dark slot and those
// that do not, by their darkest place: Otsu's split (1979), taken where it tells.
func slotLines(strip [][]float64) (slot, plain []int) {
	type line struct {
		i    int
		dark float64 // the darkest place's light, of the barrel's, as a logarithm
	}
	ls := make([]line, len(strip))
	for i, l := range strip {
		least := math.Inf(1)
		for k := 1; k < len(l)-1; k++ {
			least = math.Min(least, (l[k-1]+l[k]+l[k+1])/3)
		}
		barrel := geom.Median(slices.Clone(l[:len(l)/4]))
		ls[i] = line{i, math.Log((least + 0.001) / (barrel + 0.001))}
	}
	slices.SortFunc(ls, func(a, b line) int { return cmp.Compare(a.dark, b.dark) })
	sum := make([]float64, len(ls)+1)
	for i, l := range ls {
		sum[i+1] = sum[i] + l.dark
	}
	n := len(ls)
	cut, best := 0, 0.0
	for k := n / 5; k <= n-n/5; k++ {
		d := (sum[n]-sum[k])/float64(n-k) - sum[k]/float64(k)
		if b := float64(k*(n-k)) * d * d; b > best && d > leastSlot {
			cut, best = k, b
		}
	}
	for k, l := range ls {
		if k < cut {
			slot = append(slot, l.i)
		} else {
			plain = append(plain, l.i)
		}
	}
	slices.Sort(slot)
	slices.Sort(plain)
	return slot, plain
}

// leastFall is how much of a limb's light is lost over its end where a slot lies beyond, at
// the least.
const leastFall = 0.25

// leastSlot is how much darker a slot is than the crease between a barrel and its leaf, as a
// natural logarithm: a third.
const leastSlot = 0.4

// medianProfile is the median over some of the lines at each place.
func medianProfile(strip [][]float64, lines []int) []float64 {
	p := make([]float64, len(strip[0]))
	col := make([]float64, len(lines))
	for k := range p {
		for j, i := range lines {
			col[j] = strip[i][k]
		}
		p[k] = geom.Median(col)
	}
	return p
}

// limb finds the end of a barrel on a profile of light that runs outward over it, in samples:
// where it falls fastest before a slot, else where the limb's dark ends and the leaf's light
// begins. blur and the widest slot are in samples.
func limb(p []float64, blur, widest float64, slot bool) (t float64, ok bool) {
	w := max(1, int(math.Round(blur)))
	n := len(p)
	d := make([]float64, n)
	for i := w; i < n-w; i++ {
		d[i] = p[i+w] - p[i-w]
	}
	best, end := 0, n-w-1
	if slot {
		// Before the slot's floor, downward.
		end = w
		for i := w; i < n-w-1; i++ {
			d[i] = -d[i]
			if p[i] < p[end] {
				end = i
			}
		}
	}
	for i := w + 1; i < end; i++ {
		if best == 0 || d[i] > d[best] {
			best = i
		}
	}
	if best <= w || best >= n-w-1 {
		return 0, false
	}
	if slot {
		// Beyond the slot the leaf's edge rises.
		rise := end
		for i := end; i < n-w-1; i++ {
			if d[i] < d[rise] {
				rise = i
			}
		}
		if float64(rise-best) > widest || d[best] < leastFall*slices.Max(p[max(0, best-2*w):best]) {
			return 0, false
		}
	}
	// What stands out little from the rest of the shading, or from its noise, is not the end.
	var rough []float64
	for i := w; i < n-w; i++ {
		rough = append(rough, math.Abs(p[i-w]-2*p[i]+p[i+w])/(p[i-w]+p[i+w]))
		if !slot && math.Abs(float64(i-best)) > 4*blur+2 && d[i] > d[best]/leastRise {
			return 0, false
		}
	}
	if d[best] < leastClear*geom.Median(rough)*(p[best-w]+p[best+w]) {
		return 0, false
	}
	return float64(best) + summit(d[best-1], d[best], d[best+1]), true
}

// leastRise is how much steeper the light rises where a limb meets its leaf than elsewhere, and
// leastClear how much more it changes there, in proportion, than it usually does to and fro.
const leastRise, leastClear = 1.5, 5

// besideTable finds the silhouette of a single leaf's barrel on its free side: the places
// farthest out, for between the knuckles the table shows.
func (h *hingeFit) besideTable(f *picture.Frame, cam *geom.Camera, leaf int, reach float64) {
	axis, v, out, x, z := h.axisFrame(cam, leaf)
	at := silhouette(x, z, h.p[pBarrel]/2, h.p[pGap]/2, false)
	n := 16
	var pos, off, strength []float64
	for k := range n {
		v0 := (0.04 + 0.92*float64(k)/float64(n) - 0.5) * h.p[pHeight]
		v1 := (0.04 + 0.92*float64(k+1)/float64(n) - 0.5) * h.p[pHeight]
		mid := axis.Add(v.Mul((v0 + v1) / 2)).Add(out.Mul(at))
		mm := 1 / cam.PxPerMM(mid)
		const lines = 8
		step := math.Max(0.5*mm, 0.03)
		p := f.Across(cam, func(i int, t float64) geom.Vec3 {
			return axis.Add(v.Mul(v0 + (v1-v0)*(float64(i)+0.5)/lines)).Add(out.Mul(at + t))
		}, -reach-0.5, reach+0.9, step, lines)
		if t, w, ok := freeStep(p, h.blur*mm); ok {
			pos, off, strength = append(pos, (v0+v1)/2), append(off, t), append(strength, w)
		}
	}
	pos, off = strongest(pos, off, strength)
	pos, off = outermost(pos, off, 0.6)
	if len(pos) < 4 {
		return
	}
	res, scatter := geom.OffLine(pos, off)
	// Places along one side share what shifts them, a highlight within or a shadow beyond: they
	// tell no more than a few independent ones.
	sigma := math.Hypot(scatter, slotBias) * math.Sqrt(math.Max(1, float64(len(pos))/4))
	for i := range pos {
		if res[i] > math.Max(3*scatter, 0.06) {
			continue
		}
		q := axis.Add(v.Mul(pos[i])).Add(out.Mul(at + off[i]))
		h.barrel = append(h.barrel, barrelPoint{at: cam.Project(q), leaf: leaf, sigma: sigma})
	}
}

// strongest keeps the places with at least half of the best one's strength: between knuckles
// there is only the table's grain.
func strongest(pos, off, strength []float64) (p, o []float64) {
	for i, w := range strength {
		if w >= slices.Max(strength)/2 {
			p, o = append(p, pos[i]), append(o, off[i])
		}
	}
	return p, o
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

// usualBarrel is what the barrel's diameter is likely to be before it is seen, mm, with its standard
// uncertainty: a leaf of that thickness rolled round a pin.
func (h *hingeFit) usualBarrel() (mean, sigma float64) {
	thick, u := thickMean, thickSigma
	if h.thick.Known() {
		thick, u = h.thick.Value.MM(), h.thick.Sigma.MM()
	}
	return pinDiameter + 2*thick, math.Hypot(pinSigma, 2*u)
}

// startFreeBarrel finds the barrel of a single leaf: along its free side stand knuckles,
// whose silhouettes lie farthest out, and between them the spaces cut for the other leaf's
// knuckles, whose edge lies one barrel and a little clearance farther in.
func (h *hingeFit) startFreeBarrel(f *picture.Frame) {
	leaf := 0
	if h.leaves[1] {
		leaf = 1
	}
	cam := h.camera(h.p)
	l := h.face(h.p, leaf)
	const stretches, lines = 28, 6
	const lo, hi = -18.0, 12.0
	step := math.Max(1/cam.PxPerMM(l.At(l.Width, l.Height/2)), 0.08)
	w := max(1, int(0.2/step))
	// Each stretch's steps of light, of its greatest, so that each stretch has one vote, and the
	// greatest of them within reach.
	const reach = 0.3 // mm
	var steps, near [][]float64
	var seen []picture.Profile
	for k := range stretches {
		v0, v1 := l.Height*(0.02+0.96*float64(k)/stretches), l.Height*(0.02+0.96*float64(k+1)/stretches)
		p := f.Across(&cam, func(i int, t float64) geom.Vec3 {
			return l.At(l.Width+t, v0+(v1-v0)*(float64(i)+0.5)/lines)
		}, lo, hi, step, lines)
		d := changes(p, w)
		top := slices.Max(d)
		if top < 0.1 {
			continue
		}
		seen = append(seen, p)
		wide := make([]float64, len(d))
		for i := range d {
			d[i] /= top
			wide[i] = slices.Max(d[max(i-int(reach/step), 0):min(i+int(reach/step)+1, len(d))])
		}
		steps, near = append(steps, d), append(near, wide)
	}
	if len(steps) < 8 {
		return
	}
	// The silhouette stands on the axis' level, the cut on the face: both are read on the
	// face, which is half the swage gap lower; the difference is within the spread.
	const clearance = 0.5 // mm, between a knuckle and the leaf cut out for it: 0.2 to slotWidth
	usual, sigma := h.usualBarrel()
	// A highlight on the knuckles steps too, and the end of their shadow: all pairs of places are
	// weighed by how well knuckles and spaces show them, by how much the stretches begin to differ
	// there and cease to, and how usual the barrel is.
	turns := turnsOf(seen, int(1/step))
	const grid = 0.2       // mm
	const plainTurn = 0.25 // from there on the one place is as good as another: a shadow's end tells too
	type pair struct{ outer, d, score float64 }
	var pairs []pair
	type way struct{ out, in float64 }
	ways := make([]way, len(steps))
	for outer := lo + locate.LeastBarrel + 1; outer < hi; outer += grid {
		for d := locate.LeastBarrel; d <= locate.MostBarrel && outer-d-clearance > lo; d += grid {
			at := [2]int{int((outer - lo) / step), int((outer - d - clearance - lo) / step)}
			for k, s := range near {
				ways[k] = way{s[at[0]], s[at[1]]}
			}
			slices.SortFunc(ways, func(a, b way) int { return cmp.Compare(b.out-b.in, a.out-a.in) })
			// Two fifths of the length at least are the leaf's own knuckles, or spaces.
			n := 2 * len(ways) / 5
			out, in := ways[n/2].out, ways[len(ways)-1-n/2].in
			z := (d - usual) / sigma
			turn := math.Min(turns(at[0], -1), turns(at[1], 1))
			pairs = append(pairs, pair{outer, d, (math.Min(out, in) + 0.3*math.Max(out, in)) * math.Exp(-z*z/2) * math.Min(math.Max(turn/plainTurn, 0.1), 1)})
		}
	}
	if len(pairs) == 0 {
		return
	}
	best := slices.MaxFunc(pairs, func(a, b pair) int { return cmp.Compare(a.score, b.score) })
	if best.score < 0.3 {
		return
	}
	// Where the steps are, to the sample; what is seen nearly as well a few tenths off is the same.
	at := func(t float64) float64 {
		var all []float64
		for k, s := range steps {
			i, j := max(int((t-2*reach-lo)/step), 0), min(int((t+2*reach-lo)/step)+1, len(s))
			if near[k][(i+j)/2] > 0.5 && j > i {
				all = append(all, lo+float64(i+greatest(s[i:j]))*step)
			}
		}
		if len(all) == 0 {
			return t
		}
		return geom.Median(all)
	}
	outer := at(best.outer)
	d := outer - at(best.outer-best.d-clearance) - clearance
	var sum, square float64
	for _, q := range pairs {
		odds := math.Pow(q.score/best.score, 8)
		off := math.Max(0, math.Hypot(q.outer-best.outer, q.d-best.d)-2*reach)
		sum, square = sum+odds, square+odds*off*off
	}
	spread := math.Hypot(0.3, math.Sqrt(square/sum))
	h.freeBarrel, h.shown = measure.Estimate{Value: measure.Length(d), Sigma: measure.Length(spread)}, best.score
	move := outer - d/2
	h.p[pWidth0], h.p[pWidth1] = h.p[pWidth0]+move, h.p[pWidth1]+move
	h.p[pX] -= move * -l.U[0] / math.Hypot(l.U[0], l.U[1])
	h.p[pY] -= move * -l.U[1] / math.Hypot(l.U[0], l.U[1])
	copy(h.start[:], h.p)
	h.startAt(d)
}

// turnsOf tells of stretches along an edge, n samples to the millimetre, how much more they differ just on one
// side (1 outward, -1 inward) of a place than just on the other, in proportion to both: knuckles and
// spaces take turns, while the leaf and the table are much the same all along.
func turnsOf(all []picture.Profile, n int) func(at, side int) float64 {
	size := len(all[0].S)
	sums := make([]float64, size+1)
	for i := range size {
		var count, sum, square float64
		for _, p := range all {
			if v := p.V[0][i] + p.V[1][i] + p.V[2][i]; v > 0 {
				l := math.Log(v)
				count, sum, square = count+1, sum+l, square+l*l
			}
		}
		if count > 1 {
			sums[i+1] = math.Sqrt(math.Max(0, square/count-sum*sum/count/count))
		}
		sums[i+1] += sums[i]
	}
	clear := n / 4 // the step itself
	mean := func(from, to int) float64 {
		from, to = min(max(from, 0), size), min(max(to, 0), size)
		return (sums[to] - sums[from]) / float64(max(to-from, 1))
	}
	return func(at, side int) float64 {
		outside, inside := mean(at+clear, at+clear+n), mean(at-clear-n, at-clear)
		if side < 0 {
			outside, inside = inside, outside
		}
		return (outside - inside) / (outside + inside + 0.02)
	}
}

// changes is how much the light changes over w samples to either side, in proportion to it;
// 0 where the profile does not reach.
func changes(p picture.Profile, w int) []float64 {
	d := make([]float64, len(p.S))
	for i := w; i < len(p.S)-w; i++ {
		for c := range 3 {
			if v := math.Abs(p.V[c][i+w] - p.V[c][i-w]); !math.IsNaN(v) {
				d[i] += v / (p.V[c][i+w] + p.V[c][i-w] + 0.02)
			}
		}
	}
	return d
}

// slotWidth is the widest slot between a barrel and the leaf cut out for it, mm (common
// practice: a few tenths), seen aslant.
const slotWidth = 0.8

// freeStep finds a barrel's end on a profile that runs outward over it on to the table: the
// strongest step, or where that is the rim of the barrel's shadow, the step down into it. Steps
// count in proportion to the light.
func freeStep(p picture.Profile, blur float64) (place, strength float64, ok bool) {
	const least, share = 0.03, 0.35 // of the light; of the shadow's rim
	n := len(p.S)
	step := p.S[1] - p.S[0]
	w := max(1, int(math.Round(blur/step)))
	d := make([]float64, n)
	best := 0
	for i := w; i < n-w; i++ {
		for c := range 3 {
			d[i] += (p.V[c][i+w] - p.V[c][i-w]) / (p.V[c][i+w] + p.V[c][i-w] + 0.02)
		}
		if math.IsNaN(d[i]) {
			return 0, 0, false
		}
		if i >= w+2 && i < n-w-1 && p.S[i] > -0.7 && (best == 0 || math.Abs(d[i]) > math.Abs(d[best])) {
			best = i
		}
	}
	if best == 0 || math.Abs(d[best]) < least {
		return 0, 0, false
	}
	strength = math.Abs(d[best])
	if d[best] > 0 {
		for j := best - 1; j > w+1 && p.S[best]-p.S[j] <= slotWidth; j-- {
			if -d[j] >= share*d[best] && d[j] <= d[j-1] && d[j] <= d[j+1] {
				best = j
				break
			}
		}
	}
	return p.S[best] + summit(d[best-1], d[best], d[best+1])*step, strength, true
}

// summit gives where, in steps from the middle one of three values, the parabola through them
// has its top or bottom, within half a step.
func summit(a, b, c float64) float64 {
	q := a - 2*b + c
	if q == 0 {
		return 0
	}
	return min(max(0.5*(a-c)/q, -0.5), 0.5)
}
