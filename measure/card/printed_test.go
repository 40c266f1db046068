package card

import (
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// What is taken for the printed card, and what is said of one that can't be used.
func TestFindPrintedCard(t *testing.T) {
	opt := measure.Options{Focal35mm: 26}
	t.Run("any way round, up to 30 degrees aslant", func(t *testing.T) {
		for i, s := range [][2]float64{{2, 0}, {10, 100}, {20, 190}, {30, 280}, {30, 45}} {
			sheet := scene.PrintedTable(t, measure.PrintedCode, 640, 560, s[0], s[1])
			card, why := find(picture.NewFrame(sheet.Draw(uint64(i))), opt)
			require.Empty(t, why)
			require.Equal(t, measure.CardPrinted, card.Kind)
			for k, p := range [4]geom.Vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				truth := sheet.Cam.Project(geom.Vec3{p[0] * id1.A, p[1] * id1.B, paperHeight})
				require.Less(t, geom.Distance(truth, card.Corners[k]), 0.3, "px, at %v", s)
			}
			require.InDelta(t, sheet.Cam.F, card.Cam.F, 3*card.focalSigma, "px")
		}
	})
	t.Run("without EXIF its own foreshortening tells the focal length", func(t *testing.T) {
		sheet := scene.PrintedTable(t, measure.PrintedCode, 640, 560, 28, 20)
		card, why := find(picture.NewFrame(sheet.Draw(9)), measure.Options{})
		require.Empty(t, why)
		require.Equal(t, measure.FocalCard, card.FocalFrom)
		require.InDelta(t, sheet.Cam.F, card.Cam.F, 3*card.focalSigma, "px")
	})
	t.Run("the spread of the ink is seen", func(t *testing.T) {
		for _, spread := range []float64{0, 0.06} {
			sheet := scene.PrintedTable(t, measure.PrintedCode, 720, 600, 5, 10)
			sheet.Cam = scene.LookAt(720, 600, 26, 6, 5, 40, 10, 0, 0)
			sheet.Print.Spread = spread
			card, why := find(picture.NewFrame(sheet.Draw(1)), opt)
			require.Empty(t, why)
			require.InDelta(t, id1.A-printed.Frame-spread, card.Shape.A, 0.025, "mm")
		}
	})
	t.Run("it wins over a bank card", func(t *testing.T) {
		sheet := scene.PrintedTable(t, measure.PrintedCode, 640, 640, 8, 5)
		sheet.Plain = &[3]float64{4, -64, 0.2}
		sheet.Cam.T = sheet.Cam.T.Add(sheet.Cam.R.Apply(geom.Vec3{0, 32, 0}))
		img := sheet.Draw(2)
		card, why := find(picture.NewFrame(img), opt)
		require.Empty(t, why)
		require.Equal(t, measure.CardPrinted, card.Kind)
		sheet.Print = nil
		card, why = find(picture.NewFrame(sheet.Draw(2)), opt)
		require.Empty(t, why)
		require.Equal(t, measure.CardID1, card.Kind, "which is found where it lies alone")
	})
	t.Run("another version", func(t *testing.T) {
		_, why := find(picture.NewFrame(scene.PrintedTable(t, "LEAFGAUGE:CARD:2:ID1", 640, 560, 5, 10).Draw(3)), opt)
		require.Equal(t, []measure.Reason{measure.CardWrongSize}, why)
	})
	t.Run("a card with another's code", func(t *testing.T) {
		card, _ := find(picture.NewFrame(scene.PrintedTable(t, "SOMETHING ELSE: 1234", 640, 560, 5, 10).Draw(4)), opt)
		require.NotEqual(t, measure.CardPrinted, card.Kind)
	})
	t.Run("something over the code", func(t *testing.T) {
		sheet := scene.PrintedTable(t, measure.PrintedCode, 640, 560, 5, 10)
		for j := 8; j < 20; j++ {
			for i := 7; i < 21; i++ {
				sheet.Print.Bits[j][i] = (i+j)%2 == 0
			}
		}
		_, why := find(picture.NewFrame(sheet.Draw(5)), opt)
		require.Equal(t, []measure.Reason{measure.CardCutOff}, why)
	})
	t.Run("half out of the picture", func(t *testing.T) {
		sheet := scene.PrintedTable(t, measure.PrintedCode, 640, 560, 5, 10)
		sheet.Cam.T[0] += 62
		_, why := find(picture.NewFrame(sheet.Draw(6)), opt)
		require.Equal(t, []measure.Reason{measure.CardCutOff}, why)
	})
	t.Run("too small", func(t *testing.T) {
		sheet := scene.PrintedTable(t, measure.PrintedCode, 640, 560, 5, 10)
		sheet.Cam = scene.LookAt(640, 560, 26, 2.2, 5, 40, 10, 0, 0)
		_, why := find(picture.NewFrame(sheet.Draw(7)), opt)
		require.Equal(t, []measure.Reason{measure.TooSmall}, why)
	})
}

// BenchmarkFindPrinted times the look for a printed card in photos that have none.
func BenchmarkFindPrinted(b *testing.B) {
	for _, id := range []string{"001", "005"} {
		s, ok := scene.Load(b, id)
		require.True(b, ok)
		e := newEdgeMap(s.F)
		found := newLineSet(e, e.lines()).candidates()
		b.Run(id, func(b *testing.B) {
			for b.Loop() {
				if _, _, ok := findPrinted(s.F, found, measure.Options{}); ok {
					b.Fatal("there is none")
				}
			}
		})
		b.Run(id+" whole card step", func(b *testing.B) {
			for b.Loop() {
				find(s.F, measure.Options{})
			}
		})
	}
}
