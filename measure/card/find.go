package card

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// Finding a card at reduced scale: straight edges first, then four of them that stand
// round something of a card's shape, judged by how much of the outline is an edge.

// An edgeMap holds the colour gradient of a reduced picture: its strength (levels per reduced
// pixel, root sum square over the channels; 0 below the floor) and the direction across the edge.
type edgeMap struct {
	*picture.Reduced
	n        int // reduction
	strength []float32
	turn     []uint8 // direction across the edge, in 1/256 of half a turn from x; where strength > 0
	floor    float32
}

// directions are the unit vectors of edgeMap.turn.
var directions = func() (d [256][2]float32) {
	for i := range d {
		s, c := math.Sincos(float64(i) * math.Pi / 256)
		d[i] = [2]float32{float32(c), float32(s)}
	}
	return d
}()

// normal is the unit direction across the edge at pixel i, its sign arbitrary.
func (e *edgeMap) normal(i int) (x, y float64) {
	d := directions[e.turn[i]]
	return float64(d[0]), float64(d[1])
}

// newEdgeMap takes Sobel's gradient of each channel and the direction in which the sum of
// their squares is greatest (Di Zenzo, "A note on the gradient of a multi-image", CVGIP 1986),
// which also sees edges between colours of the same brightness.
func newEdgeMap(f *picture.Frame) *edgeMap {
	n := f.Reduction()
	s := f.Reduce(n)
	e := &edgeMap{Reduced: s, n: n}
	e.strength = make([]float32, s.W*s.H)
	e.turn = make([]uint8, s.W*s.H)
	// The floor: an edge has to stand out of the surface's own noise and grain, whose median
	// gradient is taken for half of what is still noise; never under one level per pixel.
	// A sample of the picture tells the median.
	var hist [1024]int // of strength in steps of 1/8
	count := 0
	sums := make([]tensor, s.W-2)
	for y := 1; y < s.H-1; y += 12 {
		tensors(s, y, sums)
		for i := range sums {
			hist[min(int(sums[i].strength()*8), 1023)]++
			count++
		}
	}
	median, half := 0, hist[0]
	for ; half < count/2; half += hist[median] {
		median++
	}
	e.floor = float32(math.Max(1, 2*float64(median)/8))
	least := e.floor * e.floor
	for y := 1; y < s.H-1; y++ {
		tensors(s, y, sums)
		for x := range sums {
			t := &sums[x]
			if t.xx+t.yy < least { // the strength's square is at most their sum
				continue
			}
			if g := t.strength(); g >= e.floor {
				i := y*s.W + x + 1
				e.strength[i], e.turn[i] = g, t.turn()
			}
		}
	}
	return e
}

// A tensor sums the products of all channels' gradients along x and y.
type tensor struct{ xx, yy, xy float32 }

func (t *tensor) strength() float32 {
	d := (t.xx - t.yy) / 2
	return float32(math.Sqrt(float64((t.xx+t.yy)/2) + math.Sqrt(float64(d*d+t.xy*t.xy))))
}

// turn is the direction across the edge, as edgeMap keeps it.
func (t *tensor) turn() uint8 {
	// Twice the angle is that of (x, y), in 1/256 of a whole turn.
	x, y := float64(t.xx-t.yy), 2*float64(t.xy)
	less, more := math.Abs(y), math.Abs(x)
	if less > more {
		less, more = more, less
	}
	if more == 0 { // none stands out
		return 0
	}
	r := less / more
	k := int(turnsFrom[int(r*64)])
	if r >= turnsUpTo[k] {
		k++
	}
	if math.Abs(y) > math.Abs(x) {
		k = 64 - k
	}
	if x < 0 {
		k = 128 - k
	}
	if y < 0 {
		k = -k
	}
	return uint8(k)
}

// turnsUpTo are the tangents between the 33 directions of an eighth of a turn, and turnsFrom is the
// first that a tangent of so many 64ths may have; a 64th holds at most one limit.
var turnsFrom, turnsUpTo = func() (from [65]uint8, upTo [33]float64) {
	for k := range upTo {
		upTo[k] = math.Tan((float64(k) + 0.5) * math.Pi / 128)
	}
	for i := range from {
		for upTo[from[i]] <= float64(i)/64 {
			from[i]++
		}
	}
	return from, upTo
}()

