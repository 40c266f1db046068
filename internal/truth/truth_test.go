package truth

import (
	"math"
	"slices"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

func photos(t *testing.T) []Truth {
	all, err := All("../../testdata/photos")
	require.NoError(t, err)
	require.NotEmpty(t, all)
	return all
}

// The recorded points came from the renderer; Project repeats its camera from eye, target,
// roll and focal length alone.
func TestProjectAgreesWithRecordedPoints(t *testing.T) {
	const tolerance = 0.05 // px; one truth's points are rounded to that
	for _, tr := range photos(t) {
		for _, set := range [][]PointPx{tr.Points.Card, tr.Points.Corners, tr.Points.Holes} {
			for _, p := range set {
				got := tr.Project(p.World)
				require.InDelta(t, 0, math.Hypot(got.X-p.Px.X, got.Y-p.Px.Y), tolerance, "photo %s, %v", tr.ID, p.At)
			}
		}
	}
}

// mirrored is a result with the other leaf first and from_end from the other end.
func mirrored(r measure.Result) measure.Result {
	h := *r.Hinge
	h.Leaves = slices.Clone(h.Leaves)
	slices.Reverse(h.Leaves)
	for i := range h.Leaves {
		h.Leaves[i].Holes = slices.Clone(h.Leaves[i].Holes)
		slices.Reverse(h.Leaves[i].Holes)
		for j := range h.Leaves[i].Holes {
			e := &h.Leaves[i].Holes[j].FromEnd
			e.Value = h.Height.Value - e.Value
		}
	}
	r.Hinge = &h
	return r
}

func TestScoreOfTheTruthIsPerfect(t *testing.T) {
	for _, tr := range photos(t) {
		results := []measure.Result{Result(tr)}
		if tr.Measurable() {
			results = append(results, mirrored(results[0]))
		}
		for _, r := range results {
			s, err := Score(tr, r)
			require.NoError(t, err)
			require.True(t, s.Right(), "%s: %v", tr.ID, s.Wrong)
			require.Equal(t, tr.Measurable(), s.Measured)
			for _, e := range s.List {
				require.InDelta(t, 0, e.Err, 1e-9, "%s %s", tr.ID, e.Name)
			}
			if tr.Measurable() && tr.Hinge.Leaves == 2 {
				require.Len(t, s.List, 3+2+4*(len(tr.Hinge.Left.Holes)+len(tr.Hinge.Right.Holes)))
			}
		}
	}
}

func TestScoreSeesWhatIsWrong(t *testing.T) {
	tr, err := Load("../../testdata/photos/004.json")
	require.NoError(t, err)

	r := mirrored(Result(tr))
	r.Hinge.Height.Value += 0.5
	r.Hinge.Knuckles = 3
	r.Hinge.Leaves[0].Holes[1].FromEdge.Value -= 0.25
	r.Hinge.Leaves[1].Corners = measure.CornersSquare
	r.Hinge.Leaves[1].Holes = r.Hinge.Leaves[1].Holes[:2]
	s, err := Score(tr, r)
	require.NoError(t, err)
	require.False(t, s.Knuckles)
	require.False(t, s.Corners)
	require.False(t, s.Holes)
	require.True(t, s.Pattern)
	require.Contains(t, s.List, Error{Height, Height, r.Hinge.Height.Value.MM() - tr.Hinge.Height, sigma})
	worst := 0.0
	for _, e := range s.List {
		if e.Class == FromEdge {
			worst = max(worst, math.Abs(e.Err))
		}
	}
	require.InDelta(t, 0.25, worst, 1e-9)

	t.Run("a refusal of a good photo is wrong, and so is the wrong reason", func(t *testing.T) {
		refusal := measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.Glare}}
		s, err := Score(tr, refusal)
		require.NoError(t, err)
		require.False(t, s.StatusRight)
		blurred, err := Load("../../testdata/photos/022.json")
		require.NoError(t, err)
		s, err = Score(blurred, refusal)
		require.NoError(t, err)
		require.False(t, s.StatusRight)
	})
}

func TestSummarise(t *testing.T) {
	// By hand: |errors| 1, 2, 3, 4 with u = 1; 1 of 4 within 1.96; rms √(30/4).
	s := Summarise([]Error{{Err: 1, U: 1}, {Err: -2, U: 1}, {Err: 3, U: 1}, {Err: -4, U: 1}})
	require.InDelta(t, 2.5, s.Median, 1e-12)
	require.InDelta(t, 3.85, s.P95, 1e-12)
	require.Equal(t, 4.0, s.Worst)
	require.InDelta(t, 0.25, s.Held, 1e-12)
	require.InDelta(t, math.Sqrt(7.5), s.RMS, 1e-12)
}
