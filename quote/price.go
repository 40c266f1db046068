package quote

import (
	"fmt"
	"strconv"

	"leafgauge/catalog"
	"leafgauge/intake"

	"github.com/bojanz/currency"
)

// maxCount is the most hinges that one quote may carry; more is taken for a typing slip.
const maxCount = 10_000

// RoundToPacks returns the smallest multiple of soldIn that is at least count.
// A soldIn below 2 means that the hinge is sold singly.
func RoundToPacks(count, soldIn int) int {
	if soldIn < 2 {
		return count
	}
	return (count + soldIn - 1) / soldIn * soldIn
}

// PriceLines prices count hinges of item: rounded up to the multiple it is sold in, at the
// price break that the rounded count reaches, or at each where it is not nil. Every line,
// the tax and the total are rounded half up to the currency's own digits; the tax is taken
// once, on the net sum. extras are priced as they come. The notes say what was rounded up,
// what is not on hand and what replaces a discontinued hinge.
//
// It returns *intake.InvalidError for a count or price that cannot be meant, and a plain
// error where the stock hinge has no price or its price is in another currency.
func PriceLines(item catalog.Item, count int, each *currency.Amount, terms Terms, extras ...Line) (
	lines []Line, net, tax, total currency.Amount, notes []string, err error) {
	fail := func(err error) ([]Line, currency.Amount, currency.Amount, currency.Amount, []string, error) {
		return nil, currency.Amount{}, currency.Amount{}, currency.Amount{}, nil, err
	}
	if count < 1 || count > maxCount {
		return fail(&intake.InvalidError{Field: "count", Text: fmt.Sprintf("The number of hinges must lie between 1 and %d.", maxCount)})
	}
	bought := RoundToPacks(count, item.SoldIn)
	price, err := item.PriceAt(bought)
	switch {
	case each != nil:
		price = *each
	case err != nil:
		return fail(err)
	}
	if price.CurrencyCode() != terms.Currency {
		return fail(fmt.Errorf("quote: %s is priced in %s, the shop sells in %s: correct the stock list or the shop's currency",
			item.StockNumber, price.CurrencyCode(), terms.Currency))
	}
	if price.IsNegative() {
		return fail(&intake.InvalidError{Field: "each", Text: "A price cannot be less than nothing."})
	}

	sum, err := price.Mul(strconv.Itoa(bought))
	if err != nil {
		return fail(fmt.Errorf("quote: price of %s: %w", item.StockNumber, err))
	}
	lines = append(lines, Line{item.StockNumber, lineText(item), bought, price, sum.Round()})
	lines = append(lines, extras...)

	if net, err = currency.NewAmount("0", terms.Currency); err != nil {
		return fail(fmt.Errorf("quote: shop's currency: %w", err))
	}
	for _, l := range lines {
		if net, err = net.Add(l.Sum); err != nil {
			return fail(fmt.Errorf("quote: line %s: %w", l.StockNumber, err))
		}
	}
	net = net.Round()
	if tax, err = taxOn(net, terms.TaxRate); err != nil {
		return fail(err)
	}
	if total, err = net.Add(tax); err != nil {
		return fail(fmt.Errorf("quote: total: %w", err))
	}
	return lines, net, tax, total, priceNotes(item, count, bought, each), nil
}

// taxOn returns rate percent of net, rounded half up. An empty rate is no tax.
func taxOn(net currency.Amount, rate string) (currency.Amount, error) {
	if rate == "" {
		rate = "0"
	}
	tax, err := net.Mul(rate)
	if err == nil {
		tax, err = tax.Div("100")
	}
	if err != nil {
		return tax, fmt.Errorf("quote: tax rate %q is not a number of percent such as 8.25: %w", rate, err)
	}
	if tax.IsNegative() {
		return tax, fmt.Errorf("quote: tax rate %q is negative", rate)
	}
	return tax.Round(), nil
}

// lineText is how one hinge reads on a quote.
func lineText(item catalog.Item) string {
	text := item.Name
	if text == "" {
		text = "Hinge " + item.Size()
	}
	if item.Screw != "" {
		text += ", with " + item.Screw + " screws"
	}
	return text
}

// priceNotes says in plain sentences what the customer should know about the count.
func priceNotes(item catalog.Item, count, bought int, each *currency.Amount) []string {
	var notes []string
	if bought > count {
		notes = append(notes, fmt.Sprintf("Sold in multiples of %d: %d asked for, %d supplied, %d left over.",
			item.SoldIn, count, bought, bought-count))
	}
	if item.PackSize > 1 && bought%item.PackSize == 0 {
		packs := catalog.Count(bought/item.PackSize, "pack", "packs")
		notes = append(notes, fmt.Sprintf("They come as %s of %d.", packs, item.PackSize))
	}
	if each == nil {
		if next, ok := nextBreak(item, bought); ok {
			notes = append(notes, next)
		}
	}
	switch short := bought - item.OnHand; {
	case short <= 0:
	case item.LeadDays > 0:
		notes = append(notes, fmt.Sprintf("%d on hand; %s in about %s.", max(item.OnHand, 0), others(min(short, bought)), catalog.Count(item.LeadDays, "day", "days")))
	default:
		notes = append(notes, fmt.Sprintf("%d on hand; when %s is not known yet.", max(item.OnHand, 0), others(min(short, bought))))
	}
	if item.Gone {
		text := "This hinge is discontinued: what is on hand is the last of it."
		if item.ReplaceBy != "" {
			text += " Its successor is " + item.ReplaceBy + "."
		}
		notes = append(notes, text)
	}
	return notes
}

// nextBreak says so where buying up to the next price break costs less in all.
func nextBreak(item catalog.Item, bought int) (string, bool) {
	now, err := item.PriceAt(bought)
	if err != nil {
		return "", false
	}
	sum, err := now.Mul(strconv.Itoa(bought))
	if err != nil {
		return "", false
	}
	for _, b := range item.Prices {
		n := RoundToPacks(b.From, item.SoldIn)
		if n <= bought {
			continue
		}
		all, err := b.Price.Mul(strconv.Itoa(n))
		if err != nil {
			return "", false
		}
		if c, err := all.Cmp(sum); err == nil && c < 0 {
			return fmt.Sprintf("%d would cost less in all than %d: from %d on the price is %s each.",
				n, bought, b.From, b.Price), true
		}
	}
	return "", false
}

// others says that those not on hand come later.
func others(n int) string {
	if n == 1 {
		return "the other comes"
	}
	return fmt.Sprintf("the other %d come", n)
}
