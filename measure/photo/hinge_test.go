package photo

import (
	"math"
	"math/rand/v2"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/card"
	"leafgauge/measure/geom"
	"leafgauge/measure/locate"

	"github.com/stretchr/testify/require"
)

// A drawnFit draws what the joint fit is given, straight from its own model: points of the
// outlines of hinge, barrel and card in the picture.
type drawnFit struct {
	rnd *rand.Rand
	cam geom.Camera // before it is moved
	r   locate.Hinge
	u35 float64 // relative standard uncertainty of the focal length
}

// The doubts about a card's size and sides, mm, as large as an ID-1 card's are.
const longSigma, shortSigma, sideBias = 0.05, 0.02, 0.005

// truth draws a hinge, a card and a camera as the priors have them.
func (d drawnFit) truth() []float64 {
	n := d.rnd.NormFloat64
	p := make([]float64, pCount)
	p[pX], p[pY], p[pPhi] = d.r.Cx, d.r.Cy, d.r.Phi
	p[pHeight] = d.r.Height + 0.3*n()
	p[pWidth0] = d.r.Width[0] + 0.3*n()
	p[pWidth1] = p[pWidth0] - widthsAgree*n()
	p[pShift] = endsAgree * n()
	p[pGap] = swageGap + swageSigma*n()
	for { // two priors on the barrel and one on the leaf, by rejection
		p[pThick] = thickMean + thickSigma*n()
		p[pBarrel] = 2*p[pThick] + pinDiameter + pinSigma*n()
		if d.rnd.Float64() < math.Exp(-math.Pow(p[pBarrel]-11.5, 2)/18) && p[pThick] > 1 {
			break
		}
	}
	for k := pRadius0; k <= pRadius3; k++ {
		p[k] = 6.35 + 0.2*n()
	}
	corner := math.Hypot(d.cam.Cx, d.cam.Cy) / d.cam.F
	p[pFocal], p[pK1] = d.u35*n(), cornerSigma/(corner*corner)*n()
	p[pCardLong], p[pCardShort] = longSigma*n(), shortSigma*n()
	p[pLook] = n()
	p[pTilt0], p[pTilt1] = restsWithin/p[pWidth0]*n(), restsWithin/p[pWidth1]*n()
	for k := pBias0; k <= pBias5; k++ {
		p[k] = edgeBias * n()
	}
	for k := pCardBias0; k <= pCardBias3; k++ {
		p[k] = sideBias * n()
	}
	return p
}

