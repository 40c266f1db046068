package quote_test

import (
	"testing"

	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

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
			require.InDelta(t, c.want.MM(), quote.TypedThickness(measure.Readings{Readings: c.typed}, nil).Value.MM(), 1e-9)
		})
	}
}
