package catalog

import "math"

// DrawWhere draws where on a hinge a size is measured, as an SVG element, or returns "" for
// a name that it does not know: height, open_width, leaf_width, thickness, hole_from_edge,
// hole_from_end, hole_spacing, corner_radius, hole_diameter, barrel_diameter.
func DrawWhere(where string) string {
	draw, ok := whereDrawings[where]
	if !ok {
		return ""
	}
	var s sheet
	w, h := draw.draw(&s)
	return s.done(w, h, draw.title)
}

var whereDrawings = map[string]struct {
	title string
	draw  func(s *sheet) (w, h float64)
}{
	"height":          {"Measure the height along the barrel: the leaf's length, without the tips of the pin.", whereHeight},
	"open_width":      {"Measure the open width: outer edge to outer edge, the hinge laid flat.", whereOpenWidth},
	"leaf_width":      {"Measure one leaf's width: outer edge to the middle of the pin.", whereLeafWidth},
	"thickness":       {"Measure the thickness of one leaf at its outer edge, not of both leaves together.", whereThickness},
	"hole_from_edge":  {"Measure from the leaf's outer edge to the centre of the end screw hole.", whereFromEdge},
	"hole_from_end":   {"Measure from the leaf's end to the centre of the nearest screw hole.", whereFromEnd},
	"hole_spacing":    {"Measure from the centre of one screw hole to the centre of the next along the leaf.", whereSpacing},
	"corner_radius":   {"See how far the corner is rounded: the radius is that of the full circle that fits into it.", whereRadius},
	"hole_diameter":   {"Measure the small round hole itself, not the wide rim of the countersink.", whereHole},
	"barrel_diameter": {"Measure across the barrel, the round part in the middle.", whereBarrel},
}

// The sketched hinge: 64 mm high, leaves 30 mm wide, at a fixed place on the sheet.
const (
	skX, skY, skH, skW, skB = 46.0, 18.0, 64.0, 30.0, 9.0
	skAxis                  = skX + skW
	skEdge, skEnd           = 13.0, 12.0
)

// sketch draws the hinge and returns the sheet's size.
func sketch(s *sheet) (w, h float64) {
	for _, x := range []float64{skAxis - skW, skAxis + skW} {
		s.add(`<path d="%s" fill="%s" stroke="%s" stroke-width="0.5"/>`, leafPath(x, skAxis, skY, skY+skH, 6), paperOld, inkText)
		d := math.Copysign(1, skAxis-x)
		for k, y := range []float64{skEnd, skH / 2, skH - skEnd} {
			edge := skEdge
			if k == 1 {
				edge = 7
			}
			s.add(`<circle cx="%.2f" cy="%.2f" r="4.2" fill="#fff" stroke="%s" stroke-width="0.3"/><circle cx="%.2f" cy="%.2f" r="2.3" fill="#c9cdd3" stroke="%s" stroke-width="0.4"/>`,
				x+d*edge, skY+y, inkOld, x+d*edge, skY+y, inkText)
		}
	}
	s.add(`<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" fill="#fff" stroke="%s" stroke-width="0.5"/>`, skAxis-skB/2, skY, skB, skH, inkText)
	for k := 1; k < 5; k++ {
		s.line(skAxis-skB/2, skY+skH*float64(k)/5, skAxis+skB/2, skY+skH*float64(k)/5, inkText)
	}
	for _, y := range []float64{skY - 3, skY + skH} {
		s.add(`<rect x="%.2f" y="%.2f" width="5" height="3" fill="#fff" stroke="%s" stroke-width="0.4"/>`, skAxis-2.5, y, inkText)
	}
	return skAxis + skW + 40, skY + skH + 16
}

func whereHeight(s *sheet) (w, h float64) {
	w, h = sketch(s)
	s.line(skX-14, skY, skX, skY, inkNew)
	s.line(skX-14, skY+skH, skX, skY+skH, inkNew)
	s.arrow(skX-11, skY, skX-11, skY+skH, inkNew)
	s.text(skX-13, skY+skH/2+1.5, "end", inkNew, "this height")
	s.text(skAxis+4, skY-4, "start", inkText, "not with the tips")
	return w, h
}

func whereOpenWidth(s *sheet) (w, h float64) {
	w, h = sketch(s)
	s.line(skX, skY-10, skX, skY, inkNew)
	s.line(skX+2*skW, skY-10, skX+2*skW, skY, inkNew)
	s.arrow(skX, skY-8, skX+2*skW, skY-8, inkNew)
	s.text(skAxis, skY-10, "middle", inkNew, "this width, laid flat")
	return w, h
}

func whereLeafWidth(s *sheet) (w, h float64) {
	w, h = sketch(s)
	s.line(skX, skY-10, skX, skY, inkNew)
	s.line(skAxis, skY-10, skAxis, skY+skH, inkNew)
	s.arrow(skX, skY-8, skAxis, skY-8, inkNew)
	s.text(skX+skW/2, skY-10, "middle", inkNew, "edge to middle of pin")
	return w, h
}

