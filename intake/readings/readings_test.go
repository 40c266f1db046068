package readings

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// expected is what a line of the fixture says.
type expected struct {
	readings   []string // "height=88.9000", "knuckles#5", in order
	statements []string // sorted
	unread     int
}

func parseExpected(t *testing.T, s string) expected {
	t.Helper()
	var e expected
	for part := range strings.SplitSeq(s, ";") {
		part = strings.TrimSpace(part)
		switch {
		case part == "nothing" || part == "":
		case part[0] == '?':
			n, err := strconv.Atoi(part[1:])
			require.NoError(t, err)
			e.unread = n
		case part[0] == '[':
			e.statements = append(e.statements, strings.Trim(part, "[]"))
		case strings.Contains(part, "#"):
			e.readings = append(e.readings, part)
		default:
			name, value, ok := strings.Cut(part, "=")
			require.True(t, ok, part)
			e.readings = append(e.readings, fmt.Sprintf("%s=%.3f", name, fixtureMM(t, value)+1e-7))
		}
	}
	slices.Sort(e.statements)
	return e
}

// fixtureMM reads "3 1/2in", "0.086in", "89mm" of the fixture.
func fixtureMM(t *testing.T, s string) float64 {
	t.Helper()
	factor := 1.0
	if n, ok := strings.CutSuffix(s, "in"); ok {
		s, factor = n, 25.4
	} else {
		s = strings.TrimSuffix(s, "mm")
	}
	total := 0.0
	for f := range strings.FieldsSeq(s) {
		num, den, isFraction := strings.Cut(f, "/")
		a, err := strconv.ParseFloat(num, 64)
		require.NoError(t, err)
		if isFraction {
			b, err := strconv.ParseFloat(den, 64)
			require.NoError(t, err)
			a /= b
		}
		total += a
	}
	return total * factor
}

func describe(r measure.Readings) (readings, statements []string) {
	for _, x := range r.Readings {
		if x.Count != nil {
			readings = append(readings, fmt.Sprintf("%s#%d", x.Quantity, *x.Count))
		} else {
			readings = append(readings, fmt.Sprintf("%s=%.3f", x.Quantity, float64(*x.Value)+1e-7))
		}
	}
	for _, x := range r.Statements {
		statements = append(statements, x.Kind+"="+x.Value)
	}
	slices.Sort(statements)
	return readings, statements
}

// The fixture holds lines as customers type them, with what each says, written by hand.
func TestParseTable(t *testing.T) {
	b, err := os.ReadFile("../../testdata/readings/lines.txt")
	require.NoError(t, err)
	cases := 0
	for i, line := range strings.Split(string(b), "\n") {
		if line == "" || strings.HasPrefix(line, "# ") {
			continue
		}
		text, says, ok := strings.Cut(line, " => ")
		require.True(t, ok, "line %d", i+1)
		cases++
		text = strings.ReplaceAll(text, `\n`, "\n")
		t.Run(fmt.Sprintf("line %d", i+1), func(t *testing.T) {
			got := Parse(text)
			want := parseExpected(t, says)
			readings, statements := describe(got)
			require.Equal(t, want.readings, readings, text)
			require.Equal(t, want.statements, statements, text)
			if want.unread > 0 {
				require.Len(t, got.Unread, want.unread, text)
			}
			checkContract(t, text, got)
		})
	}
	require.GreaterOrEqual(t, cases, 250)
}

// checkContract holds what is promised of every text.
func checkContract(t require.TestingT, text string, r measure.Readings) {
	require.NotNil(t, r.Readings)
	require.NotNil(t, r.Statements)
	require.NotNil(t, r.Unread)
	for _, x := range r.Readings {
		require.Equal(t, x.Text, text[x.At[0]:x.At[1]])
		require.NotEqual(t, x.Value == nil, x.Count == nil, "either a length or a count")
		if x.Value != nil {
			require.Greater(t, float64(*x.Value), 0.0)
			require.False(t, math.IsInf(float64(*x.Value), 0))
			require.Greater(t, float64(x.U), 0.0)
			require.Contains(t, []string{"in", "mm", "cm", "m", "ft", "ft in", "thou"}, x.UnitAsTyped)
		} else {
			require.Positive(t, *x.Count)
		}
	}
}

func TestReadingsJSON(t *testing.T) {
	b, err := json.Marshal(Parse("H = 3 1/2 in, 5 knuckles"))
	require.NoError(t, err)
	require.JSONEq(t, `{"readings": [
		{"quantity": "height", "value_mm": 88.9, "count": null, "unit_as_typed": "in", "u_mm": 0.5416, "instrument": "tape", "text": "3 1/2", "at": [4, 9]},
		{"quantity": "knuckles", "value_mm": null, "count": 5, "unit_as_typed": "", "u_mm": 0, "instrument": "unknown", "text": "5", "at": [14, 15]}],
		"statements": [], "unread": []}`, string(b))
	b, err = json.Marshal(Parse(""))
	require.NoError(t, err)
	require.JSONEq(t, `{"readings": [], "statements": [], "unread": []}`, string(b))
}

