package readings

import (
	"strings"
	"sync"

	"leafgauge/measure"
)

// dim is the kind of size that a word names.
type dim uint8

const (
	dNone dim = iota
	dHeight
	dWidth
	dThick
	dRadius
	dDiameter
	dSpacing
	dEdge
	dEnd
	dOpen   // open width said outright
	dFolded // the width of the closed hinge, which is no quantity
	dTips   // the height with its tips, which is none either
	dScale  // the printed card's scale bar
)

// placesHole reports whether the size says where a hole sits.
func (d dim) placesHole() bool { return d == dSpacing || d == dEdge || d == dEnd }

// subject is the thing that a size belongs to.
type subject uint8

const (
	sNone subject = iota
	sHinge
	sDoor
	sLeaf
	sBarrel
	sPin
	sHole
	sSink // a countersink
	sCorner
	sOther // a frame, a card, a screw: its numbers are no readings
)

// Words are looked up in lower case. German and French ones stand beside the English.
var dimWords = map[string]dim{
	"height": dHeight, "heigth": dHeight, "hight": dHeight, "heights": dHeight, "high": dHeight, "tall": dHeight, "length": dHeight, "lenght": dHeight,
	"long": dHeight, "ht": dHeight, "hgt": dHeight, "vertical": dHeight, "höhe": dHeight, "hoehe": dHeight, "hoch": dHeight, "länge": dHeight, "laenge": dHeight, "lang": dHeight,
	"hauteur": dHeight, "haut": dHeight, "longueur": dHeight, "altura": dHeight,
	"width": dWidth, "widht": dWidth, "widh": dWidth, "witdh": dWidth, "wide": dWidth, "breadth": dWidth, "broad": dWidth, "across": dWidth, "breite": dWidth, "breit": dWidth, "largeur": dWidth, "ancho": dWidth, "wd": dWidth,
	"thick": dThick, "thickness": dThick, "thickeness": dThick, "thicknes": dThick, "tickness": dThick, "thickenss": dThick, "thiknes": dThick, "thik": dThick, "thk": dThick, "dicke": dThick, "dick": dThick, "stärke": dThick, "staerke": dThick, "épaisseur": dThick, "epaisseur": dThick, "épais": dThick, "materialstärke": dThick, "blattstärke": dThick,
	"radius": dRadius, "radious": dRadius, "rc": dRadius, "rad": dRadius, "rads": dRadius, "radii": dRadius, "radiused": dRadius, "rayon": dRadius, "raduis": dRadius, "radus": dRadius,
	"diameter": dDiameter, "diamater": dDiameter, "diamter": dDiameter, "diam": dDiameter, "dia": dDiameter, "durchmesser": dDiameter, "diamètre": dDiameter,
	"spacing": dSpacing, "apart": dSpacing, "spaced": dSpacing, "between": dSpacing, "lochabstand": dSpacing, "entraxe": dSpacing,
}

// letterDims are labels only where they touch or face their number.
var letterDims = map[string]dim{"h": dHeight, "w": dWidth, "t": dThick, "r": dRadius, "l": dHeight, "b": dWidth, "d": dDiameter}

var subjectWords = map[string]subject{
	"hinge": sHinge, "hinges": sHinge, "butt": sHinge, "butts": sHinge, "scharnier": sHinge, "scharniere": sHinge, "türband": sHinge, "charnière": sHinge, "charnières": sHinge, "charniere": sHinge, "paumelle": sHinge, "bisagra": sHinge, "hindge": sHinge, "hindges": sHinge, "hing": sHinge,
	"mortise": sHinge, "mortice": sHinge,
	"door": sDoor, "doors": sDoor, "dor": sDoor, "tür": sDoor, "türen": sDoor, "tuer": sDoor, "porte": sDoor, "portes": sDoor, "türblatt": sDoor, "slab": sDoor,
	"leaf": sLeaf, "leaves": sLeaf, "flap": sLeaf, "flaps": sLeaf, "plate": sLeaf, "plates": sLeaf, "lappen": sLeaf, "wing": sLeaf, "wings": sLeaf,
	"barrel": sBarrel, "barel": sBarrel, "knuckle": sBarrel, "gewerbe": sBarrel,
	"pin": sPin, "pins": sPin, "stift": sPin, "broche": sPin,
	"hole": sHole, "holes": sHole, "loch": sHole, "löcher": sHole, "trou": sHole, "trous": sHole, "screwhole": sHole, "screwholes": sHole, "schraubenloch": sHole, "schraubenlöcher": sHole,
	"corner": sCorner, "corners": sCorner, "cor": sCorner, "conner": sCorner, "conners": sCorner, "ecke": sCorner, "ecken": sCorner, "coins": sCorner,
	"screw": sOther, "screws": sOther, "card": sOther, "frame": sOther, "jamb": sOther, "casing": sOther, "gap": sOther, "wall": sOther, "trim": sOther, "recess": sOther, "paint": sOther, "photo": sOther, "picture": sOther, "bit": sOther, "vis": sOther, "schrauben": sOther, "strike": sOther, "latch": sOther, "knob": sOther,
}

