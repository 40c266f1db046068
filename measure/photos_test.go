package measure_test

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"leafgauge/intake"
	"leafgauge/internal/truth"
	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// measureTruth measures one of the photos with known truth, with the thickness typed as a
// caliper would give it where typed is set.
func measureTruth(t *testing.T, tr truth.Truth, typed bool) measure.Result {
	t.Helper()
	data, err := os.ReadFile(tr.Photo)
	require.NoError(t, err)
	p, err := intake.Admit(filepath.Base(tr.Photo), data)
	require.NoError(t, err)
	img, err := intake.Decode(p)
	require.NoError(t, err)
	opt := measure.Options{Focal35mm: p.Focal35mm}
	if typed {
		// The true thickness with a caliper's uncertainty, burrs and paint included.
		opt.Thickness = measure.Estimate{Value: measure.Length(tr.Hinge.Thickness), Sigma: 0.03}
	}
	return measure.Photo(img, opt)
}

// measureAll measures all the photos, side by side.
func measureAll(t *testing.T, typed bool) []truth.Errors {
	t.Helper()
	all, err := truth.All("../testdata/photos")
	require.NoError(t, err)
	if only := os.Getenv("PHOTOS"); only != "" {
		all = slices.DeleteFunc(all, func(tr truth.Truth) bool { return !strings.Contains(only, tr.ID) })
	}
	scores := make([]truth.Errors, len(all))
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.NumCPU())
	for i, tr := range all {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			s, err := truth.Score(tr, measureTruth(t, tr, typed))
			if err != nil {
				t.Errorf("%s: %v", tr.ID, err)
			}
			scores[i] = s
		})
	}
	wg.Wait()
	return scores
}

// TestPhotos measures every photo with known truth and prints the table of errors.
// Source of the truth: the photos are drawn from exact models, see testdata/photos/README.md.
func TestPhotos(t *testing.T) {
	for _, typed := range []bool{false, true} {
		scores := measureAll(t, typed)
		fmt.Printf("thickness typed: %v\n%s\n", typed, truth.Table(scores))
		for _, s := range scores {
			if testing.Verbose() && s.Measured {
				fmt.Print(s.ID)
				for _, e := range s.List {
					switch e.Class {
					case truth.Height, truth.OpenWidth, truth.LeafWidth, truth.Barrel, truth.Radius:
						fmt.Printf("  %s %+.3f ± %.3f", e.Class, e.Err, e.U)
					}
				}
				fmt.Println()
			}
		}
	}
}
