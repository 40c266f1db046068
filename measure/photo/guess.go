package photo

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/card"
	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/locate"
)

const (
	leastPinPeak, leastCornerPeak = 0.12, 0.12
	mostPinEnds                   = 8
	// Heights above the table of what the finder's points lie on, mm: the top of a barrel, a leaf's face.
	pinEndHeight, leafHeight = 11.0, 2.5
	// usualPin is a barrel's diameter before it is measured, mm.
	usualPin = 11.5
	// Hinges are as long as this, mm.
	leastHeight, mostHeight = 30.0, 210.0
	leastAlong              = 0.5 // share of the axis that must be marked as leaf or barrel
	mostGuesses             = 3
	// What a point that the finder is sure of counts, as mm² of leaf, and how far off it counts, mm.
	pointWorth, pointSpread = 150.0, 3.0
	leastPoint              = 0.25 // how sure it must be of one that should be there
)

// A leafMap is what the finder sees about a place on the level of the leaves' faces, from straight above.
type leafMap struct {
	x0, y0        float64
	n             int
	leaf          []float32   // cells of leafCell mm: how likely leaf, less a half
	corners, pins []pointSeen // the leaves' corners on their level, the pin's ends on its own
}

type pointSeen struct{ x, y, height float64 }

const leafCell = 1.0 // mm

func newLeafMap(m *finder.Maps, cam *geom.Camera, x, y, half float64) *leafMap {
	l := &leafMap{x0: x - half, y0: y - half, n: int(2*half/leafCell) + 1}
	l.leaf = make([]float32, l.n*l.n)
	for j := range l.n {
		for i := range l.n {
			v, _ := m.Smooth(finder.Leaf, cam.Project(geom.Vec3{l.x0 + float64(i)*leafCell, l.y0 + float64(j)*leafCell, leafHeight}))
			l.leaf[j*l.n+i] = float32(v - 0.5)
		}
	}
	at := func(peaks []finder.Peak, height float64) (out []pointSeen) {
		for _, q := range peaks {
			w := cam.Onto(q.At, geom.Level(height))
			out = append(out, pointSeen{w[0], w[1], q.Height})
		}
		return out
	}
	l.corners, l.pins = at(m.Peaks(finder.LeafCorner, leastCornerPeak), leafHeight), at(m.Peaks(finder.PinEnd, leastPinPeak), pinEndHeight)
	return l
}

// worth is how much of what the finder sees a hinge explains, mm² of leaf: what is marked within its leaves, less what
// isn't, and the points where its corners and its pin's ends are.
func (l *leafMap) worth(h *locate.Hinge) float64 {
	s, c := math.Sincos(h.Phi)
	at := func(t, u float64) (x, y float64) { return h.Cx + t*c - u*s, h.Cy + t*s + u*c }
	const step = 2.0 // mm
	// A single leaf has its knuckles beyond the axis.
	u0, u1 := -math.Max(h.Width[1], usualPin/2), math.Max(h.Width[0], usualPin/2)
	rows, cols := math.Ceil(h.Height/step), math.Ceil((u1-u0)/step)
	a, b := h.Height/rows, (u1-u0)/cols
	sum := 0.0
	for j := 0.5; j < cols; j++ {
		for i := 0.5; i < rows; i++ {
			x, y := at(i*a-h.Height/2, u0+j*b)
			p, q := int((x-l.x0)/leafCell+0.5), int((y-l.y0)/leafCell+0.5)
			v := float32(-0.5)
			if p >= 0 && q >= 0 && p < l.n && q < l.n {
				v = l.leaf[q*l.n+p]
			}
			sum += float64(v)
		}
	}
	sum *= a * b
	point := func(of []pointSeen, t, u float64) {
		x, y := at(t, u)
		best := 0.0
		for _, q := range of {
			dx, dy := q.x-x, q.y-y
			best = math.Max(best, q.height*math.Exp(-(dx*dx+dy*dy)/(2*pointSpread*pointSpread)))
		}
		sum += pointWorth * (best - leastPoint)
	}
	for _, t := range [2]float64{-h.Height / 2, h.Height / 2} {
		point(l.pins, t, 0)
		for side, sign := range [2]float64{1, -1} {
			if w := h.Width[side]; w > 0 {
				point(l.corners, t, sign*w)
			}
		}
	}
	return sum
}

// plainly reports whether the finder sees most of a guessed hinge.
func plainly(h locate.Hinge) bool {
	const least = 0.5 // of what a hinge is worth of which all is seen
	return h.Score > least*h.Height*(h.Width[0]+h.Width[1])/2
}

