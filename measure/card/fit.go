package card

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// What is taken of a lens before the picture has told more.
const (
	// EXIF gives whole millimetres, so a 26 mm lens may be 25.5…26.5: ±0.29 mm standard.
	exifRounding = 0.289
	// Without EXIF a phone's main camera: 24…28 mm mostly, 35…52 mm possible (common
	// practice, no source): 28 mm, a quarter either way.
	assumed35mm     = 28.0
	assumedRelative = 0.25
	// A corrected phone picture keeps |K1| under a few hundredths.
	priorK1 = 0.02
)

// An outlinePlace is a place on the card's outline with its outward normal, in the card's
// plane, mm.
type outlinePlace struct {
	x, y, nx, ny float64
	side         int     // 0…3: −y, +x, +y, −x; 4…7: the corners after them
	width        float64 // mm along the outline that it stands for
}

// cardOutline spreads places over the outline of an a × b (half-sides) rectangle with corner
// radius r, about step apart.
func cardOutline(a, b, r, step float64) []outlinePlace {
	var out []outlinePlace
	run := func(side int, x0, y0, x1, y1, nx, ny float64) {
		l := math.Hypot(x1-x0, y1-y0)
		n := int(l/step + 0.5)
		for i := range n {
			t := (float64(i) + 0.5) / float64(n)
			out = append(out, outlinePlace{x0 + t*(x1-x0), y0 + t*(y1-y0), nx, ny, side, l / float64(n)})
		}
	}
	arc := func(side int, cx, cy, from float64) {
		l := r * math.Pi / 2
		n := int(l/step*2 + 0.5)
		for i := range n {
			s, c := math.Sincos(from + (float64(i)+0.5)/float64(n)*math.Pi/2)
			out = append(out, outlinePlace{cx + r*c, cy + r*s, c, s, side, l / float64(n)})
		}
	}
	m := r + 0.4 // the sides' ends belong to the arcs
	run(0, -a+m, -b, a-m, -b, 0, -1)
	arc(4, a-r, -b+r, -math.Pi/2)
	run(1, a, -b+m, a, b-m, 1, 0)
	arc(5, a-r, b-r, 0)
	run(2, a-m, b, -a+m, b, 0, 1)
	arc(6, -a+r, b-r, math.Pi/2)
	run(3, -a, b-m, -a, -b+m, -1, 0)
	arc(7, -a+r, -b+r, math.Pi)
	return out
}

// A Shape is a card's outline as it may turn out: half-sides and corner radius, mm.
type Shape struct{ A, B, R float64 }

var id1 = Shape{measure.ID1Long / 2, measure.ID1Short / 2, measure.ID1Radius}

// A cardState is what the fit varies.
type cardState struct {
	cam   geom.Camera
	shape Shape
	off   [4]float64 // px: how far the sides' edges lie outside the outline as wholes
}

// corners are where those of a card of a shape, as if square, are seen in order round it.
func (s *cardState) corners(of Shape) (at [4]measure.Pixel) {
	for i, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		at[i] = s.cam.Project(geom.Vec3{k[0] * of.A, k[1] * of.B, measure.ID1Thickness})
	}
	return at
}

// startCard takes a candidate's corners for those of a rectangle as high as an
// ID-1 card and of whatever length they show at focal length fpx.
func startCard(c candidate, fpx float64, w, h int) (cardState, bool) {
	// Seen from above, the world's y runs against the screen's: clockwise becomes counter-clockwise.
	px := make([]measure.Pixel, 4)
	for i, k := range [4]int{1, 0, 3, 2} {
		px[i] = c.corners[k]
	}
	shape := id1
	hm, err := geom.Homography([][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}}, px)
	if err != nil {
		return cardState{}, false
	}
	cx, cy := float64(w)/2, float64(h)/2
	m := geom.Mat3{{1 / fpx, 0, -cx / fpx}, {0, 1 / fpx, -cy / fpx}, {0, 0, 1}}.Times(hm).Transpose()
	shape.A = shape.B * m[0].Norm() / m[1].Norm()
	a, b := shape.A, shape.B
	if hm, err = geom.Homography([][2]float64{{-a, -b}, {a, -b}, {a, b}, {-a, b}}, px); err != nil {
		return cardState{}, false
	}
	cam := geom.PoseFromHomography(hm, fpx, cx, cy, measure.ID1Thickness)
	if !(cam.T[2] > 0) {
		return cardState{}, false
	}
	return cardState{cam: cam, shape: shape}, true
}

// on moves a place from the ID-1 outline to that of another shape.
func (s Shape) on(o outlinePlace) geom.Vec3 {
	x, y := o.x, o.y
	switch o.side {
	case 0, 2:
		y = math.Copysign(s.B, y)
	case 1, 3:
		x = math.Copysign(s.A, x)
	default:
		x = math.Copysign(s.A-s.R, x) + s.R*o.nx
		y = math.Copysign(s.B-s.R, y) + s.R*o.ny
	}
	return geom.Vec3{x, y, measure.ID1Thickness}
}

