package card

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// Find finds the reference card, by its edges or else where the finder, asked for what it sees, has seen one, and fits camera and pose to its outline. Without a usable
// card, or in a picture that can't be measured whatever is in it, it returns the reasons, and a
// zero Fit.
func Find(f *picture.Frame, seen func() *finder.Maps, opt measure.Options) (Fit, []measure.Reason) {
	card, why := findByLines(f, opt)
	if len(why) == 1 && (why[0] == measure.CardMissing || why[0] == measure.Blurred) && min(f.W, f.H) >= 64 {
		if card, why, ok := findGuessed(f, seen(), f.Reduction(), opt); ok {
			return card, why
		}
	}
	return card, why
}

// findByLines finds the card by straight edges.
func findByLines(f *picture.Frame, opt measure.Options) (Fit, []measure.Reason) {
	if why := quality(f); len(why) > 0 {
		return Fit{}, why
	}
	if f.W < 64 || f.H < 64 {
		return Fit{}, []measure.Reason{measure.TooSmall}
	}
	n := f.Reduction()
	why := measure.CardMissing
	for _, k := range []int{n, 2 * n} { // a second, coarser look passes over grain and rust
		e := newEdgeMap(f.Reduce(k))
		lines := newLineSet(e, e.lines())
		found := lines.candidates()
		if card, why, ok := findPrinted(f, found, k, opt); ok {
			return card, why
		}
		var likest *cardTrial
		take := func(t cardTrial) {
			if likest == nil || t.likerThan(likest) {
				likest = &t
			}
		}
		try := func(c candidate) (t cardTrial) {
			t, ok := tryCard(f, c, k, false, opt)
			if !ok {
				return t
			}
			switch t.verdict() {
			case isCard:
				take(t)
			case isBusinessCard:
				why = measure.CardWrongSize
			}
			return t
		}
		for _, c := range found {
			t := try(c)
			if c, ok := t.framed(k); ok {
				try(c)
			}
			if likest != nil && likest.unlike() < verylike {
				break
			}
		}
		if likest == nil {
			for _, c := range lines.threeSided() {
				// What was no line at first must be an edge all along when looked at closely.
				if t, ok := tryCard(f, c, k, false, opt); ok && t.clean && t.verdict() == isCard {
					take(t)
				}
			}
		}
		if likest != nil {
			if !likest.within(f) {
				return Fit{}, []measure.Reason{measure.CardCutOff}
			}
			return likest.usable(f, opt)
		}
		if why != measure.CardMissing {
			break
		}
		for _, c := range lines.cutOffs() {
			if t, ok := tryCard(f, c, k, true, opt); ok && t.verdict() == isCard && !t.within(f) {
				why = measure.CardCutOff
			}
		}
		if why == measure.CardMissing && smeared(f, lines.lines, k) {
			why = measure.Blurred
		}
		if why != measure.CardMissing {
			break
		}
	}
	return Fit{}, []measure.Reason{why}
}

// findGuessed looks for the card where the finder sees one; found is false where the edges prove none.
func findGuessed(f *picture.Frame, seen *finder.Maps, n int, opt measure.Options) (card Fit, why []measure.Reason, found bool) {
	shapes := guesses(seen, n)
	guessed := len(shapes)
	var likest *cardTrial
	for i := 0; i < len(shapes); i++ {
		t, ok := tryCard(f, shapes[i], n, false, opt)
		if !ok {
			continue
		}
		if framed, is := t.framed(n); is && i < guessed { // what was taken for the edge may be the frame of its print
			shapes = append(shapes, framed)
		}
		if t.verdict() != isCard {
			continue
		}
		if likest == nil || t.likerThan(likest) {
			likest = &t
		}
		if likest.unlike() < verylike {
			break
		}
	}
	if likest == nil || !likest.within(f) {
		return Fit{}, nil, false
	}
	card, why = likest.usable(f, opt)
	return card, why, true
}

// A verdict is what a clean rectangle is taken for.
type verdict int

const (
	isSomethingElse verdict = iota
	isCard
	isBusinessCard
)

// stretch is how much longer a trial is than an ID-1 card as high, relative, and its u.
func (c *cardTrial) stretch() (value, u float64) {
	return c.shape.A/id1.A - 1, c.u(8)
}

// unlikely is how many standard uncertainties off nothing is by chance.
const unlikely = 3

// Corners rounded by less than squarest, mm, are taken for square ones: those come out at 1 to 1.8, for an
// edge is looked for on arcs only, which don't reach into them.
const squarest = 2

// verdict judges shape: ID-1 is 1.586 long with 3.18 mm corners; the business cards that may
// lie in its place are 1.545 (85 × 55, 2.5 % shorter) to 1.75 (US) with square corners.
func (c *cardTrial) verdict() verdict {
	stretch, _ := c.stretch()
	switch {
	case c.scale() < 1.2: // a corner's rounding is under 4 px: it can't be told
		return isSomethingElse
	case c.unlike() < unlikely:
		return isCard
	case c.clean && c.shape.R < squarest && stretch > -0.05 && stretch < 0.13:
		return isBusinessCard
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
// (3.18 ± 0.30 by the standard, wear and fit beside) and how much of its outline was not seen.
func (c *cardTrial) unlike() float64 {
	return math.Hypot(math.Hypot(c.apart, (c.shape.R-measure.ID1Radius)/0.5), (1-c.seen)/0.1)
}

// A printed frame keeps leastBorder to mostBorder, mm, from the edge. Less of a border on all four sides
// could be the edge's wall or shadow on some of them, and the fit's doubt on others.
const leastBorder, mostBorder = 0.4, 7.0

// framedBy reports whether a trial's outline lies inside another's, with a border on all sides.
func (c *cardTrial) framedBy(o *cardTrial) bool {
	for _, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		p := o.cam.Onto(c.cam.Project(geom.Vec3{k[0] * c.shape.A, k[1] * c.shape.B, measure.ID1Thickness}), geom.Level(measure.ID1Thickness))
		x, y := o.shape.A-math.Abs(p[0]), o.shape.B-math.Abs(p[1])
		if !(math.Min(x, y) > leastBorder && math.Max(x, y) < mostBorder) {
			return false
		}
	}
	return true
}

// framed takes a trial for the inside of a frame that runs round an ID-1 card with the same border on all
// sides: its length against its width tells which. It gives the card, reduced by n.
func (c *cardTrial) framed(n int) (candidate, bool) {
	if c.seen < 0.8 {
		return candidate{}, false
	}
	// (85.60 − 2m) / (53.98 − 2m) is the trial's length by its width.
	ratio := c.shape.A / c.shape.B
	m := (measure.ID1Short*ratio - measure.ID1Long) / (2 * (ratio - 1))
	if !(m > leastBorder && m < mostBorder) {
		return candidate{}, false
	}
	border := m * c.shape.B / (measure.ID1Short/2 - m) // by the trial's scale
	out := candidate{room: border * c.scale() / float64(n)}
	for i, k := range [4][2]float64{{-1, 1}, {1, 1}, {1, -1}, {-1, -1}} {
		p := c.cam.Project(geom.Vec3{k[0] * (c.shape.A + border), k[1] * (c.shape.B + border), measure.ID1Thickness})
		out.corners[i] = measure.Pixel{X: p.X / float64(n), Y: p.Y / float64(n)}
	}
	out.turnClockwise()
	return out, !math.IsNaN(out.corners[0].X + out.corners[1].X + out.corners[2].X + out.corners[3].X)
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
	for i, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		out.Corners[i] = c.cam.Project(geom.Vec3{k[0] * id1.A, k[1] * id1.B, measure.ID1Thickness})
	}
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
