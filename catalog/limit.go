package catalog

import "leafgauge/measure"

// SureEnough is the least probability at which a fit may stand as "drops in" without a
// question. A wrong hinge costs the customer a second way and the shop a return; a question
// costs a day. With the first about ten times as dear as the second, asking pays below
// 1 − 1/10.
const SureEnough = 0.90

// What still counts as dropping in. All are common practice, no source, unless said.
const (
	// outlinePlay is how much higher or wider than the old leaf the new one may be, or
	// smaller: 1/32 in. Cut-outs are cut a little full, a knife takes off as much, and paint
	// closes as much.
	outlinePlay = measure.Inch / 32
	// mostGap is the widest gap that is left to the fitter without a word: 2 mm (judgement, no source).
	mostGap = measure.Length(2)
	// depthPlay is how much thicker or thinner a leaf may be: 1/64 in. Two leaves then move the
	// door by 1/32 in, a third of the margin of 3/32 in (Building Trades Pocketbook, "Doors").
	// Published thicknesses of one size differ by up to 0.010 in.
	depthPlay = measure.Inch / 64
	// cornerPlay is how far, along the diagonal, a corner may miss its cut-out: 1/2 mm.
	cornerPlay = measure.Length(0.5)
	// landing is how far a new hole's centre may lie from the old one for the screw to take the
	// old thread with its head flush. A #9 screw has 0.2 mm of play in its hole of 0.193 in;
	// wood gives about twice as much again. Half of a common step of patterns, 1/32 in, is the
	// least that must be told apart.
	landing = measure.Length(0.6)
	// alongPlay is how far the leaf can be slid along its cut-out before it is screwed down.
	alongPlay = measure.Length(0.1)
)

// Beyond these a hinge is no replacement: more than one step of the trade sizes (1/2 in) in
// height or width, or more than the step from a light to a heavy leaf in thickness.
const (
	suitsOutline   = measure.Inch*1/2 + 1.5
	suitsThickness = measure.Length(1.7)
)

// How new hinges scatter about their list. Standard deviations.
const (
	// A template hinge's holes are true within 0.005 in (ANSI/BHMA A156.1 § 4.4, of its test
	// plates); hinges for wood are looser.
	newHoleSigma = measure.Length(0.1)
	// 0.005 in either way, as steel-frame embossings are given, taken as uniform.
	newThickSigma  = measure.Inch * 0.005 / 1.732
	newRadiusSigma = measure.Length(0.15)
)

// What is not known of the old hinge is taken as follows. Guesses, no source; they keep a
// fit far enough below SureEnough that the question is asked.
const (
	pHolesUnknown   = 0.30 // that a hinge of the right size has the right holes: patterns for wood differ from maker to maker
	pCornersUnknown = 0.50
	pOtherLeafLike  = 0.80 // that the leaf not seen is like the one seen
	pWidthUnknown   = 0.60
	pHandUnknown    = 0.50
	pHandMistold    = 0.10 // that a door is of the other hand than told
)

// Minutes of work that a fit costs, and of what it risks. They order the ranking only.
// Common practice, no source.
const (
	costFreshHole  = 3.0
	costPlugHole   = 8.0
	costChisel     = 3.0 // one corner
	costLengthen   = 12.0
	costWiden      = 12.0 // one leaf
	costDeepen     = 3.0  // one leaf, and
	costDeepenMM   = 10.0 // for each millimetre
	costShim       = 3.0  // one leaf, and
	costShimMM     = 2.0  // for each millimetre
	costFillGap    = 20.0 // one gap that shows
	costCornerGap  = 4.0  // one corner
	costPerMM      = 2.0  // a hole's distance, as long as it lands
	costUnsuited   = 1000.0
	costWrongDoor  = 25.0 // the hinge contradicts what the door asks for
	costUndersized = 6.0
	costFinish     = 2.5
	costBearing    = 1.5
	costPin        = 6.0  // of another kind than asked for, or loose within a stranger's reach
	costSpring     = 25.0 // a spring that was not asked for, or the lack of one that was
	costHandOpen   = 12.0 // handed, and it is not known which way
	costNotOnHand  = 2.0
	costGone       = 1.0
	costPerMoney   = 0.05 // a unit of the currency, one hinge
)
