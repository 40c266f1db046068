package intake

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"leafgauge/intake/upright"
	"leafgauge/internal/truth"

	"github.com/stretchr/testify/require"
)

func read(t testing.TB, path string) []byte {
	b, err := os.ReadFile(filepath.Join("..", "testdata", path))
	require.NoError(t, err)
	return b
}

func TestAdmitRefuses(t *testing.T) {
	many := manyScans(read(t, "formats/small.jpg"), 40)
	jpg := read(t, "formats/small.jpg")
	for _, c := range []struct {
		name, code string
		data       []byte
	}{
		{"an empty file", CodeEmpty, read(t, "bad/empty.jpg")},
		{"text", CodeNotAnImage, read(t, "bad/not_a_picture.jpg")},
		{"a format that isn't taken", CodeUnsupported, read(t, "bad/other_format.gif")},
		{"a TIFF, which another package may have registered a decoder for", CodeUnsupported, append([]byte("II*\x00"), make([]byte, 100)...)},
		{"a PDF", CodeUnsupported, []byte("%PDF-1.7\n")},
		{"a video", CodeUnsupported, []byte("\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isomiso2")},
		{"a cut JPEG", CodeDamaged, read(t, "bad/cut_short.jpg")},
		{"a false size in the header", CodeDamaged, read(t, "bad/false_size.jpg")},
		{"a cut PNG", CodeDamaged, cut(read(t, "formats/small.png"))},
		{"a cut WebP", CodeDamaged, cut(read(t, "formats/small.webp"))},
		{"a cut HEIC", CodeDamaged, cut(read(t, "formats/small.heic"))},
		{"a WebP whose frame is larger than its header says", CodeDamaged, falseFrame(read(t, "formats/tiny.webp"))},
		{"one pixel", CodeTooFewPixels, read(t, "bad/one_pixel.png")},
		{"60 megapixels", CodeTooManyPixels, read(t, "bad/sixty_megapixels.png")},
		{"50 MB", CodeTooLarge, append(bytes.Clone(jpg), make([]byte, 50<<20)...)},
		{"a JPEG of forty scans", CodeTooComplex, many},
		{"the first bytes of a JPEG", CodeDamaged, jpg[:3]},
		{"the first bytes of a WebP", CodeDamaged, []byte("RIFF\x00\x00\x00\x00WEBP")},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := Admit("x.jpg", c.data)
			var invalid *InvalidError
			require.ErrorAs(t, err, &invalid)
			require.Equal(t, c.code, invalid.Code, invalid.Text)
			require.Equal(t, "photo", invalid.Field)
			require.Contains(t, invalid.Text, "Please", "says what to do")
			require.Zero(t, p)
		})
	}
}

func cut(b []byte) []byte { return b[:len(b)*6/10] }

// falseFrame makes the frame of a lossy WebP 16383 pixels wide and high, and leaves its header.
func falseFrame(data []byte) []byte {
	out := bytes.Clone(data)
	frame := bytes.Index(out, []byte("VP8 ")) + 8
	copy(out[frame+6:], "\xff\x3f\xff\x3f")
	return out
}

// manyScans repeats a progressive JPEG's last scan.
func manyScans(data []byte, n int) []byte {
	last := bytes.LastIndex(data, []byte{0xff, 0xda})
	scan := data[last : len(data)-2]
	out := bytes.Clone(data[:last])
	for range n {
		out = append(out, scan...)
	}
	return append(out, 0xff, 0xd9)
}