// project gives the picture of an outline place, the outward normal there and the scale
// along it, px per mm.
func (s *cardState) project(o outlinePlace) (p, normal measure.Pixel, scale float64) {
	w := s.shape.on(o)
	p = s.cam.Project(w)
	// The picture's normal is square to the picture of the tangent.
	const h = 0.5
	t := geom.Vec3{-o.ny * h, o.nx * h, 0}
	a, b := s.cam.Project(w.Sub(t)), s.cam.Project(w.Add(t))
	l := geom.Distance(a, b)
	n := measure.Pixel{X: (b.Y - a.Y) / l, Y: -(b.X - a.X) / l}
	q := s.cam.Project(w.Add(geom.Vec3{o.nx * h, o.ny * h, 0}))
	scale = geom.Dot(geom.Minus(q, p), n) / h
	if scale < 0 {
		n, scale = measure.Pixel{X: -n.X, Y: -n.Y}, -scale
	}
	return p, n, scale
}

// offset is how far outside the outline the edge is expected at a place, px: on an arc both sides'
// offsets add, as parts of one shift.
func (s *cardState) offset(o outlinePlace) float64 {
	x, y := s.off[3], s.off[0]
	if o.nx > 0 {
		x = s.off[1]
	}
	if o.ny > 0 {
		y = s.off[2]
	}
	return x*math.Abs(o.nx) + y*math.Abs(o.ny)
}

// A Lens is what is known of the focal length, px, before the picture is looked at: its logarithm,
// with the standard uncertainty.
type Lens struct{ LnF, SigmaLnF float64 }

// A cardPrior is what is known before the outline is fitted; sigmas are standard uncertainties.
type cardPrior struct {
	Lens
	sigmaAspect float64 // of half-side a, relative to ID-1's
	radius      float64 // 0 < r; sigmaRadius 0 holds it at ID-1's
	sigmaRadius float64
	sigmaSide   float64 // px: of a whole side's place; 0 where the points' own sigmas say it
}

// fit adjusts camera and shape to edge points at[i] of places[i] (sigma 0: none), in so many rounds
// at the most.
func (s *cardState) fit(places []outlinePlace, at []measure.Pixel, sigma []float64, prior cardPrior, rounds int) (cov []float64, rms float64, ok bool) {
	normals := make([]measure.Pixel, len(places))
	for i, o := range places {
		_, normals[i], _ = s.project(o)
	}
	base := *s
	apply := func(p []float64) cardState {
		c := base
		c.cam = varied(base.cam, p, prior.LnF)
		c.shape.A = id1.A * (1 + p[8])
		c.shape.R = p[9]
		c.off = [4]float64{}
		copy(c.off[:], p[10:])
		return c
	}
	hold := func(sigma float64) float64 { return math.Max(sigma, 1e-9) }
	expect := func(p, r []float64) []float64 {
		r = append(r, p[6]/prior.SigmaLnF, p[7]/priorK1, p[8]/hold(prior.sigmaAspect), (p[9]-prior.radius)/hold(prior.sigmaRadius))
		for _, off := range p[10:] {
			r = append(r, off/prior.sigmaSide)
		}
		return r
	}
	var seen []int // places
	for i, v := range sigma {
		if v > 0 {
			seen = append(seen, i)
		}
	}
	// across is how far outside the outline the edge is, px.
	across := func(c *cardState, i int, on geom.Vec3) float64 {
		return geom.Dot(geom.Minus(at[i], c.cam.Project(on)), normals[i])
	}
	weigh := func(c *cardState, i int, across float64) float64 {
		if v := (across - c.offset(places[i])) / sigma[i]; !math.IsNaN(v) {
			return v
		}
		return 1e6
	}
	on, lies := make([]geom.Vec3, len(seen)), make([]float64, len(seen))
	var r, moved []float64
	step := [14]float64{1e-5, 1e-5, 1e-5, 1e-3, 1e-3, 1e-2, 1e-4, 1e-4, 1e-5, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3}
	q := geom.LeastSquares{
		Residuals: func(p, r []float64) []float64 {
			c := apply(p)
			for _, i := range seen {
				r = append(r, weigh(&c, i, across(&c, i, c.shape.on(places[i]))))
			}
			return expect(p, r)
		},
		// By differences, but of what changes only.
		Derive: func(p, jac []float64) {
			c := apply(p)
			r = r[:0]
			for k, i := range seen {
				on[k] = c.shape.on(places[i])
				lies[k] = across(&c, i, on[k])
				r = append(r, weigh(&c, i, lies[k]))
			}
			r = expect(p, r)
			for j, keep := range p {
				p[j] = keep + step[j]
				c := apply(p)
				moved = moved[:0]
				for k, i := range seen {
					v, w := lies[k], on[k]
					shape := j == 8 || j == 9
					if shape {
						w = c.shape.on(places[i])
					}
					if j < 8 || shape && w != on[k] {
						v = across(&c, i, w)
					}
					moved = append(moved, weigh(&c, i, v))
				}
				for i, v := range expect(p, moved) {
					jac[i*len(p)+j] = (v - r[i]) / step[j]
				}
				p[j] = keep
			}
		},
		Robust:  2.5,
		RobustN: len(seen),
		Rounds:  rounds,
	}
	p := []float64{0, 0, 0, 0, 0, 0, math.Log(base.cam.F) - prior.LnF, base.cam.K1, base.shape.A/id1.A - 1, base.shape.R}
	if prior.sigmaSide > 0 {
		p = append(p, 0, 0, 0, 0)
	}
	cov, rms, ok = q.Solve(p)
	*s = apply(p)
	return cov, rms, ok
}

