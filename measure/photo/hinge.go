package photo

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/card"
	"leafgauge/measure/geom"
	"leafgauge/measure/hole"
	"leafgauge/measure/locate"
	"leafgauge/measure/picture"
)

// The parameters of the joint fit, in order.
const (
	pX      = iota // middle of the pin's axis on the table, mm
	pY             // mm
	pPhi           // direction of the barrel, rad
	pHeight        // mm
	pWidth0        // outer edge to pin axis, mm
	pWidth1        // mm
	pBarrel        // diameter, mm
	pThick         // leaf thickness, mm
	pGap           // between the closed leaves, mm
	pShift         // of leaf 1 along the barrel against leaf 0, mm
	pTilt0         // by how much each leaf is turned up about the pin from where it rests, rad
	pTilt1
	pRadius0 // corner radii: leaf 0 first end, second end; leaf 1 likewise, mm
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
	pLook      // what all edges' looks shift them by together, of edgesShare
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
	// A hinge found roughly lies about there.
	roughly = 6.0 // mm

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

	// A burr, paint or grit under a leaf's edge holds it off the table (common practice, no source).
	restsWithin = 0.1 // mm

	// Phone lenses, once the phone has corrected its picture, keep about a per cent in its corners.
	cornerSigma = 0.01

	// What remains of an edge's place after its look has been modelled (break, contact
	// shadow, gamma), common to a whole edge.
	edgeBias = 0.01 // mm

	// The same for the barrel's silhouette, whose shading runs dark towards its edge.
	barrelBias = 0.06 // mm
	slotBias   = 0.2  // mm: the same where a slot on the near side hides its foot, as its dark begins some tenths above, or nothing but the table lies beside

	// A square corner is broken by its tumbling, no more.
	squareCornerSigma = 0.1 // mm
)

// An outlinePoint is a place of a leaf's outline found in the picture.
type outlinePoint struct {
	at     measure.Pixel
	leaf   int
	kind   int     // geom.OuterEdge …
	offset float64 // where the leaf's own edge lies outward of the point, mm
	sigma  float64 // mm
}

// A barrelPoint is a place of the barrel's silhouette, on the side of leaf.
type barrelPoint struct {
	at    measure.Pixel
	leaf  int
	sigma float64 // mm
}

// A hingeFit is the joint fit of card, camera and hinge.
type hingeFit struct {
	card    card.Fit
	blur    float64 // standard deviation of an edge in the picture, px
	look    float64 // of a leaf's broken edge, of the face's light
	f0      float64 // focal length that pFocal is relative to, px
	p       []float64
	cov     []float64
	rms     float64
	leaves  [2]bool
	outline []outlinePoint
	barrel  []barrelPoint
	holes   [][]hole.Fit     // of each leaf that is there
	thick   measure.Estimate // typed; zero unknown
	shadow  bool             // the rough hinge may hold the leaves' shadow
	doubted bool             // the holes are slightly uneven
	radius0 [4]float64       // where the corners' radii were started

	edgeSigma [6]float64 // how far each straight edge may lie off its points for what can't be told, mm; as pBias0

	edgeMean [6]float64 // how far outside of the edge they are likely to lie, mm

	rim [6]float64 // how far outside of each edge its shadow's rim may lie, mm; 0 where none is thought of

	edgesShare [6]float64 // how far each may lie off together with the others, mm

	start [pBarrel]float64 // where the hinge's place and size were started
	near  float64          // standard uncertainty of that, mm

	freeBarrel measure.Estimate // a single leaf's barrel, from the spaces between its knuckles
	shown      float64          // how well they show it: 1 plainly, on all of them

	described bool // since the last fit: how many knuckles, and what lies between them
	count     int
	bearing   measure.Bearing
}

func newHingeFit(card card.Fit, r locate.Hinge, opt measure.Options) *hingeFit {
	h := &hingeFit{card: card, blur: picture.OpticalBlur, look: picture.AnyEdge, f0: card.Cam.F, p: make([]float64, pCount), thick: opt.Thickness}
	h.near = roughly
	for k := range h.edgeSigma {
		h.edgeSigma[k] = edgeBias
	}
	h.leaves = [2]bool{r.Width[0] > 0, r.Width[1] > 0}
	h.p[pX], h.p[pY], h.p[pPhi] = r.Cx, r.Cy, r.Phi
	h.p[pHeight], h.p[pWidth0], h.p[pWidth1], h.p[pBarrel] = r.Height, r.Width[0], r.Width[1], r.Barrel
	for l := range 2 {
		if !h.leaves[l] {
			h.p[pWidth0+l] = r.Width[1-l]
		}
	}
	copy(h.start[:], h.p)
	h.p[pThick], h.p[pGap], h.p[pK1] = thickMean, swageGap, card.Cam.K1
	if opt.Thickness.Known() {
		h.p[pThick] = opt.Thickness.Value.MM()
	}
	return h
}

