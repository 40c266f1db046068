package locate

import (
	"math"
	"math/bits"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"
)

// The hinge is looked for on a map of the table: cells of groundCell millimetres seen from
// straight above, at the height of a typical leaf's face.
const (
	groundCell   = 0.5 // mm; a leaf's swage and a hole's rim span several cells
	groundHeight = 2.5 // mm; between the outer edge's face (2–3.5 mm) and the table
	groundLimit  = 500 // mm; the map's largest side: half a card, a gap of 20 mm and the largest hinge, corner to corner, to either side
)

// A Ground is the map: x0, y0 is the world place of cell (0, 0)'s centre.
type Ground struct {
	w, h   int
	x0, y0 float64

	cellSize float64 // mm
	seen     *bitmap // the cells that lie in the picture
	r, g, b  []float32
	away     []float32 // squared distance from the look of the surface that the card lies on
}

func (g *Ground) cell(x, y float64) (i, j int) {
	return int(math.Floor((x-g.x0)/groundCell + 0.5)), int(math.Floor((y-g.y0)/groundCell + 0.5))
}

// Map samples a reduced picture through the camera.
func Map(f *picture.Frame, cam *geom.Camera) *Ground {
	// The picture's footprint on the table, kept to the limit around the card.
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	pl := geom.Level(groundHeight)
	for k := range 40 {
		t := float64(k%10) / 9
		var p measure.Pixel
		switch k / 10 {
		case 0:
			p = measure.Pixel{X: t * float64(f.W), Y: 0}
		case 1:
			p = measure.Pixel{X: t * float64(f.W), Y: float64(f.H)}
		case 2:
			p = measure.Pixel{X: 0, Y: t * float64(f.H)}
		default:
			p = measure.Pixel{X: float64(f.W), Y: t * float64(f.H)}
		}
		x := cam.Onto(p, pl)
		for a := range 2 {
			v := math.Min(math.Max(x[a], -groundLimit/2), groundLimit/2)
			lo[a], hi[a] = math.Min(lo[a], v), math.Max(hi[a], v)
		}
	}
	g := newGround(int((hi[0]-lo[0])/groundCell)+1, int((hi[1]-lo[1])/groundCell)+1, lo[0], lo[1], groundCell)
	g.away = make([]float32, g.w*g.h)
	scale := cam.PxPerMM(geom.Vec3{0, 0, groundHeight})
	red := max(1, int(scale*groundCell))
	if red > 1 {
		red &^= 1 // even: chroma is often kept at half size
	}
	// The copy that the card was found on will do where it is finer and reading between its pixels
	// still takes in a whole cell.
	if n := f.Reduction(); n < red && red < 2*n {
		red = n
	}
	s := f.Reduce(red)
	across := geom.Vec3{cam.R[0][0], cam.R[1][0], cam.R[2][0]}.Mul(groundCell) // from cell to cell
	// Over so many cells, 2 mm, perspective and distortion bend a row by some thousandths of a pixel.
	const straight = 4
	for j := range g.h {
		first := cam.R.Apply(geom.Vec3{g.x0, g.y0 + float64(j)*groundCell, groundHeight}).Add(cam.T)
		at := func(i int) (x, y float64) {
			p := cam.Image(first.Add(across.Mul(float64(i))))
			return p.X/float64(red) - 0.5, p.Y/float64(red) - 0.5
		}
		var x0, y0, dx, dy float64
		x1, y1 := at(0)
		for i := range g.w {
			if i%straight == 0 {
				x0, y0 = x1, y1
				x1, y1 = at(i + straight)
				dx, dy = (x1-x0)/straight, (y1-y0)/straight
			}
			x, y := x0+float64(i%straight)*dx, y0+float64(i%straight)*dy
			if !(x >= 0 && y >= 0 && x < float64(s.W-1) && y < float64(s.H-1)) {
				continue
			}
			o := j*g.w + i
			g.seen.set(i, j)
			xi, yi := int(x), int(y)
			fx, fy := float32(x-float64(xi)), float32(y-float64(yi))
			k := yi*s.W + xi
			m := [4]float32{(1 - fx) * (1 - fy), fx * (1 - fy), (1 - fx) * fy, fx * fy}
			g.r[o], g.g[o], g.b[o] = blend(s.R, k, s.W, &m), blend(s.G, k, s.W, &m), blend(s.B, k, s.W, &m)
		}
	}
	return g
}

