package measure

// Card geometry, ISO/IEC 7810: ID-1, nominal, mm.
const (
	ID1Long      = 85.60
	ID1Short     = 53.98
	ID1Radius    = 3.18
	ID1Thickness = 0.76
)