// countNouns turn a whole number before them into a count.
var countNouns = map[string]measure.Quantity{
	"holes": measure.QHoleCount, "hole": measure.QHoleCount, "screws": measure.QHoleCount, "löcher": measure.QHoleCount, "trous": measure.QHoleCount, "screwholes": measure.QHoleCount, "schraubenlöcher": measure.QHoleCount,
	"knuckles": measure.QKnuckles, "knuckle": measure.QKnuckles,
	"hinges": measure.QHingeCount, "butts": measure.QHingeCount, "pcs": measure.QHingeCount, "pieces": measure.QHingeCount, "pc": measure.QHingeCount, "scharniere": measure.QHingeCount, "charnières": measure.QHingeCount, "stück": measure.QHingeCount, "hindges": measure.QHingeCount,
	"pair": measure.QHingeCount, "pairs": measure.QHingeCount, "pr": measure.QHingeCount, "sets": measure.QHingeCount, "ct": measure.QHingeCount,
	"doors": measure.QDoorCount, "türen": measure.QDoorCount, "portes": measure.QDoorCount,
}

// countAdjectives may stand between a count and its noun.
var countAdjectives = map[string]bool{"screw": true, "mounting": true, "countersunk": true, "of": true, "these": true, "those": true, "new": true, "more": true,
	"such": true, "matching": true, "replacement": true, "identical": true, "door": true, "interior": true, "butt": true, "the": true, "them": true, "old": true,
	"brass": true, "steel": true, "same": true, "fixing": true, "bedroom": true, "exterior": true, "inside": true,
	"satin": true, "nickel": true, "polished": true, "chrome": true, "black": true, "matte": true, "bronze": true, "stainless": true, "bright": true, "antique": true, "white": true,
	"ball": true, "bearing": true, "square": true, "round": true, "corner": true, "cornered": true, "loose": true, "pin": true, "heavy": true, "duty": true, "fire": true, "rated": true,
	"oak": true, "pine": true, "solid": true, "hollow": true, "core": true, "wooden": true, "front": true, "back": true, "closet": true,
	"double": true, "acting": true, "lift": true, "rising": true, "complete": true, "entry": true, "bathroom": true, "spring": true, "self": true, "closing": true, "non": true, "removable": true, "nonremovable": true, "nrp": true, "fixed": true, "security": true,
	"left": true, "right": true, "hand": true, "handed": true}

// needWords announce how many are wanted.
var needWords = map[string]bool{"need": true, "needs": true, "want": true, "order": true, "qty": true, "quantity": true, "brauche": true, "benötige": true, "buy": true, "needed": true, "require": true, "besoin": true, "after": true, "wants": true, "send": true, "asks": true}

var approxWords = map[string]bool{"about": true, "approx": true, "approximately": true, "roughly": true, "around": true, "circa": true, "ca": true, "maybe": true,
	"nearly": true, "almost": true, "ish": true, "etwa": true, "ungefähr": true, "environ": true, "rough": true, "guess": true, "think": true, "hair": true, "bit": true, "shy": true, "strong": true, "scant": true, "fat": true, "just": true, "probably": true, "abt": true}

