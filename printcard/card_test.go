package printcard

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/photo"

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

// inked draws the filled shapes of a page's content, which is not compressed, at scale dots a
// millimetre: rectangles, and paths of lines and curves (ISO 32000-1, 8.5). Text and thin lines are left out.
func inked(t *testing.T, pdf string, scale float64) *image.Gray {
	media := regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`).FindStringSubmatch(pdf)
	require.Len(t, media, 3)
	px := scale * point
	height := number(t, media[2])
	img := image.NewGray(image.Rect(0, 0, int(number(t, media[1])*px), int(height*px)))
	draw.Draw(img, img.Rect, image.White, image.Point{}, draw.Src)
	content := regexp.MustCompile(`(?s)stream\n(.*?)\nendstream`).FindStringSubmatch(pdf)
	require.Len(t, content, 2)

	var args []float64
	var path [][2]float64
	ink := uint8(0)
	at := func(k int) [2]float64 { return [2]float64{args[k], args[k+1]} }
	fill := func() { // rows of pixel centres, even-odd
		for y := range img.Rect.Dy() {
			v := height - (float64(y)+0.5)/px
			var cross []float64
			for i, p := range path {
				q := path[(i+1)%len(path)]
				if (p[1] > v) != (q[1] > v) {
					cross = append(cross, p[0]+(v-p[1])/(q[1]-p[1])*(q[0]-p[0]))
				}
			}
			slices.Sort(cross)
			for i := 0; i+1 < len(cross); i += 2 {
				for x := max(0, int(math.Ceil(cross[i]*px-0.5))); float64(x)+0.5 < cross[i+1]*px && x < img.Rect.Dx(); x++ {
					img.SetGray(x, y, color.Gray{ink})
				}
			}
		}
	}
	for _, line := range strings.Split(content[1], "\n") {
		if strings.HasPrefix(line, "BT") {
			continue
		}
		args = args[:0]
		for _, word := range strings.Fields(line) {
			if v, err := strconv.ParseFloat(word, 64); err == nil {
				args = append(args, v)
				continue
			}
			switch word {
			case "m":
				path = [][2]float64{at(0)}
			case "l":
				path = append(path, at(0))
			case "c":
				from := path[len(path)-1]
				for k := 1; k <= 8; k++ { // Bézier's cubic
					u := float64(k) / 8
					w := 1 - u
					var p [2]float64
					for a := range 2 {
						p[a] = w*w*w*from[a] + 3*w*w*u*at(0)[a] + 3*w*u*u*at(2)[a] + u*u*u*at(4)[a]
					}
					path = append(path, p)
				}
			case "re":
				x, y, w, h := args[0], args[1], args[2], args[3]
				path = [][2]float64{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
			case "g":
				ink = uint8(args[0]*255 + 0.5)
			case "rg":
				ink = uint8((0.299*args[0]+0.587*args[1]+0.114*args[2])*255 + 0.5)
			case "f", "B":
				fill()
			}
			args = args[:0]
		}
	}
	return img
}

// The sheet as it is printed, laid before a camera: measuring finds the card on it where it
// was drawn, right in size and place.
func TestSheetIsRecognised(t *testing.T) {
	for _, paper := range Papers {
		t.Run(paper, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, Write(&b, paper))
			const scale = 16.0 // dots a millimetre
			sheet := inked(t, b.String(), scale)
			l := measure.PrintedCard()
			pageW := float64(sheet.Rect.Dx()) / scale
			x0, y0 := (pageW-l.Width)/2, 100.0

			// A camera of focal length f px, 260 mm above the card, tilted by 12° about the sheet's x axis.
			const w, h, away, tilt = 1000, 800, 260.0, 12 * math.Pi / 180
			f := 26 / math.Hypot(36, 24) * math.Hypot(w, h)
			f35 := 26.0 * 1.6 // nearer
			f *= 1.6
			sin, cos := math.Sincos(tilt)
			cx, cy := x0+l.Width/2, y0+l.Height/2
			picture := func(x, y float64) (u, v float64) {
				x, y = x-cx, y-cy
				z := away + y*sin
				return w/2 + f*x/z, h/2 + f*y*cos/z
			}
			img := image.NewGray(image.Rect(0, 0, w, h))
			for j := range h {
				for i := range w {
					var sum float64
					const n = 4
					for k := range n * n {
						u, v := float64(i)+(float64(k%n)+0.5)/n-w/2, float64(j)+(float64(k/n)+0.5)/n-h/2
						y := v * away / (f*cos - v*sin)
						x := u * (away + y*sin) / f
						sx, sy := int((x+cx)*scale), int((y+cy)*scale)
						light := 0.2 // table
						if image.Pt(sx, sy).In(sheet.Rect) {
							light = 0.05 + 0.6*float64(sheet.GrayAt(sx, sy).Y)/255
						}
						sum += light / (n * n)
					}
					img.SetGray(i, j, color.Gray{uint8(255*(1.055*math.Pow(sum, 1/2.4)-0.055) + 0.5)}) // IEC 61966-2-1
				}
			}
			r := photo.Measure(img, measure.Options{Focal35mm: f35})
			require.Equal(t, []measure.Reason{measure.HingeMissing}, r.RetakeReasons)
			require.NotNil(t, r.Card)
			require.Equal(t, measure.CardPrinted, r.Card.Kind)
			// From the top's end to the right, in the order of a world whose y points up.
			for k, p := range [4][2]float64{{0, l.Height}, {l.Width, l.Height}, {l.Width, 0}, {0, 0}} {
				u, v := picture(x0+p[0], y0+p[1])
				require.Less(t, math.Hypot(u-r.Card.CornersPx[k].X, v-r.Card.CornersPx[k].Y), 0.3, "px, corner %d", k)
			}
			require.InDelta(t, 12, r.Camera.TiltDeg, 0.7)
			require.InDelta(t, away, r.Camera.Distance.MM(), 3)
		})
	}
}
