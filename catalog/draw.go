package catalog

import (
	"cmp"
	"fmt"
	"html"
	"math"
	"strings"

	"leafgauge/measure"
)

// Inks of the drawings. They are told apart by line and mark too, never by colour alone.
const (
	inkOld   = "#8a8f98"
	paperOld = "#eceef1"
	inkNew   = "#14507a"
	inkWarn  = "#a8480b"
	inkText  = "#22262b"
)

// A sheet collects the elements of one SVG drawing, in millimetres.
type sheet struct{ b strings.Builder }

func (s *sheet) add(format string, args ...any) { fmt.Fprintf(&s.b, format+"\n", args...) }

// done wraps the elements in an svg element w × h mm large. title says in words what the
// drawing shows.
func (s *sheet) done(w, h float64, title string) string {
	t := html.EscapeString(title)
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="%s" width="%.0fmm" height="%.0fmm" viewBox="0 0 %.2f %.2f" font-family="sans-serif" font-size="4" fill="none" stroke-linejoin="round"><title>%s</title>`+"\n%s</svg>",
		t, w, h, w, h, t, s.b.String())
}

func (s *sheet) text(x, y float64, anchor, ink, text string) {
	s.add(`<text x="%.2f" y="%.2f" text-anchor="%s" fill="%s">%s</text>`, x, y, anchor, ink, html.EscapeString(text))
}

// arrow draws a dimension line with a stroke at either end, as shop drawings have them.
func (s *sheet) arrow(x1, y1, x2, y2 float64, ink string) {
	d := math.Hypot(x2-x1, y2-y1)
	if d == 0 {
		return
	}
	ux, uy := (x2-x1)/d, (y2-y1)/d
	head := math.Min(2.4, d/3)
	s.add(`<path d="M%.2f %.2fL%.2f %.2f" stroke="%s" stroke-width="0.35"/>`, x1, y1, x2, y2, ink)
	for _, e := range [][3]float64{{x1, y1, 1}, {x2, y2, -1}} {
		bx, by := e[0]+e[2]*ux*head, e[1]+e[2]*uy*head
		s.add(`<path d="M%.2f %.2fL%.2f %.2fL%.2f %.2fZ" fill="%s"/>`, e[0], e[1], bx-uy*head/3, by+ux*head/3, bx+uy*head/3, by-ux*head/3, ink)
	}
}

func (s *sheet) line(x1, y1, x2, y2 float64, ink string) {
	s.add(`<path d="M%.2f %.2fL%.2f %.2f" stroke="%s" stroke-width="0.2"/>`, x1, y1, x2, y2, ink)
}

// leafPath is the outline of a leaf from its outer edge at x to the pin's axis at axis, with
// two outer corners of radius r.
func leafPath(x, axis, top, bottom, r float64) string {
	d := 1.0
	if axis < x {
		d = -1
	}
	r = math.Min(r, math.Min(math.Abs(axis-x), (bottom-top)/2))
	sweep := 1
	if d < 0 {
		sweep = 0
	}
	return fmt.Sprintf("M%.2f %.2fH%.2fA%.2f %.2f 0 0 %d %.2f %.2fV%.2fA%.2f %.2f 0 0 %d %.2f %.2fH%.2f",
		axis, top, x+d*r, r, r, 1-sweep, x, top+r, bottom-r, r, r, 1-sweep, x+d*r, bottom, axis)
}

// oldShape is the old hinge as far as it is known, the rest taken from item.
type oldShape struct {
	height, barrel float64
	width, radius  [2]float64
	leaves         int
	knuckles       int
}

func shapeOf(old measure.Best, item Item) oldShape {
	s := oldShape{height: item.Height.MM(), barrel: item.Barrel.MM(), leaves: 2, knuckles: old.Knuckles}
	if old.Height.Known() {
		s.height = old.Height.Value.MM()
	}
	if old.BarrelDiameter.Known() {
		s.barrel = old.BarrelDiameter.Value.MM()
	}
	if s.barrel <= 0 {
		s.barrel = 11
	}
	if len(old.Leaves) == 1 {
		s.leaves = 1
	}
	for l := range 2 {
		s.width[l] = item.OpenWidth.MM() / 2
		if old.OpenWidth.Known() {
			s.width[l] = old.OpenWidth.Value.MM() / 2
		}
		s.radius[l] = item.Radius[l].MM()
		if l < len(old.Leaves) {
			if w := old.Leaves[l].Width; w.Known() {
				s.width[l] = w.Value.MM()
			}
			if r, ok := radiusOf(old.Leaves[l]); ok {
				s.radius[l] = r.Value.MM()
			}
		}
	}
	return s
}

// DrawFit draws the candidate's outline and holes over the old hinge's, laid flat and true
// to scale, as an SVG element with its sizes in inches and millimetres. Without a height and
// a width to draw it returns "".
func DrawFit(old measure.Best, f Fit) string {
	i := f.Item
	if i.Height <= 0 || i.OpenWidth <= 0 || !isNumber(i.Height, i.OpenWidth, old.Height.Value, old.OpenWidth.Value) {
		return ""
	}
	o := shapeOf(old, i)
	var s sheet
	const left, top = 44.0, 20.0
	nw := i.OpenWidth.MM() / 2
	right := nw
	if o.leaves == 1 {
		right = o.barrel
	}
	axis := left + nw
	high := math.Max(i.Height.MM(), o.height)
	mid := top + high/2
	oldTop, newTop := mid-o.height/2, mid-i.Height.MM()/2
	oldEnd, newEnd := mid+o.height/2, mid+i.Height.MM()/2

	// The old leaves lie underneath, each with its outer edge under the new one's, as a leaf is
	// pushed home in its cut-out. Where the widths differ, the pins do not lie together.
	edge := [2]float64{axis - nw, axis + nw}
	side := [2]float64{-1, 1}
	for l := range o.leaves {
		s.add(`<path d="%s" fill="%s" stroke="%s" stroke-width="0.4" stroke-dasharray="2 1.2"/>`,
			leafPath(edge[l], edge[l]-side[l]*o.width[l], oldTop, oldEnd, o.radius[l]), paperOld, inkOld)
	}
	if math.Abs(nw-o.width[0]) <= outlinePlay.MM() {
		s.add(`<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" fill="#fff" stroke="%s" stroke-width="0.4"/>`, axis-o.barrel/2, oldTop, o.barrel, o.height, inkOld)
		for k := 1; k < o.knuckles && o.knuckles < 20; k++ {
			y := oldTop + o.height*float64(k)/float64(o.knuckles)
			s.line(axis-o.barrel/2, y, axis+o.barrel/2, y, inkOld)
		}
	} else {
		for l := range o.leaves {
			x := edge[l] - side[l]*o.width[l]
			s.add(`<path d="M%.2f %.2fV%.2f" stroke="%s" stroke-width="0.3" stroke-dasharray="5 1.5 1 1.5"/>`, x, oldTop, oldEnd, inkOld)
		}
		s.add(`<path d="M%.2f %.2fV%.2f" stroke="%s" stroke-width="0.3" stroke-dasharray="5 1.5 1 1.5"/>`, axis, newTop-3, newEnd+3, inkNew)
	}
	for l := range min(o.leaves, len(old.Leaves)) {
		for _, h := range old.Leaves[l].Holes {
			if !h.FromEdge.Known() || !h.FromEnd.Known() {
				continue
			}
			d := h.Diameter.Value.MM()
			if d <= 0 {
				d = 5
			}
			s.add(`<circle cx="%.2f" cy="%.2f" r="%.2f" fill="#c9cdd3" stroke="%s" stroke-width="0.3"/>`,
				edge[l]-side[l]*h.FromEdge.Value.MM(), oldTop+h.FromEnd.Value.MM(), d/2, inkOld)
		}
	}
	for l := range o.leaves {
		r := i.Radius[l]
		if strings.Contains(f.Placement, "exchanged") {
			r = i.Radius[1-l]
		}
		s.add(`<path d="%s" stroke="%s" stroke-width="0.5"/>`, leafPath(edge[l], axis, newTop, newEnd, r.MM()), inkNew)
		for _, h := range newHoles(f, l, oldTop, newTop) {
			drawHole(&s, edge[l]-side[l]*h.x, h.y, holeRadius(i), h.fate)
		}
	}

	// Sizes.
	s.line(left-16, newTop, axis-nw, newTop, inkNew)
	s.line(left-16, newEnd, axis-nw, newEnd, inkNew)
	s.arrow(left-14, newTop, left-14, newEnd, inkNew)
	s.text(left-16, mid-4, "end", inkNew, i.Height.Fraction(32)+" in")
	s.text(left-16, mid+1, "end", inkNew, fmt.Sprintf("%.1f mm", i.Height.MM()))
	if old.Height.Known() {
		s.text(left-16, mid+8, "end", inkText, fmt.Sprintf("old %.2f", o.height))
		s.text(left-16, mid+13, "end", inkText, fmt.Sprintf("± %.2f mm", old.Height.Half95().MM()))
	}
	if o.leaves == 2 {
		s.line(axis-nw, top-7, axis-nw, newTop, inkNew)
		s.line(axis+nw, top-7, axis+nw, newTop, inkNew)
		s.arrow(axis-nw, top-6, axis+nw, top-6, inkNew)
		words := fmt.Sprintf("%s in, %.1f mm", i.OpenWidth.Fraction(32), i.OpenWidth.MM())
		if old.OpenWidth.Known() {
			words += fmt.Sprintf("; old %.2f ± %.2f mm", old.OpenWidth.Value.MM(), old.OpenWidth.Half95().MM())
		}
		s.text(axis, top-9, "middle", inkNew, words)
	}
	w, y := math.Max(axis+right+8, axis+62), top+high+9
	y = legend(&s, f, left-36, y)
	return s.done(w, y, fitTitle(old, f))
}

