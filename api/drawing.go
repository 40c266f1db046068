package api

import (
	"html/template"

	"leafgauge/catalog"
	"leafgauge/measure"
)

// fitDrawing is a candidate drawn over the old hinge, as SVG.
func fitDrawing(old measure.Best, f catalog.Fit) template.HTML { return "" }

// whereDrawing shows where to measure a quantity, as SVG.
func whereDrawing(where string) template.HTML { return "" }