// camera gives the camera of parameters p. A longer focal length moves it away and keeps the distortion
// at each place of the picture: what is seen tells these well, and the focal length badly, so that a fit
// with the one tied to the other would creep.
func (h *hingeFit) camera(p []float64) geom.Camera {
	c := h.card.Cam
	longer := math.Exp(p[pFocal])
	c.F = h.f0 * longer
	c.K1 = p[pK1] * longer * longer
	c.R = geom.Rotation(geom.Vec3{p[pTurn0], p[pTurn1], p[pTurn2]}).Times(h.card.Cam.R)
	c.T = h.card.Cam.T.Add(geom.Vec3{p[pMove0], p[pMove1], p[pMove2]}).Mul(longer)
	return c
}

// face gives a leaf's top face of parameters p. Leaf 0 lies at phi + 90° from the barrel.
func (h *hingeFit) face(p []float64, leaf int) geom.Face {
	s, c := math.Sincos(p[pPhi])
	v := geom.Vec3{c, s, 0}
	out := geom.Vec3{-s, c, 0}
	if leaf == 1 {
		out = out.Mul(-1)
	}
	w, t, g, r := p[pWidth0+leaf], p[pThick], p[pGap], p[pBarrel]/2
	// The outer edge's foot is on the table, the face passes half the gap below the axis:
	// w·sin θ = r − (t + g/2)·cos θ.
	theta := 0.0
	for range 4 {
		theta = math.Asin(math.Max(-0.5, math.Min(0.5, (r-(t+g/2)*math.Cos(theta))/w)))
	}
	theta -= p[pTilt0+leaf]
	st, ct := math.Sincos(theta)
	n := out.Mul(st).Add(geom.Vec3{0, 0, ct})
	slope := out.Mul(ct).Add(geom.Vec3{0, 0, -st})
	foot := geom.Vec3{p[pX], p[pY], r}.Sub(n.Mul(g / 2))
	along := -p[pHeight] / 2
	if leaf == 1 {
		along += p[pShift]
	}
	o := foot.Add(slope.Mul(w)).Add(v.Mul(along))
	return geom.Face{O: o, U: slope.Mul(-1), V: v, N: n, Width: w, Height: p[pHeight],
		Radius: [2]float64{p[pRadius0+2*leaf], p[pRadius1+2*leaf]}}
}

// sightLines are the lines of sight of all places of a fit, of outline, barrel and card in turn,
// and how far off these were last. They stay as they are while only parameters change that don't
// matter to them.
type sightLines struct {
	camera [pMove2 + 1 - pFocal]float64 // the camera's parameters that they hold for
	cam    geom.Camera
	eye    geom.Vec3
	flat   []geom.Vec3 // in the camera's frame
	rays   []geom.Vec3

	edges [2]edgesPlace
	card  cardPlace
	off   []float64 // of outline and card, in standard uncertainties
}

// An edgesPlace is where a leaf's edges lie, and by what their looks shift them, mm.
type edgesPlace struct {
	geom.Face
	bias [4]float64 // the last of arcs
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
	l.eye = cam.Eye()
	lens := l.rays == nil || cam.F != before.F || cam.K1 != before.K1
	if !lens && cam.R == before.R {
		return true
	}
	if l.rays == nil {
		n := len(h.outline) + len(h.barrel) + len(h.card.Points)
		l.flat, l.rays, l.off = make([]geom.Vec3, n), make([]geom.Vec3, n), make([]float64, n)
	}
	if lens {
		flat := l.flat[:0]
		for _, q := range h.outline {
			flat = append(flat, cam.Sight(q.at, 4))
		}
		for _, q := range h.barrel {
			flat = append(flat, cam.Sight(q.at, 4))
		}
		for _, q := range h.card.Points {
			flat = append(flat, cam.Sight(q.At, 4))
		}
	}
	rt := cam.R.Transpose()
	for i, d := range l.flat {
		l.rays[i] = rt.Apply(d)
	}
	return true
}

