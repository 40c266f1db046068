package card

import (
	"math"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

const (
	// A sheet lies 0.1 mm over the table, a card glued on board up to half a millimetre: 0.1 mm, and some
	// doubt, which acts on lengths as if the print had another size.
	paperHeight, paperHeightSigma = 0.1, 0.15 // mm
	// A print is not stretched alike along and across the feed: by about a thousandth (common
	// practice, no source).
	printStretch = 0.001
	// Ink and toner spread beyond what was drawn by some hundredths of a millimetre (common
	// practice, no source). The rings tell: they grow where the frame's inside shrinks.
	inkSpread = 0.04 // mm
	// How far a printed edge wanders as a whole.
	printBias = 0.01 // mm
)

// An inkPlace is a stretch of a printed edge: its middle, the normal away from the ink's side
// that growing moves, and its length, mm at the card's true size.
type inkPlace struct {
	x, y, nx, ny float64 // world; the normal points outward of the frame's inside or the ring
	grow         float64 // +1 where spreading ink moves the edge along the normal, −1 against it
	width        float64
	curve        float64 // 1 / radius, 0 where straight
	run          int     // 0…3 the frame's inside (−y, +x, +y, −x), 4…7 the rings
}

// along is the place t mm further along the edge, and the normal there.
func (o inkPlace) along(t float64) (x, y, nx, ny float64) {
	if o.curve == 0 {
		return o.x - t*o.ny, o.y + t*o.nx, o.nx, o.ny
	}
	s, c := math.Sincos(t * o.curve)
	nx, ny = o.nx*c-o.ny*s, o.ny*c+o.nx*s
	return o.x + (nx-o.nx)/o.curve, o.y + (ny-o.ny)/o.curve, nx, ny
}

// inkPlaces spreads places of about step mm over the frame's inner edge and, where rings is set,
// eight over each ring's outer edge.
func inkPlaces(step float64, rings bool) []inkPlace {
	var out []inkPlace
	a, b := printed.Width/2-printed.Frame, printed.Height/2-printed.Frame
	for side, s := range [4][4]float64{{0, -1, -b, a}, {1, 0, a, b}, {0, 1, b, a}, {-1, 0, -a, b}} {
		const corner = 1.5 // mm left out
		half := s[3] - corner
		n := int(2*half/step + 0.5)
		for i := range n {
			t := half * ((2*float64(i)+1)/float64(n) - 1)
			o := inkPlace{nx: s[0], ny: s[1], grow: -1, width: 2 * half / float64(n), run: side}
			if s[0] != 0 {
				o.x, o.y = s[2], t
			} else {
				o.x, o.y = t, s[2]
			}
			out = append(out, o)
		}
	}
	if !rings {
		return out
	}
	for k, r := range printed.Rings {
		x, y := tablePlace(r.X, r.Y)
		const n = 8
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * float64(i) / n)
			out = append(out, inkPlace{x + r.Outer*c, y + r.Outer*s, c, s, 1, 2 * math.Pi * r.Outer / n, 1 / r.Outer, 4 + k})
		}
	}
	return out
}

// A printedTrial is a printed card on its way to a fit.
type printedTrial struct {
	cam    geom.Camera
	spread float64 // of the ink, mm
	scale  float64 // of the print
	places []inkPlace
	at     []measure.Pixel
	sigma  []float64 // px; 0: no edge seen
	cov    []float64
	blur   float64 // of the frame's edges, px
}

// startPrinted makes a camera of the map from the card at its true size to the picture.
func startPrinted(f *picture.Frame, h geom.Mat3, opt measure.Options) (printedTrial, bool) {
	t := printedTrial{scale: measure.PrintScale(opt.ScaleBar).Value}
	h = h.Times(geom.Mat3{{1 / t.scale, 0, 0}, {0, 1 / t.scale, 0}, {0, 0, 1}})
	t.cam = geom.PoseFromHomography(h, math.Exp(focalPrior(f, opt).LnF), float64(f.W)/2, float64(f.H)/2, paperHeight)
	return t, t.cam.T[2] > 0
}

