package locate

import (
	"cmp"
	"math"
	"slices"

	"leafgauge/measure/geom"
)

// What a hinge can be, mm. Butt hinges for doors run from 2 to 6 in high and open
// (common practice); a little is left over for perspective and shadow.
const (
	LeastHinge = 40
	MostHinge  = 175
	LeastLeaf  = 18 // a single leaf's width
)

// A Hinge is where a hinge lies on the table, good to a millimetre or two.
type Hinge struct {
	Cx, Cy float64 // middle of the pin's axis
	Phi    float64 // direction of the barrel, radians
	Height float64
	Width  [2]float64 // outer edge to axis, on the side phi + 90° and phi − 90°; 0: no leaf there
	Barrel float64    // diameter
	Score  float64    // how much it looks like one
	CutOff bool       // it touches the picture's border
}

// A blob is a connected object on the ground map.
type blob struct {
	part
	border bool // it touches the edge of what is seen
}

// each visits the blob's cells.
func (b blob) each(do func(i, j int)) {
	for _, r := range b.runs {
		for i := r.from; i < r.to; i++ {
			do(i, r.j)
		}
	}
}

// blobs joins the object cells that touch, after closing nothing and opening by r cells,
// which removes speckle and thin lines.
func (g *Ground) blobs(mask *bitmap, r int) []blob {
	open := mask.shrunk(r).grown(r)
	open.and(mask)
	var out []blob
	for _, p := range open.filled().parts() {
		out = append(out, blob{p, p.atBorder(g.w, g.h) || g.meetsUnseen(p)})
	}
	return out
}

// meetsUnseen reports whether a part lies next to cells that are not in the picture.
func (g *Ground) meetsUnseen(p part) bool {
	for _, r := range p.runs {
		for i := r.from; i < r.to; i++ {
			if !g.seen.at(i, r.j-1) || !g.seen.at(i, r.j+1) {
				return true
			}
		}
		if g.seen.next(r.j, r.from-1, false) <= r.to {
			return true
		}
	}
	return false
}

// A box is the smallest rectangle round a blob: middle, direction of its first side, sides.
type box struct{ x, y, phi, a, b, fill float64 }

func (g *Ground) boxOf(b blob) box {
	hull := g.hull(b)
	best := box{a: math.Inf(1), b: 1}
	try := func(phi float64) {
		s, c := math.Sincos(phi)
		p0, p1, q0, q1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, v := range hull {
			p, q := v[0]*c+v[1]*s, -v[0]*s+v[1]*c
			p0, p1 = math.Min(p0, p), math.Max(p1, p)
			q0, q1 = math.Min(q0, q), math.Max(q1, q)
		}
		a, bb := p1-p0+groundCell, q1-q0+groundCell
		if a*bb < best.a*best.b {
			mp, mq := (p0+p1)/2, (q0+q1)/2
			best = box{mp*c - mq*s, mp*s + mq*c, phi, a, bb, float64(b.cells) * groundCell * groundCell / (a * bb)}
		}
	}
	for d := 0.0; d < 90; d += 0.5 {
		try(d * math.Pi / 180)
	}
	return best
}

// hull is the convex hull of a blob's cells by Andrew's monotone chain (1979), mm.
func (g *Ground) hull(b blob) [][2]float64 {
	type span struct{ lo, hi int }
	rows := make([]span, g.h)
	for j := range rows {
		rows[j] = span{g.w, -1}
	}
	for _, r := range b.runs {
		rows[r.j].lo, rows[r.j].hi = min(rows[r.j].lo, r.from), max(rows[r.j].hi, r.to-1)
	}
	var lower, upper [][2]float64
	turn := func(c [][2]float64, p [2]float64, sign float64) [][2]float64 {
		for len(c) > 1 {
			a, b := c[len(c)-2], c[len(c)-1]
			if sign*((b[0]-a[0])*(p[1]-a[1])-(b[1]-a[1])*(p[0]-a[0])) > 0 {
				break
			}
			c = c[:len(c)-1]
		}
		return append(c, p)
	}
	for j, r := range rows {
		if r.hi < 0 {
			continue
		}
		y := g.y0 + float64(j)*groundCell
		lower = turn(lower, [2]float64{g.x0 + float64(r.lo)*groundCell, y}, -1)
		upper = turn(upper, [2]float64{g.x0 + float64(r.hi)*groundCell, y}, 1)
	}
	return append(lower, upper...)
}