func TestAdmitTakesEachFormat(t *testing.T) {
	reference, err := Admit("small.jpg", read(t, "formats/small.jpg"))
	require.NoError(t, err)
	want, err := Decode(reference)
	require.NoError(t, err)
	for _, c := range []struct {
		file, format string
		w, h         int
		focal        float64
		tolerance    float64 // mean difference in luminance: both are compressed with loss
	}{
		{"small.jpg", JPEG, 640, 480, 35, 0},
		{"small.webp", WebP, 640, 480, 35, 4},
		{"small.png", PNG, 480, 640, 0, 6}, // 32 colours; its notes lie where no standard puts them
		{"small.heic", JPEG, 480, 640, 0, 4},
		{"lossless.webp", WebP, 150, 200, 0, -1},
	} {
		t.Run(c.file, func(t *testing.T) {
			p, err := Admit(c.file, read(t, "formats/"+c.file))
			require.NoError(t, err)
			require.Equal(t, c.format, p.Format)
			require.Equal(t, [2]int{c.w, c.h}, [2]int{p.Width, p.Height})
			require.Equal(t, c.focal, p.Focal35mm)
			img, err := Decode(p)
			require.NoError(t, err)
			require.Equal(t, image.Rect(0, 0, c.w, c.h), img.Bounds())
			if c.tolerance < 0 {
				return
			}
			if c.w < c.h { // without the note that turns it
				img = upright.Turn(img, 6)
			}
			require.LessOrEqual(t, difference(want, img), c.tolerance)
		})
	}
}

// difference is the mean absolute difference in luminance.
func difference(a, b image.Image) float64 {
	sum, n := 0.0, 0
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			p := color.GrayModel.Convert(a.At(x, y)).(color.Gray)
			q := color.GrayModel.Convert(b.At(x, y)).(color.Gray)
			sum += math.Abs(float64(p.Y) - float64(q.Y))
			n++
		}
	}
	return sum / float64(n)
}

func TestAdmitKeepsThePixelsAndNothingElse(t *testing.T) {
	for _, file := range []string{"photos/003.jpg", "photos/013.jpg", "photos/016.jpg", "formats/small.jpg", "formats/small.webp", "formats/small.png"} {
		t.Run(file, func(t *testing.T) {
			data := read(t, file)
			// A second picture or a video behind the first, as some phones put there.
			p, err := Admit(file, append(bytes.Clone(data), "trailing secret"...))
			require.NoError(t, err)
			for _, secret := range []string{"trailing secret", "Example", "GPS", "http://ns.adobe.com", "Phone"} {
				require.NotContains(t, string(p.Bytes), secret)
			}
			format := p.Format
			before, err := Decode(Photo{Format: format, Bytes: data})
			require.NoError(t, err)
			after, err := Decode(Photo{Format: format, Bytes: p.Bytes})
			require.NoError(t, err)
			require.Equal(t, before, after)

			again, err := Admit(file, p.Bytes)
			require.NoError(t, err)
			require.Equal(t, p, again)
		})
	}
}

func TestAdmitHoldsNoPlace(t *testing.T) {
	data := read(t, "photos/003.jpg")
	gps := []byte{0x25, 0x88} // the tag of the GPS directory (Exif 2.32, 0x8825), big-endian in this file or little
	require.True(t, bytes.Contains(data[:400], gps) || bytes.Contains(data[:400], []byte{0x88, 0x25}), "the photo as sent has a place")
	p, err := Admit("003.jpg", data)
	require.NoError(t, err)
	head := p.Bytes[:100]
	require.False(t, bytes.Contains(head, gps) || bytes.Contains(head, []byte{0x88, 0x25}))
	require.Equal(t, 6, p.Orientation)
	require.Equal(t, 35.0, p.Focal35mm)
}

func TestAdmitReadsTheCameraNotes(t *testing.T) {
	all, err := truth.All("../testdata/photos")
	require.NoError(t, err)
	for _, tr := range all {
		data, err := os.ReadFile(tr.Photo)
		require.NoError(t, err)
		c, err := jpeg.DecodeConfig(bytes.NewReader(data))
		require.NoError(t, err)
		s := readShot(JPEG, data, size{c.Width, c.Height})
		require.Equal(t, tr.Finishing.Orientation, s.orientation, tr.ID)
		if tr.Finishing.Exif {
			require.Equal(t, tr.Camera.Focal35, s.focal35, tr.ID)
		} else {
			require.Zero(t, s.focal35, tr.ID)
		}
	}
}

