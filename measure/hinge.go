package measure

import "math"

// The parameters of the joint fit, in order.
const (
	pX       = iota // middle of the pin's axis on the table, mm
	pY              // mm
	pPhi            // direction of the barrel, rad
	pHeight         // mm
	pWidth0         // outer edge to pin axis, mm
	pWidth1         // mm
	pBarrel         // diameter, mm
	pThick          // leaf thickness, mm
	pGap            // between the closed leaves, mm
	pShift          // of leaf 1 along the barrel against leaf 0, mm
	pRadius0        // corner radii: leaf 0 first end, second end; leaf 1 likewise, mm
	pRadius1
	pRadius2
	pRadius3
	pFocal // ln(f / f₀)
	pK1    // of the distortion, at focal length f₀
	pTurn0 // camera's turn against the start, rad
	pTurn1
	pTurn2
	pMove0 // camera's move, mm
	pMove1
	pMove2
	pCardLong  // card's length over its nominal, mm
	pCardShort // mm
	pBias0     // what each edge's look shifts it by, mm: leaf 0 outer, first, second end; leaf 1
	pBias1
	pBias2
	pBias3
	pBias4
	pBias5
	pCardBias0 // the same for the card's four sides
	pCardBias1
	pCardBias2
	pCardBias3
	pCount
)

// Prior knowledge, as standard uncertainties.
const (
	// The barrel rests on the table and each leaf slopes down from it. The gap between closed
	// leaves of the standard swage is 1/16 in (from memory of the standard; tolerance 1/32 in
	// on a sister standard is its limit, not its spread).
	swageGap, swageSigma = 1.6, 0.2 // mm

	// A knuckle is the leaf rolled round the pin, so barrel = pin + 2 × thickness. Pins run
	// from 0.22 to 0.31 in (common practice, no source).
	pinDiameter, pinSigma = 6.3, 0.7 // mm

	// Leaves run from 2.0 to 4.8 mm: A156.1 and frame embossings.
	thickMean, thickSigma = 2.7, 0.9 // mm

	// Leaves of one hinge are stamped by one tool: their widths and ends agree.
	widthsAgree, endsAgree = 0.08, 0.08 // mm

	// Phone lenses, once the phone has corrected its picture, keep about a per cent in its corners.
	cornerSigma = 0.01

	// What remains of an edge's place after its look has been modelled (break, contact
	// shadow, gamma), common to a whole edge.
	edgeBias = 0.02 // mm

	// The same for the barrel's silhouette, whose shading runs dark towards its edge.
	barrelBias = 0.06 // mm
	slotBias   = 0.2  // mm: the same where a slot on the near side hides its foot, as its dark begins some tenths above, or nothing but the table lies beside

	// A square corner is broken by its tumbling, no more.
	squareCornerSigma = 0.1 // mm
)

// An outlinePoint is a place of a leaf's outline found in the picture.
type outlinePoint struct {
	at     Pixel
	leaf   int
	kind   int     // 0 outer edge, 1 first end, 2 second end, 3 first corner, 4 second corner
	offset float64 // where the leaf's own edge lies outward of the point, mm
	sigma  float64 // mm
}

// A barrelPoint is a place of the barrel's silhouette, on the side of leaf.
type barrelPoint struct {
	at    Pixel
	leaf  int
	sigma float64 // mm
}

// A hingeFit is the joint fit of card, camera and hinge.
type hingeFit struct {
	card    cardFit
	blur    float64 // standard deviation of an edge in the picture, px
	look    float64 // of a leaf's broken edge, of the face's light
	f0      float64 // focal length that pFocal is relative to, px
	p       []float64
	cov     []float64
	rms     float64
	leaves  [2]bool
	outline []outlinePoint
	barrel  []barrelPoint
	holes   [][]holeFit // of each leaf that is there
	thick   Estimate    // typed; zero unknown
	shadow  bool        // the rough hinge may hold the leaves' shadow
	radius0 [4]float64  // where the corners' radii were started

	edgeSigma [6]float64 // how far each straight edge may lie off its points for what can't be told, mm; as pBias0

	height0, width0 float64 // where height and a single leaf's width were started, mm

	freeBarrel Estimate // a single leaf's barrel, from the spaces between its knuckles
	shown      float64  // how well they show it: 1 plainly, on all of them

	described bool // since the last fit: how many knuckles, and what lies between them
	count     int
	bearing   Bearing
}

