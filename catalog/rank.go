package catalog

import "leafgauge/measure"

// Rank judges every stock hinge against the old one and returns the best few, best first.
func Rank(old measure.Best, stock []Item, door Door, wish Wishes) []Fit { return nil }

// Ask returns the one question whose answer would cut the doubt among fits most, or nil
// where the first fit is sure enough.
func Ask(old measure.Best, fits []Fit, door Door) *Question { return nil }

// AdviseDoor says what suits a door, by published tables and common practice.
func AdviseDoor(d Door) []Advice { return nil }
