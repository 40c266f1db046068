package photo

import (
	"cmp"
	"image"
	"math"
	"slices"
	"sync"

	"leafgauge/measure"
	"leafgauge/measure/card"
	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/hole"
	"leafgauge/measure/locate"
	"leafgauge/measure/picture"
)

// leastPicture is the shortest side, px, in which a card and a hinge can be told at all.
const leastPicture = 300

// Measure measures an upright picture. It never fails: what cannot be measured comes back as
// a Result with Status Retake and the reasons.
func Measure(img image.Image, opt measure.Options) measure.Result {
	clock := opt.Clock
	if clock == nil {
		clock = func() float64 { return 0 }
	}
	start := clock()
	b := img.Bounds()
	r := measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{}, Image: measure.ImageInfo{Width: b.Dx(), Height: b.Dy()}}
	if b.Dx() < leastPicture || b.Dy() < leastPicture {
		r.RetakeReasons = append(r.RetakeReasons, measure.TooSmall)
		return r
	}
	f := picture.NewFrame(img)
	seen := sync.OnceValue(func() *finder.Maps {
		m := finder.See(f)
		return &m
	})
	card, reasons := card.Find(f, seen, opt)
	cardDone := clock()
	r.Timing.Card = cardDone - start
	if len(reasons) > 0 {
		r.RetakeReasons = reasons
		r.Timing.Total = cardDone - start
		return r
	}
	h, reasons := findHinge(f, seen, card, opt)
	describe(&r, card, h)
	if len(reasons) > 0 {
		r.RetakeReasons = reasons
	} else {
		r.Status = measure.Measured
		hinge := h.hinge(f)
		r.Hinge = &hinge
	}
	r.Timing.Hinge = clock() - cardDone
	r.Timing.Total = clock() - start
	return r
}

// describe fills in what was found of picture, camera and card; h may be nil.
func describe(r *measure.Result, card card.Fit, h *hingeFit) {
	cam := card.Cam
	if h != nil {
		cam = h.camera(h.p)
	}
	r.Image.PxPerMM = cam.PxPerMM(geom.Vec3{0, 0, card.Height})
	r.Image.FocalPx, r.Image.FocalFrom = cam.F, card.FocalFrom
	axis := cam.R[2] // the optical axis in the world
	down := math.Min(1, math.Abs(axis[2]))
	r.Camera = &measure.CameraInfo{
		Distance: measure.Length(cam.Eye()[2] / math.Max(0.1, down)),
		TiltDeg:  math.Acos(down) * 180 / math.Pi,
		K1:       cam.K1,
	}
	r.Card = &measure.CardInfo{Kind: card.Kind, CornersPx: card.Corners, Residual: card.RMS}
	if card.Kind == measure.CardPrinted {
		r.Card.PrintScale = &card.Print
	}
}

// findHinge finds the hinge on the table round the card and fits it: where the finder sees one, else on a map of
// the table.
func findHinge(f *picture.Frame, seen func() *finder.Maps, card card.Fit, opt measure.Options) (*hingeFit, []measure.Reason) {
	guessed, why := findGuessed(f, seen(), card, opt)
	switch {
	case why == "":
		return guessed, nil
	case guessed != nil:
		return guessed, []measure.Reason{why}
	}
	h, reasons := findHingeOnMap(f, card, opt)
	if len(reasons) == 0 && h.offMetal(seen()) {
		reasons = []measure.Reason{measure.HingeCovered}
	}
	return h, reasons
}

// findGuessed looks for the hinge where the finder sees one. why is the reason why the edges prove none whole, "" where
// they prove one; best is nil where the finder itself is in doubt.
func findGuessed(f *picture.Frame, seen *finder.Maps, card card.Fit, opt measure.Options) (best *hingeFit, why measure.Reason) {
	rough := guesses(seen, card)
	from := func(wider float64) (*hingeFit, []measure.Reason) {
		var trials []*trial
		for _, r := range rough {
			r.Height += 2 * wider
			for l := range r.Width {
				if r.Width[l] > 0 {
					r.Width[l] += wider
				}
			}
			trials = append(trials, newTrial(f, r, card, opt)...)
		}
		return choose(f, trials)
	}
	best, reasons := from(0)
	if len(reasons) > 0 && reasons[0] != measure.SeveralHinges || len(reasons) == 0 && !best.edgesComplete() {
		// The finder's faces may end short of edges under paint.
		if more, why := from(shortOfEdges); len(why) == 0 && (len(reasons) > 0 || len(more.outline) > len(best.outline)) {
			best, reasons = more, why
		}
	}
	switch {
	case len(reasons) == 0 && !best.offMetal(seen) && !best.missesHoles(seen):
		return best, ""
	case len(reasons) > 0 && reasons[0] == measure.SeveralHinges:
		return best, reasons[0]
	case len(rough) == 0 || !plainly(rough[0]):
		return nil, measure.HingeMissing
	}
	if best == nil {
		best = newHingeFit(card, rough[0], opt)
	}
	if !best.whole(f) {
		return best, measure.HingeCutOff
	}
	return best, measure.HingeCovered
}