// The truth says where the card's corners fall in the upright picture. Of all eight ways to
// turn the stored picture, the card's sides are the strongest edges in the one that was taken.
func TestDecodeTurnsTheRealPhotosUpright(t *testing.T) {
	for _, id := range []string{"001", "003", "007", "011", "013", "015"} { // orientations 1, 6, 3, 6, 8, 8
		t.Run(id, func(t *testing.T) {
			tr, err := truth.Load("../testdata/photos/" + id + ".json")
			require.NoError(t, err)
			p, err := Admit(id+".jpg", read(t, "photos/"+id+".jpg"))
			require.NoError(t, err)
			require.Equal(t, tr.Finishing.Orientation, p.Orientation)
			require.Equal(t, tr.Image.UprightPx, [2]int{p.Width, p.Height})
			img, err := Decode(p)
			require.NoError(t, err)
			turned, ok := img.(*image.YCbCr)
			require.True(t, ok, "%T", img)
			require.Equal(t, image.Rect(0, 0, p.Width, p.Height), turned.Bounds())

			here := edgeStrength(turned, tr)
			stored, err := Decode(Photo{Format: p.Format, Bytes: p.Bytes})
			require.NoError(t, err)
			for o := 1; o <= 8; o++ {
				if o == p.Orientation {
					continue
				}
				other := upright.Turn(stored, o).(*image.YCbCr)
				require.Greater(t, here, 2*edgeStrength(other, tr), "orientation %d", o)
			}
		})
	}
}

// edgeStrength is the mean difference in colour across the card's sides.
func edgeStrength(m *image.YCbCr, tr truth.Truth) float64 {
	sum, n := 0.0, 0
	across := func(x1, y1, x2, y2 float64) float64 {
		p, q := m.YCbCrAt(int(x1), int(y1)), m.YCbCrAt(int(x2), int(y2)) // zero outside the picture
		return math.Abs(float64(p.Y)-float64(q.Y)) + math.Abs(float64(p.Cb)-float64(q.Cb)) + math.Abs(float64(p.Cr)-float64(q.Cr))
	}
	for i, a := range tr.Points.Card {
		b := tr.Points.Card[(i+1)%4]
		dx, dy := b.Px.X-a.Px.X, b.Px.Y-a.Px.Y
		length := math.Hypot(dx, dy)
		for f := 0.1; f < 0.9; f += 0.01 {
			x, y := a.Px.X+f*dx, a.Px.Y+f*dy
			const off = 4 // px to either side
			sum += across(x-off*dy/length, y+off*dx/length, x+off*dy/length, y-off*dx/length)
			n++
		}
	}
	return sum / float64(n)
}

func TestFocalLength(t *testing.T) {
	stored := size{4032, 3024}
	for _, c := range []struct {
		name string
		tags map[string]float64
		want float64
	}{
		{"as noted", map[string]float64{"FocalLengthIn35mmFormat": 26}, 26},
		{"nothing noted", nil, 0},
		{"the other way up", map[string]float64{"FocalLengthIn35mmFormat": 26, "ExifImageWidth": 3024, "ExifImageHeight": 4032}, 26},
		{"reduced", map[string]float64{"FocalLengthIn35mmFormat": 26, "ExifImageWidth": 8064, "ExifImageHeight": 6048}, 26},
		{"cropped to other proportions", map[string]float64{"FocalLengthIn35mmFormat": 26, "ExifImageWidth": 4032, "ExifImageHeight": 2268}, 0},
		{"out of the question", map[string]float64{"FocalLengthIn35mmFormat": 65535}, 0},
		// By hand: 5.7 mm on a sensor of 7.2 × 5.4 mm, 9.0 mm across: 5.7 · 43.2666 / 9 = 27.40.
		{"from the sensor", map[string]float64{"FocalLength": 5.7, "FocalPlaneXResolution": 4032 / 0.72, "FocalPlaneResolutionUnit": 3, "ExifImageWidth": 4032, "ExifImageHeight": 3024}, 27.40},
		{"a focal length alone says nothing", map[string]float64{"FocalLength": 5.7}, 0},
	} {
		t.Run(c.name, func(t *testing.T) { require.InDelta(t, c.want, focal35(c.tags, stored), 0.005) })
	}
}

