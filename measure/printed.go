package measure

import "math"

// PrintedVersion is the version of the printed card that PrintedCard describes. A change of any
// length in it raises the version.
const PrintedVersion = 1

// What the ISO/IEC 18004 code on the printed card says: whose card it is, then its version and
// its kind (the size that its frame has).
const (
	PrintedOwner = "LEAFGAUGE:CARD:"
	PrintedCode  = PrintedOwner + "1:ID1"
)

// PrintedBar is the length of the bar beside the printed card that tells the scale of the print.
const PrintedBar = 100 * Millimetre

// A PrintedLayout is where things stand on the project's own printed reference card, mm from its
// top left corner, x right and y down. The card is as large as ID-1 (ISO/IEC 7810).
//
// A photo is measured by the frame's inner edge and the rings, so it doesn't matter how well
// the card was cut out, or whether it was. Every version keeps frame and code in their
// places, so that one that is not known is still told for what it is.
type PrintedLayout struct {
	Width, Height, Radius float64
	Frame                 float64 // width of the black frame
	CodeX, CodeY          float64 // top left corner of the code
	CodeSide              float64 // without the empty rim that it needs
	CodeModules           int     // along a side
	Rings                 [4]PrintedRing
	Patches               [7]PrintedPatch
}

// A PrintedRing is a black ring. The first has no hole, so that the card can't be taken for one
// that lies the other way round.
type PrintedRing struct{ X, Y, Outer, Inner float64 } // centre and radii

// A PrintedPatch is a rectangle of one colour (sRGB).
type PrintedPatch struct {
	X, Y, W, H float64
	RGB        [3]uint8
}

// PrintedCard is the layout of the printed card. Printing and recognising both go by it.
func PrintedCard() PrintedLayout {
	const code, modules, quiet = 30.0, 21, 4 // a code needs an empty rim of four modules (ISO/IEC 18004)
	l := PrintedLayout{
		Width: ID1Long, Height: ID1Short, Radius: ID1Radius, Frame: 4,
		CodeX: 5 + quiet*code/modules, CodeY: (ID1Short - code) / 2, CodeSide: code, CodeModules: modules,
		// A rectangle of 30 × 14 mm from centre to centre.
		Rings: [4]PrintedRing{{46.5, 11, 3, 0}, {76.5, 11, 3, 1.5}, {76.5, 25, 3, 1.5}, {46.5, 25, 3, 1.5}},
	}
	// White to black in equal steps of lightness (CIE L* 95, 75, 50, 25), then the printing inks.
	for i, c := range [7][3]uint8{{241, 241, 241}, {185, 185, 185}, {119, 119, 119}, {59, 59, 59}, {0, 140, 190}, {200, 30, 120}, {245, 215, 0}} {
		l.Patches[i] = PrintedPatch{44 + 5*float64(i), 40, 5, 7, c}
	}
	return l
}

// PrintScale is how large a printed card came out against its true size, judged by how long
// the bar beside it was measured to be; bar is the zero Estimate where nobody measured it.
//
// A bar that a printer's own error accounts for is weighed with it; any other tells of a page
// made to fit, and stands alone.
func PrintScale(bar Estimate) Ratio {
	if !bar.Known() {
		return Ratio{1, untoldScale}
	}
	told := Estimate{bar.Value / PrintedBar, bar.Sigma / PrintedBar}
	if PrintersOwn(bar) {
		told, _, _ = WeightedMean(told, Estimate{1, PrinterSigma})
	}
	return Ratio{float64(told.Value), float64(told.Sigma)}
}

// PrintersOwn reports whether a bar is as long as a printer that keeps the size may make it.
func PrintersOwn(bar Estimate) bool {
	return math.Abs(ZetaScore(bar, Estimate{PrintedBar, PrinterSigma * PrintedBar})) < 3
}

const (
	// Printers told to keep the size do so within about half a percent (common practice, no
	// source), taken as a standard uncertainty.
	PrinterSigma = 0.005
	// Programs that print make a page fit unless told not to, to 94…97 %; on the sheet stands not to, so one
	// print in five may be such (common practice, no source). The root mean square of
	// what a print is off by then is √(0.2 × 4.5² + 0.8 × 0.5²) = 2 %.
	untoldScale = 0.02
)

// A Ratio is a number without unit and its standard uncertainty.
type Ratio struct {
	Value float64 `json:"value"`
	Sigma float64 `json:"u"`
}
