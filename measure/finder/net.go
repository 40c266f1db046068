package finder

import (
	_ "embed" // the weights
	"encoding/binary"
	"math"
	"slices"
	"sync"
)

// weights are the net's, as tools/finder trains and writes them: 16-bit floats (IEEE 754), little endian, in the order in
// which they are used: each convolution's weights (output, input, row, column), then its offsets.
//
//go:embed finder.bin
var weights []byte

// A net has the layers that tools/finder/net.py names.
type net struct {
	first                      mixing // of the 27 values round a place
	down1, down2, down3, down4 []step
	up3, side3, up2, side2     mixing
	up1, side1                 mixing
	join3, join2, join1        []step
	last                       mixing
}

// theNet is the one there is, its weights read once.
var theNet = sync.OnceValue(func() *net {
	r := reader{weights}
	steps := func(stride int, channels ...int) (all []step) {
		for i, out := range channels[1:] {
			all = append(all, r.step(channels[i], out, stride))
			stride = 1
		}
		return all
	}
	return &net{
		first: r.square(16),
		down1: steps(2, 16, 32, 32, 32),
		down2: steps(2, 32, 64, 64, 64),
		down3: steps(2, 64, 128, 128, 128, 128),
		down4: steps(2, 128, 160, 160, 160, 160),
		up3:   r.mixing(160, 64, false), side3: r.mixing(128, 64, false), join3: steps(1, 64, 64),
		up2: r.mixing(64, 48, false), side2: r.mixing(64, 48, false), join2: steps(1, 48, 48, 48),
		up1: r.mixing(48, 32, false), side1: r.mixing(32, 32, false), join1: steps(1, 32, 32, 32),
		last: r.mixing(32, 4*int(Channels), false),
	}
})

// A reader takes layers off the weights in turn.
type reader struct{ data []byte }

func (r *reader) take(n int) []float32 {
	v := make([]float32, n)
	for i := range v {
		v[i] = half(binary.LittleEndian.Uint16(r.data[2*i:]))
	}
	r.data = r.data[2*n:]
	return v
}

// half reads a 16-bit float that is a number. Its bits are moved to where a 32-bit float has them; what the exponents
// differ by is a factor then, for the smallest numbers, too.
func half(bits uint16) float32 {
	return math.Float32frombits(uint32(bits&0x8000)<<16|uint32(bits&0x7fff)<<13) * 0x1p112
}

func (r *reader) mixing(in, out int, cut bool) mixing {
	m := mixing{in: in, out: out, fours: make([]four, out/4), cut: cut}
	for i := range m.fours {
		m.fours[i].w = make([][4]float32, in)
	}
	for i, v := range r.take(in * out) {
		o, k := i/in, i%in
		m.fours[o/4].w[k][o%4] = v
	}
	for i, v := range r.take(out) {
		m.fours[i/4].b[i%4] = v
	}
	return m
}

// square is the first convolution, as a mixing of what lies in a square round a place: row by row, each place's colours
// side by side.
func (r *reader) square(out int) mixing {
	m := r.mixing(27, out, true)
	for _, f := range m.fours {
		stored := slices.Clone(f.w) // a colour's rows first
		for i := range f.w {
			f.w[i] = stored[i%3*9+i/3]
		}
	}
	return m
}

func (r *reader) step(in, out, stride int) step {
	s := step{own: blur{w: make([][9]float32, in)}, stride: stride}
	for i, v := range r.take(9 * in) {
		s.own.w[i/9][i%9] = v
	}
	s.own.b = r.take(in)
	s.mix = r.mixing(in, out, true)
	return s
}

// A bench is room for the net to work in, for pictures of one size.
type bench struct {
	w, h                 int
	in, a                *grid
	b, c, d, e, c48, d64 [2]*grid // by turns
	up3, up2, up1        *grid
	row                  []float32
}

func newBench(w, h int) *bench {
	at := func(n, c int) *grid { return newGrid(w/n, h/n, c) }
	two := func(n, c int) [2]*grid { return [2]*grid{at(n, c), at(n, c)} }
	return &bench{
		w: w, h: h, in: at(1, 3), a: at(2, 16),
		b: two(4, 32), c: two(8, 64), d: two(16, 128), e: two(32, 160), c48: two(8, 48), d64: two(16, 64),
		up3: at(32, 64), up2: at(16, 48), up1: at(8, 32),
		row: make([]float32, w/2*27),
	}
}

// run has the net look at what lies in t.in, and gives what comes before the last mixing.
func (n *net) run(t *bench) *grid {
	for y := range t.a.h {
		patches := t.row
		for x := range t.a.w {
			for dy := range 3 {
				copy(patches[9*dy:9*dy+9], t.in.wide(2*y + dy - 1)[2*x*3:])
			}
			patches = patches[27:]
		}
		n.first.run(t.a.row(y), t.row[:t.a.w*27])
	}
	b := t.steps(n.down1, t.a, t.b)
	c := t.steps(n.down2, b, t.c)
	d := t.steps(n.down3, c, t.d)
	e := t.steps(n.down4, d, t.e)
	d = t.steps(n.join3, t.join(&n.up3, &n.side3, e, d, t.up3, t.d64), t.d64)
	c = t.steps(n.join2, t.join(&n.up2, &n.side2, d, c, t.up2, t.c48), t.c48)
	return t.steps(n.join1, t.join(&n.up1, &n.side1, c, b, t.up1, t.b), t.b)
}

// steps takes a grid through steps, in two others by turns, and gives the one they end in.
func (t *bench) steps(all []step, src *grid, by [2]*grid) *grid {
	for i := range all {
		dst := other(by, src)
		all[i].over(dst, src, t.row)
		src = dst
	}
	return src
}

func other(by [2]*grid, than *grid) *grid {
	if by[0] == than {
		return by[1]
	}
	return by[0]
}

// join adds a coarse grid, mixed into room and drawn at twice its size, to a fine one, mixed.
func (t *bench) join(up, side *mixing, coarse, fine, room *grid, by [2]*grid) *grid {
	dst := other(by, fine)
	up.over(room, coarse)
	side.over(dst, fine)
	for y := range dst.h {
		out, add := dst.row(y), room.row(y/2)
		for x := range dst.w {
			add := add[x/2*dst.c:][:dst.c]
			for k, v := range out[x*dst.c:][:dst.c] {
				out[x*dst.c+k] = cut(v + add[k])
			}
		}
	}
	return dst
}