// fit moves a hinge to where it explains most: its middle, direction, height and width in ever smaller steps. Two
// leaves are of one width.
func (l *leafMap) fit(h locate.Hinge) locate.Hinge {
	h.Score = l.worth(&h)
	for step := 6.0; step > 0.3; step /= 2 {
		for moved := true; moved; {
			moved = false
			for k := range 7 {
				for _, d := range [2]float64{step, -step} {
					n := h
					s, c := math.Sincos(h.Phi)
					along := func(d float64) { n.Cx, n.Cy = n.Cx+d*c, n.Cy+d*s }
					switch k {
					case 0:
						along(d)
					case 1:
						n.Cx, n.Cy = n.Cx-d*s, n.Cy+d*c
					case 2:
						n.Phi += d / h.Height
					case 3, 4: // one end
						n.Height += d
						along(d / 2 * float64(2*k-7))
					default: // one outer edge, the other too where there are two
						side := k - 5
						if n.Width[side] == 0 {
							continue
						}
						n.Width[side] += d
						if n.Width[1-side] > 0 {
							// The axis stays midway.
							n.Width[side] -= d / 2
							n.Width[1-side] += d / 2
							e := d / 2 * float64(1-2*side)
							n.Cx, n.Cy = n.Cx-e*s, n.Cy+e*c
						}
					}
					if n.Height < leastHeight || n.Height > mostHeight || !leafLike(n) {
						continue
					}
					if n.Score = l.worth(&n); n.Score > h.Score+1e-6 {
						h, moved = n, true
					}
				}
			}
		}
	}
	return h
}

// leafLike reports whether the leaves are as wide for their height as those of butt hinges are, with some to spare
// (common practice, no source).
func leafLike(h locate.Hinge) bool {
	const least, most = 0.18, 0.85
	for _, w := range h.Width {
		if w > 0 && (w < least*h.Height || w > most*h.Height) {
			return false
		}
	}
	return true
}

// likeliest is the best of a hinge of two leaves and of one to either side, about an axis.
func (l *leafMap) likeliest(h locate.Hinge) (best locate.Hinge) {
	for _, leaves := range [3][2]float64{{1, 1}, {1, 0}, {0, 1}} {
		var start locate.Hinge
		for _, wide := range []float64{0.3, 0.45, 0.6, 0.75} {
			n := h
			n.Width = [2]float64{wide * leaves[0] * h.Height, wide * leaves[1] * h.Height}
			if n.Score = l.worth(&n); n.Score > start.Score {
				start = n
			}
		}
		if start.Score > 0 {
			if start = l.fit(start); start.Score > best.Score {
				best = start
			}
		}
	}
	return best
}

// halved are the pairs of leaves that may fill the same face, its axis along either side.
func halved(h locate.Hinge) (out []locate.Hinge) {
	n := h
	n.Cx, n.Cy = h.Middle()
	u := h.Width[0] + h.Width[1]
	n.Width = [2]float64{u / 2, u / 2}
	if h.Width[0] == 0 || h.Width[1] == 0 {
		out = append(out, n)
	}
	n.Phi += math.Pi / 2
	n.Height, n.Width = u, [2]float64{h.Height / 2, h.Height / 2}
	return slices.DeleteFunc(append(out, n), func(h locate.Hinge) bool { return !leafLike(h) })
}

// guesses are hinges by the finder's pin ends, leaf corners and leaf faces, best first: hypotheses, whose
// edges must be found.
func guesses(m *finder.Maps, c card.Fit) []locate.Hinge {
	pins := m.Peaks(finder.PinEnd, leastPinPeak)
	pins = pins[:min(len(pins), mostPinEnds)]
	onto := func(p measure.Pixel) geom.Vec3 { return c.Cam.Onto(p, geom.Level(pinEndHeight)) }
	var starts []locate.Hinge
	for i, a := range pins {
		for _, b := range pins[:i] {
			pa := onto(a.At)
			along := onto(b.At).Sub(pa)
			height := along.Norm()
			if !(height > leastHeight && height < mostHeight) {
				continue
			}
			const places = 15
			on := 0.0
			for k := range places {
				if v, _ := m.At(finder.Leaf, c.Cam.Project(pa.Add(along.Mul((float64(k)+0.5)/places)))); v > 0.5 {
					on++
				}
			}
			if on < leastAlong*places {
				continue
			}
			mid := pa.Add(along.Mul(0.5))
			starts = append(starts, locate.Hinge{Cx: mid[0], Cy: mid[1], Phi: math.Atan2(along[1], along[0]), Height: height, Barrel: usualPin,
				Score: (a.Height + b.Height) / 2 * on / places})
		}
	}
	byScore := func(a, b locate.Hinge) int { return cmp.Compare(b.Score, a.Score) }
	slices.SortStableFunc(starts, byScore)
	var out []locate.Hinge
	for _, h := range starts[:min(len(starts), mostGuesses)] {
		l := newLeafMap(m, &c.Cam, h.Cx, h.Cy, mostHeight/2+20)
		best := l.likeliest(h)
		if best.Score == 0 {
			continue
		}
		for _, n := range halved(best) {
			if n = l.fit(n); n.Score > best.Score {
				best = n
			}
		}
		if !alike(out, best) {
			out = append(out, best)
		}
	}
	slices.SortStableFunc(out, byScore)
	return out
}
