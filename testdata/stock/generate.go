//go:build ignore

// Command generate writes demo.csv, the shelf of an invented shop. Sizes, leaf thicknesses,
// corner radii, hole counts and screw sizes keep to what is published or common practice;
// hole places are invented on a grid of 1/32 in, because no published ones were found.
//
//	go run testdata/stock/generate.go > testdata/stock/demo.csv
package main

import (
	"encoding/csv"
	"fmt"
	"log"
	"math"
	"os"
	"strconv"
	"strings"
)

// A pattern is given in 1/32 in from the outer edge and from the end.
type pattern struct {
	height, width float64 // in, of the hinge it is made for
	holes         int
	zigzag        bool // four holes alternate; else the ends differ from the middle
	ends, middle  int  // from the outer edge: holes at the ends, holes in the middle
	end           int  // from the end to the first hole
	name          string
}

var patterns = []pattern{
	{3, 3, 3, false, 23, 13, 18, ""}, {3, 3, 3, false, 24, 14, 15, ""}, {3, 3, 3, false, 21, 13, 18, ""},
	{3, 3, 3, false, 22, 13, 16, ""}, {3, 3, 3, false, 12, 22, 16, ""},

	{3.5, 3.5, 3, false, 14, 24, 16, ""}, {3.5, 3.5, 3, false, 14, 28, 16, ""}, {3.5, 3.5, 3, false, 23, 13, 18, ""},
	{3.5, 3.5, 3, false, 24, 14, 17, ""}, {3.5, 3.5, 3, false, 26, 12, 18, ""}, {3.5, 3.5, 3, false, 22, 14, 17, ""},
	{3.5, 3.5, 3, false, 22, 14, 15, ""}, {3.5, 3.5, 3, false, 24, 13, 17, ""}, {3.5, 3.5, 3, false, 25, 12, 19, ""},
	{3.5, 3, 3, false, 20, 12, 17, ""}, {3.5, 3.5, 3, false, 13, 24, 17, ""},

	{4, 4, 3, false, 26, 14, 19, ""}, {4, 4, 3, false, 12, 24, 16, ""}, {4, 4, 3, false, 11, 19, 17, ""},
	{4, 4, 3, false, 11, 23, 19, ""}, {4, 4, 3, false, 28, 14, 16, ""}, {4, 4, 3, false, 27, 14, 18, ""},
	{4, 4, 4, false, 26, 14, 15, ""}, {4, 4, 4, false, 27, 13, 17, ""}, {4, 4, 4, true, 13, 24, 16, ""},
	{4, 3.5, 4, false, 27, 13, 17, ""}, {4, 3.5, 4, false, 14, 28, 18, ""}, {4, 3.5, 4, false, 25, 13, 16, ""},

	{4.5, 4.5, 4, false, 22, 14, 16, ""}, {4.5, 4.5, 4, false, 24, 14, 17, ""}, {4.5, 4.5, 4, true, 12, 24, 17, ""},
	{4.5, 4, 4, false, 28, 14, 15, ""}, {4.5, 4, 4, true, 13, 23, 17, ""}, {4.5, 4, 4, true, 11, 25, 17, ""},
	{4.5, 4, 4, false, 26, 14, 16, ""},

	{5, 4.5, 4, true, 13, 23, 18, ""}, {5, 4.5, 4, false, 24, 14, 17, ""}, {5, 5, 4, false, 26, 15, 18, ""},
	{6, 6, 5, false, 28, 16, 20, ""},
}

// at returns the holes as the list writes them, from edge x from end in inches.
func (p pattern) at() string {
	h := p.height * 32
	first, last := float64(p.end), h-float64(p.end)
	var along []float64
	switch {
	case p.holes == 3:
		along = []float64{first, h / 2, last}
	case p.zigzag, p.holes == 5:
		for k := range p.holes {
			along = append(along, first+(last-first)*float64(k)/float64(p.holes-1))
		}
	default: // the two in the middle stand at 36 and 64 hundredths of the height
		along = []float64{first, 0.36 * h, 0.64 * h, last}
	}
	var parts []string
	for k, y := range along {
		x := p.middle
		if p.zigzag && k%2 == 0 || !p.zigzag && (k == 0 || k == len(along)-1) {
			x = p.ends
		}
		parts = append(parts, fraction(float64(x))+" x "+fraction(y))
	}
	return strings.Join(parts, "; ")
}