// residuals appends every residual, in standard uncertainties. Edge points come first. sight is
// kept from call to call while the places are the same.
func (h *hingeFit) residuals(p, r []float64, sight *sightLines) []float64 {
	turned := sight.turnTo(h, p)
	cam, eye, rays := &sight.cam, sight.eye, sight.rays
	meet := func(d geom.Vec3, pl *geom.Plane) geom.Vec3 {
		return eye.Add(d.Mul((pl.D - pl.N.Dot(eye)) / pl.N.Dot(d)))
	}
	var planes [2]geom.Plane
	var moved [2]bool
	for l := range 2 {
		if h.leaves[l] {
			e := edgesPlace{Face: h.face(p, l)}
			for k := range 3 {
				e.bias[k] = p[pBias0+3*l+k] + p[pLook]*h.edgesShare[3*l+k]
			}
			e.bias[3] = p[pLook] * h.edgesShare[3*l]
			moved[l] = turned || e != sight.edges[l]
			sight.edges[l], planes[l] = e, e.Plane()
		}
	}
	for i := range h.outline {
		q := &h.outline[i]
		if !moved[q.leaf] {
			continue
		}
		e := &sight.edges[q.leaf]
		x := meet(rays[i], &planes[q.leaf]).Sub(e.O)
		d := e.Outside(q.kind, x.Dot(e.U), x.Dot(e.V)) + q.offset - e.bias[min(q.kind, geom.FirstCorner)]
		sight.off[i] = d / q.sigma
	}
	r = append(r, sight.off[:len(h.outline)]...)
	axis := geom.Vec3{p[pX], p[pY], p[pBarrel] / 2}
	s, c := math.Sincos(p[pPhi])
	v := geom.Vec3{c, s, 0}
	rays = rays[len(h.outline):]
	for i, q := range h.barrel {
		// The line of sight passes the axis at the barrel's radius.
		d := rays[i]
		n := d.Cross(v)
		gap := math.Abs(n.Dot(axis.Sub(eye))) / n.Norm()
		r = append(r, (gap-p[pBarrel]/2)/q.sigma)
	}
	rays, off := rays[len(h.barrel):], sight.off[len(h.outline)+len(h.barrel):]
	if side := (cardPlace{p[pCardLong], p[pCardShort], [4]float64(p[pCardBias0:])}); turned || side != sight.card {
		sight.card = side
		table := geom.Level(h.card.Height)
		ha, hb, hr := h.card.Shape.A+side.long/2, h.card.Shape.B+side.short/2, h.card.Shape.R
		mm := 1 / cam.PxPerMM(geom.Vec3{0, 0, h.card.Height})
		for i, q := range h.card.Points {
			x := meet(rays[i], &table)
			d := geom.OutlineDistance(x[0], x[1], ha, hb, hr)
			if qx, qy := math.Abs(x[0])-(ha-hr), math.Abs(x[1])-(hb-hr); qx < 0 || qy < 0 {
				d -= side.bias[card.Side(x[0], x[1], ha, hb)]
			}
			off[i] = d / (q.Sigma * mm)
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
	// Until they are found, ends and outer edges are near the start; so is a single leaf's axis, which shows in its
	// knuckles only.
	for k, v := range h.start {
		sigma := h.near
		if k == pPhi {
			sigma /= h.start[pHeight] / 2
		}
		prior(p[k], v, sigma)
	}
	if h.freeBarrel.Known() {
		prior(p[pBarrel], h.freeBarrel.Value.MM(), h.freeBarrel.Sigma.MM())
	}
	prior(p[pWidth0]-p[pWidth1], 0, widthsAgree)
	prior(p[pShift], 0, endsAgree)
	for l := range 2 {
		// Nearly all leaves rest, and one that doesn't may be up by any angle: as Student's t has it with one
		// degree of freedom, or nearly.
		up := p[pTilt0+l] * p[pWidth0+l] / restsWithin
		r = append(r, math.Copysign(math.Sqrt(2*math.Log1p(up*up/2)), up))
	}
	// The card's points tell again what they told of it when the card was fitted.
	prior(math.Log(h.f0)+p[pFocal], h.card.Lens.LnF, h.card.Lens.SigmaLnF)
	corner := math.Hypot(h.card.Cam.Cx, h.card.Cam.Cy) / h.f0
	prior(p[pK1]*corner*corner, 0, cornerSigma)
	prior(p[pCardLong], 0, h.card.LongSigma)
	prior(p[pCardShort], 0, h.card.ShortSigma)
	prior(p[pLook], 0, 1)
	for k := pBias0; k <= pBias5; k++ {
		prior(p[k], h.edgeMean[k-pBias0], h.edgeSigma[k-pBias0])
	}
	for k := pCardBias0; k <= pCardBias3; k++ {
		prior(p[k], 0, h.card.Bias)
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
	s[pPhi], s[pTilt0], s[pTilt1], s[pFocal], s[pK1] = 1e-5, 1e-5, 1e-5, 1e-5, 1e-5
	s[pTurn0], s[pTurn1], s[pTurn2] = 1e-6, 1e-6, 1e-6
	return s
}()

// solve runs the joint fit from where p stands.
func (h *hingeFit) solve(rounds int) bool {
	h.described = false
	var sight sightLines
	residuals := func(p, r []float64) []float64 { return h.residuals(p, r, &sight) }
	q := geom.LeastSquares{Residuals: residuals, Step: hingeSteps, Robust: 2,
		RobustN: len(h.outline) + len(h.barrel) + len(h.card.Points), Rounds: rounds, Enough: 1e-5}
	var ok bool
	h.cov, h.rms, ok = q.Solve(h.p)
	return ok
}
