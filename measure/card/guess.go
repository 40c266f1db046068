package card

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/finder"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

const (
	// leastPeak is the least height of a corner's peak that is looked at, mostPeaks how many are.
	leastPeak, mostPeaks = 0.15, 10
	// leastFace is the least share of a shape that must be marked as a card's face.
	leastFace = 0.5
	// leastLikely is the score from which a shape is a card's by its face and corners together, whose three parts
	// are one at the most. Four true corners come to 1.8, what else can be made of them to 1.2.
	leastLikely = 1.5
	// mostGuesses is how many shapes are put to the proof.
	mostGuesses = 4
)

// guesses are the shapes that the finder's corners and faces make, best first. They are
// hypotheses: the edges must prove them.
func guesses(m *finder.Maps, f *picture.Frame, opt measure.Options) []candidate {
	eye := eye{math.Exp(focalPrior(f, opt).LnF), float64(f.W) / 2, float64(f.H) / 2}
	peaks := m.Peaks(finder.CardCorner, leastPeak)
	peaks = peaks[:min(len(peaks), mostPeaks)]
	var out []candidate
	add := func(at [4]measure.Pixel, height float64) {
		if g, ok := newGuess(m, at, height); ok {
			out = append(out, g)
		}
	}
	for a := range peaks {
		for b := range a {
			for c := range b {
				for d := range c {
					add([4]measure.Pixel{peaks[a].At, peaks[b].At, peaks[c].At, peaks[d].At}, (peaks[a].Height+peaks[b].Height+peaks[c].Height+peaks[d].Height)/4)
				}
				// One corner may be hidden, or too faint: the other three of an ID-1 card tell where it is.
				p := [3]finder.Peak{peaks[a], peaks[b], peaks[c]}
				for k := range 3 {
					q, r, s := p[k].At, p[(k+1)%3].At, p[(k+2)%3].At
					for _, fourth := range append(eye.fourth(q, r, s), eye.fourth(q, s, r)...) {
						add([4]measure.Pixel{q, r, s, fourth}, 0.8*(p[0].Height+p[1].Height+p[2].Height)/4)
					}
				}
			}
		}
	}
	return distinct(out, mostGuesses, 0.1, 0)
}

// An eye is a camera's focal length and middle, px.
type eye struct{ f, x, y float64 }

// fourth lists where an ID-1 card's fourth corner may be seen, where q is one with a long side to r and a short one to s.
func (e eye) fourth(q, r, s measure.Pixel) (all []measure.Pixel) {
	ray := func(p measure.Pixel) geom.Vec3 { return geom.Vec3{(p.X - e.x) / e.f, (p.Y - e.y) / e.f, 1} }
	u, v, w := ray(q), ray(r), ray(s)
	// For r so many times as far away as q, how far s is for a right angle, and how much longer than a card's the long side is.
	rectangle := func(far float64) (long, short geom.Vec3, stretch float64) {
		long = v.Mul(far).Sub(u)
		short = w.Mul(u.Dot(long) / w.Dot(long)).Sub(u)
		return long, short, long.Norm()*id1.B - short.Norm()*id1.A
	}
	const least, most, step = 0.7, 1.4, 0.005
	_, _, last := rectangle(least)
	for far := least + step; far < most; far += step {
		_, _, next := rectangle(far)
		long, short, _ := rectangle(far - step*next/(next-last))
		if p := u.Add(long).Add(short); last*next < 0 && p[2] > 0.5 && math.Abs(last) < 1 && math.Abs(next) < 1 {
			all = append(all, measure.Pixel{X: e.x + e.f*p[0]/p[2], Y: e.y + e.f*p[1]/p[2]})
		}
		last = next
	}
	return all
}

// newGuess makes a shape of four corners in any order, if they are those of a card.
func newGuess(m *finder.Maps, at [4]measure.Pixel, height float64) (candidate, bool) {
	var mid measure.Pixel
	for _, p := range at {
		mid.X, mid.Y = mid.X+p.X/4, mid.Y+p.Y/4
	}
	slices.SortFunc(at[:], func(p, q measure.Pixel) int {
		return cmp.Compare(math.Atan2(p.Y-mid.Y, p.X-mid.X), math.Atan2(q.Y-mid.Y, q.X-mid.X))
	})
	var side [4]float64
	for k := range 4 {
		p, q, r := at[k], at[(k+1)%4], at[(k+2)%4]
		side[k] = geom.Distance(p, q)
		if geom.Cross2(geom.Minus(q, p), geom.Minus(r, q)) < 0.5*side[k]*geom.Distance(q, r) { // no corner is below 30° or above 150°
			return candidate{}, false
		}
	}
	if side[0]+side[2] < side[1]+side[3] {
		at = [4]measure.Pixel{at[1], at[2], at[3], at[0]}
		side = [4]float64{side[1], side[2], side[3], side[0]}
	}
	ratio := func(a, b float64) float64 { return math.Max(a, b) / math.Min(a, b) }
	if ratio(side[0], side[2]) > 1.5 || ratio(side[1], side[3]) > 1.5 || ratio(side[0]+side[2], side[1]+side[3]) > 2.2 {
		return candidate{}, false
	}
	g := candidate{corners: at, score: height}
	g.faced(m)
	if g.score < height+leastFace/2 {
		return candidate{}, false
	}
	g.turnClockwise()
	return g, true
}

// faced says what a shape is by its face: the finder must mark its inside as a card's, and what lies round it not.
func (c *candidate) faced(m *finder.Maps) {
	face := func(ch finder.Channel, scale float64) (sum float64) {
		const across = 7
		count := 0.0
		for i := range across {
			for j := range across {
				u, v := scale*((float64(i)+0.5)*2/across-1), scale*((float64(j)+0.5)*2/across-1)
				if scale > 1 && math.Max(math.Abs(u), math.Abs(v)) < 1.08 {
					continue // a ring
				}
				p := geom.Between(geom.Between(c.corners[0], c.corners[1], (1+u)/2), geom.Between(c.corners[3], c.corners[2], (1+u)/2), (1+v)/2)
				if v, ok := m.At(ch, p); ok {
					sum, count = sum+v, count+1
				}
			}
		}
		return sum / math.Max(count, 1)
	}
	own, other := face(finder.Card, 1), face(finder.OtherCard, 1)
	around := face(finder.Card, 1.25) + face(finder.OtherCard, 1.25)
	inside := math.Min(own+other, 1)
	if inside < leastFace || around > 0.6*inside {
		return
	}
	c.score += inside - around
	c.likely, c.other = c.score > leastLikely, own < other
}