func TestOwnNotesReadBack(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 32)), nil))
	var p bytes.Buffer
	require.NoError(t, png.Encode(&p, image.NewGray(image.Rect(0, 0, 64, 32))))
	for format, data := range map[string][]byte{JPEG: b.Bytes(), PNG: p.Bytes()} {
		for _, s := range []shot{{1, 0}, {6, 0}, {1, 26}, {8, 52}} {
			out, err := strip(format, data, s)
			require.NoError(t, err)
			require.Equal(t, s, readShot(format, out, size{64, 32}), format)
		}
	}
}

func TestBadOrientationIsNone(t *testing.T) {
	for _, o := range []uint16{0, 9, 65535} {
		p, err := Admit("x.jpg", withOrientation(t, o))
		require.NoError(t, err)
		require.Equal(t, 1, p.Orientation)
	}
}

// withOrientation is a small JPEG whose notes hold one orientation.
func withOrientation(t *testing.T, o uint16) []byte {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 32)), nil))
	body := append([]byte("Exif\x00\x00"), shot{orientation: 6}.exif()...)
	// Six bytes of "Exif", eight of the TIFF header, two of the count, eight of the entry.
	binary.LittleEndian.PutUint16(body[6+8+2+8:], o)
	return append(segment([]byte{0xff, 0xd8}, 0xe1, body), b.Bytes()[2:]...)
}

func TestHarmlessName(t *testing.T) {
	for in, want := range map[string]string{
		"IMG_0001.JPG": "IMG_0001.JPG", "": "photo", "..": "photo", "/": "photo", "../../etc/passwd": "passwd",
		`C:\pictures\hinge 1.jpg`: "hinge 1.jpg", "a\r\nb\x00.jpg": "ab.jpg", `"><script>.png`: "script.png",
		"Scharnier größe.heic": "Scharnier größe.heic", "\xff\xfe.jpg": "jpg",
	} {
		require.Equal(t, want, harmlessName(in), "%q", in)
	}
	require.Len(t, harmlessName(string(bytes.Repeat([]byte("x"), 5000))), 100)
}

// Whatever comes, Admit answers with a photo that can be decoded or with *InvalidError.
func FuzzAdmit(f *testing.F) {
	for _, file := range []string{"formats/tiny.jpg", "formats/tiny.webp", "formats/tiny.png", "bad/one_pixel.png", "bad/other_format.gif"} {
		f.Add(read(f, file))
	}
	whole := read(f, "formats/tiny.jpg")
	f.Add(whole[:len(whole)-1]) // half an end marker
	f.Add(falseFrame(read(f, "formats/tiny.webp")))
	f.Fuzz(func(t *testing.T, data []byte) {
		format, err := sniff(data)
		if err == nil && format == HEIC {
			t.Skip("its decoder takes most of a second; TestDamagedHEIC has it")
		}
		if s, err := headerSize(format, data); err == nil && s.w*s.h > 1<<20 {
			t.Skip("a false size costs its memory only; TestAdmitRefuses has it")
		}
		p, err := Admit("x", data)
		if err != nil {
			var invalid *InvalidError
			require.True(t, errors.As(err, &invalid), "%v", err)
			return
		}
		img, err := Decode(p)
		require.NoError(t, err)
		require.Equal(t, image.Rect(0, 0, p.Width, p.Height), img.Bounds())
		again, err := Admit("x", p.Bytes)
		require.NoError(t, err)
		require.Equal(t, p.SHA256, again.SHA256)
	})
}

func TestDamagedHEIC(t *testing.T) {
	data := read(t, "formats/small.heic")
	for i := range 12 {
		d := bytes.Clone(data)
		for k := range 20 {
			d[(i*7919+k*104729)%len(d)] ^= byte(1 << (i % 8))
		}
		p, err := Admit("x.heic", d)
		var invalid *InvalidError
		if err != nil {
			require.ErrorAs(t, err, &invalid)
			continue
		}
		_, err = Decode(p)
		require.NoError(t, err)
	}
}

func BenchmarkDecode(b *testing.B) {
	for _, id := range []string{"001", "003", "008"} { // orientations 1, 6, 3, 12 megapixels
		p, err := Admit(id, read(b, "photos/"+id+".jpg"))
		require.NoError(b, err)
		b.Run(id, func(b *testing.B) {
			for b.Loop() {
				if _, err := Decode(p); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
