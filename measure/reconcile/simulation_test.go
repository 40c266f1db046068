package reconcile_test

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"leafgauge/intake/readings"
	"leafgauge/internal/truth"
	"leafgauge/measure"
	"leafgauge/measure/reconcile"

	"github.com/stretchr/testify/require"
)

func loadTruths(t *testing.T) []truth.Truth {
	t.Helper()
	all, err := truth.All("../../testdata/photos")
	require.NoError(t, err)
	return all
}

// Standard uncertainties of a simulated photo, in mm, of the size that measuring aims at, and
// the correlation of its height and open width (they share the scale).
const (
	simSize   = 0.10
	simRho    = 0.7
	simRadius = 0.10
	simHole   = 0.06
	simDia    = 0.10
	simBarrel = 0.10
)

// photoOf draws what a photo of the hinge would say, with its covariance. All its lengths are
// multiplied by scaleH along the height and scaleW across.
func photoOf(x truth.Truth, rng *rand.Rand, scaleH, scaleW float64) measure.Result {
	h := x.Hinge
	common, own := rng.NormFloat64(), rng.NormFloat64()
	est := func(v, s float64) measure.Estimate {
		return measure.Estimate{Value: measure.Length(v + s*rng.NormFloat64()), Sigma: measure.Length(s)}
	}
	eh := simSize * common
	ew := simSize * (simRho*common + math.Sqrt(1-simRho*simRho)*own)
	m := measure.Hinge{
		Height:         measure.Estimate{Value: measure.Length((h.Height + eh) * scaleH), Sigma: simSize},
		OpenWidth:      measure.Estimate{Value: measure.Length((h.OpenWidth + ew) * scaleW), Sigma: simSize},
		BarrelDiameter: est(h.Barrel*scaleW, simBarrel),
		Knuckles:       h.Knuckles, Bearing: measure.BearingUnknown, Pattern: measure.PatternArc,
		Covariance: &measure.Covariance{Keys: []measure.Key{"height", "open_width"},
			MM2: [][]float64{{simSize * simSize, simRho * simSize * simSize}, {simRho * simSize * simSize, simSize * simSize}}},
	}
	for _, l := range []truth.Leaf{h.Left, h.Right} {
		if len(m.Leaves) == h.Leaves {
			continue
		}
		leaf := measure.Leaf{Width: measure.Estimate{Value: m.OpenWidth.Value / 2, Sigma: simSize}, CornerRadius: est(l.Radius, simRadius), Holes: []measure.Hole{}}
		if l.Radius == 0 {
			leaf.Corners = measure.CornersSquare
		} else if l.Radius < 8 {
			leaf.Corners = measure.CornersQuarter
		} else {
			leaf.Corners = measure.CornersFiveEighths
		}
		for _, o := range l.Holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: est(o[0]*scaleW, simHole), FromEnd: est(o[1]*scaleH, simHole),
				Diameter: est(h.Hole, simDia), Countersink: est(h.Countersink, simDia)})
		}
		m.Leaves = append(m.Leaves, leaf)
	}
	if h.Leaves == 1 {
		m.OpenWidth = measure.Estimate{}
	}
	return measure.Result{Status: measure.Measured, RetakeReasons: []measure.Reason{}, Hinge: &m, Card: &measure.CardInfo{Kind: measure.CardID1}}
}

// hand types a length as a customer does, with the noise of its instrument.
type hand struct {
	style string
	rng   *rand.Rand
}

func (h hand) gauss(s float64) float64 { return s * h.rng.NormFloat64() }

// size types a length of the hinge's outline.
func (h hand) size(mm float64) string {
	switch h.style {
	case "caliper mm":
		return fmt.Sprintf("%.1f mm", mm+h.gauss(0.04))
	case "caliper in":
		return fmt.Sprintf("%.3f in", (mm+h.gauss(0.04))/25.4)
	case "ruler mm":
		return fmt.Sprintf("%.0f mm", mm+h.gauss(0.3))
	}
	return measure.Length(mm+h.gauss(0.3)).Fraction(16) + `"`
}

// fine types a small length.
func (h hand) fine(mm float64) string {
	switch h.style {
	case "caliper mm":
		return fmt.Sprintf("%.2fmm", mm+h.gauss(0.04))
	case "ruler mm":
		return fmt.Sprintf("%.1f mm", mm+h.gauss(0.1))
	}
	return strings.TrimPrefix(fmt.Sprintf("%.3f", (mm+h.gauss(0.04))/25.4), "")
}