// ByAreas finds the hinge among the objects on the map. Several candidates may come back,
// likeliest first.
func (g *Ground) ByAreas(limits []float32) []Hinge {
	var found []Hinge
	for _, limit := range limits {
		mask := g.objectsAt(limit)
		// Opened by 1.5 mm; by 3 mm for coarse speckle; or closed by 5 mm first, where only a
		// hinge's edges, holes and barrel stand out from a ground of its own colour.
		for _, v := range [][2]int{{0, 3}, {0, 6}, {10, 6}} {
			m := mask
			if v[0] > 0 {
				m = mask.grown(v[0]).filled().shrunk(v[0])
			}
			for _, b := range g.blobs(m, v[1]) {
				area := float64(b.cells) * groundCell * groundCell
				if area < LeastHinge*LeastLeaf {
					continue
				}
				bx := g.boxOf(b)
				if bx.fill < 0.55 || math.Max(bx.a, bx.b) > MostHinge || math.Max(bx.a, bx.b) < LeastHinge || math.Min(bx.a, bx.b) < LeastLeaf {
					continue
				}
				if h, ok := g.readBox(bx, b); ok {
					g.tighten(b, &h)
					h.CutOff = b.border
					h.Score *= bx.fill
					found = append(found, h)
				}
			}
		}
	}
	slices.SortStableFunc(found, func(a, b Hinge) int { return cmp.Compare(b.Score, a.Score) })
	return found
}

// LeastBarrel and MostBarrel are between what diameters a barrel is looked for, mm: those of the trade run
// from 8 to 18 (common practice, no source).
const (
	LeastBarrel = 7.0
	MostBarrel  = 20.0
)

// readBox decides which way the barrel runs and where, from the shading of the box.
func (g *Ground) readBox(bx box, bl blob) (Hinge, bool) {
	var best Hinge
	for turn := range 2 {
		phi, h, w := bx.phi, bx.a, bx.b
		if turn == 1 {
			phi, h, w = bx.phi+math.Pi/2, bx.b, bx.a
		}
		if h < LeastHinge {
			continue
		}
		for _, c := range append(g.barrelAcross(bx, phi, h, w), g.singleLeaf(bx, bl, phi, h, w)...) {
			if c.Score > best.Score {
				best = c
			}
		}
	}
	return best, best.Score > 0
}

// singleLeaf looks for a leaf without its mate: along one long side stand knuckles with
// spaces between them, the other is whole.
func (g *Ground) singleLeaf(bx box, bl blob, phi, h, w float64) []Hinge {
	if w < 0.3*h || w > 0.8*h {
		return nil
	}
	s, c := math.Sincos(phi)
	bins := int(h/2) + 1
	in := [2][]bool{make([]bool, bins), make([]bool, bins)}
	const deep = 2.5 // mm from the side: within a knuckle, away from the leaf and its shadow
	bl.each(func(i, j int) {
		x, y := g.x0+float64(i)*groundCell-bx.x, g.y0+float64(j)*groundCell-bx.y
		p, q := x*c+y*s, -x*s+y*c
		k := int((p + h/2) / 2)
		if k < 0 || k >= bins {
			return
		}
		if math.Abs(q-(w/2-deep)) < 0.6 {
			in[0][k] = true
		}
		if math.Abs(q+(w/2-deep)) < 0.6 {
			in[1][k] = true
		}
	})
	share := func(b []bool) float64 {
		n := 0
		for _, v := range b[bins/10 : bins-bins/10] {
			if v {
				n++
			}
		}
		return float64(n) / float64(bins-2*(bins/10))
	}
	runs := func(b []bool) int {
		n := 0
		for k, v := range b {
			if v && (k == 0 || !b[k-1]) {
				n++
			}
		}
		return n
	}
	var out []Hinge
	for side := range 2 {
		open, whole := share(in[side]), share(in[1-side])
		if whole < 0.95 || open > 0.85 || open < 0.15 || runs(in[side]) > 4 {
			continue
		}
		sign := 1.0 // the barrel lies towards +q
		if side == 1 {
			sign = -1
		}
		const d = 10.5 // mm, a barrel's usual diameter; refined later
		q := sign * (w/2 - d/2)
		hg := Hinge{Cx: bx.x - q*s, Cy: bx.y + q*c, Phi: phi, Height: h, Barrel: d, Score: 10 * (whole - open)}
		// Side 0 of width lies at phi + 90°, which is +q.
		if side == 0 {
			hg.Width[1] = w - d/2
		} else {
			hg.Width[0] = w - d/2
		}
		out = append(out, hg)
	}
	return out
}