var instrumentWords = map[string]measure.Instrument{
	"caliper": measure.Caliper, "calipers": measure.Caliper, "calliper": measure.Caliper, "callipers": measure.Caliper, "calper": measure.Caliper, "micrometer": measure.Caliper, "vernier": measure.Caliper, "mic": measure.Caliper, "messschieber": measure.Caliper, "schieblehre": measure.Caliper,
	"tape": measure.Tape, "ruler": measure.Tape, "rule": measure.Tape, "yardstick": measure.Tape, "bandmaß": measure.Tape, "lineal": measure.Tape, "zollstock": measure.Tape, "règle": measure.Tape,
	"nominal": measure.NominalSize, "nominally": measure.NominalSize, "standard": measure.NominalSize,
}

// A saying is a run of words that states something without a number.
type saying struct {
	words []string
	kind  string
	value string
}

// sayings are tried longest first at each word. Splitting them is left until text is read.
var sayings = sync.OnceValue(func() map[string][]saying {
	index := map[string][]saying{}
	for _, row := range statements {
		for form := range strings.SplitSeq(row.forms, "|") {
			words := splitWords(form)
			index[words[0]] = append(index[words[0]], saying{words, row.kind, row.value})
		}
	}
	for first, list := range index {
		for i := range list { // longest first: insertion sort of a handful
			for j := i; j > 0 && len(list[j].words) > len(list[j-1].words); j-- {
				list[j], list[j-1] = list[j-1], list[j]
			}
		}
		index[first] = list
	}
	return index
})

// Statements lists every wording that Parse knows as a statement, with what it states.
func Statements() []measure.Statement {
	var all []measure.Statement
	for _, row := range statements {
		for form := range strings.SplitSeq(row.forms, "|") {
			all = append(all, measure.Statement{Kind: row.kind, Value: row.value, Text: form})
		}
	}
	return all
}

