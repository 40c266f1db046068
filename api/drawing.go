package api

import (
	"html/template"

	"leafgauge/catalog"
	"leafgauge/measure"
)

// fitDrawing is a candidate drawn over the old hinge, as SVG. catalog escapes its texts.
func fitDrawing(old measure.Best, f catalog.Fit) template.HTML {
	return template.HTML(catalog.DrawFit(old, f))
}

// whereDrawing shows where to measure a quantity, as SVG; empty for an unknown one.
func whereDrawing(where string) template.HTML { return template.HTML(catalog.DrawWhere(where)) }
