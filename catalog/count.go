package catalog

import "cmp"

// A HingeCount is how many hinges are wanted, by what says so. What is not told is 0, never one hinge
// asked for.
type HingeCount struct {
	Told    int  `json:"told"`           // asked for outright, packs multiplied out
	ByDoors int  `json:"by_doors"`       // doors × hinges on each, as told or else by the rule of the door's height
	Open    bool `json:"open,omitempty"` // the words don't settle which of several numbers is meant
}

// CountHinges reckons how many hinges are wanted. Where a door is described and not how many, it is one.
func CountHinges(door Door, wish Wishes) HingeCount {
	return HingeCount{Told: max(wish.Count, 0), ByDoors: max(door.Count, 1) * door.each()}
}

// each is how many hinges a door takes: as told, else by the rule of its height; 0 where neither is known.
func (d Door) each() int {
	if d.Hinges == 0 && d.Height > 0 {
		return HingesADoor(d.Height)
	}
	return d.Hinges
}

// Wanted is what the customer asked for, else what the doors take; 0 where neither is known.
func (c HingeCount) Wanted() int { return cmp.Or(c.Told, c.ByDoors) }

// Disagree reports that both are known and not the same.
func (c HingeCount) Disagree() bool {
	return c.Told > 0 && c.ByDoors > 0 && c.Told != c.ByDoors
}