// blend is the mean of the four samples from k on of a plane of rows of w, weighted.
func blend(a []float32, k, w int, m *[4]float32) float32 {
	top, bottom := (*[2]float32)(a[k:]), (*[2]float32)(a[k+w:])
	return m[0]*top[0] + m[1]*top[1] + m[2]*bottom[0] + m[3]*bottom[1]
}

func newGround(w, h int, x0, y0, cellSize float64) *Ground {
	return &Ground{w: w, h: h, x0: x0, y0: y0, cellSize: cellSize, seen: newBitmap(w, h),
		r: make([]float32, w*h), g: make([]float32, w*h), b: make([]float32, w*h)}
}

// A surfaceModel is how the table looks: each channel a quadratic in the place (light falls
// off, cameras shade their corners), and the covariance of what remains (grain, speckle).
type surfaceModel struct {
	coef [3][6]float64
	inv  [9]float64 // inverse covariance
}

// surfaceUnit is what places are divided by before they are squared, mm.
const surfaceUnit = 150

// terms are the quadratic's.
func surfaceTerms(x, y float64) [6]float64 {
	x, y = x/surfaceUnit, y/surfaceUnit
	return [6]float64{1, x, y, x * x, x * y, y * y}
}

// A surfaceRow is the model along a row of the map, where y is fixed.
type surfaceRow struct {
	level, slope, bend [3]float64 // of each channel by x, mm
	inv                *[9]float64
}

func (m *surfaceModel) row(y float64) surfaceRow {
	y /= surfaceUnit
	r := surfaceRow{inv: &m.inv}
	for c := range 3 {
		k := &m.coef[c]
		r.level[c], r.slope[c], r.bend[c] = k[0]+k[2]*y+k[5]*y*y, (k[1]+k[4]*y)/surfaceUnit, k[3]/(surfaceUnit*surfaceUnit)
	}
	return r
}

// distance2 is the squared distance of a colour from the model's at x, by its covariance.
func (m *surfaceRow) distance2(x float64, r, g, b float32) float64 {
	d0 := float64(r) - (m.level[0] + x*(m.slope[0]+x*m.bend[0]))
	d1 := float64(g) - (m.level[1] + x*(m.slope[1]+x*m.bend[1]))
	d2 := float64(b) - (m.level[2] + x*(m.slope[2]+x*m.bend[2]))
	v := m.inv
	return d0*(v[0]*d0+2*(v[1]*d1+v[2]*d2)) + d1*(v[4]*d1+2*v[5]*d2) + d2*v[8]*d2
}

// offCard marks the seen cells that lie farther than near from where the card is, mm.
func (g *Ground) offCard(near float64) *bitmap {
	m := newBitmap(g.w, g.h)
	copy(m.words, g.seen.words)
	for j := range g.h {
		y := g.y0 + float64(j)*g.cellSize
		if math.Abs(y) > measure.ID1Short/2+near {
			continue
		}
		for i := range g.w {
			if x := g.x0 + float64(i)*g.cellSize; geom.OutlineDistance(x, y, measure.ID1Long/2, measure.ID1Short/2, measure.ID1Radius) <= near {
				m.row(j)[i>>6] &^= 1 << (i & 63)
			}
		}
	}
	return m
}

