package hole

import (
	"cmp"
	"slices"

	"leafgauge/measure"
)

// columnsApart is how much nearer to the outer edge one hole must be than the next to stand in
// another column, mm. Hole places in a row scatter by a few tenths; rows that are meant to
// differ do so by at least a screw's radius.
const columnsApart = 2.0

// Pattern says how the holes of each leaf are arranged. Going along the leaf from end
// to end, the holes' distances from the outer edge
//
//   - fall and rise once, or with four and more holes rise and fall once: an arc (the holes
//     lie on a bow);
//   - change direction at every hole, or with three holes the middle one stands nearer to the
//     barrel: staggered (two rows, turn about);
//   - anything else, a straight row among them: other.
//
// Three holes with the middle one nearer to the barrel may be meant as a bow the other way:
// the picture of three holes cannot tell. Leaves that differ make it other.
func Pattern(holes [][]Fit, width, height float64) measure.Pattern {
	var patterns []measure.Pattern
	for _, leaf := range holes {
		if len(leaf) == 0 {
			continue
		}
		order := slices.Clone(leaf)
		slices.SortFunc(order, func(a, b Fit) int { return cmp.Compare(a.FromEnd, b.FromEnd) })
		patterns = append(patterns, leafPattern(order))
	}
	if len(patterns) == 0 {
		return measure.PatternOther
	}
	for _, p := range patterns {
		if p != patterns[0] {
			return measure.PatternOther
		}
	}
	return patterns[0]
}

// leafPattern classes holes in order of fromEnd.
func leafPattern(holes []Fit) measure.Pattern {
	// Steps between columns, −1 towards the outer edge, +1 towards the barrel.
	var steps []int
	for i := 1; i < len(holes); i++ {
		switch d := holes[i].FromEdge - holes[i-1].FromEdge; {
		case d > columnsApart:
			steps = append(steps, 1)
		case d < -columnsApart:
			steps = append(steps, -1)
		}
	}
	turns := 0
	for i := 1; i < len(steps); i++ {
		if steps[i] != steps[i-1] {
			turns++
		}
	}
	switch {
	case len(holes) < 3 || turns == 0:
		return measure.PatternOther
	case len(holes) == 3:
		if steps[0] < 0 {
			return measure.PatternArc
		}
		return measure.PatternStaggered
	case turns == 1:
		return measure.PatternArc
	case turns == len(holes)-2:
		return measure.PatternStaggered
	}
	return measure.PatternOther
}
