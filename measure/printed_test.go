package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What is taken for the printed card, and what is said of one that can't be used.
func TestFindPrintedCard(t *testing.T) {
	opt := Options{Focal35mm: 26}
	t.Run("any way round, up to 30 degrees aslant", func(t *testing.T) {
		for i, s := range [][2]float64{{2, 0}, {10, 100}, {20, 190}, {30, 280}, {30, 45}} {
			sheet := cardScene(t, PrintedCode, 640, 560, s[0], s[1])
			card, why := findCard(newFrame(sheet.draw(uint64(i))), opt)
			require.Empty(t, why)
			require.Equal(t, CardPrinted, card.kind)
			for k, p := range [4]vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				truth := sheet.cam.project(vec3{p[0] * id1.a, p[1] * id1.b, paperHeight})
				require.Less(t, Distance(truth, card.corners[k]), 0.3, "px, at %v", s)
			}
			require.InDelta(t, sheet.cam.F, card.cam.F, 3*card.focalSigma, "px")
		}
	})
	t.Run("without EXIF its own foreshortening tells the focal length", func(t *testing.T) {
		sheet := cardScene(t, PrintedCode, 640, 560, 28, 20)
		card, why := findCard(newFrame(sheet.draw(9)), Options{})
		require.Empty(t, why)
		require.Equal(t, FocalCard, card.focalFrom)
		require.InDelta(t, sheet.cam.F, card.cam.F, 3*card.focalSigma, "px")
	})
	t.Run("the spread of the ink is seen", func(t *testing.T) {
		for _, spread := range []float64{0, 0.06} {
			sheet := cardScene(t, PrintedCode, 720, 600, 5, 10)
			sheet.cam = lookAt(720, 600, 26, 6, 5, 40, 10, 0, 0)
			sheet.print.spread = spread
			card, why := findCard(newFrame(sheet.draw(1)), opt)
			require.Empty(t, why)
			require.InDelta(t, id1.a-printed.Frame-spread, card.shape.a, 0.025, "mm")
		}
	})
	t.Run("it wins over a bank card", func(t *testing.T) {
		sheet := cardScene(t, PrintedCode, 640, 640, 8, 5)
		sheet.plain = &[3]float64{4, -64, 0.2}
		sheet.cam.T = sheet.cam.T.add(sheet.cam.R.apply(vec3{0, 32, 0}))
		img := sheet.draw(2)
		card, why := findCard(newFrame(img), opt)
		require.Empty(t, why)
		require.Equal(t, CardPrinted, card.kind)
		sheet.print = nil
		card, why = findCard(newFrame(sheet.draw(2)), opt)
		require.Empty(t, why)
		require.Equal(t, CardID1, card.kind, "which is found where it lies alone")
	})
	t.Run("another version", func(t *testing.T) {
		_, why := findCard(newFrame(cardScene(t, "LEAFGAUGE:CARD:2:ID1", 640, 560, 5, 10).draw(3)), opt)
		require.Equal(t, []Reason{CardWrongSize}, why)
	})
	t.Run("a card with another's code", func(t *testing.T) {
		card, _ := findCard(newFrame(cardScene(t, "SOMETHING ELSE: 1234", 640, 560, 5, 10).draw(4)), opt)
		require.NotEqual(t, CardPrinted, card.kind)
	})
	t.Run("something over the code", func(t *testing.T) {
		sheet := cardScene(t, PrintedCode, 640, 560, 5, 10)
		for j := 8; j < 20; j++ {
			for i := 7; i < 21; i++ {
				sheet.print.bits[j][i] = (i+j)%2 == 0
			}
		}
		_, why := findCard(newFrame(sheet.draw(5)), opt)
		require.Equal(t, []Reason{CardCutOff}, why)
	})
	t.Run("half out of the picture", func(t *testing.T) {
		sheet := cardScene(t, PrintedCode, 640, 560, 5, 10)
		sheet.cam.T[0] += 62
		_, why := findCard(newFrame(sheet.draw(6)), opt)
		require.Equal(t, []Reason{CardCutOff}, why)
	})
	t.Run("too small", func(t *testing.T) {
		sheet := cardScene(t, PrintedCode, 640, 560, 5, 10)
		sheet.cam = lookAt(640, 560, 26, 2.2, 5, 40, 10, 0, 0)
		_, why := findCard(newFrame(sheet.draw(7)), opt)
		require.Equal(t, []Reason{TooSmall}, why)
	})
}

// BenchmarkFindPrinted times the look for a printed card in photos that have none.
func BenchmarkFindPrinted(b *testing.B) {
	for _, id := range []string{"001", "005"} {
		s, ok := loadScene(b, id)
		require.True(b, ok)
		n := s.f.reduction()
		e := newEdgeMap(s.f.reduce(n))
		found := newLineSet(e, e.lines()).candidates()
		b.Run(id, func(b *testing.B) {
			for b.Loop() {
				if _, _, ok := findPrinted(s.f, found, n, Options{}); ok {
					b.Fatal("there is none")
				}
			}
		})
		b.Run(id+" whole card step", func(b *testing.B) {
			for b.Loop() {
				findCard(s.f, Options{})
			}
		})
	}
}
