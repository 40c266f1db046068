package finder

// A grid holds values of w × h places, a place's channels side by side, in a margin of zeros one place wide.
type grid struct {
	w, h, c int
	v       []float32
}

func newGrid(w, h, c int) *grid { return &grid{w, h, c, make([]float32, (w+2)*(h+2)*c)} }

// wide is row y with its margins, -1 to h.
func (g *grid) wide(y int) []float32 {
	n := (g.w + 2) * g.c
	return g.v[(y+1)*n:][:n]
}

// row is row y.
func (g *grid) row(y int) []float32 { return g.wide(y)[g.c : (g.w+1)*g.c] }

// A mixing is a 1 × 1 convolution: each place's channels mixed.
type mixing struct {
	in, out int
	w       [][4]float32 // of four outputs side by side, for each of them in turn all inputs
	b       []float32
	cut     bool // what comes out below zero is zero
}

// run mixes the places of src into dst.
func (m *mixing) run(dst, src []float32) {
	n := len(src) / m.in
	for q := 0; q < m.out; q += 4 {
		w := m.w[q/4*m.in:][:m.in]
		b := (*[4]float32)(m.b[q:])
		// Two places and four outputs at a time: that many sums stay in registers.
		for p := 0; p < n; p += 2 {
			next := min(p+1, n-1)
			x, y := src[p*m.in:][:len(w)], src[next*m.in:][:len(w)]
			x0, x1, x2, x3 := b[0], b[1], b[2], b[3]
			y0, y1, y2, y3 := x0, x1, x2, x3
			for k := range w {
				w0, w1, w2, w3 := w[k][0], w[k][1], w[k][2], w[k][3]
				v := x[k]
				x0 += v * w0
				x1 += v * w1
				x2 += v * w2
				x3 += v * w3
				v = y[k]
				y0 += v * w0
				y1 += v * w1
				y2 += v * w2
				y3 += v * w3
			}
			if m.cut {
				x0, x1, x2, x3 = cut(x0), cut(x1), cut(x2), cut(x3)
				y0, y1, y2, y3 = cut(y0), cut(y1), cut(y2), cut(y3)
			}
			*(*[4]float32)(dst[p*m.out+q:]) = [4]float32{x0, x1, x2, x3}
			*(*[4]float32)(dst[next*m.out+q:]) = [4]float32{y0, y1, y2, y3}
		}
	}
}

// over mixes the places of a grid.
func (m *mixing) over(dst, src *grid) {
	for y := range src.h {
		m.run(dst.row(y), src.row(y))
	}
}

func cut(v float32) float32 {
	if v < 0 {
		return 0
	}
	return v
}

// A blur is a 3 × 3 convolution of each channel alone; below zero is zero.
type blur struct {
	w [][9]float32 // of each channel, row by row
	b []float32
}

// run takes row y of every stride-th place and row of src.
func (o *blur) run(dst []float32, src *grid, y, stride int) {
	c := src.c
	top, mid, low := src.wide(y*stride-1), src.wide(y*stride), src.wide(y*stride+1)
	for ch := range o.w {
		w, b := &o.w[ch], o.b[ch]
		if stride == 2 {
			for i, j := ch, ch; j < len(dst); i, j = i+2*c, j+c {
				t := w[0]*top[i] + w[1]*top[i+c] + w[2]*top[i+2*c]
				m := w[3]*mid[i] + w[4]*mid[i+c] + w[5]*mid[i+2*c]
				l := w[6]*low[i] + w[7]*low[i+c] + w[8]*low[i+2*c]
				dst[j] = cut(b + t + m + l)
			}
			continue
		}
		// The window slides: two of its columns are the last place's.
		t0, m0, l0 := top[ch], mid[ch], low[ch]
		t1, m1, l1 := top[ch+c], mid[ch+c], low[ch+c]
		for j := ch; j < len(dst); j += c {
			i := j + 2*c
			t2, m2, l2 := top[i], mid[i], low[i]
			t := w[0]*t0 + w[1]*t1 + w[2]*t2
			m := w[3]*m0 + w[4]*m1 + w[5]*m2
			l := w[6]*l0 + w[7]*l1 + w[8]*l2
			dst[j] = cut(b + t + m + l)
			t0, m0, l0, t1, m1, l1 = t1, m1, l1, t2, m2, l2
		}
	}
}

// A step is a blur and a mixing, of every stride-th place and row. What comes in is added where it has the same shape.
type step struct {
	own    blur
	mix    mixing
	stride int
}

// over takes a grid; row is room for one row between.
func (s *step) over(dst, src *grid, row []float32) {
	row = row[:dst.w*src.c]
	for y := range dst.h {
		s.own.run(row, src, y, s.stride)
		out := dst.row(y)
		s.mix.run(out, row)
		if s.stride == 1 && src.c == dst.c {
			for i, v := range src.row(y) {
				out[i] += v
			}
		}
	}
}