// An inquiry of the simulation.
type inquiry struct {
	truth  truth.Truth
	photos []measure.Result
	text   string
	slip   string // "" none
	on     measure.Quantity
	// hurts reports whether the slip, taken at face value, changes what would be decided.
	hurts bool
}

// drawInquiry makes one inquiry with the given slip, or with none where the slip cannot happen to it.
func drawInquiry(truths []truth.Truth, slip string, rng *rand.Rand) inquiry {
	x := truths[rng.IntN(len(truths))]
	style := []string{"caliper mm", "caliper in", "tape", "words", "ruler mm"}[rng.IntN(5)]
	h := hand{style, rng}
	q := inquiry{truth: x, slip: slip}
	height, width, thick := x.Hinge.Height, x.Hinge.OpenWidth, x.Hinge.Thickness
	radius := x.Hinge.Left.Radius
	typed := map[string]string{"height": h.size(height), "width": h.size(width)}
	withThickness := rng.IntN(4) > 0
	if withThickness {
		typed["thickness"] = h.fine(thick)
	}
	withRadius := radius > 1 && rng.IntN(3) == 0
	if withRadius {
		typed["radius"] = measure.Length(radius).Fraction(8) + " in"
	}
	var hole [2]float64
	if len(x.Hinge.Left.Holes) > 0 {
		hole = x.Hinge.Left.Holes[rng.IntN(len(x.Hinge.Left.Holes))]
	}
	withHole := hole[0] > 0 && rng.IntN(4) == 0
	if withHole {
		typed["hole"] = h.size(hole[0])
	}
	scaleH, scaleW := 1.0, 1.0
	metric := strings.HasSuffix(style, "mm")
	switch slip {
	case measure.SlipSwapped:
		typed["height"], typed["width"] = typed["width"], typed["height"]
		q.on = measure.QHeight
	case measure.SlipLeafWidth:
		typed["width"] = h.size(width / 2)
		q.on = measure.QOpenWidth
	case measure.SlipUnit:
		k := []string{"height", "width"}[rng.IntN(2)]
		mm := map[string]float64{"height": height, "width": width}[k]
		q.on = map[string]measure.Quantity{"height": measure.QHeight, "width": measure.QOpenWidth}[k]
		if metric {
			typed[k] = fmt.Sprintf("%.1f in", mm+h.gauss(0.04))
		} else {
			typed[k] = fmt.Sprintf("%.3f mm", mm/25.4)
		}
	case measure.SlipDecimal:
		q.on = measure.QThickness
		in := (thick + h.gauss(0.04)) / 25.4
		typed["thickness"] = []string{fmt.Sprintf("%.2f in", in*10), fmt.Sprintf("%.4f in", in/10), fmt.Sprintf("%.1f mm", thick*10)}[rng.IntN(3)]
	case measure.SlipSixteenth, measure.SlipEighth:
		step := 25.4 / 16
		if slip == measure.SlipEighth {
			step = 25.4 / 8
		}
		if rng.IntN(2) == 0 {
			step = -step
		}
		h.style = "tape"
		typed["height"] = h.size(height + step)
		q.on = measure.QHeight
	case measure.SlipBarrelOut:
		typed["width"] = h.size(width - x.Hinge.Barrel)
		q.on = measure.QOpenWidth
	case measure.SlipBarrelTwice:
		typed["width"] = h.size(width + x.Hinge.Barrel)
		q.on = measure.QOpenWidth
	case measure.SlipBothLeaves:
		typed["thickness"] = h.fine(2 * thick)
		q.on = measure.QThickness
	case measure.SlipDiameter:
		if radius < 1 {
			q.slip = ""
			break
		}
		typed["radius"] = measure.Length(2*radius).Fraction(8) + " in"
		q.on = measure.QCornerRadius
	case measure.SlipHoleEdge:
		if hole[0] == 0 {
			q.slip = ""
			break
		}
		h.style = "caliper mm"
		typed["hole"] = h.size(hole[0] - x.Hinge.Hole/2)
		q.on = measure.QHoleFromEdge
	case measure.SlipWrongCard:
		scaleH, scaleW = 85.60/88.9, 53.98/50.8
		if rng.IntN(2) == 0 {
			scaleH, scaleW = scaleW, scaleH
		}
		q.on = measure.QUnknown
	case measure.SlipPrintScale:
		s := []float64{0.9407, 0.9727, 0.97, 0.96}[rng.IntN(4)]
		scaleH, scaleW = 1/s, 1/s
		q.on = measure.QUnknown
	case measure.SlipOtherHinge:
		for range 50 {
			y := truths[rng.IntN(len(truths))]
			if math.Abs(y.Hinge.Height-height) > 5 && math.Abs(y.Hinge.OpenWidth-width) > 5 && math.Abs(y.Hinge.OpenWidth-height) > 5 {
				typed["height"], typed["width"] = h.size(y.Hinge.Height), h.size(y.Hinge.OpenWidth)
				break
			}
		}
		q.on = measure.QUnknown
	}
	q.photos = []measure.Result{photoOf(x, rng, scaleH, scaleW)}
	if slip == measure.SlipPrintScale {
		q.photos[0].Card.Kind = measure.CardPrinted
	}
	var parts []string
	if style == "words" {
		parts = append(parts, fmt.Sprintf("it is %s tall and %s wide", strings.TrimSuffix(typed["height"], `"`), strings.TrimSuffix(typed["width"], `"`)))
		if v := typed["thickness"]; v != "" {
			parts = append(parts, "about "+v+" thick")
		}
	} else {
		parts = append(parts, "height "+typed["height"], "width "+typed["width"])
		if v := typed["thickness"]; v != "" {
			parts = append(parts, "thickness "+v)
		}
	}
	if v := typed["radius"]; v != "" {
		parts = append(parts, "corner radius "+v)
	}
	if v := typed["hole"]; v != "" {
		parts = append(parts, "a hole is "+v+" from the edge")
	}
	q.text = strings.Join(parts, ", ")
	return q
}