// varied is the camera turned, moved, and with the focal length and distortion that a card's fit
// tries: p has turn, rad, and move, mm, by axis, ln f − lnF, and K1. Turning f up moves the camera
// away: T goes with it, so that the two decouple.
func varied(c geom.Camera, p []float64, lnF float64) geom.Camera {
	f := math.Exp(lnF + p[6])
	c.R = geom.Rotation(geom.Vec3{p[0], p[1], p[2]}).Times(c.R)
	c.T = c.T.Add(geom.Vec3{p[3], p[4], p[5]}).Mul(f / c.F)
	c.F, c.K1 = f, p[7]
	return c
}

// Where the wall is seen, or a shadow is darker than the card, the steepest place of a whole side
// is off by about a tenth of a millimetre, sideSlack.
const sideSlack = 0.1

// Focal length and tilt make up for each other, along a curve: a fit that must tell them apart takes
// some tens of rounds. Few will do as long as the edges are looked for again.
const fewRounds, allRounds = 12, 60

// u is the standard uncertainty of a parameter of the last fit.
func (c *cardTrial) u(k int) float64 {
	n := int(math.Sqrt(float64(len(c.cov))) + 0.5)
	return math.Sqrt(c.cov[k*n+k])
}

// pull is how far the focal length lies from what was expected, in standard uncertainties.
func (s *cardState) pull(prior cardPrior) float64 {
	return (math.Log(s.cam.F) - prior.LnF) / prior.SigmaLnF
}

// A cardTrial is a candidate on its way to a fit.
type cardTrial struct {
	cardState
	places []outlinePlace
	inside []bool // in the picture
	at     []measure.Pixel
	sigma  []float64 // 0: no edge seen
	cov    []float64
	rms    float64 // in sigmas
	clean  bool    // edge nearly everywhere on every side
	seen   float64 // share of the outline where the edge is
	apart  float64 // of its length from ID-1's, in standard uncertainties
	room   float64 // px to an edge inside; 0: none known
	proven bool    // its outline is there
	// The finder says that it has a card's face, and another's than the reference's.
	likely, other bool
	layers        [4]edgeState // what was seen across each side
	// χ² of the layers against what is expected of them, their offset left out
	strange [4]float64
}

// scale is the picture's at the card's middle, px per mm.
func (c *cardTrial) scale() float64 { return c.cam.PxPerMM(geom.Vec3{0, 0, measure.ID1Thickness}) }

// look finds the edge within reach pixels of each place on the outline. All places on a side or corner vote on a line
// along it: what they have in common is the card's edge, and what a newspaper, a weave or stone put there differs from place
// to place. Each has one vote, however strong what it sees, and whichever way the light changes. Close to that line
// neighbours tell where the edge is.
func (c *cardTrial) look(f *picture.Frame, places []outlinePlace, reach float64, rows int) {
	c.places = places
	c.inside, c.at, c.sigma = make([]bool, len(places)), make([]measure.Pixel, len(places)), make([]float64, len(places))
	if !(reach < float64(f.W+f.H)/4) {
		return // no card's: a senseless focal length makes one of any size
	}
	for from := 0; from < len(places); {
		to := from
		var in []int
		var at, normals []measure.Pixel
		var width float64
		for ; to < len(places) && places[to].side == places[from].side; to++ {
			p, nrm, scale := c.project(places[to])
			if c.inside[to] = f.Inside(p, 3) && scale > 0; c.inside[to] {
				in, at, normals = append(in, to), append(at, p), append(normals, nrm)
				width = places[to].width * scale
			}
		}
		arc := places[from].side >= 4
		from = to
		if len(in) < 2 {
			continue
		}
		b := newBand(f, at, normals, width, rows, -reach-1, reach+1, 0.5)
		turn, near := b.n/3, voters
		if arc { // its places are half as far apart, and the sides say how it lies
			turn, near = offLine, voters/2
		}
		u, v := b.line(turn)
		b.edges(u, v, near, func(k int, d float64) {
			c.at[in[k]] = measure.Pixel{X: at[k].X + d*normals[k].X, Y: at[k].Y + d*normals[k].Y}
			c.sigma[in[k]] = 0.3
		})
	}
}

// dropTorn takes sides of which less than half is in the picture, and corners not wholly in it,
// for not in the picture at all.
func (c *cardTrial) dropTorn() {
	var in, n [8]int
	for i, o := range c.places {
		n[o.side]++
		if c.inside[i] {
			in[o.side]++
		}
	}
	for i, o := range c.places {
		if 2*in[o.side] < n[o.side] || o.side >= 4 && in[o.side] < n[o.side] {
			c.inside[i], c.sigma[i] = false, 0
		}
	}
}

// leastSlope is what counts as an edge, levels per pixel: several times what the noise of a
// phone picture, some three levels, leaves after averaging along the edge.
const leastSlope = 1.5

