package measure

import "math"

// WeightedMean is the mean of estimates weighted by 1/u², its standard uncertainty, the
// chi-square of the estimates about it, and the degrees of freedom. Estimates that were not
// measured are passed over; without any, the mean is the zero Estimate.
func WeightedMean(list ...Estimate) (mean Estimate, chiSquare float64, freedom int) {
	var sw, swx float64
	n := 0
	for _, e := range list {
		if !e.Known() {
			continue
		}
		w := 1 / float64(e.Sigma*e.Sigma)
		sw, swx, n = sw+w, swx+w*float64(e.Value), n+1
	}
	if n == 0 {
		return Estimate{}, 0, 0
	}
	mean = Estimate{Value: Length(swx / sw), Sigma: Length(1 / math.Sqrt(sw))}
	for _, e := range list {
		if e.Known() {
			r := float64((e.Value - mean.Value) / e.Sigma)
			chiSquare += r * r
		}
	}
	return mean, chiSquare, n - 1
}

// BirgeRatio is √(χ²/ν): near 1 where the estimates scatter as their uncertainties say.
func BirgeRatio(chiSquare float64, freedom int) float64 {
	if freedom <= 0 {
		return 0
	}
	return math.Sqrt(chiSquare / float64(freedom))
}

// ZetaScore is the difference of two estimates in combined standard uncertainties
// (ISO 13528): beyond 2 is a warning, beyond 3 calls for action.
func ZetaScore(a, b Estimate) float64 {
	return float64(a.Value-b.Value) / math.Hypot(float64(a.Sigma), float64(b.Sigma))
}
