package photo_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/measure/photo"

	"github.com/stretchr/testify/require"
)

// devPhoto is one of the photos with known truth, upright, with its EXIF focal length.
func devPhoto(t testing.TB, id string) (*image.YCbCr, float64) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "photos", id+".jpg"))
	require.NoError(t, err)
	p, err := intake.Admit(id+".jpg", data)
	require.NoError(t, err)
	img, err := intake.Decode(p)
	require.NoError(t, err)
	return remade(img, img.Bounds().Dx(), img.Bounds().Dy(), 1, func(x, y int) (int, int) { return x, y }), p.Focal35mm
}

// remade is a picture of w × h whose pixel (x, y) is the mean of the n × n pixels of img at
// from(x, y), with chroma at full size, so that turning and mirroring lose nothing.
func remade(img image.Image, w, h, n int, from func(x, y int) (int, int)) *image.YCbCr {
	src, ok := img.(*image.YCbCr)
	if !ok {
		panic("the photos are colour JPEG")
	}
	m := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio444)
	for y := range h {
		for x := range w {
			sx, sy := from(x, y)
			var a, b, c int
			for j := range n {
				for i := range n {
					yo, co := src.YOffset(sx+i, sy+j), src.COffset(sx+i, sy+j)
					a, b, c = a+int(src.Y[yo]), b+int(src.Cb[co]), c+int(src.Cr[co])
				}
			}
			o := y*m.YStride + x
			half := n * n / 2
			m.Y[o], m.Cb[o], m.Cr[o] = uint8((a+half)/(n*n)), uint8((b+half)/(n*n)), uint8((c+half)/(n*n))
		}
	}
	return m
}

// halved is a picture of half the size: each pixel the mean of four.
func halved(img image.Image) *image.YCbCr {
	b := img.Bounds()
	return remade(img, b.Dx()/2, b.Dy()/2, 2, func(x, y int) (int, int) { return 2 * x, 2 * y })
}

// A named length, for messages.
type named struct {
	measure.Estimate
	name string
}

// lengths lists a hinge's lengths with leaves and ends as they come, swapped or turned round;
// the same order of things each time.
func lengths(h *measure.Hinge, swap, flip bool) []named {
	all := []named{{h.Height, "height"}, {h.OpenWidth, "open width"}, {h.BarrelDiameter, "barrel"}}
	for i := range h.Leaves {
		l := h.Leaves[i]
		if swap {
			l = h.Leaves[len(h.Leaves)-1-i]
		}
		leaf := fmt.Sprintf("leaf %d ", i)
		all = append(all, named{l.Width, leaf + "width"}, named{l.CornerRadius, leaf + "corner radius"})
		for k := range l.Holes {
			hole := l.Holes[k]
			if flip {
				hole = l.Holes[len(l.Holes)-1-k]
				hole.FromEnd.Value = h.Height.Value - hole.FromEnd.Value
			}
			at := fmt.Sprintf("%shole %d ", leaf, k)
			all = append(all, named{hole.FromEdge, at + "from edge"}, named{hole.FromEnd, at + "from end"},
				named{hole.Diameter, at + "diameter"}, named{hole.Countersink, at + "countersink"})
		}
	}
	return all
}

// moved gives, of the ways that leaves and ends can be named, the one that agrees best: by
// how much a length has moved at the most, in combined standard uncertainties, and which.
func moved(a, b *measure.Hinge) (most float64, which string) {
	most = math.Inf(1)
	for way := range 4 {
		p, q := lengths(a, false, false), lengths(b, way&1 > 0, way&2 > 0)
		if len(p) != len(q) {
			return most, "number of holes"
		}
		worst, at := 0.0, ""
		for i := range p {
			d := math.Inf(1)
			if p[i].Known() == q[i].Known() {
				d = math.Abs(float64(p[i].Value-q[i].Value)) / math.Hypot(float64(p[i].Sigma), math.Max(1e-9, float64(q[i].Sigma)))
			}
			if d > worst {
				worst, at = d, fmt.Sprintf("%s %v → %v", p[i].name, p[i].Estimate, q[i].Estimate)
			}
		}
		if worst < most {
			most, which = worst, at
		}
	}
	return most, which
}

// codedAnew is a picture encoded as a JPEG of some quality and decoded.
func codedAnew(t *testing.T, img image.Image, quality int) image.Image {
	t.Helper()
	var again bytes.Buffer
	require.NoError(t, jpeg.Encode(&again, img, &jpeg.Options{Quality: quality}))
	coded, err := jpeg.Decode(&again)
	require.NoError(t, err)
	return coded
}

// What is done to a picture without changing the scene must not change the sizes by more than
// their uncertainty. Turned and mirrored pictures hold the same light; fewer pixels and JPEG's
// noise leave edges to be found anew, which is most of a hole's uncertainty.
func TestSizesStayWhenThePictureIsRemade(t *testing.T) {
	const (
		sameLight = 1.0 // combined standard uncertainties: only what resampling does
		newNoise  = 2.5 // 1.2 % of normal errors lie beyond; each picture has some 30 lengths, not independent
	)
	for _, id := range []string{"002", "005"} {
		img, f35 := devPhoto(t, id)
		w, h := img.Rect.Dx(), img.Rect.Dy()
		coded := codedAnew(t, img, 80)
		ways := []struct {
			name string
			img  image.Image
			most float64
		}{
			{"as it is", img, 0},
			{"turned by 90°", remade(img, h, w, 1, func(x, y int) (int, int) { return y, h - 1 - x }), sameLight},
			{"turned by 180°", remade(img, w, h, 1, func(x, y int) (int, int) { return w - 1 - x, h - 1 - y }), sameLight},
			{"mirrored", remade(img, w, h, 1, func(x, y int) (int, int) { return w - 1 - x, y }), sameLight},
			{"half the size", halved(img), newNoise},
			{"JPEG quality 80", coded, newNoise},
		}
		results := make([]measure.Result, len(ways))
		var wg sync.WaitGroup
		for i, s := range ways {
			wg.Go(func() { results[i] = photo.Measure(s.img, measure.Options{Focal35mm: f35}) })
		}
		wg.Wait()
		require.Equal(t, measure.Measured, results[0].Status, "photo %s", id)
		plain := results[0].Hinge
		for i, s := range ways[1:] {
			t.Run(id+" "+s.name, func(t *testing.T) {
				r := results[i+1]
				require.Equal(t, measure.Measured, r.Status, r.RetakeReasons)
				most, which := moved(plain, r.Hinge)
				t.Logf("moved by %.2f combined u at the most (%s); height %.3f → %.3f, open width %.3f → %.3f",
					most, which, plain.Height.Value.MM(), r.Hinge.Height.Value.MM(), plain.OpenWidth.Value.MM(), r.Hinge.OpenWidth.Value.MM())
				require.Less(t, most, s.most, which)
				require.Equal(t, plain.Nominal.Size, r.Hinge.Nominal.Size)
				require.Equal(t, plain.Knuckles, r.Hinge.Knuckles)
				require.Equal(t, plain.Bearing, r.Hinge.Bearing)
				require.Equal(t, plain.Pattern, r.Hinge.Pattern)
				require.Equal(t, plain.Leaves[0].Corners, r.Hinge.Leaves[0].Corners)
			})
		}
	}
}
