package reconcile_test

import (
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"leafgauge/intake"
	"leafgauge/intake/readings"
	"leafgauge/internal/truth"
	"leafgauge/measure"
	"leafgauge/measure/photo"
	"leafgauge/measure/reconcile"

	"github.com/stretchr/testify/require"
)

// A seen is a kept photo as it was measured.
type seen struct {
	truth.Truth
	id     string
	img    image.Image
	opt    measure.Options
	result measure.Result
}

// measuredPhotos are all kept photos that can be measured, measured once.
var measuredPhotos = sync.OnceValues(func() (all []seen, err error) {
	paths, err := filepath.Glob("../../testdata/photos/*.json")
	if err != nil {
		return nil, err
	}
	for _, p := range paths {
		tr, err := truth.Load(p)
		if err != nil {
			return nil, err
		}
		if !tr.Measurable() {
			continue
		}
		name := strings.TrimSuffix(p, ".json") + ".jpg"
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		kept, err := intake.Admit(name, data)
		if err != nil {
			return nil, err
		}
		s := seen{Truth: tr, id: strings.TrimSuffix(filepath.Base(p), ".json"), opt: measure.Options{Focal35mm: kept.Focal35mm}}
		if s.img, err = intake.Decode(kept); err != nil {
			return nil, err
		}
		if s.result = photo.Measure(s.img, s.opt); s.result.Status == measure.Measured {
			all = append(all, s)
		}
	}
	return all, nil
})

func measured(t *testing.T) []seen {
	t.Helper()
	all, err := measuredPhotos()
	require.NoError(t, err)
	require.Greater(t, len(all), 15)
	return all
}

// within holds a best set against what went into it; a corner's radius is no less than none.
func within(t *testing.T, name string, b measure.Best) {
	t.Helper()
	sizesWithin(t, name, b)
	for i, l := range b.Leaves {
		require.GreaterOrEqual(t, l.CornerRadius.Value.MM()+2*l.CornerRadius.Sigma.MM(), -0.01, "%s: leaf %d", name, i)
	}
}

// sizesWithin holds the sizes of a best set against what went into them, widened by its 95 % intervals.
func sizesWithin(t *testing.T, name string, b measure.Best) {
	t.Helper()
	for _, k := range []measure.Key{"height", "open_width", "barrel_diameter", "thickness"} {
		got := b.Thickness
		b.Lengths(func(key measure.Key, e *measure.Estimate) {
			if key == k {
				got = *e
			}
		})
		if !got.Known() {
			continue
		}
		low, high := math.Inf(1), math.Inf(-1)
		for _, tr := range b.Trace { // what was used of photos, readings and trade sizes
			if tr.Quantity == k && tr.Used {
				a, z := tr.Input.Interval95()
				low, high = math.Min(low, a.MM()), math.Max(high, z.MM())
			}
		}
		if math.IsInf(low, 0) {
			continue
		}
		require.GreaterOrEqual(t, got.Value.MM(), low-1e-6, "%s: %s", name, k)
		require.LessOrEqual(t, got.Value.MM(), high+1e-6, "%s: %s", name, k)
	}
}

// Photos of different hinges never make a third: every pair, however they lie, is told apart, and so is
// every triple, whatever was typed.
func TestPhotosOfDifferentHingesAreKeptApart(t *testing.T) {
	all := measured(t)
	typed := []string{"", "4 x 4, 0.13 thick", "3 1/2 x 3 1/2, 5/8 radius corners", "89 mm high, 2.2 mm thick"}
	for i, a := range all {
		for j, b := range all[:i] {
			same := a.Hinge.Height == b.Hinge.Height && a.Hinge.OpenWidth == b.Hinge.OpenWidth && slices.Equal(a.Hinge.Left.Holes, b.Hinge.Left.Holes) && a.Hinge.Left.Radius == b.Hinge.Left.Radius
			require.False(t, same, "%s and %s are one hinge", a.id, b.id)
			name := b.id + " and " + a.id
			best := reconcile.Best([]measure.Result{b.result, a.result}, readings.Parse(typed[(i+j)%len(typed)]), nil)
			require.Equal(t, [][]int{{1}, {2}}, best.Apart, "%s: %+v", name, best.Disagreements)
			require.False(t, best.Height.Known() || best.OpenWidth.Known() || best.Thickness.Known(), name)
			require.Contains(t, best.Disagreements[0].Sentence, "two different hinges", name)
			for k, c := range all[:j] {
				best := reconcile.Best([]measure.Result{b.result, a.result, c.result}, readings.Parse(typed[(i+j+k)%len(typed)]), nil)
				require.Len(t, best.Apart, 3, "%s and %s", name, c.id)
				require.False(t, best.Height.Known(), name)
			}
		}
	}
}

// Overruled, they are combined all the same, and then no length leaves the range of what went into it.
func TestCombinedLengthsStayWithinWhatWasSeen(t *testing.T) {
	all := measured(t)
	typed := []string{"", "4 x 4, 0.13 thick", "3 1/2 x 3 1/2, 5/8 radius corners", "89 mm high, 2.2 mm thick", "4 x 4, .192 thick, barrel 0.45 in"}
	over := []string{"unknown:different_photos"}
	for i, a := range all {
		for j, b := range all[:i] {
			photos := []measure.Result{b.result, a.result}
			name := fmt.Sprintf("%s and %s", b.id, a.id)
			for _, text := range typed {
				best := reconcile.Best(photos, readings.Parse(text), over)
				require.Empty(t, best.Apart, name)
				within(t, name+", "+text, best)
			}
			if k := (i * j) % len(all); k != i && k != j {
				three := append(slices.Clone(photos), all[k].result)
				within(t, name+" and "+all[k].id, reconcile.Best(three, measure.Readings{}, over))
			}
		}
	}
}

// cropped is the picture without a strip at the left and top, as another shot of the same thing would be.
func cropped(img image.Image, by int) image.Image {
	src := img.(*image.YCbCr)
	r := src.Rect
	r.Min = r.Min.Add(image.Pt(by, by))
	return src.SubImage(r)
}

// One hinge seen twice is one hinge, and the same picture sent twice says no more than once.
func TestTheSamePictureCountsOnce(t *testing.T) {
	for _, s := range measured(t) {
		once := reconcile.Best([]measure.Result{s.result}, measure.Readings{}, nil)
		again := photo.Measure(s.img, measure.Options{}) // as a messenger leaves it: without camera notes
		if again.Status != measure.Measured {
			continue
		}
		best := reconcile.Best([]measure.Result{s.result, s.result, again}, measure.Readings{}, nil)
		require.Empty(t, best.Apart, s.id)
		require.Equal(t, once.Height, best.Height, s.id)
		require.Len(t, best.Notes, 2, s.id)
		require.Contains(t, best.Notes[0], "photo 2 is the same picture as photo 1", s.id)

		other := photo.Measure(cropped(s.img, 64), measure.Options{})
		if other.Status != measure.Measured {
			continue
		}
		two := reconcile.Best([]measure.Result{s.result, other}, measure.Readings{}, nil)
		require.Empty(t, two.Apart, "%s: %+v", s.id, two.Disagreements)
		require.Empty(t, two.Notes, s.id)
		within(t, s.id, two)
	}
}
