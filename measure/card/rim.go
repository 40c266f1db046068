package card

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// A shape is known to some millimetres only, from lines or from the finder: along each of its sides may lie the
// card's edge, a frame printed inside it, its wall's foot, its shadow's rim and what lies beside it. All straight
// edges close to each side are looked for, and of all choices of four those that make a card best are put to the proof.

// A band is what changes across a line or an arc: at some places along it, and steps across.
type band struct {
	lo, step  float64 // the first step's distance outside, and a step, px
	n, places int
	seen      []change // place by place
}

// A change is how the picture changes outwards: luma and chroma, levels per px, and their square's sum; and how surely there is
// an edge, 0…1.
type change struct{ y, cb, cr, all, edge float32 }

// newBand looks from lo to hi px across the places. Each stands for width px along the band.
func newBand(f *picture.Frame, places, normals []measure.Pixel, width float64, rows int, lo, hi, step float64) *band {
	st := newStrip(lo, hi, step)
	n := len(st.y)
	b := &band{lo: lo, step: step, n: n, places: len(places), seen: make([]change, len(places)*n)}
	h := max(1, int(1/step+0.5))
	w := 1 / (2 * float64(h) * step)
	for i, p := range places {
		st.clear()
		for k := range rows {
			t := ((float64(k)+0.5)/float64(rows) - 0.5) * width
			st.add(f, measure.Pixel{X: p.X - t*normals[i].Y, Y: p.Y + t*normals[i].X}, normals[i])
		}
		row := b.seen[i*n : (i+1)*n]
		for k := h; k < n-h; k++ {
			y, cb, cr := (st.y[k+h]-st.y[k-h])*w, (st.cb[k+h]-st.cb[k-h])*w, (st.cr[k+h]-st.cr[k-h])*w
			row[k] = change{y: float32(y), cb: float32(cb), cr: float32(cr), all: float32(y*y + cb*cb + cr*cr)}
		}
		for k := 1; k < n-1; k++ {
			if v := row[k].all; v > 0 && v >= row[k-1].all && v >= row[k+1].all {
				v /= v + leastSlope*leastSlope
				for j := k - 1; j <= k+1; j++ {
					row[j].edge = max(row[j].edge, v)
				}
			}
		}
	}
	return b
}

// sum adds up what changes from so many steps on at the band's first place to so many at its last.
func (b *band) sum(from, to float32) (sum change) {
	at, step := from+0.5, (to-from)/float32(b.places-1)
	for i := range b.places {
		s := &b.seen[i*b.n+int(at)]
		sum.add(s)
		at += step
	}
	return sum
}

func (s *change) add(o *change) {
	s.y, s.cb, s.cr, s.all, s.edge = s.y+o.y, s.cb+o.cb, s.cr+o.cr, s.all+o.all, s.edge+o.edge
}

// shares is how much of a band is an edge by its sum: as seen place by place; and by the mean of all, where it may be as
// faint as white on white.
func (s *change) shares(places int) (each, mean float32) {
	m := float32(places)
	square := (s.y*s.y + s.cb*s.cb + s.cr*s.cr) / (m * m)
	chance := max(s.all/m-square, 0) / m // that of the mean's square
	return s.edge / m, square / (square + 9*chance + leastSlope*leastSlope/9)
}

// share is the greater of the two.
func (b *band) share(from, to float32) float64 {
	s := b.sum(from, to)
	return float64(max(s.shares(b.places)))
}

// line is where an edge runs along the band, steps at its first and last place: where
// most changes, each place having one vote, however strong what it sees, and changes alike. It is askew by at most turn.
func (b *band) line(turn int) (from, to int) {
	votes := make([]float32, len(b.seen))
	for i := range b.places {
		row := b.seen[i*b.n : (i+1)*b.n]
		all := float32(leastSlope * leastSlope)
		for k := range row {
			all += row[k].all
		}
		for k := range row {
			votes[i*b.n+k] = row[k].all / all
		}
	}
	var best float32
	for u := range b.n {
		for v := max(0, u-turn); v < min(b.n, u+turn+1); v++ {
			s := b.sum(float32(u), float32(v))
			_, mean := s.shares(b.places)
			at, step := float32(u)+0.5, float32(v-u)/float32(b.places-1)
			var sum float32
			for i := range b.places {
				sum += votes[i*b.n+int(at)]
				at += step
			}
			// The only edge gets a fifth of the votes.
			if score := sum/float32(b.places) + 0.2*mean; score > best {
				best, from, to = score, u, v
			}
		}
	}
	return from, to
}