// tensors takes those along row y, from its second pixel on.
func tensors(s *picture.Reduced, y int, sums []tensor) {
	n := len(sums)
	row := func(plane []float32, y int) []float32 { return plane[y*s.W:][:n+2] }
	r0, r1, r2 := row(s.R, y-1), row(s.R, y), row(s.R, y+1)
	g0, g1, g2 := row(s.G, y-1), row(s.G, y), row(s.G, y+1)
	b0, b1, b2 := row(s.B, y-1), row(s.B, y), row(s.B, y+1)
	var r, g, b sobel
	for x := range 2 {
		r, _, _ = r.next(r0[x], r1[x], r2[x])
		g, _, _ = g.next(g0[x], g1[x], g2[x])
		b, _, _ = b.next(b0[x], b1[x], b2[x])
	}
	r0, r1, r2 = r0[2:][:n], r1[2:][:n], r2[2:][:n]
	g0, g1, g2 = g0[2:][:n], g1[2:][:n], g2[2:][:n]
	b0, b1, b2 = b0[2:][:n], b1[2:][:n], b2[2:][:n]
	for x := range sums {
		var rx, ry, gx, gy, bx, by float32
		r, rx, ry = r.next(r0[x], r1[x], r2[x])
		g, gx, gy = g.next(g0[x], g1[x], g2[x])
		b, bx, by = b.next(b0[x], b1[x], b2[x])
		sums[x] = tensor{
			(rx*rx + gx*gx + bx*bx) * (1.0 / 64),
			(ry*ry + gy*gy + by*by) * (1.0 / 64),
			(rx*ry + gx*gy + bx*by) * (1.0 / 64),
		}
	}
}

// A sobel keeps what two columns of a channel add to its gradients along x and y.
type sobel struct{ u0, v0, u1, v1 float32 }

// next takes one column more and gives the gradients at the one before, eightfold.
func (o sobel) next(a, m, d float32) (on sobel, gx, gy float32) {
	u, v := a+2*m+d, d-a
	return sobel{o.u1, o.v1, u, v}, u - o.u0, o.v0 + 2*o.v1 + v
}

// A segment is a straight piece of edge in reduced pixels, from p to q. n is its unit normal.
type segment struct {
	p, q, n measure.Pixel
	length  float64
	weight  float64 // length times strength in floors, four at the most
	strong  float64 // length times strength in floors
}

func (s segment) direction() measure.Pixel { return measure.Pixel{X: -s.n.Y, Y: s.n.X} }

// A ridge is a pixel where an edge is strongest: where between pixels that is, and the strength in floors.
type ridge struct {
	at       measure.Pixel
	pixel    int32
	strength float32
}

