package catalog

import (
	"regexp"
	"strings"
)

var vulgar = map[string]string{"1/2": "½", "1/4": "¼", "3/4": "¾", "1/8": "⅛", "3/8": "⅜", "5/8": "⅝", "7/8": "⅞"}

var fractionForm = regexp.MustCompile(`(?:\d+[ -])?\d+/\d+`)

// times is an x between two sizes.
var times = regexp.MustCompile(`([0-9½¼¾⅛⅜⅝⅞]) x ([0-9½¼¾⅛⅜⅝⅞])`)

// Fractions writes halves, quarters and eighths in a text as a shop does: "3 1/2 x 3 1/2"
// becomes "3½ × 3½", and so does "3-1/2 x 3-1/2". Other fractions stay as they are.
func Fractions(text string) string {
	return times.ReplaceAllString(vulgarFractions(text), "$1 × $2")
}

func vulgarFractions(text string) string {
	return fractionForm.ReplaceAllStringFunc(text, func(s string) string {
		whole, part := "", s
		if i := strings.IndexAny(s, " -"); i >= 0 {
			whole, part = s[:i], s[i+1:]
		}
		if v, ok := vulgar[part]; ok {
			return whole + v
		}
		return s
	})
}
