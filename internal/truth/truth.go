// Package truth reads the recorded truth of the photos in testdata/photos, turns it into a
// measure.Result, and scores measured Results against it. Only tests and the bench command use it.
package truth

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"leafgauge/measure"
)

// A Truth is one NNN.json; testdata/photos/README.md says what its fields mean. Lengths are mm.
type Truth struct {
	ID     string `json:"id"`
	Level  string `json:"level"`  // easy, medium, hard
	Expect string `json:"expect"` // "measured", or why the photo must be refused

	Image struct {
		SizePx         [2]int  `json:"size_px"`
		UprightPx      [2]int  `json:"upright_px"`
		FocalPxUpright float64 `json:"focal_px_upright"`
	} `json:"image"`
	Hinge     Hinge         `json:"hinge"`
	TiltDeg   float64       `json:"tilt_deg"`
	LiftMM    float64       `json:"lift_mm"`
	Card      Card          `json:"card"`
	Camera    Camera        `json:"camera"`
	Finishing FinishingStep `json:"finish_steps"`
	Points    Points        `json:"points_px_upright"`
	Readings  struct {
		Style   string            `json:"style"`
		Typed   map[string]string `json:"typed"`
		Blunder string            `json:"blunder"`
	} `json:"readings"`

	Photo string `json:"-"` // path of the picture beside the truth
}

// A Hinge is the modelled hinge. Right is empty of holes when Leaves is 1.
type Hinge struct {
	Height      float64 `json:"height"`
	OpenWidth   float64 `json:"open_width"`
	Thickness   float64 `json:"thickness"`
	Barrel      float64 `json:"barrel_diameter"`
	Pin         float64 `json:"pin_diameter"`
	SwageGap    float64 `json:"swage_gap"`
	Knuckles    int     `json:"knuckles"`
	Bearing     string  `json:"bearing"`
	Tips        bool    `json:"tips"`
	Leaves      int     `json:"leaves"`
	Hole        float64 `json:"hole_diameter"`
	Countersink float64 `json:"countersink_diameter"`
	Finish      string  `json:"finish"`
	Pattern     string  `json:"pattern"`
	Left        Leaf    `json:"left"`
	Right       Leaf    `json:"right"`
}

// A Leaf is one leaf: the radius of its outer corners, its holes as [from edge, from end].
type Leaf struct {
	Radius float64      `json:"radius"`
	Holes  [][2]float64 `json:"holes"`
}

// A Card is the reference card as drawn.
type Card struct {
	Width, Height, Radius, Thickness float64
}

// A Camera is the camera that the photo was drawn with.
type Camera struct {
	Width    int        `json:"width"`
	Height   int        `json:"height"`
	FocalPx  float64    `json:"focal_px"`
	Focal35  float64    `json:"focal_35mm"`
	Eye      [3]float64 `json:"eye"`
	LookAt   [3]float64 `json:"look_at"`
	RollDeg  float64    `json:"roll"`
	K1       float64    `json:"k1"`
	Distance float64    `json:"distance_mm"`
	TiltDeg  float64    `json:"tilt_deg"`
}

// A FinishingStep is what was done to the drawn picture.
type FinishingStep struct {
	BlurPx      float64 `json:"blur_px"`
	Noise       float64 `json:"noise"`
	Quality     int     `json:"quality"`
	Exif        bool    `json:"exif"`
	Orientation int     `json:"orientation"`
}

// Points are known places in the upright picture.
type Points struct {
	Holes   []PointPx `json:"holes"`
	Corners []PointPx `json:"corners"`
	Card    []PointPx `json:"card"`
}

// A PointPx is one known place: on its leaf or card, on the table, in the picture.
type PointPx struct {
	Leaf  string        `json:"leaf"` // left, right; "" on the card
	At    [2]float64    `json:"at"`
	World [3]float64    `json:"world_mm"`
	Px    measure.Pixel `json:"px"`
}

// Load reads one truth file.
func Load(path string) (Truth, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return Truth{}, err
	}
	var t Truth
	if err := json.Unmarshal(b, &t); err != nil {
		return Truth{}, fmt.Errorf("truth %s: %w", path, err)
	}
	if t.ID == "" || t.Expect == "" {
		return Truth{}, fmt.Errorf("truth %s: no id or no expectation in it", path)
	}
	t.Photo = strings.TrimSuffix(path, ".json") + ".jpg"
	return t, nil
}

// All reads every NNN.json in dir, in order.
func All(dir string) ([]Truth, error) {
	paths, err := filepath.Glob(filepath.Join(dir, "*.json"))
	if err != nil {
		return nil, err
	}
	if len(paths) == 0 {
		return nil, errors.New("truth: no *.json in " + dir)
	}
	var all []Truth
	for _, p := range paths {
		t, err := Load(p)
		if err != nil {
			return nil, err
		}
		all = append(all, t)
	}
	return all, nil
}

// Measurable reports whether the photo is to be measured rather than refused.
func (t Truth) Measurable() bool { return t.Expect == "measured" }

// Reason is the retake reason that a photo which must be refused has to get; "" when measurable.
func (t Truth) Reason() measure.Reason {
	switch t.Expect {
	case "no card in the picture":
		return measure.CardMissing
	case "card not wholly in the picture":
		return measure.CardCutOff
	case "card is not ID-1 size":
		return measure.CardWrongSize
	case "too blurred":
		return measure.Blurred
	case "no hinge in the picture":
		return measure.HingeMissing
	}
	return ""
}

// leaves lists the leaves that are there, left first.
func (h Hinge) leaves() []Leaf {
	if h.Leaves == 1 {
		return []Leaf{h.Left}
	}
	return []Leaf{h.Left, h.Right}
}
