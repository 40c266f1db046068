package geom

import (
	"math"
	"slices"
)

// Median reorders v and returns its middle; NaN for none.
func Median(v []float64) float64 {
	n := len(v)
	switch {
	case n == 0:
		return math.NaN()
	case n%2 == 1:
		return Pick(v, n/2)
	}
	hi := Pick(v, n/2)
	return (slices.Max(v[:n/2]) + hi) / 2
}

// Pick reorders v and returns its k-th smallest value, with no greater one before it (Hoare,
// "Algorithm 65: find", CACM 1961).
func Pick(v []float64, k int) float64 {
	for _, x := range v {
		if math.IsNaN(x) {
			slices.Sort(v)
			return v[k]
		}
	}
	for len(v) > 24 {
		// The middle one of three splits, into what is at most and at least as great.
		a, b, c := v[0], v[len(v)/2], v[len(v)-1]
		split := max(min(a, b), min(max(a, b), c))
		i, j := 0, len(v)-1
		for i <= j {
			for v[i] < split {
				i++
			}
			for v[j] > split {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			v = v[:j+1]
		case k >= i:
			v, k = v[i:], k-i
		default:
			return v[k]
		}
	}
	for i := 1; i < len(v); i++ {
		x, k := v[i], i
		for ; k > 0 && v[k-1] > x; k-- {
			v[k] = v[k-1]
		}
		v[k] = x
	}
	return v[k]
}
