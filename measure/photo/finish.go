package photo

import (
	"math"
	"slices"

	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// finishHint says in trade words what finish the leaves' colour suggests. It is a hint: a
// photo shows colour under unknown light, and polished metal shows its surroundings. white is
// the linear light, red, green, blue, of something believed white beside the hinge (paper, a
// card's blank part); zero where nothing is known to be white.
//
// Three things are looked at: how light the face is beside white, how yellow, and how much
// the light changes round the barrel, which is little on paint and much on metal. Medians
// leave rust out.
func finishHint(f *picture.Frame, cam *geom.Camera, faces []geom.Face, barrelDiameter float64, white [3]float64) string {
	face, ok := faceColour(f, cam, faces)
	if !ok {
		return ""
	}
	if white[0] <= 0 || white[1] <= 0 || white[2] <= 0 {
		white = guessWhite(f)
	}
	for q := range face {
		face[q] /= white[q]
	}
	light := 0.2126*face[0] + 0.7152*face[1] + 0.0722*face[2] // luminance, IEC 61966-2-1
	yellow := (face[0] - face[2]) / math.Max(light, 1e-6)
	metal := barrelDiameter > 0 && newBarrelView(f, cam, faces, barrelDiameter).falloff() > metalFalloff
	switch {
	case light < 0.16 && yellow > 0.12:
		return "dark bronze"
	case light < 0.16:
		return "black"
	case yellow > 0.4:
		return "brass, satin or polished"
	case metal && yellow > -0.25:
		return "light grey metal: nickel or chrome"
	case light > 0.7:
		return "white paint"
	}
	return "grey prime coat or paint"
}

// metalFalloff is the ratio of the lightest to the darkest line along the barrel within ±45°
// of its top, in linear light. A matt round bar under a wide sky falls off by 1 ÷ cos² 45° = 2
// at the most (the light itself and the sky's lower half); metal mirrors a bright sky above
// and a dark bench beside.
const metalFalloff = 2

// edgeLook is what a broken edge of this hinge is likely to show of the face's light.
func edgeLook(f *picture.Frame, cam *geom.Camera, faces []geom.Face, barrelDiameter float64) float64 {
	if newBarrelView(f, cam, faces, barrelDiameter).falloff() > metalFalloff {
		return picture.MetalEdge
	}
	return picture.PaintEdge
}

func (b *barrelView) falloff() float64 {
	low, high := math.Inf(1), 0.0
	for _, l := range b.light {
		m := picture.Linear(geom.Pick(slices.Clone(l), len(l)/2))
		low, high = math.Min(low, m), math.Max(high, m)
	}
	return high / math.Max(low, 1e-4)
}

// faceColour is the median linear red, green and blue of the leaves' faces. Their rims and
// what lies near the barrel are left out.
func faceColour(f *picture.Frame, cam *geom.Camera, faces []geom.Face) (c [3]float64, ok bool) {
	const margin, besideBarrel, step = 3, 9, 1.5 // mm
	var all [3][]float64
	for _, l := range faces {
		for u := float64(margin); u < l.Width-besideBarrel; u += step {
			for v := float64(margin); v < l.Height-margin; v += step {
				p := cam.Project(l.At(u, v))
				if !f.Inside(p, 2) {
					continue
				}
				r, g, b := f.RGB(p)
				for q, x := range [3]float64{r, g, b} {
					all[q] = append(all[q], picture.Linear(x))
				}
			}
		}
	}
	if len(all[0]) < 50 {
		return c, false
	}
	for q := range c {
		slices.Sort(all[q])
		c[q] = all[q][len(all[q])/2]
	}
	return c, true
}

// guessWhite takes the lightest fiftieth of the picture as white, or, where that is dim,
// light at 0.4: automatic exposure seldom shows white paper darker than 170 of 255 (linear 0.4).
// Its colour is taken as neutral, for it may be a coloured card.
func guessWhite(f *picture.Frame) [3]float64 {
	var counts [256]int
	n := 0
	for y := 8; y < f.H; y += 16 {
		for x := 8; x < f.W; x += 16 {
			counts[f.Y[y*f.YStride+x]]++
			n++
		}
	}
	v := 255
	for seen := 0; v > 0; v-- {
		if seen += counts[v]; seen > n/50 {
			break
		}
	}
	w := math.Max(picture.Linear(float64(v)), 0.4)
	return [3]float64{w, w, w}
}
