package measure

import (
	"encoding/json"
	"fmt"
	"image"
	_ "image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source: ISO/IEC 7810 (as reproduced by public summaries of the standard): ID-1 is nominally
// 85.60 × 53.98 mm (3.370 × 2.125 in) with corners of 3.18 mm (2.88 … 3.48) and 0.76 mm thick
// (0.68 … 0.84). The limits of unused cards, 85.47 … 85.72 and 53.92 … 54.03 mm: clause 5,
// from memory.
func TestCardIsID1(t *testing.T) {
	require.Equal(t, 85.60, cardLong)
	require.Equal(t, 53.98, cardShort)
	require.Equal(t, 3.18, cardRadius)
	require.Equal(t, 0.76, cardThickness)
	// Between limits with what is usual in the middle, the standard uncertainty is their width
	// over √24 (triangular, JCGM 100, 4.3.9).
	require.InDelta(t, (85.72-85.47)/math.Sqrt(24), cardLongSigma, 0.0005)
	require.InDelta(t, (54.03-53.92)/math.Sqrt(24), cardShortSigma, 0.0005)
}

// The things most like an ID-1 card must lie outside of what its own tolerances allow:
// 85 × 55 mm is the nearest (European business card; common practice, no source).
func TestNothingElseIsAsLongAsID1(t *testing.T) {
	ratio := cardLong / cardShort
	u := ratio * math.Hypot(cardLongSigma/cardLong, cardShortSigma/cardShort)
	for name, r := range map[string]float64{
		"European business card": 85.0 / 55, "US business card": 88.9 / 50.8, "Japanese business card": 91.0 / 55, "A8 sheet": 74.0 / 52,
	} {
		require.Greater(t, math.Abs(r-ratio)/u, 10.0, name)
	}
}

// A router bit of 1/2 in diameter leaves corners of 1/4 in, one of 1 1/4 in corners of 5/8 in
// (common practice, no source): the classes are told apart at a typical uncertainty, and
// what lies between is neither.
func TestCornersOfRouterBits(t *testing.T) {
	fit := func(r float64) *hingeFit {
		h := &hingeFit{p: make([]float64, pCount), cov: make([]float64, pCount*pCount)}
		for k := range 4 {
			h.p[pRadius0+k], h.radius0[k] = r, r
			h.cov[(pRadius0+k)*pCount+pRadius0+k] = 0.15 * 0.15
		}
		return h
	}
	for _, s := range []struct {
		radius Length
		want   Corners
	}{
		{Inch / 2 / 2, CornersQuarter},
		{1.25 * Inch / 2, CornersFiveEighths},
		{Inch / 2 / 2 * 1.05, CornersQuarter},
		{3.0 / 8 * Inch, CornersOther},
		{0, CornersSquare},
	} {
		for leaf := range 2 {
			require.Equal(t, s.want, fit(s.radius.MM()).corners(leaf), s.radius)
		}
	}
	h := fit(6.35)
	h.p[pRadius1], h.radius0[1] = 0, 0
	require.Equal(t, CornersMixed, h.corners(0))
	require.Equal(t, CornersQuarter, h.corners(1))
}

// realPhotos is where photographs with known geometry, made by others, may lie beside the
// project. Checks that read them are left out where they do not.
func realPhotos(t *testing.T, set string) (dir string, ok bool) {
	dir = filepath.Join("..", "..", "shared", "real", set)
	if _, err := os.Stat(filepath.Join(dir, "reference.json")); err != nil {
		t.Logf("the photographs of %s are not here: their checks were left out", set)
		return "", false
	}
	return dir, true
}

func readReference(t *testing.T, dir string, into any) {
	b, err := os.ReadFile(filepath.Join(dir, "reference.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

func readPicture(t *testing.T, path string) image.Image {
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	img, _, err := image.Decode(file)
	require.NoError(t, err)
	return img
}

// A boardPicture is a grid of known squares in one picture, with what OpenCV made of it.
type boardPicture struct {
	Camera  string
	Corners [][2]float64 `json:"corners_px"`
	Tilt    float64      `json:"tilt_deg"`
	Raw     struct {
		All  float64 `json:"all_corners_rms_sq"`
		Four float64 `json:"four_corners_rms_sq"`
	}
}

type boardReference struct {
	Cameras map[string]struct {
		K1Only struct {
			F    float64    `json:"fx"`
			Cx   float64    `json:"cx"`
			Cy   float64    `json:"cy"`
			Dist [5]float64 `json:"dist_k1_k2_p1_p2_k3"`
			RMS  float64    `json:"rms_px"`
		} `json:"k1_only"`
	}
	Images map[string]boardPicture
	Inner  [2]int `json:"inner_corners"`
}

// Sources: OpenCV 4.6.0's own chessboard photographs (Apache-2.0), their corners found and
// their homographies fitted by OpenCV; and photographs © Peter Abeles (CC BY 4.0), treated
// alike.
func TestHomographyOnRealBoards(t *testing.T) {
	for _, set := range []string{"chessboard-stereo", "grids-compact"} {
		dir, ok := realPhotos(t, set)
		if !ok {
			continue
		}
		var ref boardReference
		readReference(t, dir, &ref)
		require.NotEmpty(t, ref.Images)
		nx := ref.Inner[0]
		for name, p := range ref.Images {
			var at [][2]float64
			var board []Pixel
			for i, c := range p.Corners {
				at, board = append(at, c), append(board, Pixel{float64(i % nx), float64(i / nx)})
			}
			rms := func(of []int) float64 {
				var a [][2]float64
				var b []Pixel
				for _, i := range of {
					a, b = append(a, at[i]), append(b, board[i])
				}
				h, err := homography(a, b)
				require.NoError(t, err)
				var sum float64
				for i := range at {
					d := distance(board[i], mapped(h, at[i][0], at[i][1]))
					sum += d * d
				}
				return math.Sqrt(sum / float64(len(at)))
			}
			all := make([]int, len(at))
			for i := range all {
				all[i] = i
			}
			n := len(at)
			// Corners are stored to 0.01 px, some 0.0005 squares.
			require.InDelta(t, p.Raw.Four, rms([]int{0, nx - 1, n - nx, n - 1}), 0.001, "%s %s, four corners, squares", set, name)
			require.InDelta(t, p.Raw.All, rms(all), 0.02*p.Raw.All+0.0005, "%s %s, all corners, squares", set, name)
		}
	}
}

// calibrate fits focal length, K1, principal point and every pose to the pictures of one
// camera, with this package's own projection and least squares (Zhang, PAMI 2000). Lengths
// in squares.
func calibrate(t *testing.T, pictures [][]Pixel, board []vec3, w, h float64) (cam camera, cams []camera, rms float64) {
	var start []camera
	var focals []float64
	homographies := make([]mat3, len(pictures))
	for i, p := range pictures {
		var pts [][2]float64
		for _, b := range board {
			pts = append(pts, [2]float64{b[0], b[1]})
		}
		var err error
		homographies[i], err = homography(pts, p)
		require.NoError(t, err)
		if f := focalFromHomography(homographies[i], w/2, h/2); f > 0 {
			focals = append(focals, f)
		}
	}
	f := medianOf(focals)
	for i := range pictures {
		start = append(start, poseFromHomography(homographies[i], f, w/2, h/2, 0))
	}
	at := func(p []float64, i int) camera {
		q := p[4+6*i:]
		c := start[i]
		c.F, c.K1, c.Cx, c.Cy = f*math.Exp(p[0]), p[1], w/2+p[2], h/2+p[3]
		c.R = rotation(vec3{q[0], q[1], q[2]}).times(start[i].R)
		c.T = start[i].T.add(vec3{q[3], q[4], q[5]})
		return c
	}
	p := make([]float64, 4+6*len(pictures))
	step := make([]float64, len(p))
	for i := range step {
		step[i] = 1e-6
	}
	step[2], step[3] = 1e-4, 1e-4
	_, rms, ok := leastSquares{step: step, rounds: 60, residuals: func(p, r []float64) []float64 {
		for i := range pictures {
			c := at(p, i)
			for k, b := range board {
				q := c.project(b)
				r = append(r, q.X-pictures[i][k].X, q.Y-pictures[i][k].Y)
			}
		}
		return r
	}}.solve(p)
	require.True(t, ok)
	for i := range pictures {
		cams = append(cams, at(p, i))
	}
	return cams[0], cams, rms * math.Sqrt2 // of the distances, as OpenCV gives it
}

// The lens model against OpenCV's calibration of the same corners with K1 alone.
func TestLensOfRealCameras(t *testing.T) {
	for set, names := range map[string][]string{"chessboard-stereo": {"left", "right"}, "grids-compact": {"chess"}} {
		dir, ok := realPhotos(t, set)
		if !ok {
			continue
		}
		var ref boardReference
		readReference(t, dir, &ref)
		var board []vec3
		for j := range ref.Inner[1] {
			for i := range ref.Inner[0] {
				// The board's y runs down the picture: turned over, so that z points to the eye.
				board = append(board, vec3{float64(i), -float64(j), 0})
			}
		}
		for _, camera := range names {
			var pictures [][]Pixel
			for k := range 40 {
				for _, pattern := range []string{camera + "%02d.jpg", camera + "-%02d.jpg"} {
					p, ok := ref.Images[fmt.Sprintf(pattern, k)]
					if !ok {
						continue
					}
					var px []Pixel
					for _, c := range p.Corners {
						px = append(px, Pixel{c[0], c[1]})
					}
					pictures = append(pictures, px)
				}
			}
			require.Greater(t, len(pictures), 10, camera)
			want := ref.Cameras[camera].K1Only
			got, _, rms := calibrate(t, pictures, board, 640, 480)
			t.Logf("%s %s: f %.2f (%.2f), k1 %.4f (%.4f), middle %.1f %.1f (%.1f %.1f), rms %.4f (%.4f) px",
				set, camera, got.F, want.F, got.K1, want.Dist[0], got.Cx, got.Cy, want.Cx, want.Cy, rms, want.RMS)
			require.InDelta(t, want.F, got.F, 1, "px")
			require.InDelta(t, want.Dist[0], got.K1, 0.003)
			require.InDelta(t, want.RMS, rms, 0.01, "px")
		}
	}
}

// ellipseMiddle is the middle of the picture of a circle (without lens distortion): that of
// the dual conic H·diag(r², r², −1)·Hᵀ moved to the circle's centre (Hartley and Zisserman,
// "Multiple view geometry", 2.2 and 8.2; the middle is the pole of the line at infinity).
func ellipseMiddle(c *camera, centre, u, v vec3, r float64) Pixel {
	column := func(x vec3) vec3 {
		y := c.R.apply(x)
		return vec3{c.F*y[0] + c.Cx*y[2], c.F*y[1] + c.Cy*y[2], y[2]}
	}
	a, b, o := column(u), column(v), column(centre)
	t := vec3{c.F*c.T[0] + c.Cx*c.T[2], c.F*c.T[1] + c.Cy*c.T[2], c.T[2]}
	o = o.add(t)
	d := func(i, j int) float64 { return r*r*(a[i]*a[j]+b[i]*b[j]) - o[i]*o[j] }
	return Pixel{d(0, 2) / d(2, 2), d(1, 2) / d(2, 2)}
}

// discBoard gives the discs' middles, 25 mm apart, columns by rows, mm.
func discBoard(grid [2]int) (board []vec3) {
	for j := range grid[1] {
		for i := range grid[0] {
			board = append(board, vec3{25 * float64(i), 25 * float64(j), 0})
		}
	}
	return board
}

// Source: photographs of discs of 15 mm at a pitch of 25 mm, © Peter Abeles (CC BY 4.0): how
// far the middle of a disc's picture lies from the picture of its middle, by OpenCV's
// calibration. The discs' places alone must give the same here.
func TestMiddleOfRealDiscs(t *testing.T) {
	dir, ok := realPhotos(t, "grids-compact")
	if !ok {
		return
	}
	var ref struct {
		Circles struct {
			Camera struct {
				F float64 `json:"fx"`
			}
			Grid   [2]int
			Images map[string]struct {
				Centres [][2]float64 `json:"centres_px"`
				Apart   float64      `json:"ellipse_middle_minus_true_px_max"`
			}
		}
	}
	readReference(t, dir, &ref)
	board := discBoard(ref.Circles.Grid)
	// The pictures' grids run either way round: only one way is a plane seen from above.
	var pictures [][]Pixel
	var apart []float64
	for k := range 6 {
		p := ref.Circles.Images[fmt.Sprintf("circles-%02d.jpg", k)]
		require.Len(t, p.Centres, len(board))
		var px []Pixel
		for _, c := range p.Centres {
			px = append(px, Pixel{c[0], c[1]})
		}
		pictures, apart = append(pictures, px), append(apart, p.Apart)
	}
	cam, cams, rms := calibrate(t, pictures, board, 640, 480)
	t.Logf("f %.1f px (%.1f), rms %.3f px", cam.F, ref.Circles.Camera.F, rms)
	require.InEpsilon(t, ref.Circles.Camera.F, cam.F, 0.01)
	for k := range cams {
		c := cams[k]
		c.K1 = 0 // it bends by far less than a disc is wide
		most := 0.0
		for _, b := range board {
			most = math.Max(most, distance(c.project(b), ellipseMiddle(&c, b, vec3{1, 0, 0}, vec3{0, 1, 0}, 7.5)))
		}
		t.Logf("picture %d: %.3f px (%.3f)", k, most, apart[k])
		require.InDelta(t, apart[k], most, 0.03, "px, picture %d", k)
	}
}

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

// A countersunk hole drawn by tracing rays, seen aslant from near: the place found is the
// circle's centre, not its picture's middle, which lies visibly beside it.
func TestHoleSeenAslant(t *testing.T) {
	const (
		w, h      = 1600, 1200
		thickness = 3.4
		rim, bore = 11.13, 5.5 // No. 12 flat head (ASME B18.6.1), clearance (common practice, no source)
	)
	centres := [][2]float64{{12, 12.5}, {26, 40}, {12, 67.5}}
	face := leafFace{o: vec3{-40, -22, thickness}, u: vec3{0, 1, 0}, v: vec3{1, 0, 0}, n: vec3{0, 0, 1}, width: 44, height: 80}
	for i, azimuth := range []float64{20, 110, 230} {
		cam := lookAt(w, h, 26, 8, 30, azimuth, 15, 5, -3)
		eye := cam.eye()
		light := func(x, y float64) vec3 {
			// From the drawing's plane along the line of sight to a depth below the face.
			at := func(depth float64) (fromEdge, fromEnd float64) {
				s := (eye[2] - thickness + depth) / (eye[2] - cardThickness)
				return eye[1] + s*(y-eye[1]) - face.o[1], eye[0] + s*(x-eye[0]) - face.o[0]
			}
			e, n := at(0)
			if e < 0 || e > face.width || n < 0 || n > face.height {
				return vec3{0.6, 0.58, 0.55}
			}
			for _, c := range centres {
				if math.Hypot(e-c[0], n-c[1]) > rim/2 {
					continue
				}
				depth := (rim - bore) / 2 / countersinkTan
				if be, bn := at(depth); math.Hypot(be-c[0], bn-c[1]) < bore/2 {
					return vec3{0.02, 0.02, 0.02}
				}
				v := 0.16 + 0.05*math.Sin(math.Atan2(e-c[0], n-c[1]))
				return vec3{v, v, v}
			}
			return vec3{0.33, 0.32, 0.3}
		}
		img := drawnScene{w, h, cam, 2, light}.draw(uint64(i))
		got := findHoles(newFrame(img), &cam, []leafFace{face})
		require.Len(t, got, 1)
		require.Len(t, got[0], len(centres))
		for k, c := range centres {
			g := got[0][k]
			x := face.at(c[0], c[1])
			e, n := face.place(&cam, ellipseMiddle(&cam, x, face.u, face.v, rim/2))
			naive := math.Hypot(e-c[0], n-c[1])
			off := math.Hypot(g.fromEdge-c[0], g.fromEnd-c[1])
			t.Logf("azimuth %3.0f hole %d: off by %.3f ± %.3f mm, the picture's middle by %.3f; rim %+.3f ± %.3f, bore %+.3f ± %.3f",
				azimuth, k, off, g.sigmaPlace, naive, g.rim-rim, g.sigmaRim, g.bore-bore, g.sigmaBore)
			require.Less(t, off, 0.02, "mm")
			require.Greater(t, naive, 3*off)
			require.InDelta(t, rim, g.rim, 0.08, "mm")
			require.InDelta(t, bore, g.bore, 0.15, "mm")
		}
	}
}
