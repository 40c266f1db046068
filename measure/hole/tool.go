package hole

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure"
	"leafgauge/measure/geom"
)

// The holes of one hinge were made by one tool (punched, countersunk in one stroke), so that
// each of them tells about the others' sizes. toolSpread is how far they truly differ, a
// standard deviation of the radius, mm: by wear and burr, and countersinks by the depth that
// they are cut to, 0.02 mm for every 0.023 of it. It counts as much as three readings; where
// the readings of a hinge agree more closely, its tool did as well.
const toolSpread, toolSpreadReadings = 0.02, 3

// A toolReading is one of several sizes made alike, as read and as the others make it likely, mm.
type toolReading struct {
	value, sigma float64 // as read, with the standard uncertainty of that reading alone

	off    float64 // how far the reading lies off the mean, beyond what it and the tool account for
	best   float64 // with what the others say
	own    float64 // standard uncertainty of best that is this one's alone
	shared float64 // and that which all have together
}

// agree works out what things are that were made alike: readings of a normal population of
// unknown mean, of which some may be grossly wrong. It returns the population's standard deviation. One
// that lies z > 2 of its standard uncertainties from the mean counts as z/2 times as uncertain;
// as either it or what the others say of it may be the truth, half of what lies between the
// two beyond three standard uncertainties stays in doubt.
func agree(all []*toolReading) (spread float64) {
	spread = toolSpread
	if len(all) == 0 {
		return spread
	}
	t := func(a *toolReading) float64 { return a.sigma*a.sigma + spread*spread }
	order := slices.Clone(all)
	slices.SortFunc(order, func(a, b *toolReading) int { return cmp.Compare(a.value, b.value) })
	var half, mean, weight float64
	for _, a := range order {
		half += 0.5 / t(a)
	}
	for _, a := range order {
		if mean = a.value; half <= 1/t(a) {
			break
		}
		half -= 1 / t(a)
	}
	var off []float64
	for _, a := range all {
		off = append(off, math.Abs(a.value-mean))
	}
	n := float64(len(all) - 1)
	seen := math.Min(geom.Median(off)/0.6745, toolSpread)
	spread = math.Sqrt((toolSpreadReadings*toolSpread*toolSpread + n*seen*seen) / (toolSpreadReadings + n))
	apparent := func(a *toolReading) float64 { return math.Max(t(a), (a.value-mean)*(a.value-mean)/4) }
	for range 10 {
		var sum float64
		weight = 0
		for _, a := range all {
			w := 1 / apparent(a)
			sum, weight = sum+w*a.value, weight+w
		}
		mean = sum / weight
	}
	var chi float64
	for _, a := range all {
		chi += (a.value - mean) * (a.value - mean) / apparent(a)
	}
	sigma := math.Sqrt(1/weight) * math.Max(1, measure.BirgeRatio(chi, len(all)-1))
	for _, a := range all {
		v := apparent(a) - spread*spread
		k := spread * spread / (spread*spread + v)
		a.best = mean + k*(a.value-mean)
		a.off = math.Sqrt(math.Max(0, (a.value-mean)*(a.value-mean)-t(a)))
		doubt := math.Max(0, math.Abs(a.value-mean)-3*math.Sqrt(t(a))) / 2
		a.own = math.Sqrt(k*v + doubt*doubt)
		a.shared = (1 - k) * sigma
	}
	return spread
}

// holdToTool looks again at holes whose rims the others' sizes speak against, and holds every
// size against those of the others.
func holdToTool(views []*faceView, seen [][]holeSeen) [][]Fit {
	rims := func() ([][]toolReading, float64) {
		var all []*toolReading
		by := make([][]toolReading, len(seen))
		for i := range seen {
			by[i] = make([]toolReading, len(seen[i]))
			for j, h := range seen[i] {
				by[i][j] = toolReading{value: h.rim, sigma: h.sigma(2)}
				all = append(all, &by[i][j])
			}
		}
		return by, agree(all)
	}
	by, spread := rims()
	for i, w := range views {
		for j := range seen[i] {
			h, a := &seen[i][j], by[i][j]
			if math.Abs(a.value-a.best) < 3*math.Hypot(a.sigma, spread) {
				continue
			}
			s := h.holeShape
			s.rim = a.best
			s = w.settleRim(s, spread).holeShape
			s.bore = h.bore
			s.depth = s.depthExpected(w.thickness)
			if again := w.refineLike(s, a.best, math.Hypot(spread, a.shared)); again.rimSeen > h.rimSeen-seenAsWell {
				w.measureBore(&again)
				*h = again
			}
		}
	}
	by, _ = rims()
	var bores []*toolReading
	byBore := make([][]toolReading, len(seen))
	for i := range seen {
		byBore[i] = make([]toolReading, len(seen[i]))
		for j, h := range seen[i] {
			byBore[i][j] = toolReading{value: h.bore, sigma: math.Hypot(h.sigma(3), boreOwn/2)}
			if h.boreSeen >= boreOpen {
				bores = append(bores, &byBore[i][j])
			}
		}
	}
	agree(bores)
	ragged := raggedness(views, seen)
	fits := make([][]Fit, len(seen))
	for i := range seen {
		for j, h := range seen[i] {
			fits[i] = append(fits[i], h.fit(by[i][j], byBore[i][j], ragged))
		}
	}
	return fits
}

// seenAsWell is the share of a circle by which another may be seen less and be as good: that
// of 36 sectors which show an edge by chance has a standard deviation of 0.08.
const seenAsWell = 0.08

// raggedness is how far the sectors of a picture's rims scatter, mm: the median of the holes', a usual value where
// rims are too faint to tell.
func raggedness(views []*faceView, seen [][]holeSeen) float64 {
	const usual = 0.4 // px
	var all []float64
	for i, w := range views {
		for _, h := range seen[i] {
			if h.scatter > 0 {
				all = append(all, h.scatter)
			} else {
				all = append(all, usual/w.scale(h.u, h.v))
			}
		}
	}
	if len(all) == 0 {
		return 0
	}
	return geom.Median(all)
}

// fit holds the hole's sizes against those of all: the rim's moves its centre along. The rims' sectors scatter
// by ragged, mm.
func (h holeSeen) fit(rim, bore toolReading, ragged float64) Fit {
	move, share := 0., [2]float64{}
	if v := h.cov[2*5+2]; v > 0 {
		move = (rim.best - rim.value) / v
		share = [2]float64{h.cov[0*5+2] / v, h.cov[1*5+2] / v}
	}
	f := Fit{
		FromEdge: h.u + move*h.cov[0*5+2], FromEnd: h.v + move*h.cov[1*5+2],
		Rim: 2 * rim.best, SigmaRim: 2 * rim.own, SharedRim: math.Hypot(2*rim.shared, math.Max(rimChoice, rimCoded*ragged)),
	}
	left := rim.own*rim.own + rim.shared*rim.shared - rim.sigma*rim.sigma // change of the rim's variance
	for k := range 2 {
		// What makes a part of the rim seem to lie further in or out moves the centre as well: for
		// half of the circle by 4/π of what it does to the radius, along one direction of two.
		v := math.Max(h.cov[k*5+k]+left*share[k]*share[k], 0) + 0.8*rim.off*rim.off
		f.SigmaPlace = math.Max(f.SigmaPlace, math.Sqrt(v))
	}
	if f.Filled = h.boreSeen < boreOpen; !f.Filled {
		f.Bore, f.SigmaBore, f.SharedBore = 2*bore.best, 2*bore.own, math.Hypot(2*bore.shared, math.Max(boreChoice, boreCoded*ragged))
	}
	return f
}
