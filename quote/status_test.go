package quote_test

import (
	"slices"
	"strings"
	"testing"

	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// life is the life of an inquiry once more, by hand: from each status, to which, by whom
// (c customer, s the shop's counter, p program).
const life = `
received:     received cs, measuring p, stuck p, declined s, withdrawn cs
measuring:    measuring cs, needs_photo p, needs_answer p, ready p, stuck p, declined s, withdrawn cs
needs_photo:  measuring cs, needs_photo s, needs_answer s, approved s, declined s, withdrawn cs
needs_answer: measuring cs, needs_photo s, needs_answer s, approved s, declined s, withdrawn cs
ready:        measuring cs, needs_photo s, needs_answer s, approved s, declined s, withdrawn cs
approved:     quoted sp, declined s, withdrawn cs
quoted:       measuring s, quoted s, won cs, lost cs, declined s, withdrawn cs
won:
lost:
declined:
withdrawn:
stuck:        measuring cs, needs_photo s, needs_answer s, approved s, declined s, withdrawn cs
`

var everybody = []quote.Role{quote.ByCustomer, quote.ByCounter, quote.ByProgram}

func TestMoves(t *testing.T) {
	letter := map[string]quote.Role{"c": quote.ByCustomer, "s": quote.ByCounter, "p": quote.ByProgram}
	allowed := map[[3]string]bool{}
	for line := range strings.Lines(strings.TrimSpace(life)) {
		from, rest, _ := strings.Cut(strings.TrimSpace(line), ":")
		require.Contains(t, quote.Statuses, quote.Status(from))
		for _, to := range strings.Split(rest, ",") {
			f := strings.Fields(to)
			if len(f) == 0 {
				continue
			}
			for _, by := range strings.Split(f[1], "") {
				allowed[[3]string{from, f[0], string(letter[by])}] = true
			}
		}
	}
	for _, from := range quote.Statuses {
		for _, to := range quote.Statuses {
			for _, by := range append([]quote.Role{""}, everybody...) {
				require.Equal(t, allowed[[3]string{string(from), string(to), string(by)}], quote.May(from, to, by), "%s to %s by %s", from, to, by)
			}
		}
	}
}

func TestEveryOpenStatusIsSomebodysMoveAndLeadsOn(t *testing.T) {
	for _, s := range quote.Statuses {
		out := slices.ContainsFunc(quote.Statuses, func(to quote.Status) bool {
			return slices.ContainsFunc(everybody, func(by quote.Role) bool { return quote.May(s, to, by) })
		})
		require.Equal(t, s.Open(), out, s)
		require.Equal(t, s.Open(), s.Turn() != "", s)
	}
}