func newHingeFit(card cardFit, r roughHinge, opt Options) *hingeFit {
	h := &hingeFit{card: card, blur: opticalBlur, look: anyEdge, f0: card.cam.F, p: make([]float64, pCount), thick: opt.Thickness}
	h.height0 = r.height
	for k := range h.edgeSigma {
		h.edgeSigma[k] = edgeBias
	}
	h.leaves = [2]bool{r.width[0] > 0, r.width[1] > 0}
	h.p[pX], h.p[pY], h.p[pPhi] = r.cx, r.cy, r.phi
	h.p[pHeight], h.p[pWidth0], h.p[pWidth1], h.p[pBarrel] = r.height, r.width[0], r.width[1], r.barrel
	for l := range 2 {
		if !h.leaves[l] {
			h.p[pWidth0+l] = r.width[1-l]
			h.width0 = r.width[1-l]
		}
	}
	h.p[pThick], h.p[pGap], h.p[pK1] = thickMean, swageGap, card.cam.K1
	if opt.Thickness.Known() {
		h.p[pThick] = opt.Thickness.Value.MM()
	}
	return h
}

// camera gives the camera of parameters p. A longer focal length moves it away and keeps the distortion
// at each place of the picture: what is seen tells these well, and the focal length badly, so that a fit
// with the one tied to the other would creep.
func (h *hingeFit) camera(p []float64) camera {
	c := h.card.cam
	longer := math.Exp(p[pFocal])
	c.F = h.f0 * longer
	c.K1 = p[pK1] * longer * longer
	c.R = rotation(vec3{p[pTurn0], p[pTurn1], p[pTurn2]}).times(h.card.cam.R)
	c.T = h.card.cam.T.add(vec3{p[pMove0], p[pMove1], p[pMove2]}).mul(longer)
	return c
}

// face gives a leaf's top face of parameters p. Leaf 0 lies at phi + 90° from the barrel.
func (h *hingeFit) face(p []float64, leaf int) leafFace {
	s, c := math.Sincos(p[pPhi])
	v := vec3{c, s, 0}
	out := vec3{-s, c, 0}
	if leaf == 1 {
		out = out.mul(-1)
	}
	w, t, g, r := p[pWidth0+leaf], p[pThick], p[pGap], p[pBarrel]/2
	// The outer edge's foot is on the table, the face passes half the gap below the axis:
	// w·sin θ = r − (t + g/2)·cos θ.
	theta := 0.0
	for range 4 {
		theta = math.Asin(math.Max(-0.5, math.Min(0.5, (r-(t+g/2)*math.Cos(theta))/w)))
	}
	st, ct := math.Sincos(theta)
	n := out.mul(st).add(vec3{0, 0, ct})
	slope := out.mul(ct).add(vec3{0, 0, -st})
	foot := vec3{p[pX], p[pY], r}.sub(n.mul(g / 2))
	along := -p[pHeight] / 2
	if leaf == 1 {
		along += p[pShift]
	}
	o := foot.add(slope.mul(w)).add(v.mul(along))
	return leafFace{o: o, u: slope.mul(-1), v: v, n: n, width: w, height: p[pHeight],
		radius: [2]float64{p[pRadius0+2*leaf], p[pRadius1+2*leaf]}}
}

// sightLines are the lines of sight of all places of a fit, of outline, barrel and card in turn,
// and how far off these were last. They stay as they are while only parameters change that don't
// matter to them.
type sightLines struct {
	camera [pMove2 + 1 - pFocal]float64 // the camera's parameters that they hold for
	cam    camera
	eye    vec3
	flat   []vec3 // in the camera's frame
	rays   []vec3

	edges [2]edgesPlace
	card  cardPlace
	off   []float64 // of outline and card, in standard uncertainties
}

