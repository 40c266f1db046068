package photo

import (
	"leafgauge/measure/finder"
	"leafgauge/measure/picture"
)

// looked has the finder look at f.
func looked(f *picture.Frame) func() *finder.Maps {
	return func() *finder.Maps {
		m := finder.See(f)
		return &m
	}
}