// statements are the wordings of each statement, with a bar between them.
var statements = []struct{ kind, value, forms string }{
	{"corner", "square", "square corners|square corner|square cornered|square edges|square edge|squared corners|square|eckig|coins carrés|corners are square|sharp corners|sharp corner|sq cor|sq corner|sq corners|sq"},
	{"corner", "round", "round corners|round corner|rounded corners|rounded corner|rounded|radius corners|radius corner|radiused corners|curved corners|curved|runde ecken|abgerundet|coins ronds|round|rd cor|rd corner|rd corners"},
	{"corner", "quarter", "dime corners|dime size corners|dime sized corners|like a dime|size of a dime|fits a dime|dime"},
	{"finish", "satin nickel", "satin nickel|brushed nickel|satin nickle|brushed nickle|sn|dull nickel|stain nickel"},
	{"finish", "bright nickel", "polished nickel|bright nickel|pol nickel"},
	{"finish", "satin chromium", "satin chrome|brushed chrome|satin chromium|dull chrome"},
	{"finish", "bright chromium", "polished chrome|bright chrome|chrome|chromed|bright chromium|chrome plated|pol chrome"},
	{"finish", "bright brass", "polished brass|bright brass|shiny brass|brass finish|brass coloured|brass colored|brass plated|gold coloured|gold colored|pol brass"},
	{"finish", "satin brass", "satin brass|brushed brass"},
	{"finish", "antique brass", "antique brass|aged brass"},
	{"finish", "oil-rubbed bronze", "oil rubbed bronze|oil-rubbed bronze|oilrubbed bronze|orb|dark bronze"},
	{"finish", "satin bronze", "satin bronze"},
	{"finish", "bronze", "bronze|antique bronze"},
	{"finish", "brass", "brass|messing|laiton|solid brass"},
	{"finish", "flat black", "matte black|flat black|matt black|black|schwarz|noir"},
	{"finish", "satin stainless", "stainless steel|stainless|satin stainless|brushed stainless|edelstahl|inox"},
	{"finish", "zinc", "zinc plated|zinc|galvanized|galvanised|verzinkt"},
	{"finish", "primed", "primed|prime coat|prime coated|primer"},
	{"finish", "white", "white|painted white|weiß"},
	{"finish", "nickel", "nickel|nickle|nickel plated|vernickelt"},
	{"finish", "silver", "silver|silver coloured|silver colored|silvery"},
	{"finish", "gold", "gold|golden"},
	{"finish", "pewter", "pewter"},
	{"bearing", "ball", "ball bearing|ball bearings|ball-bearing|bb|kugellager|roulement à billes|ballbearing"},
	{"bearing", "plain", "plain bearing|plain bearings|no bearings|no bearing|without bearings|no ball bearing|no ball bearings|plain joint|plain brg|not ball bearing|not ball bearings|without ball bearings|doesn't have any bearings|don't have any bearings|hasn't any bearings"},
	{"fire_label", "rated", "fire rated|fire door|fire label|fire rating|fire-rated|labelled door|labeled door|fire labelled|fire labeled|fire exit|rated door|brandschutztür|coupe feu|minute label|minute door|minute rated"},
	{"fire_label", "none", "not fire rated|no fire rating|not a fire door|no fire label|isn't fire rated|not labelled|not labeled"},
	{"pin", "loose", "loose pin|removable pin|pin comes out|lift out pin|pin pulls out|loose pins|removable pins|pin lifts out|pin lifts right out"},
	{"pin", "non-removable", "non removable pin|nonremovable pin|nrp|non-removable|security pin|pin does not come out|pin won't come out|pin doesn't come out|pin is not removable|pin cant come out|pin cant be taken out|pin can't come out|pin can't be taken out|pins can't be taken out|pins cant be taken out|pin cannot be taken out|pin that can't be taken out|pin that cant be taken out|pin can't be removed|pin cannot be removed|don't want removable pins|don't want a removable pin|not a removable pin|no removable pins"},
	{"pin", "fixed", "fixed pin|riveted pin|fast pin|tight pin"},
	{"handing", "left", "left hand|left handed|left-hand|lh|lefthand|opens left|hinged left|hinges on the left|hinges are on the left|hinge on the left"},
	{"handing", "right", "right hand|right handed|right-hand|rh|righthand|opens right|hinged right|hinges on the right|hinges are on the right|hinge on the right"},
	{"handing", "left reverse", "left hand reverse|lhr"},
	{"handing", "right reverse", "right hand reverse|rhr"},
	{"handing", "din left", "din links|din left"},
	{"handing", "din right", "din rechts|din right"},
	{"swing", "out", "swings out|open outwards|open outward|opens to the street|opens to the outside|swings outward|swings outwards|swing out|opens out|opens outward|opens outwards|opening outward|opening outwards|outward opening|outswing|outswinging|out swinging"},
	{"swing", "in", "swings in|opens in|opens into|open inwards|open inward|swings inward|swings inwards|opens inward|opens inwards|opening inward|opening inwards|inward opening|inswing|inswinging|in swinging"},
	{"spring", "spring", "spring hinge|spring hinges|sprung hinge|sprung hinges|spring loaded|self closing hinge|self closing hinges"},
	{"spring", "none", "no spring|no springs|not spring|without spring|without springs|without a spring|not a spring hinge|not spring hinges"},
	{"type", "lift-off", "lift off hinge|lift off hinges|lift off|loose joint|take apart hinge"},
	{"type", "rising butt", "rising butt|rising butts|rising hinge|rising hinges"},
	{"type", "double acting", "double acting|double action|double swing"},
	{"type", "continuous", "piano hinge|continuous hinge"},
	{"type", "concealed", "concealed hinge|hidden hinge|cup hinge|euro hinge|invisible hinge"},
	{"type", "strap", "strap hinge|tee hinge|t hinge|gate hinge"},
	{"leaf", "lost", "other leaf is lost|other leaf lost|other leaf is missing|other leaf missing|other leaf is gone|other half is lost|other half lost|other half is missing|other half missing|other one is lost|lost the other leaf|lost the other half|missing its mate|it is lost|it's lost"},
	{"leaf", "alike", "both leaves alike|both leaves are alike|both leaves are the same|both leaves the same|both leaves are identical|leaves are alike|leaves are the same|other leaf is the same|other leaf is alike|other leaf is identical|other leaf the same"},
	{"wood", "oak", "oak|eiche|chêne"}, {"wood", "pine", "pine|kiefer"}, {"wood", "maple", "maple"}, {"wood", "mahogany", "mahogany"},
	{"wood", "fir", "fir|douglas fir"}, {"wood", "birch", "birch"}, {"wood", "poplar", "poplar"}, {"wood", "walnut", "walnut"}, {"wood", "cherry", "cherry"},
	{"wood", "mdf", "mdf"}, {"wood", "hollow core", "hollow core|hollow-core|hollow"}, {"wood", "solid core", "solid core|solid-core|solid wood|solid timber"}, {"wood", "steel", "steel door|steel doors|metal door|metal doors|hollow metal"},
	{"wood", "fibreglass", "fibreglass|fiberglass"}, {"wood", "aluminium", "aluminium|aluminum|aluminium door|aluminum door"}, {"wood", "glass", "glass door|glass doors"},
	{"wood", "hardwood", "hardwood"}, {"wood", "softwood", "softwood"},
	{"use", "exterior", "exterior|outside door|front door|back door|outdoor|outdoors|entry door|entrance door|haustür|external door|external|outside gate|on the deck|on the porch|on the patio|gets rained on|rain on it|rains on it|out side"},
	{"use", "interior", "interior|inside door|internal door|bedroom|closet|pantry|hallway|zimmertür|indoor|internal|interior door|bedroom door|closet door|guest room|living room|dining room|den|inside the house"},
	{"use", "bathroom", "bathroom|bath|shower room|wet room|sauna|steam room|toilet door|humidity|humid|by the pool|chlorine"},
	{"use", "closer", "door closer|closer|closers|closes by itself|close by itself|closes itself|shuts by itself|door closers|self closing|self-closing"},
	{"use", "heavy", "heavy use|high use|heavily used|frequent use|high traffic|busy door|heavy duty|high frequency|busy office|busy shop|all day|times a day|customers a day|classroom|store front|storefront|public building|all the day|lots of traffic|a lot of traffic"},
	{"use", "medium", "medium use|normal use|average use|moderate use|medium duty"},
	{"use", "low", "low use|light use|light duty|rarely used|seldom used|low traffic|hardly ever used|hardly ever opened|hardly used|rarely opened|seldom opened"},
	{"use", "coastal", "coastal|seaside|by the sea|near the sea|by the ocean|near the ocean|on the coast|near the coast|salt air|sea air|seafront|sea front|on the beach|by the beach|near the beach|beach house|beachfront|oceanfront"},
}

