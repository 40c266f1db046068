package quote

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
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

// priced prices count hinges of item, each at that price where it is not nil, and what more is ordered.
func priced(item catalog.Item, count int, each *currency.Amount, terms Terms, more ...ordered) (Quote, error) {
	return pricedAs(item, count, each, terms, Approval{}, more...)
}

func pricedAs(item catalog.Item, count int, each *currency.Amount, terms Terms, a Approval, more ...ordered) (q Quote, err error) {
	first := ordered{Wanted{StockNumber: item.StockNumber, Count: count, Each: each}, &item}
	err = q.price(append([]ordered{first}, more...), a, terms)
	return q, err
}

// wordsLine is a line that is not on the stock list.
func wordsLine(t require.TestingT, text string, count int, each string) ordered {
	price := dollars(t, each)
	return ordered{Wanted: Wanted{Text: text, Count: count, Each: &price}}
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
			q, err := priced(pair(t), c.count, nil, usd(c.rate))
			require.NoError(t, err)
			require.Len(t, q.Lines, 1)
			require.Equal(t, c.bought, q.Lines[0].Count)
			require.Equal(t, c.each, q.Lines[0].Each.Number())
			require.Equal(t, c.net, q.Net.Number())
			require.Equal(t, c.tax, q.Tax.Number())
			require.Equal(t, c.total, q.Total.Number())
			require.Contains(t, strings.Join(q.Notes, "\n"), c.note)
		})
	}
}

func TestTheCountersPriceAndExtrasHold(t *testing.T) {
	each := dollars(t, "3.333")
	q, err := priced(pair(t), 4, &each, usd("0"), wordsLine(t, "#9 x 3/4 screws", 12, "0.08"))
	require.NoError(t, err)
	require.Len(t, q.Lines, 2)
	require.Equal(t, "13.33", q.Lines[0].Sum.Number()) // 13.332
	require.Equal(t, "14.29", q.Net.Number())
	require.Equal(t, q.Net, q.Total)
	require.Contains(t, q.Lines[0].Text, "with #9 x 3/4 in (19.05 mm) screws")
}

func TestYenHasNoCents(t *testing.T) {
	item := pair(t)
	yen, err := currency.NewAmount("455", "JPY")
	require.NoError(t, err)
	item.Prices = []catalog.PriceBreak{{From: 1, Price: yen}}
	q, err := priced(item, 2, nil, Terms{Currency: "JPY", TaxRate: "8"})
	require.NoError(t, err)
	require.Equal(t, []string{"910", "73", "983"}, []string{q.Net.Number(), q.Tax.Number(), q.Total.Number()}) // 72.8
}

func TestWhatCannotBePricedIsRefused(t *testing.T) {
	var invalid *intake.InvalidError
	for _, n := range []int{0, -1, maxCount + 1} {
		_, err := priced(pair(t), n, nil, usd("0"))
		require.ErrorAs(t, err, &invalid)
	}
	minus := dollars(t, "-1")
	_, err := priced(pair(t), 2, &minus, usd("0"))
	require.ErrorAs(t, err, &invalid)

	item := pair(t)
	item.Prices = nil
	_, err = priced(item, 2, nil, usd("0"))
	require.ErrorContains(t, err, "has no price")
	each := dollars(t, "5")
	_, err = priced(item, 2, &each, usd("0")) // the counter may give one
	require.NoError(t, err)

	_, err = priced(pair(t), 2, nil, Terms{Currency: "EUR"})
	require.ErrorContains(t, err, "USD")
	for _, rate := range []string{"eight", "-8"} {
		_, err = priced(pair(t), 2, nil, usd(rate))
		require.Error(t, err, rate)
	}
}

