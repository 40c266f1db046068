package measure

import "fmt"

// An Estimate is a length with its standard uncertainty (k = 1), both in millimetres.
// The zero Estimate means "not measured"; a measured one has Sigma > 0.
type Estimate struct {
	Value Length `json:"mm"`
	Sigma Length `json:"u"`
}

// Coverage95 is how many standard uncertainties each way hold the true value with 95 %
// probability when the error is normal (JCGM 100, table G.1).
const Coverage95 = 1.96

// Known reports whether e was measured.
func (e Estimate) Known() bool { return e.Sigma > 0 }

// Interval95 is the interval that holds the true value with 95 % probability when the
// error is normal.
func (e Estimate) Interval95() (low, high Length) {
	return e.Value - e.Half95(), e.Value + e.Half95()
}

// Half95 is half of Interval95: what stands behind ± wherever people read it.
func (e Estimate) Half95() Length { return Coverage95 * e.Sigma }

// Percent writes a probability in whole percent, never rounded to certainty: "94 %",
// "over 99 %", "under 1 %".
func Percent(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// String prints e as "88.90 ± 0.08 mm", or "not measured".
func (e Estimate) String() string {
	if !e.Known() {
		return "not measured"
	}
	return fmt.Sprintf("%.2f ± %.2f mm", float64(e.Value), float64(e.Sigma))
}
