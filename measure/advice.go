package measure

// WhichCard is the rule that every text about the card keeps to: its size is what counts, and nobody's money or name
// belongs in a picture.
const WhichCard = "Lay a library, gift or membership card, or our printed one, flat beside the hinge: " + NotThese + ". Numbers on it may be covered."

// NotThese are the cards that nobody is to send a picture of.
const NotThese = "not a payment card, not an identity document"

// advice says, for each Reason, what is wrong and what to do about it.
var advice = map[Reason]string{
	Unreadable:    "The picture can't be opened. Send it again as your phone took it, as JPEG or HEIC.",
	TooSmall:      "The hinge is too small in the picture. Go nearer until hinge and card fill most of it, and send the photo in its original size.",
	TooDark:       "It is too dark to see the edges. Take the photo again in daylight or under a lamp, without flash.",
	Glare:         "Light mirrors off the metal and hides its edges. Turn hinge and card away from the lamp or window and take it again without flash.",
	Blurred:       "The picture is blurred. Rest your elbows, tap on the hinge to focus, and take it again.",
	CardMissing:   "There is no card beside the hinge to measure by. " + WhichCard,
	CardCutOff:    "A part of the card is outside the picture or covered. Take it again with the whole card in view, all four corners.",
	CardWrongSize: "The card is not of the size that nothing but cards like a library's have (85.6 × 54 mm), so nothing can be measured by it: business and playing cards vary, and an old print of our card may be of another version. " + WhichCard,
	HingeMissing:  "There is no hinge to be seen. Lay the hinge open and flat beside the card, its screw holes facing you.",
	HingeCutOff:   "A part of the hinge is outside the picture. Take it again with the whole hinge in view and a little room around it.",
	HingeCovered:  "Something lies over the hinge. Clear the hinge, with the card beside it and not on it, and take it again.",
	SeveralHinges: "There is more than one hinge in the picture. Send one photo of each, with the card beside it.",
}

// Advice is the sentence that tells a customer what to do about r.
func (r Reason) Advice() string {
	if s, ok := advice[r]; ok {
		return s
	}
	return "The photo can't be measured. Lay the hinge open and flat, take it from above, and send it again. " + WhichCard
}
