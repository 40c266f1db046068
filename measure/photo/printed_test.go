package photo

import (
	"math"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"
	"leafgauge/measure/card"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

	"github.com/stretchr/testify/require"
)

// drawnHinge is a pair of 88.9 × 88.9 mm leaves with round corners, its pin's middle at x, y.
func drawnHinge(x, y, phi float64) *scene.TableHinge {
	p := make([]float64, pCount)
	p[pX], p[pY], p[pPhi] = x, y, phi
	p[pHeight], p[pWidth0], p[pWidth1], p[pBarrel], p[pThick], p[pGap] = 88.9, 44.45, 44.45, 11.5, 2.2, swageGap
	for k := pRadius0; k <= pRadius3; k++ {
		p[k] = 6.35
	}
	h := &hingeFit{p: p, leaves: [2]bool{true, true}}
	return &scene.TableHinge{X: x, Y: y, Phi: phi, Height: p[pHeight], Barrel: p[pBarrel], Thickness: p[pThick],
		Faces: h.faces(), Holes: [][2]float64{{17, 12}, {10, 44.45}, {17, 76.9}}}
}

// The printed card, cut out or on its whole sheet, with a hinge beside it: recognised, its camera and the
// hinge's sizes right within what is said of them.
func TestPrintedCardWithHinge(t *testing.T) {
	bits := scene.CodeBits(t, measure.PrintedCode)
	var z []float64
	for i, s := range []struct {
		name        string
		tilt, roll  float64
		cut         bool
		sheet       [4]float64 // mm
		table       geom.Vec3
		scale, bar  float64 // of the print; mm as told, 0 untold
		spread, f35 float64
	}{
		{"cut out on oak", 4, 15, true, [4]float64{}, scene.Oak, 1, 100, 0, 26},
		{"cut out on a dark table", 14, 200, true, [4]float64{}, scene.Dark, 1, 100, 0.05, 26},
		{"whole sheet under all", 8, 0, false, [4]float64{-200, -300, 200, 300}, scene.Oak, 1, 100, 0.03, 26},
		{"whole sheet, hinge on the table", 5, 90, false, [4]float64{-105, -38, 105, 200}, scene.Oak, 1, 100, 0.02, 26},
		{"printed at 95 %, told", 6, 30, true, [4]float64{}, scene.Oak, 0.95, 95, 0.03, 28},
		{"printed at 95 %, not told", 6, 30, true, [4]float64{}, scene.Oak, 0.95, 0, 0.03, 28},
	} {
		t.Run(s.name, func(t *testing.T) {
			const w, h = 1060, 960
			sheet := scene.Table{W: w, H: h, Noise: 1.5, Table: s.table, Scale: s.scale, Cut: s.cut, Sheet: s.sheet,
				Print: &scene.Print{Bits: bits, Spread: s.spread, Paper: geom.Vec3{0.72, 0.71, 0.69}}}
			sheet.Cam = scene.LookAt(w, h, s.f35, 4.4, s.tilt, 70*float64(i), s.roll, 0, 0)
			// Card and hinge on both sides of the middle.
			sheet.Cam.T = sheet.Cam.T.Add(sheet.Cam.R.Apply(geom.Vec3{0, 45, 0}))
			sheet.Hinge = drawnHinge(5, -88, 0.1)
			opt := measure.Options{Focal35mm: s.f35}
			if s.bar > 0 {
				opt.ScaleBar = measure.Estimate{Value: measure.Length(s.bar), Sigma: 0.3}
			}
			img := sheet.Draw(uint64(i))
			r := Measure(img, opt)
			require.NotNil(t, r.Card, "%v", r.RetakeReasons)
			require.Equal(t, measure.CardPrinted, r.Card.Kind)
			for k, p := range [4]geom.Vec3{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				truth := sheet.Cam.Project(geom.Vec3{p[0] * measure.ID1Long / 2 * s.scale, p[1] * measure.ID1Short / 2 * s.scale, scene.SheetHeight})
				require.Less(t, geom.Distance(truth, r.Card.CornersPx[k]), 0.35, "px, corner %d", k)
			}
			require.Equal(t, measure.Measured, r.Status, "%v", r.RetakeReasons)
			told := measure.PrintScale(opt.ScaleBar)
			require.Equal(t, told, *r.Card.PrintScale)
			for name, e := range map[string][2]float64{"height": {88.9, r.Hinge.Height.Value.MM()}, "open width": {88.9, r.Hinge.OpenWidth.Value.MM()}} {
				u := r.Hinge.Height.Sigma.MM()
				t.Logf("%s: %.2f ± %.2f (u), corners to %.2f px", name, e[1], u, r.Card.Residual)
				// Apart from the print's scale, which is known here.
				true := e[0] * told.Value / s.scale
				require.InDelta(t, true, e[1], 0.2, "mm, %s", name)
				z = append(z, (e[1]-e[0])/u)
				require.Greater(t, u, told.Sigma*e[1], "mm")
			}
			require.Len(t, r.Hinge.Leaves, 2)
			for _, l := range r.Hinge.Leaves {
				require.Len(t, l.Holes, 3)
			}
		})
	}
	for _, v := range z {
		require.Less(t, math.Abs(v), 3.0, "standard uncertainties: %.2v", z)
	}
}

// White paper tells the light's colour: a grey hinge under a lamp is no brass.
func TestPrintedCardGivesWhite(t *testing.T) {
	lamp := geom.Vec3{1.2, 0.8, 0.42}
	for _, light := range []geom.Vec3{{1, 1, 1}, lamp, {1.6, 1.3, 0.9}} { // the last clips the paper
		sheet := scene.PrintedTable(t, measure.PrintedCode, 720, 700, 5, 10)
		sheet.Hinge = drawnHinge(0, -85, 0.1)
		sheet.Cam.T = sheet.Cam.T.Add(sheet.Cam.R.Apply(geom.Vec3{0, 45, 0}))
		sheet.Warm = light
		f := picture.NewFrame(sheet.Draw(8))
		card, why := card.Find(f, looked(f), measure.Options{Focal35mm: 26})
		require.Empty(t, why)
		for q := range 3 {
			require.InEpsilon(t, light[q]/light[0]*sheet.Print.Paper[q]/sheet.Print.Paper[0], card.White[q]/card.White[0], 0.06)
		}
		h := sheet.Hinge
		hint := finishHint(f, &sheet.Cam, h.Faces, h.Barrel, card.White)
		require.Equal(t, "light grey metal: nickel or chrome", hint)
		if light == lamp {
			require.NotEqual(t, hint, finishHint(f, &sheet.Cam, h.Faces, h.Barrel, [3]float64{}), "which the picture alone doesn't tell")
		}
	}
}