func TestReadingsSayWhyTheyAreRefused(t *testing.T) {
	for text, why := range map[string]string{
		"height -89 mm":   "negative",
		"0 tall":          "zero",
		"3 foot hinge":    "914.4 mm (36 in)",
		"900000 hinges":   "that many",
		"0 hinges":        "zero",
		"22 gauge thick":  "gauge",
		"-2 holes":        "negative",
		"radius 12 inch":  "304.8 mm",
		"thickness 90 mm": "90 mm",
		"900 feet":        "a size can't be 274300 mm (10800 in)",
	} {
		r := Parse(text)
		require.Empty(t, r.Readings, text)
		require.Len(t, r.Unread, 1, text)
		require.Contains(t, r.Unread[0], why, text)
	}
}

// Standard uncertainties, from the published limits. Class II rule, up to a metre: 0.5 mm
// (MID annex MI-008) gives 0.29 mm as uniform limits; a sixteenth's step 0.458 mm and a
// millimetre's 0.289 mm (step/√12, JCGM 100 F.2.2.1); a vernier's 0.05 mm limits up to 300 mm
// (DIN 862) give 0.029 mm.
func TestReadingUncertainty(t *testing.T) {
	const within = 0.005
	for _, c := range []struct {
		text       string
		instrument measure.Instrument
		u          float64
	}{
		{"height 3 1/2", measure.Tape, math.Hypot(0.289, 0.458)},
		{"height 3 17/32", measure.Tape, math.Hypot(0.289, 0.229)},
		{"height 89 mm", measure.Tape, math.Hypot(0.289, 0.289)},
		{"3 1/2 x 3 1/2", measure.NominalSize, 0.917}, // ±1/16 in as uniform limits
		{"thickness 0.086", measure.Caliper, math.Hypot(0.029, 0.04)},
		{"height 88.93 mm", measure.Caliper, math.Hypot(0.029, 0.04)},
		{"height 3.501 in", measure.Caliper, math.Hypot(0.029, 0.04)},
		{"about 0.086 thick", measure.Caliper, 2 * math.Hypot(0.029, 0.04)},
		{"height 3.5 ± 0.1 in", measure.Tape, 2.54 / math.Sqrt(3)},
	} {
		r := Parse(c.text)
		require.NotEmpty(t, r.Readings, c.text)
		require.Equal(t, c.instrument, r.Readings[0].Instrument, c.text)
		require.InDelta(t, c.u, float64(r.Readings[0].U), within, c.text)
	}
}

// ISO 13385-1:2019 leaves a caliper's permissible error to its maker, but not below its digital
// step; DIN 862 has 0.02 mm for one that shows 0.01 mm, up to 100 mm. As uniform limits, no
// caliper reading may be surer than either.
func TestNoCaliperIsSurerThanItsStep(t *testing.T) {
	for text, step := range map[string]float64{"height 88.93 mm": 0.01, "height 3.501 in": 0.0254, "thickness 86 thou": 0.0254, "thickness 2.18 mm": 0.01} {
		r := Parse(text).Readings
		require.Len(t, r, 1, text)
		require.Equal(t, measure.Caliper, r[0].Instrument, text)
		require.Greater(t, float64(r[0].U), math.Max(step, 0.02)/math.Sqrt(3), text)
	}
}

