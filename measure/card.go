package measure

import "math"

// findCard finds the reference card and fits camera and pose to its outline. Without a
// card it returns the reasons, and a zero cardFit.
func findCard(f *frame, opt Options) (cardFit, []Reason) {
	if f.w < 64 || f.h < 64 {
		return cardFit{}, []Reason{TooSmall}
	}
	n := reduction(f)
	why := CardMissing
	for _, k := range []int{n, 2 * n} { // a second, coarser look for a blurred picture
		e := newEdgeMap(f.reduce(k))
		for _, c := range e.candidates() {
			t, ok := tryCard(f, c, k, opt)
			if !ok {
				continue
			}
			switch t.verdict() {
			case isCard:
				return t.finish(f, opt), nil
			case isBusinessCard:
				why = CardWrongSize
			}
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

// verdict judges shape: ID-1 is 1.586 long with 3.18 mm corners; the business cards that may
// lie in its place are 1.545 (85 × 55, 2.5 % shorter) to 1.75 (US) with square corners.
func (c *cardTrial) verdict() verdict {
	stretch := c.shape.a/id1.a - 1
	u := math.Sqrt(c.cov[8*10+8])
	round := c.shape.r > 1.6 && c.shape.r < 4.8 // 3.18 ± 0.30 by the standard, wear and fit beside
	switch {
	case round && math.Abs(stretch) < 0.010+math.Min(2.5*u, 0.01):
		return isCard
	case !round && c.shape.r < 1.6 && stretch > -0.05 && stretch < 0.13:
		return isBusinessCard
	}
	return isSomethingElse
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
	out := cardFit{kind: CardID1, cam: c.cam, focalFrom: FocalAssumed}
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
	out.focalSigma = lnF * c.cam.F
	if opt.Focal35mm > 0 {
		out.focalFrom = FocalExif
	}
	if lnF < 0.7*prior.sigmaLnF {
		out.focalFrom = FocalCard
	}
	return out
}