func isNumber(ls ...measure.Length) bool {
	for _, l := range ls {
		if math.IsNaN(l.MM()) || math.IsInf(l.MM(), 0) || l > 5000 {
			return false
		}
	}
	return true
}

func holeRadius(i Item) float64 {
	if i.HoleDia > 0 {
		return i.HoleDia.MM() / 2
	}
	return 2.5
}

type drawnHole struct {
	x, y float64 // from the leaf's outer edge; on the sheet
	fate HoleFate
}

// newHoles are the candidate's holes on leaf l: as judged, else as listed.
func newHoles(f Fit, l int, oldTop, newTop float64) []drawnHole {
	var out []drawnHole
	for _, h := range f.Holes {
		if h.Leaf == l {
			out = append(out, drawnHole{h.New.FromEdge.MM(), oldTop + h.New.FromEnd.MM(), h.Fate})
		}
	}
	if len(out) == 0 {
		for _, h := range f.Item.Holes {
			y := h.FromEnd.MM()
			if strings.HasPrefix(f.Placement, "end for end") {
				y = f.Item.Height.MM() - y
			}
			out = append(out, drawnHole{h.FromEdge.MM(), newTop + y, ""})
		}
	}
	return out
}

// drawHole marks a new hole: a ring with a dot where it lands, a slanting cross where it is
// half in an old one, an upright cross where it is fresh, a bare ring where it is not known.
func drawHole(s *sheet, x, y, r float64, fate HoleFate) {
	ink := inkNew
	if fate == HoleHalf {
		ink = inkWarn
	}
	s.add(`<circle cx="%.2f" cy="%.2f" r="%.2f" stroke="%s" stroke-width="0.5"/>`, x, y, r, ink)
	d := r * 0.7
	switch fate {
	case HoleLands:
		s.add(`<circle cx="%.2f" cy="%.2f" r="0.6" fill="%s"/>`, x, y, ink)
	case HoleHalf:
		s.add(`<path d="M%.2f %.2fL%.2f %.2fM%.2f %.2fL%.2f %.2f" stroke="%s" stroke-width="0.5"/>`, x-d, y-d, x+d, y+d, x-d, y+d, x+d, y-d, ink)
	case HoleClear:
		s.add(`<path d="M%.2f %.2fH%.2fM%.2f %.2fV%.2f" stroke="%s" stroke-width="0.5"/>`, x-r, y, x+r, x, y-r, y+r, ink)
	}
}