// fraction writes v thirty-seconds of an inch, as a fraction where it is one.
func fraction(v float64) string {
	n := int(v + 0.5)
	if d := v - float64(n); d > 1e-6 || d < -1e-6 {
		return strconv.FormatFloat(v/32, 'f', 4, 64)
	}
	whole, part, under := n/32, n%32, 32
	for part != 0 && part%2 == 0 {
		part, under = part/2, under/2
	}
	switch {
	case part == 0:
		return strconv.Itoa(whole)
	case whole == 0:
		return fmt.Sprintf("%d/%d", part, under)
	}
	return fmt.Sprintf("%d-%d/%d", whole, part, under)
}

type finish struct {
	us, metal string
	extra     int // cents
	look      string
}

var finishes = []finish{
	{"US15", "steel", 40, "satin nickel"}, {"US3", "steel", 60, "bright brass"}, {"US10B", "steel", 55, "oil-rubbed bronze"},
	{"US19", "steel", 35, "flat black"}, {"USP", "steel", 0, "primed"}, {"US26D", "steel", 65, "satin chromium"},
	{"US4", "steel", 60, "satin brass"}, {"US14", "steel", 70, "bright nickel"}, {"US26", "steel", 75, "bright chromium"},
	{"US32D", "stainless", 420, "satin stainless"}, {"US3", "brass", 980, "bright brass"},
}

type corners struct{ one, other string }

var (
	square        = corners{"square", ""}
	quarter       = corners{"1/4", ""}
	fiveEighths   = corners{"5/8", ""}
	quarterSquare = corners{"1/4", "square"}
	fiveSquare    = corners{"5/8", "square"}
)

// kept is one kind of hinge that the shop keeps, in several finishes.
type kept struct {
	corners   corners
	thickness string
	bearing   string
	finishes  []int
}

// kinds lists what is kept of a pattern: the same holes under other corners, leaf
// thicknesses, bearings and finishes.
func kinds(n int, p pattern) []kept {
	f := func(k ...int) []int { return k }
	switch {
	case p.height == 3:
		return []kept{
			{quarter, "0.080", "ball", f(0, 3)}, {quarter, "0.085", "plain", f(0, 1, 4)},
			{quarterSquare, "0.085", "ball", f(4, 3)}, {square, "0.085", "plain", f(1, 2)},
		}
	case p.height == 3.5:
		all := []kept{
			{quarter, "0.085", "plain", f(0, 1, 3)}, {quarter, "0.085", "ball", f(0, 4)},
			{fiveEighths, "0.085", "plain", f(0, 5)}, {fiveEighths, "0.085", "ball", f(2, 4)},
			{square, "0.085", "plain", f(1, 5)}, {fiveEighths, "0.097", "ball", f(0)},
			{quarterSquare, "0.097", "ball", f(6)}, {square, "0.123", "ball", f(5)},
		}
		return rotate(all, n, 6, 0, 2, 3, 5, 6)
	case p.height == 4 && p.holes == 3:
		all := []kept{
			{quarter, "0.085", "ball", f(3, 0)}, {square, "0.090", "plain", f(2, 0)}, {square, "0.097", "plain", f(6, 1)},
			{quarterSquare, "0.085", "ball", f(2, 4)}, {fiveEighths, "0.085", "ball", f(0, 5)}, {quarter, "0.097", "plain", f(1)},
		}
		return all
	case p.height == 4 && p.width == 4:
		return []kept{
			{square, "0.130", "plain", f(2, 4, 5)}, {square, "0.130", "ball", f(5, 0)}, {quarter, "0.097", "plain", f(0, 1)},
			{fiveEighths, "0.130", "ball", f(2, 0)}, {square, "0.130", "ball", f(9)},
		}
	case p.height == 4:
		return []kept{
			{square, "0.097", "plain", f(0, 2)}, {fiveEighths, "0.090", "ball", f(1, 0)}, {quarter, "0.097", "ball", f(0)},
		}
	case p.height == 4.5:
		return []kept{
			{square, "0.134", "ball", f(5, 0, 4)}, {square, "0.134", "plain", f(4)}, {fiveEighths, "0.134", "plain", f(4)},
			{fiveEighths, "0.134", "ball", f(2, 0, 6)}, {square, "0.180", "ball", f(5)}, {square, "0.134", "ball", f(9, 10)},
		}
	case p.height == 5:
		return []kept{{square, "0.146", "ball", f(4, 5, 0)}, {square, "0.190", "ball", f(5, 9)}}
	}
	return []kept{{square, "0.160", "ball", f(5)}, {square, "0.203", "ball", f(5)}}
}

