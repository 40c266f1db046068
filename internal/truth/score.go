package truth

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"leafgauge/measure"
)

// Classes of quantity, in the order of the table.
const (
	Height      = "height"
	OpenWidth   = "open width"
	LeafWidth   = "leaf width" // of a single leaf only
	FromEdge    = "hole from edge"
	FromEnd     = "hole from end"
	Radius      = "corner radius"
	Diameter    = "hole diameter"
	Countersink = "countersink"
	Barrel      = "barrel"
)

var classes = []string{Height, OpenWidth, LeafWidth, FromEdge, FromEnd, Radius, Diameter, Countersink, Barrel}

// An Error is measured − true, and the standard uncertainty that was claimed, both in mm.
type Error struct {
	Class, Name string
	Err, U      float64
}

// Errors scores one photo.
type Errors struct {
	ID, Level string
	Expect    string // of the truth
	Got       string // "measured", or the retake reasons
	// StatusRight: measured what is measurable, or refused with the right reason first.
	StatusRight bool
	// Measured is set when both truth and result are of a measured hinge; else what follows is empty.
	Measured bool

	List                                                        []Error
	Leaves, Holes, Corners, Knuckles, Bearing, Pattern, Nominal bool     // right?
	Wrong                                                       []string // what of these is wrong, in words
	Missing                                                     []string // lengths that the result leaves out
}

// Right reports whether the status and everything counted or classed is right.
func (e Errors) Right() bool { return e.StatusRight && len(e.Wrong) == 0 }

// Score compares a result with the truth. Which leaf comes first and which end is measured
// from are free in a result: they are settled by where the holes lie in the picture, or,
// where a result has no centre_px, by the smallest errors. It fails only on a result that
// breaks its own contract.
func Score(t Truth, r measure.Result) (Errors, error) {
	e := Errors{ID: t.ID, Level: t.Level, Expect: t.Expect, Got: string(measure.Measured)}
	if r.Status != measure.Measured {
		var reasons []string
		for _, reason := range r.RetakeReasons {
			reasons = append(reasons, string(reason))
		}
		e.Got = strings.Join(reasons, "+")
		e.StatusRight = !t.Measurable() && len(r.RetakeReasons) > 0 && r.RetakeReasons[0] == t.Reason()
		return e, nil
	}
	if r.Hinge == nil {
		return e, fmt.Errorf("photo %s: status measured without a hinge", t.ID)
	}
	if !t.Measurable() {
		return e, nil
	}
	e.StatusRight, e.Measured = true, true

	h := *r.Hinge
	e.add(Height, Height, h.Height, t.Hinge.Height)
	if t.Hinge.Leaves == 2 {
		e.add(OpenWidth, OpenWidth, h.OpenWidth, t.Hinge.OpenWidth)
	} else if len(h.Leaves) == 1 {
		e.add(LeafWidth, LeafWidth, h.Leaves[0].Width, t.Hinge.OpenWidth/2)
	}
	e.add(Barrel, Barrel, h.BarrelDiameter, t.Hinge.Barrel)

	check := func(ok *bool, what string, got, want any) {
		if *ok = got == want; !*ok {
			e.Wrong = append(e.Wrong, fmt.Sprintf("%s %v, truly %v", what, got, want))
		}
	}
	check(&e.Leaves, "leaves", len(h.Leaves), t.Hinge.Leaves)
	check(&e.Knuckles, "knuckles", h.Knuckles, t.Hinge.Knuckles)
	check(&e.Bearing, "bearing", string(h.Bearing), t.Hinge.Bearing)
	check(&e.Pattern, "pattern", string(h.Pattern), t.Hinge.Pattern)
	check(&e.Nominal, "nominal", nominal(h.Nominal.Size, t.Hinge.Leaves), t.NominalSize())
	e.Holes, e.Corners = true, true

	a := t.assign(h)
	for i, l := range t.Hinge.leaves() {
		name := []string{"left", "right"}[i]
		j := a.leaf[i]
		if j >= len(h.Leaves) {
			e.Holes, e.Corners = false, false
			e.Wrong = append(e.Wrong, name+" leaf missing")
			continue
		}
		got := h.Leaves[j]
		e.add(Radius, name+" radius", got.CornerRadius, l.Radius)
		var ok bool
		check(&ok, name+" corners", got.Corners, corners(l.Radius))
		e.Corners = e.Corners && ok
		check(&ok, name+" holes", len(got.Holes), len(l.Holes))
		e.Holes = e.Holes && ok
		for k, at := range l.Holes {
			hole := fmt.Sprintf("%s hole %d ", name, k)
			n := t.nearest(at, got.Holes, a.flip)
			if n < 0 {
				e.Holes = false
				e.Wrong = append(e.Wrong, hole+"missing")
				continue
			}
			g := got.Holes[n]
			end := at[1]
			if a.flip {
				end = t.Hinge.Height - at[1]
			}
			e.add(FromEdge, hole+FromEdge, g.FromEdge, at[0])
			e.add(FromEnd, hole+FromEnd, g.FromEnd, end)
			e.add(Diameter, hole+"diameter", g.Diameter, t.Hinge.Hole)
			e.add(Countersink, hole+"countersink", g.Countersink, t.Hinge.drawnCountersink())
		}
	}
	return e, nil
}

