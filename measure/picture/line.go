package picture

import "leafgauge/measure"

// AlongParabola adds to out the linear light at len(out) evenly spaced places of the parabola
// through three pixels at its start, middle and end.
func (f *Frame) AlongParabola(p0, p1, p2 measure.Pixel, out []float64) {
	bx, by := -3*p0.X+4*p1.X-p2.X, -3*p0.Y+4*p1.Y-p2.Y
	ax, ay := 2*(p0.X-2*p1.X+p2.X), 2*(p0.Y-2*p1.Y+p2.Y)
	step := 1 / float64(len(out)-1)
	if !(f.Inside(p0, 2) && f.Inside(p1, 2) && f.Inside(p2, 2)) {
		for i := range out {
			t := float64(i) * step
			out[i] += Linear(f.Luma(measure.Pixel{X: p0.X + t*(bx+t*ax), Y: p0.Y + t*(by+t*ay)}))
		}
		return
	}
	// As luma and Linear, without their care for the border and in whole numbers: places with 32
	// bits after the point, shares of pixels with 12.
	const one = 1 << 32
	x, y := int64((p0.X-0.5)*one), int64((p0.Y-0.5)*one)
	dx, dy := int64(step*(bx+step*ax)*one), int64(step*(by+step*ay)*one)
	ddx, ddy := int64(2*step*step*ax*one), int64(2*step*step*ay*one)
	for i := range out {
		k := int(y>>32)*f.YStride + int(x>>32)
		a, b := f.Y[k:k+2], f.Y[k+f.YStride:k+f.YStride+2]
		sx, sy := int(x>>20&0xfff), int(y>>20&0xfff)
		top := int(a[0])<<12 + (int(a[1])-int(a[0]))*sx
		bottom := int(b[0])<<12 + (int(b[1])-int(b[0]))*sx
		v := top<<12 + (bottom-top)*sy
		l := &linearSteps[v>>24&0xff]
		out[i] += l[0] + l[1]*float64(v&0xffffff)
		x, dx, y, dy = x+dx, dx+ddx, y+dy, dy+ddy
	}
}

// linearSteps is linear, and how much it rises per 2⁻²⁴ of a level from there.
var linearSteps = func() (t [256][2]float64) {
	for i := range t {
		t[i] = [2]float64{float64(linear[i]), float64(linear[min(i+1, 255)]-linear[i]) / (1 << 24)}
	}
	return t
}()
