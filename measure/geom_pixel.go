package measure

import "math"

func dot(a, b Pixel) float64 { return a.X*b.X + a.Y*b.Y }

func cross2(a, b Pixel) float64 { return a.X*b.Y - a.Y*b.X }

func Minus(a, b Pixel) Pixel { return Pixel{a.X - b.X, a.Y - b.Y} }

func Between(a, b Pixel, t float64) Pixel { return Pixel{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)} }

func Distance(a, b Pixel) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
