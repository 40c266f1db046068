package draw_test

import (
	"image"
	"image/color"
	imagedraw "image/draw"
	"math"
	"testing"

	"leafgauge/internal/truth"
	"leafgauge/measure"
	"leafgauge/measure/draw"

	"github.com/stretchr/testify/require"
)

func loadTruth(t *testing.T, id string) truth.Truth {
	tr, err := truth.Load("../../testdata/photos/" + id + ".json")
	require.NoError(t, err)
	return tr
}

func plain(w, h int, c color.Color) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	imagedraw.Draw(img, img.Bounds(), image.NewUniform(c), image.Point{}, imagedraw.Src)
	return img
}

// luminance of the pixel of an overlay under a place of the full picture, 0…255.
func luminance(img image.Image, p measure.Pixel) float64 {
	r, g, b, _ := img.At(int(p.X), int(p.Y)).RGBA()
	return (0.2126*float64(r) + 0.7152*float64(g) + 0.0722*float64(b)) / 257
}

func TestOverlayCanBeSeenOnAnyGround(t *testing.T) {
	tr := loadTruth(t, "013")
	r := truth.Result(tr)
	for name, ground := range map[string]color.Color{"white": color.White, "grey": color.Gray{128}, "black": color.Black} {
		img := draw.Overlay(plain(tr.Image.UprightPx[0], tr.Image.UprightPx[1], ground), r)
		require.Equal(t, 1600, img.Bounds().Dx())
		scale := 1600 / float64(tr.Image.UprightPx[0])
		// Across every side of card and leaves the line and its halo differ in luminance.
		lines := [][]measure.Pixel{r.Card.CornersPx[:]}
		for _, l := range r.Hinge.Leaves {
			lines = append(lines, l.OutlinePx)
		}
		for _, line := range lines {
			for i, p := range line {
				q := line[(i+1)%len(line)]
				n := math.Hypot(q.X-p.X, q.Y-p.Y)
				if n*scale < 60 {
					continue
				}
				lo, hi := 255.0, 0.0
				for d := -6.0; d <= 6; d++ {
					l := luminance(img, measure.Pixel{X: (p.X+q.X)/2*scale - d*(q.Y-p.Y)/n, Y: (p.Y+q.Y)/2*scale + d*(q.X-p.X)/n})
					lo, hi = min(lo, l), max(hi, l)
				}
				require.Greater(t, hi-lo, 60.0, "ground %s, side from %v", name, p)
			}
		}
	}
}

// No size is lettered over the card, where artwork and numbers make it hard to read.
func TestOverlayKeepsOffTheCard(t *testing.T) {
	for _, id := range []string{"002", "006", "017"} {
		tr := loadTruth(t, id)
		r := truth.Result(tr)
		img := draw.Overlay(plain(tr.Image.UprightPx[0], tr.Image.UprightPx[1], color.Black), r)
		scale := 1600 / float64(tr.Image.UprightPx[0])
		c := r.Card.CornersPx
		for i := 1; i < 100; i++ {
			for j := 1; j < 100; j++ {
				u, v := float64(i)/100, float64(j)/100
				p := measure.Pixel{
					X: (1-v)*((1-u)*c[0].X+u*c[1].X) + v*((1-u)*c[3].X+u*c[2].X),
					Y: (1-v)*((1-u)*c[0].Y+u*c[1].Y) + v*((1-u)*c[3].Y+u*c[2].Y),
				}
				r, g, b, _ := img.At(int(p.X*scale), int(p.Y*scale)).RGBA()
				require.False(t, r > 0xf000 && g > 0xf000 && b > 0xf000, "photo %s: white letters at %v", id, p)
			}
		}
	}
}

func TestOverlayIsTheSameEachTime(t *testing.T) {
	r := truth.Result(loadTruth(t, "004"))
	img := plain(2592, 1944, color.Gray{90})
	require.Equal(t, draw.Overlay(img, r), draw.Overlay(img, r))
}

func TestDrawingsTakeAnyResult(t *testing.T) {
	full := truth.Result(loadTruth(t, "010"))
	nan := truth.Result(loadTruth(t, "004"))
	nan.Hinge.Leaves[0].Holes[0].CentrePx.X = math.NaN()
	nan.Hinge.Leaves[1].Holes[1].FromEdge.Value = measure.Length(math.Inf(1))
	nan.Card.CornersPx[2].Y = math.NaN()
	flat := truth.Result(loadTruth(t, "004"))
	flat.Card.CornersPx = [4]measure.Pixel{{X: 5, Y: 5}, {X: 5, Y: 5}, {X: 5, Y: 5}, {X: 5, Y: 5}}
	flat.Hinge.Leaves[0].Holes = flat.Hinge.Leaves[0].Holes[:1]
	far := truth.Result(loadTruth(t, "004"))
	far.Hinge.Height.Value, far.Hinge.Knuckles = 5000, -3
	for name, r := range map[string]measure.Result{
		"zero":             {},
		"all reasons":      {Status: measure.Retake, RetakeReasons: measure.Reasons},
		"an empty hinge":   {Status: measure.Measured, Hinge: &measure.Hinge{}},
		"bare leaves":      {Status: measure.Measured, Hinge: &measure.Hinge{Leaves: make([]measure.Leaf, 2)}},
		"three leaves":     {Status: measure.Measured, Hinge: &measure.Hinge{Leaves: make([]measure.Leaf, 3)}},
		"a single leaf":    full,
		"no number":        nan,
		"a card of a spot": flat,
		"a huge hinge":     far,
	} {
		t.Run(name, func(t *testing.T) {
			for _, size := range []image.Point{{0, 0}, {1, 1}, {40, 900}, {700, 500}} {
				require.NotPanics(t, func() { draw.Overlay(plain(size.X, size.Y, color.Black), r) })
			}
			require.NotPanics(t, func() { draw.Report(r) })
		})
	}
}

func TestReportIsTrueToScale(t *testing.T) {
	tr := loadTruth(t, "002")
	img := draw.Report(truth.Result(tr))
	const perMM = 200 / 25.4 // dots
	// Metal is drawn in black, sizes in blue.
	dark := func(x, y int) bool { _, _, b, _ := img.At(x, y).RGBA(); return b>>8 < 60 }
	y := 1654/2 - 90 // between two holes of four
	var cols []int
	for c := 100; c < 1600; c++ {
		if dark(c, y) {
			cols = append(cols, c)
		}
	}
	require.NotEmpty(t, cols)
	width := float64(cols[len(cols)-1]-cols[0]) - 2 // lines are 3 dots wide
	require.InDelta(t, tr.Hinge.OpenWidth*perMM, width, 2)
	x := (cols[0]+cols[len(cols)-1])/2 + int(tr.Hinge.Barrel/2*perMM) + 30 // clear of holes, corners and numbers
	var rows []int
	for r := 100; r < 1500; r++ {
		if dark(x, r) {
			rows = append(rows, r)
		}
	}
	require.NotEmpty(t, rows)
	require.InDelta(t, tr.Hinge.Height*perMM, float64(rows[len(rows)-1]-rows[0])-2, 2)
}