// A size in sixteenths, printed in any style that people use, reads back to itself.
func TestAnyStyleReadsBack(t *testing.T) {
	vulgarOf := map[string]string{"1/2": "½", "1/4": "¼", "3/4": "¾", "1/8": "⅛", "3/8": "⅜", "5/8": "⅝", "7/8": "⅞"}
	rapid.Check(t, func(t *rapid.T) {
		den := rapid.SampledFrom([]int{2, 4, 8, 16, 32}).Draw(t, "denominator")
		whole := rapid.IntRange(2, 5).Draw(t, "whole")
		num := rapid.IntRange(0, den-1).Draw(t, "numerator")
		inches := float64(whole) + float64(num)/float64(den)
		l := measure.Length(inches) * measure.Inch
		fraction := l.Fraction(32)
		wholeText, part, mixed := strings.Cut(fraction, " ")
		styles := []string{fraction, fraction + " in", fraction + `"`, fraction + " inches", fraction + "″", fraction + "-inch",
			strconv.FormatFloat(inches, 'f', -1, 64) + " in", strconv.FormatFloat(inches, 'f', -1, 64) + `"`,
			strings.ReplaceAll(strconv.FormatFloat(inches, 'f', -1, 64), ".", ",") + " inch",
			fmt.Sprintf("%.2f mm", l.MM()), fmt.Sprintf("%.3fcm", l.MM()/10), strings.Replace(fmt.Sprintf("%.2f mm", l.MM()), ".", ",", 1)}
		if mixed {
			styles = append(styles, wholeText+"-"+part, wholeText+" - "+part+`"`, wholeText+"  "+part+" in", wholeText+" and "+part,
				strings.Replace(fraction, "/", "⁄", 1), wholeText+"."+part)
			if v, ok := vulgarOf[part]; ok {
				styles = append(styles, wholeText+v, wholeText+" "+v+`"`)
			}
		}
		one := rapid.SampledFrom(styles).Draw(t, "style")
		near := 0.0051 // what two decimals of a millimetre lose
		form := rapid.SampledFrom([]string{"height %s", "%s tall", "H: %s", "it is %s high, I think", "height = %s, square corners", "The height is %s. Thanks"}).Draw(t, "form")
		text := fmt.Sprintf(form, one)
		r := Parse(text)
		require.Len(t, r.Readings, 1, text)
		require.Equal(t, measure.QHeight, r.Readings[0].Quantity, text)
		require.InDelta(t, l.MM(), float64(*r.Readings[0].Value), near, text)

		other := rapid.SampledFrom(styles).Draw(t, "other style")
		if strings.Contains(other, "m") && !strings.Contains(one, "m") {
			other = one // "4 x 10.2 cm" may well be 4 cm
		}
		pair := one + rapid.SampledFrom([]string{" x ", "x", " by ", " × ", " X "}).Draw(t, "joint") + other
		r = Parse(pair)
		require.Len(t, r.Readings, 2, pair)
		require.Equal(t, measure.QHeight, r.Readings[0].Quantity, pair)
		require.Equal(t, measure.QOpenWidth, r.Readings[1].Quantity, pair)
		require.InDelta(t, l.MM(), float64(*r.Readings[0].Value), near, pair)
		require.InDelta(t, l.MM(), float64(*r.Readings[1].Value), near, pair)
		checkContract(t, pair, r)
	})
}

// Every quantity that the program itself may name in front of a number is understood.
func TestNamesOfQuantitiesReadBack(t *testing.T) {
	for q, value := range map[measure.Quantity]string{
		measure.QHeight: "3 1/2", measure.QOpenWidth: "89 mm", measure.QLeafWidth: "1 3/4", measure.QThickness: "0.086", measure.QCornerRadius: "1/4",
		measure.QCornerDiameter: "1/2", measure.QHoleFromEdge: "13/32", measure.QHoleFromEnd: "5/8", measure.QHoleSpacing: "1 3/16", measure.QHoleDiameter: "3/16",
		measure.QBarrelDiameter: "7/16", measure.QPinDiameter: "1/4", measure.QDoorThickness: "1 3/8", measure.QDoorWidth: "32", measure.QDoorHeight: "80",
		measure.QKnuckles: "5", measure.QScaleBar: "98 mm", measure.QHoleCount: "3", measure.QHingeCount: "3", measure.QDoorCount: "2",
	} {
		for _, form := range []string{"%s %s", "%s: %s", "%s = %s", "%s is %s"} {
			text := fmt.Sprintf(form, strings.ReplaceAll(string(q), "_", " "), value)
			r := Parse(text)
			require.Len(t, r.Readings, 1, text)
			require.Equal(t, q, r.Readings[0].Quantity, text)
		}
		text := fmt.Sprintf("%s %s", q, value) // "open_width 3.5", as a form sends it
		r := Parse(text)
		require.Len(t, r.Readings, 1, text)
		require.Equal(t, q, r.Readings[0].Quantity, text)
	}
}

// Half a megabyte takes no longer than eight times an eighth of it, with room for a busy machine:
// time grows with the text and no faster.
func TestParseIsLinear(t *testing.T) {
	for _, piece := range []string{"3 1/2 x 3 1/2, ", "wide tall ", "edge from ", "height ", "3", "3 ", "-", ":", "3.", "1/2 ", "'", "hinge door ", "(", ",", "x", "½", "holes: ", "\n", "> a\n", "On a\n", "regards\n",
		"thickness, ", "a", "3 and ", "need ", "between 3 and ", "one half ", "é", "\x00", "from the edge of the leaf ", "5 x ", "square corners ", "US1", "3'", "no. "} {
		took := func(n int) time.Duration {
			text := strings.Repeat(piece, n/len(piece))
			best := time.Hour
			for range 2 {
				begin := time.Now()
				Parse(text)
				best = min(best, time.Since(begin))
			}
			return best
		}
		small, large := took(1<<16), took(1<<19)
		require.Less(t, large, 8*4*small+100*time.Millisecond, "%q: %v for an eighth, %v for the whole", piece, small, large)
	}
}

func FuzzParse(f *testing.F) {
	b, err := os.ReadFile("../../testdata/readings/lines.txt")
	require.NoError(f, err)
	for line := range strings.SplitSeq(string(b), "\n") {
		text, _, _ := strings.Cut(line, " => ")
		f.Add(strings.ReplaceAll(text, `\n`, "\n"))
	}
	f.Add("3\xff1/2 \x00")
	f.Fuzz(func(t *testing.T, text string) {
		checkContract(t, text, Parse(text))
		BodyText(text)
	})
}
