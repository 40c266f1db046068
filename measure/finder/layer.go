package finder

import "math"

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

// mostChannels are the most that a grid has.
const mostChannels = 160

// A mixing is a 1 × 1 convolution: each place's channels mixed.
type mixing struct {
	in, out int
	fours   []four // of what comes out
	cut     bool   // what comes out below zero is zero
}

// A four is what four outputs side by side are mixed from: of each input their weights, and their offsets. Four sums stay
// in registers.
type four struct {
	w [][4]float32
	b [4]float32
}

// run mixes the places of src into dst.
func (m *mixing) run(dst, src []float32) {
	type input struct {
		v float32
		k int32
	}
	var room [mostChannels + 1]input
	for ; len(src) > 0; src, dst = src[m.in:], dst[m.out:] {
		// Half of what comes out of a blur is zero and would add nothing.
		n := 0
		for k, v := range src[:m.in] {
			room[n] = input{v, int32(k)}
			bits := math.Float32bits(v)
			n += int((bits | -bits) >> 31) // one, unless v is zero
		}
		inputs := room[:n]
		for q := range m.fours {
			w := m.fours[q].w
			s0, s1, s2, s3 := m.fours[q].b[0], m.fours[q].b[1], m.fours[q].b[2], m.fours[q].b[3]
			for _, x := range inputs {
				w := &w[x.k]
				s0 += x.v * w[0]
				s1 += x.v * w[1]
				s2 += x.v * w[2]
				s3 += x.v * w[3]
			}
			if m.cut {
				s0, s1, s2, s3 = cut(s0), cut(s1), cut(s2), cut(s3)
			}
			out := (*[4]float32)(dst[4*q:])
			out[0], out[1], out[2], out[3] = s0, s1, s2, s3
		}
	}
}

// over mixes the places of a grid.
func (m *mixing) over(dst, src *grid) {
	for y := range src.h {
		m.run(dst.row(y), src.row(y))
	}
}

// cut is v, or zero where that is below; by its bits, as no branch could be foretold.
func cut(v float32) float32 {
	bits := math.Float32bits(v)
	return math.Float32frombits(bits &^ uint32(int32(bits)>>31))
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
		// Each column of three is the last of one place, the middle of the next and the first of the one after that.
		i, next := ch+c, ch+2*c
		t, m, l := top[ch], mid[ch], low[ch]
		first := b + w[0]*t + w[3]*m + w[6]*l
		t, m, l = top[i], mid[i], low[i]
		second := first + w[1]*t + w[4]*m + w[7]*l
		first = b + w[0]*t + w[3]*m + w[6]*l
		for j := ch; j < len(dst); j, next = j+c, next+c {
			t, m, l := top[next], mid[next], low[next]
			dst[j] = cut(second + w[2]*t + w[5]*m + w[8]*l)
			second = first + w[1]*t + w[4]*m + w[7]*l
			first = b + w[0]*t + w[3]*m + w[6]*l
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