// decisions is the trade size that the shop would look for, "none" where none is likely.
func decisions(h, w measure.Estimate) string {
	size := measure.NearestTradeSize(h, w)
	if size.P < 0.5 {
		return "none"
	}
	return size.Size
}

// typedEstimate is the mean of what was typed of a quantity, taken at its word.
func typedEstimate(typed measure.Readings, q measure.Quantity) measure.Estimate {
	var list []measure.Estimate
	for _, r := range typed.Readings {
		if r.Quantity == q {
			list = append(list, measure.Estimate{Value: *r.Value, Sigma: r.U})
		}
	}
	m, _, _ := measure.WeightedMean(list...)
	return m
}

// changes reports whether the slip, taken at its word, would change what is decided: the trade
// size, the leaf thickness by more than a hundredth of an inch, the corner's cutter, or where
// a hole is by more than half its width. A wrong card changes the photo's trade size.
func changes(q inquiry, typed measure.Readings) bool {
	exact := func(v float64) measure.Estimate { return measure.Estimate{Value: measure.Length(v), Sigma: 0.01} }
	h := q.truth.Hinge
	was := decisions(exact(h.Height), exact(h.OpenWidth))
	switch q.on {
	case measure.QThickness:
		return math.Abs(float64(typedEstimate(typed, q.on).Value)-h.Thickness) > 0.254
	case measure.QCornerRadius:
		return math.Abs(float64(typedEstimate(typed, q.on).Value)-h.Left.Radius) > 2
	case measure.QHoleFromEdge:
		return true // half the hole's width, by the slip's nature
	case measure.QUnknown:
		if q.slip == measure.SlipOtherHinge {
			return was != decisions(typedEstimate(typed, measure.QHeight), typedEstimate(typed, measure.QOpenWidth))
		}
		photo := q.photos[0].Hinge
		if !photo.OpenWidth.Known() {
			was = decisions(exact(h.Height), measure.Estimate{})
		}
		return was != decisions(photo.Height, photo.OpenWidth)
	}
	return was != decisions(typedEstimate(typed, measure.QHeight), typedEstimate(typed, measure.QOpenWidth))
}

// Two hundred inquiries drawn from the test photos' truth, one slip in a third of them, with a
// fixed seed. The limits: at least 97 % of the slips that change a decision are named rightly,
// at most 1 % of the sound inquiries raise a false alarm, and the final sizes are, over all
// inquiries, no worse than the better of photo and readings.
func TestReconcileSimulation(t *testing.T) {
	truths := loadTruths(t)
	slips := []string{measure.SlipSwapped, measure.SlipLeafWidth, measure.SlipLeafWidth, measure.SlipUnit, measure.SlipUnit, measure.SlipDecimal,
		measure.SlipSixteenth, measure.SlipEighth, measure.SlipBarrelOut, measure.SlipBarrelTwice, measure.SlipBothLeaves, measure.SlipDiameter,
		measure.SlipHoleEdge, measure.SlipWrongCard, measure.SlipPrintScale, measure.SlipOtherHinge}
	simulate(t, truths, slips, 200, 1)
}

