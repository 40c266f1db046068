package scene

import (
	"encoding/json"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"leafgauge/measure"
	"leafgauge/measure/geom"
	"leafgauge/measure/picture"

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

// A Kept is a photo of testdata/photos with the camera and the faces of its truth.
type Kept struct {
	ID, level string
	F         *picture.Frame
	Cam       geom.Camera
	Faces     []geom.Face
	Holes     [][][2]float64
	Bore, Rim float64
	Barrel    float64
	Thickness float64
	Knuckles  int
	Bearing   measure.Bearing
	Tips      bool
	Pattern   measure.Pattern
	Finish    string
	Focal35   float64 // by EXIF, mm; 0 where there is none
}

type placedPoint struct {
	Leaf  string        `json:"leaf"`
	At    [2]float64    `json:"at"`
	World geom.Vec3     `json:"world_mm"`
	Px    measure.Pixel `json:"px"`
}

// Load reads photo id; it fails the test where the photo cannot be read and returns
// false for photos that are to be refused.
func Load(t testing.TB, id string) (Kept, bool) {
	t.Helper()
	return LoadFrom(t, filepath.Join(projectRoot(t), "testdata", "photos"), id)
}

func LoadFrom(t testing.TB, dir, id string) (Kept, bool) {
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
			Bearing           measure.Bearing
			Tips              bool
			Pattern           measure.Pattern
			Finish            string
			Left, Right       struct {
				Radius float64
				Holes  [][2]float64
			}
		}
		Camera struct {
			K1            float64
			Focal35       float64 `json:"focal_35mm"`
			Eye, Look_At  geom.Vec3
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
		return Kept{}, false
	}
	h := truth.Hinge
	s := Kept{ID: id, level: truth.Level, Bore: h.Hole, Rim: h.Rim, Barrel: h.Barrel, Thickness: h.Thickness,
		Knuckles: h.Knuckles, Bearing: h.Bearing, Tips: h.Tips, Pattern: h.Pattern, Finish: h.Finish}
	if truth.Finish.Exif {
		s.Focal35 = truth.Camera.Focal35
	}
	s.F = uprightFrame(t, filepath.Join(dir, id+".jpg"), truth.Finish.Orientation)
	all := append(append(append([]placedPoint(nil), truth.Points.Holes...), truth.Points.Corners...), truth.Points.Card...)
	var rms float64
	s.Cam, rms = poseOf(all, truth.Image.Focal, truth.Camera.K1, truth.Camera.Eye, truth.Camera.Look_At, s.F)
	require.Less(t, rms, 0.2, "photo %s: the truth's own points do not fit a camera", id)
	for i, leaf := range []string{"left", "right"} {
		if i >= h.Leaves {
			break
		}
		var c [2]geom.Vec3
		for _, p := range truth.Points.Corners {
			if p.Leaf == leaf && p.At == [2]float64{0, 0} {
				c[0] = p.World
			} else if p.Leaf == leaf && p.At[0] == 0 {
				c[1] = p.World
			}
		}
		face := geom.Face{O: c[0], V: c[1].Sub(c[0]).Unit(), Width: h.OpenWidth / 2, Height: h.Height}
		var u geom.Vec3
		for _, p := range truth.Points.Holes {
			if p.Leaf == leaf {
				u = u.Add(p.World.Sub(face.O).Sub(face.V.Mul(p.At[1])))
			}
		}
		face.U = u.Sub(face.V.Mul(u.Dot(face.V))).Unit()
		face.N = face.U.Cross(face.V)
		if face.N[2] < 0 {
			face.N = face.N.Mul(-1)
		}
		leafTruth := h.Left
		if i == 1 {
			leafTruth = h.Right
		}
		face.Radius = [2]float64{leafTruth.Radius, leafTruth.Radius}
		s.Faces = append(s.Faces, face)
		s.Holes = append(s.Holes, leafTruth.Holes)
	}
	return s, true
}

// poseOf solves the pose of a camera of known lens from places whose pictures are known.
func poseOf(pts []placedPoint, f, k1 float64, eye, look geom.Vec3, fr *picture.Frame) (geom.Camera, float64) {
	forward := look.Sub(eye).Unit()
	best, bestRMS := geom.Camera{}, math.Inf(1)
	for k := range 8 {
		side := geom.Vec3{1, 0, 0}
		if math.Abs(forward[0]) > 0.9 {
			side = geom.Vec3{0, 1, 0}
		}
		right := side.Sub(forward.Mul(side.Dot(forward))).Unit()
		down := forward.Cross(right)
		a := float64(k) * math.Pi / 4
		x := right.Mul(math.Cos(a)).Add(down.Mul(math.Sin(a)))
		r0 := geom.Mat3{x, forward.Cross(x), forward}
		at := func(p []float64) geom.Camera {
			r := geom.Rotation(geom.Vec3{p[0], p[1], p[2]}).Times(r0)
			return geom.Camera{F: f, K1: k1, Cx: float64(fr.W) / 2, Cy: float64(fr.H) / 2, R: r,
				T: r.Apply(eye.Add(geom.Vec3{p[3], p[4], p[5]})).Mul(-1)}
		}
		q := geom.LeastSquares{Step: []float64{1e-6, 1e-6, 1e-6, 1e-4, 1e-4, 1e-4}, Rounds: 60,
			Residuals: func(p, r []float64) []float64 {
				c := at(p)
				for _, pt := range pts {
					px := c.Project(pt.World)
					r = append(r, px.X-pt.Px.X, px.Y-pt.Px.Y)
				}
				return r
			}}
		p := make([]float64, 6)
		if _, rms, ok := q.Solve(p); ok && rms < bestRMS {
			best, bestRMS = at(p), rms
		}
	}
	return best, bestRMS
}

// uprightFrame decodes a photo and turns its planes upright after its EXIF orientation.
func uprightFrame(t testing.TB, path string, orientation int) *picture.Frame {
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
	return picture.NewFrame(up)
}

func PhotoIDs(t testing.TB) (ids []string) {
	all, err := filepath.Glob(filepath.Join(projectRoot(t), "testdata", "photos", "*.json"))
	require.NoError(t, err)
	for _, p := range all {
		ids = append(ids, filepath.Base(p)[:3])
	}
	require.NotEmpty(t, ids)
	return ids
}

// Percentile of the absolute values.
func Percentile(a []float64, p float64) float64 {
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