// barrelAcross looks across the box, square to phi, at the median shading along phi: the
// barrel is a band with strong steps at both its edges and shading inside, the leaves are
// even (medians pass over holes and rust).
func (g *Ground) barrelAcross(bx box, phi, h, w float64) []Hinge {
	s, c := math.Sincos(phi)
	n := int(w/groundCell) + 1
	prof := make([]float64, n)
	var col []float64
	for k := range n {
		q := -w/2 + float64(k)*groundCell
		col = col[:0]
		for p := -0.42 * h; p <= 0.42*h; p += 2 * groundCell {
			i, j := g.cell(bx.x+p*c-q*s, bx.y+p*s+q*c)
			if i < 0 || j < 0 || i >= g.w || j >= g.h {
				continue
			}
			o := j*g.w + i
			col = append(col, float64(g.r[o]+g.g[o]+g.b[o])/3)
		}
		if len(col) == 0 {
			return nil
		}
		prof[k] = geom.Pick(col, len(col)/2)
	}
	steps := make([]float64, n)
	for k := 1; k < n-1; k++ {
		steps[k] = math.Abs(prof[k+1] - prof[k-1])
	}
	// Two leaves: the band lies in the middle. Score: variation within the band against the
	// rest of the box (edges of the box left out).
	var out []Hinge
	margin := int(4 / groundCell)
	if n < 4*margin {
		return nil
	}
	sum := make([]float64, n+1)
	for k := range n {
		v := steps[k]
		if k < margin || k >= n-margin {
			v = 0
		}
		sum[k+1] = sum[k] + v
	}
	within := func(a, b float64) float64 { // variation between a and b mm from the middle
		i := min(max(int((a+w/2)/groundCell), 0), n)
		j := min(max(int((b+w/2)/groundCell), 0), n)
		return sum[j] - sum[i]
	}
	all := sum[n] + 1e-9
	if w >= 0.55*h && w >= 45 {
		var b Hinge
		for off := -4.0; off <= 4.001; off += groundCell {
			for d := LeastBarrel; d <= MostBarrel; d += groundCell {
				in := within(off-d/2-1, off+d/2+1)
				// The band's own two edges, within a millimetre.
				e := math.Min(within(off-d/2-1, off-d/2+1), within(off+d/2-1, off+d/2+1))
				rest := (all - in) / (w - d - 10)
				dens := in / (d + 2)
				sc := dens / (rest + 0.15) * e / (e + 4) * math.Exp(-off*off/18-d*d/1600)
				if sc > b.Score {
					b = Hinge{Cx: bx.x - off*s, Cy: bx.y + off*c, Phi: phi, Height: h, Barrel: d, Score: sc}
					b.Width = [2]float64{w/2 - off, w/2 + off}
				}
			}
		}
		if b.Score > 0 {
			out = append(out, b)
		}
	}
	return out
}