// project gives the picture of a place t mm further along an edge, the normal there and the
// scale along it, px per mm of the card at its true size.
func (t *printedTrial) project(o inkPlace, along float64) (p, normal measure.Pixel, scale float64) {
	x, y, nx, ny := o.along(along)
	g := o.grow * t.spread
	at := func(dx, dy float64) measure.Pixel {
		return t.cam.Project(geom.Vec3{(x + g*nx + dx) * t.scale, (y + g*ny + dy) * t.scale, paperHeight})
	}
	p = at(0, 0)
	const h = 0.25
	a, b := at(ny*h, -nx*h), at(-ny*h, nx*h)
	l := geom.Distance(a, b)
	normal = measure.Pixel{X: (b.Y - a.Y) / l, Y: -(b.X - a.X) / l}
	scale = geom.Dot(geom.Minus(at(nx*h, ny*h), p), normal) / h
	if scale < 0 {
		normal, scale = measure.Pixel{X: -normal.X, Y: -normal.Y}, -scale
	}
	return p, normal, scale
}

// pxPerMM is the picture's scale at the card's middle, of the card at its true size.
func (t *printedTrial) pxPerMM() float64 {
	return t.cam.PxPerMM(geom.Vec3{0, 0, paperHeight}) * t.scale
}

// look finds the steepest place within reach pixels across the frame's inner edge.
func (t *printedTrial) look(f *picture.Frame, reach float64) {
	t.places = inkPlaces(4, false)
	t.at, t.sigma = make([]measure.Pixel, len(t.places)), make([]float64, len(t.places))
	st := newStrip(-reach-1, reach+1, 0.5)
	for i, o := range t.places {
		p, nrm, _ := t.project(o, 0)
		if !f.Inside(p, 3) {
			continue
		}
		st.clear()
		for k := range 3 {
			q, _, _ := t.project(o, o.width*(float64(k)-1)/3)
			st.add(f, q, nrm)
		}
		if d, slope, ok := st.steepest(); ok && slope >= leastSlope {
			t.at[i] = measure.Pixel{X: p.X + d*nrm.X, Y: p.Y + d*nrm.Y}
			t.sigma[i] = 0.3
		}
	}
}

// fit adjusts camera and spread to the edges seen.
func (t *printedTrial) fit(prior cardPrior) bool {
	normals := make([]measure.Pixel, len(t.places))
	for i, o := range t.places {
		_, normals[i], _ = t.project(o, 0)
	}
	base := *t
	apply := func(p []float64) printedTrial {
		c := base
		c.cam, c.spread = varied(base.cam, p, prior.LnF), p[8]
		return c
	}
	q := geom.LeastSquares{
		Residuals: func(p, r []float64) []float64 {
			c := apply(p)
			for i, o := range t.places {
				if t.sigma[i] <= 0 {
					continue
				}
				g := o.grow * c.spread
				px := c.cam.Project(geom.Vec3{(o.x + g*o.nx) * c.scale, (o.y + g*o.ny) * c.scale, paperHeight})
				v := geom.Dot(geom.Minus(t.at[i], px), normals[i]) / t.sigma[i]
				if math.IsNaN(v) {
					v = 1e6
				}
				r = append(r, v)
			}
			return append(r, p[6]/prior.SigmaLnF, p[7]/priorK1, p[8]/inkSpread)
		},
		Step:   []float64{1e-5, 1e-5, 1e-5, 1e-3, 1e-3, 1e-2, 1e-4, 1e-4, 1e-3},
		Robust: 2.5,
		Rounds: 12,
	}
	for _, s := range t.sigma {
		if s > 0 {
			q.RobustN++
		}
	}
	p := []float64{0, 0, 0, 0, 0, 0, math.Log(base.cam.F) - prior.LnF, base.cam.K1, base.spread}
	cov, _, ok := q.Solve(p)
	c := apply(p)
	t.cam, t.spread, t.cov = c.cam, c.spread, cov
	return ok && !math.IsNaN(c.cam.F) && c.cam.T[2] > 0
}

// seen is the least share of a side's places with an edge within d pixels of the fit.
func (t *printedTrial) seen(d float64) float64 {
	var hit, n [4]float64
	for i, o := range t.places {
		if o.run > 3 {
			continue
		}
		n[o.run]++
		p, nrm, _ := t.project(o, 0)
		if t.sigma[i] > 0 && math.Abs(geom.Dot(geom.Minus(t.at[i], p), nrm)) < d {
			hit[o.run]++
		}
	}
	least := 1.0
	for k := range n {
		least = math.Min(least, hit[k]/math.Max(n[k], 1))
	}
	return least
}