// rotate keeps the kinds named by keep, and of the others want − len(keep) that change with n.
func rotate(all []kept, n, want int, keep ...int) []kept {
	var out, rest []kept
	for k, m := range all {
		kept := false
		for _, i := range keep {
			kept = kept || i == k
		}
		if kept {
			out = append(out, m)
		} else {
			rest = append(rest, m)
		}
	}
	for k := 0; len(out) < want; k++ {
		out = append(out, rest[(n+k)%len(rest)])
	}
	return out
}

// made is what follows from size and leaf thickness: screw, hole, countersink, pin, in.
type made struct{ screw, hole, sink, pin string }

// countersunk has the rim 0.002 in wider than the largest head of ASME B18.6.1 and a hole that lets
// the shank through (common practice), or what the 82° cone leaves at the back of a thin leaf.
func countersunk(screw, pin string, head, clearance, thickness float64) made {
	sink := head + 0.002
	hole := max(clearance, sink-2*thickness*math.Tan(41*math.Pi/180))
	return made{screw, inch(hole), inch(sink), pin}
}

func build(p pattern, t float64) made {
	switch {
	case p.height == 6:
		return countersunk("#14 x 1-1/2", "0.375", 0.507, 0.265, t)
	case p.height == 5, p.height == 4.5 && p.width == 4 && !p.zigzag && p.ends == 28:
		return countersunk("#12 x 1-1/4", "0.310", 0.438, 0.228, t)
	case p.height == 4.5:
		return countersunk("#12 x 1-1/4", "0.250", 0.438, 0.228, t)
	case p.height == 4 && p.holes == 4 && t > 0.12:
		return countersunk("#10 x 1", "0.250", 0.385, 0.204, t)
	case p.height == 4 && p.holes == 4:
		return countersunk("#10 x 1", "0.225", 0.385, 0.204, t)
	case p.height == 4:
		return countersunk("#9 x 1", "0.234", 0.358, 0.193, t)
	}
	return countersunk("#9 x 3/4", "0.225", 0.358, 0.193, t)
}

func inch(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }

