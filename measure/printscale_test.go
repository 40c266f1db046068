package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// How a bar that was measured turns into a scale.
func TestPrintScale(t *testing.T) {
	require.Equal(t, Ratio{1, untoldScale}, PrintScale(Estimate{}))
	// 1/(0.3² + …): by hand, weights 1/0.003² and 1/0.005².
	told := PrintScale(Estimate{99.8, 0.3})
	require.InDelta(t, (0.998/9e-6+1/25e-6)/(1/9e-6+1/25e-6), told.Value, 1e-12)
	require.InDelta(t, 1/math.Sqrt(1/9e-6+1/25e-6), told.Sigma, 1e-12)
	fitted := PrintScale(Estimate{96, 0.4})
	require.Equal(t, Ratio{0.96, 0.004}, Ratio{math.Round(fitted.Value*1e9) / 1e9, math.Round(fitted.Sigma*1e9) / 1e9})
	// One print in five at 94…97 %: the mean square of what a print is off by.
	require.InDelta(t, math.Sqrt(0.2*0.045*0.045+0.8*PrinterSigma*PrinterSigma), untoldScale, 0.001)
}
