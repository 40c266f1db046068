package measure

import (
	"cmp"
	"image"
	"math"
	"slices"
)

// leastPicture is the shortest side, px, in which a card and a hinge can be told at all.
const leastPicture = 300

// Photo measures an upright picture. It never fails: what cannot be measured comes back as
// a Result with Status Retake and the reasons.
func Photo(img image.Image, opt Options) Result {
	clock := opt.Clock
	if clock == nil {
		clock = func() float64 { return 0 }
	}
	start := clock()
	b := img.Bounds()
	r := Result{Status: Retake, RetakeReasons: []Reason{}, Image: ImageInfo{Width: b.Dx(), Height: b.Dy()}}
	if b.Dx() < leastPicture || b.Dy() < leastPicture {
		r.RetakeReasons = append(r.RetakeReasons, TooSmall)
		return r
	}
	f := newFrame(img)
	card, reasons := findCard(f, opt)
	cardDone := clock()
	r.Timing.Card = cardDone - start
	if len(reasons) > 0 {
		r.RetakeReasons = reasons
		r.Timing.Total = cardDone - start
		return r
	}
	h, reasons := findHinge(f, card, opt)
	describe(&r, card, h)
	if len(reasons) > 0 {
		r.RetakeReasons = reasons
	} else {
		r.Status = Measured
		hinge := h.hinge(f)
		r.Hinge = &hinge
	}
	r.Timing.Hinge = clock() - cardDone
	r.Timing.Total = clock() - start
	return r
}

// describe fills in what was found of picture, camera and card; h may be nil.
func describe(r *Result, card cardFit, h *hingeFit) {
	cam := card.cam
	if h != nil {
		cam = h.camera(h.p)
	}
	r.Image.PxPerMM = cam.pxPerMM(vec3{0, 0, card.height})
	r.Image.FocalPx, r.Image.FocalFrom = cam.F, card.focalFrom
	axis := cam.R[2] // the optical axis in the world
	down := math.Min(1, math.Abs(axis[2]))
	r.Camera = &CameraInfo{
		Distance: Length(cam.eye()[2] / math.Max(0.1, down)),
		TiltDeg:  math.Acos(down) * 180 / math.Pi,
		K1:       cam.K1,
	}
	r.Card = &CardInfo{Kind: card.kind, CornersPx: card.corners, Residual: card.rms}
	if card.kind == CardPrinted {
		r.Card.PrintScale = &card.print
	}
}

// findHinge finds the hinge on the table round the card and fits it.
func findHinge(f *frame, card cardFit, opt Options) (*hingeFit, []Reason) {
	h, reasons := findHingeWithin(groundLimit, f, card, opt)
	if len(reasons) > 0 && reasons[0] == HingeCutOff {
		// It may be the map that cuts it off, not the picture.
		if h, why := findHingeWithin(groundWide, f, card, opt); len(why) == 0 {
			return h, nil
		}
	}
	return h, reasons
}

// findHingeWithin looks on a map no wider than limit mm.
func findHingeWithin(limit float64, f *frame, card cardFit, opt Options) (*hingeFit, []Reason) {
	g := mapGround(f, &card.cam, limit)
	g.findObjects()
	h, reasons := findHingeOn(g, f, card, opt)
	if card.kind == CardPrinted && len(reasons) > 0 && reasons[0] != SeveralHinges {
		// The hinge may lie on the table beside the card's sheet, or half on it.
		for _, beyond := range g.beyondSheet() {
			if h, why := findHingeOn(beyond, f, card, opt); len(why) == 0 {
				return h, nil
			}
		}
	}
	return h, reasons
}

// A trial is a rough hinge brought to its edges.
type trial struct {
	*hingeFit
	rough roughHinge
	share float64 // of the edges found

	inside  *hingeFit // the same, to be brought to edges inside of a shadow's rim; nil for none
	refined bool
	reason  Reason // why it is no whole hinge in plain view; "" where it is
}