func TestDiscontinuedAndLateHingesSaySo(t *testing.T) {
	item := pair(t)
	item.Gone, item.ReplaceBy, item.OnHand, item.LeadDays = true, "H2", 1, 9
	q, err := priced(item, 4, nil, usd("0"))
	require.NoError(t, err)
	all := strings.Join(q.Notes, "\n")
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
		var more []ordered
		for n := range rapid.IntRange(0, 11).Draw(t, "more lines") {
			more = append(more, wordsLine(t, fmt.Sprint("line ", n), rapid.IntRange(1, 999).Draw(t, "how many"), rapid.StringMatching(`[0-9]{1,3}\.[0-9]{1,4}`).Draw(t, "each")))
		}
		var a Approval
		switch rapid.IntRange(0, 2).Draw(t, "discount") {
		case 1:
			a.Discount = &Discount{Percent: rapid.StringMatching(`[0-9]{1,2}\.[0-9]{2}`).Draw(t, "percent"), Reason: "rapid"}
		case 2:
			a.Discount = &Discount{Amount: dollars(t, rapid.StringMatching(`0\.[0-9]{2}`).Draw(t, "off"))}
		}
		if rapid.Bool().Draw(t, "delivered") {
			a.Delivery = &Delivery{Amount: dollars(t, rapid.StringMatching(`[0-9]{1,3}\.[0-9]{2}`).Draw(t, "delivery")), Text: "by van"}
		}
		terms := usd(rapid.StringMatching(`[0-9]\.[0-9]{2}`).Draw(t, "rate"))
		q, err := pricedAs(item, rapid.IntRange(1, 999).Draw(t, "count"), nil, terms, a, more...)
		if a.Discount != nil && err != nil {
			require.ErrorContains(t, err, "is more than all that it is taken off")
			return
		}
		require.NoError(t, err)

		// Cents as the customer reads them in the letter: what is off is written with a minus.
		body := quoteLetter(terms, Inquiry{ID: 1}, q, nil).Body
		cents := func(text string) int {
			n, err := strconv.Atoi(strings.NewReplacer("$", "", ",", "", ".", "").Replace(text))
			require.NoError(t, err, text)
			return n
		}
		shown := map[string]int{}
		for _, m := range regexp.MustCompile(`(?m)^(Sum of the lines|Discount|Delivery|Before tax|Tax|To pay).*: (-?\$[0-9,.]+)$`).FindAllStringSubmatch(body, -1) {
			shown[m[1]] = cents(m[2])
		}
		lines := 0
		for _, m := range regexp.MustCompile(`(?m)^[0-9]+ × .* each, (\$[0-9,.]+)$`).FindAllStringSubmatch(body, -1) {
			lines += cents(m[1])
		}
		require.Equal(t, lines+shown["Discount"]+shown["Delivery"]+shown["Tax"], shown["To pay"], body)
		if a.Delivery != nil {
			require.Equal(t, lines, shown["Sum of the lines"], body)
		}
		if shown["Tax"] != 0 {
			require.Equal(t, lines+shown["Discount"]+shown["Delivery"], shown["Before tax"], body)
		}
		require.Equal(t, shown["To pay"], cents(Money(q.Total)))

		// And as the API gives it.
		b, err := json.Marshal(q)
		require.NoError(t, err)
		var api struct {
			Lines           []struct{ Sum currency.Amount }
			Discount        *struct{ Amount currency.Amount }
			Delivery        *struct{ Amount currency.Amount }
			Net, Tax, Total currency.Amount
		}
		require.NoError(t, json.Unmarshal(b, &api))
		net := 0
		for _, l := range api.Lines {
			net += cents(Money(l.Sum))
		}
		if api.Discount != nil {
			net -= cents(Money(api.Discount.Amount))
		}
		if api.Delivery != nil {
			net += cents(Money(api.Delivery.Amount))
		}
		require.Equal(t, net, cents(Money(api.Net)))
		require.Equal(t, net+cents(Money(api.Tax)), cents(Money(api.Total)))
		require.True(t, q.Total.Equal(q.Total.Round()))
	})
}

