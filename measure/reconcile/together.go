package reconcile

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// Whether photos show one hinge is weighed before anything is combined: two hinges averaged make a
// third that nobody has.

// How far a photo's number may be off beyond its uncertainty, mm: what harsh light and worn metal do,
// on the photographs of docs/measured.md. Added so that one hinge seen twice is not taken for two.
const (
	sizeOff   = 0.35
	placeOff  = 0.25 // of a hole
	radiusOff = 0.6
	barrelOff = 0.6
	scaleOff  = 0.003 // of all lengths together: by the focal length and the height over the card
)

// What speaks against one hinge counts as a chi-square does, one thing at most mostUnlike, as a place five
// standard uncertainties off: a rust patch taken for a hole, or a corner in the shadow, doesn't decide alone.
const (
	mostUnlike    = 25
	strayHole     = 9 // a hole without its like in the other photo
	otherKnuckles = 9
	otherBearing  = 4
)

// byChance is how often photos of one hinge may be taken for those of two.
const byChance = 1e-5

// A likeness is what was compared of two photos, one lying as it suits best.
type likeness struct {
	lengths []compared
	against float64 // chi-square of what is no length
	terms   int
	why     string  // what of that speaks most against one hinge
	most    float64 // how much
}

// A compared is one length in both photos, mm; v is the variance of the difference, without what all
// lengths of a photo share.
type compared struct {
	a, b, v float64
	what    string
}

// against is what a length speaks against one hinge where the second photo's scale is off by so much.
func (c *compared) against(scale float64) float64 {
	d := c.a - c.b*(1+scale)
	return math.Min(mostUnlike, d*d/c.v)
}

// scale is how much larger the second photo's lengths want to be, of them all together; prior is how much
// the photos' scales may differ.
func (l *likeness) scale(prior float64) float64 {
	weight, sum := 1/(prior*prior), 0.0
	for _, c := range l.lengths {
		if d := c.a - c.b; d*d < 4*mostUnlike*c.v+math.Pow(3*prior*c.b, 2) { // not of what is another thing
			weight, sum = weight+c.b*c.b/c.v, sum+c.b*d/c.v
		}
	}
	return sum / weight
}

// total is the chi-square, and what speaks most against one hinge.
func (l *likeness) total(prior float64) (chiSquare float64, terms int, why string) {
	scale, most := l.scale(prior), l.most
	chiSquare, terms, why = l.against+scale*scale/(prior*prior), l.terms, l.why
	for _, c := range l.lengths {
		x := c.against(scale)
		chiSquare, terms = chiSquare+x, terms+1
		if x > most {
			most, why = x, c.what
		}
	}
	return chiSquare, terms, why
}

// A side is one photo as it is compared.
type side struct{ *witness }

// own is a length with what is its own of its variance.
func (s side) own(k measure.Key) (x, v float64, ok bool) {
	i, ok := s.at[k]
	if !ok {
		return 0, 0, false
	}
	x = s.x[i]
	return x, math.Max(s.cov.At(i, i)-math.Pow(s.print*x, 2), 0), true
}

// compare adds one length of both.
func (l *likeness) compare(a, b side, ka, kb measure.Key, off float64, what string) {
	x, vx, okX := a.own(ka)
	y, vy, okY := b.own(kb)
	if !okX || !okY {
		return
	}
	if what != "" {
		what = fmt.Sprintf("%s %s in one, %s in the other", what, sayInch(measure.Length(x)), sayInch(measure.Length(y)))
	}
	l.lengths = append(l.lengths, compared{x, y, vx + vy + off*off, what})
}

// cornerOf says how a corner of radius r mm is made.
func cornerOf(r float64) string {
	if r < 1.5 {
		return "square corners"
	}
	return "corners of " + sayInch(measure.Length(r)) + " radius"
}

// note adds what is no length.
func (l *likeness) note(x float64, terms int, why string) {
	l.against, l.terms = l.against+x, l.terms+terms
	if x > l.most {
		l.most, l.why = x, why
	}
}

