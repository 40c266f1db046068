package geom

import (
	"math"

	"leafgauge/measure"
)

// Dot is the scalar product of two ways in the picture, px².
func Dot(a, b measure.Pixel) float64 { return a.X*b.X + a.Y*b.Y }

// Cross2 is the area that two ways span, px², positive where b lies clockwise of a on the screen.
func Cross2(a, b measure.Pixel) float64 { return a.X*b.Y - a.Y*b.X }

// Minus is the way from b to a.
func Minus(a, b measure.Pixel) measure.Pixel { return measure.Pixel{X: a.X - b.X, Y: a.Y - b.Y} }

// Between is the place a share t of the way from a to b.
func Between(a, b measure.Pixel, t float64) measure.Pixel {
	return measure.Pixel{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}
}

// Distance is how far apart two places are, px.
func Distance(a, b measure.Pixel) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
