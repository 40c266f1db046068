package quote_test

import (
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// A quote carries three cautions, and what its door, its hinge and its customer's words call for.
func TestCautionsOfAQuote(t *testing.T) {
	for name, c := range map[string]struct {
		text, wanted string
		door         catalog.Door
		spring       bool
		want         []string // beside the three
	}{
		"nothing more":   {},
		"painted":        {text: "it is painted over", want: []string{"1978"}},
		"spring wanted":  {wanted: "a spring hinge please", want: []string{"release the spring"}},
		"spring in hand": {spring: true, want: []string{"release the spring"}},
		"heavy door":     {door: catalog.Door{Weight: 30}, want: []string{"two people"}},
		"school":         {text: "high traffic", want: []string{"Never block an exit"}},
		"fire door":      {door: catalog.Door{FireRated: true}, want: []string{"authority having jurisdiction", "Never block an exit"}},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			item := shelf(t)[0]
			if c.spring {
				item.Name = "Spring hinge"
			}
			b.memory.stock = map[string]catalog.Item{item.StockNumber: item}
			id := b.receive(t, func(s *quote.Submission) {
				s.Text = "leaf 0.080 in thick. " + c.text
				s.Wishes.Text, s.Door = c.wanted, c.door
			}).Inquiry.ID
			b.measured(t, id, seen(item))
			made, err := b.Price(t.Context(), id, quote.Approval{StockNumber: item.StockNumber, Count: 2})
			require.NoError(t, err)
			all := strings.Join(made.Cautions, "\n")
			for _, want := range append(c.want, "Support the door", "eye protection", "Local codes") {
				require.Contains(t, all, want)
			}
			require.Len(t, made.Cautions, 3+len(c.want), all)
		})
	}
}
