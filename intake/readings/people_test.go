package readings

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// People's lines were written without a look at the reader: the share of them that it reads right
// may not fall, and none may be read as something that it does not say.
func TestPeople(t *testing.T) {
	const (
		leastRight = 0.98
		mostWrong  = 0
	)
	b, err := os.ReadFile("../../testdata/readings/people.txt")
	require.NoError(t, err)
	lines, right, wrong := 0, 0, 0
	for i, line := range strings.Split(string(b), "\n") {
		if line == "" || strings.HasPrefix(line, "# ") {
			continue
		}
		text, says, ok := strings.Cut(line, " => ")
		require.True(t, ok, "line %d", i+1)
		text = strings.ReplaceAll(text, `\n`, "\n")
		got := Parse(text)
		checkContract(t, text, got)
		missed, unsaid := compare(parsePeople(t, says), got)
		lines++
		if len(unsaid) > 0 {
			wrong++
		}
		if missed = append(missed, strayStatements(says, got)...); len(missed)+len(unsaid) == 0 {
			right++
			continue
		}
		t.Logf("line %d: %s\n\tmissed %v, not said %v", i+1, line, missed, unsaid)
	}
	t.Logf("%d of %d lines read right (%.1f %%), %d read as what they do not say", right, lines, 100*float64(right)/float64(lines), wrong)
	require.GreaterOrEqual(t, float64(right), leastRight*float64(lines))
	require.LessOrEqual(t, wrong, mostWrong)
}

// said is what a line says, to be found in any order.
type said struct {
	lengths    []saidLength
	counts     []string // "hinge_count#3"
	statements []string // "corner=square"
}

type saidLength struct {
	quantity measure.Quantity
	mm       float64
}

func parsePeople(t *testing.T, says string) (s said) {
	t.Helper()
	for part := range strings.SplitSeq(says, ";") {
		part = strings.TrimSpace(part)
		switch {
		case part == "nothing" || part[0] == '?':
		case part[0] == '[':
			s.statements = append(s.statements, strings.Trim(part, "[]"))
		case strings.Contains(part, "#"):
			s.counts = append(s.counts, part)
		default:
			name, value, ok := strings.Cut(part, "=")
			require.True(t, ok, part)
			s.lengths = append(s.lengths, saidLength{measure.Quantity(name), fixtureMM(t, value)})
		}
	}
	return s
}

// compare lists what was said and not found, and what was found and not said.
func compare(want said, got measure.Readings) (missed, unsaid []string) {
	const within = 0.05 // mm
	for _, r := range got.Readings {
		found := false
		if r.Count != nil {
			if i := slices.Index(want.counts, fmt.Sprintf("%s#%d", r.Quantity, *r.Count)); i >= 0 {
				want.counts, found = slices.Delete(want.counts, i, i+1), true
			}
		} else if i := slices.IndexFunc(want.lengths, func(l saidLength) bool {
			return l.quantity == r.Quantity && math.Abs(l.mm-float64(*r.Value)) <= within
		}); i >= 0 {
			want.lengths, found = slices.Delete(want.lengths, i, i+1), true
		}
		if !found {
			readings, _ := describe(measure.Readings{Readings: []measure.Reading{r}})
			unsaid = append(unsaid, readings...)
		}
	}
	_, statements := describe(got)
	missed = slices.Clone(want.counts)
	for _, l := range want.lengths {
		missed = append(missed, fmt.Sprintf("%s=%.3f", l.quantity, l.mm))
	}
	for _, s := range want.statements {
		if !slices.Contains(statements, s) {
			missed = append(missed, "["+s+"]")
		}
	}
	return missed, unsaid
}

// strayStatements are those that the line does not make. The lines leave a door's core, a place
// and a use often unwritten, a corner that a radius tells, and what a thing is not; these are not judged.
func strayStatements(says string, got measure.Readings) (stray []string) {
	for _, s := range got.Statements {
		is := "[" + s.Kind + "=" + s.Value + "]"
		switch {
		case strings.Contains(says, is), s.Kind == "wood", s.Kind == "use", strings.HasPrefix(s.Value, "not "):
		case is == "[corner=round]" && strings.Contains(says, "corner_radius"):
		default:
			stray = append(stray, "stray "+is)
		}
	}
	return stray
}