// FindObjects marks what does not look like the surface round the card. The model starts
// from a ring round the card and grows over everything that resembles it.
func (g *Ground) FindObjects() {
	const near, far = 3, 14 // mm: past the card's own shadow, before the next object
	half := g.half()
	ring := half.offCard(near)
	beyond := half.offCard(far)
	for k := range ring.words {
		ring.words[k] &^= beyond.words[k]
	}
	var grey []float64
	light := func(o int) float64 { return float64(half.r[o] + half.g[o] + half.b[o]) }
	ring.each(func(i, j int) { grey = append(grey, light(j*half.w+i)) })
	if len(grey) < 100 {
		return
	}
	mid := geom.Pick(grey, len(grey)/2)
	limit := 3*1.4826*medianAbs(grey, mid) + 6
	in := newBitmap(half.w, half.h) // the cells taken for the surface's
	var sums surfaceSums
	ring.each(func(i, j int) {
		if math.Abs(light(j*half.w+i)-mid) <= limit {
			in.set(i, j)
			half.count(&sums, i, j, 1)
		}
	})
	g.away = g.awayFrom(half, in, &sums)
}

// BeyondSheet takes what findObjects found unlike the sheet that a printed card is on for
// another surface, and gives the map with what looks like neither for objects, then with what
// doesn't look like that one. A hinge lies wholly in the picture, so that surface is what
// reaches the picture's rim.
func (g *Ground) BeyondSheet() []*Ground {
	const rim = 8 // mm
	half := g.half()
	reach := int(rim / half.cellSize)
	seen := func(i, j int) bool { return i >= 0 && j >= 0 && i < half.w && j < half.h && half.seen.at(i, j) }
	// The commonest colour there, in steps of an eighth of the scale.
	step := func(v float32) int { return min(max(int(v)/32, 0), 7) }
	type place struct{ i, j, bin int }
	var places []place
	var count [512]int
	half.offCard(rim).each(func(i, j int) {
		if g.away[2*j*g.w+2*i] < SurfaceLimits[0][0] || seen(i-reach, j) && seen(i+reach, j) && seen(i, j-reach) && seen(i, j+reach) {
			return
		}
		o := j*half.w + i
		bin := step(half.r[o])<<6 | step(half.g[o])<<3 | step(half.b[o])
		places = append(places, place{i, j, bin})
		count[bin]++
	})
	if len(places) < 100 {
		return nil
	}
	most := 0
	for k := range count {
		if count[k] > count[most] {
			most = k
		}
	}
	var mean [3]float32
	for _, p := range places {
		if o := p.j*half.w + p.i; p.bin == most {
			n := float32(count[most])
			mean[0], mean[1], mean[2] = mean[0]+half.r[o]/n, mean[1]+half.g[o]/n, mean[2]+half.b[o]/n
		}
	}
	in := newBitmap(half.w, half.h)
	var sums surfaceSums
	near := func(v, mean float32) bool { return v > mean-32 && v < mean+32 }
	for _, p := range places {
		if o := p.j*half.w + p.i; near(half.r[o], mean[0]) && near(half.g[o], mean[1]) && near(half.b[o], mean[2]) {
			in.set(p.i, p.j)
			half.count(&sums, p.i, p.j, 1)
		}
	}
	table := g.awayFrom(half, in, &sums)
	neither := make([]float32, len(table))
	for o := range table {
		neither[o] = min(table[o], g.away[o])
	}
	without := func(away []float32) *Ground {
		c := *g
		c.away = away
		return &c
	}
	return []*Ground{without(neither), without(table)}
}

// awayFrom is the squared distance of each cell from the look of a surface, of which in marks
// cells of half to begin with and sums are the sums; it grows over all that resembles it.
func (g *Ground) awayFrom(half *Ground, in *bitmap, sums *surfaceSums) []float32 {
	const near = 3 // mm: past the card's own shadow
	// A quarter of the cells tell the surface as well as all of them.
	clear := half.offCard(near)
	for j := range clear.h {
		every := uint64(0x5555555555555555)
		if j%2 > 0 {
			every = 0
		}
		for k, row := 0, clear.row(j); k < len(row); k++ {
			row[k] &= every
		}
	}
	var m surfaceModel
	for round := range 8 {
		m = sums.fit(round < 2)
		if changed := half.regrow(&m, clear, in, sums); !changed && round >= 2 {
			break
		}
	}
	// Cells are noisier than their means of four, which the model knows: average first.
	clear = g.offCard(near)
	away := make([]float32, g.w*g.h)
	mean := [3]*means{newMeans(g.r, g.w, g.h), newMeans(g.g, g.w, g.h), newMeans(g.b, g.w, g.h)}
	for j := range g.h {
		row := m.row(g.y0 + float64(j)*g.cellSize)
		red, green, blue := mean[0].row(j), mean[1].row(j), mean[2].row(j)
		for i := clear.next(j, 0, true); i < g.w; i = clear.next(j, i+1, true) {
			o := j*g.w + i
			away[o] = float32(row.distance2(g.x0+float64(i)*g.cellSize, red[i], green[i], blue[i]))
		}
	}
	return away
}

