package photo

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/hole"
	"leafgauge/measure/picture"
)

// hinge measures the holes and the barrel on the fitted hinge and puts everything together,
// with the covariance of all lengths.
func (h *hingeFit) hinge(f *picture.Frame) measure.Hinge {
	cam := h.camera(h.p)
	faces := h.faces()
	holes := h.holes
	out := measure.Hinge{Pattern: hole.Pattern(holes, h.p[pWidth0], h.p[pHeight])}
	out.Knuckles, out.Bearing = h.knuckles(f)
	out.FinishHint = finishHint(f, &cam, faces, h.p[pBarrel], h.card.White)

	acc := newLengths(h)
	acc.param("height", &out.Height, pHeight)
	if len(faces) == 2 {
		acc.sum("open_width", &out.OpenWidth, pWidth0, pWidth1)
	}
	acc.param("barrel_diameter", &out.BarrelDiameter, pBarrel)
	out.Leaves = make([]measure.Leaf, len(faces))
	for i, face := range faces {
		leaf := &out.Leaves[i]
		l := i // the fit's number of the leaf
		if !h.leaves[0] {
			l = 1
		}
		name := fmt.Sprintf("leaf.%d.", i)
		acc.param(measure.Key(name+"leaf_width"), &leaf.Width, pWidth0+l)
		leaf.Corners = h.corners(l)
		leaf.OutlinePx = outlineOf(&cam, face)
		if seen := h.cornersSeen(l); len(seen) > 0 {
			acc.mean(measure.Key(name+"corner_radius"), &leaf.CornerRadius, pRadius0+seen[0], pRadius0+seen[len(seen)-1])
		}
		slices.SortFunc(holes[i], func(a, b hole.Fit) int { return cmp.Compare(a.FromEnd, b.FromEnd) })
		leaf.Holes = make([]measure.Hole, len(holes[i]))
		for k, m := range holes[i] {
			hole := &leaf.Holes[k]
			hole.CentrePx = cam.Project(face.At(m.FromEdge, m.FromEnd))
			hole.Filled = m.Filled
			base := measure.Key(fmt.Sprintf("%shole.%d.", name, k))
			acc.place(base, hole, l, m)
		}
	}
	out.Covariance = acc.covariance()
	width := out.OpenWidth
	if len(faces) == 1 {
		width = measure.Estimate{Value: 2 * out.Leaves[0].Width.Value, Sigma: 2 * out.Leaves[0].Width.Sigma}
	}
	out.Nominal = measure.NearestTradeSize(out.Height, width)
	return out
}

// faces gives the faces of the leaves that are there.
func (h *hingeFit) faces() []geom.Face {
	var faces []geom.Face
	for l, there := range h.leaves {
		if there {
			faces = append(faces, h.face(h.p, l))
		}
	}
	return faces
}

// knuckles counts the knuckles and says what lies between them, once for a fit.
func (h *hingeFit) knuckles(f *picture.Frame) (int, measure.Bearing) {
	if !h.described {
		cam := h.camera(h.p)
		h.count, h.bearing, _ = describeBarrel(f, &cam, h.faces(), h.p[pBarrel])
		h.described = true
	}
	return h.count, h.bearing
}

// mostRadiusSigma is from where on a corner's radius is not seen, mm: half of the step from square to 1/4 in.
const mostRadiusSigma = 3.0

// cornersSeen lists those of a leaf's two outer corners that were seen to be square or of some radius, as the
// radii are numbered.
func (h *hingeFit) cornersSeen(leaf int) (seen []int) {
	for k := 2 * leaf; k < 2*leaf+2; k++ {
		if h.radius0[k] == 0 || h.sigma(pRadius0+k) < mostRadiusSigma {
			seen = append(seen, k)
		}
	}
	return seen
}

// corners classes a leaf's two outer corners. One that was not seen is as the other: they are cut alike
// (common practice, no source).
func (h *hingeFit) corners(leaf int) measure.Corners {
	class := func(k int) measure.Corners {
		r := h.p[pRadius0+k]
		u := math.Hypot(h.sigma(pRadius0+k), 0.35)
		switch {
		case h.radius0[k] == 0 || r < leastRadius:
			return measure.CornersSquare
		case math.Abs(r-0.25*25.4) < math.Max(3*u, 1):
			return measure.CornersQuarter
		case math.Abs(r-0.625*25.4) < math.Max(3*u, 1.5):
			return measure.CornersFiveEighths
		}
		return measure.CornersOther
	}
	seen := h.cornersSeen(leaf)
	switch {
	case len(seen) == 0:
		return measure.CornersNotDecidable
	case class(seen[0]) != class(seen[len(seen)-1]):
		return measure.CornersMixed
	}
	return class(seen[0])
}

func (h *hingeFit) sigma(k int) float64 { return math.Sqrt(h.cov[k*pCount+k]) }

// outlineOf gives the picture of a face's outline: outer edge, corners, ends.
func outlineOf(cam *geom.Camera, l geom.Face) []measure.Pixel {
	var px []measure.Pixel
	add := func(a, b float64) { px = append(px, cam.Project(l.At(a, b))) }
	arc := func(r, cb, from, to float64) {
		for k := range 9 {
			s, c := math.Sincos(from + (to-from)*float64(k)/8)
			add(r-r*c, cb+r*s)
		}
	}
	add(l.Width, 0)
	if l.Radius[0] < 0.3 {
		add(0, 0)
	} else {
		arc(l.Radius[0], l.Radius[0], -math.Pi/2, 0)
	}
	if l.Radius[1] < 0.3 {
		add(0, l.Height)
	} else {
		arc(l.Radius[1], l.Height-l.Radius[1], 0, math.Pi/2)
	}
	add(l.Width, l.Height)
	return px
}

