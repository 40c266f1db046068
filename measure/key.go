package measure

import "fmt"

// A Key names one length of a hinge: "height", "open_width", "barrel_diameter", "thickness",
// "leaf.0.corner_radius", "leaf.0.leaf_width", "leaf.1.hole.2.from_edge", "….from_end",
// "….diameter", "….countersink". Leaves and holes count from 0.
type Key string

// LeafKey and HoleKey are the keys of a leaf's and of a hole's lengths; leaves and holes count from 0.
func LeafKey(leaf int, name string) Key { return Key(fmt.Sprintf("leaf.%d.%s", leaf, name)) }

func HoleKey(leaf, hole int, name string) Key {
	return Key(fmt.Sprintf("leaf.%d.hole.%d.%s", leaf, hole, name))
}

// Lengths calls f for every length of h that a Key names, known or not.
func (h *Hinge) Lengths(f func(Key, *Estimate)) {
	f("height", &h.Height)
	f("open_width", &h.OpenWidth)
	f("barrel_diameter", &h.BarrelDiameter)
	for i := range h.Leaves {
		l := &h.Leaves[i]
		f(LeafKey(i, "leaf_width"), &l.Width)
		f(LeafKey(i, "corner_radius"), &l.CornerRadius)
		for j := range l.Holes {
			o := &l.Holes[j]
			f(HoleKey(i, j, "from_edge"), &o.FromEdge)
			f(HoleKey(i, j, "from_end"), &o.FromEnd)
			f(HoleKey(i, j, "diameter"), &o.Diameter)
			f(HoleKey(i, j, "countersink"), &o.Countersink)
		}
	}
}

// HoleName is the name of a hole on pictures: A1 is the first of the first leaf.
func HoleName(leaf, hole int) string { return fmt.Sprintf("%c%d", 'A'+leaf, hole+1) }
