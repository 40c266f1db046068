package quote

import (
	"testing"

	"leafgauge/catalog"
	"leafgauge/intake/readings"

	"github.com/stretchr/testify/require"
)

// What the customer types decides the count; the counter sees where it says two things.
func TestProposalCountsHinges(t *testing.T) {
	for text, want := range map[string]catalog.HingeCount{
		"3 1/2 x 3 1/2":                                {},
		"one hinge is bent, 4 x 4":                     {},
		"4 x 4, need 5":                                {Told: 5},
		"7 doors, three hinges each":                   {ByDoors: 21},
		"there are 3 per door and I've got 11 doors":   {ByDoors: 33},
		"2 packs of 3":                                 {Told: 6},
		"want 2 sets of 2 in antique brass":            {Told: 4},
		"4 doors, 80 in high":                          {ByDoors: 12},
		"the door has three hinges and I want one":     {Told: 1, ByDoors: 3},
		"door 80 in high, need 2 hinges":               {Told: 2, ByDoors: 3},
		"3 hinges per door x 4 doors = 12":             {Told: 12, ByDoors: 12},
		"door is 80 in tall with 2 hinges, 4 x 4 each": {ByDoors: 2},
	} {
		t.Run(text, func(t *testing.T) {
			p := propose(Inquiry{}, readings.Parse(text), nil, nil)
			require.Equal(t, want, p.Counted)
			require.Equal(t, want.Wanted(), p.Count)
		})
	}
}
