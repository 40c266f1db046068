package quote

import (
	"errors"
	"fmt"
	"testing"

	"leafgauge/intake/readings"
	"leafgauge/measure"
	"leafgauge/measure/reconcile"

	"github.com/stretchr/testify/require"
)

// shows is a photo of a hinge of that height and open width.
func shows(height, width measure.Length) measure.Result {
	e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.1} }
	return measure.Result{Status: measure.Measured, Hinge: &measure.Hinge{Height: e(height), OpenWidth: e(width)}}
}

func TestPhotosAreMeasuredAgainWithoutAnotherHingesThickness(t *testing.T) {
	small, large := shows(88.9, 88.9), shows(114.3, 101.6) // 3 1/2 x 3 1/2 and 4 1/2 x 4 in
	none := measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.CardMissing}}
	const typed = "height 3 1/2 in, width 3 1/2 in"
	for name, c := range map[string]struct {
		text     string
		photos   []measure.Result
		overrule bool     // the counter overruled what is said against the readings
		want     []string // photos in the order in which they are measured, with the thickness in mm
	}{
		"no thickness":                      {typed, []measure.Result{small}, false, []string{"1 at 0.00"}},
		"no thickness of another hinge":     {typed, []measure.Result{large}, false, []string{"1 at 0.00"}},
		"a thickness of the same hinge":     {typed + ", 0.086 thick", []measure.Result{small, none, small}, false, []string{"1 at 2.18", "2 at 2.18", "3 at 2.18"}},
		"a thickness and nothing else":      {"0.086 thick", []measure.Result{large}, false, []string{"1 at 2.18"}},
		"a thickness of another hinge":      {typed + ", 0.086 thick", []measure.Result{large}, false, []string{"1 at 2.18", "1 at 0.00"}},
		"all photos, whichever tells":       {typed + ", 0.086 thick", []measure.Result{none, large}, false, []string{"1 at 2.18", "2 at 2.18", "1 at 0.00", "2 at 0.00"}},
		"the counter believes what's typed": {typed + ", 0.086 thick", []measure.Result{large}, true, []string{"1 at 2.18"}},
		"a thickness that nobody believes":  {typed + ", thickness 900 mm", []measure.Result{large}, false, []string{"1 at 0.00"}},
		"no photo measured":                 {typed + ", 0.086 thick", []measure.Result{none}, false, []string{"1 at 2.18"}},
		"no photo":                          {typed + ", 0.086 thick", nil, false, nil},
	} {
		t.Run(name, func(t *testing.T) {
			q := Inquiry{ID: 7, Revision: 2}
			for i := range c.photos {
				q.Photos = append(q.Photos, Photo{N: i + 1})
			}
			typed := readings.Parse(c.text)
			if c.overrule {
				for _, d := range reconcile.Best(c.photos, typed, nil).Disagreements {
					q.Overrule = append(q.Overrule, d.Name())
				}
			}
			var measured []string
			findings, err := q.Measure(typed, func(p Photo, thickness measure.Estimate) (measure.Result, error) {
				measured = append(measured, fmt.Sprintf("%d at %.2f", p.N, thickness.Value.MM()))
				r := c.photos[p.N-1]
				r.Timing.Total = float64(len(measured))
				return r, nil
			})
			require.NoError(t, err)
			require.Equal(t, c.want, measured)
			require.Equal(t, readings.Parse(c.text), typed, "they go into the proposal too")
			require.Len(t, findings, len(c.photos))
			for i, f := range findings { // of the last time
				require.Equal(t, Finding{Inquiry: 7, Revision: 2, PhotoN: i + 1, Result: f.Result}, f)
				require.Equal(t, float64(len(measured)-len(findings)+i+1), f.Result.Timing.Total)
			}
		})
	}

	t.Run("with the thickness that a photo makes of it", func(t *testing.T) {
		photo := small
		hinge := *small.Hinge
		hinge.BarrelDiameter = measure.Estimate{Value: 10.7, Sigma: 0.1}
		photo.Hinge = &hinge
		for text, want := range map[string][]string{
			"0.086 thick":            {"2.18 ± 0.05"},
			"0.172 thick":            {"0.00 ± 0.00", "2.18 ± 0.09"}, // of a heavy hinge, or of both leaves of a light one
			"0.086 thick, 2.2 thick": {"2.19 ± 0.04"},
			"0.086 thick, 3.1 thick": {"0.00 ± 0.00", "2.18 ± 0.29"}, // the barrel goes with the one
		} {
			var at []string
			_, err := Inquiry{Photos: []Photo{{N: 1}}}.Measure(readings.Parse(text), func(_ Photo, thickness measure.Estimate) (measure.Result, error) {
				at = append(at, fmt.Sprintf("%.2f ± %.2f", thickness.Value.MM(), thickness.Sigma.MM()))
				return photo, nil
			})
			require.NoError(t, err)
			require.Equal(t, want, at, text)
		}
	})
	t.Run("without it where the barrel speaks against it", func(t *testing.T) {
		// What photo 006 (barrel 12.96 mm, leaf 3.27 mm) does: the barrel is drawn along, and the sizes too.
		told, free := shows(101.6, 102.4), shows(101.6, 101.9)
		told.Hinge.BarrelDiameter, free.Hinge.BarrelDiameter = measure.Estimate{Value: 11.9, Sigma: 0.1}, measure.Estimate{Value: 12.9, Sigma: 0.1}
		for text, want := range map[string][]string{
			"0.086 thick":        {"2.18", "0.00"}, // nothing explains it otherwise: as typed
			"thick 3.0 mm":       {"3.00"},
			"4 x 4, 0.192 thick": {"0.00"},
		} {
			var at []string
			findings, err := Inquiry{Photos: []Photo{{N: 1}}}.Measure(readings.Parse(text), func(_ Photo, thickness measure.Estimate) (measure.Result, error) {
				at = append(at, fmt.Sprintf("%.2f", thickness.Value.MM()))
				if thickness.Known() {
					return told, nil
				}
				return free, nil
			})
			require.NoError(t, err)
			require.Equal(t, want, at, text)
			require.NotEmpty(t, findings)
		}
	})
	t.Run("an error ends it", func(t *testing.T) {
		outage := errors.New("disk gone")
		for fails, want := range map[int]int{2: 2, 4: 4} { // the first time, and the second
			calls := 0
			q := Inquiry{Photos: []Photo{{N: 1}, {N: 2}, {N: 3}}}
			_, err := q.Measure(readings.Parse(typed+", 0.086 thick"), func(Photo, measure.Estimate) (measure.Result, error) {
				if calls++; calls == fails {
					return measure.Result{}, outage
				}
				return large, nil
			})
			require.Equal(t, outage, err, "as it is")
			require.Equal(t, want, calls)
		}
	})
}

func TestTypedThickness(t *testing.T) {
	mm := func(v float64) *measure.Length { l := measure.Length(v); return &l }
	reading := func(v float64) measure.Reading {
		return measure.Reading{Quantity: measure.QThickness, Value: mm(v), U: 0.05, UnitAsTyped: "mm"}
	}
	for name, c := range map[string]struct {
		typed []measure.Reading
		want  measure.Length
	}{
		"one":               {[]measure.Reading{reading(2.2)}, 2.2},
		"none":              {nil, 0},
		"two that compete":  {[]measure.Reading{reading(2.2), reading(3.1)}, 0},
		"inches for mm":     {[]measure.Reading{{Quantity: measure.QThickness, Value: mm(0.086), U: 0.002, UnitAsTyped: "mm"}}, 0.086 * 25.4},
		"a slipped decimal": {[]measure.Reading{reading(22)}, 2.2},
		"nothing explains":  {[]measure.Reading{reading(900)}, 0},
		"another quantity":  {[]measure.Reading{{Quantity: measure.QHeight, Value: mm(2.5), U: 0.1}}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			require.InDelta(t, c.want.MM(), typedThickness(measure.Readings{Readings: c.typed}, nil).Value.MM(), 1e-9)
		})
	}
}