// regrow takes the clear cells that look like the surface for the surface's, and reports
// whether these are others than before.
func (g *Ground) regrow(m *surfaceModel, clear, in *bitmap, sums *surfaceSums) (changed bool) {
	// A cell is the surface's within this many standard deviations, squared, of three
	// channels: chi-square 0.999 is 16.3; grain is not normal, so a little wider.
	const limit = 20
	for j := range g.h {
		row := m.row(g.y0 + float64(j)*g.cellSize)
		from, to := clear.row(j), in.row(j)
		for k, word := range from {
			var now uint64
			for w := word; w != 0; w &= w - 1 {
				bit := bits.TrailingZeros64(w)
				i := k<<6 + bit
				o := j*g.w + i
				if row.distance2(g.x0+float64(i)*g.cellSize, g.r[o], g.g[o], g.b[o]) < limit {
					now |= 1 << bit
				}
			}
			for w := now ^ to[k]; w != 0; w &= w - 1 {
				bit := bits.TrailingZeros64(w)
				sign := 1.0
				if now>>bit&1 == 0 {
					sign = -1
				}
				g.count(sums, k<<6+bit, j, sign)
				changed = true
			}
			to[k] = now
		}
	}
	return changed
}

// half is the map with cells of twice the size, each the mean of four.
func (g *Ground) half() *Ground {
	h := newGround(g.w/2, g.h/2, g.x0+g.cellSize/2, g.y0+g.cellSize/2, 2*g.cellSize)
	for j := range h.h {
		for i := range h.w {
			if !g.seen.at(2*i, 2*j) || !g.seen.at(2*i+1, 2*j) || !g.seen.at(2*i, 2*j+1) || !g.seen.at(2*i+1, 2*j+1) {
				continue
			}
			h.seen.set(i, j)
			a, o := 2*j*g.w+2*i, j*h.w+i
			b, c, d := a+1, a+g.w, a+g.w+1
			h.r[o] = (g.r[a] + g.r[b] + g.r[c] + g.r[d]) / 4
			h.g[o] = (g.g[a] + g.g[b] + g.g[c] + g.g[d]) / 4
			h.b[o] = (g.b[a] + g.b[b] + g.b[c] + g.b[d]) / 4
		}
	}
	return h
}

// SurfaceLimits are the squared distances beyond which a cell is no longer the surface's:
// generous to grain and speckle, then finding white on white; and last, where neither shows
// a hinge, down to what noise leaves.
var SurfaceLimits = [][]float32{{20, 4}, {1.5, 0.7}}

// objectsAt marks the cells that differ from the surface by more than limit.
func (g *Ground) objectsAt(limit float32) *bitmap {
	m := newBitmap(g.w, g.h)
	for j := range g.h {
		row := m.row(j)
		for i, v := range g.away[j*g.w : (j+1)*g.w] {
			if v >= limit {
				row[i>>6] |= 1 << (i & 63)
			}
		}
	}
	m.and(g.seen)
	return m
}

// surfaceSums are the sums over cells that the surface's fit needs; adding and taking away
// cells keeps them.
type surfaceSums struct {
	n  float64
	tt [6][6]float64 // terms by terms, j ≥ i
	tv [3][6]float64 // channels by terms
	vv [3][3]float64 // channels by channels, j ≥ i
}

