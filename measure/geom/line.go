package geom

import (
	"math"
	"slices"
)

// theilSen fits y = slope·x + level by medians, unmoved by up to 29 % of strays: Theil 1950,
// Sen 1968.
func theilSen(x, y []float64) (slope, level float64) {
	var s []float64
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[j] != x[i] {
				s = append(s, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	slope = Median(s)
	var r []float64
	for i := range x {
		r = append(r, y[i]-slope*x[i])
	}
	return slope, Median(r)
}

// OffLine gives how far each place lies off the line through all of them, and their scatter
// as a standard deviation (1.4826 × the median, for normal errors).
func OffLine(x, y []float64) (res []float64, scatter float64) {
	slope, level := theilSen(x, y)
	for i := range x {
		res = append(res, math.Abs(y[i]-slope*x[i]-level))
	}
	return res, 1.4826 * Median(slices.Clone(res))
}