// likeIn compares two hinges of which b lies with its leaves swapped or its ends flipped.
func likeIn(a, b side, swap, flip bool) *likeness {
	l := &likeness{}
	l.compare(a, b, "height", "height", sizeOff, "the height is")
	l.compare(a, b, "open_width", "open_width", sizeOff, "the open width is")
	l.compare(a, b, "barrel_diameter", "barrel_diameter", barrelOff, "the barrel is")
	if m, n := a.hinge.Knuckles, b.hinge.Knuckles; m > 0 && n > 0 {
		if m == n {
			l.note(0, 1, "")
		} else {
			l.note(otherKnuckles, 1, fmt.Sprintf("%d knuckles in one, %d in the other", m, n))
		}
	}
	known := func(b measure.Bearing) bool { return b == measure.BallBearing || b == measure.PlainBearing }
	if m, n := a.hinge.Bearing, b.hinge.Bearing; known(m) && known(n) && m != n {
		l.note(otherBearing, 1, fmt.Sprintf("a %s bearing in one, a %s one in the other", m, n))
	}
	for i := range a.hinge.Leaves {
		j := i
		if swap {
			j = len(b.hinge.Leaves) - 1 - i
		}
		if j >= 0 && j < len(b.hinge.Leaves) {
			l.leaves(a, b, i, j, flip)
		}
	}
	return l
}

// leaves compares leaf i of a with leaf j of b, which lies end for end where it is flipped.
func (l *likeness) leaves(a, b side, i, j int, flip bool) {
	if a.hinge.Leaves[i].Corners != measure.CornersNotDecidable && b.hinge.Leaves[j].Corners != measure.CornersNotDecidable {
		l.compare(a, b, measure.LeafKey(i, "corner_radius"), measure.LeafKey(j, "corner_radius"), radiusOff, "")
		if n := len(l.lengths) - 1; n >= 0 && l.lengths[n].what == "" {
			l.lengths[n].what = cornerOf(l.lengths[n].a) + " in one, " + cornerOf(l.lengths[n].b) + " in the other"
		}
	}
	from, to := placesOf(a, i, false), placesOf(b, j, flip)
	if len(from) == 0 || len(to) == 0 {
		return
	}
	taken := make([]bool, len(to))
	stray := max(0, len(to)-len(from))
	for _, o := range from {
		best, cost := -1, math.Inf(1)
		for k, p := range to {
			if c := math.Hypot(o.edge-p.edge, o.end-p.end); !taken[k] && c < cost {
				best, cost = k, c
			}
		}
		if best < 0 {
			stray++ // the other leaf has no more
			continue
		}
		taken[best] = true
		p := to[best]
		what := fmt.Sprintf("a screw hole lies %.1f mm off its place in the other", cost)
		l.lengths = append(l.lengths, compared{o.edge, p.edge, o.edgeV + p.edgeV + placeOff*placeOff, what},
			compared{o.end, p.end, o.endV + p.endV + placeOff*placeOff, what})
	}
	if stray > 0 {
		l.note(float64(stray)*strayHole, stray, fmt.Sprintf("%d screw holes in a leaf of one, %d of the other", len(from), len(to)))
	}
}

// A place is where a hole lies, mm, with the variances of that.
type place struct{ edge, end, edgeV, endV float64 }

// placesOf lists a leaf's holes, counted from the other end where it is flipped.
func placesOf(s side, leaf int, flip bool) (all []place) {
	for k := range s.hinge.Leaves[leaf].Holes {
		edge, edgeV, okEdge := s.own(measure.HoleKey(leaf, k, "from_edge"))
		end, endV, okEnd := s.own(measure.HoleKey(leaf, k, "from_end"))
		if height, v, ok := s.own("height"); flip {
			end, endV, okEnd = height-end, endV+v, okEnd && ok
		}
		if okEdge && okEnd {
			all = append(all, place{edge, end, edgeV, endV})
		}
	}
	return all
}

// sameHinge reports whether two photos may show one hinge, lying either way round, and what speaks most
// against it where they don't.
func sameHinge(a, b *witness) (same bool, why string) {
	prior := math.Hypot(scaleOff, math.Hypot(a.print, b.print))
	least := math.Inf(1)
	for _, swap := range []bool{false, true} {
		for _, flip := range []bool{false, true} {
			x, terms, w := likeIn(side{a}, side{b}, swap, flip).total(prior)
			if terms == 0 {
				return true, ""
			}
			// Placements compare by how far beyond their limits they are.
			if beyond := x - ChiSquareLimit(byChance, terms); beyond < least {
				least, why = beyond, w
			}
		}
	}
	return least <= 0, why
}