// count adds a cell to the sums, or with sign −1 takes it away.
func (g *Ground) count(s *surfaceSums, i, j int, sign float64) {
	o := j*g.w + i
	t := surfaceTerms(g.x0+float64(i)*g.cellSize, g.y0+float64(j)*g.cellSize)
	v := [3]float64{float64(g.r[o]), float64(g.g[o]), float64(g.b[o])}
	s.n += sign
	for a := range t {
		ta := sign * t[a]
		for b := a; b < len(t); b++ {
			s.tt[a][b] += ta * t[b]
		}
		for c := range v {
			s.tv[c][a] += ta * v[c]
		}
	}
	for a := range v {
		for b := a; b < len(v); b++ {
			s.vv[a][b] += sign * v[a] * v[b]
		}
	}
}

// fit fits the model to the cells counted, level only while flat.
func (s *surfaceSums) fit(flat bool) surfaceModel {
	var m surfaceModel
	terms := 6
	if flat {
		terms = 1
	}
	tt := func(a, b int) float64 { return s.tt[min(a, b)][max(a, b)] }
	normal := make([]float64, terms*terms)
	for a := range terms {
		for b := range terms {
			normal[a*terms+b] = tt(a, b)
		}
		// A light hold on slopes and bends, hardly any on the level.
		hold := 1e-3 * (s.n + 1)
		if a == 0 {
			hold *= 0.001
		}
		normal[a*terms+a] += hold
	}
	for c := range 3 {
		if x, ok := geom.SolveSymmetric(normal, s.tv[c][:terms]); ok {
			copy(m.coef[c][:], x)
		}
	}
	// The covariance of v − coef·t, from the sums.
	var cov [9]float64
	for a := range 3 {
		for b := range 3 {
			v := s.vv[min(a, b)][max(a, b)]
			for k := range 6 {
				v -= m.coef[a][k]*s.tv[b][k] + m.coef[b][k]*s.tv[a][k]
				for l := range 6 {
					v += m.coef[a][k] * m.coef[b][l] * tt(k, l)
				}
			}
			cov[a*3+b] = v / math.Max(s.n, 1)
		}
		// The floor is one grey level: below it only noise, shading and JPEG blocks differ.
		cov[a*3+a]++
	}
	if inv, ok := geom.InverseSymmetric(cov[:], 3); ok {
		copy(m.inv[:], inv)
	}
	return m
}

// means averages over 3 × 3 cells, fewer at the rim, row by row from the first on.
type means struct {
	a      []float32
	w, h   int
	done   int          // rows averaged along
	across [3][]float32 // the last of them, by number modulo three
	out    []float32
}

func newMeans(a []float32, w, h int) *means {
	m := &means{a: a, w: w, h: h, out: make([]float32, w)}
	for k := range m.across {
		m.across[k] = make([]float32, w)
	}
	return m
}

// row gives the means of row j, good until the next row is asked for.
func (m *means) row(j int) []float32 {
	lo, hi := max(0, j-1), min(m.h-1, j+1)
	for ; m.done <= hi; m.done++ {
		row, t := m.a[m.done*m.w:(m.done+1)*m.w], m.across[m.done%3]
		for i := 1; i+1 < len(row); i++ {
			t[i] = (row[i-1] + row[i] + row[i+1]) * (1. / 3)
		}
		for _, i := range [2]int{0, m.w - 1} {
			lo, hi := max(0, i-1), min(m.w-1, i+1)
			t[i] = 0
			for _, v := range row[lo : hi+1] {
				t[i] += v / float32(hi-lo+1)
			}
		}
	}
	n := float32(hi - lo + 1)
	if hi-lo == 2 {
		a, b, c := m.across[lo%3], m.across[(lo+1)%3], m.across[hi%3]
		for i := range m.out {
			m.out[i] = (a[i] + b[i] + c[i]) * (1. / 3)
		}
		return m.out
	}
	clear(m.out)
	for k := lo; k <= hi; k++ {
		for i, v := range m.across[k%3] {
			m.out[i] += v / n
		}
	}
	return m.out
}

// medianAbs is the median of |v − mid|.
func medianAbs(v []float64, mid float64) float64 {
	d := make([]float64, len(v))
	for i := range v {
		d[i] = math.Abs(v[i] - mid)
	}
	if len(d) == 0 {
		return 0
	}
	return geom.Pick(d, len(d)/2)
}
