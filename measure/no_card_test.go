package measure

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Photographs that hold no ID-1 card must not be measured: a chessboard, discs, and a white
// sheet on wood that is a clean rectangle of another shape.
func TestRealPhotosWithoutCard(t *testing.T) {
	for set, s := range map[string]struct {
		names []string
		want  []Reason
	}{
		"grids-compact": {[]string{"chess-01", "chess-desk-01", "circles-00", "circles-04"}, []Reason{CardMissing}},
		"charuco-table": {[]string{"charuco-00", "charuco-01", "charuco-02", "charuco-03"}, []Reason{CardMissing, CardWrongSize}},
	} {
		dir, ok := realPhotos(t, set)
		if !ok {
			continue
		}
		for _, name := range s.names {
			r := Photo(readPicture(t, filepath.Join(dir, name+".jpg")), Options{})
			require.Equal(t, Retake, r.Status, name)
			require.Nil(t, r.Card, name)
			require.Nil(t, r.Hinge, name)
			require.Len(t, r.RetakeReasons, 1, name)
			require.Contains(t, s.want, r.RetakeReasons[0], name)
		}
	}
}
