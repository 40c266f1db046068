package card

import (
	"math"
	"strings"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// Recognising the printed card among the rectangles found: its code's three corner squares must
// be where the frame's inner or outer edge, whichever each side is, says. That is a few hundred
// looks at single pixels; the code is read only where they agree.

var printed = measure.PrintedCard()

// tablePlace turns a place on the printed card into one on the table, the card's middle at the
// origin, y up.
func tablePlace(x, y float64) (wx, wy float64) { return x - printed.Width/2, printed.Height/2 - y }

// A printedLook is one place of the printed card with what is printed there.
type printedLook struct {
	x, y float64 // world, mm
	dark bool
	part int // 0…2: of which corner square
}

// codeLooks are the code's corner squares: centre, white ring and black ring in eight
// directions each, and the empty rim on the two sides that have one.
var codeLooks = func() (out []printedLook) {
	m := printed.CodeSide / float64(printed.CodeModules)
	far := printed.CodeSide - 7*m
	for k, at := range [3][2]float64{{0, 0}, {far, 0}, {0, far}} {
		cx, cy := printed.CodeX+at[0]+3.5*m, printed.CodeY+at[1]+3.5*m
		add := func(dx, dy float64, dark bool) {
			x, y := tablePlace(cx+dx*m, cy+dy*m)
			out = append(out, printedLook{x, y, dark, k})
		}
		add(0, 0, true)
		for _, d := range [8][2]float64{{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}} {
			add(2*d[0], 2*d[1], false)
			add(3*d[0], 3*d[1], true)
		}
		sx, sy := 1.0, 1.0
		if at[0] == 0 {
			sx = -1
		}
		if at[1] == 0 {
			sy = -1
		}
		add(4.5*sx, 0, false)
		add(0, 4.5*sy, false)
	}
	return out
}()

// surelyDark and surelyLight are places so far from any edge of the print that the frame's
// width taken wrongly doesn't matter to them, world, mm.
var surelyDark, surelyLight = func() (dark, light [][2]float64) {
	m := printed.CodeSide / float64(printed.CodeModules)
	put := func(list *[][2]float64, x, y float64) {
		x, y = tablePlace(x, y)
		*list = append(*list, [2]float64{x, y})
	}
	c, far := 3.5*m, printed.CodeSide-3.5*m
	for _, at := range [3][2]float64{{c, c}, {far, c}, {c, far}} {
		put(&dark, printed.CodeX+at[0], printed.CodeY+at[1])
	}
	middle := printed.CodeSide / 2
	put(&light, printed.CodeX-2.4*m, printed.CodeY+middle)
	put(&light, printed.CodeX+middle, printed.CodeY-2.8*m)
	put(&light, printed.CodeX+middle, printed.CodeY+printed.CodeSide+2.8*m)
	put(&light, (printed.Rings[0].X+printed.Rings[1].X)/2, (printed.Rings[0].Y+printed.Rings[2].Y)/2)
	return dark, light
}()

// findPrinted looks for the printed card among candidates and fits it. found is
// false where there is none; where there is one that can't be used, why says so.
func findPrinted(f *picture.Frame, cands []candidate, opt measure.Options) (card Fit, why []measure.Reason, found bool) {
	for _, c := range cands {
		h, ok := printedIn(f, c)
		if !ok {
			continue
		}
		t, ok := startPrinted(f, h, opt)
		if !ok {
			continue
		}
		card, not := t.measure(f, float64(2*f.Reduction()), opt)
		if card.Kind != "" {
			return card, nil, true
		}
		if len(not) > 0 {
			why = not
		}
	}
	return Fit{}, why, len(why) > 0
}

// leastPrint is the least contrast of print on paper, levels: black ink reflects a tenth of what
// paper does, which is 150 levels in full light and 15 in light that is nearly too dark.
const leastPrint = 15

// printedIn takes a candidate's sides for the frame's inner or outer edges, and gives the map
// from the world's table to the picture under which the code's corner squares agree best.
func printedIn(f *picture.Frame, c candidate) (best geom.Mat3, ok bool) {
	// A candidate's corners run clockwise on the screen, its first side long, as do the card's.
	corners := func(turn int, left, right, top, bottom float64) (geom.Mat3, bool) {
		pts := [4][2]float64{{left, top}, {printed.Width - right, top}, {printed.Width - right, printed.Height - bottom}, {left, printed.Height - bottom}}
		px := make([]measure.Pixel, 4)
		for i := range pts {
			pts[i][0], pts[i][1] = tablePlace(pts[i][0], pts[i][1])
			px[i] = c.corners[(i+turn)%4]
		}
		h, err := geom.Homography(pts[:], px)
		return h, err == nil
	}
	luma := func(h *geom.Mat3, x, y float64) float64 {
		p := h.Apply(geom.Vec3{x, y, 1})
		return f.Luma(measure.Pixel{X: p[0] / p[2], Y: p[1] / p[2]})
	}
	share := 0.0
	for turn := 0; turn < 4; turn += 2 {
		mid, fine := corners(turn, printed.Frame/2, printed.Frame/2, printed.Frame/2, printed.Frame/2)
		if !fine {
			continue
		}
		dark, light := 0.0, 255.0
		for _, p := range surelyDark {
			dark = math.Max(dark, luma(&mid, p[0], p[1]))
		}
		for _, p := range surelyLight {
			light = math.Min(light, luma(&mid, p[0], p[1]))
		}
		if light-dark < leastPrint {
			continue
		}
		for mix := range 16 {
			side := func(k int) float64 { return printed.Frame * float64(mix>>k&1) }
			h, fine := corners(turn, side(0), side(1), side(2), side(3))
			if !fine {
				continue
			}
			limit := (dark + light) / 2
			hit := 0
			for _, q := range codeLooks {
				if (luma(&h, q.x, q.y) < limit) == q.dark {
					hit++
				}
			}
			if s := float64(hit) / float64(len(codeLooks)); s > share {
				best, share = h, s
			}
		}
	}
	// A chequered pattern gets half of them right.
	return best, share > 0.85
}

// readCode reads the code through the camera. It returns what it says, "" where it can't be read.
func (t *printedTrial) readCode(f *picture.Frame) string {
	at := func(x, y float64) float64 {
		return f.Luma(t.cam.Project(geom.Vec3{x * t.scale, y * t.scale, paperHeight}))
	}
	// The limit between black and white follows the light over the card: a plane through the
	// middles of the three corner squares.
	var sum [3][2]float64
	var count [3][2]int
	var place [3][2]float64
	for i, q := range codeLooks {
		k := 0
		if q.dark {
			k = 1
		}
		sum[q.part][k] += at(q.x, q.y)
		count[q.part][k]++
		if i%(len(codeLooks)/3) == 0 {
			place[q.part] = [2]float64{q.x, q.y}
		}
	}
	var mid [3]float64
	for k := range mid {
		white, black := sum[k][0]/float64(count[k][0]), sum[k][1]/float64(count[k][1])
		if white-black < leastPrint {
			return ""
		}
		mid[k] = (white + black) / 2
	}
	dx, dy := place[1][0]-place[0][0], place[2][1]-place[0][1]
	limit := func(x, y float64) float64 {
		return mid[0] + (mid[1]-mid[0])*(x-place[0][0])/dx + (mid[2]-mid[0])*(y-place[0][1])/dy
	}
	n := printed.CodeModules
	m := printed.CodeSide / float64(n)
	bits := make([][]bool, n)
	for j := range bits {
		bits[j] = make([]bool, n)
		for i := range bits[j] {
			var v, l float64
			for k := range 9 { // the middle half of the module
				x, y := tablePlace(printed.CodeX+(float64(i)+0.5+0.25*float64(k%3-1))*m, printed.CodeY+(float64(j)+0.5+0.25*float64(k/3-1))*m)
				v, l = v+at(x, y), l+limit(x, y)
			}
			bits[j][i] = v < l
		}
	}
	read, err := decoder.NewDecoder().DecodeBoolMapWithoutHint(bits)
	if err != nil {
		return ""
	}
	return read.GetText()
}

// known judges what a code says: ours reports whether it is that of a printed card of this
// project, known whether it is one that PrintedCard describes.
func knownCode(text string) (ours, known bool) {
	return strings.HasPrefix(text, measure.PrintedOwner), text == measure.PrintedCode
}
