package catalog

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"syscall"
	"testing"
	"time"

	"leafgauge/measure"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A simulated inquiry, with assumptions of its own and not those that the fit is made of:
//
//   - The old hinge is of unknown make. In each size it is most often within 0.1 mm of the stock
//     hinge; else it is off by any amount, evenly, up to a half-width that reaches four standard
//     uncertainties of the worst photo past where the verdict turns. Its holes are shifted together,
//     its corners' radii are off together, and each scatters by 0.08 mm besides, as on the photos'
//     hinges.
//   - The photo's quality differs from inquiry to inquiry: its uncertainties are those of a usual
//     one times 0.5 to 1.4, and are told rightly. One scale error is common to all lengths.
//   - The thickness is told from a caliper three times in four. Else it follows the shares of
//     thickClasses, round a pin as oldThickness takes it, and the photo shows the barrel.
//   - The new hinge differs from its list as deviates says.
type simulation struct{ rng *rand.Rand }

// Standard uncertainties in mm of a usual photo's outline, hole and radius; of the scale, relative.
const (
	simOut, simHole, simRadius, simScale = 0.08, 0.06, 0.15, 0.0008
)

// off is by how much the old hinge differs from the stock hinge in one size.
func (s simulation) off(half float64) float64 {
	if s.rng.Float64() < 0.65 { // most sizes are far from where the verdict turns
		half = 0.1
	}
	return half * (2*s.rng.Float64() - 1)
}

// radius is what a corner of that radius comes out as: no tool makes a negative one.
func (s simulation) radius(mm float64) float64 { return max(0, mm+0.08*s.rng.NormFloat64()) }

// inquiry draws an old hinge near g, as the fit sees it and as it is.
func (s simulation) inquiry(g *geometry) (o oldHinge, x []float64) {
	quality := 0.5 * math.Exp2(1.5*s.rng.Float64())
	dr := s.off(3)
	x = []float64{g.height + s.off(2.2), g.leaf + s.off(1.6), 0, g.thick + s.off(1.1), s.radius(g.radius[0] + dr), s.radius(g.radius[1] + dr)}
	x[2] = x[1]
	dx, dy := s.off(1.6), s.off(1.6)
	b := measure.Best{Hinge: measure.Hinge{Leaves: []measure.Leaf{{}, {}}}}
	scale := 1 + quality*simScale*s.rng.NormFloat64()
	cov := &measure.Covariance{}
	var values []float64
	see := func(key measure.Key, v, u float64) measure.Estimate {
		u *= quality
		cov.Keys = append(cov.Keys, key)
		values = append(values, v)
		cov.MM2 = append(cov.MM2, []float64{u * u})
		return measure.Estimate{Value: length(v*scale + u*s.rng.NormFloat64()), Sigma: length(math.Hypot(u, quality*v*simScale))}
	}
	b.Height = see("height", x[0], simOut)
	b.OpenWidth = see("open_width", 2*x[1], simOut)
	if s.rng.Float64() < 0.75 {
		b.Thickness = measure.Estimate{Value: length(x[3] + 0.05*s.rng.NormFloat64()), Sigma: 0.05}
	} else {
		x[3] = pickThickness(s.shares(g.height), s.rng)
		pin, u := 0.27*25.4, 0.03*25.4
		if b.Height.Value < 4.25*measure.Inch {
			pin, u = 0.24*25.4, 0.02*25.4
		}
		b.BarrelDiameter = see("barrel_diameter", pin+u*s.rng.NormFloat64()+2*x[3], simOut)
	}
	for l := range 2 {
		for k := range g.x {
			hx, hy := g.x[k]+dx+0.08*s.rng.NormFloat64(), g.y[k]+dy+0.08*s.rng.NormFloat64()
			x = append(x, hx, hy)
			b.Leaves[l].Holes = append(b.Leaves[l].Holes, measure.Hole{
				FromEdge: see(measure.Key(fmt.Sprintf("leaf.%d.hole.%d.from_edge", l, k)), hx, simHole),
				FromEnd:  see(measure.Key(fmt.Sprintf("leaf.%d.hole.%d.from_end", l, k)), hy, simHole)})
		}
		b.Leaves[l].CornerRadius = see(measure.Key(fmt.Sprintf("leaf.%d.corner_radius", l)), x[atRadius+l], simRadius)
	}
	for i := range cov.MM2 {
		own := cov.MM2[i][0]
		cov.MM2[i] = make([]float64, len(cov.Keys))
		for j := range cov.MM2[i] {
			cov.MM2[i][j] = values[i] * values[j] * quality * quality * simScale * simScale
		}
		cov.MM2[i][i] += own
	}
	b.Covariance = cov
	o, _ = newOldHinge(b)
	return o, x
}

