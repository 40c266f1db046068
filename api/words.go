package api

import (
	"cmp"

	"leafgauge/catalog"
	"leafgauge/measure"
	"leafgauge/quote"
)

// stateWords says a status to the customer: where things stand and what comes next.
type stateWords struct{ Now, Next string }

var customerWords = map[quote.Status]stateWords{
	quote.Received:    {"We have your question", "Your photos are waiting to be measured. That takes about a minute."},
	quote.Measuring:   {"We are measuring your photos", "That takes about a minute."},
	quote.NeedsPhoto:  {"We need one more photo", "Your question stays open. Take the photo again as described, and add it below."},
	quote.NeedsAnswer: {"One question before we can be sure", "Your answer decides between hinges that look alike."},
	quote.Ready:       {"The counter is checking the match", "Somebody looks at every match before it goes out. You will get a quote by e-mail and on this page."},
	quote.Approved:    {"Your quote is being made out", "It will be here and in your e-mail in a moment."},
	quote.Quoted:      {"Here is your quote", "Say whether you want it; either answer helps us."},
	quote.Won:         {"You took the quote", "The counter has been told. Thank you."},
	quote.Lost:        {"You did not take the quote", "Nothing more will happen. You are welcome to ask again."},
	quote.Declined:    {"We cannot supply this one", "The reason is below."},
	quote.Withdrawn:   {"This question is closed", "Nothing more will happen. You are welcome to ask again."},
	quote.Stuck:       {"Somebody at the counter is looking at it", "Our measuring could not handle this one by itself, so a person does it."},
}

// whichWords stand for NeedsAnswer where the photos show different hinges.
var whichWords = stateWords{"One question before we go on", "Your answer says which of the hinges it is about."}

// firstPhotoWords stand for NeedsPhoto where no photo came yet.
var firstPhotoWords = stateWords{"We need a photo", "Your question stays open. Take a photo as described, and add it below."}

// expiredWords stand for Quoted where the quote's day is over.
var expiredWords = stateWords{"Your quote has run out", "It cannot be taken any more as it is. Write to us below if you still want it: we look whether it can be extended."}

// counterWords says a status to the counter in two or three words.
var counterWords = map[quote.Status]string{
	quote.Received: "Just in", quote.Measuring: "Being measured", quote.NeedsPhoto: "Waits for a photo",
	quote.NeedsAnswer: "Waits for an answer", quote.Ready: "To check", quote.Approved: "Quote going out",
	quote.Quoted: "Quoted", quote.Won: "Taken", quote.Lost: "Not taken", quote.Declined: "Declined",
	quote.Withdrawn: "Withdrawn", quote.Stuck: "Needs a person",
}

// sourceWords says how an inquiry came in.
var sourceWords = map[quote.Source]string{quote.FromWeb: "by the form", quote.FromAPI: "by the API", quote.FromMail: "by e-mail"}

// turnWords says whose move it is.
var turnWords = map[quote.Role]string{quote.ByCustomer: "Customer", quote.ByCounter: "Counter", quote.ByProgram: "Program"}

var cornerWords = map[measure.Corners]string{
	measure.CornersSquare: "square", measure.CornersQuarter: "¼ in radius", measure.CornersFiveEighths: "⅝ in radius",
	measure.CornersOther: "another radius", measure.CornersMixed: "two different corners", measure.CornersNotDecidable: "not clear",
}

var bearingWords = map[measure.Bearing]string{
	measure.BallBearing: "ball bearing", measure.PlainBearing: "plain", measure.BearingUnknown: "not clear", "": "not clear",
}

func patternWords(p measure.Pattern) string {
	if p == "" {
		return "not clear"
	}
	return cmp.Or(catalog.HolesLie(p), "another arrangement")
}