func main() {
	w := csv.NewWriter(os.Stdout)
	write := func(rec ...string) {
		if err := w.Write(rec); err != nil {
			log.Fatal(err)
		}
	}
	write("stock number", "description", "height (in)", "open width (in)", "size tolerance (in)", "leaf thickness (in)",
		"corner radius (in)", "corner radius other leaf (in)", "hole pattern", "holes (in)", "hole diameter (in)", "countersink (in)",
		"barrel diameter (in)", "pin diameter (in)", "pin kind", "knuckles", "bearing", "base metal", "finish", "mortise", "handing",
		"screw", "type number", "pack size", "sold in", "price", "price breaks", "on hand", "lead days", "discontinued", "replaced by")

	number := 1000
	letters := map[string]int{}
	for n, p := range patterns {
		size := fraction(p.height*32) + " x " + fraction(p.width*32)
		size = strings.ReplaceAll(size, "-", " ")
		p.name = size + " " + string(rune('A'+letters[size]))
		letters[size]++
		first := true
		for _, k := range kinds(n, p) {
			for c, f := range k.finishes {
				number++
				t, _ := strconv.ParseFloat(k.thickness, 64)
				m := build(p, t)
				pin, _ := strconv.ParseFloat(m.pin, 64)
				f := finishes[f]
				cents := int(60+p.height*p.height*14+t*1500) + f.extra
				if k.bearing == "ball" {
					cents += 90 + int(t*1400)
				}
				pack := 1
				if p.height <= 4 {
					pack = []int{1, 2, 3, 2}[(number+c)%4]
				}
				sold := 1
				if pack == 2 {
					sold = 2
				}
				onHand := (number*7919)%61 - 6
				lead := ""
				if onHand <= 0 {
					onHand, lead = 0, strconv.Itoa(3+number%12)
				}
				holes := ""
				if first {
					holes, first = p.at(), false
				}
				corner := k.corners.one
				words := map[string]string{"square": "square corners", "1/4": "1/4 in radius", "5/8": "5/8 in radius"}[corner]
				if k.corners.other != "" {
					words = corner + " in radius, other leaf square"
				}
				bearing := map[string]string{"ball": "ball bearing", "plain": "plain bearing"}[k.bearing]
				knuckles := "5"
				if p.height == 3 && p.end == 18 {
					knuckles = "3"
				}
				kind := ""
				if t >= 0.12 && p.height >= 4 && f.metal == "steel" && corner == "square" {
					kind = map[string]string{"ball": "A8112", "plain": "A8133"}[k.bearing]
					if t >= 0.17 {
						kind = "A8111"
					}
				}
				if t >= 0.12 && f.metal == "stainless" {
					kind = "A5112"
				}
				if f.metal == "brass" {
					kind = "A2112"
				}
				gone, by := "", ""
				if number%47 == 0 {
					gone, by = "yes", "H"+strconv.Itoa(number+1)
				}
				pinKind := "loose"
				if k.thickness == "0.134" && f.us == "US26D" {
					pinKind = "non-removable"
				}
				write("H"+strconv.Itoa(number), "Hinge "+size+" in, "+words+", "+bearing+", "+f.look, fraction(p.height*32), fraction(p.width*32), "1/64",
					k.thickness, corner, k.corners.other, p.name, holes, m.hole, m.sink, inch(pin+2*t), m.pin, pinKind, knuckles,
					k.bearing, f.metal, f.us, "full mortise", "", m.screw, kind, strconv.Itoa(pack), strconv.Itoa(sold), money(cents),
					fmt.Sprintf("12: %s; 48: %s", money(cents*92/100), money(cents*84/100)), strconv.Itoa(onHand), lead, gone, by)
			}
		}
	}
	// Hinges that are no full mortise ones stand on the same shelf.
	for k, m := range []string{"half mortise", "half surface", "full surface"} {
		for _, h := range []float64{4.5, 5} {
			number++
			t := map[float64]float64{4.5: 0.180, 5: 0.190}[h] // heavy leaves
			c := countersunk("#12 x 1-1/4", "0.310", 0.438, 0.228, t)
			write("H"+strconv.Itoa(number), fmt.Sprintf("Hinge %s in, %s, ball bearing, primed", strings.ReplaceAll(fraction(h*32), "-", " "), m),
				fraction(h*32), "4-1/2", "1/64", inch(t), "square", "", "", "", c.hole, c.sink, inch(0.310+2*t), c.pin, "fixed", "5", "ball", "steel", "USP", m,
				[]string{"", "left", "right"}[k], c.screw, "", "1", "1", money(1480+k*130), "", strconv.Itoa(4+k), "", "", "")
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		log.Fatal(err)
	}
}

func money(cents int) string { return fmt.Sprintf("%d.%02d", cents/100, cents%100) }
