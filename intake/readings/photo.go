package readings

import (
	"strconv"

	"leafgauge/measure"
)

// photoWords are the words for one picture of those that were sent.
var photoWords = map[string]bool{"photo": true, "picture": true, "pic": true, "image": true, "foto": true, "photograph": true}

// ordinalWords number the photos, and afterPhoto are the words that may follow such a number: others make it
// a count ("in the photo 2 hinges").
var (
	ordinalWords = map[string]int{"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6}
	afterPhoto   = map[string]bool{"please": true, "is": true, "it": true, "only": true, "thanks": true, "thank": true, "shows": true, "and": true, "then": true, "the": true}
)

// mostPhotos is the highest number that a photo can have; more are not taken for one inquiry.
const mostPhotos = 24

// whichPhoto takes "photo 2" and "the second photo", which answer which one it is about, and returns how many
// tokens that is; 0 for anything else.
func (p *parser) whichPhoto(i, e int) int {
	if p.wordAt(i-1) == "not" || p.wordAt(i-1) == "no" {
		return 0
	}
	if n, ok := ordinalWords[p.wordAt(i)]; ok {
		j := i + 1
		if p.wordAt(j) == "one" {
			j++
		}
		if j < e && photoWords[p.wordAt(j)] {
			p.state(measure.SaidPhoto, strconv.Itoa(n), i, j+1)
			return j + 1 - i
		}
	}
	if !photoWords[p.wordAt(i)] {
		return 0
	}
	j := i + 1
	if w := p.wordAt(j); w == "no" || w == "number" || w == "nr" || j < e && p.isText(j, "#") {
		if j++; p.kindAt(j) == tPoint {
			j++
		}
	}
	if j >= e || p.kindAt(j) != tNumber || !p.toks[j].whole || p.toks[j].value < 1 || p.toks[j].value > mostPhotos {
		return 0
	}
	if j+1 < e {
		switch p.kindAt(j + 1) {
		case tNumber, tVulgar, tTimes, tSlash, tDash, tPrime, tDouble:
			return 0
		case tWord:
			if !afterPhoto[p.wordAt(j+1)] {
				return 0
			}
		}
	}
	p.state(measure.SaidPhoto, strconv.Itoa(int(p.toks[j].value)), i, j+1)
	return j + 1 - i
}
