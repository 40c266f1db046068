package geom

import (
	"math"

	"leafgauge/measure"
)

func Dot(a, b measure.Pixel) float64 { return a.X*b.X + a.Y*b.Y }

func Cross2(a, b measure.Pixel) float64 { return a.X*b.Y - a.Y*b.X }

func Minus(a, b measure.Pixel) measure.Pixel { return measure.Pixel{X: a.X - b.X, Y: a.Y - b.Y} }

func Between(a, b measure.Pixel, t float64) measure.Pixel {
	return measure.Pixel{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}
}

func Distance(a, b measure.Pixel) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
