package card

import (
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// Find finds the reference card: where the finder sees one, or else where straight edges make one. Its edges must prove it
// either way; camera and pose are fitted to its outline. Without a usable card, or in a picture that can't be measured
// whatever is in it, it returns the reasons, and a zero Fit.
func Find(f *picture.Frame, seen func() *finder.Maps, opt measure.Options) (Fit, []measure.Reason) {
	if why := quality(f); len(why) > 0 {
		return Fit{}, why
	}
	if f.W < 64 || f.H < 64 {
		return Fit{}, []measure.Reason{measure.TooSmall}
	}
	s := search{f: f, opt: opt}
	maps := seen()
	guessed := guesses(maps, f, opt)
	if s.prove(guessed) {
		return s.card, s.why
	}
	e := newEdgeMap(f)
	lines := newLineSet(e, e.lines())
	found := lines.candidates()
	for i := range found { // four lines are corners as good as the finder's best
		found[i].score = 1
		found[i].faced(maps)
	}
	if s.prove(found) {
		return s.card, s.why
	}
	return Fit{}, []measure.Reason{s.missing(guessed, lines)}
}

// A search is what has been found in a picture.
type search struct {
	f      *picture.Frame
	opt    measure.Options
	tried  []candidate
	likest *cardTrial  // of what may be a card
	things []cardTrial // what isn't
	card   Fit         // once it is found
	why    []measure.Reason
}

// prove puts shapes to the proof, the likeliest first, and reports whether the card is among them.
func (s *search) prove(shapes []candidate) bool {
	for _, shape := range shapes {
		if slices.ContainsFunc(s.tried, func(o candidate) bool { return o.apart(shape) < mostAside*shape.short() }) {
			continue // what is close to a shape was tried with it
		}
		s.tried = append(s.tried, shape)
		choices := rimmed(s.f, shape, s.opt)
		if card, why, ok := findPrinted(s.f, append(choices, shape), s.opt); ok {
			s.card, s.why = card, why
			return true
		}
		for _, c := range choices {
			t, ok := tryCard(s.f, c, false, s.opt)
			if !ok || t.verdict() != isCard {
				if t.proven = ok; t.cov != nil {
					s.things = append(s.things, t)
				}
			} else if s.likest == nil || t.likerThan(s.likest) {
				s.likest = &t
			}
			if s.likest != nil && (s.likest.unlike() < verylike || s.likest.clean && shape.likely) {
				break
			}
		}
		if s.likest != nil && (shape.likely || s.likest.unlike() < verylike) {
			break
		}
	}
	if s.likest == nil {
		return false
	}
	// What is printed on a thing is none, nor what lies askew on one seen better, unless that is part of it.
	if slices.ContainsFunc(s.things, func(t cardTrial) bool {
		return t.proven && t.clean && (s.likest.framedBy(&t) || !s.likest.clean && s.likest.over(&t) && !t.liesIn(s.likest, -leastBorder))
	}) {
		s.likest = nil
		return false
	}
	if s.why = []measure.Reason{measure.CardCutOff}; s.likest.within(s.f) {
		s.card, s.why = s.likest.usable(s.f, s.opt)
	}
	return true
}

// missing says why there is no card.
func (s *search) missing(guessed []candidate, lines *lineSet) measure.Reason {
	if len(guessed) > 0 && guessed[0].blurred(s.f) {
		return measure.Blurred
	}
	for _, t := range s.things {
		// A frame printed on a card looks like another card: but there is an edge round it where an ID-1 card's would be.
		framed := func(o cardTrial) bool {
			stretch, _ := o.stretch()
			return math.Abs(stretch) < 0.03 && o.seen >= 0.85 && t.framedBy(&o)
		}
		if t.proven && t.verdict() == isOther && !slices.ContainsFunc(s.things, framed) {
			return measure.CardWrongSize
		}
	}
	for _, c := range lines.cutOffs() {
		if t, ok := tryCard(s.f, c, true, s.opt); ok && t.verdict() == isCard && !t.within(s.f) {
			return measure.CardCutOff
		}
	}
	return measure.CardMissing
}

// A verdict is what a clean rectangle is taken for.
type verdict int

const (
	isSomethingElse verdict = iota
	isCard
	isOther
)

// stretch is how much longer a trial is than an ID-1 card as high, relative, and its u.
func (c *cardTrial) stretch() (value, u float64) {
	return c.shape.A/id1.A - 1, c.u(8)
}

// unlikely is how many standard uncertainties off nothing is by chance.
const unlikely = 3

// Corners rounded by less than squarest, mm, are taken for square ones: those come out at 0 to 2.2, for an
// edge is looked for on arcs only, which don't reach into them.
const squarest = 2.4

// verdict judges shape: ID-1 is 1.586 long with 3.18 mm corners; the business cards that may
// lie in its place are 1.545 (85 × 55, 2.5 % shorter) to 1.75 (US) with square corners.
func (c *cardTrial) verdict() verdict {
	stretch, _ := c.stretch()
	switch {
	case c.scale() < 1.2: // a corner's rounding is under 4 px: it can't be told
		return isSomethingElse
	case c.unlike() < unlikely:
		return isCard
	case c.clean && (c.other || c.shape.R < squarest && stretch > -0.05 && stretch < 0.13):
		return isOther
	}
	return isSomethingElse
}

// within reports whether the whole outline lies in the picture.
func (c *cardTrial) within(f *picture.Frame) bool {
	for _, o := range cardOutline(id1.A, id1.B, id1.R, 4) {
		if p, _, _ := c.project(o); !f.Inside(p, 3) {
			return false
		}
	}
	return true
}

// Below leastScale, px per mm, the few tenths of a pixel that an edge can be wrong by come to a
// tenth of a millimetre, and a hole is ten pixels wide.
const leastScale = 2.5

// Edges blurred by more than this standard deviation, mm, no longer show rounding, wall and
// shadow apart, and are misplaced by as much as the 0.76 mm wall suggests: some tenths.
const mostBlur = 0.25

// usable finishes the fit of a card and says what stands against measuring by it.
func (c *cardTrial) usable(f *picture.Frame, opt measure.Options) (Fit, []measure.Reason) {
	if c.scale() < leastScale {
		return Fit{}, []measure.Reason{measure.TooSmall}
	}
	out := c.finish(f, opt)
	// Movement blurs the two sides square to it, focus all four; a shadow's soft rim just one.
	limit := math.Log(math.Max(mostBlur*c.scale(), 2))
	for k := range 2 {
		if math.Min(c.layers[k][edgeBlur], c.layers[k+2][edgeBlur]) > limit {
			return Fit{}, []measure.Reason{measure.Blurred}
		}
	}
	return out, nil
}

// verylike settles it, in standard uncertainties.
const verylike = 1

// unlike tells how unlike an ID-1 card a trial is, in standard uncertainties: by length, roundings
// (3.18 ± 0.30 by the standard, wear and fit beside), how much of its outline was not seen, and whose face it has.
func (c *cardTrial) unlike() float64 {
	v := math.Hypot(math.Hypot(c.apart, (c.shape.R-measure.ID1Radius)/0.5), (1-c.seen)/0.1)
	if c.other {
		v = math.Hypot(v, othersFace)
	}
	return v
}

// othersFace is how much another card's face speaks against a card: the finder tells them apart in nine of ten cases.
const othersFace = 2

// A printed frame keeps leastBorder to mostBorder, mm, from the edge. Less of a border on all four sides
// could be the edge's wall or shadow on some of them, and the fit's doubt on others.
const leastBorder, mostBorder = 0.4, 7.0

// over reports whether a trial's outline is nearly another's.
func (c *cardTrial) over(o *cardTrial) bool {
	a, b := candidate{corners: c.corners(c.shape)}, candidate{corners: o.corners(o.shape)}
	return a.apart(b) < 0.3*b.short()
}

// framedBy reports whether a trial's outline lies inside another's, with a border on all sides.
func (c *cardTrial) framedBy(o *cardTrial) bool { return c.liesIn(o, leastBorder) }

// liesIn reports whether a trial's outline lies inside another's, with at least such a border, mm, on all sides.
func (c *cardTrial) liesIn(o *cardTrial, border float64) bool {
	for _, at := range c.corners(c.shape) {
		p := o.cam.Onto(at, geom.Level(measure.ID1Thickness))
		x, y := o.shape.A-math.Abs(p[0]), o.shape.B-math.Abs(p[1])
		if !(math.Min(x, y) > border && math.Max(x, y) < mostBorder) {
			return false
		}
	}
	return true
}

// likerThan reports whether of two trials that both pass for a card c is the one: the outer of
// two that lie one in the other, for a card may have a frame printed on it but has nothing of the
// kind round it, or else the likelier.
func (c *cardTrial) likerThan(o *cardTrial) bool {
	switch {
	case o.framedBy(c):
		return true
	case c.framedBy(o):
		return false
	}
	return c.unlike() < o.unlike()
}

// finish fits once more with the shape held at ID-1's, to edges placed by the layers that are
// seen there.
func (c *cardTrial) finish(f *picture.Frame, opt measure.Options) Fit {
	prior := focalPrior(f, opt)
	prior.radius = measure.ID1Radius
	c.shape = id1
	if opt.Focal35mm > 0 {
		prior.Lens = prior.near(opt.Focal35mm, c.cam.T[2])
	}
	c.place(f, prior)
	// What is left unexplained is doubt about every edge (Birge, "The calculation of errors by the
	// method of least squares", Physical Review 1932).
	birge := math.Max(1, c.rms)
	if pull := math.Abs(c.pull(prior)); pull > unlikely { // so is a focal length that hardly any camera has
		birge = math.Max(birge, pull)
	}
	out := Fit{Kind: measure.CardID1, Cam: c.cam,
		Height: measure.ID1Thickness, Shape: id1, LongSigma: cardLongSigma, ShortSigma: cardShortSigma, Bias: cardBias}
	var sum float64
	for i, o := range c.places {
		if c.sigma[i] <= 0 {
			continue
		}
		p, nrm, _ := c.project(o)
		d := geom.Dot(geom.Minus(c.at[i], p), nrm)
		sum += d * d
		out.Points = append(out.Points, OutlinePoint{c.at[i], birge * c.sigma[i]})
	}
	out.RMS = math.Sqrt(sum / float64(max(1, len(out.Points))))
	out.Corners = c.corners(id1)
	lnF := prior.SigmaLnF
	if c.cov != nil {
		lnF = math.Min(lnF, birge*c.u(6))
	}
	out.tellFocal(lnF, prior, opt)
	return out
}

// tellFocal says how well the focal length is known, lnF being its logarithm's standard
// uncertainty, and what from.
func (c *Fit) tellFocal(lnF float64, prior cardPrior, opt measure.Options) {
	c.Lens, c.focalSigma, c.FocalFrom = prior.Lens, lnF*c.Cam.F, measure.FocalAssumed
	if opt.Focal35mm > 0 {
		c.FocalFrom = measure.FocalExif
	} else {
		c.Lens = prior.usual(Lens{math.Log(c.Cam.F), lnF})
	}
	if lnF < 0.7*prior.SigmaLnF {
		c.FocalFrom = measure.FocalCard
	}
}
