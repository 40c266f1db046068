package picture

import "math"

// linear maps an 8-bit sRGB value to linear light, 0…1 (IEC 61966-2-1).
var linear = func() (t [256]float32) {
	for i := range t {
		v := float64(i) / 255
		if v <= 0.04045 {
			t[i] = float32(v / 12.92)
		} else {
			t[i] = float32(math.Pow((v+0.055)/1.055, 2.4))
		}
	}
	return t
}()

// Linear is linear for a value between steps.
func Linear(v float64) float64 {
	if v <= 0 {
		return 0
	}
	if v >= 255 {
		return 1
	}
	i := int(v)
	f := v - float64(i)
	if i == 255 {
		return 1
	}
	return float64(linear[i])*(1-f) + float64(linear[i+1])*f
}

// codeTable is sRGB's coding of linear light 0…1 to 0…255 in steps of 1/4096 (IEC 61966-2-1).
var codeTable = func() (t [4098]float64) {
	for i := range t {
		v := float64(i) / 4096
		if v <= 0.0031308 {
			t[i] = 255 * 12.92 * v
		} else {
			t[i] = 255 * (1.055*math.Pow(v, 1/2.4) - 0.055)
		}
	}
	return t
}()

// CodedSlope gives the code of linear light and how fast it grows with that.
func CodedSlope(v float64) (code, slope float64) {
	v *= 4096
	if !(v > 0) {
		return 0, 0
	}
	if v >= 4096 {
		return 255, 0
	}
	i := int(v)
	d := codeTable[i+1] - codeTable[i]
	return codeTable[i] + (v-float64(i))*d, 4096 * d
}
