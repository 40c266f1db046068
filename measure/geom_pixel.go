package measure

import "math"

func dot(a, b Pixel) float64 { return a.X*b.X + a.Y*b.Y }

func cross2(a, b Pixel) float64 { return a.X*b.Y - a.Y*b.X }

func minus(a, b Pixel) Pixel { return Pixel{a.X - b.X, a.Y - b.Y} }

func between(a, b Pixel, t float64) Pixel { return Pixel{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)} }

func distance(a, b Pixel) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
