package measure

// Card geometry, ISO/IEC 7810: ID-1, nominal, mm.
const (
	cardLong      = 85.60
	cardShort     = 53.98
	cardRadius    = 3.18
	cardThickness = 0.76
)