// near is the share of the places in the picture whose edge lies within d pixels of the fitted
// outline: of all, of the worst side and the next, and of the worst corner but one, for what is printed up to
// an edge can hide a corner. seen is the share in the picture.
func (c *cardTrial) near(d float64) (all, side, next, corner, seen float64) {
	var hit, n [8]float64
	for i, o := range c.places {
		if !c.inside[i] {
			continue
		}
		n[o.side]++
		if c.sigma[i] <= 0 {
			continue
		}
		p, nrm, _ := c.project(o)
		if math.Abs(geom.Dot(geom.Minus(c.at[i], p), nrm)-c.offset(o)) < d {
			hit[o.side]++
		}
	}
	var h, m float64
	var sides, corners []float64
	for k := range n {
		if n[k] == 0 {
			continue
		}
		h, m = h+hit[k], m+n[k]
		if k < 4 {
			sides = append(sides, hit[k]/n[k])
		} else {
			corners = append(corners, hit[k]/n[k])
		}
	}
	if m == 0 {
		return 0, 0, 0, 0, 0
	}
	slices.Sort(sides)
	slices.Sort(corners)
	worst := func(of []float64, k int) float64 {
		if k < len(of) {
			return of[k]
		}
		return 1
	}
	return h / m, worst(sides, 0), worst(sides, 1), worst(corners, 1), m / float64(len(c.places))
}

// sidesOnly leaves the corners out.
func sidesOnly(all []outlinePlace) []outlinePlace {
	var out []outlinePlace
	for _, o := range all {
		if o.side < 4 {
			out = append(out, o)
		}
	}
	return out
}

// focalPrior is what EXIF or habit says of the focal length, with the shape held.
func focalPrior(f *picture.Frame, opt measure.Options) cardPrior {
	p := cardPrior{Lens: Lens{math.Log(geom.FocalPx(assumed35mm, f.W, f.H)), assumedRelative}, radius: measure.ID1Radius}
	if opt.Focal35mm > 0 {
		p.LnF = math.Log(geom.FocalPx(opt.Focal35mm, f.W, f.H))
		p.SigmaLnF = exifRounding / opt.Focal35mm
	}
	return p
}

// near is the lens as it stands for things at a distance, mm: by the thin lens the picture of what lies at d is
// sharp f/d farther behind it than that of far things, and as much larger (Hecht, Optics, 5.2.3). A phone's
// sensor measures 7 to 12 mm across its corners, which gives f; some phones keep the view as it is (both common
// practice, no source).
func (l Lens) near(focal35, distance float64) Lens {
	const across, sigma = 5, 3 // mm; 0 for a view that is kept
	perMM := focal35 / math.Hypot(36, 24) / distance
	return Lens{l.LnF + perMM*across, math.Hypot(l.SigmaLnF, perMM*sigma)}
}

// usualLenses are those of phones, as 35 mm equivalents close to, and how common they are: main cameras, twice
// their length, and whatever else, also by cropping (common practice, no source).
var usualLenses = [...]struct{ focal35, relative, share float64 }{{26, 0.08, 0.75}, {50, 0.08, 0.12}, {32, 0.35, 0.13}}

// usual is what is known beside the card of a focal length that no camera's notes give, where with the prior
// and the card together it came out as seen. What the card alone tells is put together with each of the usual
// lenses, as likely as it goes with that; this is the one normal that, put together with the same, has their
// mean and variance.
func (p cardPrior) usual(seen Lens) Lens {
	of := func(sigma float64) float64 { return 1 / (sigma * sigma) }
	told := math.Max(of(seen.SigmaLnF)-of(p.SigmaLnF), 1e-3)
	at := (seen.LnF*of(seen.SigmaLnF) - p.LnF*of(p.SigmaLnF)) / told
	var sum, mean, square float64
	for _, l := range usualLenses {
		lnF := p.LnF + math.Log(l.focal35/assumed35mm)
		v := l.relative*l.relative + 1/told
		w := l.share / math.Sqrt(v) * math.Exp(-(at-lnF)*(at-lnF)/(2*v))
		both := of(l.relative) + told
		m := (lnF*of(l.relative) + at*told) / both
		sum, mean, square = sum+w, mean+w*m, square+w*(m*m+1/both)
	}
	mean /= sum
	all := 1 / (square/sum - mean*mean)
	own := math.Max(all-told, of(0.5)) // it knows something whatever the card tells
	return Lens{mean + (mean-at)*told/own, 1 / math.Sqrt(own)}
}

