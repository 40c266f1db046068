package catalog

import (
	"maps"
	"slices"
	"strings"
	"unicode"
)

// A material is what a door is made of, as far as it matters to screws and weight.
type material int

const (
	unclear     material = iota
	softwood             // and what takes screws like it
	hardwood             // and what takes screws like it
	board                // MDF, particle board
	skinned              // sheet steel or plastic over a frame with wooden edges
	steel                // skinned or hollow metal: not told
	hollowMetal          // steel all through, as in offices
	allGlass
	profile // aluminium or plastic profiles
)

// What people call their doors and jambs, in whole words.
var (
	softwoods  = []string{"pine", "fir", "spruce", "cedar", "redwood", "hemlock", "larch", "cypress", "poplar", "softwood"}
	hardwoods  = []string{"oak", "maple", "ash", "walnut", "cherry", "birch", "beech", "mahogany", "hickory", "teak", "sapele", "hardwood"}
	boards     = slices.Sorted(maps.Keys(boardNames))
	boardNames = map[string]string{"mdf": "MDF", "particle": "particle board", "particleboard": "particle board", "chipboard": "chipboard", "fibreboard": "fibreboard", "fiberboard": "fibreboard"}
	steels     = []string{"steel", "metal"}
	plastics   = []string{"fibreglass", "fiberglass", "grp"}
	profiles   = []string{"aluminium", "aluminum", "upvc", "pvc", "vinyl"}
	skins      = []string{"skin", "skins", "skinned", "clad", "faced", "insulated", "foam"}
	woodenEdge = []string{"wood", "wooden", "timber"}
	veneers    = []string{"veneer", "veneered", "laminate", "laminated", "effect", "look", "grained"} // say nothing of what is below
	framed     = []string{"panel", "panels", "pane", "panes", "lite", "lites", "light", "lights", "insert", "window", "glazed", "half", "part", "framed", "frame"}
)

// madeOf reads a material as typed, word by word: a "fire door" is no fir. wood is the wood that
// is named, "" where none or more than one kind is.
func madeOf(text string) (m material, wood string) {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) })
	has := func(of ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(of, w) })
	}
	find := func(of []string) string {
		if i := slices.IndexFunc(words, func(w string) bool { return slices.Contains(of, w) }); i >= 0 {
			return words[i]
		}
		return ""
	}
	soft, hard := find(softwoods), find(hardwoods)
	timber := soft != "" || hard != "" || has(woodenEdge...)
	switch {
	case has(steels...) && has("hollow", "commercial", "pressed"):
		return hollowMetal, ""
	case has(plastics...), has("fibre", "fiber") && has("glass"), has(steels...) && (timber || has(skins...)):
		m = skinned
	case has(steels...):
		return steel, ""
	case has(profiles...) && !timber:
		return profile, ""
	case has("glass") && !timber && !has(boards...) && !has(framed...):
		return allGlass, ""
	case has(veneers...):
		return unclear, ""
	case has(boards...):
		return board, boardNames[find(boards)]
	case has("hard") && has("wood"):
		return hardwood, "hardwood"
	case has("soft") && has("wood"):
		return softwood, "softwood"
	}
	switch {
	case soft != "" && hard != "":
		return m, ""
	case m == skinned:
		return m, soft + hard
	case hard != "":
		return hardwood, hard
	case soft != "":
		return softwood, soft
	}
	return m, ""
}

// unknownMaterial reports a material of which no word is known here.
func (d Door) unknownMaterial() bool {
	m, name := madeOf(d.Material)
	words := strings.FieldsFunc(strings.ToLower(d.Material), func(r rune) bool { return !unicode.IsLetter(r) })
	known := func(w string) bool {
		return slices.Contains(woodenEdge, w) || slices.Contains(veneers, w) || slices.Contains(framed, w) || w == "solid" || w == "hollow" || w == "core"
	}
	return d.Material != "" && m == unclear && name == "" && !slices.ContainsFunc(words, known)
}

// beyondTables reports a door to which tables of butt hinges and wood screws do not apply.
func (d Door) beyondTables() bool {
	m, _ := madeOf(d.Material)
	return m == allGlass || m == profile
}

// woods are the woods in which d's screws may sit: the one that is named, else both kinds.
func (d Door) woods() []wood {
	m, name := madeOf(d.Material)
	soft, hard := wood{"softwood", "softwood", false}, wood{"hardwood", "hardwood", true}
	switch {
	case m == board:
		return []wood{{"board", name, true}} // which takes the holes of hardwood (common practice, no source)
	case slices.Contains(hardwoods, name):
		return []wood{{"hardwood", name, true}}
	case slices.Contains(softwoods, name):
		return []wood{{"softwood", name, false}}
	}
	return []wood{soft, hard}
}

// A wood is one kind of wood with its name.
type wood struct {
	kind, name string
	hard       bool
}