// picture gives the fit of a hinge p with its points moved by noise times their sigma.
func (d drawnFit) picture(p []float64, noise float64) *hingeFit {
	h := newHingeFit(card.Fit{Cam: d.cam, Lens: card.Lens{LnF: math.Log(d.cam.F), SigmaLnF: d.u35}, Height: measure.ID1Thickness,
		Shape: card.Shape{A: measure.ID1Long / 2, B: measure.ID1Short / 2, R: measure.ID1Radius}, LongSigma: longSigma, ShortSigma: shortSigma, Bias: sideBias}, d.r, measure.Options{})
	for k := range h.radius0 {
		h.radius0[k], h.p[pRadius0+k] = 6.35, 6.35
	}
	for k := range h.edgesShare {
		h.edgesShare[k] = 0.02 + 0.01*float64(k%3)
	}
	cam := h.camera(p)
	eye := cam.Eye()
	n := func() float64 { return noise * d.rnd.NormFloat64() }
	for leaf := range 2 {
		l := h.face(p, leaf)
		point := func(kind int, a, b, na, nb float64) {
			const sigma = 0.04 // mm
			out := sigma * n()
			if kind < 3 {
				out += p[pBias0+3*leaf+kind] + p[pLook]*h.edgesShare[3*leaf+kind]
			} else {
				out += p[pLook] * h.edgesShare[3*leaf]
			}
			x := l.At(a+na*out, b+nb*out)
			h.outline = append(h.outline, outlinePoint{at: cam.Project(x), leaf: leaf, kind: kind, sigma: sigma})
		}
		inner := l.Width - p[pBarrel]/2 - 2.5
		for i := range 12 {
			t := (float64(i) + 0.5) / 12
			point(0, 0, 8+t*(l.Height-16), -1, 0)
			point(1, 8+t*(inner-8), 0, 0, -1)
			point(2, 8+t*(inner-8), l.Height, 0, 1)
		}
		for i := range 7 {
			s, c := math.Sincos((float64(i) + 0.5) / 7 * math.Pi / 2)
			r := l.Radius[0]
			point(3, r-r*c, r-r*s, -c, -s)
			r = l.Radius[1]
			point(4, r-r*c, l.Height-r+r*s, -c, s)
		}
		// The line of sight touches the barrel where the radius is square to it.
		s, c := math.Sincos(p[pPhi])
		v, out := geom.Vec3{c, s, 0}, geom.Vec3{-s, c, 0}
		if leaf == 1 {
			out = out.Mul(-1)
		}
		r := p[pBarrel] / 2
		axis := geom.Vec3{p[pX], p[pY], r}
		e := eye.Sub(axis)
		across := math.Hypot(e.Dot(out), e[2])
		for i := range 12 {
			const sigma = 0.06 // mm
			q := r + sigma*n()
			turn := math.Atan2(e.Dot(out), e[2]) + math.Acos(q/across)
			st, ct := math.Sincos(turn)
			x := axis.Add(v.Mul((float64(i) - 5.5) / 12 * p[pHeight])).Add(out.Mul(q * st)).Add(geom.Vec3{0, 0, q * ct})
			h.barrel = append(h.barrel, barrelPoint{at: cam.Project(x), leaf: leaf, sigma: sigma})
		}
	}
	a, b, r := (measure.ID1Long+p[pCardLong])/2, (measure.ID1Short+p[pCardShort])/2, measure.ID1Radius
	cardPoint := func(x, y, nx, ny float64, straight bool) {
		const sigma = 0.25 // px
		out := sigma * n() / cam.PxPerMM(geom.Vec3{x, y, measure.ID1Thickness})
		if straight {
			out += p[pCardBias0+card.Side(x, y, a, b)]
		}
		h.card.Points = append(h.card.Points, card.OutlinePoint{At: cam.Project(geom.Vec3{x + nx*out, y + ny*out, measure.ID1Thickness}), Sigma: sigma})
	}
	for _, s := range []float64{-1, 1} {
		for i := range 16 {
			cardPoint((a-r-0.4)*(float64(2*i+1)/16-1), s*b, 0, s, true)
		}
		for i := range 9 {
			cardPoint(s*a, (b-r-0.4)*(float64(2*i+1)/9-1), s, 0, true)
		}
		for _, q := range []float64{-1, 1} {
			for _, turn := range []float64{0.4, 1.2} {
				sn, cs := math.Sincos(turn)
				cardPoint(s*(a-r+r*cs), q*(b-r+r*sn), s*cs, q*sn, false)
			}
		}
	}
	return h
}

func newDrawnFit(seed uint64) drawnFit {
	return drawnFit{
		rnd: rand.New(rand.NewPCG(seed, 1)),
		cam: scene.LookAt(2592, 1944, 26, 9, 14, 40, 5, 10, 35),
		r:   locate.Hinge{Cx: -8, Cy: 85, Phi: 0.1, Height: 88.9, Width: [2]float64{44.5, 44.5}, Barrel: 11.7},
		u35: 0.012,
	}
}

