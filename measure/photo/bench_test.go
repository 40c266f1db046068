package photo_test

import (
	"os"
	"testing"

	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/measure/photo"

	"github.com/stretchr/testify/require"
)

// BenchmarkPhoto times the measuring of decoded pictures of 12 and 5 megapixels.
func BenchmarkPhoto(b *testing.B) {
	for _, name := range []string{"001", "017", "005"} {
		b.Run(name, func(b *testing.B) {
			data, err := os.ReadFile("../../testdata/photos/" + name + ".jpg")
			require.NoError(b, err)
			p, err := intake.Admit(name, data)
			require.NoError(b, err)
			img, err := intake.Decode(p)
			require.NoError(b, err)
			b.ReportAllocs()
			for b.Loop() {
				photo.Measure(img, measure.Options{Focal35mm: p.Focal35mm})
			}
		})
	}
}
