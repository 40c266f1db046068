package baseline

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"leafgauge/intake/upright"

	"github.com/stretchr/testify/require"
)

// requireSamePicture holds a picture to image/jpeg's: the same samples, or within one level of
// them should it round otherwise one day.
func requireSamePicture(t *testing.T, want, got *image.YCbCr) {
	t.Helper()
	require.Equal(t, want.Rect, got.Rect)
	require.Equal(t, want.SubsampleRatio, got.SubsampleRatio)
	other := 0
	for y := range want.Rect.Dy() {
		for x := range want.Rect.Dx() {
			a, b := want.YCbCrAt(x, y), got.YCbCrAt(x, y)
			if a == b {
				continue
			}
			other++
			for _, d := range [3]int{int(a.Y) - int(b.Y), int(a.Cb) - int(b.Cb), int(a.Cr) - int(b.Cr)} {
				require.LessOrEqual(t, max(d, -d), 1, "%v instead of %v at (%d, %d)", b, a, x, y)
			}
		}
	}
	if other > 0 {
		t.Logf("%d of %v samples round otherwise than image/jpeg's", other, want.Rect.Size())
	}
}

// The decoder of our own reads every photo as image/jpeg does.
func TestAgainstStandardLibrary(t *testing.T) {
	paths, err := filepath.Glob("../../testdata/photos/*.jpg")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	if testing.Short() {
		paths = paths[:3]
	}
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		got := Decode(data, 1)
		require.NotNil(t, got, path)
		want, err := jpeg.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		requireSamePicture(t, want.(*image.YCbCr), got)
	}
}

// noise is a picture of strong contrasts, which blocks of all coefficients are made for.
func noise(w, h int, seed uint64) image.Image {
	rnd := rand.New(rand.NewPCG(seed, 1))
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := uint8(rnd.Uint32())
			m.SetRGBA(x, y, color.RGBA{v, uint8(rnd.Uint32()), 255 - v, 255})
		}
	}
	return m
}

// Sizes that are no whole blocks, all qualities, noise.
func TestOnNoise(t *testing.T) {
	for i, size := range [][2]int{{16, 16}, {17, 33}, {40, 25}, {1, 1}, {131, 67}} {
		for _, q := range []int{1, 30, 75, 95, 100} {
			var b bytes.Buffer
			require.NoError(t, jpeg.Encode(&b, noise(size[0], size[1], uint64(i)), &jpeg.Options{Quality: q}))
			got := Decode(b.Bytes(), 1)
			require.NotNil(t, got, "%v at quality %d", size, q)
			want, err := jpeg.Decode(&b)
			require.NoError(t, err)
			requireSamePicture(t, want.(*image.YCbCr), got)
		}
	}
}

// Turned as it is decoded a picture is as turned afterwards.
func TestTurns(t *testing.T) {
	for i, size := range [][2]int{{16, 16}, {48, 32}, {18, 50}, {130, 66}, {17, 33}} {
		for _, q := range []int{10, 90} {
			var b bytes.Buffer
			require.NoError(t, jpeg.Encode(&b, noise(size[0], size[1], uint64(i)), &jpeg.Options{Quality: q}))
			stored := Decode(b.Bytes(), 1)
			for o := 1; o <= 8; o++ {
				got := Decode(b.Bytes(), o)
				if got == nil { // left to turn, for want of a whole sample of colour at the far side
					tr := upright.For(o)
					require.True(t, size[0]%2 > 0 && tr.FlipX || size[1]%2 > 0 && tr.FlipY, "%v, orientation %d", size, o)
					continue
				}
				requireSamePicture(t, upright.Turn(stored, o).(*image.YCbCr), got)
			}
		}
	}
}

// withRestarts is a JPEG of a picture 16 pixels high with a restart marker after each unit of
// 16 × 16: the units are encoded one by one and their data joined.
func withRestarts(t *testing.T, m image.Image) []byte {
	t.Helper()
	var out []byte
	var scans [][]byte
	b := m.Bounds()
	for x := b.Min.X; x < b.Max.X; x += 16 {
		var one bytes.Buffer
		unit := m.(*image.RGBA).SubImage(image.Rect(x, 0, x+16, 16))
		require.NoError(t, jpeg.Encode(&one, unit, &jpeg.Options{Quality: 80}))
		data := one.Bytes()
		sos := bytes.Index(data, []byte{0xff, 0xda})
		scan := sos + 2 + int(data[sos+2])<<8 + int(data[sos+3])
		if out == nil {
			out = append(out, data[:sos]...)
			sof := bytes.Index(out, []byte{0xff, 0xc0})
			out[sof+7], out[sof+8] = byte(b.Dx()>>8), byte(b.Dx())
			out = append(out, 0xff, 0xdd, 0, 4, 0, 1)
			out = append(out, data[sos:scan]...)
		}
		scans = append(scans, data[scan:len(data)-2])
	}
	for i, s := range scans {
		if i > 0 {
			out = append(out, 0xff, 0xd0+byte(i-1)&7)
		}
		out = append(out, s...)
	}
	return append(out, 0xff, 0xd9)
}

// Restart intervals (E.1.4), as some phones write them.
func TestRestarts(t *testing.T) {
	data := withRestarts(t, noise(16*21, 16, 5))
	want, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	got := Decode(data, 1)
	require.NotNil(t, got)
	requireSamePicture(t, want.(*image.YCbCr), got)
	// A marker out of turn is for image/jpeg to judge.
	spoiled := bytes.Replace(data, []byte{0xff, 0xd3}, []byte{0xff, 0xd5}, 1)
	require.Nil(t, Decode(spoiled, 1))
	require.Nil(t, Decode(data[:len(data)-20], 1))
}

// What is cut short or spoiled is either left to image/jpeg or read as it reads it.
func FuzzDecode(f *testing.F) {
	for i, q := range []int{20, 80, 97} {
		var b bytes.Buffer
		require.NoError(f, jpeg.Encode(&b, noise(40, 30, uint64(i)), &jpeg.Options{Quality: q}))
		f.Add(b.Bytes())
		f.Add(b.Bytes()[:b.Len()/2])
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if c, err := jpeg.DecodeConfig(bytes.NewReader(data)); err == nil && c.Width*c.Height > 1<<20 {
			return
		}
		got := Decode(data, 1)
		if got == nil {
			return
		}
		want, err := jpeg.Decode(bytes.NewReader(data))
		require.NoError(t, err, "taken though image/jpeg refuses it")
		m, ok := want.(*image.YCbCr)
		require.True(t, ok)
		require.Equal(t, m.Rect, got.Rect)
	})
}

func BenchmarkJPEG(b *testing.B) {
	data, err := os.ReadFile("../../testdata/photos/001.jpg")
	require.NoError(b, err)
	b.Run("own", func(b *testing.B) {
		for b.Loop() {
			Decode(data, 1)
		}
	})
	b.Run("standard", func(b *testing.B) {
		for b.Loop() {
			_, _ = jpeg.Decode(bytes.NewReader(data))
		}
	})
}