// segments links ridge pixels of like direction into straight pieces of at least least
// reduced pixels, longest first.
func (e *edgeMap) segments(least float64) []segment {
	// id of a ridge pixel, from 1, in ridges; 0 elsewhere.
	id := make([]int32, e.W*e.H)
	ridges := make([]ridge, 1, 1+len(id)/16)
	var seeds [32][]int32 // ids by strength, a factor of 1.19 apart
	// The neighbour across an edge, by its direction.
	var across [256]struct{ dx, dy, o int }
	for t, d := range directions {
		a := &across[t]
		if d[0] > 0.38 { // within 67.5° of x
			a.dx = 1
		} else if d[0] < -0.38 {
			a.dx = -1
		}
		if d[1] > 0.38 {
			a.dy = 1
		}
		a.o = a.dy*e.W + a.dx
	}
	for y := 2; y < e.H-2; y++ {
		for x, g := range e.strength[y*e.W+2 : (y+1)*e.W-2] {
			if g == 0 {
				continue
			}
			x += 2
			i := y*e.W + x
			a := &across[e.turn[i]]
			if g < e.strength[i+a.o] || g <= e.strength[i-a.o] {
				continue
			}
			u, v := float64(e.strength[i-a.o]), float64(e.strength[i+a.o])
			t := (u - v) / (2 * (u - 2*float64(g) + v)) // top of the parabola
			id[i] = int32(len(ridges))
			half, octave := math.Frexp(float64(g / e.floor))
			k := 4 * (octave - 1)
			for _, quarter := range [3]float64{0.5946035575013605, math.Sqrt2 / 2, 0.8408964152537145} { // 2^−¾, 2^−½, 2^−¼
				if half >= quarter {
					k++
				}
			}
			k = min(k, len(seeds)-1)
			seeds[k] = append(seeds[k], id[i])
			at := measure.Pixel{X: float64(x) + 0.5 + t*float64(a.dx), Y: float64(y) + 0.5 + t*float64(a.dy)}
			ridges = append(ridges, ridge{at, int32(i), g / e.floor})
		}
	}
	var out []segment
	var members []int32
	grow := func(seed int32) {
		members = append(members[:0], seed)
		r := &ridges[seed]
		id[r.pixel] = 0
		nx, ny := e.normal(int(r.pixel)) // summed
		l := 1.0
		sx, sy := r.at.X, r.at.Y
		for k := 0; k < len(members); k++ {
			here := int(ridges[members[k]].pixel)
			for dy := -2; dy <= 2; dy++ {
				for j := here + dy*e.W - 2; j <= here+dy*e.W+2; j++ {
					// Ridge pixels keep two from the border, so j may only run over it by a row's end.
					if j < 0 || j >= len(id) || id[j] == 0 {
						continue
					}
					mx, my := e.normal(j)
					c := (mx*nx + my*ny) / l
					if math.Abs(c) < 0.94 { // 20°
						continue
					}
					m, p := float64(len(members)), ridges[id[j]].at
					if off := ((p.X-sx/m)*nx + (p.Y-sy/m)*ny) / l; math.Abs(off) > 1.6 {
						continue
					}
					members = append(members, id[j])
					id[j] = 0
					w := math.Copysign(1, c)
					nx, ny = nx+w*mx, ny+w*my
					l = math.Sqrt(nx*nx + ny*ny)
					sx, sy = sx+p.X, sy+p.Y
				}
			}
		}
	}
	for k := len(seeds) - 1; k >= 0; k-- {
		for _, seed := range seeds[k] {
			if id[ridges[seed].pixel] == 0 {
				continue
			}
			grow(seed)
			if float64(len(members)) < least*0.7 {
				continue
			}
			if s := fitSegment(ridges, members); s.length >= least {
				for _, m := range members {
					g := float64(ridges[m].strength)
					s.weight += math.Min(g, 4)
					s.strong += g
				}
				s.weight *= s.length / float64(len(members))
				s.strong *= s.length / float64(len(members))
				out = append(out, s)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b segment) int { return cmp.Compare(b.length, a.length) })
	return out
}

// moments are the sums that a total-least-squares line needs.
type moments struct{ n, x, y, xx, yy, xy float64 }

func (m *moments) add(p measure.Pixel, w float64) {
	m.n += w
	m.x, m.y = m.x+w*p.X, m.y+w*p.Y
	m.xx, m.yy, m.xy = m.xx+w*p.X*p.X, m.yy+w*p.Y*p.Y, m.xy+w*p.X*p.Y
}

// line gives the middle and the unit direction.
func (m *moments) line() (c, d measure.Pixel) {
	c = measure.Pixel{X: m.x / m.n, Y: m.y / m.n}
	xx, yy, xy := m.xx/m.n-c.X*c.X, m.yy/m.n-c.Y*c.Y, m.xy/m.n-c.X*c.Y
	sn, cs := math.Sincos(0.5 * math.Atan2(2*xy, xx-yy))
	return c, measure.Pixel{X: cs, Y: sn}
}

// fitSegment lays a line through ridge pixels.
func fitSegment(ridges []ridge, members []int32) segment {
	var m moments
	for _, i := range members {
		m.add(ridges[i].at, 1)
	}
	c, d := m.line()
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range members {
		t := geom.Dot(geom.Minus(ridges[i].at, c), d)
		lo, hi = math.Min(lo, t), math.Max(hi, t)
	}
	return segment{
		p: measure.Pixel{X: c.X + lo*d.X, Y: c.Y + lo*d.Y}, q: measure.Pixel{X: c.X + hi*d.X, Y: c.Y + hi*d.Y},
		n: measure.Pixel{X: -d.Y, Y: d.X}, length: hi - lo,
	}
}

// A reach is a line with the pieces of edge that lie along it.
type reach struct {
	c, d    measure.Pixel // a place on it and its unit direction
	pieces  [][2]float64  // along d from c, ascending, disjoint
	before  []float64     // summed length of the pieces before each
	covered float64       // their summed length
	weight  float64       // of its segments
	strong  float64       // their strength in floors, times their length
	late    bool          // taken for its strength only
}

// reaches joins segments that continue one another: artwork that matches the ground breaks
// a card's edge, so gaps up to gap reduced pixels are bridged. segs are longest first.
func reaches(segs []segment, gap float64) []reach {
	used := make([]bool, len(segs))
	var out []reach
	for i, s := range segs {
		if used[i] {
			continue
		}
		var m moments
		take := func(o segment) { // thirds of the way in from both ends stand for its spread
			m.add(geom.Between(o.p, o.q, 0.211), o.length)
			m.add(geom.Between(o.p, o.q, 0.789), o.length)
		}
		take(s)
		r := reach{c: geom.Between(s.p, s.q, 0.5), d: s.direction()}
		members := []segment{s}
		lo, hi := -s.length/2, s.length/2
		for grown := true; grown; {
			grown = false
			for j := i + 1; j < len(segs); j++ {
				if used[j] {
					continue
				}
				o := &segs[j]
				if math.Abs(geom.Cross2(o.direction(), r.d)) > 0.06+2/o.length {
					continue
				}
				a, b := geom.Minus(o.p, r.c), geom.Minus(o.q, r.c)
				ta, tb := geom.Dot(a, r.d), geom.Dot(b, r.d)
				if ta > tb {
					ta, tb = tb, ta
				}
				if ta > hi+gap || tb < lo-gap {
					continue
				}
				// Off the line by no more than its direction can be wrong by.
				slack := 1.2 + 0.5*math.Max(0, math.Max(-ta, tb)-(hi-lo)/2)/(hi-lo)
				if math.Abs(geom.Cross2(r.d, a)) > slack || math.Abs(geom.Cross2(r.d, b)) > slack {
					continue
				}
				used[j], grown = true, true
				members = append(members, *o)
				take(*o)
				r.c, r.d = m.line()
				lo, hi = math.Inf(1), math.Inf(-1)
				for _, o := range members {
					ta, tb := geom.Dot(geom.Minus(o.p, r.c), r.d), geom.Dot(geom.Minus(o.q, r.c), r.d)
					lo, hi = math.Min(lo, math.Min(ta, tb)), math.Max(hi, math.Max(ta, tb))
				}
			}
		}
		for _, o := range members {
			r.weight += o.weight
			r.strong += o.strong
			ta, tb := geom.Dot(geom.Minus(o.p, r.c), r.d), geom.Dot(geom.Minus(o.q, r.c), r.d)
			r.pieces = append(r.pieces, [2]float64{math.Min(ta, tb), math.Max(ta, tb)})
		}
		r.tidy()
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b reach) int { return cmp.Compare(b.weight, a.weight) })
	return out
}