// edges tells where across, px, the edge along a line lies at each place where there is one, by the place's neighbours, near
// to either side. At places where none is seen, but in the mean of all of them, it is where the line is.
func (b *band) edges(from, to, near int, tell func(place int, off float64)) {
	at := func(i int) int { return int(float32(from) + 0.5 + float32(to-from)*float32(i)/float32(b.places-1)) }
	votes, slopes := make([]float64, b.n), make([]float64, b.n)
	var faint []int
	var rest change
	for i := range b.places {
		clear(votes)
		clear(slopes)
		var count float64
		lo, hi := max(0, at(i)-offLine), min(b.n, at(i)+offLine+1)
		for j := max(i-near, 0); j <= min(i+near, b.places-1); j++ {
			shift := at(j) - at(i)
			row := b.seen[j*b.n : (j+1)*b.n]
			all := float32(leastSlope * leastSlope)
			for k := max(lo, -shift); k < min(hi, b.n-shift); k++ {
				all += row[k+shift].all
			}
			for k := max(lo, -shift); k < min(hi, b.n-shift); k++ {
				v := row[k+shift].all
				votes[k] += float64(v / all)
				slopes[k] += float64(v)
			}
			count++
		}
		if k, ok := crest(votes); ok && math.Sqrt(slopes[int(k+0.5)]/count) >= leastSlope {
			tell(i, b.lo+k*b.step)
			continue
		}
		faint = append(faint, i)
		rest.add(&b.seen[i*b.n+at(i)])
	}
	if _, mean := rest.shares(len(faint)); len(faint) > 2*near && mean > leastMean {
		for _, i := range faint {
			tell(i, b.lo+float64(at(i))*b.step)
		}
	}
}

// leastEach is the least share of an edge that is seen place by place, leastMean of one that is seen in the mean only: it is then
// three times what chance makes.
const leastEach, leastMean = 0.6, 0.5

// offLine is how far, in steps, an edge may lie from the line along its side: lenses and cards are bent.
const offLine = 4

// voters is how many neighbours to either side vote with a place: 4 mm of the outline where places
// are 2 mm apart, some letters or grains long, over which a card stays straight to a tenth of a pixel
// as soon as it is fitted at all.
const voters = 2

// drop forgets the edge there and what is less than apart px off.
func (b *band) drop(from, to, apart float64) {
	for i := range b.places {
		at := b.lo + (from+(to-from)*float64(i)/float64(b.places-1))*b.step
		clear(b.seen[i*b.n+max(int((at-apart-b.lo)/b.step+0.5), 0) : i*b.n+min(int((at+apart-b.lo)/b.step+1.5), b.n)])
	}
}

// A rim is a straight edge along a side of a shape.
type rim struct {
	reach
	share float64 // how much of it is seen, 0…1
}

// leastRim is the least share of a side that is an edge; mostRims is how many a side may have.
const leastRim, mostRims = 0.35, 5

