package card

import (
	"leafgauge/measure"
	"leafgauge/measure/finder"
	"leafgauge/measure/picture"
)

// find is Find with what the finder sees in f.
func find(f *picture.Frame, opt measure.Options) (Fit, []measure.Reason) {
	return Find(f, func() *finder.Maps {
		m := finder.See(f)
		return &m
	}, opt)
}