// promise ranks trials: by the edges found, how like a hinge the place looked, and of a single leaf, whose
// outer edge may stand against any of several lines along its knuckles, how well those show.
func (t *trial) promise() float64 {
	p := t.share * t.share * math.Sqrt(t.rough.score)
	if t.edgesOf() == 3 {
		p *= t.shown
	}
	return p
}

// judge refines the trial, once, and reports whether a hinge with holes came of it.
func (t *trial) judge(f *frame) bool {
	if !t.refined {
		t.refined = true
		t.reason = t.refute(f)
		if t.reason == HingeCovered && t.inside != nil {
			// What was taken for an edge may be the rim of the leaf's shadow.
			in := *t
			in.hingeFit = t.inside
			if in.share = in.first(f); in.share > 0 && in.refute(f) == "" && in.complete(f) {
				in.reason = ""
				*t = in
			}
		}
	}
	return t.reason == ""
}

// refute refines the hinge and gives a reason why it is none; "" where it is one.
func (t *trial) refute(f *frame) Reason {
	switch {
	case t.rough.cutOff || !t.whole(f):
		return HingeCutOff
	case !t.refine(f):
		return HingeCovered
	case t.holeCount() == 0:
		// A sheet, a box or a phone has edges too.
		return HingeMissing
	}
	return ""
}

// findHingeOn finds the hinge among what does not look like the surface, and where that leaves
// doubt by its lines.
func findHingeOn(g *ground, f *frame, card cardFit, opt Options) (*hingeFit, []Reason) {
	var trials []*trial
	var found, seen []roughHinge
	// A pair with every edge found settles it; a single leaf may be half of a pair not seen yet.
	settles := func(t *trial) bool { return t.share == 1 && t.edgesOf() == 6 }
	for _, limits := range surfaceLimits {
		if slices.ContainsFunc(trials, settles) {
			break
		}
		found = withoutParts(g.locate(limits))
		for _, r := range found {
			if alike(seen, r) || slices.ContainsFunc(trials, func(t *trial) bool { return settles(t) && !elsewhere(t.rough, r) }) {
				continue
			}
			if seen = append(seen, r); len(seen) > mostCandidates {
				break
			}
			h := newHingeFit(card, r, opt)
			if share := h.first(f); share > 0 {
				in := newHingeFit(card, r, opt)
				in.shadow = true
				trials = append(trials, &trial{hingeFit: h, rough: r, share: share, inside: in})
			}
		}
	}
	slices.SortStableFunc(trials, func(a, b *trial) int { return cmp.Compare(b.promise(), a.promise()) })
	best, reasons := choose(f, trials)
	if best != nil && len(reasons) == 0 && best.complete(f) {
		return best, nil
	}
	trials = trials[:0]
	for _, r := range g.locateByLines() {
		h := newHingeFit(card, r, opt)
		if share := h.first(f); share > 0 {
			if t := (&trial{hingeFit: h, rough: r, share: share}); t.judge(f) && t.complete(f) {
				trials = append(trials, t)
			}
		}
	}
	if len(trials) > 0 {
		return choose(f, trials)
	}
	if best != nil && len(reasons) == 0 && !best.likely(f) {
		return best, []Reason{HingeCovered}
	}
	if len(reasons) > 0 && best == nil && len(found) > 0 && found[0].cutOff {
		reasons = []Reason{HingeCutOff}
	}
	return best, reasons
}

// choose takes the first of the trials that proves a hinge; several hinges that lie apart are
// a reason not to.
func choose(f *frame, trials []*trial) (*hingeFit, []Reason) {
	reason := HingeMissing
	var best *hingeFit
	for i, t := range trials {
		if t.judge(f) {
			for _, other := range trials[i+1:] {
				if elsewhere(t.rough, other.rough) && other.share == 1 && other.judge(f) {
					return t.hingeFit, []Reason{SeveralHinges}
				}
			}
			return t.hingeFit, nil
		}
		if t.reason == HingeMissing {
			continue
		}
		reason = t.reason
		if best == nil {
			best = t.hingeFit
		}
	}
	return best, []Reason{reason}
}