// rims lists the straight edges from in px inside to out px outside of a side from p to q, the strongest first, those
// less than apart px off a stronger one left out.
func rims(f *picture.Frame, p, q measure.Pixel, in, out, apart float64) (kept []rim) {
	const places, steps, most = 28, 84, 0.1 // the corners are left out, as far as they may be off
	length := geom.Distance(p, q)
	d := measure.Pixel{X: (q.X - p.X) / length, Y: (q.Y - p.Y) / length}
	out2 := measure.Pixel{X: d.Y, Y: -d.X} // corners run clockwise on the screen
	at, normals := make([]measure.Pixel, places), make([]measure.Pixel, places)
	for i := range at {
		at[i], normals[i] = geom.Between(p, q, most+(1-2*most)*float64(i)/(places-1)), out2
	}
	b := newBand(f, at, normals, length/places, 3, -in, out, math.Max(0.5, (in+out)/steps))
	type line struct {
		from, to int
		share    float64
	}
	var lines []line
	for from := range b.n {
		for to := max(0, from-b.n/2); to < min(b.n, from+b.n/2+1); to++ {
			if v := b.share(float32(from), float32(to)); v > leastRim {
				lines = append(lines, line{from, to, v})
			}
		}
	}
	slices.SortFunc(lines, func(a, b line) int { return cmp.Compare(b.share, a.share) })
	for _, l := range lines {
		if b.share(float32(l.from), float32(l.to)) < 0.9*l.share {
			continue // a stronger one's
		}
		end := func(i, step int) measure.Pixel {
			off := b.lo + float64(step)*b.step
			return measure.Pixel{X: at[i].X + off*out2.X, Y: at[i].Y + off*out2.Y}
		}
		u, v := end(0, l.from), end(places-1, l.to)
		s := geom.Distance(u, v)
		kept = append(kept, rim{reach{c: u, d: measure.Pixel{X: (v.X - u.X) / s, Y: (v.Y - u.Y) / s}}, l.share})
		if len(kept) == mostRims {
			break
		}
		b.drop(float64(l.from), float64(l.to), apart)
	}
	return kept
}

// A choice of four rims, how unlikely an ID-1 card it is, −2 ln of its likelihood, and how little of it is seen.
type choice struct {
	candidate
	cost, unseen float64
}

// A card's sides may be off by mostInside to mostOutside of its shorter side: the finder's corners lie within 4 mm of
// 54, and a border is some 3 mm wide. Shapes less than mostAside of it apart are one.
const mostInside, mostOutside, mostAside = 0.07, 0.1, 0.06

// rimmed lists the rectangles that edges close round a shape make, the likest an ID-1 card first; the last is the best
// seen one of any length.
func rimmed(f *picture.Frame, c candidate, opt measure.Options) []candidate {
	short := c.short()
	apart := math.Max(3, 0.012*short)
	var found [4][]rim
	for k := range 4 {
		found[k] = rims(f, c.corners[k], c.corners[(k+1)%4], mostInside*short, mostOutside*short, apart)
		if len(found[k]) == 0 {
			return nil
		}
	}
	prior := focalPrior(f, opt)
	start := func(c candidate, lnF float64) (s cardState, stretch float64) {
		s, ok := startCard(c, math.Exp(lnF), f.W, f.H)
		if scale := s.cam.PxPerMM(geom.Vec3{0, 0, measure.ID1Thickness}); !ok || !(scale > 0 && scale < math.MaxUint16) { // no camera
			return s, math.Inf(1)
		}
		return s, s.shape.A/id1.A - 1
	}
	// The focal length tells on the length where the card is tilted.
	_, a := start(c, prior.LnF)
	_, b := start(c, prior.LnF+prior.SigmaLnF)
	u := math.Hypot(startSlack, a-b)
	var all []choice
	var pick [4]int
	for {
		o := choice{candidate: c}
		ok := true
		for k := range 4 {
			side := &found[k][pick[k]]
			p, meet := found[(k+3)%4][pick[(k+3)%4]].meet(&side.reach)
			o.corners[k], ok = p, ok && meet
			o.unseen += math.Pow((1-side.share)/unseenRim, 2)
		}
		if ok {
			stretch := 0.0
			if o.cost = o.unseen; o.cost < mostCost {
				_, stretch = start(o.candidate, prior.LnF)
				o.cost += math.Pow(math.Min(stretch/u, 4), 2)
			}
			if !math.IsInf(stretch, 1) {
				all = append(all, o)
			}
		}
		k := 0
		for ; k < 4; k++ {
			if pick[k]++; pick[k] < len(found[k]) {
				break
			}
			pick[k] = 0
		}
		if k == 4 {
			break
		}
	}
	var kept []candidate
	if len(all) == 0 {
		return nil
	}
	seen := slices.MinFunc(all, func(a, b choice) int { return cmp.Compare(a.unseen, b.unseen) })
	slices.SortFunc(all, func(a, b choice) int { return cmp.Compare(a.cost, b.cost) })
	all = all[:min(len(all), mostChoices)]
	for i := range all {
		if all[i].cost >= mostCost {
			all = all[:i]
			break
		}
		s, _ := start(all[i].candidate, prior.LnF)
		for _, share := range s.arcs(f) {
			all[i].cost += math.Pow((1-share)/unseenRim, 2)
		}
	}
	slices.SortFunc(all, func(a, b choice) int { return cmp.Compare(a.cost, b.cost) })
	for i, o := range append(all, seen) {
		if (len(kept) < 3 && o.cost < mostCost || i == len(all)) && !slices.ContainsFunc(kept, func(k candidate) bool { return k.apart(o.candidate) < 2*apart }) {
			o.room = room(found, o.candidate, apart)
			kept = append(kept, o.candidate)
		}
	}
	return kept
}

