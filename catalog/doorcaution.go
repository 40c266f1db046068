package catalog

func (a *adviser) cautions(d Door) {
	a.caution("", CommonPractice, "Support the door before a pin comes out: close it, wedge it from below, and never draw a pin from a door that stands free. Take the bottom pin first and the top one last; hang the top first.")
	a.caution("", CommonPractice, "Change one hinge at a time with the others left fixed.")
	a.caution("29 CFR 1910.133, ANSI Z87.1", FromMemory, "Wear eye protection when you strike pins, drill or chisel.")
	a.caution("40 CFR 745.83; EPA answers on minor repair", SourceSeen, "In a house built before 1978 the paint may hold lead: do not sand, scrape dry or heat it; paid work falls under the US rule except for small jobs (6 sq ft a room inside, 20 sq ft outside).")
	a.caution("NFPA 101 § 7.2.1.4.5", FromMemory, "Never block an exit while its hinges are off, and see that it opens easily afterwards.")
	a.caution("", CommonPractice, "A spring hinge: release the spring by its maker's steps before you touch the pin.")
	a.caution("", CommonPractice, "Local codes and licensed practice come before this advice.")
}
