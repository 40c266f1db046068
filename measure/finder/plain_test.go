package finder

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The net once more, written as plainly as in tools/finder/net.py, to hold the quick one against.

// A plain is what lies between two layers: channel, row, column.
type plain [][][]float64

func newPlain(c, h, w int) plain {
	p := make(plain, c)
	for i := range p {
		p[i] = make([][]float64, h)
		for j := range p[i] {
			p[i][j] = make([]float64, w)
		}
	}
	return p
}

// each gives what f makes of each value.
func (p plain) each(f func(c, y, x int) float64) plain {
	out := newPlain(len(p), len(p[0]), len(p[0][0]))
	for c := range p {
		for y := range p[c] {
			for x := range p[c][y] {
				out[c][y][x] = f(c, y, x)
			}
		}
	}
	return out
}

func (p plain) relu() plain {
	return p.each(func(c, y, x int) float64 { return max(p[c][y][x], 0) })
}

func (p plain) plus(q plain) plain {
	return p.each(func(c, y, x int) float64 { return p[c][y][x] + q[c][y][x] })
}

func (p plain) twice() plain {
	return newPlain(len(p), 2*len(p[0]), 2*len(p[0][0])).each(func(c, y, x int) float64 { return p[c][y/2][x/2] })
}

// A plainNet reads its weights as it goes.
type plainNet struct{ data []byte }

// next is the next weight (IEEE 754-2008, binary16).
func (n *plainNet) next() float64 {
	bits := binary.LittleEndian.Uint16(n.data)
	n.data = n.data[2:]
	sign, exponent, fraction := 1-2*float64(bits>>15), int(bits>>10&31), float64(bits&1023)
	if exponent == 0 {
		return sign * math.Ldexp(fraction, -24)
	}
	return sign * math.Ldexp(1024+fraction, exponent-25)
}

// conv is a convolution of size × size; alone of each channel with itself.
func (n *plainNet) conv(p plain, out, size, stride int, alone bool) plain {
	in := len(p)
	if alone {
		in = 1
	}
	w := make([]float64, out*in*size*size)
	for i := range w {
		w[i] = n.next()
	}
	b := make([]float64, out)
	for i := range b {
		b[i] = n.next()
	}
	h, wide := len(p[0]), len(p[0][0])
	return newPlain(out, h/stride, wide/stride).each(func(c, y, x int) float64 {
		v := b[c]
		for i := range in {
			from := p[i]
			if alone {
				from = p[c]
			}
			for dy := range size {
				for dx := range size {
					if r, s := y*stride+dy-size/2, x*stride+dx-size/2; r >= 0 && r < h && s >= 0 && s < wide {
						v += from[r][s] * w[((c*in+i)*size+dy)*size+dx]
					}
				}
			}
		}
		return v
	})
}

func (n *plainNet) step(p plain, out, stride int) plain {
	q := n.conv(n.conv(p, len(p), 3, stride, true).relu(), out, 1, 1, false).relu()
	if stride == 1 && out == len(p) {
		q = q.plus(p)
	}
	return q
}

func (n *plainNet) look(p Picture) plain {
	x := newPlain(3, p.H, p.W).each(func(c, y, x int) float64 { return (float64(p.RGB[3*(y*p.W+x)+c])/255 - 0.45) / 0.25 })
	a := n.conv(x, 16, 3, 2, false).relu()
	b := n.step(n.step(n.step(a, 32, 2), 32, 1), 32, 1)
	c := n.step(n.step(n.step(b, 64, 2), 64, 1), 64, 1)
	d := n.step(n.step(n.step(n.step(c, 128, 2), 128, 1), 128, 1), 128, 1)
	e := n.step(n.step(n.step(n.step(d, 160, 2), 160, 1), 160, 1), 160, 1)
	join := func(up, side plain, out int) plain {
		return n.conv(up, out, 1, 1, false).twice().plus(n.conv(side, out, 1, 1, false)).relu()
	}
	d = n.step(join(e, d, 64), 64, 1)
	c = n.step(n.step(join(d, c, 48), 48, 1), 48, 1)
	b = n.step(n.step(join(c, b, 32), 32, 1), 32, 1)
	last := n.conv(b, 28, 1, 1, false)
	return newPlain(7, p.H/2, p.W/2).each(func(c, y, x int) float64 {
		return 1 / (1 + math.Exp(-last[4*c+2*(y%2)+x%2][y/2][x/2]))
	})
}

func noise(w, h int) Picture {
	rnd := rand.New(rand.NewPCG(uint64(w), uint64(h)))
	p := Picture{W: w, H: h, RGB: make([]uint8, 3*w*h), PerPixel: 1}
	for i := range p.RGB {
		p.RGB[i] = uint8(rnd.Uint32())
	}
	return p
}

func TestLookAgainstThePlainNet(t *testing.T) {
	for _, p := range []Picture{noise(96, 64), noise(32, 32), noise(32, 160)} {
		n := plainNet{weights}
		want := n.look(p)
		require.Empty(t, n.data, "every weight has its place")
		m := Look(p)
		require.Equal(t, [2]int{p.W / 2, p.H / 2}, [2]int{m.W, m.H})
		for c := range Channels {
			for j := range m.H {
				for i := range m.W {
					require.InDelta(t, want[c][j][i], float64(m.Plane(c)[j*m.W+i]), 1e-4, "%d: %d, %d", c, i, j)
				}
			}
		}
	}
}

// A picture whose sides aren't whole multiples of what the net wants is seen as if its edge went on.
func TestLookGoesOnBeyondTheEdge(t *testing.T) {
	p := noise(71, 41)
	longer := Picture{W: 96, H: 64, PerPixel: 1}
	for y := range longer.H {
		for x := range longer.W {
			longer.RGB = append(longer.RGB, p.RGB[3*(min(y, p.H-1)*p.W+min(x, p.W-1)):][:3]...)
		}
	}
	m, want := Look(p), Look(longer)
	require.Equal(t, [2]int{36, 21}, [2]int{m.W, m.H})
	for c := range Channels {
		for j := range m.H {
			require.Equal(t, want.Plane(c)[j*want.W:][:m.W], m.Plane(c)[j*m.W:][:m.W])
		}
	}
}

func BenchmarkPlain(b *testing.B) {
	p := drawn(b)
	for b.Loop() {
		n := plainNet{weights}
		n.look(p)
	}
}
