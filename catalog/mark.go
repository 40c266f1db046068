package catalog

// Mark says how far a figure of the trade can be trusted. It is shown beside the figure.
type Mark string

const (
	SourceSeen     Mark = "source seen"
	SecondHand     Mark = "source seen, second hand" // in a page that quotes the standard
	FromMemory     Mark = "from memory, not confirmed"
	CommonPractice Mark = "common practice, no source"
	Derived        Mark = "derived" // arithmetic on figures that carry their own marks
)
