package catalog

// pinsOutside reports whether the pins of a door's hinges may be within a stranger's reach: it
// swings out, or is an outside one of which that is not known.
func (d Door) pinsOutside() bool {
	outside := d.Place == "outside" || d.Place == "coastal"
	return d.Swing == "out" && (outside || d.Place == "") || d.Swing == "" && outside
}

func (a *adviser) metal(d Door) {
	switch d.Place {
	case "coastal":
		a.say("metal", "", CommonPractice, "Stainless steel or brass: salt air eats plated steel.")
	case "wet":
		a.say("metal", "", CommonPractice, "Stainless steel or brass: plated steel rusts in wet rooms.")
	case "outside":
		a.say("metal", "", CommonPractice, "Stainless steel, brass, or steel with a finish made for outdoors.")
	case "inside":
		a.say("metal", "", CommonPractice, "Steel in the finish of the old hinges; the finish number says the metal (652 is on steel, 626 on brass).")
	}
	if d.pinsOutside() {
		a.say("metal", "terms of a hardware association's glossary", SourceSeen, "Where the door swings out its pins are outside: ask about non-removable pins or safety studs.")
	}
}