// clearance is how far from the frame's inner edge and from the rings, outward, nothing else
// is printed; ringClearance that from a ring's outer edge to the hole in it, less its blur.
const clearance, ringClearance = 1.7, 1.0 // mm

// refine places the edges to sub-pixels: light on both sides, blur and the camera's sharpening
// are fitted to the mean of each side or ring, then to pieces of it, as for other cards. Print has
// neither wall nor shadow. The rings come in where their pixels allow it.
func (t *printedTrial) refine(f *picture.Frame, rings bool) {
	t.places = inkPlaces(10, rings)
	t.at, t.sigma = make([]measure.Pixel, len(t.places)), make([]float64, len(t.places))
	scale := t.pxPerMM()
	whole := []int{edgeOffset, edgeFace, edgeFace + 1, edgeFace + 2, edgeGround, edgeGround + 1, edgeGround + 2, edgeBlur, edgeSharpen, edgeRadius}
	t.blur = 0
	for run := range 8 {
		lo, hi := -math.Min(6, clearance*scale), math.Min(6, clearance*scale)
		if run > 4 { // those with a hole
			lo = -math.Min(6, ringClearance*scale)
		}
		all := newStrip(lo, hi, 0.5)
		var pieces []*strip
		var index []int
		var curve float64
		for i, o := range t.places {
			if o.run != run {
				continue
			}
			st := newStrip(lo, hi, 0.5)
			rows := int(o.width*scale + 1)
			for k := range rows {
				p, nrm, _ := t.project(o, ((float64(k)+0.5)/float64(rows)-0.5)*o.width)
				if f.Inside(p, hi+2) {
					st.add(f, p, nrm)
				}
			}
			if 2*st.rows < rows {
				continue
			}
			all.merge(st)
			pieces, index, curve = append(pieces, st), append(index, i), o.curve
		}
		if len(pieces) == 0 {
			continue
		}
		l := ledge{scale: scale}
		m := newEdgeModel(all, l)
		prior := newInkPrior(all)
		p := prior.mean
		if d, _, ok := all.steepest(); ok {
			p[edgeOffset] = d
		}
		if _, _, ok := m.fit(all, &p, &prior, whole, 10); !ok || !(math.Abs(p[edgeOffset]) < hi) {
			continue
		}
		blur := math.Exp(p[edgeBlur])
		if run < 4 {
			t.blur = math.Max(t.blur, blur)
		}
		// A blurred disc looks smaller: its middle grey lies where a straight edge's would, less
		// half the blur's square times the curvature.
		shrunk := curve / scale * (blur*blur + lumaBlur*lumaBlur) / 2
		share := math.Hypot(sideSigmaMM*scale, sideSigmaPx) * math.Sqrt(float64(len(pieces)))
		for k, st := range pieces {
			q, pr := p, prior
			pr.mean = p
			sigma, _, ok := m.fit(st, &q, &pr, whole[:7], 5)
			if !ok || !(math.Abs(q[edgeOffset]) < hi) {
				continue
			}
			i := index[k]
			at, nrm, _ := t.project(t.places[i], 0)
			d := q[edgeOffset] + shrunk
			t.at[i] = measure.Pixel{X: at.X + d*nrm.X, Y: at.Y + d*nrm.Y}
			t.sigma[i] = math.Hypot(sigma, share)
		}
	}
}

// newInkPrior is newEdgePrior for print on paper: no wall, no glint, no shadow.
func newInkPrior(s *strip) edgePrior {
	q := newEdgePrior(s, ledge{scale: 1, thickness: 1})
	for _, k := range []int{edgeWall, edgeWall + 1, edgeWall + 2, edgeGlint, edgeShadow} {
		q.mean[k] = 0
	}
	return q
}

// leastRings is the scale, px per mm, from which a ring's 1.5 mm of black are wide enough to
// place their outer edge: twice the reach of a phone's sharpening.
const leastRings = 4

