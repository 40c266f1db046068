package catalog

import (
	"slices"
	"strings"
)

// softwoods and hardwoods sort what people call their doors and jambs.
var (
	softwoods = []string{"pine", "fir", "spruce", "cedar", "redwood", "hemlock", "softwood", "poplar"}
	hardwoods = []string{"oak", "maple", "ash", "walnut", "cherry", "birch", "beech", "mahogany", "hickory", "teak", "hardwood"}
)

// woodOf tells softwood from hardwood; "" where a material says neither.
func woodOf(material string) string {
	m := strings.ToLower(material)
	in := func(w string) bool { return strings.Contains(m, w) }
	switch {
	case slices.ContainsFunc(hardwoods, in):
		return "hardwood"
	case slices.ContainsFunc(softwoods, in):
		return "softwood"
	}
	return ""
}