// legend explains lines and marks from (x, y) down and returns where it ends.
func legend(s *sheet, f Fit, x, y float64) float64 {
	s.add(`<path d="M%.2f %.2fh8" stroke="%s" stroke-width="0.6" stroke-dasharray="2 1.2"/>`, x, y-1.3, inkOld)
	s.text(x+10, y, "start", inkText, "old hinge")
	s.add(`<path d="M%.2f %.2fh8" stroke="%s" stroke-width="0.6"/>`, x+40, y-1.3, inkNew)
	s.text(x+50, y, "start", inkText, shorten(f.Item.StockNumber)+" ("+cmp.Or(f.Placement, "as it was")+")")
	y += 7
	for _, m := range []struct {
		fate HoleFate
		text string
	}{{HoleLands, string(HoleLands)}, {HoleHalf, "half in an old hole: plug it first"}, {HoleClear, "in fresh wood: drill a lead hole"}} {
		n := 0
		for _, h := range f.Holes {
			if h.Fate == m.fate {
				n++
			}
		}
		if n > 0 {
			drawHole(s, x+4, y-1.4, 2, m.fate)
			s.text(x+10, y, "start", inkText, fmt.Sprintf("%d × %s", n, m.text))
			y += 6.5
		}
	}
	s.text(x, y, "start", inkText, "± holds the old size 95 times in 100")
	return y + 6.5
}

func fitTitle(old measure.Best, f Fit) string {
	return fmt.Sprintf("%s, %s in, drawn over the old hinge, %.1f mm high: %s", f.Item.StockNumber, f.Item.Size(), old.Height.Value.MM(), f.Verdict)
}