// An edgesPlace is where a leaf's edges lie, and by what their looks shift them, mm.
type edgesPlace struct {
	leafFace
	bias [3]float64
}

// A cardPlace is the card's size, and by what its sides' looks shift them, mm.
type cardPlace struct {
	long, short float64 // over its nominal
	bias        [4]float64
}

// turnTo takes the camera of parameters p and reports whether it is another.
func (l *sightLines) turnTo(h *hingeFit, p []float64) bool {
	now := [len(l.camera)]float64(p[pFocal:])
	if l.rays != nil && now == l.camera {
		return false
	}
	before := l.cam
	l.camera, l.cam = now, h.camera(p)
	cam := &l.cam
	l.eye = cam.eye()
	lens := l.rays == nil || cam.F != before.F || cam.K1 != before.K1
	if !lens && cam.R == before.R {
		return true
	}
	if l.rays == nil {
		n := len(h.outline) + len(h.barrel) + len(h.card.points)
		l.flat, l.rays, l.off = make([]vec3, n), make([]vec3, n), make([]float64, n)
	}
	if lens {
		flat := l.flat[:0]
		for _, q := range h.outline {
			flat = append(flat, cam.sight(q.at, 4))
		}
		for _, q := range h.barrel {
			flat = append(flat, cam.sight(q.at, 4))
		}
		for _, q := range h.card.points {
			flat = append(flat, cam.sight(q.at, 4))
		}
	}
	rt := cam.R.transpose()
	for i, d := range l.flat {
		l.rays[i] = rt.apply(d)
	}
	return true
}

// residuals appends every residual, in standard uncertainties. Edge points come first. sight is
// kept from call to call while the places are the same.
func (h *hingeFit) residuals(p, r []float64, sight *sightLines) []float64 {
	turned := sight.turnTo(h, p)
	cam, eye, rays := &sight.cam, sight.eye, sight.rays
	meet := func(d vec3, pl *plane) vec3 {
		return eye.add(d.mul((pl.d - pl.n.dot(eye)) / pl.n.dot(d)))
	}
	var planes [2]plane
	var moved [2]bool
	for l := range 2 {
		if h.leaves[l] {
			e := edgesPlace{h.face(p, l), [3]float64(p[pBias0+3*l:])}
			moved[l] = turned || e != sight.edges[l]
			sight.edges[l], planes[l] = e, e.plane()
		}
	}
	for i := range h.outline {
		q := &h.outline[i]
		if !moved[q.leaf] {
			continue
		}
		e := &sight.edges[q.leaf]
		x := meet(rays[i], &planes[q.leaf]).sub(e.o)
		d := e.outside(q.kind, x.dot(e.u), x.dot(e.v)) + q.offset
		if q.kind < 3 {
			d -= e.bias[q.kind]
		}
		sight.off[i] = d / q.sigma
	}
	r = append(r, sight.off[:len(h.outline)]...)
	axis := vec3{p[pX], p[pY], p[pBarrel] / 2}
	s, c := math.Sincos(p[pPhi])
	v := vec3{c, s, 0}
	rays = rays[len(h.outline):]
	for i, q := range h.barrel {
		// The line of sight passes the axis at the barrel's radius.
		d := rays[i]
		n := d.cross(v)
		gap := math.Abs(n.dot(axis.sub(eye))) / n.norm()
		r = append(r, (gap-p[pBarrel]/2)/q.sigma)
	}
	rays, off := rays[len(h.barrel):], sight.off[len(h.outline)+len(h.barrel):]
	if side := (cardPlace{p[pCardLong], p[pCardShort], [4]float64(p[pCardBias0:])}); turned || side != sight.card {
		sight.card = side
		table := level(h.card.height)
		ha, hb, hr := h.card.shape.a+side.long/2, h.card.shape.b+side.short/2, h.card.shape.r
		mm := 1 / cam.pxPerMM(vec3{0, 0, h.card.height})
		for i, q := range h.card.points {
			x := meet(rays[i], &table)
			d := outlineDistance(x[0], x[1], ha, hb, hr)
			if qx, qy := math.Abs(x[0])-(ha-hr), math.Abs(x[1])-(hb-hr); qx < 0 || qy < 0 {
				d -= side.bias[cardSide(x[0], x[1], ha, hb)]
			}
			off[i] = d / (q.sigma * mm)
		}
	}
	return h.priors(p, append(r, off...))
}

