package geom

import (
	"errors"
	"math"

	"leafgauge/measure"
)

// A Vec3 is a place or direction in the world: the table is the plane z = 0, z points up
// from it, lengths are in millimetres.
type Vec3 [3]float64

// Add, Sub, Mul, Dot, Norm, Unit and Cross are the usual operations on vectors.
func (a Vec3) Add(b Vec3) Vec3    { return Vec3{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a Vec3) Sub(b Vec3) Vec3    { return Vec3{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a Vec3) Mul(s float64) Vec3 { return Vec3{a[0] * s, a[1] * s, a[2] * s} }
func (a Vec3) Dot(b Vec3) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a Vec3) Norm() float64      { return math.Sqrt(a.Dot(a)) }
func (a Vec3) Unit() Vec3         { return a.Mul(1 / a.Norm()) }
func (a Vec3) Cross(b Vec3) Vec3 {
	return Vec3{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// A Mat3 is a 3 × 3 matrix by rows.
type Mat3 [3]Vec3

// Apply is m times a column.
func (m Mat3) Apply(v Vec3) Vec3 { return Vec3{m[0].Dot(v), m[1].Dot(v), m[2].Dot(v)} }

// Transpose is m with rows for columns.
func (m Mat3) Transpose() Mat3 {
	return Mat3{{m[0][0], m[1][0], m[2][0]}, {m[0][1], m[1][1], m[2][1]}, {m[0][2], m[1][2], m[2][2]}}
}

// Times is m times n.
func (m Mat3) Times(n Mat3) Mat3 {
	t := n.Transpose()
	var r Mat3
	for i := range 3 {
		r[i] = Vec3{m[i].Dot(t[0]), m[i].Dot(t[1]), m[i].Dot(t[2])}
	}
	return r
}

// Rotation is the matrix that turns by |w| radians about w (Rodrigues).
func Rotation(w Vec3) Mat3 {
	a := w.Norm()
	if a < 1e-12 {
		return Mat3{{1, -w[2], w[1]}, {w[2], 1, -w[0]}, {-w[1], w[0], 1}}
	}
	k := w.Mul(1 / a)
	s, c := math.Sincos(a)
	v := 1 - c
	return Mat3{
		{c + k[0]*k[0]*v, k[0]*k[1]*v - k[2]*s, k[0]*k[2]*v + k[1]*s},
		{k[1]*k[0]*v + k[2]*s, c + k[1]*k[1]*v, k[1]*k[2]*v - k[0]*s},
		{k[2]*k[0]*v - k[1]*s, k[2]*k[1]*v + k[0]*s, c + k[2]*k[2]*v},
	}
}

// A Camera is a pinhole with one term of radial distortion, its axis through the picture's
// middle. A world point X lies at R·X + T before it: x right, y down, z forward.
type Camera struct {
	F      float64 // focal length, px
	K1     float64 // r_d = r(1 + K1 r²), r in focal lengths
	Cx, Cy float64 // principal point, px
	R      Mat3
	T      Vec3 // mm
}

// Project gives the picture of a world point. Behind the camera the result is NaN.
func (c *Camera) Project(x Vec3) measure.Pixel {
	r, t, x0, x1, x2 := &c.R, &c.T, x[0], x[1], x[2]
	// Written out: vectors would go through memory.
	u := r[0][0]*x0 + r[0][1]*x1 + r[0][2]*x2 + t[0]
	v := r[1][0]*x0 + r[1][1]*x1 + r[1][2]*x2 + t[1]
	w := r[2][0]*x0 + r[2][1]*x1 + r[2][2]*x2 + t[2]
	return c.see(u, v, w)
}

// Image gives the picture of a point in the camera's own frame.
func (c *Camera) Image(p Vec3) measure.Pixel { return c.see(p[0], p[1], p[2]) }

func (c *Camera) see(x, y, z float64) measure.Pixel {
	if z <= 0 {
		return measure.Pixel{X: math.NaN(), Y: math.NaN()}
	}
	u, v := x/z, y/z
	d := 1 + c.K1*(u*u+v*v)
	return measure.Pixel{X: c.F*u*d + c.Cx, Y: c.F*v*d + c.Cy}
}

// Ray gives the direction, in the world, from the eye through a pixel.
func (c *Camera) Ray(p measure.Pixel) Vec3 { return c.R.Transpose().Apply(c.Sight(p, 8)) }

// Sight gives the same in the camera's own frame, by so many rounds of a fixed point, which
// converges fast for |K1 r²| well below 1.
func (c *Camera) Sight(p measure.Pixel, rounds int) Vec3 {
	xd, yd := (p.X-c.Cx)/c.F, (p.Y-c.Cy)/c.F
	u, v := xd, yd
	for range rounds {
		d := 1 + c.K1*(u*u+v*v)
		u, v = xd/d, yd/d
	}
	return Vec3{u, v, 1}
}

// Eye is the camera's centre in the world.
func (c *Camera) Eye() Vec3 { return c.R.Transpose().Apply(c.T).Mul(-1) }

// A Plane is n·X = d with a unit normal n.
type Plane struct {
	N Vec3
	D float64
}

// Level is the plane h millimetres above the table.
func Level(h float64) Plane { return Plane{Vec3{0, 0, 1}, h} }

// Onto gives the world point on a plane that a pixel shows.
func (c *Camera) Onto(p measure.Pixel, pl Plane) Vec3 {
	e, r := c.Eye(), c.Ray(p)
	s := (pl.D - pl.N.Dot(e)) / pl.N.Dot(r)
	return e.Add(r.Mul(s))
}

// PxPerMM is the picture's scale at a world point: the geometric mean over directions
// square to the line of sight.
func (c *Camera) PxPerMM(x Vec3) float64 {
	return c.F / c.R.Apply(x).Add(c.T)[2]
}

var ErrDegenerate = errors.New("degenerate configuration")

// Homography from four or more plane points (mm) to pixels by the normalised direct linear
// transform: Hartley, "In defense of the eight-point algorithm", PAMI 1997. Rows of h map
// (X, Y, 1) to homogeneous pixels, h[2][2] is not normalised.
func Homography(pts [][2]float64, px []measure.Pixel) (Mat3, error) {
	if len(pts) < 4 || len(pts) != len(px) {
		return Mat3{}, ErrDegenerate
	}
	normalise := func(n int, at func(int) (float64, float64)) Mat3 {
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
		return Mat3{{k, 0, -k * mx}, {0, k, -k * my}, {0, 0, 1}}
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
		p := a.Apply(Vec3{pts[i][0], pts[i][1], 1})
		q := b.Apply(Vec3{px[i].X, px[i].Y, 1})
		add([8]float64{p[0], p[1], 1, 0, 0, 0, -q[0] * p[0], -q[0] * p[1]}, q[0])
		add([8]float64{0, 0, 0, p[0], p[1], 1, -q[1] * p[0], -q[1] * p[1]}, q[1])
	}
	m := make([]float64, 64)
	for i := range 8 {
		copy(m[i*8:], n[i][:])
	}
	h, ok := SolveSymmetric(m, r[:])
	if !ok {
		return Mat3{}, ErrDegenerate
	}
	hn := Mat3{{h[0], h[1], h[2]}, {h[3], h[4], h[5]}, {h[6], h[7], 1}}
	bi := Mat3{{1 / b[0][0], 0, -b[0][2] / b[0][0]}, {0, 1 / b[1][1], -b[1][2] / b[1][1]}, {0, 0, 1}}
	return bi.Times(hn).Times(a), nil
}

// PoseFromHomography turns the homography of the plane z = height into a camera of known
// focal length, K1 = 0. Plane points are the world's (x, y).
func PoseFromHomography(h Mat3, f, cx, cy, height float64) Camera {
	k := Mat3{{1 / f, 0, -cx / f}, {0, 1 / f, -cy / f}, {0, 0, 1}}
	m := k.Times(h).Transpose() // rows are now the columns r1, r2, t up to scale
	s := 2 / (m[0].Norm() + m[1].Norm())
	if m[2][2] < 0 {
		s = -s
	}
	r1, r2, t := m[0].Mul(s), m[1].Mul(s), m[2].Mul(s)
	// Nearest rotation: symmetric orthogonalisation of r1, r2.
	c := r1.Unit().Add(r2.Unit()).Unit()
	d := r1.Unit().Sub(r2.Unit()).Unit()
	r1 = c.Add(d).Mul(math.Sqrt2 / 2)
	r2 = c.Sub(d).Mul(math.Sqrt2 / 2)
	r3 := r1.Cross(r2)
	r := Mat3{r1, r2, r3}.Transpose()
	// The world is seen from above (z towards the eye) when the plane's points are given in
	// a frame that is right-handed seen from the camera's side.
	return Camera{F: f, Cx: cx, Cy: cy, R: r, T: t.Sub(r3.Mul(height))}
}

// FocalPx turns a 35 mm equivalent focal length into pixels. CIPA DCG-001 defines the
// equivalent by the diagonal of the picture, 43.27 mm on 36 × 24 mm film.
func FocalPx(f35 float64, w, h int) float64 {
	return f35 / math.Hypot(36, 24) * math.Hypot(float64(w), float64(h))
}