// tryCard fits a rectangle with round corners to a candidate, and
// reports whether its whole outline, as far as it is in the picture, is there. Length and
// radius are free; of a shape that leaves the picture (cut) the length is ID-1's.
func tryCard(f *picture.Frame, cand candidate, cut bool, opt measure.Options) (cardTrial, bool) {
	prior := focalPrior(f, opt)
	prior.SigmaLnF = math.Hypot(prior.SigmaLnF, nearFocus)
	if !cut {
		prior.sigmaAspect = 0.3
	}
	s, ok := startCard(cand, math.Exp(prior.LnF), f.W, f.H)
	if !ok {
		return cardTrial{}, false
	}
	if cut {
		in := func(k int) bool {
			return f.Inside(cand.corners[k], 0)
		}
		if in(0) && in(1) || in(2) && in(3) { // the side seen whole is a long one: it tells the scale
			s.cam.T = s.cam.T.Mul(id1.A / s.shape.A)
		}
		s.shape = id1
	}
	c := cardTrial{cardState: s, room: cand.room, likely: cand.likely, other: cand.other}
	for k := range 2 {
		// The sides first, square corners left out by twice the card's radius. A candidate is
		// good to some pixels; the guess at a cut-off one to a millimetre or two.
		reach := startReach / float64(k+1)
		if cut {
			reach = math.Max(reach, 2*c.scale()/float64(k+1))
		}
		c.look(f, sidesOnly(cardOutline(c.shape.A, c.shape.B, 2*measure.ID1Radius, 4)), reach, 3)
		if cut {
			c.dropTorn()
		}
		if c.cov, c.rms, ok = c.fit(c.places, c.at, c.sigma, prior, fewRounds); !ok {
			return c, false
		}
	}
	if all, _, _, _, _ := c.near(1 + 0.08*c.scale()); all < 0.7 {
		return c, false
	}
	prior.sigmaRadius, prior.sigmaSide = 1, sideSlack*c.scale()
	for k := range 3 {
		reach := math.Max(2, math.Min(6, 0.8*c.scale()))
		if k == 0 {
			reach = math.Max(2, c.scale()) // square corners stand out of round ones by 1.3 mm
		}
		c.look(f, cardOutline(c.shape.A, c.shape.B, math.Max(c.shape.R, 1.5), 2), reach, 5)
		if cut {
			c.dropTorn()
		}
		if c.cov, c.rms, ok = c.fit(c.places, c.at, c.sigma, prior, allRounds); !ok {
			return c, false
		}
	}
	// Where the wall is seen, or a shadow is darker than the card, the steepest place is a tenth
	// of a millimetre off.
	all, side, next, corner, seen := c.near(0.8 + 0.06*c.scale())
	c.clean, c.seen = side >= 0.9 && (all >= 0.95 || c.shape.R < squarest), all
	// Artwork that runs up to the edge hides some of it, and so does what lies over it. Where the finder sees no card
	// all of the outline must be there, save for what has just an ID-1 card's length and roundings.
	square := c.clean && c.shape.R < squarest // its corners lie out of the arcs' reach
	found := all >= 0.8 && side >= 0.6 && (corner > 0.5 || square) && seen >= 0.3
	switch {
	case cand.likely && !cand.other:
		// Three sides and a part of the fourth are enough.
		found = all >= 0.75 && side >= 0.3 && next >= 0.75 && (corner > 0.5 || square) && seen >= 0.3
	case cand.other:
		found = found && c.clean && !c.runsOn(f)
	case cut:
		found = found && all >= 0.9 && side >= 0.8 && c.liesOnGround(f) && !c.runsOn(f)
	default:
		isID1 := math.Abs(c.shape.A/id1.A-1) < 0.012 && math.Abs(c.shape.R-measure.ID1Radius) < 1 && all >= 0.9 && side >= 0.8
		found = found && (corner >= 0.75 || square) && (isID1 || c.clean && c.liesOnGround(f)) && !c.runsOn(f)
	}
	if found {
		c.compare(prior)
	}
	return c, found
}

// startReach is how far off the sides of a start may be, px.
const startReach = 5

// nearFocus is by how much of itself a focal length may differ from what is written: a lens focused on a table is longer
// by some hundredths, common practice, no source.
const nearFocus = 0.02

// stretchSlack is how far from ID-1's a card's length against its width may come out for other reasons
// than what the fit knows of, relative: wear, and edges that a shadow doubles.
const stretchSlack = 0.006

// compare tells how far from an ID-1 card's the trial's length is by how much worse the edges fit when
// it is held there, whatever focal length that takes, and how unlikely that is.
func (c *cardTrial) compare(prior cardPrior) {
	chi2 := func(rms float64) float64 { return rms * rms * float64(len(c.places)) }
	held := *c
	prior.sigmaAspect = stretchSlack
	_, rms, ok := held.fit(c.places, c.at, c.sigma, prior, allRounds)
	if !ok {
		c.apart = math.Inf(1)
		return
	}
	// Edges that scatter more than they should count for less.
	c.apart = math.Hypot(math.Sqrt(math.Max(0, chi2(rms)-chi2(c.rms))/math.Max(1, c.rms*c.rms)), c.pull(prior))
}

// runsOn reports whether edges go on straight beyond the corners, as they do in a pattern of
// squares or at the edge of a sheet with lines on it, and not at the corners of a thing.
func (c *cardTrial) runsOn(f *picture.Frame) bool {
	var slopes []float64
	st := newStrip(-3, 3, 0.5)
	slope := func(w geom.Vec3, along geom.Vec3) (d, slope float64, ok bool) {
		p, q := c.cam.Project(w), c.cam.Project(w.Add(along))
		l := geom.Distance(p, q)
		n := measure.Pixel{X: -(q.Y - p.Y) / l, Y: (q.X - p.X) / l}
		if !f.Inside(p, 5) || !f.Inside(q, 5) {
			return 0, 0, false
		}
		st.clear()
		for k := range 4 {
			st.add(f, geom.Between(p, q, (float64(k)+0.5)/4), n)
		}
		return st.steepest()
	}
	a, b := c.shape.A, c.shape.B
	corners := [4]geom.Vec3{{-a, -b, measure.ID1Thickness}, {a, -b, measure.ID1Thickness}, {a, b, measure.ID1Thickness}, {-a, b, measure.ID1Thickness}}
	on := 0
	for k := range 4 {
		p, q := corners[k], corners[(k+1)%4]
		along := q.Sub(p).Unit()
		slopes = slopes[:0]
		for t := 8.0; t < q.Sub(p).Norm()-8; t += 4 {
			if _, g, ok := slope(p.Add(along.Mul(t)), along); ok {
				slopes = append(slopes, g)
			}
		}
		if len(slopes) == 0 {
			continue
		}
		slices.Sort(slopes)
		least := math.Max(0.4*slopes[len(slopes)/2], 2*leastSlope)
		for _, end := range []struct{ w, along geom.Vec3 }{{p, along.Mul(-1)}, {q, along}} {
			hit := 0
			for _, t := range []float64{2, 3.5, 5, 6.5} {
				d, g, ok := slope(end.w.Add(end.along.Mul(t)), along)
				if ok && g > least && math.Abs(d) < 1.5 {
					hit++
				}
			}
			if hit >= 3 {
				on++
			}
		}
	}
	return on >= 2
}