func (h *hingeFit) priors(p, r []float64) []float64 {
	prior := func(value, mean, sigma float64) { r = append(r, (value-mean)/sigma) }
	prior(p[pGap], swageGap, swageSigma)
	prior(p[pBarrel]-2*p[pThick], pinDiameter, pinSigma)
	if h.thick.Known() {
		prior(p[pThick], h.thick.Value.MM(), h.thick.Sigma.MM())
	} else {
		prior(p[pThick], thickMean, thickSigma)
	}
	// Until both ends are found, near the start.
	prior(p[pHeight], h.height0, 3)
	if h.width0 > 0 {
		// A single leaf's axis shows in its knuckles only: until they are found, near the start.
		prior(p[pWidth0], h.width0, 2)
	}
	if h.freeBarrel.Known() {
		prior(p[pBarrel], h.freeBarrel.Value.MM(), h.freeBarrel.Sigma.MM())
	}
	prior(p[pWidth0]-p[pWidth1], 0, widthsAgree)
	prior(p[pShift], 0, endsAgree)
	// The card's points tell again what they told of it when the card was fitted.
	prior(math.Log(h.f0)+p[pFocal], h.card.lens.lnF, h.card.lens.sigmaLnF)
	corner := math.Hypot(h.card.cam.Cx, h.card.cam.Cy) / h.f0
	prior(p[pK1]*corner*corner, 0, cornerSigma)
	prior(p[pCardLong], 0, h.card.longSigma)
	prior(p[pCardShort], 0, h.card.shortSigma)
	for k := pBias0; k <= pBias5; k++ {
		prior(p[k], 0, h.edgeSigma[k-pBias0])
	}
	for k := pCardBias0; k <= pCardBias3; k++ {
		prior(p[k], 0, h.card.bias)
	}
	// Weak ties keep what nothing in the picture tells from drifting.
	prior(p[pBarrel], 11.5, 3)
	for k := pRadius0; k <= pRadius3; k++ {
		// Free where the arc was seen, held where the corner is square.
		sigma := 20.0
		if h.radius0[k-pRadius0] == 0 {
			sigma = squareCornerSigma
		}
		prior(p[k], h.radius0[k-pRadius0], sigma)
	}
	for k := pTurn0; k <= pTurn2; k++ {
		prior(p[k], 0, 1)
	}
	for k := pMove0; k <= pMove2; k++ {
		prior(p[k], 0, 500)
	}
	return r
}

var hingeSteps = func() []float64 {
	s := make([]float64, pCount)
	for i := range s {
		s[i] = 1e-3
	}
	s[pPhi], s[pFocal], s[pK1] = 1e-5, 1e-5, 1e-5
	s[pTurn0], s[pTurn1], s[pTurn2] = 1e-6, 1e-6, 1e-6
	return s
}()

// solve runs the joint fit from where p stands.
func (h *hingeFit) solve(rounds int) bool {
	h.described = false
	var sight sightLines
	residuals := func(p, r []float64) []float64 { return h.residuals(p, r, &sight) }
	q := leastSquares{residuals: residuals, step: hingeSteps, robust: 2,
		robustN: len(h.outline) + len(h.barrel) + len(h.card.points), rounds: rounds, enough: 1e-5}
	var ok bool
	h.cov, h.rms, ok = q.solve(h.p)
	return ok
}