// shares are the usual thicknesses of hinges so high, and something else evenly over thickRange.
func (s simulation) shares(height float64) []thickClass {
	mix := thickClasses(length(height))
	mix = append(mix, thickClass{2.9 + thickRange*(s.rng.Float64()-0.5), 0, thickOther})
	sum := 0.0
	for _, c := range mix {
		sum += c.weight
	}
	for i := range mix {
		mix[i].weight /= sum
	}
	return mix
}

// newHinge is how a hinge from the shelf differs from its list, as in deviates.
func (s simulation) newHinge(d []float64) {
	for i := range d {
		switch {
		case i < 2:
			d[i] = 2*s.rng.Float64() - 1
		case i < devCoins:
			d[i] = s.rng.NormFloat64()
		default:
			d[i] = s.rng.Float64()
		}
	}
}

// Of fits said to drop in with a probability, that share must, within 3 points in every class of
// 10 points from 20 % up. Here 3 standard errors of the count are allowed besides, but not for all
// classes together; the long run,
//
//	LEAFGAUGE_CALIBRATE=2000 go test ./catalog -run DroppingInIsCalibrated -v
//
// goes on until every class has so many cases and allows nothing: 2,000 make the standard error
// 1.1 points at most. It prints the table. The seed is fixed.
func TestProbabilityOfDroppingInIsCalibrated(t *testing.T) {
	least, slack := 150, 3.0
	if text := os.Getenv("LEAFGAUGE_CALIBRATE"); text != "" {
		var err error
		least, err = strconv.Atoi(text)
		require.NoError(t, err)
		slack = 0
	}
	const from, within = 2, 0.03 // from 20 % up, 3 points
	stock := demoStock(t)
	s := simulation{rand.New(rand.NewPCG(11, 2027))}
	type class struct {
		n                 int
		said, was, square float64
	}
	var bins [10]class
	devs, rough := deviates(samples), deviates(samples/8)
	fresh := make([]float64, devSize)
	full := func() bool {
		for _, b := range bins[from:] {
			if b.n < least {
				return false
			}
		}
		return true
	}
	var g geometry
	trials := 0
	for ; !full(); trials++ {
		require.Less(t, trials, 1000*least, "some class does not fill")
		newGeometry(&stock[s.rng.IntN(len(stock))], &g)
		if !g.suits || len(g.x) == 0 {
			continue
		}
		o, x := s.inquiry(&g)
		o.draw(samples)
		// Which cases are looked at may hang on what the fit sees, never on how it is: most of those
		// that are plain are passed over, to be quick.
		j := o.judge(&g, rough)
		if p := j.p[isDropIn]; (p < 0.15 || p > 0.95) && s.rng.Float64() > 0.05 {
			continue
		}
		j = o.judge(&g, devs)
		const hinges = 20 // of the kind, one after the other in the old place
		in := 0.0
		for range hinges {
			var out outcome
			s.newHinge(fresh)
			if o.evaluate(&g, j.placement, &j.match, x, fresh, &out); out.class == isDropIn {
				in += 1.0 / hinges
			}
		}
		p := j.p[isDropIn]
		b := &bins[min(9, int(10*p))]
		b.n, b.said, b.was, b.square = b.n+1, b.said+p, b.was+in, b.square+(in-p)*(in-p)
	}
	t.Logf("%d inquiries\nclass            n   said   dropped in   apart   ± 1 SE", trials)
	var all class
	for i, b := range bins {
		n := float64(b.n)
		said, was, se := b.said/n, b.was/n, math.Sqrt(b.square)/n
		t.Logf("%2d to %3d %%  %5d  %5.1f        %5.1f   %+5.1f   %.1f", 10*i, 10*i+10, b.n, 100*said, 100*was, 100*(was-said), 100*se)
		if i >= from {
			all.n, all.said, all.was = all.n+b.n, all.said+b.said, all.was+b.was
			assert.InDelta(t, said, was, within+slack*se, "%d to %d %%", 10*i, 10*i+10)
		}
	}
	require.InDelta(t, all.said/float64(all.n), all.was/float64(all.n), within, "all together")
}

