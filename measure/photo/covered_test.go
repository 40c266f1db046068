package photo_test

import (
	"image"
	"image/color"
	"math"
	"path/filepath"
	"testing"

	"leafgauge/internal/truth"
	"leafgauge/measure"
	"leafgauge/measure/photo"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSomethingOverAnEdge lays a strip over an outer edge, or an end, of a hinge: its own edge
// must not pass for the leaf's, whatever else comes of it.
func TestSomethingOverAnEdge(t *testing.T) {
	for _, id := range []string{"011", "004"} {
		tr, err := truth.Load(filepath.Join("../../testdata/photos", id+".json"))
		require.NoError(t, err)
		img, err := imaging.Open(tr.Photo, imaging.AutoOrientation(true))
		require.NoError(t, err)
		small := imaging.Resize(img, img.Bounds().Dx()/2, 0, imaging.Box)
		var a, b, c measure.Pixel // outer corners of the left leaf, and one of the right's
		for _, p := range tr.Points.Corners {
			at := measure.Pixel{X: p.Px.X / 2, Y: p.Px.Y / 2}
			switch {
			case p.Leaf == "right" && p.At[1] == 0:
				c = at
			case p.Leaf == "left" && p.At[1] == 0:
				a = at
			case p.Leaf == "left":
				b = at
			}
		}
		for _, d := range []struct {
			name     string
			from, to measure.Pixel // what the strip lies along
			share    float64       // of that, covered
		}{{"outer edge", a, b, 1}, {"most of the outer edge", a, b, 0.8}, {"end", a, c, 0.6}} {
			t.Run(id+" "+d.name, func(t *testing.T) {
				covered := imaging.Clone(small)
				layStrip(covered, d.from, d.to, d.share, 8*math.Hypot(b.X-a.X, b.Y-a.Y)/tr.Hinge.Height)
				r := photo.Measure(covered, measure.Options{Focal35mm: tr.Camera.Focal35})
				if r.Status == measure.Retake {
					assert.NotContains(t, r.RetakeReasons, measure.CardMissing)
					return
				}
				h := r.Hinge
				assert.InDelta(t, tr.Hinge.Height, h.Height.Value.MM(), 4*h.Height.Sigma.MM())
				assert.InDelta(t, tr.Hinge.OpenWidth, h.OpenWidth.Value.MM(), 4*h.OpenWidth.Sigma.MM())
			})
		}
	}
}

// layStrip paints a dark strip, width px wide, along the first share of the way from a to b.
func layStrip(m *image.NRGBA, a, b measure.Pixel, share, width float64) {
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	ux, uy := (b.X-a.X)/length, (b.Y-a.Y)/length
	r := m.Bounds()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			dx, dy := float64(x)-a.X, float64(y)-a.Y
			along, across := dx*ux+dy*uy, -dx*uy+dy*ux
			if math.Abs(across) < width/2 && along > -width && along < share*length {
				m.SetNRGBA(x, y, color.NRGBA{60, 45, 40, 255})
			}
		}
	}
}
