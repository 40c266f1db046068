package measure

import "math"

// findCard finds the reference card and fits camera and pose to its outline. Without a usable
// card it returns the reasons, and a zero cardFit.
func findCard(f *frame, opt Options) (cardFit, []Reason) {
	if f.w < 64 || f.h < 64 {
		return cardFit{}, []Reason{TooSmall}
	}
	n := reduction(f)
	why := CardMissing
	for _, k := range []int{n, 2 * n} { // a second, coarser look passes over grain and rust
		e := newEdgeMap(f.reduce(k))
		lines := newLineSet(e, e.lines())
		found := lines.candidates()
		if card, why, ok := findPrinted(f, found, k, opt); ok {
			return card, why
		}
		// What passes for a card may be a frame printed on it: the likest is taken.
		var likest *cardTrial
		for _, c := range found {
			t, ok := tryCard(f, c, k, false, opt)
			if !ok {
				continue
			}
			switch t.verdict() {
			case isCard:
				if likest == nil || t.unlike() < likest.unlike() {
					likest = &t
				}
			case isBusinessCard:
				why = CardWrongSize
			}
			if likest != nil && likest.unlike() < verylike {
				break
			}
		}
		if likest != nil {
			if !likest.within(f) {
				return cardFit{}, []Reason{CardCutOff}
			}
			return likest.usable(f, opt)
		}
		if why != CardMissing {
			break
		}
		for _, c := range lines.cutOffs() {
			if t, ok := tryCard(f, c, k, true, opt); ok && t.verdict() == isCard {
				why = CardCutOff
			}
		}
		if why == CardMissing && smeared(f, lines.lines, k) {
			why = Blurred
		}
		if why != CardMissing {
			break
		}
	}
	return cardFit{}, []Reason{why}
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
	return c.shape.a/id1.a - 1, math.Sqrt(c.cov[8*10+8])
}

// verdict judges shape: ID-1 is 1.586 long with 3.18 mm corners; the business cards that may
// lie in its place are 1.545 (85 × 55, 2.5 % shorter) to 1.75 (US) with square corners.
func (c *cardTrial) verdict() verdict {
	if c.scale() < 1.2 { // a corner's rounding is under 4 px: it can't be told
		return isSomethingElse
	}
	stretch, u := c.stretch()
	round := c.shape.r > 1.6 && c.shape.r < 4.8 // 3.18 ± 0.30 by the standard, wear and fit beside
	most := 0.010
	if c.clean && math.Abs(c.shape.r-cardRadius) < 0.6 {
		most = 0.012 // roundings like these leave less doubt
	}
	switch {
	case round && math.Abs(stretch) < 0.010+math.Min(2.5*u, most):
		return isCard
	case c.clean && c.shape.r < 1.6 && stretch > -0.05 && stretch < 0.13:
		return isBusinessCard
	}
	return isSomethingElse
}

// within reports whether the whole outline lies in the picture.
func (c *cardTrial) within(f *frame) bool {
	for _, o := range cardOutline(id1.a, id1.b, id1.r, 4) {
		if p, _, _ := c.project(o); !f.inside(p, 3) {
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
func (c *cardTrial) usable(f *frame, opt Options) (cardFit, []Reason) {
	if c.scale() < leastScale {
		return cardFit{}, []Reason{TooSmall}
	}
	out := c.finish(f, opt)
	// Movement blurs the two sides square to it, focus all four; a shadow's soft rim just one.
	limit := math.Log(math.Max(mostBlur*c.scale(), 2))
	for k := range 2 {
		if math.Min(c.layers[k][edgeBlur], c.layers[k+2][edgeBlur]) > limit {
			return cardFit{}, []Reason{Blurred}
		}
	}
	return out, nil
}

// verylike is what settles it.
const verylike = 2

// unlike tells how unlike an ID-1 card a trial is, by length, roundings and how much of its
// outline was seen; each is about one where it speaks against it.
func (c *cardTrial) unlike() float64 {
	stretch, u := c.stretch()
	return math.Abs(stretch)/math.Hypot(0.004, u) + math.Abs(c.shape.r-cardRadius)/0.5 + (1-c.seen)/0.1
}

// finish fits once more with the shape held at ID-1's, to edges placed by the layers that are
// seen there.
func (c *cardTrial) finish(f *frame, opt Options) cardFit {
	prior := focalPrior(f, opt)
	prior.radius = cardRadius
	c.shape = id1
	for k := range 2 {
		c.refine(f, k == 0)
		c.cov, c.rms, _ = c.fit(c.places, c.at, c.sigma, prior)
	}
	out := cardFit{kind: CardID1, cam: c.cam,
		height: cardThickness, shape: id1, longSigma: cardLongSigma, shortSigma: cardShortSigma, bias: cardBias}
	var sum float64
	for i, o := range c.places {
		if c.sigma[i] <= 0 {
			continue
		}
		p, nrm, _ := c.project(o)
		d := dot(minus(c.at[i], p), nrm)
		sum += d * d
		out.points = append(out.points, edgePoint{c.at[i], c.sigma[i]})
	}
	out.rms = math.Sqrt(sum / float64(max(1, len(out.points))))
	for i, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		out.corners[i] = c.cam.project(vec3{k[0] * id1.a, k[1] * id1.b, cardThickness})
	}
	lnF := prior.sigmaLnF
	if c.cov != nil {
		lnF = math.Sqrt(c.cov[6*10+6])
	}
	out.tellFocal(lnF, prior, opt)
	return out
}

// tellFocal says how well the focal length is known, lnF being its logarithm's standard
// uncertainty, and what from.
func (c *cardFit) tellFocal(lnF float64, prior cardPrior, opt Options) {
	c.focalSigma, c.focalFrom = lnF*c.cam.F, FocalAssumed
	if opt.Focal35mm > 0 {
		c.focalFrom = FocalExif
	}
	if lnF < 0.7*prior.sigmaLnF {
		c.focalFrom = FocalCard
	}
}