// twins makes a shelf of n hinges: the demo shelf, and copies of it with some of the holes,
// or the height, or the corners, 1/32 in off.
func twins(tb testing.TB, n int) []Item {
	stock := demoStock(tb)
	rng := rand.New(rand.NewPCG(32, 32))
	base := len(stock)
	for len(stock) < n {
		i := stock[rng.IntN(base)]
		i.StockNumber = fmt.Sprintf("T%06d", len(stock))
		i.PatternID = ""
		holes := make([]Hole, len(i.Holes))
		copy(holes, i.Holes)
		step := func() measure.Length { return measure.Inch / 32 * measure.Length(rng.IntN(3)-1) }
		switch rng.IntN(6) {
		case 0:
			by := measure.Inch / 32 * measure.Length(1-2*rng.IntN(2))
			i.Height += by
			for k := range holes {
				holes[k].FromEnd += by / 2
			}
			i.Holes = holes
			stock = append(stock, i)
			continue
		case 1:
			if i.Radius[0] > 0 && i.Radius[1] == i.Radius[0] {
				by := measure.Inch / 32 * measure.Length(1-2*rng.IntN(2))
				i.Radius = [2]measure.Length{i.Radius[0] + by, i.Radius[1] + by}
				i.Holes = holes
				stock = append(stock, i)
				continue
			}
		}
		ends, middle, end := step(), step(), step()
		if ends == 0 && middle == 0 && end == 0 {
			end = measure.Inch / 32
		}
		for k := range holes {
			switch k {
			case 0:
				holes[k].FromEdge += ends
				holes[k].FromEnd += end
			case len(holes) - 1:
				holes[k].FromEdge += ends
				holes[k].FromEnd -= end
			default:
				holes[k].FromEdge += middle
			}
		}
		i.Holes = holes
		stock = append(stock, i)
	}
	return stock
}

func TestNearTwinsDoNotDropInWithConfidence(t *testing.T) {
	stock := twins(t, 5000)
	rng := rand.New(rand.NewPCG(5, 5))
	for _, tr := range truths(t) {
		for range 3 {
			b := tr.seen(rng, true)
			fits := Rank(b, stock, Door{}, Wishes{})
			f := fits[0]
			if !tr.right(&f.Item) {
				require.Less(t, f.PDropsIn, SureEnough, "%s: %s", tr.ID, f.Item.StockNumber)
				require.NotNil(t, Ask(b, fits, Door{}), tr.ID)
			}
		}
	}
}

func benchmarkRank(b *testing.B, n int) {
	stock := twins(b, n)
	old := truths(b)[4].seen(rand.New(rand.NewPCG(1, 2)), true)
	b.ResetTimer()
	before := processorTime(b)
	for range b.N {
		if len(Rank(old, stock, Door{}, Wishes{})) == 0 {
			b.Fatal("no fits")
		}
	}
	b.ReportMetric((processorTime(b)-before).Seconds()*1000/float64(b.N), "cpu-ms/op")
}

// processorTime is what the process has used: wall time says little on a busy machine.
func processorTime(tb testing.TB) time.Duration {
	var u syscall.Rusage
	require.NoError(tb, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func BenchmarkRank5000(b *testing.B)   { benchmarkRank(b, 5_000) }
func BenchmarkRank100000(b *testing.B) { benchmarkRank(b, 100_000) }
