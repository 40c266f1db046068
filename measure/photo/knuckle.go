package photo

import (
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// barrelRows is how many lines along the barrel are read, spread over ±45° about the side
// that faces the eye: farther round, the leaves hide it.
const barrelRows = 15

// A barrelView is the barrel's surface straightened: light (gamma-coded luma) by line and by
// place along the pin. Joints between knuckles, which are rings about the pin, are straight
// across it.
type barrelView struct {
	f        *picture.Frame
	cam      *geom.Camera
	base     geom.Vec3 // the pin axis at the first end
	along    geom.Vec3 // unit, along the pin
	up, side geom.Vec3 // unit, square to it: towards the eye, and aside
	radius   float64
	height   float64
	step     float64 // mm between samples
	light    [barrelRows][]float64
	sums     [3][barrelRows][]float64 // of light, Cb and Cr before each place, and of all; of colours once read
}

// newBarrelView reads the barrel of a hinge of one or two leaves.
func newBarrelView(f *picture.Frame, cam *geom.Camera, faces []geom.Face, diameter float64) *barrelView {
	var base, along geom.Vec3
	height := 0.
	for _, l := range faces {
		base = base.Add(l.At(l.Width, 0).Mul(1 / float64(len(faces))))
		along = along.Add(l.V)
		height += l.Height / float64(len(faces))
	}
	base[2] = diameter / 2
	b := &barrelView{f: f, cam: cam, base: base, along: along.Unit(), radius: diameter / 2, height: height}
	e := cam.Eye().Sub(base).Sub(b.along.Mul(height / 2))
	off := e.Sub(b.along.Mul(e.Dot(b.along)))
	b.up = off.Unit()
	b.side = b.along.Cross(b.up)
	ppm := cam.PxPerMM(base.Add(b.along.Mul(height / 2)))
	b.step = math.Max(0.1, 0.7/ppm)
	n := int(height/b.step) + 1
	for r := range b.light {
		b.light[r], b.sums[0][r] = make([]float64, n), make([]float64, n+1)
	}
	b.each(func(r, i int, p measure.Pixel) {
		v := f.Luma(p)
		b.light[r][i] = v
		b.sums[0][r][i+1] = b.sums[0][r][i] + v
	})
	return b
}

// readColours reads the sums of Cb and Cr, and takes light by its logarithm: such that the same share of it
// is the same in highlights and in shade, about luma's levels in the middle of its range. Below 20 levels noise
// tells as much as light.
func (b *barrelView) readColours() {
	for q := range b.sums {
		for r, l := range b.light {
			b.sums[q][r] = make([]float64, len(l)+1)
		}
	}
	b.each(func(r, i int, p measure.Pixel) {
		cb, cr := b.f.Chroma(p)
		for q, v := range [3]float64{110 * math.Log(b.light[r][i]+20), cb, cr} {
			b.sums[q][r][i+1] = b.sums[q][r][i] + v
		}
	})
}

// each gives the picture of every sample, those of all lines side by side in turn: they lie near to
// each other in memory.
func (b *barrelView) each(see func(r, i int, p measure.Pixel)) {
	var from [barrelRows]geom.Vec3 // the lines' starts as the camera has them
	for r := range from {
		a := (float64(r)/(barrelRows-1) - 0.5) * math.Pi / 2
		from[r] = b.cam.R.Apply(b.at(a, 0)).Add(b.cam.T)
	}
	way := b.cam.R.Apply(b.along)
	for i := range b.light[0] {
		on := way.Mul(float64(i) * b.step)
		for r := range from {
			see(r, i, b.cam.Image(from[r].Add(on)))
		}
	}
}

// at is the place on the barrel's surface at an angle from the side that faces the eye.
func (b *barrelView) at(angle, v float64) geom.Vec3 {
	s, c := math.Sincos(angle)
	return b.base.Add(b.along.Mul(v)).Add(b.up.Mul(b.radius * c)).Add(b.side.Mul(b.radius * s))
}

// contrast is how much channel q (luma, Cb, Cr) at place v differs from that to either side of it: the mean
// within inner…outer mm of v less the mean within from…to, by the median over the lines, in
// units of its standard uncertainty. Each side counts by itself, so that a mere step counts for
// nothing, and where inner > 0 each half of the middle. What does not go round the barrel (rust,
// a highlight) hardly counts.
func (b *barrelView) contrast(q int, v, inner, outer, from, to float64) (size, t float64) {
	n := len(b.light[0])
	var all [barrelRows]float64
	// The samples between two places, as those before the first and before the end.
	samples := func(a, c float64) (s [2]int) {
		index := func(x float64) int { return int(math.Floor(x/b.step + 0.5)) }
		i := max(index(a), 0)
		return [2]int{i, max(min(index(c), n-1)+1, i)}
	}
	in := [2][2]int{samples(v-outer, v-inner), samples(v+inner, v+outer)}
	if inner == 0 {
		in[0] = samples(v-outer, v+outer)
		in[1] = in[0]
	}
	out := [2][2]int{samples(v-to, v-from), samples(v+from, v+to)}
	for _, s := range [4][2]int{in[0], in[1], out[0], out[1]} {
		if s[0] == s[1] {
			return 0, 0
		}
	}
	up, down := 0, 0
	for r, s := range b.sums[q] {
		mean := func(i [2]int) float64 { return (s[i[1]] - s[i[0]]) / float64(i[1]-i[0]) }
		in0, in1, out0, out1 := mean(in[0]), mean(in[1]), mean(out[0]), mean(out[1])
		if low := min(in0, in1) - max(out0, out1); low > 0 {
			all[r] = low
			up++
		} else if high := max(in0, in1) - min(out0, out1); high < 0 {
			all[r] = high
			down++
		}
	}
	if up <= barrelRows/2 && down <= barrelRows/2 {
		return 0, 0
	}
	slices.Sort(all[:])
	size = all[barrelRows/2]
	spread := (all[barrelRows*3/4] - all[barrelRows/4]) / 1.349
	return size, size / (math.Max(spread, 0.5) / math.Sqrt(barrelRows) * 1.253)
}

// Knuckle counts that butt hinges are made with; 3 and 5 are usual.
const knucklesMin, knucklesMax = 2, 9

// describeBarrel counts the knuckles of the whole hinge, 0 where the picture does not tell,
// and says what runs between them and whether the pin's tips stand out beyond the leaf's ends.
// Knuckles are taken to be of much the same length.
func describeBarrel(f *picture.Frame, cam *geom.Camera, faces []geom.Face, barrelDiameter float64) (knuckles int, bearing measure.Bearing, tips bool) {
	if len(faces) == 0 || barrelDiameter <= 0 {
		return 0, measure.BearingUnknown, false
	}
	b := newBarrelView(f, cam, faces, barrelDiameter)
	if len(b.light[0]) < 40 {
		return 0, measure.BearingUnknown, false
	}
	tips = b.tips()
	if len(faces) == 1 {
		return b.countSpaces(), measure.BearingUnknown, tips
	}
	if knuckles = b.count(evenly, 0.5); knuckles == 0 {
		// Looked for farther off, a joint is more easily taken from something else.
		knuckles = b.count(unevenly, 0.75)
	}
	if knuckles == 0 {
		return 0, measure.BearingUnknown, tips
	}
	return knuckles, b.between(knuckles), tips
}

// between says what is seen at the joints of so many knuckles. A pin's rings come in pairs, as far from
// either end (common practice, no source): what is seen on one side only is rust or paint.
func (b *barrelView) between(knuckles int) measure.Bearing {
	seen, ring := make([]bool, knuckles), make([]bool, knuckles)
	at := func(k int) float64 { return b.height * float64(k) / float64(knuckles) }
	off := unevenly * b.height
	for k := 1; k < knuckles; k++ {
		seen[k] = b.joint(at(k), off) >= 0.5
	}
	b.readColours()
	quiet := b.quiet(knuckles)
	for k := 1; k < knuckles; k++ {
		ring[k] = seen[k] && b.ring(at(k), off, quiet)
	}
	plain := 0
	for k := 1; k < knuckles; k++ {
		mate := knuckles - k
		switch {
		case ring[k] && ring[mate]:
			return measure.BallBearing
		case ring[k] && !seen[mate]:
			return measure.BearingUnknown
		case seen[k]:
			plain++
		}
	}
	if 2*plain >= knuckles-1 {
		return measure.PlainBearing
	}
	return measure.BearingUnknown
}

// count counts the knuckles, 0 where their joints, which may be off their places by a share of the
// height, are seen less than least of the way from not at all, 0, to surely, 1.
func (b *barrelView) count(off, least float64) int {
	var best float64
	var seen [knucklesMax + 1]float64
	for n := knucklesMin; n <= knucklesMax; n++ {
		for k := 1; k < n; k++ {
			seen[n] += b.joint(b.height*float64(k)/float64(n), off*b.height) / float64(n-1)
		}
		best = math.Max(best, seen[n])
	}
	if best < least {
		for _, n := range usualKnuckles {
			if off == evenly && best >= leastAlone && seen[n] == best && aloneIn(seen[:], n) {
				return n
			}
		}
		return 0
	}
	// All joints of n are joints of its multiples too: the most knuckles that are borne out.
	for n := knucklesMax; ; n-- {
		if seen[n] >= 0.8*best {
			return n
		}
	}
}

// usualKnuckles are how many butt hinges have (common practice, no source). Under paint and grain less is seen of their
// joints than of other hinges', but nothing in other places either: from leastAlone on, what is seen counts if of joints in places
// that other counts would have there is less than mostElse of it. On photographs of known truth the true count shows 0.3 and more.
var usualKnuckles = [...]int{3, 5}

const leastAlone, mostElse = 0.3, 0.4

// aloneIn reports whether of all counts of knuckles only n and those that have joints in its places are seen.
func aloneIn(seen []float64, n int) bool {
	for m, v := range seen {
		if m >= knucklesMin && m%n != 0 && v > mostElse*seen[n] {
			return false
		}
	}
	return true
}

// A bearing's ring is ringLeast to ringMost wide, mm (common practice, no source).
const ringLeast, ringMost = 1.6, 3.4

// leastSure is how many standard uncertainties a contrast is taken for one from.
const leastSure = 4

// Knuckles are of much the same length, and counted so; but those at the ends may be a fifth longer or
// shorter than the others (common practice, no source): how far off their places joints may lie, of
// the height.
const evenly, unevenly = 0.008, 1. / 40

// jointReach is how far off its place a joint may lie besides, mm: the height is not yet exact.
const jointReach = 0.6

// gap is how much darker place v is than what lies to either side, as a gap between knuckles is, a few tenths
// of a millimetre wide; and band how much channel q differs there as a bearing's ring does, 2 mm
// wide and more.
func (b *barrelView) gap(v float64) (size, t float64) {
	size, t = b.contrast(0, v, 0, 0.15, 0.5, 1.2)
	return -size, -t
}

func (b *barrelView) band(q int, v float64) (size, t float64) {
	return b.contrast(q, v, 0.4, 0.8, 1.7, 2.7)
}

// joint is how surely something goes round the barrel about place v, off mm either way: 0 nothing,
// 1 surely.
func (b *barrelView) joint(v, off float64) (seen float64) {
	see := func(t float64) { seen = max(seen, t*t/(t*t+leastSure*leastSure)) }
	reach := jointReach + off
	for x := v - reach; x <= v+reach; x += b.step {
		if size, t := b.gap(x); size > 1 {
			see(t)
		}
		if size, t := b.band(0, x); math.Abs(t) > leastSure && math.Abs(size) > 1 {
			see(t)
		}
	}
	return seen
}

// besideGap is how far from the middle of a gap its own dark ends, mm: half of a wide one's width and the blur.
const besideGap = 0.7

// stir is how much the light changes between two places along the barrel, levels: the median over the lines.
func (b *barrelView) stir(from, to float64) float64 {
	w := max(1, int(0.3/b.step)) // samples, averaged
	i0, i1 := max(int(from/b.step), 0), min(int(to/b.step), len(b.light[0]))
	if i1-i0 < 2*w {
		return 0
	}
	var all [barrelRows]float64
	for r, s := range b.sums[0] {
		low, high := math.Inf(1), math.Inf(-1)
		for i := i0; i+w < i1; i++ {
			y := (s[i+w] - s[i]) / float64(w)
			low, high = math.Min(low, y), math.Max(high, y)
		}
		all[r] = high - low
	}
	slices.Sort(all[:])
	return all[barrelRows/2]
}

// quiet is the most that light stirs on a knuckle away from its ends, over the width of a bearing's half.
func (b *barrelView) quiet(knuckles int) (most float64) {
	const half = (ringMost/2 + 0.9 - besideGap) / 2
	for k := range knuckles {
		for _, part := range [3]float64{0.35, 0.5, 0.65} {
			mid := b.height * (float64(k) + part) / float64(knuckles)
			most = math.Max(most, b.stir(mid-half, mid+half))
		}
	}
	return most
}

// ring reports whether what is seen there is as wide as a bearing, no mere gap: of another light
// or colour than the knuckles, or the knuckles' own with a gap on either side, or beside a gap
// half as much again as what stirs on the knuckles themselves, quiet.
func (b *barrelView) ring(v, off, quiet float64) bool {
	reach := jointReach + off
	var line, ring, pair, gap, gapAt float64
	var sure []float64 // the gaps' strength by place, of those that are sure
	for x := v - reach - ringMost/2; x <= v+reach+ringMost/2; x += b.step {
		within := math.Abs(x-v) <= reach
		here := 0.0
		if size, t := b.gap(x); size > 1 {
			if t > leastSure {
				here = size
			}
			if within {
				line = math.Max(line, size)
				if t > gap {
					gap, gapAt = t, x
				}
			}
		}
		sure = append(sure, here)
		if !within {
			continue
		}
		var square float64
		for q := range b.sums {
			if size, t := b.band(q, x); math.Abs(t) > leastSure {
				square += size * size
			}
		}
		ring = math.Max(ring, math.Sqrt(square))
	}
	for i, s := range sure {
		for k := i + int(ringLeast/b.step); k < min(i+int(ringMost/b.step), len(sure)); k++ {
			pair = math.Max(pair, math.Min(s, sure[k]))
		}
	}
	if gap > leastSure {
		const to = ringMost/2 + 0.9
		if math.Max(b.stir(gapAt-to, gapAt-besideGap), b.stir(gapAt+besideGap, gapAt+to)) > math.Max(1.5*quiet, 5) {
			return true
		}
	}
	// What a gap's flanks leave in a ring's place is a twentieth of the gap.
	return ring > math.Max(1, 0.2*line) || pair > 0.45*line && pair > 0
}

// countSpaces counts the knuckles of a hinge of which only one leaf is there: its knuckles
// and the spaces for the other's take turns along the pin.
func (b *barrelView) countSpaces() int {
	// Three colours by place, from the lines near the top.
	n := len(b.light[0])
	colour := make([][3]float64, n)
	for i := range colour {
		const lines = 5
		for r := range lines {
			a := (float64(r)/(lines-1) - 0.5) * math.Pi / 4
			p := b.cam.Project(b.at(a, float64(i)*b.step))
			cb, cr := b.f.Chroma(p)
			colour[i][0] += b.f.Luma(p) / lines
			colour[i][1] += cb / lines
			colour[i][2] += cr / lines
		}
	}
	// The share of the variance that turn and turn about explains.
	best, count := 0.4, 0
	for k := knucklesMin; k <= 7; k++ {
		var sum, num [2][3]float64
		var square [3]float64
		for i, c := range colour {
			at := float64(i) / float64(n) * float64(k)
			if part := at - math.Floor(at); part < 0.2 || part > 0.8 {
				continue // the ends of knuckles: their faces and shadows
			}
			turn := int(at) % 2
			for q := range 3 {
				sum[turn][q] += c[q]
				num[turn][q]++
				square[q] += c[q] * c[q]
			}
		}
		var total, between float64
		for q := range 3 {
			m := num[0][q] + num[1][q]
			mean := (sum[0][q] + sum[1][q]) / m
			total += square[q] - m*mean*mean
			for turn := range 2 {
				d := sum[turn][q]/num[turn][q] - mean
				between += num[turn][q] * d * d
			}
		}
		if share := between / math.Max(total, 1e-9); share > best {
			best, count = share, k
		}
	}
	return count
}

// tips reports whether the pin is seen to stand out beyond one of the leaf's ends: whether the
// picture just beyond the end looks more like the barrel than like the table.
func (b *barrelView) tips() bool {
	for _, end := range [2]float64{0, b.height} {
		out := b.along
		if end == 0 {
			out = out.Mul(-1)
		}
		at := b.base.Add(b.along.Mul(end))
		e := b.cam.Eye().Sub(at)
		lean := e.Dot(out) / math.Abs(e.Dot(b.up)) // how far outwards the eye lies, by height
		// Where the end faces the eye its own face is seen below, else its upper rim hides
		// what lies beyond: look low or high on the tip, far enough out to be clear of either.
		z, clear := -0.4*b.radius, 0.6*b.radius*lean
		if lean < 0 {
			z, clear = 0.5*b.radius, -0.5*b.radius*lean
		}
		mean := func(from, to, z float64) (c [3]float64) {
			const n = 12
			for i := range n {
				p := b.cam.Project(at.Add(out.Mul(from + (to-from)*float64(i)/(n-1))).Add(b.up.Mul(z)))
				cb, cr := b.f.Chroma(p)
				c[0] += b.f.Luma(p) / n
				c[1] += cb / n
				c[2] += cr / n
			}
			return c
		}
		gap := func(a, c [3]float64) float64 {
			return math.Sqrt((a[0]-c[0])*(a[0]-c[0]) + (a[1]-c[1])*(a[1]-c[1]) + (a[2]-c[2])*(a[2]-c[2]))
		}
		metal, table := mean(-6, -2, z), mean(tipMost+1, tipMost+3, z)
		x := mean(clear+0.4, clear+0.9, z)
		if clear+0.9 < tipLeast && gap(metal, table) > 12 && gap(x, metal) < gap(x, table) {
			return true
		}
	}
	return false
}

// Tips stand out from tipLeast to tipMost, mm (common practice, no source).
const tipLeast, tipMost = 2., 5.