// tidy sorts the pieces, joins those that touch and sums them.
func (r *reach) tidy() {
	slices.SortFunc(r.pieces, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	k := 0
	for _, p := range r.pieces[1:] {
		if p[0] <= r.pieces[k][1]+3 {
			r.pieces[k][1] = math.Max(r.pieces[k][1], p[1])
			continue
		}
		k++
		r.pieces[k] = p
	}
	r.pieces = r.pieces[:k+1]
	r.covered = 0
	r.before = make([]float64, len(r.pieces))
	for i, p := range r.pieces {
		r.before[i] = r.covered
		r.covered += p[1] - p[0]
	}
}

// at is how far along d from c a place on the line lies.
func (r *reach) at(p measure.Pixel) float64 { return geom.Dot(geom.Minus(p, r.c), r.d) }

// A meeting is where a line crosses another.
type meeting struct {
	meet        bool // they do
	square      bool // they are within 37° of it
	p           measure.Pixel
	t           float64 // how far along the line
	before      float64 // length of the line's pieces before that
	left, right float64 // how much of a piece that runs across it lies on either side
}

// meeting says what a place on the line means to it.
func (r *reach) meeting(p measure.Pixel) meeting {
	m := meeting{meet: true, p: p, t: r.at(p), before: r.covered}
	k, _ := slices.BinarySearchFunc(r.pieces, m.t, func(p [2]float64, t float64) int { return cmp.Compare(p[1], t) })
	if k == len(r.pieces) {
		return m
	}
	m.before = r.before[k]
	if p := r.pieces[k]; p[0] < m.t {
		m.left, m.right = m.t-p[0], p[1]-m.t
		m.before += m.left
	}
	return m
}

// cover is the length of a line's pieces between two places on it, and how far those that run
// across either place go on: only they tell of a line that does.
func cover(a, b *meeting) (in, beyond float64) {
	if a.t > b.t {
		a, b = b, a
	}
	return b.before - a.before, a.left + b.right
}

// meet is where two lines cross.
func (r *reach) meet(o *reach) (measure.Pixel, bool) {
	x := geom.Cross2(r.d, o.d)
	if math.Abs(x) < 0.3 {
		return measure.Pixel{}, false
	}
	t := geom.Cross2(geom.Minus(o.c, r.c), o.d) / x
	return measure.Pixel{X: r.c.X + t*r.d.X, Y: r.c.Y + t*r.d.Y}, true
}

// A candidate is a rectangle that might be a card: corners in clockwise order on the screen, in
// pixels of the full picture, the first side long.
type candidate struct {
	corners [4]measure.Pixel
	score   float64
	likely  bool    // a card by its face too, not by edges alone
	other   bool    // another's by its face
	room    float64 // px to an edge inside; 0: none known
}

// short is its shorter side, px.
func (c *candidate) short() float64 {
	return math.Min(geom.Distance(c.corners[1], c.corners[2]), geom.Distance(c.corners[3], c.corners[0]))
}

// lines lists the straight edges to look for a card in.
func (e *edgeMap) lines() []reach {
	longer := float64(max(e.W, e.H))
	// Stripes that end at a card's edge leave pieces as short as they are wide.
	lines := reaches(e.segments(math.Max(8, 0.012*longer)), 0.04*longer)
	// The longest of each direction, then the strongest of what is left, so that neither a
	// surface's grain nor its ruling can crowd the others out.
	const bins, longest, strongest = 12, 24, 8
	var count [bins]int
	var kept, rest []reach
	take := func(l reach, most int) bool {
		if l.covered <= 0.015*longer {
			return true
		}
		k := int((math.Atan2(l.d.Y, l.d.X)/math.Pi+2)*bins) % bins
		if count[k] >= most {
			return false
		}
		count[k]++
		e.walk(&l, 0.04*longer)
		if l.covered > 0.03*longer {
			kept = append(kept, l)
		}
		return true
	}
	for _, l := range lines {
		if !take(l, longest) {
			rest = append(rest, l)
		}
	}
	slices.SortStableFunc(rest, func(a, b reach) int { return cmp.Compare(b.strong/b.covered, a.strong/a.covered) })
	for _, l := range rest {
		if l.covered > 0.06*longer {
			l.late = true
			take(l, longest+strongest)
		}
	}
	return kept
}

// walk takes anew, pixel by pixel, which parts of a line are edge, on beyond its ends until
// there is none for gap reduced pixels.
func (e *edgeMap) walk(l *reach, gap float64) {
	lo, hi := l.pieces[0][0], l.pieces[len(l.pieces)-1][1]
	l.pieces = append(l.pieces[:0:0], l.pieces...)
	step := func(from, dir float64) {
		last := from
		for t := from; math.Abs(t-last) < gap; t += dir {
			x, y := l.c.X+t*l.d.X, l.c.Y+t*l.d.Y
			if x < 3 || y < 3 || x > float64(e.W-3) || y > float64(e.H-3) {
				return
			}
			if e.edgeAt(x, y, l.d, 1) {
				last = t
				l.pieces = append(l.pieces, [2]float64{t - 0.5, t + 0.5})
			} else if lo < t && t < hi {
				last = t // between pieces there may be more of a gap
			}
		}
	}
	mid := (lo + hi) / 2
	own := len(l.pieces)
	step(mid, -1)
	slices.Reverse(l.pieces[own:]) // in order, which costs less to sort
	step(mid, 1)
	l.tidy()
}

// edgeAt reports whether within slack pixels of a place there is an edge in direction d.
func (e *edgeMap) edgeAt(x, y float64, d measure.Pixel, slack float64) bool {
	for o := -slack; o <= slack; o++ {
		i := int(y+d.X*o)*e.W + int(x-d.Y*o)
		if e.strength[i] == 0 {
			continue
		}
		if nx, ny := e.normal(i); math.Abs(nx*d.Y-ny*d.X) > 0.9 {
			return true
		}
	}
	return false
}

// A lineSet is lines with what is asked of them again and again.
type lineSet struct {
	e     *edgeMap
	lines []reach
	meets []meeting // of line i with line j, on i, at j·len(lines) + i
	hits  []lineHits
}

// lineHits tells at which places along a line there is an edge in its direction, within two
// pixels; 64 places to a word, from first on, hitStep apart. Words are found as they are asked for.
type lineHits struct {
	first        float64
	known        []bool
	inside, edge []uint64 // the place is in the picture; there is an edge
}

// hitStep is how closely a side is looked at, reduced pixels.
const hitStep = 1.5

func newLineSet(e *edgeMap, lines []reach) *lineSet {
	n := len(lines)
	l := &lineSet{e: e, lines: lines, meets: make([]meeting, n*n), hits: make([]lineHits, n)}
	for i := range lines {
		for j := range i {
			if p, ok := lines[i].meet(&lines[j]); ok {
				on, of := lines[i].meeting(p), lines[j].meeting(p)
				on.square = math.Abs(geom.Dot(lines[i].d, lines[j].d)) <= 0.6
				of.square = on.square
				l.meets[j*n+i], l.meets[i*n+j] = on, of
			}
		}
		// Corners may lie anywhere in the picture.
		half := math.Hypot(float64(e.W), float64(e.H))
		words := int(2*half/hitStep)/64 + 1
		l.hits[i] = lineHits{first: -half, known: make([]bool, words), inside: make([]uint64, words), edge: make([]uint64, words)}
	}
	return l
}

// support is the share of line k between two places along it, corners left out, that is an
// edge in the line's direction; −1 where hardly any of it is in the picture.
func (l *lineSet) support(k int, ta, tb float64) float64 {
	if ta > tb {
		ta, tb = tb, ta
	}
	h := &l.hits[k]
	side := tb - ta
	a := max(int(math.Ceil((ta+0.07*side-h.first)/hitStep)), 0)
	b := min(int(math.Ceil((ta+0.93*side-h.first)/hitStep)), 64*len(h.known))
	var in, hit int
	for w := a >> 6; w<<6 < b; w++ {
		if !h.known[w] {
			l.look(k, w)
		}
		mask := ^uint64(0)
		if w == a>>6 {
			mask <<= a & 63
		}
		if rest := b - w<<6; rest < 64 {
			mask &= 1<<rest - 1
		}
		in += bits.OnesCount64(h.inside[w] & mask)
		hit += bits.OnesCount64(h.edge[w] & mask)
	}
	if in < 5 {
		return -1
	}
	return float64(hit) / float64(in)
}

// look finds a word of line k's places.
func (l *lineSet) look(k, w int) {
	h, r := &l.hits[k], &l.lines[k]
	h.known[w] = true
	for bit := range 64 {
		t := h.first + float64(w<<6+bit)*hitStep
		x, y := r.c.X+t*r.d.X, r.c.Y+t*r.d.Y
		if x < 3 || y < 3 || x > float64(l.e.W-3) || y > float64(l.e.H-3) {
			continue
		}
		h.inside[w] |= 1 << bit
		if l.e.edgeAt(x, y, r.d, 2) {
			h.edge[w] |= 1 << bit
		}
	}
}

// A crossing is a line that runs across two others and has edge between them.
type crossing struct {
	line       int
	p, q       measure.Pixel // on the first and on the second
	onA, onB   *meeting      // the same, as those have it
	length     float64       // between them
	in, beyond float64       // its pieces between them and beyond
	share      float64       // of the length that the pieces between them are
	over       float64       // the pieces beyond by the length, one at the most
	support    float64       // of it between them; −1 hardly any in the picture
}

// crossings lists the lines that run across both a and b with enough edge between them to be a
// side.
func (l *lineSet) crossings(a, b int, out []crossing) []crossing {
	out = out[:0]
	n := len(l.lines)
	withA, withB := l.meets[a*n:][:n], l.meets[b*n:][:n]
	for k := range withA {
		p, q := &withA[k], &withB[k]
		if !p.square || !q.meet {
			continue
		}
		length := math.Abs(q.t - p.t)
		in, beyond := cover(p, q)
		if in < 0.35*length {
			continue
		}
		if s := l.support(k, p.t, q.t); s >= leastSupport {
			out = append(out, crossing{k, p.p, q.p, &l.meets[k*n+a], &l.meets[k*n+b], length, in, beyond, in / length, min(beyond/length, 1), s})
		}
	}
	return out
}

// leastSupport is the least share of a side that is an edge.
const leastSupport = 0.4

// facing reports whether a and b may be opposite sides of a card, converging by no more than
// 20°, which is beyond what 35° of tilt does.
func (e *edgeMap) facing(a, b *reach) bool {
	longer := float64(max(e.W, e.H))
	gap := math.Abs(geom.Cross2(a.d, geom.Minus(b.c, a.c)))
	return math.Abs(geom.Cross2(a.d, b.d)) < 0.35 && gap > 0.05*longer && gap < 0.8*longer
}

// opposite visits the pairs of lines that may be opposite sides of a card, with the lines that run across both.
func (l *lineSet) opposite(visit func(a, b int, across []crossing)) {
	var across []crossing
	for b := range l.lines {
		for a := range b {
			if l.e.facing(&l.lines[a], &l.lines[b]) {
				across = l.crossings(a, b, across)
				visit(a, b, across)
			}
		}
	}
}

// candidates lists four-sided shapes of about a card's shape, best first.
func (l *lineSet) candidates() []candidate {
	var out []candidate
	l.opposite(func(a, b int, across []crossing) {
		for i := range across {
			for j := range i {
				if turned, ok := across[i].like(&across[j]); ok {
					if c, ok := l.quad(a, b, &across[i], &across[j], turned); ok {
						out = append(out, c)
					}
				}
			}
		}
	})
	return best(out, 12, l.e.n)
}

// cutOffs lists shapes of which one whole side and parts of the two beside it are seen, and
// that as ID-1 cards would reach beyond the picture.
func (l *lineSet) cutOffs() []candidate {
	var out []candidate
	w, h := float64(l.e.W), float64(l.e.H)
	outside := func(p measure.Pixel, m float64) bool {
		m *= w
		return p.X < -m || p.Y < -m || p.X > w+m || p.Y > h+m
	}
	l.opposite(func(j, i int, across []crossing) {
		a, b := &l.lines[j], &l.lines[i]
		for _, c := range across {
			p, q, side := c.p, c.q, c.length
			if outside(p, 0.01) || outside(q, 0.01) || side < 20 || c.in < 0.6*side || c.beyond > 0.1*side {
				continue
			}
			// The way that a and b go on from c.
			away := func(r *reach, p measure.Pixel) measure.Pixel {
				d := r.d
				if geom.Dot(geom.Minus(r.c, p), d) < 0 {
					d = measure.Pixel{X: -d.X, Y: -d.Y}
				}
				return d
			}
			da, db := away(a, p), away(b, q)
			if geom.Dot(da, db) < 0 {
				continue
			}
			for _, ratio := range []float64{measure.ID1Long / measure.ID1Short, measure.ID1Short / measure.ID1Long} {
				far := ratio * side
				s, t := measure.Pixel{X: q.X + far*db.X, Y: q.Y + far*db.Y}, measure.Pixel{X: p.X + far*da.X, Y: p.Y + far*da.Y}
				// Perspective makes the guess wrong by some hundredths of the side.
				if !outside(s, -0.03) && !outside(t, -0.03) {
					continue
				}
				// The fourth side may be anywhere.
				onA, onB := l.support(j, a.at(p), a.at(t)), l.support(i, b.at(q), b.at(s))
				if onA < leastSupport || onB < leastSupport {
					continue
				}
				cand := candidate{corners: [4]measure.Pixel{p, q, s, t}, score: (c.support + onA + onB) / 3}
				if ratio > 1 {
					cand.corners = [4]measure.Pixel{q, s, t, p}
				}
				cand.turnClockwise()
				out = append(out, cand)
			}
		}
	})
	return best(out, 6, l.e.n)
}

// apart is how far apart two candidates' corners are at the most, reduced pixels, whichever comes first.
func (c candidate) apart(o candidate) float64 {
	d := math.Inf(1)
	for r := range 4 {
		var m float64
		for k := range 4 {
			m = math.Max(m, geom.Distance(c.corners[k], o.corners[(k+r)%4]))
		}
		d = math.Min(d, m)
	}
	return d
}

// distinct sorts candidates by score and keeps the first n that are not copies of a better one, near of their diagonal
// apart, or px.
func distinct(all []candidate, n int, near, px float64) (kept []candidate) {
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(b.score, a.score) })
	for _, c := range all {
		same := px + near*geom.Distance(c.corners[0], c.corners[2])
		if len(kept) < n && !slices.ContainsFunc(kept, func(o candidate) bool { return c.apart(o) < same }) {
			kept = append(kept, c)
		}
	}
	return kept
}

