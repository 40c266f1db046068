package measure

// A Result is what one photo said: findings, or the reasons why a better photo is needed.
// Its JSON is the public contract of "leafgauge measure --json".
type Result struct {
	Status        Status   `json:"status"`
	RetakeReasons []Reason `json:"retake_reasons"` // never null; empty when measured

	Image  ImageInfo   `json:"image"`
	Camera *CameraInfo `json:"camera,omitempty"` // nil where no card gave a pose
	Card   *CardInfo   `json:"card,omitempty"`   // nil where no card was found
	Hinge  *Hinge      `json:"hinge,omitempty"`  // nil unless measured

	Timing Timing `json:"timing_ms"`
}

// Status says whether a photo could be measured.
type Status string

const (
	Measured Status = "measured"
	Retake   Status = "retake"
)

// Reason is why a photo cannot be measured. The list is closed.
type Reason string

const (
	Unreadable    Reason = "unreadable"
	TooSmall      Reason = "too_small"
	TooDark       Reason = "too_dark"
	Glare         Reason = "glare"
	Blurred       Reason = "blurred"
	CardMissing   Reason = "card_missing"
	CardCutOff    Reason = "card_cut_off"
	CardWrongSize Reason = "card_wrong_size"
	HingeMissing  Reason = "hinge_missing"
	HingeCutOff   Reason = "hinge_cut_off"
	HingeCovered  Reason = "hinge_covered"
	SeveralHinges Reason = "several_hinges"
)

// Reasons lists every Reason.
var Reasons = []Reason{Unreadable, TooSmall, TooDark, Glare, Blurred, CardMissing, CardCutOff,
	CardWrongSize, HingeMissing, HingeCutOff, HingeCovered, SeveralHinges}

// ImageInfo describes the upright picture.
type ImageInfo struct {
	Width     int     `json:"width_px"`
	Height    int     `json:"height_px"`
	PxPerMM   float64 `json:"px_per_mm"` // at the card's centre; 0 without a card
	FocalPx   float64 `json:"focal_px"`  // 0 where nothing was assumed yet
	FocalFrom string  `json:"focal_from,omitempty"`
}

// Where a focal length came from.
const (
	FocalExif    = "exif"
	FocalCard    = "card"
	FocalAssumed = "assumed"
)

// CameraInfo is the pose that the fit arrived at.
type CameraInfo struct {
	Distance Length  `json:"distance_mm"` // along the optical axis's ray to the table
	TiltDeg  float64 `json:"tilt_deg"`    // between the optical axis and the table's normal
	K1       float64 `json:"k1"`          // r_d = r(1 + k1 r²), r in focal lengths
}

// CardInfo is the reference card as found.
type CardInfo struct {
	Kind      string   `json:"kind"`       // "id1" or "printed"
	CornersPx [4]Pixel `json:"corners_px"` // as if the corners were square, in order round the card
	Residual  float64  `json:"residual_px"`

	// PrintScale is what a printed card was taken to be printed at, with the uncertainty that
	// every length of the photo shares by it; nil for other cards.
	PrintScale *Ratio `json:"print_scale,omitempty"`
}

// Kinds of card.
const (
	CardID1     = "id1"
	CardPrinted = "printed"
)

// Bearing says what runs between the knuckles.
type Bearing string

const (
	BallBearing    Bearing = "ball"
	PlainBearing   Bearing = "plain"
	BearingUnknown Bearing = "unknown"
)

// Corners classes how a leaf's two outer corners are made.
type Corners string

const (
	CornersSquare       Corners = "square"       // no radius
	CornersQuarter      Corners = "quarter"      // 1/4 in
	CornersFiveEighths  Corners = "five_eighths" // 5/8 in
	CornersOther        Corners = "other"
	CornersMixed        Corners = "mixed" // the two corners of one leaf differ
	CornersNotDecidable Corners = ""      // not known
)

// Pattern classes how a leaf's holes are arranged.
type Pattern string

const (
	PatternArc       Pattern = "arc"
	PatternStaggered Pattern = "staggered"
	PatternOther     Pattern = "other"
)

// A Hinge is a hinge as measured: lengths along the metal, laid flat.
type Hinge struct {
	Height         Estimate `json:"height"`              // of the leaf, along the barrel, pin tips left out
	OpenWidth      Estimate `json:"open_width,omitzero"` // twice from outer edge to pin axis; absent for a single leaf
	BarrelDiameter Estimate `json:"barrel_diameter"`
	Knuckles       int      `json:"knuckles"`
	Bearing        Bearing  `json:"bearing"`
	Leaves         []Leaf   `json:"leaves"` // one or two
	Nominal        Nominal  `json:"nominal"`
	Pattern        Pattern  `json:"pattern"`
	FinishHint     string   `json:"finish_hint"`

	// Covariance is that of every length above, by key; nil where only the diagonal is known.
	Covariance *Covariance `json:"covariance,omitempty"`
}

// A Leaf is one of the hinge's leaves.
type Leaf struct {
	Width        Estimate `json:"leaf_width,omitzero"` // outer edge to pin axis
	CornerRadius Estimate `json:"corner_radius"`       // mean of its two outer corners; 0 ± u when square
	Corners      Corners  `json:"corners"`
	OutlinePx    []Pixel  `json:"outline_px"` // of the top face, in the upright picture
	Holes        []Hole   `json:"holes"`      // by from_end, ascending
}

// A Hole is one countersunk screw hole, placed on the leaf's face.
type Hole struct {
	FromEdge    Estimate `json:"from_edge"`            // from the leaf's outer edge
	FromEnd     Estimate `json:"from_end"`             // from one end, the same for all holes of a photo
	Diameter    Estimate `json:"diameter"`             // of the through hole
	Countersink Estimate `json:"countersink,omitzero"` // at the face
	CentrePx    Pixel    `json:"centre_px"`
	Filled      bool     `json:"filled,omitempty"` // by paint or a screw
}

// Nominal is the trade size nearest to the measured one.
type Nominal struct {
	Size string  `json:"size"` // "3 1/2 x 3 1/2", height first; "" where none is near
	P    float64 `json:"p"`    // probability that it is this one
}

// Timing is how long each step took, in milliseconds. The caller that owns a clock fills it.
type Timing struct {
	Decode float64 `json:"decode"`
	Card   float64 `json:"card"`
	Hinge  float64 `json:"hinge"`
	Total  float64 `json:"total"`
}

// A Covariance holds the variances and covariances of several lengths, in mm².
type Covariance struct {
	Keys []Key       `json:"keys"`
	MM2  [][]float64 `json:"mm2"` // symmetric, len(Keys) × len(Keys)
}

// ByPrintedCard reports whether the photo was measured by a printed card.
func (p Result) ByPrintedCard() bool {
	return p.Status == Measured && p.Hinge != nil && p.Card != nil && p.Card.Kind == CardPrinted
}

// LeafWidth is a leaf's width, half of the open hinge's where it is not known itself.
func (h *Hinge) LeafWidth(leaf int) Estimate {
	if w := h.Leaves[leaf].Width; w.Known() {
		return w
	}
	return Estimate{h.OpenWidth.Value / 2, h.OpenWidth.Sigma / 2}
}