// Reckoned by hand. 3 H1 are sold as 4 at 4.25: 17.00. 24 screws at 0.085 make 2.04. One hour's
// fitting is 35.50. Together 54.54; 7.5 % of it is 4.0905, 4.09. The van costs 12.00. Before tax
// 54.54 − 4.09 + 12.00 = 62.45; 8.25 % of that is 5.152125, 5.15. To pay 67.60.
func TestDiscountAndDeliveryByHand(t *testing.T) {
	a := Approval{Discount: &Discount{Percent: "7.5", Reason: "regular customer"}, Delivery: &Delivery{Amount: dollars(t, "12"), Text: "by van on Friday"}}
	q, err := pricedAs(pair(t), 3, nil, usd("8.25"), a, wordsLine(t, "#9 x 3/4 screws", 24, "0.085"), wordsLine(t, "Fitting", 1, "35.50"))
	require.NoError(t, err)
	var rows []string
	for _, s := range q.Sums() {
		rows = append(rows, s.Name+" = "+Money(s.Amount))
	}
	require.Equal(t, []string{"Sum of the lines = $54.54", "Discount 7.5 % (regular customer) = -$4.09", "Delivery (by van on Friday) = $12.00",
		"Before tax = $62.45", "Tax 8.25 % = $5.15", "To pay = $67.60"}, rows)
	require.Equal(t, "4.09", q.Discount.Amount.Number())

	// Half a cent up: 5 % of 17.00 + 0.10 = 17.10 is 0.855, 0.86.
	q, err = pricedAs(pair(t), 4, nil, usd(""), Approval{Discount: &Discount{Percent: "5"}}, wordsLine(t, "Shim", 1, "0.10"))
	require.NoError(t, err)
	require.Equal(t, "0.86", q.Discount.Amount.Number())
	require.Equal(t, "16.24", q.Total.Number())

	q, err = pricedAs(pair(t), 4, nil, usd(""), Approval{Collection: " At the counter,\nfrom Tuesday "})
	require.NoError(t, err)
	require.Contains(t, q.Notes, "To be collected: At the counter, from Tuesday")
	for _, bad := range []Approval{
		{Discount: &Discount{Amount: dollars(t, "17.01")}}, {Discount: &Discount{Amount: dollars(t, "-1")}},
		{Delivery: &Delivery{Amount: dollars(t, "-1")}}, {Delivery: &Delivery{Amount: dollars(t, "1")}, Collection: "here"},
		{Collection: strings.Repeat("here ", 60)},
	} {
		var invalid *intake.InvalidError
		_, err = pricedAs(pair(t), 4, nil, usd(""), bad)
		require.ErrorAs(t, err, &invalid)
		require.NotEmpty(t, invalid.Text)
	}
}

func TestLinesThatCannotBeMeantAreRefused(t *testing.T) {
	other := pair(t)
	for says, more := range map[string][]ordered{
		"what it is in words":          {wordsLine(t, "", 1, "2")},
		"must lie between 1 and 10000": {wordsLine(t, "Shim", maxCount+1, "2")},
		"one “Cutting” costs":          {{Wanted: Wanted{Text: "Cutting", Count: 1}}},
		"H1 stands there twice":        {{Wanted{StockNumber: "H1", Count: 2}, &other}},
		"too long":                     {wordsLine(t, strings.Repeat("x", maxWords+1), 1, "2")},
		"at most 40 lines":             slices.Repeat([]ordered{wordsLine(t, "Shim", 1, "2")}, maxLines),
	} {
		_, err := priced(pair(t), 4, nil, usd(""), more...)
		var invalid *intake.InvalidError
		require.ErrorAs(t, err, &invalid)
		require.Contains(t, invalid.Text, says)
	}
}