// best keeps the n best candidates of a picture reduced by k, and gives them in the full picture's pixels.
func best(all []candidate, n, k int) []candidate {
	out := distinct(all, n, 0, 2.5)
	for i := range out {
		for j, p := range out[i].corners {
			out[i].corners[j] = measure.Pixel{X: p.X * float64(k), Y: p.Y * float64(k)}
		}
	}
	return out
}

// turnClockwise puts the corners in clockwise order on the screen, the first side kept first.
func (c *candidate) turnClockwise() {
	if geom.Cross2(geom.Minus(c.corners[1], c.corners[0]), geom.Minus(c.corners[2], c.corners[1])) < 0 {
		c.corners = [4]measure.Pixel{c.corners[1], c.corners[0], c.corners[3], c.corners[2]}
	}
}

// like reports whether two crossings and what lies between them are of about a card's shape, and
// whether the crossings are its long sides.
func (c *crossing) like(d *crossing) (turned, ok bool) {
	alongA, alongB := math.Abs(d.onA.t-c.onA.t), math.Abs(d.onB.t-c.onB.t)
	// Opposite sides differ by perspective: at 35° of tilt and the nearest useful distance,
	// twice the card's length, by under 1.45.
	const differ = 1.45
	if alongA > differ*alongB || alongB > differ*alongA || c.length > differ*d.length || d.length > differ*c.length {
		return false, false
	}
	long, short := (alongA+alongB)/2, (d.length+c.length)/2
	if turned = short > long; turned {
		long, short = short, long
	}
	// ID-1 is 1.586, business cards 1.54…1.75; a tilt of 35° foreshortens by 0.82.
	return turned, long >= 1.28*short && long <= 2.2*short && short >= 20
}

