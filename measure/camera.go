package measure

import (
	"errors"
	"math"
)

// A vec3 is a place or direction in the world: the table is the plane z = 0, z points up
// from it, lengths are in millimetres.
type vec3 [3]float64

func (a vec3) add(b vec3) vec3    { return vec3{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a vec3) sub(b vec3) vec3    { return vec3{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vec3) mul(s float64) vec3 { return vec3{a[0] * s, a[1] * s, a[2] * s} }
func (a vec3) dot(b vec3) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vec3) norm() float64      { return math.Sqrt(a.dot(a)) }
func (a vec3) unit() vec3         { return a.mul(1 / a.norm()) }
func (a vec3) cross(b vec3) vec3 {
	return vec3{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// A mat3 is a 3 × 3 matrix by rows.
type mat3 [3]vec3

func (m mat3) apply(v vec3) vec3 { return vec3{m[0].dot(v), m[1].dot(v), m[2].dot(v)} }
func (m mat3) transpose() mat3 {
	return mat3{{m[0][0], m[1][0], m[2][0]}, {m[0][1], m[1][1], m[2][1]}, {m[0][2], m[1][2], m[2][2]}}
}
func (m mat3) times(n mat3) mat3 {
	t := n.transpose()
	var r mat3
	for i := range 3 {
		r[i] = vec3{m[i].dot(t[0]), m[i].dot(t[1]), m[i].dot(t[2])}
	}
	return r
}

// rotation is the matrix that turns by |w| radians about w (Rodrigues).
func rotation(w vec3) mat3 {
	a := w.norm()
	if a < 1e-12 {
		return mat3{{1, -w[2], w[1]}, {w[2], 1, -w[0]}, {-w[1], w[0], 1}}
	}
	k := w.mul(1 / a)
	s, c := math.Sincos(a)
	v := 1 - c
	return mat3{
		{c + k[0]*k[0]*v, k[0]*k[1]*v - k[2]*s, k[0]*k[2]*v + k[1]*s},
		{k[1]*k[0]*v + k[2]*s, c + k[1]*k[1]*v, k[1]*k[2]*v - k[0]*s},
		{k[2]*k[0]*v - k[1]*s, k[2]*k[1]*v + k[0]*s, c + k[2]*k[2]*v},
	}
}

// A camera is a pinhole with one term of radial distortion, its axis through the picture's
// middle. A world point X lies at R·X + T before it: x right, y down, z forward.
type camera struct {
	F      float64 // focal length, px
	K1     float64 // r_d = r(1 + K1 r²), r in focal lengths
	Cx, Cy float64 // principal point, px
	R      mat3
	T      vec3 // mm
}

// project gives the picture of a world point. Behind the camera the result is NaN.
func (c *camera) project(x vec3) Pixel {
	r, t, x0, x1, x2 := &c.R, &c.T, x[0], x[1], x[2]
	// Written out: vectors would go through memory.
	u := r[0][0]*x0 + r[0][1]*x1 + r[0][2]*x2 + t[0]
	v := r[1][0]*x0 + r[1][1]*x1 + r[1][2]*x2 + t[1]
	w := r[2][0]*x0 + r[2][1]*x1 + r[2][2]*x2 + t[2]
	return c.see(u, v, w)
}

// image gives the picture of a point in the camera's own frame.
func (c *camera) image(p vec3) Pixel { return c.see(p[0], p[1], p[2]) }

func (c *camera) see(x, y, z float64) Pixel {
	if z <= 0 {
		return Pixel{math.NaN(), math.NaN()}
	}
	u, v := x/z, y/z
	d := 1 + c.K1*(u*u+v*v)
	return Pixel{c.F*u*d + c.Cx, c.F*v*d + c.Cy}
}

// ray gives the direction, in the world, from the eye through a pixel.
func (c *camera) ray(p Pixel) vec3 { return c.R.transpose().apply(c.sight(p, 8)) }

// sight gives the same in the camera's own frame, by so many rounds of a fixed point, which
// converges fast for |K1 r²| well below 1.
func (c *camera) sight(p Pixel, rounds int) vec3 {
	xd, yd := (p.X-c.Cx)/c.F, (p.Y-c.Cy)/c.F
	u, v := xd, yd
	for range rounds {
		d := 1 + c.K1*(u*u+v*v)
		u, v = xd/d, yd/d
	}
	return vec3{u, v, 1}
}

// eye is the camera's centre in the world.
func (c *camera) eye() vec3 { return c.R.transpose().apply(c.T).mul(-1) }

// A plane is n·X = d with a unit normal n.
type plane struct {
	n vec3
	d float64
}

// level is the plane h millimetres above the table.
func level(h float64) plane { return plane{vec3{0, 0, 1}, h} }

// onto gives the world point on a plane that a pixel shows.
func (c *camera) onto(p Pixel, pl plane) vec3 {
	e, r := c.eye(), c.ray(p)
	s := (pl.d - pl.n.dot(e)) / pl.n.dot(r)
	return e.add(r.mul(s))
}

// pxPerMM is the picture's scale at a world point: the geometric mean over directions
// square to the line of sight.
func (c *camera) pxPerMM(x vec3) float64 {
	return c.F / c.R.apply(x).add(c.T)[2]
}

var errDegenerate = errors.New("degenerate configuration")

// homography from four or more plane points (mm) to pixels by the normalised direct linear
// transform: Hartley, "In defense of the eight-point algorithm", PAMI 1997. Rows of h map
// (X, Y, 1) to homogeneous pixels, h[2][2] is not normalised.
func homography(pts [][2]float64, px []Pixel) (mat3, error) {
	if len(pts) < 4 || len(pts) != len(px) {
		return mat3{}, errDegenerate
	}
	normalise := func(n int, at func(int) (float64, float64)) mat3 {
		var mx, my, s float64
		for i := range n {
			x, y := at(i)
			mx, my = mx+x/float64(n), my+y/float64(n)
		}
		for i := range n {
			x, y := at(i)
			s += math.Hypot(x-mx, y-my) / float64(n)
		}
		if s == 0 {
			s = 1
		}
		k := math.Sqrt2 / s
		return mat3{{k, 0, -k * mx}, {0, k, -k * my}, {0, 0, 1}}
	}
	a := normalise(len(pts), func(i int) (float64, float64) { return pts[i][0], pts[i][1] })
	b := normalise(len(px), func(i int) (float64, float64) { return px[i].X, px[i].Y })
	// Least squares with h33 = 1 in normalised coordinates (the origin is never at infinity
	// there for a plane in front of the camera).
	var n [8][8]float64
	var r [8]float64
	add := func(row [8]float64, y float64) {
		for i := range 8 {
			for j := range 8 {
				n[i][j] += row[i] * row[j]
			}
			r[i] += row[i] * y
		}
	}
	for i := range pts {
		p := a.apply(vec3{pts[i][0], pts[i][1], 1})
		q := b.apply(vec3{px[i].X, px[i].Y, 1})
		add([8]float64{p[0], p[1], 1, 0, 0, 0, -q[0] * p[0], -q[0] * p[1]}, q[0])
		add([8]float64{0, 0, 0, p[0], p[1], 1, -q[1] * p[0], -q[1] * p[1]}, q[1])
	}
	m := make([]float64, 64)
	for i := range 8 {
		copy(m[i*8:], n[i][:])
	}
	h, ok := solveSymmetric(m, r[:])
	if !ok {
		return mat3{}, errDegenerate
	}
	hn := mat3{{h[0], h[1], h[2]}, {h[3], h[4], h[5]}, {h[6], h[7], 1}}
	bi := mat3{{1 / b[0][0], 0, -b[0][2] / b[0][0]}, {0, 1 / b[1][1], -b[1][2] / b[1][1]}, {0, 0, 1}}
	return bi.times(hn).times(a), nil
}

// focalFromHomography gives the focal length (px) at which the homography of a plane, with
// square pixels and the principal point (cx, cy), is that of a rigid plane: Zhang,
// "A flexible new technique for camera calibration", PAMI 2000. It returns 0 where the plane
// is seen so squarely that the answer is not real.
func focalFromHomography(h mat3, cx, cy float64) float64 {
	shift := mat3{{1, 0, -cx}, {0, 1, -cy}, {0, 0, 1}}
	h = shift.times(h)
	t := h.transpose()
	a, b := t[0], t[1]
	// a·ω·b = 0 and a·ω·a = b·ω·b with ω = diag(w, w, 1), w = 1/f²: two equations, least squares.
	p1, q1 := a[0]*b[0]+a[1]*b[1], -a[2]*b[2]
	p2, q2 := a[0]*a[0]+a[1]*a[1]-b[0]*b[0]-b[1]*b[1], b[2]*b[2]-a[2]*a[2]
	w := (p1*q1 + p2*q2) / (p1*p1 + p2*p2)
	if !(w > 0) {
		return 0
	}
	return 1 / math.Sqrt(w)
}

// poseFromHomography turns the homography of the plane z = height into a camera of known
// focal length, K1 = 0. Plane points are the world's (x, y).
func poseFromHomography(h mat3, f, cx, cy, height float64) camera {
	k := mat3{{1 / f, 0, -cx / f}, {0, 1 / f, -cy / f}, {0, 0, 1}}
	m := k.times(h).transpose() // rows are now the columns r1, r2, t up to scale
	s := 2 / (m[0].norm() + m[1].norm())
	if m[2][2] < 0 {
		s = -s
	}
	r1, r2, t := m[0].mul(s), m[1].mul(s), m[2].mul(s)
	// Nearest rotation: symmetric orthogonalisation of r1, r2.
	c := r1.unit().add(r2.unit()).unit()
	d := r1.unit().sub(r2.unit()).unit()
	r1 = c.add(d).mul(math.Sqrt2 / 2)
	r2 = c.sub(d).mul(math.Sqrt2 / 2)
	r3 := r1.cross(r2)
	r := mat3{r1, r2, r3}.transpose()
	// The world is seen from above (z towards the eye) when the plane's points are given in
	// a frame that is right-handed seen from the camera's side.
	return camera{F: f, Cx: cx, Cy: cy, R: r, T: t.sub(r3.mul(height))}
}

// focalPx turns a 35 mm equivalent focal length into pixels. CIPA DCG-001 defines the
// equivalent by the diagonal of the picture, 43.27 mm on 36 × 24 mm film.
func focalPx(f35 float64, w, h int) float64 {
	return f35 / math.Hypot(36, 24) * math.Hypot(float64(w), float64(h))
}
