package catalog

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"leafgauge/measure"
)

// A WoodScrew is one gauge of wood screw, in inches.
type WoodScrew struct {
	Gauge            int
	Major            float64 // 0.060 + 0.013 × gauge
	Threads          int     // to the inch
	HeadMax, HeadMin float64 // of a flat head, 82° included
	HeadHeight       float64
	// RootA is the root diameter of NDS Appendix L (from memory), RootB that of a pilot-hole
	// page (seen; 0 where it has none). They disagree by 13–17 %: B follows the old rule of
	// two thirds of the shank, A the rolled thread. Lead holes here use RootA.
	RootA, RootB float64
}

// WoodScrews are those of ASME B18.6.1 as an open table of fasteners holds them.
var WoodScrews = []WoodScrew{
	{6, 0.138, 18, 0.279, 0.244, 0.083, 0.113, 0.094},
	{7, 0.151, 16, 0.305, 0.268, 0.091, 0.122, 0},
	{8, 0.164, 15, 0.332, 0.292, 0.100, 0.131, 0.112},
	{9, 0.177, 14, 0.358, 0.316, 0.108, 0.142, 0},
	{10, 0.190, 13, 0.385, 0.340, 0.116, 0.152, 0.130},
	{12, 0.216, 11, 0.438, 0.389, 0.132, 0.171, 0.148},
	{14, 0.242, 10, 0.507, 0.452, 0.153, 0.196, 0.165},
}

// ScrewOf finds a gauge.
func ScrewOf(gauge int) (WoodScrew, bool) {
	for _, s := range WoodScrews {
		if s.Gauge == gauge {
			return s, true
		}
	}
	return WoodScrew{}, false
}

// A MachineScrew is one that template hinges take in steel frames and doors, in inches.
type MachineScrew struct {
	Name    string
	Major   float64
	HeadMax float64 // flat head, 82°, today's edition; older ones have the wood screws' heads
	Drill   float64 // clearance, normal series, mm; 0 not in the table
}

// MachineScrews are those of ASME B18.6.3 and B18.2.8 as open tables of fasteners hold them.
var MachineScrews = []MachineScrew{
	{"#8-32", 0.164, 0.312, 4.98}, {"#10-24", 0.190, 0.362, 5.61}, {"#12-24", 0.216, 0.412, 0}, {"1/4-20", 0.250, 0.477, 7.14},
}

// A LeadRule is one rule for lead holes: shares of the root diameter.
type LeadRule struct {
	Name               string
	Softwood, Hardwood float64
	Source             string
	Mark               Mark
}

// LeadRules: the first is the one advised; the published ones stand beside it.
var LeadRules = []LeadRule{
	{"workshop", 0.80, 1.00, "", CommonPractice},
	{"withdrawal", 0.70, 0.90, "NDS Commentary § 11.1.2", SourceSeen},
	{"side load", 0.875, 1.00, "a page on wood screws that quotes the NDS by density (above 0.6: the root, else 7/8 of it)", SecondHand},
}

// LeadHole is the lead hole for the threaded part of a wood screw.
func LeadHole(s WoodScrew, r LeadRule, hardwood bool) measure.Length {
	share := r.Softwood
	if hardwood {
		share = r.Hardwood
	}
	return measure.Length(s.RootA*share) * measure.Inch
}

// drill writes the drill of the 1/64 in series nearest to a lead hole.
func drill(hole measure.Length) string {
	size := hole.Fraction(64)
	nearest := measure.Length(math.Round(hole.Inches()*64)) * measure.Inch / 64
	return fmt.Sprintf("%s in (%.1f mm)", size, nearest.MM())
}

// hingeScrew is the screw that goes with a hinge height.
type hingeScrew struct {
	hinge         float64 // in
	gauge         int     // of the wood screw
	least, length measure.Length
	source        string
	mark          Mark
	template      string // of template hinges, where that is another wood screw; trade sheets
	steel         string // machine screw in hollow metal
	steelMark     Mark
}

var hingeScrews = []hingeScrew{
	{3.5, 9, 0.75 * measure.Inch, measure.Inch, "", CommonPractice, "#10 x 1 in (25.4 mm)", "#10-24", SourceSeen},
	{4, 9, measure.Inch, measure.Inch, "", CommonPractice, "#12 x 1 1/4 in (31.75 mm)", "#12-24", SourceSeen},
	{4.5, 12, 1.25 * measure.Inch, 1.25 * measure.Inch, certified, SourceSeen, "", "#12-24", SourceSeen},
	{5, 12, 1.25 * measure.Inch, 1.25 * measure.Inch, certified, SourceSeen, "", "#12-24", SourceSeen},
	{6, 14, 1.5 * measure.Inch, 1.5 * measure.Inch, "", FromMemory, "", "1/4-20", FromMemory},
}

const certified = "trade sheets of certified hinges"

// screwsFor finds the screws of a hinge height.
func screwsFor(hinge measure.Length) (hingeScrew, bool) {
	for _, h := range hingeScrews {
		if math.Abs(h.hinge-hinge.Inches()) < 0.01 {
			return h, true
		}
	}
	return hingeScrew{}, false
}