// quad makes the four-sided shape that lines a ∥ b and their crossings c ∥ d enclose, if it
// might be a card.
func (l *lineSet) quad(a, b int, c, d *crossing, turned bool) (candidate, bool) {
	ta, ua, tb, ub := c.onA.t, d.onA.t, c.onB.t, d.onB.t
	alongA, alongB := math.Abs(ua-ta), math.Abs(ub-tb)
	inA, beyondA := cover(c.onA, d.onA)
	inB, beyondB := cover(c.onB, d.onB)
	if inA < 0.35*alongA || inB < 0.35*alongB {
		return candidate{}, false
	}
	in := (inA/alongA + d.share + inB/alongB + c.share) / 4
	beyond := (min(beyondA/alongA, 1) + d.over + min(beyondB/alongB, 1) + c.over) / 4
	shape := min(1, in/0.9) - beyond
	// Even with all of a and b seen it may be too little.
	var q candidate
	enough := func(onA, onB float64) bool {
		q.score = (onA + onB + c.support + d.support) / 4 * (0.5 + 0.5*shape)
		return q.score > 0.5
	}
	if shape <= 0.4 || !enough(1, 1) {
		return candidate{}, false
	}
	onA, onB := l.support(a, ta, ua), l.support(b, tb, ub)
	if min(onA, onB) < leastSupport || !enough(onA, onB) {
		return candidate{}, false
	}
	q.corners = [4]measure.Pixel{c.p, d.p, d.q, c.q}
	if turned {
		q.corners = [4]measure.Pixel{d.p, d.q, c.q, c.p}
	}
	q.turnClockwise()
	return q, true
}
