package photo_test

import (
	"image"
	"math"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/photo"

	"github.com/stretchr/testify/require"
)

// movedLengths gives by how many combined standard uncertainties each length has moved, of the
// ways that leaves and ends can be named with the one that agrees best; +Inf where a length is
// found in one of them only. It returns nil where they have not the same lengths.
func movedLengths(a, b *measure.Hinge) (moves []float64, names []named) {
	least := math.Inf(1)
	for way := range 4 {
		p, q := lengths(a, false, false), lengths(b, way&1 > 0, way&2 > 0)
		if len(p) != len(q) {
			return nil, nil
		}
		var sum float64
		list := make([]float64, len(p))
		for i := range p {
			list[i] = math.Inf(1)
			if p[i].Known() == q[i].Known() {
				list[i] = math.Abs(float64(p[i].Value-q[i].Value)) / math.Hypot(float64(p[i].Sigma), math.Max(1e-9, float64(q[i].Sigma)))
			}
			sum += math.Min(list[i]*list[i], 1e6)
		}
		if sum < least {
			least, moves, names = sum, list, p
		}
	}
	return moves, names
}

// Turning and mirroring change nothing that the photos show; halving their size and coding them
// anew at quality 80 give every edge another noise. All photos that are measured, but for the two
// that TestSizesStayWhenThePictureIsRemade looks at one by one; turned and mirrored by turns.
func TestSizesOfAllPhotosStay(t *testing.T) {
	if testing.Short() {
		t.Skip("left out: it measures a hundred pictures")
	}
	paths, err := filepath.Glob(filepath.Join("..", "..", "testdata", "photos", "*.jpg"))
	require.NoError(t, err)
	ways := []string{"as it is", "turned", "mirrored", "half", "quality 80"}
	type tally struct{ lengths, beyond, lost, refused, pictures int }
	tallies := make([]tally, len(ways))
	for nr, path := range paths {
		id := strings.TrimSuffix(filepath.Base(path), ".jpg")
		if id == "002" || id == "005" {
			continue
		}
		img, f35 := devPhoto(t, id)
		w, h := img.Rect.Dx(), img.Rect.Dy()
		pictures := []image.Image{img, nil, nil, halved(img), codedAnew(t, img, 80)}
		if nr%2 == 0 {
			pictures[1] = remade(img, h, w, 1, func(x, y int) (int, int) { return y, h - 1 - x })
		} else {
			pictures[2] = remade(img, w, h, 1, func(x, y int) (int, int) { return w - 1 - x, y })
		}
		results := make([]measure.Result, len(pictures))
		results[0] = photo.Measure(img, measure.Options{Focal35mm: f35})
		if results[0].Status != measure.Measured {
			continue // the photos that must be refused are refused elsewhere
		}
		var wg sync.WaitGroup
		for i, p := range pictures[1:] {
			if p != nil {
				wg.Go(func() { results[i+1] = photo.Measure(p, measure.Options{Focal35mm: f35}) })
			}
		}
		wg.Wait()
		for i, way := range ways[1:] {
			n, r := &tallies[i+1], results[i+1]
			if pictures[i+1] == nil {
				continue
			}
			n.pictures++
			if r.Status != measure.Measured {
				require.Equal(t, []measure.Reason{measure.TooSmall}, r.RetakeReasons, "photo %s, %s", id, way)
				require.Equal(t, "half", way, "photo %s", id)
				n.refused++
				continue
			}
			require.Equal(t, results[0].Hinge.Nominal.Size, r.Hinge.Nominal.Size, "photo %s, %s", id, way)
			require.Equal(t, results[0].Hinge.Knuckles, r.Hinge.Knuckles, "photo %s, %s", id, way)
			moves, names := movedLengths(results[0].Hinge, r.Hinge)
			require.NotNil(t, moves, "photo %s, %s: another number of leaves or holes", id, way)
			for k, m := range moves {
				n.lengths++
				switch {
				case math.IsInf(m, 1):
					n.lost++
					t.Logf("photo %s, %s: %s is found in one of them only", id, way, names[k].name)
				case m > 2.5:
					n.beyond++
					t.Logf("photo %s, %s: %s %v moved by %.1f combined u", id, way, names[k].name, names[k].Estimate, m)
				}
				if way == "turned" || way == "mirrored" {
					// Below 2 but for the bores of 014, which choose another edge together: 2.2.
					require.Less(t, m, 2.5, "photo %s, %s: %s", id, way, names[k].name)
				}
			}
		}
	}
	for i, way := range ways[1:] {
		n := tallies[i+1]
		t.Logf("%-10s %d pictures, %d refused as too small; %d lengths, %d moved by more than 2.5 combined u, %d lost",
			way, n.pictures, n.refused, n.lengths, n.beyond, n.lost)
		require.GreaterOrEqual(t, n.pictures, 7)
		require.LessOrEqual(t, n.refused, 1, way)
		// Of normal errors 1.2 % lie beyond 2.5.
		require.LessOrEqual(t, float64(n.beyond+n.lost), 0.04*float64(n.lengths), way)
	}
}
