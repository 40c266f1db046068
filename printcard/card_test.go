package printcard

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"regexp"
	"strconv"
	"testing"

	"leafgauge/measure"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/require"
)

// point is the PDF unit in mm (ISO 32000-1, 8.3.2.3: 1/72 inch).
const point = 25.4 / 72

func TestWriteKeepsTheScale(t *testing.T) {
	for paper, size := range map[string][2]float64{"a4": {210, 297}, "letter": {215.9, 279.4}} { // ISO 216; ANSI/ASME Y14.1 A
		t.Run(paper, func(t *testing.T) {
			var b, again bytes.Buffer
			require.NoError(t, Write(&b, paper))
			require.NoError(t, Write(&again, paper))
			require.Equal(t, b.Bytes(), again.Bytes())

			media := regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`).FindStringSubmatch(b.String())
			require.Len(t, media, 3)
			require.InDelta(t, size[0], number(t, media[1])*point, 0.01)
			require.InDelta(t, size[1], number(t, media[2])*point, 0.01)

			// The frame's outer edge is the first path: its straight sides' ends give its size.
			lo, hi := [2]float64{1e9, 1e9}, [2]float64{}
			path := regexp.MustCompile(`(?s)([\d.]+) ([\d.]+) m\n.*?\nf\n`).FindString(b.String())
			require.NotEmpty(t, path)
			for _, p := range regexp.MustCompile(`([\d.]+) ([\d.]+) (?:m|l|c)\b`).FindAllStringSubmatch(path, -1) {
				for k := range 2 {
					v := number(t, p[k+1]) * point
					lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
				}
			}
			// ISO/IEC 7810:2019, ID-1: 85.60 × 53.98 mm. The file has coordinates to 0.01 pt.
			require.InDelta(t, 85.60, hi[0]-lo[0], 0.01)
			require.InDelta(t, 53.98, hi[1]-lo[1], 0.01)
		})
	}
	require.Error(t, Write(&bytes.Buffer{}, "a5"))
}

func number(t *testing.T, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// drawn is the card at ten dots a millimetre, white around it.
func drawn(t *testing.T) *image.Gray {
	const scale, rim = 10, 20
	px := func(mm float64) int { return int(mm*scale+0.5) + rim }
	img := image.NewGray(image.Rect(0, 0, px(measure.PrintedCard().Width)+rim, px(measure.PrintedCard().Height)+rim))
	draw.Draw(img, img.Rect, image.White, image.Point{}, draw.Src)
	boxes, discs, err := card()
	require.NoError(t, err)
	ink := func(s shade) *image.Uniform {
		return image.NewUniform(color.RGBA{uint8(s.r), uint8(s.g), uint8(s.b), 255})
	}
	for _, b := range boxes {
		draw.Draw(img, image.Rect(px(b.x), px(b.y), px(b.x+b.w), px(b.y+b.h)), ink(b.shade), image.Point{}, draw.Src)
	}
	for _, d := range discs {
		for y := px(d.y - d.r); y < px(d.y+d.r); y++ {
			for x := px(d.x - d.r); x < px(d.x+d.r); x++ {
				dx, dy := float64(x-px(d.x)), float64(y-px(d.y))
				if dx*dx+dy*dy < d.r*d.r*scale*scale {
					img.Set(x, y, ink(d.shade).C)
				}
			}
		}
	}
	return img
}

// An independent reader of ISO/IEC 18004 reads the code, any way up.
func TestCodeIsRead(t *testing.T) {
	img := drawn(t)
	for turn := range 4 {
		bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
		require.NoError(t, err)
		result, err := qrcode.NewQRCodeReader().Decode(bitmap, nil)
		require.NoError(t, err, "turned %d times", turn)
		require.Equal(t, measure.PrintedCode, result.GetText())
		next := image.NewGray(image.Rect(0, 0, img.Rect.Dy(), img.Rect.Dx()))
		for y := range next.Rect.Dy() {
			for x := range next.Rect.Dx() {
				next.SetGray(x, y, img.GrayAt(y, img.Rect.Dy()-1-x))
			}
		}
		img = next
	}
	require.Contains(t, measure.PrintedCode, fmt.Sprintf(":%d:", measure.PrintedVersion))
}

func TestNothingTouches(t *testing.T) {
	boxes, discs, err := card()
	require.NoError(t, err)
	l := measure.PrintedCard()
	inside := func(x, y, w, h float64) {
		const rim = 1 // mm to the frame
		require.GreaterOrEqual(t, x, l.Frame+rim)
		require.GreaterOrEqual(t, y, l.Frame+rim)
		require.LessOrEqual(t, x+w, l.Width-l.Frame-rim)
		require.LessOrEqual(t, y+h, l.Height-l.Frame-rim)
	}
	for _, b := range boxes[2:] {
		inside(b.x, b.y, b.w, b.h)
	}
	for _, d := range discs {
		inside(d.x-d.r, d.y-d.r, 2*d.r, 2*d.r)
	}
}
