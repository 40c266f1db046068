package quote

import (
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/intake"

	"github.com/bojanz/currency"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func dollars(t require.TestingT, number string) currency.Amount {
	a, err := currency.NewAmount(number, "USD")
	require.NoError(t, err)
	return a
}

func usd(rate string) Terms { return Terms{Shop: "Test Counter", Currency: "USD", TaxRate: rate} }

// pair is a hinge sold in twos, with price breaks.
func pair(t require.TestingT) catalog.Item {
	return catalog.Item{StockNumber: "H1", Name: "Hinge 3 1/2 x 3 1/2 in", Screw: "#9 x 3/4", PackSize: 2, SoldIn: 2, OnHand: 20,
		Prices: []catalog.PriceBreak{{From: 1, Price: dollars(t, "4.25")}, {From: 12, Price: dollars(t, "3.95")}, {From: 48, Price: dollars(t, "3.60")}}}
}

func TestHingesArePricedByPackBreakAndTax(t *testing.T) {
	for name, c := range map[string]struct {
		count                 int
		rate                  string
		bought                int
		each, net, tax, total string
		note                  string
	}{
		// By hand: three are four of the pack of two; 4 × 4.25 = 17.00; 8.25 % of it 1.4025.
		"three of a pack of two": {3, "8.25", 4, "4.25", "17.00", "1.40", "18.40", "3 asked for, 4 supplied, 1 left over"},
		"two":                    {2, "0", 2, "4.25", "8.50", "0.00", "8.50", "They come as 1 pack of 2."},
		// 12 × 3.95 = 47.40; 7 % of it 3.318.
		"a dozen": {12, "7", 12, "3.95", "47.40", "3.32", "50.72", "They come as 6 packs of 2."},
		// Eleven round up to the dozen's price.
		"eleven":         {11, "", 12, "3.95", "47.40", "0.00", "47.40", "11 asked for, 12 supplied"},
		"half a hundred": {50, "10", 50, "3.60", "180.00", "18.00", "198.00", "20 on hand; when the other 30 come is not known yet"},
		// 46 × 3.95 = 181.70; 48 × 3.60 = 172.80 is less.
		"just below a break": {46, "0", 46, "3.95", "181.70", "0.00", "181.70", "48 would cost less in all than 46"},
		// 0.5 cents up: 10 × 3.95 … 8.50 × 5 % = 0.425 → 0.43.
		"half a cent": {2, "5", 2, "4.25", "8.50", "0.43", "8.93", ""},
	} {
		t.Run(name, func(t *testing.T) {
			lines, net, tax, total, notes, err := PriceLines(pair(t), c.count, nil, usd(c.rate))
			require.NoError(t, err)
			require.Len(t, lines, 1)
			require.Equal(t, c.bought, lines[0].Count)
			require.Equal(t, c.each, lines[0].Each.Number())
			require.Equal(t, c.net, net.Number())
			require.Equal(t, c.tax, tax.Number())
			require.Equal(t, c.total, total.Number())
			require.Contains(t, strings.Join(notes, "\n"), c.note)
		})
	}
}

func TestTheCountersPriceAndExtrasHold(t *testing.T) {
	each := dollars(t, "3.333")
	screws := Line{StockNumber: "S9", Text: "#9 x 3/4 screws", Count: 12, Each: dollars(t, "0.08"), Sum: dollars(t, "0.96")}
	lines, net, _, total, _, err := PriceLines(pair(t), 4, &each, usd("0"), screws)
	require.NoError(t, err)
	require.Len(t, lines, 2)
	require.Equal(t, "13.33", lines[0].Sum.Number()) // 13.332
	require.Equal(t, "14.29", net.Number())
	require.Equal(t, net, total)
	require.Contains(t, lines[0].Text, "with #9 x 3/4 screws")
}

func TestYenHasNoCents(t *testing.T) {
	item := pair(t)
	yen, err := currency.NewAmount("455", "JPY")
	require.NoError(t, err)
	item.Prices = []catalog.PriceBreak{{From: 1, Price: yen}}
	_, net, tax, total, _, err := PriceLines(item, 2, nil, Terms{Currency: "JPY", TaxRate: "8"})
	require.NoError(t, err)
	require.Equal(t, []string{"910", "73", "983"}, []string{net.Number(), tax.Number(), total.Number()}) // 72.8
}

func TestWhatCannotBePricedIsRefused(t *testing.T) {
	var invalid *intake.InvalidError
	for _, n := range []int{0, -1, maxCount + 1} {
		_, _, _, _, _, err := PriceLines(pair(t), n, nil, usd("0"))
		require.ErrorAs(t, err, &invalid)
	}
	minus := dollars(t, "-1")
	_, _, _, _, _, err := PriceLines(pair(t), 2, &minus, usd("0"))
	require.ErrorAs(t, err, &invalid)

	item := pair(t)
	item.Prices = nil
	_, _, _, _, _, err = PriceLines(item, 2, nil, usd("0"))
	require.ErrorContains(t, err, "has no price")
	each := dollars(t, "5")
	_, _, _, _, _, err = PriceLines(item, 2, &each, usd("0")) // the counter may give one
	require.NoError(t, err)

	_, _, _, _, _, err = PriceLines(pair(t), 2, nil, Terms{Currency: "EUR"})
	require.ErrorContains(t, err, "USD")
	for _, rate := range []string{"eight", "-8"} {
		_, _, _, _, _, err = PriceLines(pair(t), 2, nil, usd(rate))
		require.Error(t, err, rate)
	}
}

func TestDiscontinuedAndLateHingesSaySo(t *testing.T) {
	item := pair(t)
	item.Gone, item.ReplaceBy, item.OnHand, item.LeadDays = true, "H2", 1, 9
	_, _, _, _, notes, err := PriceLines(item, 4, nil, usd("0"))
	require.NoError(t, err)
	all := strings.Join(notes, "\n")
	require.Contains(t, all, "1 on hand; the other 3 come in about 9 days")
	require.Contains(t, all, "successor is H2")
}

func TestCountsRoundUpToWholePacks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count, soldIn := rapid.IntRange(1, 500).Draw(t, "count"), rapid.IntRange(0, 25).Draw(t, "sold in")
		n := RoundToPacks(count, soldIn)
		require.GreaterOrEqual(t, n, count)
		require.Less(t, n-count, max(soldIn, 1))
		require.Zero(t, n%max(soldIn, 1))
	})
}

// The sum of the parts is the whole, to the cent, whatever the prices.
func TestQuotesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		item := pair(t)
		item.Prices = []catalog.PriceBreak{{From: 1, Price: dollars(t, rapid.StringMatching(`[0-9]{1,3}\.[0-9]{1,4}`).Draw(t, "price"))}}
		lines, net, tax, total, _, err := PriceLines(item, rapid.IntRange(1, 999).Draw(t, "count"), nil, usd(rapid.StringMatching(`[0-9]\.[0-9]{2}`).Draw(t, "rate")))
		require.NoError(t, err)
		require.True(t, lines[0].Sum.Equal(net))
		sum, err := net.Add(tax)
		require.NoError(t, err)
		require.True(t, sum.Equal(total))
		require.True(t, total.Equal(total.Round()))
	})
}
