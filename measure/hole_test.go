package measure

import (
	"encoding/json"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"
)

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
	return loadSceneOf(t, filepath.Join("..", "testdata", "photos"), id)
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
			Eye, Look_At  vec3
			Width, Height int
		}
		Finish struct {
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
	f := newFrame(p)
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
	g := &frame{w: f.w, h: f.h, sx: f.sx, sy: f.sy}
	cw, ch := (f.w+(1<<f.sx)-1)>>f.sx, (f.h+(1<<f.sy)-1)>>f.sy
	g.y, g.ys = turn(f.y, f.ys, f.w, f.h)
	g.cb, g.cs = turn(f.cb, f.cs, cw, ch)
	g.cr, _ = turn(f.cr, f.cs, cw, ch)
	if orientation >= 5 {
		g.w, g.h, g.sx, g.sy = f.h, f.w, f.sy, f.sx
	}
	return g
}

func photoIDs(t testing.TB) (ids []string) {
	all, err := filepath.Glob(filepath.Join("..", "testdata", "photos", "*.json"))
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

// finishWords are words that the hint for a finish must hold, as the truth names the finish.
var finishWords = map[string]string{
	"satin nickel": "nickel", "satin chrome": "chrome", "dark bronze": "dark bronze", "black": "black",
	"satin brass": "brass", "polished brass": "brass", "painted white": "white paint", "prime coat": "prime coat",
}

// TestLeavesWithTrueCamera measures what lies on the leaves and the barrel of the photos, with
// their true camera and faces.
func TestLeavesWithTrueCamera(t *testing.T) {
	var place, rim, bore []float64
	tipsSeen := 0
	var placeU, rimU, boreU []float64 // errors in units of their standard uncertainty
	for _, id := range photoIDs(t) {
		s, ok := loadScene(t, id)
		if !ok {
			continue
		}
		got := findHoles(s.f, &s.cam, s.faces)
		// A countersink cannot be deeper than the leaf: where the truth's rim would make it
		// so, the picture shows the widest that the leaf holds.
		trueRim := math.Min(s.rim, s.bore+2*s.thickness*countersinkTan)
		for i := range s.faces {
			require.Len(t, got[i], len(s.holes[i]), "photo %s, leaf %d", id, i)
			for k, c := range s.holes[i] {
				h := got[i][k]
				require.InDelta(t, 0, math.Hypot(h.fromEdge-c[0], h.fromEnd-c[1]), 0.3, "photo %s, leaf %d, hole %d", id, i, k)
				require.False(t, h.filled)
				place = append(place, h.fromEdge-c[0], h.fromEnd-c[1])
				rim, bore = append(rim, h.rim-trueRim), append(bore, h.bore-s.bore)
				placeU = append(placeU, (h.fromEdge-c[0])/h.sigmaPlace, (h.fromEnd-c[1])/h.sigmaPlace)
				rimU, boreU = append(rimU, (h.rim-trueRim)/math.Hypot(h.sigmaRim, h.sharedRim)), append(boreU, (h.bore-s.bore)/math.Hypot(h.sigmaBore, h.sharedBore))
			}
		}
		knuckles, bearing, tips := describeBarrel(s.f, &s.cam, s.faces, s.barrel)
		require.Equal(t, s.knuckles, knuckles, "photo %s", id)
		if len(s.faces) == 1 {
			s.bearing = BearingUnknown // what runs between the knuckles is not in the picture
		}
		require.Equal(t, s.bearing, bearing, "photo %s", id)
		if tips { // they may stay unseen, white on white or behind the barrel, but are not made up
			require.True(t, s.tips, "photo %s", id)
			tipsSeen++
		}
		if id != "007" { // three holes bowed towards the barrel: see classifyPattern
			require.Equal(t, s.pattern, classifyPattern(got, s.faces[0].width, s.faces[0].height), "photo %s", id)
		}
		require.Contains(t, finishHint(s.f, &s.cam, s.faces, s.barrel, [3]float64{}), finishWords[s.finish], "photo %s", id)
	}
	report := func(name string, a []float64, median, most float64) {
		t.Logf("%s: median %.3f, 95th %.3f, worst %.3f mm", name, percentile(a, 0.5), percentile(a, 0.95), percentile(a, 1))
		require.Less(t, percentile(a, 0.5), median, name)
		require.Less(t, percentile(a, 0.95), most, name)
	}
	report("place", place, 0.02, 0.06)
	report("rim", rim, 0.04, 0.12)
	report("bore", bore, 0.07, 0.25)
	require.GreaterOrEqual(t, tipsSeen, 8)
	honest := func(name string, a []float64) {
		var sum float64
		within := 0
		for _, v := range a {
			sum += v * v
			if math.Abs(v) < 1.96 {
				within++
			}
		}
		rms, share := math.Sqrt(sum/float64(len(a))), float64(within)/float64(len(a))
		t.Logf("%s: rms of error/u %.2f, %.0f %% within 1.96 u", name, rms, 100*share)
		require.InDelta(t, 1, rms, 0.35, name)
		require.InDelta(t, 0.95, share, 0.051, name)
	}
	honest("place", placeU)
	honest("rim", rimU)
	honest("bore", boreU)
}

// TestPaintedHole paints one countersink flat and expects it to be reported as filled.
func TestPaintedHole(t *testing.T) {
	for _, id := range []string{"005", "009", "013"} {
		s, ok := loadScene(t, id)
		require.True(t, ok)
		face, c := s.faces[0], s.holes[0][1]
		radius := math.Min(s.rim, s.bore+2*s.thickness*countersinkTan) / 2
		var tone float64 // of the countersink near its rim
		for k := range 60 {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 60)
			tone += s.f.luma(s.cam.project(face.at(c[0]+0.9*radius*cos, c[1]+0.9*radius*sin))) / 60
		}
		centre := s.cam.project(face.at(c[0], c[1]))
		reach := int(1.5*radius*s.cam.pxPerMM(face.o)) + 3
		noise := rand.New(rand.NewPCG(1, 2))
		for y := int(centre.Y) - reach; y <= int(centre.Y)+reach; y++ {
			for x := int(centre.X) - reach; x <= int(centre.X)+reach; x++ {
				e, n := face.place(&s.cam, Pixel{float64(x) + 0.5, float64(y) + 0.5})
				if math.Hypot(e-c[0], n-c[1]) < 0.95*radius {
					s.f.y[y*s.f.ys+x] = uint8(math.Max(0, math.Min(255, tone+2*noise.NormFloat64())))
				}
			}
		}
		got := findHoles(s.f, &s.cam, s.faces)
		require.Len(t, got[0], len(s.holes[0]), "photo %s", id)
		for k, h := range got[0] {
			require.Equal(t, k == 1, h.filled, "photo %s, hole %d", id, k)
			require.Equal(t, k == 1, h.bore == 0, "photo %s, hole %d", id, k)
		}
	}
}
