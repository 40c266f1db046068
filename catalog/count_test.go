package catalog

import (
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// The rule is two hinges up to 60 in of height, one more for each further 30 in (NFPA 80 § 6.4.3), for
// every door.
func TestCountHinges(t *testing.T) {
	const high = 80 * measure.Inch
	for name, c := range map[string]struct {
		door     Door
		asked    int
		want     HingeCount
		wanted   int
		disagree bool
	}{
		"nothing told":            {},
		"doors alone":             {door: Door{Count: 4}},
		"told outright":           {asked: 5, want: HingeCount{Told: 5, ByDoors: 0}, wanted: 5},
		"one is told":             {asked: 1, want: HingeCount{Told: 1, ByDoors: 0}, wanted: 1},
		"doors × each":            {door: Door{Count: 7, Hinges: 3}, want: HingeCount{Told: 0, ByDoors: 21}, wanted: 21},
		"a door × each":           {door: Door{Hinges: 3}, want: HingeCount{Told: 0, ByDoors: 3}, wanted: 3},
		"each before the rule":    {door: Door{Count: 2, Hinges: 2, Height: high}, want: HingeCount{Told: 0, ByDoors: 4}, wanted: 4},
		"a door × rule":           {door: Door{Height: high}, want: HingeCount{Told: 0, ByDoors: 3}, wanted: 3},
		"doors × rule":            {door: Door{Count: 4, Height: high}, want: HingeCount{Told: 0, ByDoors: 12}, wanted: 12},
		"told and each agree":     {door: Door{Count: 4, Hinges: 3}, asked: 12, want: HingeCount{Told: 12, ByDoors: 12}, wanted: 12},
		"told and each disagree":  {door: Door{Hinges: 3}, asked: 1, want: HingeCount{Told: 1, ByDoors: 3}, wanted: 1, disagree: true},
		"told and rule disagree":  {door: Door{Count: 4, Height: high}, asked: 5, want: HingeCount{Told: 5, ByDoors: 12}, wanted: 5, disagree: true},
		"a count below none told": {asked: -1},
	} {
		t.Run(name, func(t *testing.T) {
			got := CountHinges(c.door, Wishes{Count: c.asked})
			require.Equal(t, c.want, got)
			require.Equal(t, c.wanted, got.Wanted())
			require.Equal(t, c.disagree, got.Disagree())
		})
	}
}
