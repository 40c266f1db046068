package catalog

import (
	"cmp"
	"fmt"
	"html"
	"math"
	"strings"

	"leafgauge/measure"
	"leafgauge/measure/flat"
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

// DrawFit draws the candidate's outline and holes over the old hinge's, laid flat and true
// to scale, as an SVG element with its sizes in inches and millimetres. Without a height and
// a width to draw it returns "".
func DrawFit(old measure.Best, f Fit) string {
	const left, top = 44.0, 20.0
	axis := left + f.Item.OpenWidth.MM()/2
	shapes, high := LayFlat(old, f, flat.Point{X: axis, Y: top})
	if high == 0 {
		return ""
	}
	var s sheet
	mid, w := top+high/2, axis+62
	for _, sh := range shapes {
		a, b := sh.A, sh.B
		switch sh.Role {
		case flat.OldLeaf:
			s.add(`<path d="%s" fill="%s" stroke="%s" stroke-width="0.4" stroke-dasharray="2 1.2"/>`, leafPath(a.X, b.X, a.Y, b.Y, sh.R), paperOld, inkOld)
		case flat.OldBarrel:
			s.add(`<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" fill="#fff" stroke="%s" stroke-width="0.4"/>`, a.X-sh.R, a.Y, 2*sh.R, sh.Size.Value.MM(), inkOld)
		case flat.Joint:
			s.line(a.X, a.Y, b.X, b.Y, inkOld)
		case flat.OldPin:
			s.pin(a.X, a.Y, b.Y, inkOld)
		case flat.NewPin:
			s.pin(a.X, a.Y-3, b.Y+3, inkNew)
		case flat.OldHole:
			s.add(`<circle cx="%.2f" cy="%.2f" r="%.2f" fill="#c9cdd3" stroke="%s" stroke-width="0.3"/>`, a.X, a.Y, sh.R, inkOld)
		case flat.NewLeaf:
			s.add(`<path d="%s" stroke="%s" stroke-width="0.5"/>`, leafPath(a.X, b.X, a.Y, b.Y, sh.R), inkNew)
			if sh.Leaf == 1 {
				w = math.Max(w, a.X+8)
			}
		case flat.NewHole:
			drawHole(&s, a.X, a.Y, sh.R, HoleFate(sh.Fate))
		case flat.NewHeight:
			s.line(left-16, a.Y, a.X, a.Y, inkNew)
			s.line(left-16, b.Y, b.X, b.Y, inkNew)
			s.arrow(left-14, a.Y, left-14, b.Y, inkNew)
			s.text(left-16, mid-4, "end", inkNew, sh.Size.Value.Fraction(32)+" in")
			s.text(left-16, mid+1, "end", inkNew, sh.Size.Value.Tenths()+" mm")
		case flat.OldHeight:
			s.text(left-16, mid+8, "end", inkText, fmt.Sprintf("old %.2f", sh.Size.Value.MM()))
			s.text(left-16, mid+13, "end", inkText, fmt.Sprintf("± %.2f mm", sh.Size.Half95().MM()))
		case flat.NewWidth:
			s.line(a.X, top-7, a.X, a.Y, inkNew)
			s.line(b.X, top-7, b.X, b.Y, inkNew)
			s.arrow(a.X, top-6, b.X, top-6, inkNew)
			words := fmt.Sprintf("%s in, %s mm", sh.Size.Value.Fraction(32), sh.Size.Value.Tenths())
			if old.OpenWidth.Known() {
				words += fmt.Sprintf("; old %.2f ± %.2f mm", old.OpenWidth.Value.MM(), old.OpenWidth.Half95().MM())
			}
			s.text(axis, top-9, "middle", inkNew, words)
		}
	}
	y := legend(&s, f, left-36, top+high+9)
	return s.done(w, y, fitTitle(old, f))
}

// pin draws a pin's axis.
func (s *sheet) pin(x, top, bottom float64, ink string) {
	s.add(`<path d="M%.2f %.2fV%.2f" stroke="%s" stroke-width="0.3" stroke-dasharray="5 1.5 1 1.5"/>`, x, top, bottom, ink)
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
	half, fresh := "half in an old hole: plug it first", "in fresh wood: drill a lead hole"
	if f.FireRated { // whose holes are not for everybody to work
		half, fresh = "half in an old hole", "clear of the old holes"
	}
	for _, m := range []struct {
		fate HoleFate
		text string
	}{{HoleLands, string(HoleLands)}, {HoleHalf, half}, {HoleClear, fresh}} {
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
	return fmt.Sprintf("%s, %s in, drawn over the old hinge, %.1f mm high: %s", f.Item.StockNumber, f.Item.Size(), old.Height.Value.MM(), f.Headline())
}
