package catalog

import (
	"regexp"
	"strconv"

	"leafgauge/measure"
)

// A Job is what is known of the work at the door; the zero Job, that nothing is.
type Job struct {
	Spring  bool // the old hinge or the new one has a spring
	NoPaint bool // no painted wood is cut, scraped or sanded, and none is spoken of
}

// JobOf is the job of putting a hinge that sits as f where the old one was. statements and words are what
// the customer said.
func JobOf(f Fit, w Wishes, statements []measure.Statement, words string) Job {
	asItWas := (f.Verdict == DropsIn || f.Verdict == NewHoles) && f.P >= SureEnough
	return Job{Spring: f.Item.spring() || w.Heard(statements).Spring == "spring", NoPaint: asItWas && !oldPaint(words)}
}

var (
	paintWords = regexp.MustCompile(`(?i)\b(?:paint|painted|old house|old home|period house|victorian|edwardian|1[6-9][0-9]0s)\b`)
	builtWhen  = regexp.MustCompile(`(?i)\b(?:built|house|home|building|flat)\W+(?:\w+\W+){0,3}?(1[6-9][0-9]{2})\b`)
)

// firstUnleaded is the year from which paint in US houses holds no lead, by the rule's own bound.
// Source: 40 CFR 745.
const firstUnleaded = 1978

// oldPaint reports that words speak of paint, or of a house older than firstUnleaded.
func oldPaint(words string) bool {
	if paintWords.MatchString(words) {
		return true
	}
	m := builtWhen.FindStringSubmatch(words)
	if m == nil {
		return false
	}
	year, _ := strconv.Atoi(m[1]) // the pattern allows digits only
	return year < firstUnleaded
}

// twoPeople is the weight in kilograms above which two people hold a door: 50 lb.
// Source: US Army TM 10-5411-224-14 ¶ 4-14.
const twoPeople = 50 * Pound

// cautions are three that go with every hinge, and those that door and job call for.
func (a *adviser) cautions(d Door, job Job) {
	a.caution("", CommonPractice, "Support the door before a pin or the last screws come out: close it, wedge it from below, and never draw a pin from a door that stands free. "+
		"Take the bottom pin first and the top one last; hang the top first.")
	a.caution("eye protection: 29 CFR 1910.133, ANSI Z87.1; the rest is common practice", FromMemory,
		"Change one hinge at a time with the others left fixed, and wear eye protection when you strike a pin, drill or cut.")
	a.caution("", CommonPractice, "Local codes and licensed practice come before this advice.")
	if d.FireRated {
		a.caution("NFPA 80, from pages on fire-door hinges", SecondHand, "Keep to the terms of the opening's label, and ask the authority having jurisdiction before anything is changed. This is no approval.")
	}
	if m := d.mass(); m.kg > twoPeople {
		a.caution("US Army TM 10-5411-224-14 ¶ 4-14", SourceSeen, "The door weighs %s, more than 50 lb (23 kg): two people hold it while it is taken off.", m)
	}
	if m, _ := madeOf(d.Material); m == allGlass {
		a.caution("", CommonPractice, "Toughened glass shatters when it is drilled, cut or struck at its edge: leave its holes and cut-outs to its maker.")
	}
	if !job.NoPaint && !d.beyondTables() {
		a.caution("40 CFR 745.83; EPA answers on minor repair", SourceSeen, "In a house built before 1978 the paint may hold lead: do not sand, scrape dry or heat it. "+
			"Paid work falls under the US rule except for small jobs (6 sq ft, 0.56 m², a room inside; 20 sq ft, 1.86 m², outside).")
	}
	if job.Spring {
		a.caution("", CommonPractice, "A spring hinge: release the spring by its maker's steps before you touch the pin.")
	}
	if d.FireRated || d.Use == "high" {
		a.caution("NFPA 101 § 7.2.1.4.5", FromMemory, "Never block an exit while its hinges are off, and see that it opens easily afterwards.")
	}
}