func TestPricesAsPeopleTypeThem(t *testing.T) {
	for typed, want := range map[string]string{
		"4.50": "4.50", "$4.50": "4.50", "4.50 USD": "4.50", "usd 4.50": "4.50", "4,50": "4.50", "4.5": "4.5", " 4.50 ": "4.50", "$ 4": "4",
		".50": "0.50", "0": "0", "1234567.89": "1234567.89", "4.50$": "4.50", "\u00a04.50\u00a0USD": "4.50",
	} {
		a, err := ParseMoney(typed, "USD")
		require.NoError(t, err, typed)
		require.Equal(t, want, a.Number(), typed)
	}
	for typed, says := range map[string]string{
		"1e3": "not an amount", "-4.50": "less than nothing", "$-4.50": "less than nothing", "-$4.50": "less than nothing", "4.5.0": "not an amount",
		"1,250.00": "not an amount", "4.505": "too many digits behind", "1,250": "too many digits behind", "12345678": "too many digits", "4.50 EUR": "not an amount in USD",
		"€4.50": "not an amount in USD", "cheap": "not an amount", "": "not an amount", ".": "not an amount", "4.": "not an amount", "Infinity": "not an amount", "NaN": "not an amount",
		"0x10": "not an amount", "٤": "not an amount", "$": "not an amount", strings.Repeat("4", 4000): "4 …” has too many digits",
	} {
		_, err := ParseMoney(typed, "USD")
		var invalid *intake.InvalidError
		require.ErrorAs(t, err, &invalid, typed)
		require.Contains(t, invalid.Text, says, typed)
	}
	a, err := ParseMoney("€ 4,50", "EUR")
	require.NoError(t, err)
	require.Equal(t, "4.50 EUR", a.String())
	_, err = ParseMoney("4.50", "JPY")
	require.ErrorContains(t, err, "JPY has 0")
	a, err = ParseMoney("¥455", "JPY")
	require.NoError(t, err)
	require.Equal(t, "455", a.Number())
}

func TestDiscountsAsPeopleTypeThem(t *testing.T) {
	for typed, want := range map[string]string{"10 %": "10", "10%": "10", " 7,5 % ": "7.5", "100 %": "100"} {
		d, err := ParseDiscount(typed, "USD")
		require.NoError(t, err, typed)
		require.Equal(t, want, d.Percent, typed)
	}
	d, err := ParseDiscount("$5", "USD")
	require.NoError(t, err)
	require.Equal(t, "5 USD", d.Amount.String())
	d, err = ParseDiscount(" ", "USD")
	require.NoError(t, err)
	require.Nil(t, d)
	for _, typed := range []string{"100.01 %", "-5 %", "1e1 %", "%", "half", "-5"} {
		_, err := ParseDiscount(typed, "USD")
		var invalid *intake.InvalidError
		require.ErrorAs(t, err, &invalid, typed)
	}
}

func TestUnusualPricesAreFound(t *testing.T) {
	for name, c := range map[string]struct {
		each, off string
		says      string
	}{
		"the list price":          {"4.25", "", ""},
		"nothing":                 {"0", "", "H1 costs nothing."},
		"all of it taken off":     {"4.25", "100", "H1 costs nothing with the discount."},
		"31 % below":              {"2.93", "", "H1 at $2.93 is more than 30 % below its list price, $4.25."}, // 0.7 × 4.25 = 2.975
		"just not 30 % below":     {"2.98", "", ""},
		"with the discount below": {"4.25", "31", "H1 at $4.25 with the discount is more than 30 % below"},
		"30 % discount":           {"4.25", "30", ""},
		"just 30 % above":         {"5.525", "", ""}, // 1.3 × 4.25
		"above":                   {"5.53", "", "more than 30 % above its list price, $4.25"},
	} {
		t.Run(name, func(t *testing.T) {
			each, item := dollars(t, c.each), pair(t)
			order := []ordered{{Wanted{StockNumber: "H1", Count: 4, Each: &each}, &item}}
			var q Quote
			require.NoError(t, q.price(order, Approval{Discount: &Discount{Percent: c.off, Amount: dollars(t, "0")}}, usd("8")))
			odd, err := q.unusual(order)
			require.NoError(t, err)
			if c.says == "" {
				require.Empty(t, odd)
			} else {
				require.Contains(t, strings.Join(odd, " "), c.says)
			}
		})
	}
}