// measured are words behind which "external" and the like tell how something was measured.
var measured = []string{"width", "height", "length", "size", "dimension", "dimensions", "measurement", "measurements", "diameter", "radius", "edge", "corner", "corners"}

// onHinge are words behind which a hand is a side of the hinge: "the right hand leaf".
var onHinge = []string{"side", "leaf", "flap", "plate", "wing", "half", "hole", "holes", "screw", "edge", "corner", "corners", "end"}

// statesNothing lists, for the last word of a statement, what must not follow it: "closer to the
// edge" is no door closer.
var statesNothing = map[string][]string{
	"closer": {"to", "than", "look", "together", "up", "inspection"}, "external": measured, "internal": measured, "exterior": measured, "interior": measured,
	"left": onHinge, "right": onHinge, "hand": onHinge, "handed": onHinge, "lh": onHinge, "rh": onHinge, "lefthand": onHinge, "righthand": onHinge,
}

// politeness is what need not be shown as unread.
var politeness = map[string]bool{"hi": true, "hello": true, "hey": true, "thanks": true, "thank": true, "you": true, "thx": true, "cheers": true, "regards": true, "best": true,
	"kind": true, "please": true, "dear": true, "sir": true, "madam": true, "there": true, "all": true, "the": true, "it": true, "is": true, "so": true, "much": true, "many": true, "in": true, "advance": true, "and": true, "ok": true, "okay": true,
	"good": true, "morning": true, "afternoon": true, "evening": true, "hallo": true, "guten": true, "tag": true, "danke": true, "vielen": true, "dank": true, "bonjour": true, "merci": true, "a": true, "an": true, "my": true, "i": true, "s": true}