// samePicture reports whether two photos are one picture, sent twice or saved anew: the card's corners lie in
// the same places of it, nearer than a hand can hold a phone twice.
func samePicture(a, b measure.Result) bool {
	if a.Card == nil || b.Card == nil || a.Image.Width == 0 || b.Image.Width == 0 {
		return false
	}
	const near = 0.0015 // of the picture's width: 6 px of 4,000
	if math.Abs(float64(a.Image.Height)/float64(a.Image.Width)-float64(b.Image.Height)/float64(b.Image.Width)) > 2*near {
		return false
	}
	for k, p := range a.Card.CornersPx {
		q := b.Card.CornersPx[k]
		if math.Hypot(p.X/float64(a.Image.Width)-q.X/float64(b.Image.Width), p.Y/float64(a.Image.Width)-q.Y/float64(b.Image.Width)) > near {
			return false
		}
	}
	return true
}

// chosen is the number of the photo that the customer says it is about; 0 untold. Where several are named they
// are told apart, and none is chosen.
func chosen(typed measure.Readings) (number int) {
	for _, s := range typed.Statements {
		n, err := strconv.Atoi(s.Value)
		if s.Kind != measure.SaidPhoto || err != nil {
			continue
		}
		if number > 0 && n != number {
			return 0
		}
		number = n
	}
	return number
}

// sortOut takes the photos apart by the hinge that they show. Where there are several, nothing is
// combined, unless the customer said which one it is about or the counter overruled that they differ.
func (r *reconciler) sortOut(photos []measure.Result, typed measure.Readings, overrules []string) {
	r.see(photos)
	var groups [][]*witness
	why := ""
	for _, w := range r.photos {
		at := slices.IndexFunc(groups, func(g []*witness) bool { same, _ := sameHinge(g[0], w); return same })
		if at < 0 {
			if len(groups) > 0 {
				_, why = sameHinge(groups[0][0], w)
			}
			groups = append(groups, []*witness{w})
			continue
		}
		groups[at] = append(groups[at], w)
	}
	if len(groups) < 2 {
		r.together()
		return
	}
	if n := chosen(typed); n > 0 {
		of := func(w *witness) bool { return w.photo == n }
		if at := slices.IndexFunc(groups, func(g []*witness) bool { return slices.ContainsFunc(g, of) }); at >= 0 {
			for k, g := range groups {
				if k != at {
					r.others = append(r.others, g...)
				}
			}
			r.photos = groups[at]
			r.notes = append(r.notes, fmt.Sprintf("the photos show different hinges; by the customer's answer it is about the one in photo %d", n))
			r.together()
			return
		}
	}
	var names []string
	for _, g := range groups {
		var numbers []int
		for _, w := range g {
			numbers = append(numbers, w.photo)
		}
		slices.Sort(numbers)
		r.hinges = append(r.hinges, numbers)
	}
	slices.SortFunc(r.hinges, func(a, b []int) int { return a[0] - b[0] })
	for _, n := range r.hinges {
		names = append(names, measure.PhotoNames(n))
	}
	count := fmt.Sprint(len(groups))
	if len(groups) == 2 {
		count = "two"
	}
	d := measure.Disagreement{Quantity: measure.QUnknown, Slip: measure.SlipOtherPhoto, Odds: 1e9, Applied: true, Typed: strings.Join(names, ", "),
		Sentence: fmt.Sprintf("%s show %s different hinges: %s; nothing is taken from any of them until it is known which one it is about", strings.Join(names, " and "), count, why)}
	if slices.Contains(overrules, d.Name()) {
		d.Applied, d.Overrule = false, true
		r.hinges, r.overruled = nil, append(r.overruled, d)
		r.together()
		return
	}
	r.others, r.photos = r.photos, nil
	r.apart = append(r.apart, d)
}

// together aligns the photos, which show one hinge, and combines them.
func (r *reconciler) together() {
	if len(r.photos) == 0 {
		return
	}
	ref := r.photos[0]
	for _, w := range r.photos[1:] {
		w.align(ref)
	}
	r.seen = ref
	if len(r.photos) > 1 {
		if s, err := combine(r.photos, nil); err == nil {
			r.seen = s
		}
	}
}
