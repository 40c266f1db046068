package card

import (
	"bytes"
	"encoding/json"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// A cardTruth is what a photo's truth file says about card and camera.
type cardTruth struct {
	ID, Level, Expect string
	Image             struct {
		FocalPx float64 `json:"focal_px_upright"`
	}
	Card   struct{ Width, Height, Radius float64 }
	Camera struct {
		Focal35 float64 `json:"focal_35mm"`
		K1      float64
		TiltDeg float64 `json:"tilt_deg"`
	}
	Finishing struct {
		Exif        bool
		Orientation int
	} `json:"finish_steps"`
	Points struct {
		Card []struct {
			World geom.Vec3 `json:"world_mm"`
			Px    measure.Pixel
		}
	} `json:"points_px_upright"`

	path string
}

// options is what the photo's EXIF says.
func (c cardTruth) options() measure.Options {
	if c.Finishing.Exif {
		return measure.Options{Focal35mm: c.Camera.Focal35}
	}
	return measure.Options{}
}

func cardTruths(t testing.TB) []cardTruth {
	paths, err := filepath.Glob("../../testdata/photos/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	var all []cardTruth
	for _, p := range paths {
		b, err := os.ReadFile(p)
		require.NoError(t, err)
		var c cardTruth
		require.NoError(t, json.Unmarshal(b, &c))
		c.path = strings.TrimSuffix(p, ".json") + ".jpg"
		all = append(all, c)
	}
	return all
}

// picture decodes the photo and turns it upright.
func (c cardTruth) picture(t testing.TB) image.Image {
	img := decodeJPEG(t, c.path)
	if !c.Finishing.Exif {
		return img
	}
	return turned(img.(*image.YCbCr), c.Finishing.Orientation)
}

func decodeJPEG(t testing.TB, path string) image.Image {
	r, err := os.Open(path)
	require.NoError(t, err)
	defer r.Close()
	img, err := jpeg.Decode(r)
	require.NoError(t, err)
	return img
}

// turned applies EXIF orientation 1, 2, 3, 6 or 8 to the planes themselves.
func turned(m *image.YCbCr, orientation int) image.Image {
	turn := func(a []uint8, stride, w, h int) ([]uint8, int) {
		out := make([]uint8, w*h)
		for y := range h {
			for x := range w {
				v := a[y*stride+x]
				switch orientation {
				case 2: // mirrored
					out[y*w+w-1-x] = v
				case 3:
					out[(h-1-y)*w+w-1-x] = v
				case 6: // a quarter clockwise
					out[x*h+h-1-y] = v
				case 8:
					out[(w-1-x)*h+y] = v
				}
			}
		}
		if orientation <= 3 {
			return out, w
		}
		return out, h
	}
	if orientation <= 1 {
		return m
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	cw, ch := w, h
	switch m.SubsampleRatio {
	case image.YCbCrSubsampleRatio420:
		cw, ch = (w+1)/2, (h+1)/2
	case image.YCbCrSubsampleRatio422:
		cw = (w + 1) / 2
	}
	out := &image.YCbCr{SubsampleRatio: m.SubsampleRatio, Rect: image.Rect(0, 0, w, h)}
	out.Y, out.YStride = turn(m.Y, m.YStride, w, h)
	out.Cb, out.CStride = turn(m.Cb, m.CStride, cw, ch)
	out.Cr, _ = turn(m.Cr, m.CStride, cw, ch)
	if orientation > 3 {
		out.Rect = image.Rect(0, 0, h, w)
		if m.SubsampleRatio == image.YCbCrSubsampleRatio422 {
			out.SubsampleRatio = image.YCbCrSubsampleRatio440
		}
	}
	return out
}

// cornerErrors is how far each true card corner lies from the nearest fitted one, px.
func (c cardTruth) cornerErrors(got Fit) (d [4]float64) {
	for i, p := range c.Points.Card {
		d[i] = geom.Distance(p.Px, got.Corners[0])
		for _, q := range got.Corners[1:] {
			d[i] = min(d[i], geom.Distance(p.Px, q))
		}
	}
	return d
}

// Photos with their truth: see testdata/photos/README.md. Every one that must be refused is,
// for its own reason; on all others the corners are found, on tilted and distorted ones too.
func TestFindCard(t *testing.T) {
	refusals := map[string]measure.Reason{
		"no card in the picture":         measure.CardMissing,
		"card not wholly in the picture": measure.CardCutOff,
		"card is not ID-1 size":          measure.CardWrongSize,
		"too blurred":                    measure.Blurred,
	}
	for _, c := range cardTruths(t) {
		t.Run(c.ID, func(t *testing.T) {
			f := picture.NewFrame(c.picture(t))
			require.Empty(t, quality(f))
			got, why := find(f, c.options())
			if want, refused := refusals[c.Expect]; refused {
				require.Equal(t, []measure.Reason{want}, why)
				return
			}
			require.Empty(t, why)
			d := c.cornerErrors(got)
			t.Logf("%s: corners off by %.2f px, rms %.2f px, f %.0f ± %.0f px by %s, truly %.0f",
				c.Level, d, got.RMS, got.Cam.F, got.focalSigma, got.FocalFrom, c.Image.FocalPx)
			for _, v := range d {
				// 0.5 px is what two sides, each wrong by four of their standard uncertainties
				// of some hundredths of a millimetre, come to.
				require.Less(t, v, 0.5, "px from the true corner")
			}
			require.InDelta(t, c.Image.FocalPx, got.Cam.F, 3*got.focalSigma, "focal length, px")
		})
	}
}

// Turning, mirroring, halving and re-encoding the picture move no corner by more than the
// edges' own uncertainty.
func TestFindCardWhateverThePicture(t *testing.T) {
	for _, c := range cardTruths(t) {
		switch c.ID {
		case "002", "008", "013", "014": // dark stripes, speckled stone, white on white, wood at 28°
		default:
			continue
		}
		img := c.picture(t).(*image.YCbCr)
		w, h := float64(img.Rect.Dx()), float64(img.Rect.Dy())
		for _, v := range []struct {
			name    string
			picture func() image.Image
			move    func(measure.Pixel) measure.Pixel
		}{
			{"a quarter turn", func() image.Image { return turned(img, 6) }, func(p measure.Pixel) measure.Pixel { return measure.Pixel{X: h - p.Y, Y: p.X} }},
			{"half a turn", func() image.Image { return turned(img, 3) }, func(p measure.Pixel) measure.Pixel { return measure.Pixel{X: w - p.X, Y: h - p.Y} }},
			{"mirrored", func() image.Image { return turned(img, 2) }, func(p measure.Pixel) measure.Pixel { return measure.Pixel{X: w - p.X, Y: p.Y} }},
			{"halved", func() image.Image { return halved(img) }, func(p measure.Pixel) measure.Pixel { return measure.Pixel{X: p.X / 2, Y: p.Y / 2} }},
			{"JPEG quality 80", func() image.Image { return recoded(t, img, 80) }, func(p measure.Pixel) measure.Pixel { return p }},
		} {
			t.Run(c.ID+" "+v.name, func(t *testing.T) {
				got, why := find(picture.NewFrame(v.picture()), c.options())
				require.Empty(t, why)
				moved := c
				moved.Points.Card = slices.Clone(c.Points.Card)
				for i := range moved.Points.Card {
					moved.Points.Card[i].Px = v.move(c.Points.Card[i].Px)
				}
				for _, d := range moved.cornerErrors(got) {
					require.Less(t, d, 0.45, "px from the true corner") // the photos are drawn with the notes' focal length to the digit, which no lens focused near has
				}
			})
		}
	}
}

// halved averages two by two pixels, luma and chroma.
func halved(m *image.YCbCr) image.Image {
	half := func(a []uint8, stride, w, h int) ([]uint8, int) {
		w, h = w/2, h/2
		out := make([]uint8, w*h)
		for y := range h {
			for x := range w {
				i := 2*y*stride + 2*x
				out[y*w+x] = uint8((int(a[i]) + int(a[i+1]) + int(a[i+stride]) + int(a[i+stride+1]) + 2) / 4)
			}
		}
		return out, w
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := &image.YCbCr{SubsampleRatio: m.SubsampleRatio, Rect: image.Rect(0, 0, w/2, h/2)}
	out.Y, out.YStride = half(m.Y, m.YStride, w, h)
	cw, ch := m.CStride, len(m.Cb)/m.CStride
	out.Cb, out.CStride = half(m.Cb, m.CStride, cw, ch)
	out.Cr, _ = half(m.Cr, m.CStride, cw, ch)
	return out
}

func recoded(t testing.TB, m image.Image, quality int) image.Image {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}))
	out, err := jpeg.Decode(&b)
	require.NoError(t, err)
	return out
}

// Photographs by others, of things that are no card: chessboards, grids of discs, metal plates, a
// white sheet with a pattern, rooms and faces. They are read in place where they are present.
func TestRealPhotosHoldNoCard(t *testing.T) {
	paths, err := filepath.Glob("../../../shared/real/*/*.jpg")
	require.NoError(t, err)
	if len(paths) == 0 {
		t.Skip("left out: the photographs by others are not here")
	}
	for i, p := range paths {
		set := filepath.Base(filepath.Dir(p))
		if set == "card-plain" || i%4 != 0 && set != "playing-cards" {
			continue // that is one; grids and chessboards have many straight lines, and cost seconds each
		}
		t.Run(filepath.Base(filepath.Dir(p))+"/"+filepath.Base(p), func(t *testing.T) {
			_, why := find(picture.NewFrame(decodeJPEG(t, p)), measure.Options{})
			require.NotEmpty(t, why, "taken for a card")
			switch set {
			case "playing-cards", "boards", "charuco-table", "chessboard-stereo": // rectangles that a person might call a wrong card
			default:
				require.NotContains(t, why, measure.CardWrongSize)
			}
			t.Log(why)
		})
	}
}

// BenchmarkCard times the steps on a photo of 12 megapixels.
func BenchmarkCard(b *testing.B) {
	c := cardTruths(b)[14]
	img := c.picture(b)
	f := picture.NewFrame(img)
	n := f.Reduction()
	b.Run("reduce", func(b *testing.B) {
		for b.Loop() {
			picture.NewFrame(img).Reduce(n)
		}
	})
	b.Run("edges", func(b *testing.B) {
		for b.Loop() {
			newEdgeMap(f)
		}
	})
	e := newEdgeMap(f)
	b.Run("lines", func(b *testing.B) {
		for b.Loop() {
			e.lines()
		}
	})
	lines := e.lines()
	b.Run("candidates", func(b *testing.B) {
		for b.Loop() {
			newLineSet(e, lines).candidates()
		}
	})
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			find(picture.NewFrame(img), c.options())
		}
	})
	t := cardTrial{}
	for _, q := range newLineSet(e, lines).candidates() {
		var ok bool
		if t, ok = tryCard(f, q, false, c.options()); ok && t.verdict() == isCard {
			b.Run("try", func(b *testing.B) {
				for b.Loop() {
					tryCard(f, q, false, c.options())
				}
			})
			break
		}
	}
	b.Run("finish", func(b *testing.B) {
		for b.Loop() {
			u := t
			u.finish(f, c.options())
		}
	})
}
