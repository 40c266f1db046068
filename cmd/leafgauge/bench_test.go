package main

import (
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

func TestBenchTimesEachStep(t *testing.T) {
	status, out, errs := command("bench", "--runs", "1", photos+"016.jpg", photos+"019.jpg")
	require.Equal(t, exitOK, status, errs)
	for _, s := range []string{"016.jpg", "019.jpg", "1.9", "decode", "median", "processors"} {
		require.Contains(t, out, s)
	}
	status, _, _ = command("bench", "--runs", "0", photos+"016.jpg")
	require.Equal(t, exitUsage, status)
	status, _, _ = command("bench", "no-such.jpg")
	require.Equal(t, exitFailure, status)
}

func TestMedianTiming(t *testing.T) {
	got := medianTiming([]measure.Timing{{Decode: 3, Total: 10}, {Decode: 1, Total: 30}, {Decode: 2, Total: 20}})
	require.Equal(t, measure.Timing{Decode: 2, Total: 20}, got)
}
