package measure

import (
	"encoding/json"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"
)

// projectRoot is the folder of go.mod.
func projectRoot(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	require.NoError(t, err)
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		require.NotEqual(t, dir, filepath.Dir(dir), "no go.mod above the test")
		dir = filepath.Dir(dir)
	}
}

// A holeScene is a photo of testdata/photos with the camera and the faces of its truth.
type holeScene struct {
	id, level string
	f         *frame
	cam       camera
	faces     []leafFace
	holes     [][][2]float64
	bore, rim float64
	barrel    float64
	thickness float64
	knuckles  int
	bearing   Bearing
	tips      bool
	pattern   Pattern
	finish    string
	focal35   float64 // by EXIF, mm; 0 where there is none
}

type placedPoint struct {
	Leaf  string     `json:"leaf"`
	At    [2]float64 `json:"at"`
	World vec3       `json:"world_mm"`
	Px    Pixel      `json:"px"`
}

// loadScene reads photo id; it fails the test where the photo cannot be read and returns
// false for photos that are to be refused.
func loadScene(t testing.TB, id string) (holeScene, bool) {
	t.Helper()
	return loadSceneOf(t, filepath.Join(projectRoot(t), "testdata", "photos"), id)
}

func loadSceneOf(t testing.TB, dir, id string) (holeScene, bool) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, id+".json"))
	require.NoError(t, err)
	var truth struct {
		Level, Expect string
		Image         struct {
			Focal float64 `json:"focal_px_upright"`
		}
		Hinge struct {
			Height, Thickness float64
			OpenWidth         float64 `json:"open_width"`
			Barrel            float64 `json:"barrel_diameter"`
			Hole              float64 `json:"hole_diameter"`
			Rim               float64 `json:"countersink_diameter"`
			Knuckles, Leaves  int
			Bearing           Bearing
			Tips              bool
			Pattern           Pattern
			Finish            string
			Left, Right       struct {
				Radius float64
				Holes  [][2]float64
			}
		}
		Camera struct {
			K1            float64
			Focal35       float64 `json:"focal_35mm"`
			Eye, Look_At  vec3
			Width, Height int
		}
		Finish struct {
			Exif        bool
			Orientation int
		} `json:"finish_steps"`
		Points struct {
			Holes, Corners, Card []placedPoint
		} `json:"points_px_upright"`
	}
	require.NoError(t, json.Unmarshal(b, &truth))
	if truth.Expect != "measured" {
		return holeScene{}, false
	}
	h := truth.Hinge
	s := holeScene{id: id, level: truth.Level, bore: h.Hole, rim: h.Rim, barrel: h.Barrel, thickness: h.Thickness,
		knuckles: h.Knuckles, bearing: h.Bearing, tips: h.Tips, pattern: h.Pattern, finish: h.Finish}
	if truth.Finish.Exif {
		s.focal35 = truth.Camera.Focal35
	}
	s.f = uprightFrame(t, filepath.Join(dir, id+".jpg"), truth.Finish.Orientation)
	all := append(append(append([]placedPoint(nil), truth.Points.Holes...), truth.Points.Corners...), truth.Points.Card...)
	var rms float64
	s.cam, rms = poseOf(all, truth.Image.Focal, truth.Camera.K1, truth.Camera.Eye, truth.Camera.Look_At, s.f)
	require.Less(t, rms, 0.2, "photo %s: the truth's own points do not fit a camera", id)
	for i, leaf := range []string{"left", "right"} {
		if i >= h.Leaves {
			break
		}
		var c [2]vec3
		for _, p := range truth.Points.Corners {
			if p.Leaf == leaf && p.At == [2]float64{0, 0} {
				c[0] = p.World
			} else if p.Leaf == leaf && p.At[0] == 0 {
				c[1] = p.World
			}
		}
		face := leafFace{o: c[0], v: c[1].sub(c[0]).unit(), width: h.OpenWidth / 2, height: h.Height}
		var u vec3
		for _, p := range truth.Points.Holes {
			if p.Leaf == leaf {
				u = u.add(p.World.sub(face.o).sub(face.v.mul(p.At[1])))
			}
		}
		face.u = u.sub(face.v.mul(u.dot(face.v))).unit()
		face.n = face.u.cross(face.v)
		if face.n[2] < 0 {
			face.n = face.n.mul(-1)
		}
		leafTruth := h.Left
		if i == 1 {
			leafTruth = h.Right
		}
		face.radius = [2]float64{leafTruth.Radius, leafTruth.Radius}
		s.faces = append(s.faces, face)
		s.holes = append(s.holes, leafTruth.Holes)
	}
	return s, true
}