// lengths gathers what is reported, each a function of the fit's parameters, with the
// derivatives that carry the fit's covariance over.
type lengths struct {
	h    *hingeFit
	keys []measure.Key
	jac  [][]float64 // by length, by parameter
	own  []float64   // variance of each length's own, mm²
	to   []*measure.Estimate

	shared [][sharedCount]float64 // by length: what it has of an error that others have too, mm
}

// What errors beside the fit's several lengths have in common.
const (
	rimShared = iota
	boreShared
	sharedCount
)

func newLengths(h *hingeFit) *lengths { return &lengths{h: h} }

func (a *lengths) add(k measure.Key, e *measure.Estimate, value float64, grad []float64, own float64) {
	e.Value = measure.Length(value)
	a.keys, a.jac, a.own, a.to = append(a.keys, k), append(a.jac, grad), append(a.own, own), append(a.to, e)
	a.shared = append(a.shared, [sharedCount]float64{})
}

// share says that the length added last has an error of standard uncertainty u, mm, in common
// with others.
func (a *lengths) share(what int, u float64) { a.shared[len(a.shared)-1][what] = u }

func (a *lengths) combine(k measure.Key, e *measure.Estimate, weight float64, params []int) {
	grad := make([]float64, pCount)
	v := 0.0
	for _, p := range params {
		grad[p] = weight
		v += weight * a.h.p[p]
	}
	a.add(k, e, v, grad, 0)
}

func (a *lengths) param(k measure.Key, e *measure.Estimate, p int)  { a.combine(k, e, 1, []int{p}) }
func (a *lengths) sum(k measure.Key, e *measure.Estimate, p ...int) { a.combine(k, e, 1, p) }
func (a *lengths) mean(k measure.Key, e *measure.Estimate, p, q int) {
	a.combine(k, e, 0.5, []int{p, q})
}

// place adds a hole: its place follows camera and face, its diameters their scale.
func (a *lengths) place(base measure.Key, hole *measure.Hole, leaf int, m hole.Fit) {
	h := a.h
	cam := h.camera(h.p)
	face := h.face(h.p, leaf)
	centre := cam.Project(face.At(m.FromEdge, m.FromEnd))
	ge, gf, gs := make([]float64, pCount), make([]float64, pCount), make([]float64, pCount)
	p := slices.Clone(h.p)
	scale := cam.PxPerMM(face.At(m.FromEdge, m.FromEnd))
	for k := range pCount {
		if k >= pCardLong || (k >= pRadius0 && k <= pRadius3) {
			continue
		}
		p[k] += hingeSteps[k]
		c, l := h.camera(p), h.face(p, leaf)
		e, n := l.Place(&c, centre)
		ge[k] = (e - m.FromEdge) / hingeSteps[k]
		gf[k] = (n - m.FromEnd) / hingeSteps[k]
		gs[k] = (scale/c.PxPerMM(l.At(e, n)) - 1) / hingeSteps[k] // relative size of what is seen
		p[k] = h.p[k]
	}
	own := m.SigmaPlace * m.SigmaPlace
	a.add(base+"from_edge", &hole.FromEdge, m.FromEdge, ge, own)
	a.add(base+"from_end", &hole.FromEnd, m.FromEnd, gf, own)
	times := func(d float64) []float64 {
		g := make([]float64, pCount)
		for k := range g {
			g[k] = gs[k] * d
		}
		return g
	}
	if m.Bore > 0 {
		a.add(base+"diameter", &hole.Diameter, m.Bore, times(m.Bore), m.SigmaBore*m.SigmaBore)
		a.share(boreShared, m.SharedBore)
	}
	if m.Rim > 0 {
		a.add(base+"countersink", &hole.Countersink, m.Rim, times(m.Rim), m.SigmaRim*m.SigmaRim)
		a.share(rimShared, m.SharedRim)
	}
}

// covariance propagates the fit's covariance to every length gathered (JCGM 100, 5.2.2)
// and writes the standard uncertainties.
func (a *lengths) covariance() *measure.Covariance {
	n := len(a.keys)
	half := make([][]float64, n) // jac · cov
	for i, g := range a.jac {
		half[i] = make([]float64, pCount)
		for k, v := range g {
			if v == 0 {
				continue
			}
			row := a.h.cov[k*pCount : (k+1)*pCount]
			for c := range row {
				half[i][c] += v * row[c]
			}
		}
	}
	out := &measure.Covariance{Keys: a.keys, MM2: make([][]float64, n)}
	for i := range n {
		out.MM2[i] = make([]float64, n)
		for j := range n {
			for k, v := range a.jac[j] {
				if v != 0 {
					out.MM2[i][j] += half[i][k] * v
				}
			}
			for k, v := range a.shared[j] {
				out.MM2[i][j] += a.shared[i][k] * v
			}
		}
		out.MM2[i][i] += a.own[i]
	}
	// The scale of a print is every length's alike.
	rel := a.h.card.Print.Sigma
	for i := range n {
		for j := range n {
			out.MM2[i][j] += rel * rel * a.to[i].Value.MM() * a.to[j].Value.MM()
		}
		a.to[i].Sigma = measure.Length(math.Sqrt(math.Max(out.MM2[i][i], 1e-8)))
	}
	return out
}
