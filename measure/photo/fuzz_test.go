package photo_test

import (
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"leafgauge/measure"
	"leafgauge/measure/photo"

	"github.com/stretchr/testify/require"
)

// longest is how long any picture may take here: far more than it needs, far less than for
// ever. The race detector and a busy machine cost a factor of ten.
const longest = 60 * time.Second

// requireAnswer holds what is true of every Result, whatever was in the picture.
func requireAnswer(t testing.TB, img image.Image, opt measure.Options) measure.Result {
	t.Helper()
	start := time.Now()
	r := photo.Measure(img, opt)
	require.Less(t, time.Since(start), longest)
	require.Equal(t, img.Bounds().Dx(), r.Image.Width)
	require.Equal(t, img.Bounds().Dy(), r.Image.Height)
	require.NotNil(t, r.RetakeReasons)
	for _, why := range r.RetakeReasons {
		require.True(t, slices.Contains(measure.Reasons, why), why)
	}
	_, err := json.Marshal(r) // refuses NaN and infinities
	require.NoError(t, err)
	if r.Status == measure.Retake {
		require.NotEmpty(t, r.RetakeReasons)
		require.Nil(t, r.Hinge)
		return r
	}
	require.Equal(t, measure.Measured, r.Status)
	require.Empty(t, r.RetakeReasons)
	require.NotNil(t, r.Card)
	require.NotNil(t, r.Camera)
	require.NotNil(t, r.Hinge)
	require.True(t, r.Hinge.Height.Known())
	require.NotEmpty(t, r.Hinge.Leaves)
	for _, e := range lengths(r.Hinge, false, false) {
		require.GreaterOrEqual(t, e.Sigma.MM(), 0.0, e.name)
		require.Less(t, math.Abs(e.Value.MM()), 400.0, e.name)
	}
	c := r.Hinge.Covariance
	require.NotNil(t, c)
	for i := range c.Keys {
		require.Greater(t, c.MM2[i][i], 0.0, c.Keys[i])
		for j := range i {
			most := math.Sqrt(c.MM2[i][i] * c.MM2[j][j])
			require.InDelta(t, c.MM2[i][j], c.MM2[j][i], 1e-9*most)
			require.LessOrEqual(t, math.Abs(c.MM2[i][j]), most*(1+1e-9), "%s, %s", c.Keys[i], c.Keys[j])
		}
	}
	return r
}

// painted is a grey picture whose pixels are by f.
func painted(w, h int, f func(x, y int) uint8) image.Image {
	m := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetGray(x, y, color.Gray{Y: f(x, y)})
		}
	}
	return m
}

// Pictures that show nothing give reasons, never a hinge.
func TestSenselessPictures(t *testing.T) {
	rnd := rand.New(rand.NewPCG(13, 1))
	for _, s := range []struct {
		name string
		w, h int
		f    func(x, y int) uint8
	}{
		{"black", 640, 480, func(x, y int) uint8 { return 0 }},
		{"white", 640, 480, func(x, y int) uint8 { return 255 }},
		{"grey", 640, 480, func(x, y int) uint8 { return 120 }},
		{"a gradient", 640, 480, func(x, y int) uint8 { return uint8(x * 255 / 640) }},
		{"a saw", 640, 480, func(x, y int) uint8 { return uint8(x + y) }},
		{"noise", 400, 300, func(x, y int) uint8 { return uint8(rnd.Uint32()) }},
		{"speckle", 640, 480, func(x, y int) uint8 { return uint8(255 * (rnd.Uint32N(50) / 49)) }},
		{"stripes", 640, 480, func(x, y int) uint8 { return uint8(255 * (x / 16 % 2)) }},
		{"fine stripes", 640, 480, func(x, y int) uint8 { return uint8(255 * (x % 2)) }},
		{"slanted stripes", 640, 480, func(x, y int) uint8 { return uint8(200 * ((x + 3*y) / 40 % 2)) }},
		{"large squares", 640, 480, func(x, y int) uint8 { return uint8(255 * ((x/80 + y/80) % 2)) }},
		{"rings", 640, 480, func(x, y int) uint8 {
			return uint8(127 + 120*math.Sin(math.Hypot(float64(x-320), float64(y-240))/7))
		}},
		{"one pixel", 1, 1, func(x, y int) uint8 { return 9 }},
		{"none", 0, 0, nil},
		{"one row", 4000, 1, func(x, y int) uint8 { return uint8(x) }},
		{"just too small", 299, 3000, func(x, y int) uint8 { return uint8(x ^ y) }},
		{"very wide", 6000, 300, func(x, y int) uint8 { return uint8(60 * (x / 500 % 4)) }},
		{"very high", 300, 6000, func(x, y int) uint8 { return uint8(x * y / 999) }},
		{"odd sides", 641, 479, func(x, y int) uint8 { return uint8(200 * ((x / 300) ^ (y/200)&1)) }},
	} {
		t.Run(s.name, func(t *testing.T) {
			r := requireAnswer(t, painted(s.w, s.h, s.f), measure.Options{Focal35mm: 26})
			require.Equal(t, measure.Retake, r.Status)
			if min(s.w, s.h) < 300 {
				require.Equal(t, []measure.Reason{measure.TooSmall}, r.RetakeReasons)
			}
		})
	}
}