// complete reports whether a refined hinge shows all that makes one: each leaf's three edges,
// and knuckles.
func (h *hingeFit) complete(f *frame) bool {
	for leaf, seen := range h.edgesSeen() {
		if h.leaves[leaf] && !(seen[0] && seen[1] && seen[2]) {
			return false
		}
	}
	knuckles, _ := h.knuckles(f)
	return knuckles > 0
}

// likely reports whether a hinge without all that makes one, as under old paint, is one
// nevertheless: its holes are those of a whole leaf pair, or leaf, about the middle found, and a
// barrel whose knuckles don't show is no stranger than barrels are.
func (h *hingeFit) likely(f *frame) bool {
	usual, sigma := h.usualBarrel()
	if knuckles, _ := h.knuckles(f); knuckles == 0 && math.Abs(h.p[pBarrel]-usual) > 3*sigma {
		return false
	}
	for _, holes := range h.holes {
		if len(holes) < 3 {
			return false
		}
	}
	p := classifyPattern(h.holes, h.p[pWidth0], h.p[pHeight])
	return p == PatternArc || p == PatternStaggered
}

// elsewhere reports whether two hinges lie clear of one another.
func elsewhere(a, b roughHinge) bool {
	ax, ay := a.middle()
	bx, by := b.middle()
	size := func(r roughHinge) float64 { return math.Min(r.height, r.width[0]+r.width[1]) }
	return math.Hypot(ax-bx, ay-by) > (size(a)+size(b))/2
}

// holeCount is how many screw holes were found on all leaves.
func (h *hingeFit) holeCount() int {
	n := 0
	for _, l := range h.holes {
		n += len(l)
	}
	return n
}

// mostCandidates is how many places are tried as the hinge's. What looks like one by its
// barrel comes first, and the first with every edge found is taken.
const mostCandidates = 5

// withoutParts drops single leaves that are half of a pair found as well.
func withoutParts(found []roughHinge) []roughHinge {
	pair := func(r roughHinge) bool { return r.width[0] > 0 && r.width[1] > 0 }
	area := func(r roughHinge) float64 { return r.height * (r.width[0] + r.width[1]) }
	var out []roughHinge
	for _, r := range found {
		part := false
		for _, p := range found {
			if pair(r) || !pair(p) || p.score < 0.5*r.score || area(p) < 1.3*area(r) {
				continue
			}
			s, c := math.Sincos(p.phi)
			dx, dy := r.cx-p.cx, r.cy-p.cy
			along, across := dx*c+dy*s, -dx*s+dy*c
			if math.Abs(along) < p.height/2 && across < p.width[0] && across > -p.width[1] {
				part = true
			}
		}
		if !part {
			out = append(out, r)
		}
	}
	return out
}

// alike reports whether a hinge like r was tried already.
func alike(seen []roughHinge, r roughHinge) bool {
	for _, s := range seen {
		turn := math.Abs(math.Remainder(s.phi-r.phi, math.Pi))
		if math.Hypot(s.cx-r.cx, s.cy-r.cy) < 2 && turn < 0.05 && math.Abs(s.height-r.height) < 2 &&
			math.Abs(s.width[0]-r.width[0]) < 2 && math.Abs(s.width[1]-r.width[1]) < 2 {
			return true
		}
	}
	return false
}

// edgesOf is how many straight edges the leaves have.
func (h *hingeFit) edgesOf() int {
	if h.leaves[0] && h.leaves[1] {
		return 6
	}
	return 3
}

// first brings a rough hinge to its edges and returns the share of them that were found,
// 0 where it is none.
func (h *hingeFit) first(f *frame) float64 {
	edges := h.outlineAround(f, 2.5)
	if edges*2 < h.edgesOf() || !h.solve(8) {
		return 0
	}
	if h.leaves[0] && h.leaves[1] {
		h.startBarrel(f)
	} else {
		h.startFreeBarrel(f)
	}
	h.barrelAround(f, 1.0)
	if !h.solve(8) || !h.plausible() || h.edgesOf() == 3 && !h.freeBarrel.Known() {
		return 0
	}
	return float64(edges) / float64(h.edgesOf())
}

