package measure

// How people type a length, wherever they do: in a message, in a cell of a stock list, at a flag.

// Units of typed lengths.
const (
	UnitInch  = "in"
	UnitMM    = "mm"
	UnitCM    = "cm"
	UnitMetre = "m"
	UnitFoot  = "ft"
	UnitThou  = "thou"  // a thousandth of an inch
	UnitMil   = "mil"   // that, or workshop talk for a millimetre
	UnitGauge = "gauge" // a number of a table of sheet metal
)

// unitWords are the words for units as people type them, misspelt and foreign ones too.
var unitWords = map[string]string{
	"in": UnitInch, "ins": UnitInch, "inch": UnitInch, "inches": UnitInch, "inchs": UnitInch, "inche": UnitInch, "zoll": UnitInch, "pouce": UnitInch, "pouces": UnitInch, "pulgadas": UnitInch,
	"mm": UnitMM, "mms": UnitMM, "millimetre": UnitMM, "millimetres": UnitMM, "millimeter": UnitMM, "millimeters": UnitMM, "milimeters": UnitMM, "milimetres": UnitMM, "millimètres": UnitMM, "millimètre": UnitMM, "milimeter": UnitMM,
	"cm": UnitCM, "cms": UnitCM, "centimetre": UnitCM, "centimetres": UnitCM, "centimeter": UnitCM, "centimeters": UnitCM, "zentimeter": UnitCM, "centimètres": UnitCM,
	"m": UnitMetre, "metre": UnitMetre, "metres": UnitMetre, "meter": UnitMetre, "meters": UnitMetre,
	"ft": UnitFoot, "foot": UnitFoot, "feet": UnitFoot,
	"thou": UnitThou, "thous": UnitThou, "thousandth": UnitThou, "thousandths": UnitThou,
	"mil": UnitMil, "mils": UnitMil,
	"ga": UnitGauge, "gauge": UnitGauge, "gage": UnitGauge,
}

// UnitWord is the unit that a word in lower case stands for.
func UnitWord(word string) (unit string, ok bool) {
	unit, ok = unitWords[word]
	return unit, ok
}

// vulgarFractions are the characters that are a fraction, over and under its stroke.
var vulgarFractions = map[rune][2]int{
	'½': {1, 2}, '⅓': {1, 3}, '⅔': {2, 3}, '¼': {1, 4}, '¾': {3, 4}, '⅕': {1, 5}, '⅖': {2, 5}, '⅗': {3, 5}, '⅘': {4, 5},
	'⅙': {1, 6}, '⅚': {5, 6}, '⅛': {1, 8}, '⅜': {3, 8}, '⅝': {5, 8}, '⅞': {7, 8}, '⅒': {1, 10},
}

// VulgarFraction is the fraction that a character is, such as ⅝.
func VulgarFraction(r rune) (over, under int, ok bool) {
	f, ok := vulgarFractions[r]
	return f[0], f[1], ok
}
