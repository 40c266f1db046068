package readings

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// More lines, each written before the reader was seen and used once to find what it reads wrong
// (docs/measured.md has what it first got): what was mended since may not break again.
func TestLines(t *testing.T) {
	const (
		leastRight = 0.9
		mostWrong  = 0.07
	)
	quantities := map[string]measure.Quantity{"height_mm": measure.QHeight, "width_mm": measure.QOpenWidth, "thickness_mm": measure.QThickness,
		"radius_mm": measure.QCornerRadius, "barrel_mm": measure.QBarrelDiameter, "hole_diameter_mm": measure.QHoleDiameter, "hole_edge_mm": measure.QHoleFromEdge,
		"hole_end_mm": measure.QHoleFromEnd, "pin_mm": measure.QPinDiameter, "holes_per_leaf": measure.QHoleCount}
	b, err := os.ReadFile("../../testdata/readings/lines.jsonl")
	require.NoError(t, err)
	lines, right, wrong := 0, 0, 0
	for line := range strings.Lines(string(b)) {
		var want struct {
			Text       string
			Quantities map[string]any
		}
		require.NoError(t, json.Unmarshal([]byte(line), &want), line)
		r := Parse(want.Text)
		checkContract(t, want.Text, r)
		got := map[measure.Quantity][]float64{}
		for _, x := range r.Readings {
			switch {
			case x.Value != nil:
				got[x.Quantity] = append(got[x.Quantity], x.Value.MM())
			case x.Count != nil:
				got[x.Quantity] = append(got[x.Quantity], float64(*x.Count))
			}
		}
		var missed, unsaid []string
		for name, v := range want.Quantities {
			if name == "corners" {
				if v != "mixed" && !slices.ContainsFunc(r.Statements, func(s measure.Statement) bool { return s.Kind == "corner" && s.Value == v }) {
					missed = append(missed, fmt.Sprintf("%v corners", v))
				}
				continue
			}
			read := got[quantities[name]]
			delete(got, quantities[name])
			near := func(mm float64) bool { return math.Abs(mm-v.(float64)) < 0.06 }
			switch {
			case len(read) == 0:
				missed = append(missed, name)
			case !slices.ContainsFunc(read, near) || slices.ContainsFunc(read, func(mm float64) bool { return !near(mm) }):
				unsaid = append(unsaid, fmt.Sprintf("%s %v", name, read))
			}
		}
		for _, q := range quantities {
			if len(got[q]) > 0 {
				unsaid = append(unsaid, fmt.Sprintf("%s %v", q, got[q]))
			}
		}
		lines++
		switch {
		case len(unsaid) > 0:
			wrong++
			t.Logf("%q: not said %v", want.Text, unsaid)
		case len(missed) > 0:
			t.Logf("%q: missed %v", want.Text, missed)
		default:
			right++
		}
	}
	t.Logf("%d of %d lines read right, %d read as what they do not say", right, lines, wrong)
	require.GreaterOrEqual(t, float64(right), leastRight*float64(lines))
	require.LessOrEqual(t, float64(wrong), mostWrong*float64(lines))
}