// tighten takes the ends and outer edges from the blob itself, away from the barrel and its
// pin tips and from the corners: medians over rows and columns.
func (g *Ground) tighten(bl blob, h *Hinge) {
	s, c := math.Sincos(h.Phi)
	const bin = 1.0 // mm
	n := int(MostHinge*2/bin) + 1
	type span struct{ lo, hi float64 }
	cols := make([]span, n)
	for i := range n {
		cols[i] = span{math.Inf(1), math.Inf(-1)}
	}
	for _, r := range bl.runs {
		x, y := g.x0+float64(r.from)*groundCell-h.Cx, g.y0+float64(r.j)*groundCell-h.Cy
		p, q := x*c+y*s, (-x*s+y*c)/bin+float64(n/2)+0.5
		for range r.to - r.from {
			if k := int(q); q >= 0 && k < n {
				sp := &cols[k]
				sp.lo, sp.hi = min(sp.lo, p), max(sp.hi, p)
			}
			p, q = p+c*groundCell, q-s*groundCell/bin
		}
	}
	var lo, hi []float64
	for side, w := range h.Width {
		if w == 0 {
			continue
		}
		sign := 1 - 2*float64(side)
		for q := h.Barrel/2 + 3; q < 0.65*w; q += bin {
			if sp := cols[int(math.Round(sign*q/bin))+n/2]; sp.hi > sp.lo {
				lo, hi = append(lo, sp.lo), append(hi, sp.hi)
			}
		}
	}
	if len(lo) < 5 {
		return
	}
	a, b := geom.Median(lo), geom.Median(hi)
	// A blob reaches over its shadow: the edge is the strongest step of the median shading
	// near where the blob ends, a little outside or up to 9 mm inside.
	const outside, inside = 1.5, 9.0
	across := func(q0, q1 float64) []float64 {
		var qs []float64
		for q := q0; q <= q1; q += groundCell {
			qs = append(qs, q)
		}
		return qs
	}
	var cols0 []float64
	for side, w := range h.Width {
		if w > 0 {
			sign := 1 - 2*float64(side)
			for _, q := range across(h.Barrel/2+3, 0.65*w) {
				cols0 = append(cols0, sign*q)
			}
		}
	}
	at := func(p, q float64) (x, y float64) { return h.Cx + p*c - q*s, h.Cy + p*s + q*c }
	b = g.strongest(b-inside, b+outside, cols0, at)
	a = g.strongest(a-outside, a+inside, cols0, at)
	h.Height = b - a
	mid := (a + b) / 2
	rowsP := across(mid-0.3*h.Height, mid+0.3*h.Height)
	turned := func(q, p float64) (x, y float64) { return at(p, q) }
	if w := h.Width[0]; w > 0 {
		h.Width[0] = g.strongest(w-inside, w+outside, rowsP, turned)
	}
	if w := h.Width[1]; w > 0 {
		h.Width[1] = -g.strongest(-w-outside, -w+inside, rowsP, turned)
	}
	h.Cx, h.Cy = at(mid, 0)
}

// strongest gives the place t between lo and hi where the median colour over all u steps
// most; at maps (t, u) to the table.
func (g *Ground) strongest(lo, hi float64, us []float64, at func(t, u float64) (x, y float64)) float64 {
	n := int((hi-lo)/groundCell) + 1
	prof := make([][3]float64, n)
	var col [3][]float64
	for k := range n {
		for ch := range col {
			col[ch] = col[ch][:0]
		}
		for _, u := range us {
			i, j := g.cell(at(lo+float64(k)*groundCell, u))
			if !g.seen.marked(i, j) {
				continue
			}
			o := j*g.w + i
			col[0], col[1], col[2] = append(col[0], float64(g.r[o])), append(col[1], float64(g.g[o])), append(col[2], float64(g.b[o]))
		}
		for ch := range col {
			prof[k][ch] = geom.Median(col[ch])
		}
	}
	best, at0 := 0.0, (lo+hi)/2
	for k := 1; k < n-1; k++ {
		var d float64
		for ch := range 3 {
			d += math.Abs(prof[k+1][ch] - prof[k-1][ch])
		}
		if d > best {
			best, at0 = d, lo+float64(k)*groundCell
		}
	}
	return at0
}

// Middle is the middle of a hinge's leaves.
func (r Hinge) Middle() (x, y float64) {
	s, c := math.Sincos(r.Phi)
	off := (r.Width[0] - r.Width[1]) / 2
	return r.Cx - off*s, r.Cy + off*c
}
