package geom

import "math"

// normalTable is the normal distribution function from −6 to 6 in steps of 1/64.
var normalTable = func() (t [12*64 + 2]float64) {
	for i := range t {
		t[i] = 0.5 * math.Erfc(-(float64(i)/64-6)/math.Sqrt2)
	}
	return t
}()

// NormalCDF is the standard normal distribution function, by a table: right to 1e-5.
func NormalCDF(x float64) float64 {
	x = (x + 6) * 64
	if !(x > 0) {
		return 0
	}
	if x >= 12*64 {
		return 1
	}
	i := int(x)
	return normalTable[i] + (x-float64(i))*(normalTable[i+1]-normalTable[i])
}
