package measure

// Quantity is what a typed reading is a reading of.
type Quantity string

const (
	QHeight         Quantity = "height"
	QOpenWidth      Quantity = "open_width"
	QLeafWidth      Quantity = "leaf_width"
	QThickness      Quantity = "thickness"
	QCornerRadius   Quantity = "corner_radius"
	QCornerDiameter Quantity = "corner_diameter"
	QHoleFromEdge   Quantity = "hole_from_edge"
	QHoleFromEnd    Quantity = "hole_from_end"
	QHoleSpacing    Quantity = "hole_spacing"
	QHoleDiameter   Quantity = "hole_diameter"
	QHoleCount      Quantity = "hole_count"
	QBarrelDiameter Quantity = "barrel_diameter"
	QPinDiameter    Quantity = "pin_diameter"
	QKnuckles       Quantity = "knuckles"
	QDoorThickness  Quantity = "door_thickness"
	QDoorWidth      Quantity = "door_width"
	QDoorHeight     Quantity = "door_height"
	QDoorCount      Quantity = "door_count"
	QHingeCount     Quantity = "hinge_count"
	QHingesPerDoor  Quantity = "hinges_per_door"
	QScaleBar       Quantity = "scale_bar"
	QUnknown        Quantity = "unknown"
)

// Instrument is what a reading was taken with, as told or as its digits show.
type Instrument string

const (
	Caliper           Instrument = "caliper"
	Tape              Instrument = "tape"
	NominalSize       Instrument = "nominal"
	InstrumentUnknown Instrument = "unknown"
)

// A Reading is one number that a person typed.
type Reading struct {
	Quantity    Quantity   `json:"quantity"`
	Value       *Length    `json:"value_mm"` // nil for a count
	Count       *int       `json:"count"`    // nil for a length
	UnitAsTyped string     `json:"unit_as_typed"`
	U           Length     `json:"u_mm"` // standard uncertainty
	Instrument  Instrument `json:"instrument"`
	Text        string     `json:"text"` // the piece of text it came from
	At          [2]int     `json:"at"`   // its byte offsets in the whole text
}

// A Statement is something typed that is not a number: "square corners", "satin nickel".
type Statement struct {
	Kind  string `json:"kind"` // corner, finish, bearing, fire_label, pin, handing, swing, spring, leaf, wood, use
	Value string `json:"value"`
	Text  string `json:"text"`
}

// SaidPhoto is the kind of statement that says by its number which photo it is about.
const SaidPhoto = "photo"

// Readings is everything that was found in a piece of typed text. Its JSON is the public
// contract of "leafgauge readings --json"; its slices are never null.
type Readings struct {
	Readings   []Reading   `json:"readings"`
	Statements []Statement `json:"statements"`
	Unread     []string    `json:"unread"`
	// CountOpen: numbers of hinges are spoken of, and the words don't settle how many are wanted.
	CountOpen bool `json:"count_open,omitempty"`
}
