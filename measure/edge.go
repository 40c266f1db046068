package measure

import "math"

// A profile is the picture's colour across an edge, straightened: sample k lies at
// (k − zero)·step pixels from the expected edge, along the outward normal. Values are linear
// light, 0…1, averaged along the edge.
type profile struct {
	at      Pixel // the expected edge
	normal  Pixel // unit, pointing out
	step    float64
	zero    int
	r, g, b []float64
}

// across samples a profile of half-width reach pixels through at, averaging rows lines side by
// side over width pixels along the edge.
func (f *frame) across(at, normal Pixel, reach, step, width float64, rows int, p *profile) {
	k := int(reach/step + 0.5)
	n := 2*k + 1
	p.at, p.normal, p.step, p.zero = at, normal, step, k
	if cap(p.r) < n {
		p.r, p.g, p.b = make([]float64, n), make([]float64, n), make([]float64, n)
	}
	p.r, p.g, p.b = p.r[:n], p.g[:n], p.b[:n]
	clear(p.r)
	clear(p.g)
	clear(p.b)
	w := 1 / float64(rows)
	for j := range rows {
		t := ((float64(j)+0.5)*w - 0.5) * width
		x0, y0 := at.X-t*normal.Y, at.Y+t*normal.X
		for i := range n {
			d := float64(i-k) * step
			r, g, b := f.rgb(Pixel{x0 + d*normal.X, y0 + d*normal.Y})
			p.r[i] += w * linearOf(r)
			p.g[i] += w * linearOf(g)
			p.b[i] += w * linearOf(b)
		}
	}
}

// colour is the mean colour between two distances from the expected edge, pixels.
func (p *profile) colour(from, to float64) vec3 {
	i, j := p.zero+int(math.Round(from/p.step)), p.zero+int(math.Round(to/p.step))
	i, j = max(i, 0), min(j, len(p.r)-1)
	var c vec3
	for k := i; k <= j; k++ {
		c = c.add(vec3{p.r[k], p.g[k], p.b[k]})
	}
	return c.mul(1 / float64(j-i+1))
}

// steepest is the distance from the expected edge at which the colour changes fastest, how
// fast (linear light per pixel, root sum square over the channels) and whether that is an
// inner maximum. The slope is taken over two pixels, the width of a sharp phone edge.
func (p *profile) steepest() (d, slope float64, ok bool) {
	h := max(1, int(1/p.step+0.5))
	best, at := 0.0, -1
	g := func(i int) float64 {
		r, gr, b := p.r[i+h]-p.r[i-h], p.g[i+h]-p.g[i-h], p.b[i+h]-p.b[i-h]
		return r*r + gr*gr + b*b
	}
	for i := h; i < len(p.r)-h; i++ {
		if v := g(i); v > best {
			best, at = v, i
		}
	}
	if at <= h || at >= len(p.r)-h-1 {
		return 0, 0, false
	}
	u, v, w := g(at-1), g(at), g(at+1)
	t := 0.0
	if q := u - 2*v + w; q < 0 {
		t = (u - w) / (2 * q)
	}
	return (float64(at-p.zero) + t) * p.step, math.Sqrt(best) / (2 * float64(h) * p.step), true
}
