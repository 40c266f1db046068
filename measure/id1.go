package measure

// The size of an ID-1 card, nominal, mm (ISO/IEC 7810).
const (
	ID1Long      = 85.60
	ID1Short     = 53.98
	ID1Radius    = 3.18
	ID1Thickness = 0.76
)
