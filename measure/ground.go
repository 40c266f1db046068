package measure

import (
	"math"
	"slices"
)

// The hinge is looked for on a map of the table: cells of groundCell millimetres seen from
// straight above, at the height of a typical leaf's face.
const (
	groundCell   = 0.5 // mm; a leaf's swage and a hole's rim span several cells
	groundHeight = 2.5 // mm; between the outer edge's face (2–3.5 mm) and the table
	groundLimit  = 420 // mm; the map's largest side: beyond it nothing is near the card
)

// A ground is the map: x0, y0 is the world place of cell (0, 0)'s centre.
type ground struct {
	w, h   int
	x0, y0 float64

	cellSize float64 // mm
	seen     []bool  // the cell lies in the picture
	r, g, b  []float32
	away     []float32 // squared distance from the look of the surface that the card lies on
}

func (g *ground) cell(x, y float64) (i, j int) {
	return int(math.Round((x - g.x0) / groundCell)), int(math.Round((y - g.y0) / groundCell))
}

// mapGround samples a reduced picture through the camera.
func mapGround(f *frame, cam *camera) *ground {
	// The picture's footprint on the table, kept to groundLimit around the card.
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	pl := level(groundHeight)
	for k := range 40 {
		t := float64(k%10) / 9
		var p Pixel
		switch k / 10 {
		case 0:
			p = Pixel{t * float64(f.w), 0}
		case 1:
			p = Pixel{t * float64(f.w), float64(f.h)}
		case 2:
			p = Pixel{0, t * float64(f.h)}
		default:
			p = Pixel{float64(f.w), t * float64(f.h)}
		}
		x := cam.onto(p, pl)
		for a := range 2 {
			v := math.Min(math.Max(x[a], -groundLimit/2), groundLimit/2)
			lo[a], hi[a] = math.Min(lo[a], v), math.Max(hi[a], v)
		}
	}
	g := &ground{x0: lo[0], y0: lo[1], cellSize: groundCell}
	g.w, g.h = int((hi[0]-lo[0])/groundCell)+1, int((hi[1]-lo[1])/groundCell)+1
	n := g.w * g.h
	g.seen, g.away = make([]bool, n), make([]float32, n)
	g.r, g.g, g.b = make([]float32, n), make([]float32, n), make([]float32, n)
	scale := cam.pxPerMM(vec3{0, 0, groundHeight})
	red := max(1, int(scale*groundCell))
	if red > 1 {
		red &^= 1 // even: chroma is often kept at half size
	}
	s := f.reduce(red)
	for j := range g.h {
		for i := range g.w {
			p := cam.project(vec3{g.x0 + float64(i)*groundCell, g.y0 + float64(j)*groundCell, groundHeight})
			x, y := p.X/float64(red)-0.5, p.Y/float64(red)-0.5
			if !(x >= 0 && y >= 0 && x < float64(s.w-1) && y < float64(s.h-1)) {
				continue
			}
			o := j*g.w + i
			g.seen[o] = true
			xi, yi := int(x), int(y)
			fx, fy := float32(x-float64(xi)), float32(y-float64(yi))
			k := yi*s.w + xi
			mix := func(a []float32) float32 {
				return (a[k]*(1-fx)+a[k+1]*fx)*(1-fy) + (a[k+s.w]*(1-fx)+a[k+s.w+1]*fx)*fy
			}
			g.r[o], g.g[o], g.b[o] = mix(s.r), mix(s.g), mix(s.b)
		}
	}
	return g
}

// A surfaceModel is how the table looks: each channel a quadratic in the place (light falls
// off, cameras shade their corners), and the covariance of what remains (grain, speckle).
type surfaceModel struct {
	coef [3][6]float64
	inv  [9]float64 // inverse covariance
}

func surfaceTerms(x, y float64) [6]float64 {
	x, y = x/150, y/150
	return [6]float64{1, x, y, x * x, x * y, y * y}
}

func (m *surfaceModel) distance2(x, y, r, g, b float64) float64 {
	t := surfaceTerms(x, y)
	d := [3]float64{r, g, b}
	for c := range 3 {
		for k := range 6 {
			d[c] -= m.coef[c][k] * t[k]
		}
	}
	var s float64
	for i := range 3 {
		for j := range 3 {
			s += d[i] * m.inv[i*3+j] * d[j]
		}
	}
	return s
}

// findObjects marks what does not look like the surface round the card. The model starts
// from a ring round the card and grows over everything that resembles it.
func (g *ground) findObjects() {
	const near, far = 3, 14 // mm: past the card's own shadow, before the next object
	half := g.half()
	in := make([]bool, half.w*half.h)
	var grey []float64
	half.each(func(o int, x, y float64) {
		d := outlineDistance(x, y, cardLong/2, cardShort/2, cardRadius)
		if d > near && d < far {
			in[o] = true
			grey = append(grey, float64(half.r[o]+half.g[o]+half.b[o]))
		}
	})
	if len(grey) < 100 {
		return
	}
	slices.Sort(grey)
	mid := grey[len(grey)/2]
	spread := 1.4826 * medianAbs(grey, mid)
	for o := range in {
		if in[o] && math.Abs(float64(half.r[o]+half.g[o]+half.b[o])-mid) > 3*spread+6 {
			in[o] = false
		}
	}
	var m surfaceModel
	// A cell is the surface's within this many standard deviations, squared, of three
	// channels: chi-square 0.999 is 16.3; grain is not normal, so a little wider.
	const limit = 20
	for round := range 8 {
		m = half.fitSurface(in, round < 2)
		half.each(func(o int, x, y float64) {
			in[o] = m.distance2(x, y, float64(half.r[o]), float64(half.g[o]), float64(half.b[o])) < limit &&
				outlineDistance(x, y, cardLong/2, cardShort/2, cardRadius) > near
		})
	}
	// Cells are noisier than their means of four, which the model knows: average first.
	r, gr, b := g.boxMean(g.r, 1), g.boxMean(g.g, 1), g.boxMean(g.b, 1)
	g.each(func(o int, x, y float64) {
		if outlineDistance(x, y, cardLong/2, cardShort/2, cardRadius) > near {
			g.away[o] = float32(m.distance2(x, y, float64(r[o]), float64(gr[o]), float64(b[o])))
		}
	})
}