// What the options say may be as senseless as a picture.
func TestSenselessOptions(t *testing.T) {
	img, _ := devPhoto(t, "005")
	small := halved(img)
	for _, opt := range []measure.Options{
		{Focal35mm: 1e-9}, {Focal35mm: 1e9}, {Focal35mm: -26}, {Focal35mm: math.NaN()}, {Focal35mm: math.Inf(1)},
		{Focal35mm: 26, Thickness: measure.Estimate{Value: 88.9, Sigma: 0.01}},
		{Focal35mm: 26, Thickness: measure.Estimate{Value: 0.001, Sigma: 1e-6}},
	} {
		t.Run(fmt.Sprintf("%g %v", opt.Focal35mm, opt.Thickness), func(t *testing.T) {
			requireAnswer(t, small, opt)
		})
	}
}

// blotched is a copy of img with rectangles of random place, size and light, in a window.
func blotched(img *image.YCbCr, rnd *rand.Rand, n int, window image.Rectangle) *image.YCbCr {
	m := *img
	m.Y, m.Cb, m.Cr = slices.Clone(img.Y), slices.Clone(img.Cb), slices.Clone(img.Cr)
	for range n {
		w, h := 4+rnd.IntN(window.Dx()/3+1), 4+rnd.IntN(window.Dy()/3+1)
		at := image.Pt(window.Min.X+rnd.IntN(window.Dx()), window.Min.Y+rnd.IntN(window.Dy()))
		r := image.Rectangle{at, at.Add(image.Pt(w, h))}.Intersect(img.Rect)
		y, b, c := uint8(rnd.Uint32()), uint8(100+rnd.IntN(56)), uint8(100+rnd.IntN(56))
		for j := r.Min.Y; j < r.Max.Y; j++ {
			for i := r.Min.X; i < r.Max.X; i++ {
				o := j*m.YStride + i
				m.Y[o], m.Cb[o], m.Cr[o] = y, b, c
			}
		}
	}
	return &m
}

// around is the smallest window that holds all places.
func around(at []measure.Pixel) image.Rectangle {
	r := image.Rectangle{}
	for _, p := range at {
		q := image.Pt(int(p.X), int(p.Y))
		r = r.Union(image.Rectangle{q, q.Add(image.Pt(1, 1))})
	}
	return r
}

// Things lie over card and hinge: findings or reasons, and where findings, sizes near the true
// ones all the same, by their own uncertainty.
func TestCoveredPhotos(t *testing.T) {
	img, f35 := devPhoto(t, "005")
	small := halved(img)
	plain := requireAnswer(t, small, measure.Options{Focal35mm: f35})
	require.Equal(t, measure.Measured, plain.Status)
	card := around(plain.Card.CornersPx[:])
	var outline []measure.Pixel
	for _, l := range plain.Hinge.Leaves {
		outline = append(outline, l.OutlinePx...)
	}
	hinge := around(outline)
	rnd := rand.New(rand.NewPCG(14, 1))
	measured := 0
	for round := range 10 {
		window, name := card, "card"
		if round%2 == 1 {
			window, name = hinge, "hinge"
		}
		t.Run(fmt.Sprintf("%s %d", name, round), func(t *testing.T) {
			r := requireAnswer(t, blotched(small, rnd, 1+round/2, window), measure.Options{Focal35mm: f35})
			t.Log(r.Status, r.RetakeReasons)
			if r.Status != measure.Measured {
				return
			}
			measured++
			d := float64(r.Hinge.Height.Value - plain.Hinge.Height.Value)
			t.Logf("height off by %+.2f mm, u %.2f", d, r.Hinge.Height.Sigma.MM())
			require.Less(t, math.Abs(d), 4*math.Hypot(r.Hinge.Height.Sigma.MM(), plain.Hinge.Height.Sigma.MM()))
		})
	}
	t.Logf("%d of 10 measured", measured)
}

// FuzzPhoto tries pictures that are made of rectangles, stripes and noise.
func FuzzPhoto(f *testing.F) {
	f.Add(uint16(640), uint16(480), uint8(5), uint8(0), uint8(3), 26.0, uint64(1))
	f.Add(uint16(300), uint16(900), uint8(40), uint8(12), uint8(0), 0.0, uint64(2))
	f.Add(uint16(700), uint16(301), uint8(90), uint8(200), uint8(60), 52.0, uint64(3))
	f.Add(uint16(320), uint16(320), uint8(255), uint8(1), uint8(255), -1.0, uint64(4))
	f.Fuzz(func(t *testing.T, w, h uint16, rects, stripe, noise uint8, f35 float64, seed uint64) {
		rnd := rand.New(rand.NewPCG(seed, 0))
		base := image.NewYCbCr(image.Rect(0, 0, int(w%1000)+1, int(h%1000)+1), image.YCbCrSubsampleRatio444)
		for o := range base.Y {
			base.Y[o], base.Cb[o], base.Cr[o] = 160, 128, 128
			if stripe > 0 && (o%base.YStride)/int(stripe)%2 == 1 {
				base.Y[o] = 90
			}
		}
		m := blotched(base, rnd, int(rects)/4, base.Rect)
		if noise > 0 {
			for o := range m.Y {
				m.Y[o] = uint8(min(255, max(0, int(m.Y[o])+rnd.IntN(int(noise))-int(noise)/2)))
			}
		}
		requireAnswer(t, m, measure.Options{Focal35mm: f35})
	})
}