// Without noise and with everything as expected, the fit finds what was drawn, and its own
// outlines leave nothing over.
func TestHingeFitOfItsOwnOutline(t *testing.T) {
	d := newDrawnFit(1)
	for range 5 {
		p := d.truth()
		// What the outline cannot tell stays where the priors have it.
		for _, k := range []int{pFocal, pK1, pTilt0, pTilt1, pLook, pCardLong, pCardShort, pBias0, pBias1, pBias2, pBias3, pBias4, pBias5,
			pCardBias0, pCardBias1, pCardBias2, pCardBias3, pShift} {
			p[k] = 0
		}
		p[pWidth1], p[pGap], p[pThick], p[pBarrel] = p[pWidth0], swageGap, thickMean, 2*thickMean+pinDiameter
		h := d.picture(p, 0)
		for _, v := range h.residuals(p, nil, new(sightLines))[:len(h.outline)+len(h.barrel)+len(h.card.Points)] {
			require.InDelta(t, 0, v, 1e-3, "of a point's standard uncertainty")
		}
		require.True(t, h.solve(40))
		for _, k := range []int{pHeight, pWidth0, pWidth1, pBarrel, pRadius0, pRadius1, pRadius2, pRadius3} {
			require.InDelta(t, p[k], h.p[k], 0.05*h.sigma(k), "parameter %d", k)
		}
	}
}

// The covariance of the fit (JCGM 100) against the spread of its errors when everything that
// it takes for uncertain is drawn at random: edge points, the hinge, the card, lens and edges'
// looks, by their priors (Monte Carlo, JCGM 101).
func TestCovarianceAgainstMonteCarlo(t *testing.T) {
	const trials = 300
	d := newDrawnFit(2)
	type sums struct{ err2, u2, out float64 }
	names := []string{"height", "open width", "width", "barrel", "radius", "height less open width"}
	got := make([]sums, len(names))
	for range trials {
		p := d.truth()
		h := d.picture(p, 1)
		require.True(t, h.solve(30))
		for i, c := range []map[int]float64{
			{pHeight: 1}, {pWidth0: 1, pWidth1: 1}, {pWidth0: 1}, {pBarrel: 1}, {pRadius0: 1}, {pHeight: 1, pWidth0: -1, pWidth1: -1},
		} {
			var e, u2 float64
			for k, v := range c {
				e += v * (h.p[k] - p[k])
				for l, w := range c {
					u2 += v * w * h.cov[k*pCount+l]
				}
			}
			got[i].err2 += e * e / trials
			got[i].u2 += u2 / trials
			if e*e > 1.96*1.96*u2 {
				got[i].out += 1.0 / trials
			}
		}
	}
	for i, g := range got {
		t.Logf("%-22s spread %.4f mm, covariance %.4f mm, ratio %.3f, %.1f %% beyond 1.96 u",
			names[i], math.Sqrt(g.err2), math.Sqrt(g.u2), math.Sqrt(g.err2/g.u2), 100*g.out)
		// The spread of 300 errors is itself known to 1/√600 = 4 %: three and a half of that, and
		// the share beyond 95 % to 1.3 %.
		require.InDelta(t, 1, math.Sqrt(g.err2/g.u2), 0.15, names[i])
		require.InDelta(t, 0.05, g.out, 0.045, names[i])
	}
}

// A leaf that does not rest on the table, as of a hinge that is stiff, is measured along the metal all the same,
// and the others are none the worse for it.
func TestRaisedLeaf(t *testing.T) {
	d := newDrawnFit(3)
	for _, deg := range []float64{0, 3, 6, 12} {
		for range 5 {
			p := d.truth()
			p[pTilt1] = deg * math.Pi / 180
			h := d.picture(p, 1)
			require.True(t, h.solve(40))
			if deg > 3 {
				require.InDelta(t, p[pTilt1], h.p[pTilt1], 4*h.sigma(pTilt1), "%g°", deg)
			}
			for _, k := range []int{pHeight, pWidth0, pWidth1} {
				require.InDelta(t, p[k], h.p[k], 4*h.sigma(k), "parameter %d, raised by %g°", k, deg)
				require.Less(t, h.sigma(k), 0.4, "mm")
			}
		}
	}
}
