package catalog

import (
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/measure/photo"
	"leafgauge/measure/reconcile"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// measurePhotos measures the photo of every truth, as a customer's would be, side by side.
func measurePhotos(t *testing.T, all []truth) []measure.Result {
	t.Helper()
	out := make([]measure.Result, len(all))
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.NumCPU())
	for i, tr := range all {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			name := filepath.Join("../testdata/photos", tr.ID+".jpg")
			data, err := os.ReadFile(name)
			if !assert.NoError(t, err) {
				return
			}
			p, img, err := intake.Open(filepath.Base(name), data)
			if !assert.NoError(t, err, name) {
				return
			}
			out[i] = photo.Measure(img, measure.Options{Focal35mm: p.Focal35mm})
		})
	}
	wg.Wait()
	return out
}

// Every photo with known truth is measured and ranked against the demo shelf and against a
// shelf of 5,000 with near twins 1/32 in apart, with nothing typed and with the leaf's
// thickness from a caliper. The right hinge comes first, or the one question is asked; a wrong
// one is never said to drop in with SureEnough or more.
// Source of the truth: see testdata/photos/README.md.
func TestPhotosFindTheirHinge(t *testing.T) {
	var all []truth
	for _, tr := range truths(t) {
		if tr.Expect == "measured" {
			all = append(all, tr)
		}
	}
	require.NotEmpty(t, all)
	results := measurePhotos(t, all)
	shelves := []struct {
		name  string
		stock []Item
	}{{"demo shelf", demoStock(t)}, {"5,000 with near twins", twins(t, 5000)}}
	for _, shelf := range shelves {
		first, sure, asked, n := 0, 0, 0, 0
		for i, tr := range all {
			if !assert.Equal(t, measure.Measured, results[i].Status, tr.ID) {
				continue
			}
			for _, typed := range []bool{false, true} {
				var said measure.Readings
				if typed {
					v := measure.Length(tr.Hinge.Thickness)
					said.Readings = []measure.Reading{{Quantity: measure.QThickness, Value: &v, U: 0.03}}
				}
				best := reconcile.Best(results[i:i+1], said, nil)
				fits := Rank(best, shelf.stock, Door{}, Wishes{})
				if !assert.NotEmpty(t, fits, tr.ID) {
					continue
				}
				f := fits[0]
				question := Ask(best, fits, Door{})
				right := tr.right(&f.Item)
				q := ""
				if question != nil {
					q = "asks for " + string(question.Quantity)
				}
				t.Logf("%s, %s, thickness typed %-5v: right %-5v %s %s %.2f, drops in %.2f %s", shelf.name, tr.ID, typed, right, f.Item.StockNumber, f.Verdict, f.P, f.PDropsIn, q)
				n++
				if right {
					first++
				}
				if f.PDropsIn >= SureEnough {
					sure++
					assert.True(t, tr.fits(&f.Item), "%s, %s: a wrong hinge is said to drop in with %.2f: %s %s", shelf.name, tr.ID, f.PDropsIn, f.Item.StockNumber, f.Item.Name)
				}
				if question != nil {
					asked++
				}
				assert.True(t, tr.fits(&f.Item) || question != nil, "%s, %s: a wrong hinge, and nothing is asked", shelf.name, tr.ID)
			}
		}
		// Asking every time would never be wrong either.
		assert.Greater(t, sure, n*3/5, shelf.name)
		assert.Less(t, asked, n*2/5, shelf.name)
		t.Logf("%s: of %d proposals the right hinge is first in %d; %d are sure to drop in, %d ask", shelf.name, n, first, sure, asked)
	}
}
