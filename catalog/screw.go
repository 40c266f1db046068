package catalog

import (
	"fmt"
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
	{"lateral", 0.875, 1.00, "NDS, by density (above 0.6: the root)", SourceSeen},
}

// LeadHole is the lead hole for the threaded part of a wood screw.
func LeadHole(s WoodScrew, r LeadRule, hardwood bool) measure.Length {
	share := r.Softwood
	if hardwood {
		share = r.Hardwood
	}
	return measure.Length(s.RootA*share) * measure.Inch
}

// drill writes a lead hole with the nearest drill of the fractional series.
func drill(l measure.Length) string {
	return fmt.Sprintf("%.3f in (%.2f mm; nearest drill %s)", l.Inches(), l.MM(), l.Fraction(64))
}

// hingeScrew is the wood screw that goes with a hinge height.
type hingeScrew struct {
	hinge  float64 // in
	gauge  int
	length string
	source string
	mark   Mark
	steel  string // machine screw in steel
}

var hingeScrews = []hingeScrew{
	{3.5, 9, "3/4 to 1 in", "template hinges take #10 x 1 (trade sheets)", CommonPractice, "#10-24"},
	{4, 9, "1 in", "template hinges take #12 x 1 1/4 (trade sheets)", CommonPractice, "#12-24"},
	{4.5, 12, "1 1/4 in", "trade sheets of certified hinges", SourceSeen, "#12-24"},
	{5, 12, "1 1/4 in", "trade sheets of certified hinges", SourceSeen, "#12-24"},
	{6, 14, "1 1/2 in", "", FromMemory, "1/4-20"},
}

func (a *adviser) screws(d Door, hinge measure.Length) {
	if hinge == 0 {
		return
	}
	for _, h := range hingeScrews {
		if diff := h.hinge - hinge.Inches(); diff > 0.01 || diff < -0.01 {
			continue
		}
		a.say("screws", h.source, h.mark, "#%d x %s wood screws with %s in hinges; keep to the size that comes with the hinge.", h.gauge, h.length, hinge.Fraction(2))
		if strings.Contains(strings.ToLower(d.Material), "steel") {
			a.say("screws", "trade sheets of certified hinges", SourceSeen, "In steel doors and frames %s x 1/2 in machine screws, which only template hinges line up with.", h.steel)
			return
		}
		s, ok := ScrewOf(h.gauge)
		if !ok {
			continue
		}
		wood := woodOf(d.Material)
		for k, r := range LeadRules {
			soft, hard := LeadHole(s, r, false), LeadHole(s, r, true)
			text := "in softwood " + drill(soft) + ", in hardwood " + drill(hard)
			switch wood {
			case "softwood":
				text = "in softwood " + drill(soft)
			case "hardwood":
				text = "in hardwood " + drill(hard)
			}
			word := "Lead hole"
			if k > 0 {
				word = "Lead hole by the published " + r.Name + " rule"
			}
			a.say("screws", r.Source, r.Mark, "%s for #%d: %s.", word, s.Gauge, text)
		}
	}
	switch d.Core {
	case "hollow":
		a.say("screws", "", CommonPractice, "A hollow-core door holds screws only in its solid edge: no longer than 1 in there, and no wider hinge than the old one.")
	case "solid":
		a.say("screws", "", CommonPractice, "In a solid-core door's edge screws of 1 to 1 1/4 in; in particle core drill the lead hole and drive the last turns by hand.")
	}
	a.say("screws", "", CommonPractice, "On the jamb one screw of 2 1/2 to 3 in in the top hinge may reach the stud behind; keep it clear of wires. Drive the last turns by hand; cut the thread for soft brass screws with a steel one first.")
}