// liesOnGround reports whether the surroundings change little along the outline: a card lies on
// one thing, where a rectangle picked out of a chequered pattern has squares all round it.
func (c *cardTrial) liesOnGround(f *picture.Frame) bool {
	var jumps, n int
	last := math.NaN()
	for _, o := range cardOutline(c.shape.A, c.shape.B, math.Max(c.shape.R, 1.5), 3) {
		p, nrm, scale := c.project(o)
		if !f.Inside(p, 3) {
			last = math.NaN()
			continue
		}
		var sum float64
		const k = 5
		for i := range k { // clear of the wall and its shadow: 1.5…3.5 mm out
			d := (1.5 + 2*float64(i)/(k-1)) * scale
			sum += f.Luma(measure.Pixel{X: p.X + d*nrm.X, Y: p.Y + d*nrm.Y})
		}
		v := sum / k
		if !math.IsNaN(last) {
			n++
			if math.Abs(v-last) > 40 { // levels; twice what strong grain does
				jumps++
			}
		}
		last = v
	}
	return float64(jumps) <= 0.12*float64(n)
}

// cardRounding is the radius that a die-cut card's edge is rounded to, mm: some hundredths
// (common practice, no source). Twice as much moves an edge by a hundredth of a millimetre.
const cardRounding = 0.06

// What the layers' fit leaves of doubt in a whole side's place, shared by the side's points: the
// rounding and the wall of real cards differ by some thousandths of a millimetre, and the
// camera's filters are known to some hundredths of a pixel. See astray.
const (
	sideSigmaMM = 0.0035
	sideSigmaPx = 0.035
)

// goodLayers is what a right fit of a side's layers leaves at most, root mean square in lumaSigma
// and chromaSigma: the mean of a whole side has hardly any noise left.
const goodLayers = 0.4

// A sideSeen is what a fit of a whole side's layers leaves open.
type sideSeen struct {
	doubt   float64 // of the edge's place, by what else it could be, px
	strange float64 // sum of squares of how far the layers are from what is usual, in standard uncertainties
}

// fitWall fits the layers to a whole side from p on. Where that leaves more than it should, the
// card may have a white core: its wall is then as light as it likes, and what was taken for the
// top edge may be the wall's foot, or the shadow's end.
func (m *edgeModel) fitWall(s *strip, p edgeState, prior *edgePrior, free []int, wary bool) (best edgeState, seen sideSeen, ok bool) {
	type way struct {
		state     edgeState
		prior     edgePrior
		cast      bool
		rms, cost float64
	}
	var ways []way
	wall := math.Max(0, -m.slant*m.thickness*m.scale) // that is seen, px
	try := func(p edgeState, prior *edgePrior) (rms float64) {
		_, rms, ok := m.fit(s, &p, prior, free, 10)
		if !ok {
			return math.Inf(1)
		}
		cost := rms * rms * float64(3*len(s.y)+len(free))
		for c := range 3 { // the more lights were allowed for, the less the odds of each
			cost += 2 * math.Log(prior.sigma[edgeWall+c])
		}
		ways = append(ways, way{p, *prior, m.cast, rms, cost})
		return rms
	}
	if m.cast = false; try(p, prior) > goodLayers && wary {
		// From what is usual, as a fit that went astray took blur and sharpening with it. What was
		// taken for the top edge may also be the end of the wall or of the shadow.
		for _, cast := range []bool{false, true} {
			m.cast = cast
			own, ends := *prior, []float64{0}
			if wall >= 0.5 { // px
				ends = append(ends, wall)
			}
			if cast {
				own = prior.castShadow(m.ledge)
				ends = append(ends, wall+math.Exp(own.mean[edgeFade]))
			}
			for _, prior := range []edgePrior{own, own.whiteWall()} {
				for _, back := range ends {
					q := prior.mean
					q[edgeOffset] = p[edgeOffset] - back
					try(q, &prior)
				}
			}
		}
	}
	if len(ways) == 0 {
		return p, seen, false
	}
	least := slices.MinFunc(ways, func(a, b way) int { return cmp.Compare(a.cost, b.cost) })
	var sum, spread float64
	for _, w := range ways {
		odds := math.Exp((least.cost - w.cost) / (2 * picture.ModelMemory))
		d := w.state[edgeOffset] - least.state[edgeOffset]
		sum, spread = sum+odds, spread+odds*d*d
	}
	m.cast = least.cast
	seen.doubt = math.Sqrt(spread / sum)
	for k := edgeFace; k < edgeParams; k++ {
		seen.strange += math.Pow((least.state[k]-least.prior.mean[k])/least.prior.sigma[k], 2)
	}
	return least.state, seen, true
}

