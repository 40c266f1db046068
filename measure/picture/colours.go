package picture

import (
	"math"
	"slices"
)

// colours hold red, green and blue, 0…255 in steps of 1/levelUnit, in 16 bits of a word each, of which
// the highest stays free to compare by.
type colours []uint64

// levelUnit is how many steps a level has: of 255 levels 15 bits.
const levelUnit = 1 << 7

// packed packs a colour, within 0…255.
func packed(r, g, b float64) uint64 {
	level := func(v float64) uint64 { return uint64(min(max(int(v*levelUnit+0.5), 0), 255*levelUnit)) }
	return level(r) | level(g)<<16 | level(b)<<32
}

// median reorders v and gives the median of each level in linear light; NaN for none.
func (v colours) median() (rgb [3]float64) {
	if len(v) == 0 {
		return [3]float64{math.NaN(), math.NaN(), math.NaN()}
	}
	const free = 1<<15 | 1<<31 | 1<<47
	for _, q := range exchanges[len(v)] {
		x, y := v[q[0]], v[q[1]]
		over := ((x | free) - y) & free // where x is at least as great
		swap := (x ^ y) & (over - over>>15)
		v[q[0]], v[q[1]] = x^swap, y^swap
	}
	x, y := v[(len(v)-1)/2], v[len(v)/2]
	for c := range rgb {
		rgb[c] = Linear(float64(x&0x7fff+y&0x7fff) / (2 * levelUnit))
		x, y = x>>16, y>>16
	}
	return rgb
}

// MostAcross is the most lines that a profile is the median of.
const MostAcross = 24

// exchanges are, for each number of values, the pairs to be put in order in turn so that the middle
// ones come to the middle: Batcher's merge exchange ("Sorting networks and their applications", 1968),
// without those that the middle does not need.
var exchanges = func() (all [MostAcross + 1][][2]uint8) {
	for n := range all {
		var pairs [][2]uint8
		for p := 1; p < n; p *= 2 {
			for k := p; k > 0; k /= 2 {
				for j := k % p; j+k < n; j += 2 * k {
					for i := j; i < min(j+k, n-k); i++ {
						if i/(2*p) == (i+k)/(2*p) {
							pairs = append(pairs, [2]uint8{uint8(i), uint8(i + k)})
						}
					}
				}
			}
		}
		var needed [MostAcross + 1]bool
		needed[max(n-1, 0)/2], needed[n/2] = true, true
		for i := len(pairs) - 1; i >= 0; i-- {
			if q := pairs[i]; needed[q[0]] || needed[q[1]] {
				needed[q[0]], needed[q[1]] = true, true
				all[n] = append(all[n], q)
			}
		}
		slices.Reverse(all[n])
	}
	return all
}()