func whereThickness(s *sheet) (w, h float64) {
	// One leaf seen from its end, lying flat, with a caliper's jaws at its outer edge.
	const y, t = 24.0, 5.0
	s.add(`<path d="M24 %.2fH92V%.2fH24Z" fill="%s" stroke="%s" stroke-width="0.5"/>`, y, y+t, paperOld, inkText)
	s.add(`<circle cx="98" cy="%.2f" r="8" fill="#fff" stroke="%s" stroke-width="0.5"/><circle cx="98" cy="%.2f" r="3.4" fill="#c9cdd3" stroke="%s" stroke-width="0.4"/>`, y+t-8, inkText, y+t-8, inkText)
	s.line(12, y, 24, y, inkNew)
	s.line(12, y+t, 24, y+t, inkNew)
	s.arrow(17, y-12, 17, y, inkNew)
	s.arrow(17, y+t+12, 17, y+t, inkNew)
	s.text(26, y-14, "start", inkNew, "thickness of one leaf")
	s.line(17, y-12, 25, y-15, inkNew)
	s.text(44, y+t+8, "start", inkText, "one leaf, seen from its end")
	s.text(92, y-14, "start", inkText, "barrel")
	return 118, 46
}

func whereFromEdge(s *sheet) (w, h float64) {
	w, h = sketch(s)
	s.line(skX, skY-10, skX, skY+skEnd, inkNew)
	s.line(skX+skEdge, skY-10, skX+skEdge, skY+skEnd, inkNew)
	s.arrow(skX, skY-8, skX+skEdge, skY-8, inkNew)
	s.text(skX-2, skY-9, "end", inkNew, "edge to centre")
	return w, h
}

func whereFromEnd(s *sheet) (w, h float64) {
	w, h = sketch(s)
	s.line(skX-14, skY, skX, skY, inkNew)
	s.line(skX-14, skY+skEnd, skX+skEdge, skY+skEnd, inkNew)
	s.arrow(skX-11, skY, skX-11, skY+skEnd, inkNew)
	s.text(skX-13, skY+skEnd/2+1.5, "end", inkNew, "end to centre")
	return w, h
}

func whereSpacing(s *sheet) (w, h float64) {
	w, h = sketch(s)
	s.line(skX-14, skY+skEnd, skX+skEdge, skY+skEnd, inkNew)
	s.line(skX-14, skY+skH/2, skX+7, skY+skH/2, inkNew)
	s.arrow(skX-11, skY+skEnd, skX-11, skY+skH/2, inkNew)
	s.text(skX-13, skY+(skEnd+skH/2)/2+1.5, "end", inkNew, "centre to centre")
	return w, h
}

func whereRadius(s *sheet) (w, h float64) {
	// One corner of a leaf, large.
	const x, y, r = 40.0, 16.0, 22.0
	s.add(`<path d="M110 %.2fH%.2fA%.2f %.2f 0 0 0 %.2f %.2fV78H110" fill="%s" stroke="%s" stroke-width="0.6"/>`, y, x+r, r, r, x, y+r, paperOld, inkText)
	s.add(`<circle cx="%.2f" cy="%.2f" r="%.2f" stroke="%s" stroke-width="0.4" stroke-dasharray="2 1.4"/>`, x+r, y+r, r, inkNew)
	const c = 0.7071
	s.arrow(x+r, y+r, x+r-c*r, y+r-c*r, inkNew)
	s.text(x+r+2, y+r+5, "start", inkNew, "radius")
	s.text(x-4, y+4, "end", inkText, "corner of a leaf")
	return 126, 84
}

func whereHole(s *sheet) (w, h float64) {
	const x, y = 62.0, 42.0
	s.add(`<rect x="22" y="10" width="80" height="64" fill="%s" stroke="%s" stroke-width="0.5"/>`, paperOld, inkText)
	s.add(`<circle cx="%.2f" cy="%.2f" r="22" fill="#fff" stroke="%s" stroke-width="0.5"/><circle cx="%.2f" cy="%.2f" r="12" fill="#c9cdd3" stroke="%s" stroke-width="0.6"/>`, x, y, inkOld, x, y, inkText)
	s.arrow(x-12, y, x+12, y, inkNew)
	s.text(x, y-2, "middle", inkNew, "this")
	s.text(x, y+29, "middle", inkText, "not the wide rim")
	return 124, 84
}

func whereBarrel(s *sheet) (w, h float64) {
	w, h = sketch(s)
	s.line(skAxis-skB/2, skY+skH, skAxis-skB/2, skY+skH+11, inkNew)
	s.line(skAxis+skB/2, skY+skH, skAxis+skB/2, skY+skH+11, inkNew)
	s.arrow(skAxis-skB/2, skY+skH+9, skAxis+skB/2, skY+skH+9, inkNew)
	s.text(skAxis+skB/2+3, skY+skH+10.5, "start", inkNew, "across the barrel")
	return w, h
}