// shortOfEdges is how far within a leaf's edges the finder's faces may end, mm.
const shortOfEdges = 2.0

// newTrial brings a rough hinge to its edges; none where it is no hinge.
func newTrial(f *picture.Frame, r locate.Hinge, card card.Fit, opt measure.Options) []*trial {
	h := newHingeFit(card, r, opt)
	share := h.first(f)
	if share == 0 {
		return nil
	}
	in := newHingeFit(card, r, opt)
	in.shadow = true
	return []*trial{{hingeFit: h, rough: r, share: share, inside: in}}
}

// findHingeOnMap looks on a map of the table.
func findHingeOnMap(f *picture.Frame, card card.Fit, opt measure.Options) (*hingeFit, []measure.Reason) {
	g := locate.Map(f, &card.Cam)
	g.FindObjects()
	h, reasons := findHingeOn(g, f, card, opt)
	if card.Kind == measure.CardPrinted && len(reasons) > 0 && reasons[0] != measure.SeveralHinges {
		// The hinge may lie on the table beside the card's sheet, or half on it.
		for _, beyond := range g.BeyondSheet() {
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
	rough locate.Hinge
	share float64 // of the edges found

	inside  *hingeFit // the same, to be brought to edges inside of a shadow's rim; nil for none
	refined bool
	reason  measure.Reason // why it is no whole hinge in plain view; "" where it is
}

// promise ranks trials: by the edges found, how like a hinge the place looked, and of a single leaf, whose
// outer edge may stand against any of several lines along its knuckles, how well those show.
func (t *trial) promise() float64 {
	p := t.share * t.share * math.Sqrt(t.rough.Score)
	if t.edgesOf() == 3 {
		p *= t.shown
	}
	return p
}

// judge refines the trial, once, and reports whether a hinge with holes came of it.
func (t *trial) judge(f *picture.Frame) bool {
	if !t.refined {
		t.refined = true
		t.reason = t.refute(f)
		if (t.reason == measure.HingeCovered || t.reason == "" && t.doubted) && t.inside != nil {
			// What was taken for an edge may be the rim of the leaf's shadow.
			in := *t
			in.hingeFit = t.inside
			if in.share = in.first(f); in.share > 0 && in.refute(f) == "" && (in.complete(f) || in.likely(f)) && (t.reason != "" || !in.doubted) {
				in.reason = ""
				*t = in
			}
		}
	}
	return t.reason == ""
}

// refute refines the hinge and gives a reason why it is none; "" where it is one.
func (t *trial) refute(f *picture.Frame) measure.Reason {
	switch {
	case t.rough.CutOff || !t.whole(f):
		return measure.HingeCutOff
	case !t.refine(f):
		return measure.HingeCovered
	case t.holeCount() == 0:
		// A sheet, a box or a phone has edges too.
		return measure.HingeMissing
	}
	return ""
}

// findHingeOn finds the hinge among what does not look like the surface.
func findHingeOn(g *locate.Ground, f *picture.Frame, card card.Fit, opt measure.Options) (*hingeFit, []measure.Reason) {
	var trials []*trial
	var found, seen []locate.Hinge
	// A pair with every edge found settles it; a single leaf may be half of a pair not seen yet.
	settles := func(t *trial) bool { return t.share == 1 && t.edgesOf() == 6 }
	for _, limits := range locate.SurfaceLimits {
		if slices.ContainsFunc(trials, settles) {
			break
		}
		found = withoutParts(g.ByAreas(limits))
		for _, r := range found {
			if alike(seen, r) || slices.ContainsFunc(trials, func(t *trial) bool { return settles(t) && !elsewhere(t.rough, r) }) {
				continue
			}
			if seen = append(seen, r); len(seen) > mostCandidates {
				break
			}
			trials = append(trials, newTrial(f, r, card, opt)...)
		}
	}
	slices.SortStableFunc(trials, func(a, b *trial) int { return cmp.Compare(b.promise(), a.promise()) })
	best, reasons := choose(f, trials)
	if best != nil && len(reasons) == 0 && !best.complete(f) && !best.likely(f) {
		return best, []measure.Reason{measure.HingeCovered}
	}
	if len(reasons) > 0 && best == nil && len(found) > 0 && found[0].CutOff {
		reasons = []measure.Reason{measure.HingeCutOff}
	}
	return best, reasons
}

// choose takes the first of the trials that proves a hinge; several hinges that lie apart are
// a reason not to.
func choose(f *picture.Frame, trials []*trial) (*hingeFit, []measure.Reason) {
	reason := measure.HingeMissing
	var best *hingeFit
	for i, t := range trials {
		if t.judge(f) {
			for _, other := range trials[i+1:] {
				if elsewhere(t.rough, other.rough) && other.share == 1 && other.judge(f) {
					return t.hingeFit, []measure.Reason{measure.SeveralHinges}
				}
			}
			return t.hingeFit, nil
		}
		if t.reason == measure.HingeMissing {
			continue
		}
		reason = t.reason
		if best == nil {
			best = t.hingeFit
		}
	}
	return best, []measure.Reason{reason}
}

// complete reports whether a refined hinge shows all that makes one: each leaf's three edges,
// and knuckles.
func (h *hingeFit) complete(f *picture.Frame) bool {
	knuckles, _ := h.knuckles(f)
	return knuckles > 0 && h.edgesComplete()
}

// edgesComplete reports whether each leaf's three edges are seen.
func (h *hingeFit) edgesComplete() bool {
	for leaf, seen := range h.edgesSeen() {
		if h.leaves[leaf] && !(seen[geom.OuterEdge] && seen[geom.FirstEnd] && seen[geom.SecondEnd]) {
			return false
		}
	}
	return true
}

// likely reports whether a hinge without all that makes one, as under old paint, is one
// nevertheless: its holes are those of a whole leaf pair, or leaf, about the middle found, and a
// barrel whose knuckles don't show is no stranger than barrels are.
func (h *hingeFit) likely(f *picture.Frame) bool {
	usual, sigma := h.usualBarrel()
	if knuckles, _ := h.knuckles(f); knuckles == 0 && math.Abs(h.p[pBarrel]-usual) > 3*sigma {
		return false
	}
	for _, holes := range h.holes {
		if len(holes) < 3 {
			return false
		}
	}
	p := hole.Pattern(h.holes, h.p[pWidth0], h.p[pHeight])
	return p == measure.PatternArc || p == measure.PatternStaggered
}

// elsewhere reports whether two hinges lie clear of one another.
func elsewhere(a, b locate.Hinge) bool {
	ax, ay := a.Middle()
	bx, by := b.Middle()
	size := func(r locate.Hinge) float64 { return math.Min(r.Height, r.Width[0]+r.Width[1]) }
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
func withoutParts(found []locate.Hinge) []locate.Hinge {
	pair := func(r locate.Hinge) bool { return r.Width[0] > 0 && r.Width[1] > 0 }
	area := func(r locate.Hinge) float64 { return r.Height * (r.Width[0] + r.Width[1]) }
	var out []locate.Hinge
	for _, r := range found {
		part := false
		for _, p := range found {
			if pair(r) || !pair(p) || p.Score < 0.5*r.Score || area(p) < 1.3*area(r) {
				continue
			}
			s, c := math.Sincos(p.Phi)
			dx, dy := r.Cx-p.Cx, r.Cy-p.Cy
			along, across := dx*c+dy*s, -dx*s+dy*c
			if math.Abs(along) < p.Height/2 && across < p.Width[0] && across > -p.Width[1] {
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
func alike(seen []locate.Hinge, r locate.Hinge) bool {
	for _, s := range seen {
		turn := math.Abs(math.Remainder(s.Phi-r.Phi, math.Pi))
		if math.Hypot(s.Cx-r.Cx, s.Cy-r.Cy) < 2 && turn < 0.05 && math.Abs(s.Height-r.Height) < 2 &&
			math.Abs(s.Width[0]-r.Width[0]) < 2 && math.Abs(s.Width[1]-r.Width[1]) < 2 {
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
func (h *hingeFit) first(f *picture.Frame) float64 {
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

// refine measures all there is, from where the edges were found last until they stay, then the holes, and
// reports whether enough of the outline was seen.
func (h *hingeFit) refine(f *picture.Frame) bool {
	h.startCorners(f)
	cam := h.camera(h.p)
	h.look = edgeLook(f, &cam, h.faces(), h.p[pBarrel])
	h.focus(f)
	const (
		least, most = 0.5, 0.8 // mm, of reach
		mostRounds  = 4
	)
	reach := most
	for round := 0; round < mostRounds; round++ {
		if round > 0 {
			h.lookAgain(f)
		}
		before := h.outerCorners()
		h.outlineAround(f, reach)
		h.cornersAround(f, 1.5*reach)
		if h.restartCorners() {
			h.cornersAround(f, 1.5*reach)
		}
		h.barrelAround(f, 1.2*reach)
		if !h.solve(12) || !h.plausible() {
			return false
		}
		again := h.unlikeArcs(0) || h.unlikeArcs(1)
		if h.dropEnds() {
			// Their arcs say where they are: once more from there.
			if again = true; !h.solve(12) {
				return false
			}
		}
		moved := 0.0
		for k, at := range h.outerCorners() {
			moved = math.Max(moved, at.Sub(before[k]).Norm())
		}
		if round > 0 && moved < least/2 && !(again && round == 1) {
			break
		}
		reach = math.Min(math.Max(2*moved, least), most)
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
		// A leaf without its mate shows its knuckles; what doesn't is half of something, and where they make
		// a barrel like one hinge's in a hundred something else was taken for them.
		usual, sigma := h.usualBarrel()
		if knuckles, _ := h.knuckles(f); knuckles == 0 || math.Abs(h.p[pBarrel]-usual) > 2.5*sigma {
			return false
		}
	}
	return h.findHolesEvenly(f)
}

// seen reports whether enough of the outline was seen, every outer edge and each end on one leaf at least, by its
// straight part or its arcs, and fits.
func (h *hingeFit) seen() bool {
	s := h.edgesSeen()
	var outer [2]bool
	var end [2]bool
	for l := range s {
		first, second := s[l][geom.FirstCorner], s[l][geom.SecondCorner]
		outer[l] = s[l][geom.OuterEdge] || first && second
		end[0], end[1] = end[0] || s[l][geom.FirstEnd] || first, end[1] || s[l][geom.SecondEnd] || second
	}
	return outer == h.leaves && end[0] && end[1] && h.rms <= worstFit && !h.strayEdge() && h.plausible()
}

// outerCorners are where the leaves' corners lie, as if they were square.
func (h *hingeFit) outerCorners() (at [4]geom.Vec3) {
	for l, there := range h.leaves {
		if there {
			face := h.face(h.p, l)
			at[2*l], at[2*l+1] = face.At(0, 0), face.At(0, face.Height)
		}
	}
	return at
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
					a, b := l.Place(&cam, q.at)
					off = append(off, l.Outside(kind, a, b))
				}
			}
			if len(off) > 0 && math.Abs(geom.Median(off)) > mostStray {
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
	return height > locate.LeastHinge && height < locate.MostHinge && barrel > 5 && barrel < 25 &&
		h.p[pWidth0] > locate.LeastLeaf && h.p[pWidth0] < locate.MostHinge && h.p[pWidth1] > locate.LeastLeaf
}

// whole reports whether the hinge's outline lies inside the picture.
func (h *hingeFit) whole(f *picture.Frame) bool {
	cam := h.camera(h.p)
	for leaf := range 2 {
		if !h.leaves[leaf] {
			continue
		}
		l := h.face(h.p, leaf)
		for _, c := range [4][2]float64{{0, 0}, {0, l.Height}, {l.Width, 0}, {l.Width, l.Height}} {
			if !f.Inside(cam.Project(l.At(c[0], c[1])), 2) {
				return false
			}
		}
	}
	return true
}
