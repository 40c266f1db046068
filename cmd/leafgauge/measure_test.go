package main

import (
	"bytes"
	"context"
	"encoding/json"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

const photos = "../../testdata/photos/"

// command runs leafgauge and returns its exit status and what it printed.
func command(args ...string) (status int, out, errs string) {
	var o, e bytes.Buffer
	status = run(args, streams{ctx: context.Background(), stdin: strings.NewReader(""), out: &o, err: &e, getenv: func(string) string { return "" }})
	return status, o.String(), e.String()
}

func TestMeasurePrintsOneObjectAPhoto(t *testing.T) {
	status, out, errs := command("measure", "--json", photos+"016.jpg", "../../testdata/bad/cut_short.jpg")
	require.Empty(t, errs)
	require.Equal(t, exitRetake, status)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	require.Len(t, lines, 2)
	var good, bad map[string]any
	require.NoError(t, json.Unmarshal([]byte(lines[0]), &good))
	require.NoError(t, json.Unmarshal([]byte(lines[1]), &bad))

	image := good["image"].(map[string]any)
	require.Equal(t, 1600.0, image["width_px"])
	require.Equal(t, 1200.0, image["height_px"])
	timing := good["timing_ms"].(map[string]any)
	require.Greater(t, timing["decode"], 0.0)
	require.GreaterOrEqual(t, timing["total"], timing["decode"])

	require.Equal(t, "measured", good["status"])
	hinge := good["hinge"].(map[string]any)
	require.NotContains(t, hinge, "covariance")
	height := hinge["height"].(map[string]any)
	require.InDelta(t, 88.9, height["mm"], 0.5) // the truth beside the photo says 88.99
	require.Greater(t, height["u"], 0.0)

	require.Equal(t, "retake", bad["status"])
	require.Equal(t, []any{"unreadable"}, bad["retake_reasons"])
}

func TestMeasureKeepsTheCovarianceWhenAsked(t *testing.T) {
	status, out, errs := command("measure", "--json", "--covariance", "--thickness", "0.09in", photos+"016.jpg")
	require.Equal(t, exitOK, status, errs)
	var r measure.Result
	require.NoError(t, json.Unmarshal([]byte(out), &r))
	c := r.Hinge.Covariance
	require.NotNil(t, c)
	require.Len(t, c.MM2, len(c.Keys))
	at := slices.Index(c.Keys, "height")
	require.GreaterOrEqual(t, at, 0)
	u := r.Hinge.Height.Sigma.MM()
	require.InEpsilon(t, u*u, c.MM2[at][at], 0.01) // the diagonal is u²
}

func TestMeasureExitStatus(t *testing.T) {
	for _, c := range []struct {
		name   string
		want   int
		errs   string
		params []string
	}{
		{"a photo without a card is to be taken again", exitRetake, "", []string{photos + "019.jpg"}},
		{"a file that is not there", exitFailure, "no such file", []string{"no-such.jpg"}},
		{"one missing among others", exitFailure, "no such file", []string{"no-such.jpg", photos + "019.jpg"}},
		{"no photo", exitUsage, "photo", nil},
		{"a flag that is not known", exitUsage, "--colour", []string{"--colour", photos + "019.jpg"}},
		{"a thickness without unit", exitUsage, "0.086in", []string{"--thickness", "0.086", photos + "019.jpg"}},
		{"a thickness out of the question", exitUsage, "1 to 5 mm", []string{"--thickness", "86mm", photos + "019.jpg"}},
		{"a bar that no printer makes", exitUsage, "100 mm long at true size", []string{"--scale-bar", "10mm", photos + "019.jpg"}},
		{"one overlay for two photos", exitUsage, "one photo", []string{"--overlay", "x.png", photos + "019.jpg", photos + "020.jpg"}},
		{"an overlay of unknown format", exitUsage, ".png", []string{"--overlay", "x.tga", photos + "019.jpg"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, _, errs := command(append([]string{"measure"}, c.params...)...)
			require.Equal(t, c.want, status, errs)
			require.Contains(t, errs, c.errs)
		})
	}
}

func TestMeasureSaysInWordsWhatToDo(t *testing.T) {
	status, out, _ := command("measure", "../../testdata/bad/not_a_picture.jpg")
	require.Equal(t, exitRetake, status)
	require.Contains(t, out, measure.Unreadable.Advice())
}

func TestMeasureWritesTheOverlay(t *testing.T) {
	file := filepath.Join(t.TempDir(), "seen.png")
	_, _, errs := command("measure", "--overlay", file, photos+"016.jpg")
	require.Empty(t, errs)
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	require.Equal(t, 1600, img.Bounds().Dx())
	require.GreaterOrEqual(t, img.Bounds().Dy(), 1200)
}

func TestCaliperLength(t *testing.T) {
	// By hand, 25.4 mm to the inch.
	for text, want := range map[string]float64{"0.086in": 2.1844, `.086"`: 2.1844, "86 thou": 2.1844, "2.2mm": 2.2, "2.2 MM": 2.2, "0.123 inch": 3.1242} {
		got, err := caliperLength(text)
		require.NoError(t, err, text)
		require.InDelta(t, want, got.Value.MM(), 1e-9, text)
		require.True(t, got.Known())
	}
	for _, text := range []string{"", "in", "2.2", "-2mm", "NaNmm", "infmm", "86mm", "two mm", "1/8in"} {
		_, err := caliperLength(text)
		require.Error(t, err, text)
	}
}

func TestPrintResultGivesBothUnits(t *testing.T) {
	var b bytes.Buffer
	e := func(mm, u measure.Length) measure.Estimate { return measure.Estimate{Value: mm, Sigma: u} }
	require.NoError(t, printResult(&b, "a.jpg", measure.Result{Status: measure.Measured, Hinge: &measure.Hinge{
		Height: e(88.9, 0.05), OpenWidth: e(88.5, 0.1), Knuckles: 5, Bearing: measure.PlainBearing,
		Nominal: measure.Nominal{Size: "3 1/2 x 3 1/2", P: 0.98},
		Leaves:  []measure.Leaf{{CornerRadius: e(6.35, 0.1), Corners: measure.CornersQuarter}, {Corners: measure.CornersSquare, CornerRadius: e(0, 0.2)}},
	}}))
	for _, s := range []string{"3 1/2 x 3 1/2 in (98 %)", "5 knuckles, plain bearing", "3.500", "3 1/2", "88.90", "0.10", "1/4", "square"} {
		require.Contains(t, b.String(), s)
	}
}