func (e *Errors) add(class, name string, got measure.Estimate, want float64) {
	if !got.Known() {
		e.Missing = append(e.Missing, name)
		return
	}
	e.List = append(e.List, Error{class, name, got.Value.MM() - want, got.Sigma.MM()})
}

// nominal leaves of "4 x 4" what a single leaf can show: "4".
func nominal(size string, leaves int) string {
	if leaves == 1 {
		size, _, _ = strings.Cut(size, " x ")
	}
	return size
}

// An assignment says which measured leaf is which true one, and whether the measured
// from_end runs from the other end.
type assignment struct {
	leaf [2]int // index of the measured leaf for left, right
	flip bool
}

func (t Truth) assign(h measure.Hinge) assignment {
	best, least := assignment{leaf: [2]int{0, 1}}, math.Inf(1)
	for _, leaf := range [][2]int{{0, 1}, {1, 0}} {
		for _, flip := range []bool{false, true} {
			a := assignment{leaf, flip}
			if c := t.cost(h, a); c < least {
				best, least = a, c
			}
		}
	}
	return best
}

// cost is how badly an assignment explains the result, in mm: pixel distance of hole centres
// where the result has them, and capped errors in place.
func (t Truth) cost(h measure.Hinge, a assignment) float64 {
	const mmCap = 20
	scale := t.Image.FocalPxUpright / t.Camera.Distance // px per mm
	sum := 0.0
	for i, l := range t.Hinge.leaves() {
		if a.leaf[i] >= len(h.Leaves) {
			sum += mmCap * float64(len(l.Holes))
			continue
		}
		got := h.Leaves[a.leaf[i]].Holes
		for k, at := range l.Holes {
			n := t.nearest(at, got, a.flip)
			if n < 0 {
				sum += mmCap
				continue
			}
			px := t.holePx([]string{"left", "right"}[i], k)
			if c := got[n].CentrePx; c != (measure.Pixel{}) {
				sum += min(math.Hypot(c.X-px.X, c.Y-px.Y)/scale, mmCap)
			}
			sum += min(t.apart(at, got[n], a.flip), mmCap)
		}
	}
	return sum
}

// nearest is the measured hole nearest to a true one, −1 when none is within 6 mm (the holes
// of one leaf are at least twice that apart).
func (t Truth) nearest(at [2]float64, holes []measure.Hole, flip bool) int {
	n, least := -1, 6.0
	for i, g := range holes {
		if d := t.apart(at, g, flip); d < least {
			n, least = i, d
		}
	}
	return n
}

func (t Truth) apart(at [2]float64, g measure.Hole, flip bool) float64 {
	end := at[1]
	if flip {
		end = t.Hinge.Height - end
	}
	return math.Hypot(g.FromEdge.Value.MM()-at[0], g.FromEnd.Value.MM()-end)
}