// room is how close inside a rectangle's sides a frame is printed, px: 0 where there is none on all four.
func room(found [4][]rim, c candidate, apart float64) float64 {
	least := math.Inf(1)
	for k, all := range found {
		p, q := c.corners[k], c.corners[(k+1)%4]
		mid := geom.Between(p, q, 0.5)
		side := math.Inf(1)
		for _, r := range all {
			t := r.at(mid)
			on := measure.Pixel{X: r.c.X + t*r.d.X, Y: r.c.Y + t*r.d.Y}
			// Clockwise, inside is to the right of the way.
			if off := geom.Cross2(geom.Minus(q, p), geom.Minus(on, mid)) / geom.Distance(p, q); off > apart && r.share >= leastEach {
				side = math.Min(side, off)
			}
		}
		if math.IsInf(side, 1) {
			return 0
		}
		least = math.Min(least, side)
	}
	return least
}

// mostChoices is how many choices' corners are looked at; mostCost is what one may cost that is put to the proof.
const mostChoices, mostCost = 40, unlikely * unlikely * 1.5

// arcs is how much of the roundings at a card's corners is seen, 0…1 each.
func (s *cardState) arcs(f *picture.Frame) (shares [4]float64) {
	scale := s.cam.PxPerMM(geom.Vec3{0, 0, measure.ID1Thickness})
	for k := range shares {
		var at, normals []measure.Pixel
		for _, o := range cardOutline(s.shape.A, s.shape.B, measure.ID1Radius, 1.5) {
			if o.side == 4+k {
				p, n, _ := s.project(o)
				at, normals = append(at, p), append(normals, n)
			}
		}
		off := 2 + 0.3*scale // px
		b := newBand(f, at, normals, 0.7*scale, 3, -off-2, off+2, math.Max(0.5, off/10))
		for i := range b.n {
			shares[k] = math.Max(shares[k], b.share(float32(i), float32(i)))
		}
	}
	return shares
}

// A start is good to startSlack of its length; of a side, unseenRim isn't seen as an edge by chance.
const startSlack, unseenRim = 0.015, 0.3

// blurred reports whether the edges along a shape are: by focus all of them, by movement the two sides square to it.
func (c *candidate) blurred(f *picture.Frame) bool {
	const places = 28
	short := c.short()
	limit := math.Max(mostBlur*short/measure.ID1Short, 2)
	var widths [4]float64
	for k := range widths {
		p, q := c.corners[k], c.corners[(k+1)%4]
		l := geom.Distance(p, q)
		normal := measure.Pixel{X: (q.Y - p.Y) / l, Y: (p.X - q.X) / l}
		st := newStrip(-mostInside*short, mostOutside*short, 1)
		var all []float64
		for i := range places {
			st.clear()
			for j := range 3 {
				st.add(f, geom.Between(p, q, 0.1+0.8*(float64(3*i+j)+0.5)/(3*places)), normal)
			}
			if w, ok := st.width(); ok {
				all = append(all, w)
			}
		}
		if c.likely {
			widths[k] = math.Inf(1) // there is an edge, too soft to be one
		}
		if len(all) > places/4 {
			slices.Sort(all)
			widths[k] = all[len(all)/2]
		}
	}
	return math.Min(widths[0], widths[2]) > limit || math.Min(widths[1], widths[3]) > limit
}