// refine places the sides' edges to sub-pixels: the layers are fitted to the mean of each
// whole side, then pieces of it are placed. On the first round, when the expected edge may still
// be off, the pieces are only taken from where they are steepest to where the layers say that
// edge is; on later ones the layers are fitted to each piece, with the light's colours free.
// The corners are left out: their radius is ID-1's only to a tenth. astray is how far off, px, the
// expected edge may be, as a standard uncertainty.
func (c *cardTrial) refine(f *picture.Frame, first bool, astray float64) {
	lo, hi := c.window(first)
	rowsPerPx := 1.0
	if first {
		rowsPerPx = 0.3
	}
	c.inPieces()
	all := []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15}
	colours := []int{edgeOffset, edgeFace, edgeFace + 1, edgeFace + 2, edgeGround, edgeGround + 1, edgeGround + 2}
	for side := range 4 {
		s := c.strips(f, side, lo, hi, rowsPerPx)
		if len(s.pieces) == 0 {
			continue
		}
		m := newEdgeModel(s.whole, s.ledge)
		prior := newEdgePrior(s.whole, s.ledge)
		prior.sigma[edgeOffset] = astray
		p := c.layers[side]
		steep, _, _ := s.whole.steepest()
		if first || p == (edgeState{}) {
			p = prior.mean
		}
		p[edgeOffset] = 0
		if first {
			p[edgeOffset] = steep
		}
		p, seen, ok := m.fitWall(s.whole, p, &prior, all, !first)
		if !ok {
			continue
		}
		c.layers[side], c.strange[side] = p, seen.strange
		share := math.Hypot(math.Hypot(sideSigmaMM*s.ledge.scale, sideSigmaPx), seen.doubt) * math.Sqrt(float64(len(s.pieces)))
		for k, st := range s.pieces {
			q, sigma := p, 0.3
			if first {
				d, _, ok := st.steepest()
				if !ok {
					continue
				}
				q[edgeOffset] += d - steep
			} else {
				pr, ok := prior, false
				pr.mean = p
				if sigma, _, ok = m.fit(st, &q, &pr, colours, 5); !ok || !(math.Abs(q[edgeOffset]) < hi) {
					continue
				}
			}
			c.put(s.index[k], q[edgeOffset], math.Hypot(sigma, share))
		}
	}
}

// place brings the sides' edges to sub-pixels and the camera to them, the shape held at ID-1's.
func (c *cardTrial) place(f *picture.Frame, prior cardPrior) {
	start := *c
	for k := range 2 {
		c.refine(f, k == 0, 3)
		c.cov, c.rms, _ = c.fit(c.places, c.at, c.sigma, prior, allRounds)
	}
	if c.rms > mostScatter || math.Abs(c.pull(prior)) > unlikely || c.moved(&start) > mostMoved {
		// From where most edges say that the others are; and from the best choice among all edges.
		again := *c
		again.settle(f, prior)
		start.sortOut(f, prior)
		start.settle(f, prior)
		for _, t := range []cardTrial{again, start} {
			if t.misfit() < c.misfit() {
				*c = t
			}
		}
	}
	for i, o := range c.places {
		if c.sigma[i] > 0 {
			c.sigma[i] = math.Hypot(c.sigma[i], c.astray(o.side)*math.Sqrt(float64(len(c.places))/4))
		}
	}
	c.cov, c.rms, _ = c.fit(c.places, c.at, c.sigma, prior, allRounds)
}

// astray is how far off a whole side may be placed, px, for its layers being others than those that are
// fitted: what is fitted is then strange, and a blurred edge is off by a share of its blur. With this, the
// sides found in testdata/photos scatter about the truth by 0.8 standard uncertainties, those in
// testdata/world, with blurs up to 2 px and shadows of all kinds, by 1.2; with sideSigmaMM and sideSigmaPx
// alone by 0.9 and 3.4.
func (c *cardTrial) astray(side int) float64 {
	const share = 0.36
	return share * math.Exp(c.layers[side][edgeBlur]) * math.Sqrt(c.strange[side]/(edgeParams-edgeFace))
}

// settle is the rest of place where it is known to a pixel or so where the edges are.
func (c *cardTrial) settle(f *picture.Frame, prior cardPrior) {
	c.layers = [4]edgeState{}
	for range 2 {
		c.refine(f, false, 1)
		c.cov, c.rms, _ = c.fit(c.places, c.at, c.sigma, prior, allRounds)
	}
}

// moved is how far the corner lies that is farthest from where it was, mm.
func (c *cardTrial) moved(from *cardTrial) (most float64) {
	before := from.corners(id1)
	for k, at := range c.corners(id1) {
		most = math.Max(most, geom.Distance(at, before[k]))
	}
	return most / c.scale()
}

// mostMoved is by how much a corner may come out elsewhere than the votes of the edges' places said, mm: ten times sideSlack.
const mostMoved = 1.0

// misfit is the χ² of the edges' places and of what was seen there.
func (c *cardTrial) misfit() float64 {
	sum := c.rms * c.rms * float64(len(c.places))
	for _, v := range c.strange {
		sum += v
	}
	return sum
}

// mostScatter is the root mean square residual of the sides' edges, in standard uncertainties, beyond which
// they are not those of one card.
const mostScatter = 2

