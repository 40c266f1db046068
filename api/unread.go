package api

import (
	"regexp"
	"strings"
	"unicode"

	"leafgauge/measure"
)

// An unread is a piece of what was typed that was not taken for a size, with the program's reason apart from
// the customer's words.
type unread struct{ Words, Why string }

// whyUnread is how the program says why it did not take a number.
var whyUnread = regexp.MustCompile(`^(?:.+ can't be .+|a count of zero says nothing|not a sheet gauge that is known.*|taken as the door's width by its height.*)$`)

// unreadOf takes the reasons off what was not read.
func unreadOf(pieces []string) []unread {
	var out []unread
	for _, p := range pieces {
		u := unread{Words: p}
		if i := strings.LastIndex(p, ": "); i >= 0 && whyUnread.MatchString(p[i+2:]) {
			u = unread{p[:i], p[i+2:]}
		} else if strings.HasPrefix(p, "the text goes on with more sizes") {
			u = unread{"", p}
		}
		out = append(out, u)
	}
	return out
}

// String says it for an answer in JSON or a page.
func (u unread) String() string {
	switch {
	case u.Words == "":
		return "Not all was read: " + u.Why + "."
	case u.Why != "":
		return "We did not use “" + u.Words + "”: " + u.Why + "."
	}
	return "We could not read a size in “" + u.Words + "”."
}

var (
	telephone = regexp.MustCompile(`(?i)\d{3}[-. ]\d{4}\b|\b(?:call|phone|ring|tel)\b`)
	ofThings  = regexp.MustCompile(`(?i)(\d+)\s+(?:\w+\s+)?(?:doors?|hinges?|gates?)\b`)
)

// missedSizes is what was not read and may have been meant as a size: not mere words, a telephone's number, or the
// count of something.
func missedSizes(text string, read measure.Readings) []unread {
	counts := map[string]bool{}
	for _, m := range ofThings.FindAllStringSubmatch(text, -1) {
		counts[m[1]] = true
	}
	var out []unread
	for _, u := range unreadOf(read.Unread) {
		if u.Why != "" || strings.ContainsFunc(u.Words, unicode.IsNumber) && !telephone.MatchString(u.Words) && !counts[u.Words] {
			out = append(out, u)
		}
	}
	return out
}