// Table prints, for easy + medium, hard, and all photos: the median, 95th percentile and
// worst absolute error of each class in mm, the share of 95 % intervals that hold the truth,
// and the root mean square of error/u; then what is wrong, photo by photo.
func Table(scores []Errors) string {
	var b strings.Builder
	for _, set := range []struct {
		name   string
		levels string
	}{{"easy + medium", "easy medium"}, {"hard", "hard"}, {"all", "easy medium hard"}} {
		byClass := map[string][]Error{}
		var pooled []Error
		photos, measured, right := 0, 0, 0
		for _, s := range scores {
			if !strings.Contains(set.levels, s.Level) || s.Expect != string(measure.Measured) {
				continue
			}
			photos++
			if s.Measured {
				measured++
			}
			if s.Right() {
				right++
			}
			for _, e := range s.List {
				byClass[e.Class] = append(byClass[e.Class], e)
				pooled = append(pooled, e)
			}
		}
		if photos == 0 {
			continue
		}
		fmt.Fprintf(&b, "%s: %d photos to measure, %d measured, %d with every count and class right\n", set.name, photos, measured, right)
		fmt.Fprintf(&b, "  %-15s %4s %8s %8s %8s %7s %7s\n", "error, mm", "n", "median", "95 %", "worst", "in 95%", "rms e/u")
		for _, c := range classes {
			if len(byClass[c]) > 0 {
				line(&b, c, byClass[c])
			}
		}
		if len(pooled) > 0 {
			line(&b, "pooled", pooled)
		}
	}
	for _, s := range scores {
		switch {
		case !s.StatusRight:
			fmt.Fprintf(&b, "%s (%s): %s, expected %s\n", s.ID, s.Level, s.Got, s.Expect)
		case len(s.Wrong)+len(s.Missing) > 0:
			fmt.Fprintf(&b, "%s (%s): wrong: %s; missing: %s\n", s.ID, s.Level, or(s.Wrong), or(s.Missing))
		}
	}
	return b.String()
}

func or(s []string) string {
	if len(s) == 0 {
		return "none"
	}
	return strings.Join(s, ", ")
}

func line(b *strings.Builder, name string, list []Error) {
	s := Summarise(list)
	fmt.Fprintf(b, "  %-15s %4d %8.3f %8.3f %8.3f %6.1f%% %7.2f\n", name, s.N, s.Median, s.P95, s.Worst, 100*s.Held, s.RMS)
}

// A Summary is what Table prints of one class.
type Summary struct {
	N                  int
	Median, P95, Worst float64 // of |error|, mm
	Held               float64 // share of 95 % intervals that hold the truth, 0…1
	RMS                float64 // of error/u
}

// Summarise sums up a list of errors; a percentile is interpolated between ranks.
func Summarise(list []Error) Summary {
	s := Summary{N: len(list)}
	if s.N == 0 {
		return s
	}
	abs := make([]float64, s.N)
	for i, e := range list {
		abs[i] = math.Abs(e.Err)
		z := e.Err / e.U
		s.RMS += z * z / float64(s.N)
		if math.Abs(z) <= measure.Coverage95 {
			s.Held += 1 / float64(s.N)
		}
	}
	s.RMS = math.Sqrt(s.RMS)
	slices.SortFunc(abs, cmp.Compare[float64])
	s.Median, s.P95, s.Worst = quantile(abs, 0.5), quantile(abs, 0.95), abs[s.N-1]
	return s
}

func quantile(sorted []float64, q float64) float64 {
	at := q * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// drawnCountersink is the countersink as it was drawn, mm. An 82° cone from the bore's edge
// at the leaf's back opens to bore + 2 · thickness · tan 41° at the face: where a truth's
// countersink is wider, the picture shows no more than that.
func (h Hinge) drawnCountersink() float64 {
	return math.Min(h.Countersink, h.Hole+2*h.Thickness*math.Tan(41*math.Pi/180))
}