// measure fits the card from where the search left it, within reach pixels, reads its code, and
// says what stands against measuring by it. Both results are empty where it is no printed card.
func (t *printedTrial) measure(f *picture.Frame, reach float64, opt measure.Options) (Fit, []measure.Reason) {
	prior := focalPrior(f, opt)
	for k := range 3 {
		t.look(f, math.Min(math.Max(reach/float64(k+1), 2), clearance*t.pxPerMM()))
		if !t.fit(prior) {
			return Fit{}, nil
		}
	}
	text := t.readCode(f)
	ours, known := knownCode(text)
	scale := t.pxPerMM()
	seen := t.seen(1 + 0.08*scale)
	switch {
	case text == "" && seen < 0.6, text != "" && !ours:
		return Fit{}, nil
	case text != "" && !known:
		return Fit{}, []measure.Reason{measure.CardWrongSize}
	case scale < leastScale:
		return Fit{}, []measure.Reason{measure.TooSmall}
	}
	for range 2 {
		t.refine(f, scale >= leastRings)
		if !t.fit(prior) {
			return Fit{}, nil
		}
	}
	switch {
	case t.blur > math.Max(mostBlur*scale, 2):
		return Fit{}, []measure.Reason{measure.Blurred}
	case text == "" || seen < 0.6 || t.seen(math.Inf(1)) < 0.6:
		return Fit{}, []measure.Reason{measure.CardCutOff}
	}
	return t.finish(f, opt, prior), nil
}

// finish hands over what the fit arrived at.
func (t *printedTrial) finish(f *picture.Frame, opt measure.Options, prior cardPrior) Fit {
	out := Fit{Kind: measure.CardPrinted, Cam: t.cam, Height: paperHeight, Print: measure.PrintScale(opt.ScaleBar)}
	inside := func(outer float64) float64 { return outer/2 - printed.Frame - t.spread }
	out.Shape = Shape{inside(printed.Width) * t.scale, inside(printed.Height) * t.scale, 0}
	var sum float64
	for i, o := range t.places {
		if t.sigma[i] <= 0 {
			continue
		}
		p, nrm, _ := t.project(o, 0)
		d := geom.Dot(geom.Minus(t.at[i], p), nrm)
		sum += d * d
		if o.run < 4 {
			out.Points = append(out.Points, OutlinePoint{t.at[i], t.sigma[i]})
		}
	}
	out.RMS = math.Sqrt(sum / math.Max(1, float64(len(out.Points))))
	for i, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		out.Corners[i] = t.cam.Project(geom.Vec3{k[0] * id1.A * t.scale, k[1] * id1.B * t.scale, paperHeight})
	}
	// What is shared by all lengths but the scale of the whole print.
	lnF, spread := prior.SigmaLnF, inkSpread
	if t.cov != nil {
		lnF, spread = math.Sqrt(t.cov[6*9+6]), math.Sqrt(t.cov[8*9+8])
	}
	rel := math.Hypot(printStretch, paperHeightSigma/math.Max(t.cam.Eye()[2], 1))
	out.LongSigma = math.Hypot(2*out.Shape.A*rel, 2*spread)
	out.ShortSigma = math.Hypot(2*out.Shape.B*rel, 2*spread)
	out.Bias = printBias
	out.tellFocal(lnF, prior, opt)
	out.White = t.white(f)
	return out
}

// white is the linear light of white paper under the card's light: that of the blank paper
// inside the frame, or, where that is clipped, the lightest grey patch's that isn't, over what
// such a grey reflects of white.
func (t *printedTrial) white(f *picture.Frame) (white [3]float64) {
	mean := func(x0, y0, x1, y1 float64) (c [3]float64, clipped bool) {
		const n = 8
		for k := range n * n {
			x, y := tablePlace(x0+(x1-x0)*(float64(k%n)+0.5)/n, y0+(y1-y0)*(float64(k/n)+0.5)/n)
			r, g, b := f.RGB(t.cam.Project(geom.Vec3{x * t.scale, y * t.scale, paperHeight}))
			for q, v := range [3]float64{r, g, b} {
				clipped = clipped || v > 250
				c[q] += picture.Linear(v) / (n * n)
			}
		}
		return c, clipped
	}
	a, c := printed.Rings[0], printed.Rings[2]
	white, clipped := mean(a.X+a.Outer+2, a.Y, c.X-c.Outer-2, c.Y)
	for _, p := range printed.Patches[:3] {
		if !clipped {
			break
		}
		var light [3]float64
		if light, clipped = mean(p.X+1, p.Y+1, p.X+p.W-1, p.Y+p.H-1); !clipped {
			for q := range white {
				white[q] = light[q] / picture.Linear(float64(p.RGB[q]))
			}
		}
	}
	return white
}
