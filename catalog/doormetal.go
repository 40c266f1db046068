package catalog

// pinsOutside reports whether the pins of a door's hinges may be within a stranger's reach: it
// swings out, or is an outside one of which that is not known.
func (d Door) pinsOutside() bool {
	outside := d.Place == "outside" || d.Place == "coastal"
	return d.Swing == "out" && (outside || d.Place == "") || d.Swing == "" && outside
}

// metalWanted is what the place asks of the metal; "" where plated steel will do.
func (d Door) metalWanted() string {
	switch d.Place {
	case "coastal", "wet":
		return "stainless steel or brass"
	case "outside":
		return "stainless steel, brass or steel in a finish made for outdoors"
	}
	return ""
}

// fireMetal is what a fire-rated opening's hinges are made of where the door hangs: never brass.
func (d Door) fireMetal() string {
	if d.metalWanted() != "" {
		return "stainless steel"
	}
	return "steel or stainless steel"
}

func (a *adviser) metal(d Door) {
	switch {
	case d.FireRated && d.metalWanted() != "":
		a.say("metal", "", CommonPractice, "Stainless steel, of a hinge that is listed for fire doors: plated steel rusts there, and softer metals do not belong on a fire door.")
	case d.FireRated:
		a.say("metal", fireSource, SecondHand, "Steel or stainless steel, of a hinge that is listed for fire doors.")
	case d.Place == "coastal":
		a.say("metal", "", CommonPractice, "Stainless steel or brass: salt air eats plated steel.")
	case d.Place == "wet":
		a.say("metal", "", CommonPractice, "Stainless steel or brass: plated steel rusts in wet rooms.")
	case d.Place == "outside":
		a.say("metal", "", CommonPractice, "Stainless steel, brass, or steel with a finish made for outdoors.")
	case d.Place == "inside":
		a.say("metal", "", CommonPractice, "Steel in the finish of the old hinges; the finish number says the metal (652 is on steel, 626 on brass).")
	}
	if d.pinsOutside() {
		a.say("metal", "terms of a hardware association's glossary", SourceSeen, "Where the door swings out its pins are outside: ask about non-removable pins or safety studs.")
	}
}
