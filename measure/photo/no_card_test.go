package photo

import (
	"path/filepath"
	"testing"

	"leafgauge/internal/scene"
	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// Photographs that hold no ID-1 card must not be measured: a chessboard, discs, and a white
// sheet on wood that is a clean rectangle of another shape.
func TestRealPhotosWithoutCard(t *testing.T) {
	for set, s := range map[string]struct {
		names []string
		want  []measure.Reason
	}{
		"grids-compact": {[]string{"chess-01", "chess-desk-01", "circles-00", "circles-04"}, []measure.Reason{measure.CardMissing}},
		"charuco-table": {[]string{"charuco-00", "charuco-01", "charuco-02", "charuco-03"}, []measure.Reason{measure.CardMissing, measure.CardWrongSize}},
	} {
		dir, ok := scene.RealPhotos(t, set)
		if !ok {
			continue
		}
		for _, name := range s.names {
			r := Measure(scene.ReadPicture(t, filepath.Join(dir, name+".jpg")), measure.Options{})
			require.Equal(t, measure.Retake, r.Status, name)
			require.Nil(t, r.Card, name)
			require.Nil(t, r.Hinge, name)
			require.Len(t, r.RetakeReasons, 1, name)
			require.Contains(t, s.want, r.RetakeReasons[0], name)
		}
	}
}