func simulate(t *testing.T, truths []truth.Truth, slips []string, n int, seed uint64) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 4))
	type row struct{ drawn, hurts, named int }
	table := map[string]*row{}
	sound, alarms, hurts, named := 0, 0, 0, 0
	type sum struct {
		n                   int
		final, photo, typed float64
	}
	errors := map[measure.Quantity]*sum{"height": {}, "open_width": {}, "thickness": {}}
	for i := range n {
		slip := ""
		if i%3 == 0 {
			slip = slips[(i/3)%len(slips)]
		}
		q := drawInquiry(truths, slip, rng)
		typed := readings.Parse(q.text)
		best := reconcile.Best(q.photos, typed, nil)
		photo := q.photos[0].Hinge

		tr := q.truth.Hinge
		q.hurts = q.slip != "" && changes(q, typed)
		if q.slip == "" {
			sound++
			if len(best.Disagreements) > 0 {
				alarms++
				t.Logf("false alarm in %d (%s): %q: %s", i, q.truth.ID, q.text, best.Disagreements[0].Sentence)
			}
		} else {
			r := table[q.slip]
			if r == nil {
				r = &row{}
				table[q.slip] = r
			}
			r.drawn++
			if q.hurts {
				hurts++
				r.hurts++
				right := slices.ContainsFunc(best.Disagreements, func(d measure.Disagreement) bool { return d.Slip == q.slip && len(best.Disagreements) == 1 })
				if right {
					named++
					r.named++
				} else {
					t.Logf("not named in %d (%s): %s: %q: %v", i, q.truth.ID, q.slip, q.text, best.Disagreements)
				}
			}
		}
		// Sizes: of inquiries where the photo itself is sound.
		if q.slip != measure.SlipWrongCard && q.slip != measure.SlipPrintScale {
			add := func(k measure.Quantity, final, photo, typed measure.Estimate, true float64) {
				s := errors[k]
				if !final.Known() {
					return
				}
				s.n++
				sq := func(e measure.Estimate) float64 { d := float64(e.Value) - true; return d * d }
				s.final += sq(final)
				if photo.Known() {
					s.photo += sq(photo)
				} else {
					s.photo = math.Inf(1) // a photo can't see it
				}
				s.typed += sq(typed)
			}
			if photo.OpenWidth.Known() {
				add("open_width", best.OpenWidth, photo.OpenWidth, typedEstimate(typed, measure.QOpenWidth), tr.OpenWidth)
			}
			add("height", best.Height, photo.Height, typedEstimate(typed, measure.QHeight), tr.Height)
			if x := typedEstimate(typed, measure.QThickness); x.Known() {
				add("thickness", best.Thickness, measure.Estimate{}, x, tr.Thickness)
			}
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "\n%-18s %6s %16s %6s\n", "slip", "drawn", "change decision", "named")
	for _, k := range slices.Sorted(maps.Keys(table)) {
		fmt.Fprintf(&b, "%-18s %6d %16d %6d\n", k, table[k].drawn, table[k].hurts, table[k].named)
	}
	fmt.Fprintf(&b, "named %d of %d (%.1f %%); false alarms %d of %d (%.1f %%)\n", named, hurts, 100*float64(named)/float64(hurts), alarms, sound, 100*float64(alarms)/float64(sound))
	fmt.Fprintf(&b, "%-12s %5s %10s %10s %10s  (root-mean-square error, mm)\n", "size", "n", "final", "photo", "as typed")
	for _, k := range slices.Sorted(maps.Keys(errors)) {
		s := errors[k]
		fmt.Fprintf(&b, "%-12s %5d %10.4f %10.4f %10.4f\n", k, s.n, math.Sqrt(s.final/float64(s.n)), math.Sqrt(s.photo/float64(s.n)), math.Sqrt(s.typed/float64(s.n)))
	}
	t.Log(b.String())
	require.GreaterOrEqual(t, float64(named), 0.97*float64(hurts), "slips that change a decision and are named rightly")
	require.LessOrEqual(t, float64(alarms), 0.01*float64(sound), "false alarms")
	for k, s := range errors {
		require.LessOrEqual(t, s.final, math.Min(s.photo, s.typed), "%s: final against the better of photo and readings", k)
	}
}