// each visits the cells that lie in the picture.
func (g *ground) each(do func(o int, x, y float64)) {
	for j := range g.h {
		y := g.y0 + float64(j)*g.cellSize
		for i := range g.w {
			if o := j*g.w + i; g.seen[o] {
				do(o, g.x0+float64(i)*g.cellSize, y)
			}
		}
	}
}

// half is the map with cells of twice the size, each the mean of four.
func (g *ground) half() *ground {
	h := &ground{w: g.w / 2, h: g.h / 2, cellSize: 2 * g.cellSize, x0: g.x0 + g.cellSize/2, y0: g.y0 + g.cellSize/2}
	n := h.w * h.h
	h.seen = make([]bool, n)
	h.r, h.g, h.b = make([]float32, n), make([]float32, n), make([]float32, n)
	for j := range h.h {
		for i := range h.w {
			a, o := 2*j*g.w+2*i, j*h.w+i
			b, c, d := a+1, a+g.w, a+g.w+1
			h.seen[o] = g.seen[a] && g.seen[b] && g.seen[c] && g.seen[d]
			h.r[o] = (g.r[a] + g.r[b] + g.r[c] + g.r[d]) / 4
			h.g[o] = (g.g[a] + g.g[b] + g.g[c] + g.g[d]) / 4
			h.b[o] = (g.b[a] + g.b[b] + g.b[c] + g.b[d]) / 4
		}
	}
	return h
}

// surfaceLimits are the squared distances beyond which a cell is no longer the surface's:
// generous to grain and speckle, then finding white on white; and last, where neither shows
// a hinge, down to what noise leaves.
var surfaceLimits = [][]float32{{20, 4}, {1.5, 0.7}}

// objectsAt marks the cells that differ from the surface by more than limit.
func (g *ground) objectsAt(limit float32) []bool {
	m := make([]bool, g.w*g.h)
	for o, v := range g.away {
		m[o] = g.seen[o] && v >= limit
	}
	return m
}

// fitSurface fits the model to the cells in, level only while flat.
func (g *ground) fitSurface(in []bool, flat bool) surfaceModel {
	var m surfaceModel
	terms := 6
	if flat {
		terms = 1
	}
	normal := make([]float64, terms*terms)
	rhs := [3][]float64{make([]float64, terms), make([]float64, terms), make([]float64, terms)}
	n := 0
	visit := func(do func(t [6]float64, v [3]float64)) {
		g.each(func(o int, x, y float64) {
			if in[o] {
				do(surfaceTerms(x, y), [3]float64{float64(g.r[o]), float64(g.g[o]), float64(g.b[o])})
			}
		})
	}
	visit(func(t [6]float64, v [3]float64) {
		n++
		for a := range terms {
			for b := range terms {
				normal[a*terms+b] += t[a] * t[b]
			}
			for c := range 3 {
				rhs[c][a] += t[a] * v[c]
			}
		}
	})
	for a := range terms {
		normal[a*terms+a] += 1e-3 * float64(n+1)
		if a == 0 {
			normal[0] -= 1e-3 * float64(n+1) * 0.999
		}
	}
	for c := range 3 {
		if x, ok := solveSymmetric(normal, rhs[c]); ok {
			copy(m.coef[c][:], x)
		}
	}
	var cov [9]float64
	visit(func(t [6]float64, v [3]float64) {
		for c := range 3 {
			for k := range 6 {
				v[c] -= m.coef[c][k] * t[k]
			}
		}
		for a := range 3 {
			for b := range 3 {
				cov[a*3+b] += v[a] * v[b] / float64(max(n, 1))
			}
		}
	})
	// The floor is one grey level: below it only noise, shading and JPEG blocks differ.
	for a := range 3 {
		cov[a*3+a] += 1
	}
	if inv, ok := inverseSymmetric(cov[:], 3); ok {
		copy(m.inv[:], inv)
	}
	return m
}

// boxMean averages over (2r+1)² cells, fewer at the rim.
func (g *ground) boxMean(a []float32, r int) []float32 {
	tmp := make([]float32, len(a))
	out := make([]float32, len(a))
	for j := range g.h {
		row, t := a[j*g.w:(j+1)*g.w], tmp[j*g.w:(j+1)*g.w]
		for i := range t {
			lo, hi := max(0, i-r), min(g.w-1, i+r)
			var s float32
			for _, v := range row[lo : hi+1] {
				s += v
			}
			t[i] = s / float32(hi-lo+1)
		}
	}
	for j := range g.h {
		lo, hi := max(0, j-r), min(g.h-1, j+r)
		row := out[j*g.w : (j+1)*g.w]
		for k := lo; k <= hi; k++ {
			for i, v := range tmp[k*g.w : (k+1)*g.w] {
				row[i] += v
			}
		}
		for i := range row {
			row[i] /= float32(hi - lo + 1)
		}
	}
	return out
}

// medianAbs is the median of |v − mid|.
func medianAbs(v []float64, mid float64) float64 {
	d := make([]float64, len(v))
	for i := range v {
		d[i] = math.Abs(v[i] - mid)
	}
	slices.Sort(d)
	if len(d) == 0 {
		return 0
	}
	return d[len(d)/2]
}
