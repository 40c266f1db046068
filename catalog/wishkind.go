package catalog

import "strings"

// otherKind says where another kind of hinge is asked for, or the door is none that butt hinges hang.
func (w wanted) otherKind(i *Item, say func(kind string, cost float64, how severity, format string, args ...any)) {
	for _, t := range w.types {
		if !strings.Contains(strings.ToLower(i.Name), t) {
			say("type", costUnsuited, overCustomer, "A %s hinge is spoken of; by its name this one is none.", t)
		}
	}
	if w.door.beyondTables() {
		say("door", 0, overCustomer, "The door is of %s: hinges for wood and steel doors don't hang it. Ask its maker.", w.door.Material)
	}
	least := HingesADoor(w.door.Height) * max(w.door.Count, 1)
	if w.door.FireRated && w.door.Height > 0 && w.count > 0 && w.count < least {
		say("count", 0, overRule, "A fire door of this height takes %d hinges (NFPA 80), and %d are asked for: fewer are to be reported, not copied.", least/max(w.door.Count, 1), w.count)
	}
	if w.door.Closer && !w.door.FireRated && !w.notFire {
		say("fire", 0, mind, "A door that must close by itself is often a fire door: ask whether it has a label.")
	}
}