func (a *adviser) screws(d Door, hinge measure.Length) {
	h, ok := screwsFor(hinge)
	m, _ := madeOf(d.Material)
	switch {
	case ok:
	case d.unlisted():
		a.say("screws", "", CommonPractice, "Take screws of the old ones' gauge and length: without a row for this door none is named here.")
		a.screwsAround(d)
		return
	default:
		return
	}
	if d.FireRated {
		a.say("screws", "NFPA 80", FromMemory, "In a fire-rated opening use the screws that are listed with the hinge, one in every hole.")
	}
	if m == skinned || m == steel {
		a.say("screws", "", CommonPractice, "A steel door at home is usually sheet steel on a frame with wooden stiles (a fibreglass one is built alike): wood screws into the wooden edge, for the skin alone holds none.")
	}
	if m != hollowMetal {
		a.woodScrews(d, h, hinge)
	}
	if m == steel || m == hollowMetal {
		a.say("screws", certified, h.steelMark, "In steel doors and frames of hollow metal, as in shops and offices, %s x 1/2 in (12.7 mm) machine screws, which only template hinges line up with.", h.steel)
	}
	if m == steel {
		a.say("screws", "", CommonPractice, "Which of the two it is the old screws tell: wood screws are pointed and coarse, machine screws blunt and fine.")
	}
	a.screwsAround(d)
}

// screwsAround says what else matters to the screws of a door that may be worked on at the site.
func (a *adviser) screwsAround(d Door) {
	if m, _ := madeOf(d.Material); m == hollowMetal || d.FireRated {
		return
	}
	switch d.Core {
	case "hollow":
		a.say("screws", "", CommonPractice, "A hollow-core door holds screws only in its solid edge: no longer than 1 in (25.4 mm) there, and no wider hinge than the old one.")
	case "solid":
		a.say("screws", "", CommonPractice, "In a solid-core door's edge screws of 1 to 1 1/4 in (25.4 to 31.75 mm); in particle core drill the lead hole and drive the last turns by hand.")
	}
	a.say("screws", "", CommonPractice, "On a wooden jamb one screw of 2 1/2 to 3 in (63.5 to 76.2 mm) in the top hinge may reach the stud behind; keep it clear of wires.")
	a.say("screws", "", CommonPractice, "Drive the last turns by hand; cut the thread for soft brass screws with a steel one first.")
}

// woodScrews says which wood screws go with a hinge, and one lead hole for each wood.
func (a *adviser) woodScrews(d Door, h hingeScrew, hinge measure.Length) {
	length := Both(h.length)
	if h.least < h.length {
		length = h.least.Fraction(4) + " to " + length
	}
	a.say("screws", h.source, h.mark, "#%d x %s wood screws with %s hinges; keep to the size that comes with the hinge.", h.gauge, length, Both(hinge))
	if h.template != "" {
		a.say("screws", certified, SourceSeen, "Template hinges of that height take %s.", h.template)
	}
	s, ok := ScrewOf(h.gauge)
	if !ok {
		return
	}
	var holes, others []string
	for _, w := range d.woods() {
		name := w.kind
		if w.name != w.kind {
			name += " (" + w.name + ")"
		}
		if w.kind == "board" {
			name += ", as in hardwood,"
		}
		hole := LeadHole(s, LeadRules[0], w.hard)
		holes = append(holes, fmt.Sprintf("in %s %s, the drill nearest to %s", name, drill(hole), thousandths(hole)))
		if w.kind == "board" {
			continue
		}
		var each []string
		for _, r := range LeadRules[1:] {
			each = append(each, fmt.Sprintf("%s for %s", thousandths(LeadHole(s, r, w.hard)), r.Name))
		}
		others = append(others, "in "+w.kind+" "+strings.Join(each, " and "))
	}
	a.say("screws", "roots of NDS Appendix L from memory; their share is common practice", FromMemory, "Lead hole for #%d: %s. Try it in scrap first.", s.Gauge, strings.Join(holes, ", "))
	if len(others) == 0 {
		a.say("screws", "", CommonPractice, "The published rules name no lead hole in board. It splits along its edge: clamp the edge while you drive the screw.")
		return
	}
	var sources []string
	for _, r := range LeadRules[1:] {
		sources = append(sources, fmt.Sprintf("%s by %s, %s", r.Name, r.Source, r.Mark))
	}
	a.say("screws", strings.Join(sources, "; "), Derived, "Other published rules for #%d: %s.", s.Gauge, strings.Join(others, "; "))
}

var screwForm = regexp.MustCompile(`^(#\d+) ?x ?((?:\d+[ -])?\d+/\d+|\d+(?:\.\d+)?)(?: ?in)?$`)

// ScrewText writes a stock list's screw, "#9 x 3/4", with its length in both units, "#9 x 3/4 in (19.05 mm)".
// What is written otherwise stays as it is.
func ScrewText(screw string) string {
	m := screwForm.FindStringSubmatch(strings.TrimSpace(screw))
	if m == nil {
		return screw
	}
	inches := 0.0
	for _, part := range strings.FieldsFunc(m[2], func(r rune) bool { return r == ' ' || r == '-' }) {
		over, under, fraction := strings.Cut(part, "/")
		n, _ := strconv.ParseFloat(over, 64) // digits only
		d := 1.0
		if fraction {
			d, _ = strconv.ParseFloat(under, 64)
		}
		inches += n / d
	}
	if inches <= 0 || inches > 12 {
		return screw
	}
	return m[1] + " x " + Both(measure.Length(inches)*measure.Inch)
}