// refine measures all there is, twice, then the holes, and reports whether enough of the
// outline was seen: every outer edge, and each end on one leaf at least.
func (h *hingeFit) refine(f *frame) bool {
	h.startCorners(f)
	cam := h.camera(h.p)
	h.look = edgeLook(f, &cam, h.faces(), h.p[pBarrel])
	h.focus(f)
	rounds := 2
	for round := 0; round < rounds; round++ {
		reach := math.Max(0.8-0.3*float64(round), 0.5)
		if round > 0 {
			h.lookAgain(f)
		}
		h.outlineAround(f, reach)
		h.cornersAround(f, 1.5*reach)
		if h.restartCorners() {
			h.cornersAround(f, 1.5*reach)
		}
		h.barrelAround(f, 1.2*reach)
		if !h.solve(12) || !h.plausible() {
			return false
		}
		if h.unlikeArcs(0) || h.unlikeArcs(1) {
			rounds = 3
		}
		if h.dropEnds() {
			// Their arcs say where they are: once more from there.
			if rounds = 3; round == 2 || !h.solve(12) {
				return false
			}
		}
	}
	h.squareCorners()
	// From where the edges are at last, and until it stays: seen from a wrong diameter a slot's far
	// edge may pass for the barrel's.
	var barrel float64 // before the last fit
	for round := 0; round == 0 || round < 3 && math.Abs(h.p[pBarrel]-barrel) > 0.1; round++ {
		barrel = h.p[pBarrel]
		h.barrelAround(f, 0.6)
		if !h.solve(12) {
			return false
		}
	}
	if !h.seen() {
		return false
	}
	if h.edgesOf() == 3 {
		// A leaf without its mate shows its knuckles; what doesn't is half of something.
		if knuckles, _ := h.knuckles(f); knuckles == 0 {
			return false
		}
	}
	return h.findHolesEvenly(f)
}

// seen reports whether enough of the outline was seen, and fits.
func (h *hingeFit) seen() bool {
	s := h.edgesSeen()
	outer := [2]bool{s[0][0], s[1][0]}
	return outer == h.leaves && (s[0][1] || s[1][1]) && (s[0][2] || s[1][2]) && h.rms <= worstFit && !h.strayEdge() && h.plausible()
}

// strayEdge reports whether a whole edge lies off the fit: something covers the leaf there,
// or the leaves are not of one pair.
func (h *hingeFit) strayEdge() bool {
	cam := h.camera(h.p)
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for kind := range 3 {
			var off []float64
			for _, q := range h.outline {
				if q.leaf == leaf && q.kind == kind {
					a, b := l.place(&cam, q.at)
					off = append(off, l.outside(kind, a, b))
				}
			}
			if len(off) > 0 && math.Abs(medianOf(off)) > mostStray {
				return true
			}
		}
	}
	return false
}

// mostStray is how far an edge may lie off the fit, mm: several times what its look and the
// leaves' agreement account for.
const mostStray = 0.35

// worstFit is the root mean square residual, in standard uncertainties, beyond which what was
// fitted is not this shape. Hinges stay below one.
const worstFit = 2

// plausible reports whether the fit is a hinge at all.
func (h *hingeFit) plausible() bool {
	height, barrel := h.p[pHeight], h.p[pBarrel]
	return height > leastHinge && height < mostHinge && barrel > 5 && barrel < 25 &&
		h.p[pWidth0] > leastLeaf && h.p[pWidth0] < mostHinge && h.p[pWidth1] > leastLeaf
}

// whole reports whether the hinge's outline lies inside the picture.
func (h *hingeFit) whole(f *frame) bool {
	cam := h.camera(h.p)
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for _, c := range [4][2]float64{{0, 0}, {0, l.height}, {l.width, 0}, {l.width, l.height}} {
			if !f.inside(cam.project(l.at(c[0], c[1])), 2) {
				return false
			}
		}
	}
	return true
}