// sortOut finds the sides of a card of which some shows several edges, its own, the wall's foot, a
// shadow's rim, something printed: of all choices the one that fits an ID-1 card best.
func (c *cardTrial) sortOut(f *picture.Frame, prior cardPrior) {
	const most = 4 // edges a side
	lo, hi := c.window(true)
	c.inPieces()
	type edge struct {
		at    []float64 // of the side's pieces, px outside the expected outline
		doubt float64   // −2 ln of how likely it is for its strength
	}
	var sides [4]sideStrips
	var edges [4][]edge
	choices := 1
	for k := range sides {
		s := c.strips(f, k, lo, hi, 0.3)
		sides[k] = s
		if len(s.pieces) == 0 {
			continue
		}
		g := s.whole.steepness(nil)
		var tops []int
		for i := 1; i < len(g)-1; i++ {
			if g[i] > g[i-1] && g[i] >= g[i+1] && g[i] >= leastSlope*leastSlope {
				tops = append(tops, i)
			}
		}
		slices.SortFunc(tops, func(i, j int) int { return cmp.Compare(g[j], g[i]) })
		steep := make([][]float64, len(s.pieces))
		for i, st := range s.pieces {
			steep[i] = st.steepness(nil)
		}
		for _, t := range tops[:min(len(tops), most)] {
			e := edge{doubt: math.Log(g[tops[0]] / g[t])}
			for i := range s.pieces {
				// A piece's edge is as far off as the side may be turned.
				from, to := max(t-skew, 0), min(t+skew+1, len(g))
				d := float64(t)
				if at, ok := crest(steep[i][from:to]); ok {
					d = at + float64(from)
				}
				e.at = append(e.at, lo+d*s.whole.step)
			}
			edges[k] = append(edges[k], e)
		}
		choices *= max(1, len(edges[k]))
	}
	best, least := *c, math.Inf(1)
	for n := range choices {
		t := *c
		t.at, t.sigma = make([]measure.Pixel, len(c.at)), make([]float64, len(c.at))
		var cost float64
		for k, rest := 0, n; k < 4; k++ {
			if len(edges[k]) == 0 {
				continue
			}
			e := edges[k][rest%len(edges[k])]
			rest /= len(edges[k])
			for i, d := range e.at {
				t.put(sides[k].index[i], d, 0.3)
			}
			cost += e.doubt
		}
		var ok bool
		if t.cov, t.rms, ok = t.fit(t.places, t.at, t.sigma, prior, fewRounds); !ok {
			continue
		}
		if cost += t.rms * t.rms * float64(len(t.places)); cost < least {
			best, least = t, cost
		}
	}
	*c = best
}

// skew is how far, in half pixels, a piece's edge may lie from its side's in the mean.
const skew = 4

// window is how far inside and outside of the sides their edges are looked at, px.
func (c *cardTrial) window(wide bool) (lo, hi float64) {
	lo, hi = -6.0, math.Max(8, 1.2*c.scale())
	if wide {
		lo, hi = lo-2, hi+2
	}
	if c.room > 0 {
		lo = math.Max(lo, -math.Max(2.5, 0.6*c.room))
	}
	return lo, hi
}

// inPieces takes the sides in pieces of some 10 mm for the places, no edge found yet.
func (c *cardTrial) inPieces() {
	c.places = sidesOnly(cardOutline(id1.A, id1.B, id1.R, 10))
	c.at, c.sigma = make([]measure.Pixel, len(c.places)), make([]float64, len(c.places))
}

// put places the edge d px outside of a place.
func (c *cardTrial) put(i int, d, sigma float64) {
	p, nrm, _ := c.project(c.places[i])
	c.at[i] = measure.Pixel{X: p.X + d*nrm.X, Y: p.Y + d*nrm.Y}
	c.sigma[i] = sigma
}

// sideStrips is what is seen across a side: in the mean, and across its pieces.
type sideStrips struct {
	whole  *strip
	pieces []*strip
	index  []int // of the pieces' places
	ledge  ledge
}

// strips looks across a side from lo to hi px.
func (c *cardTrial) strips(f *picture.Frame, side int, lo, hi, rowsPerPx float64) sideStrips {
	s := sideStrips{whole: newStrip(lo, hi, 0.5)}
	var foot, along float64
	for i, o := range c.places {
		if o.side != side {
			continue
		}
		st := newStrip(lo, hi, 0.5)
		p, nrm, sc := c.project(o)
		rows := int(o.width*c.scale()*rowsPerPx + 1)
		for k := range rows {
			t := ((float64(k)+0.5)/float64(rows) - 0.5) * o.width
			at := c.cam.Project(geom.Vec3{o.x - t*o.ny, o.y + t*o.nx, measure.ID1Thickness})
			if f.Inside(at, hi+2) {
				st.add(f, at, nrm)
			}
		}
		if 2*st.rows < rows {
			continue
		}
		foot += geom.Dot(geom.Minus(c.cam.Project(geom.Vec3{o.x, o.y, 0}), p), nrm)
		along += sc
		s.whole.merge(st)
		s.pieces = append(s.pieces, st)
		s.index = append(s.index, i)
	}
	n := math.Max(1, float64(len(s.pieces)))
	s.ledge = ledge{scale: along / n, thickness: measure.ID1Thickness, rounding: cardRounding}
	s.ledge.slant = -foot / n / (s.ledge.scale * s.ledge.thickness)
	return s
}