// poseOf solves the pose of a camera of known lens from places whose pictures are known.
func poseOf(pts []placedPoint, f, k1 float64, eye, look vec3, fr *frame) (camera, float64) {
	forward := look.sub(eye).unit()
	best, bestRMS := camera{}, math.Inf(1)
	for k := range 8 {
		side := vec3{1, 0, 0}
		if math.Abs(forward[0]) > 0.9 {
			side = vec3{0, 1, 0}
		}
		right := side.sub(forward.mul(side.dot(forward))).unit()
		down := forward.cross(right)
		a := float64(k) * math.Pi / 4
		x := right.mul(math.Cos(a)).add(down.mul(math.Sin(a)))
		r0 := mat3{x, forward.cross(x), forward}
		at := func(p []float64) camera {
			r := rotation(vec3{p[0], p[1], p[2]}).times(r0)
			return camera{F: f, K1: k1, Cx: float64(fr.w) / 2, Cy: float64(fr.h) / 2, R: r,
				T: r.apply(eye.add(vec3{p[3], p[4], p[5]})).mul(-1)}
		}
		q := leastSquares{step: []float64{1e-6, 1e-6, 1e-6, 1e-4, 1e-4, 1e-4}, rounds: 60,
			residuals: func(p, r []float64) []float64 {
				c := at(p)
				for _, pt := range pts {
					px := c.project(pt.World)
					r = append(r, px.X-pt.Px.X, px.Y-pt.Px.Y)
				}
				return r
			}}
		p := make([]float64, 6)
		if _, rms, ok := q.solve(p); ok && rms < bestRMS {
			best, bestRMS = at(p), rms
		}
	}
	return best, bestRMS
}

// uprightFrame decodes a photo and turns its planes upright after its EXIF orientation.
func uprightFrame(t testing.TB, path string, orientation int) *frame {
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	img, err := jpeg.Decode(file)
	require.NoError(t, err)
	p, ok := img.(*image.YCbCr)
	require.True(t, ok, "a colour JPEG")
	turn := func(a []uint8, stride, w, h int) ([]uint8, int) {
		ow, oh := w, h
		if orientation >= 5 {
			ow, oh = h, w
		}
		out := make([]uint8, ow*oh)
		for y := range oh {
			for x := range ow {
				sx, sy := x, y
				switch orientation {
				case 3:
					sx, sy = w-1-x, h-1-y
				case 6:
					sx, sy = y, h-1-x
				case 8:
					sx, sy = w-1-y, x
				}
				out[y*ow+x] = a[sy*stride+sx]
			}
		}
		return out, ow
	}
	require.Contains(t, []int{1, 3, 6, 8}, orientation)
	w, h := p.Rect.Dx(), p.Rect.Dy()
	up := &image.YCbCr{Rect: image.Rect(0, 0, w, h), SubsampleRatio: p.SubsampleRatio}
	cw, ch := w, h
	switch p.SubsampleRatio {
	case image.YCbCrSubsampleRatio420:
		cw, ch = (w+1)/2, (h+1)/2
	case image.YCbCrSubsampleRatio422:
		cw = (w + 1) / 2
		if orientation >= 5 {
			up.SubsampleRatio = image.YCbCrSubsampleRatio440
		}
	default:
		require.Equal(t, image.YCbCrSubsampleRatio444, p.SubsampleRatio)
	}
	up.Y, up.YStride = turn(p.Y, p.YStride, w, h)
	up.Cb, up.CStride = turn(p.Cb, p.CStride, cw, ch)
	up.Cr, _ = turn(p.Cr, p.CStride, cw, ch)
	if orientation >= 5 {
		up.Rect = image.Rect(0, 0, h, w)
	}
	return newFrame(up)
}

func photoIDs(t testing.TB) (ids []string) {
	all, err := filepath.Glob(filepath.Join(projectRoot(t), "testdata", "photos", "*.json"))
	require.NoError(t, err)
	for _, p := range all {
		ids = append(ids, filepath.Base(p)[:3])
	}
	require.NotEmpty(t, ids)
	return ids
}

// percentile of the absolute values.
func percentile(a []float64, p float64) float64 {
	if len(a) == 0 {
		return math.NaN()
	}
	b := make([]float64, len(a))
	for i, v := range a {
		b[i] = math.Abs(v)
	}
	sort.Float64s(b)
	k := p * float64(len(b)-1)
	i := min(int(k), len(b)-2)
	if len(b) == 1 {
		return b[0]
	}
	return b[i] + (b[i+1]-b[i])*(k-float64(i))
}
