package finder

import (
	"image"

	"leafgauge/measure"
	"leafgauge/measure/picture"
)

// longSide is the reduced picture's longer side, px: that of the pictures the net was trained on.
const longSide = 384

// A Picture is a reduced copy of an upright picture, or of a part of one.
type Picture struct {
	W, H     int
	RGB      []uint8       // sRGB, three a pixel, row by row
	PerPixel float64       // how many pixels of the full picture a pixel is wide and high
	Corner   measure.Pixel // where its own corner lies in the full picture
}

// Reduce averages the picture's areas so that its longer side comes to 384 px.
func Reduce(f *picture.Frame) Picture {
	n := f.Reduction()
	from := f.Reduce(n)
	return reduce(from, n, image.Rect(0, 0, from.W, from.H))
}

// reduce does that with a part of the copy that the other steps look at, too: the picture reduced by n.
func reduce(from *picture.Reduced, n int, part image.Rectangle) Picture {
	w, h := part.Dx(), part.Dy()
	scale := float64(max(w, h)) / longSide
	across, down := shares(w, scale), shares(h, scale)
	p := Picture{W: len(across), H: len(down), PerPixel: scale * float64(n), Corner: measure.Pixel{X: float64(part.Min.X * n), Y: float64(part.Min.Y * n)}}
	p.RGB = make([]uint8, 3*p.W*p.H)
	sums := make([]float32, w)
	for c, plane := range [3][]float32{from.R, from.G, from.B} {
		for j, rows := range down {
			clear(sums)
			for k, share := range rows.of {
				for i, v := range plane[(part.Min.Y+rows.first+k)*from.W+part.Min.X:][:w] {
					sums[i] += share * v
				}
			}
			for i, columns := range across {
				var v float32
				for k, share := range columns.of {
					v += share * sums[columns.first+k]
				}
				p.RGB[3*(j*p.W+i)+c] = uint8(min(max(v+0.5, 0), 255))
			}
		}
	}
	return p
}

// A span is what one sample of a reduced row takes of the samples of the row, from the first on.
type span struct {
	first int
	of    []float32 // their shares, one in all
}

// shares cuts a row of n samples into spans, each scale wide; the last may be narrower.
func shares(n int, scale float64) []span {
	spans := make([]span, max(int(float64(n)/scale+0.5), 1))
	for i := range spans {
		from, to := float64(i)*scale, min(float64(i+1)*scale, float64(n))
		s := span{first: min(int(from), n-1)}
		for k := s.first; k < n && (k == s.first || float64(k) < to); k++ {
			s.of = append(s.of, float32((min(float64(k+1), to)-max(float64(k), from))/(to-from)))
		}
		spans[i] = s
	}
	return spans
}
