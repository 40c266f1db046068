package quote

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"leafgauge/catalog"
	"leafgauge/intake"

	"github.com/bojanz/currency"
)

const (
	maxCount = 10_000 // of one line; more is taken for a typing slip
	maxLines = 40     // of one quote
	maxWords = 200    // letters of what a line, a discount or a delivery says
)

// A price further from the list's than these shares of it is asked about (common practice, no source).
const (
	unusuallyLow  = "0.7"
	unusuallyHigh = "1.3"
)

// RoundToPacks returns the smallest multiple of soldIn that is at least count.
// A soldIn below 2 means that the hinge is sold singly.
func RoundToPacks(count, soldIn int) int {
	if soldIn < 2 {
		return count
	}
	return (count + soldIn - 1) / soldIn * soldIn
}

// ordered is one line that is to be priced, with its stock hinge; nil for what is not on the stock list.
type ordered struct {
	Wanted
	item *catalog.Item
}

// price fills in the lines, the sums and the notes on them. A stock hinge is rounded up to the
// multiple it is sold in and priced at the break that this count reaches, or at Each where it is
// not nil; what is not on the stock list is priced as it comes. The discount is taken off the
// lines, the delivery is added, and the tax is taken once, on that net sum: on the delivery too.
// Every line, the discount, the delivery, the tax and the total are rounded half up to the
// currency's own digits. The notes say what was rounded up, what is not on hand and what replaces
// a discontinued hinge.
//
// It returns *intake.InvalidError for a count, price, discount or delivery that cannot be meant,
// and a plain error where a stock hinge has no price or its price is in another currency.
func (q *Quote) price(order []ordered, a Approval, terms Terms) error {
	if len(order) > maxLines {
		return invalidLine("A quote has at most %d lines: put some of them together.", maxLines)
	}
	hinges := 0
	for _, o := range order {
		if o.item != nil {
			hinges++
		}
	}
	for i, o := range order {
		line, notes, err := o.line(terms)
		if err != nil {
			return err
		}
		again := func(l Line) bool { return l.StockNumber == line.StockNumber }
		if line.StockNumber != "" && slices.ContainsFunc(q.Lines, again) {
			return invalidLine("%s stands there twice: make it one line, so that the price for so many holds.", line.StockNumber)
		}
		if hinges > 1 {
			for n := range notes {
				notes[n] = line.StockNumber + ": " + notes[n]
			}
		}
		if i == 0 && o.item == nil {
			return invalidLine("The first line is the hinge: choose one of the stock list.")
		}
		q.Lines, q.Notes = append(q.Lines, line), append(q.Notes, notes...)
	}
	return q.addUp(a, terms)
}

func invalidLine(text string, with ...any) error {
	return &intake.InvalidError{Field: "lines", Code: "field", Text: fmt.Sprintf(text, with...)}
}

// line prices one line and says what the customer should know of it.
func (o ordered) line(terms Terms) (Line, []string, error) {
	if o.item == nil && o.Text == "" {
		return Line{}, nil, invalidLine("Say what the line is: give its stock number, or what it is in words.")
	}
	name := o.Text
	if o.item != nil {
		name = o.item.StockNumber
	}
	switch {
	case o.Count < 1 || o.Count > maxCount:
		return Line{}, nil, &intake.InvalidError{Field: "count", Code: "field", Text: fmt.Sprintf("The number of %s must lie between 1 and %d.", name, maxCount)}
	case o.item == nil && o.Each == nil:
		return Line{}, nil, invalidLine("Say what one “%s” costs: it is not on the stock list.", name)
	case len([]rune(o.Text)) > maxWords:
		return Line{}, nil, invalidLine("“%s” is too long for a line of a quote: keep to %d letters.", short(o.Text), maxWords)
	}
	line := Line{Text: o.Text, Count: o.Count, Asked: o.Count, Given: o.Each != nil}
	if o.item != nil {
		line.StockNumber, line.Text, line.Count = o.item.StockNumber, lineText(*o.item), RoundToPacks(o.Count, o.item.SoldIn)
	}
	if o.Each != nil {
		line.Each = *o.Each
	} else {
		var err error
		if line.Each, err = o.item.PriceAt(line.Count); err != nil {
			return line, nil, err
		}
	}
	if line.Each.CurrencyCode() != terms.Currency {
		return line, nil, fmt.Errorf("quote: %s is priced in %s, the shop sells in %s: correct the stock list or the shop's currency",
			name, line.Each.CurrencyCode(), terms.Currency)
	}
	if line.Each.IsNegative() {
		return line, nil, &intake.InvalidError{Field: "each", Code: "field", Text: lessThanNothing}
	}
	sum, err := line.Each.Mul(strconv.Itoa(line.Count))
	if err != nil {
		return line, nil, fmt.Errorf("quote: price of %s: %w", name, err)
	}
	line.Sum = sum.Round()
	if o.item == nil {
		return line, nil, nil
	}
	return line, priceNotes(*o.item, o.Count, line.Count, o.Each), nil
}

const lessThanNothing = "A price cannot be less than nothing."

// addUp takes the discount off the lines, adds the delivery and takes the tax.
func (q *Quote) addUp(a Approval, terms Terms) error {
	net, err := q.goods(terms.Currency)
	if err != nil {
		return err
	}
	if q.Discount, err = discount(a.Discount, net); err != nil {
		return err
	}
	if q.Discount != nil {
		if net, err = net.Sub(q.Discount.Amount); err != nil {
			return fmt.Errorf("quote: discount: %w", err)
		}
	}
	if a.Delivery != nil {
		given := *a.Delivery
		switch given.Text, err = words("delivery_text", given.Text); {
		case err != nil:
			return err
		case given.Amount.IsNegative():
			return &intake.InvalidError{Field: "delivery", Code: "field", Text: lessThanNothing}
		case a.Collection != "":
			return &intake.InvalidError{Field: "collection", Code: "field", Text: "It is either delivered or collected: empty one of the two."}
		}
		given.Amount = given.Amount.Round()
		q.Delivery = &given
		if net, err = net.Add(given.Amount); err != nil {
			return fmt.Errorf("quote: delivery: %w", err)
		}
	}
	if q.Collection, err = words("collection", a.Collection); err != nil {
		return err
	}
	if q.Collection != "" {
		q.Notes = append(q.Notes, "To be collected: "+q.Collection)
	}
	q.Net, q.TaxRate = net, terms.TaxRate
	if q.Tax, err = taxOn(net, terms.TaxRate); err != nil {
		return err
	}
	if q.Total, err = net.Add(q.Tax); err != nil {
		return fmt.Errorf("quote: total: %w", err)
	}
	return nil
}

// words is what the counter says of a line of the quote.
func words(field, text string) (string, error) {
	if text = oneLine(text); len([]rune(text)) > maxWords {
		return "", &intake.InvalidError{Field: field, Code: "field", Text: fmt.Sprintf("Keep it to %d letters: longer words go into the message.", maxWords)}
	}
	return text, nil
}

// goods is the sum of the lines, in the currency of that code.
func (q Quote) goods(code string) (currency.Amount, error) {
	sum, err := currency.NewAmount("0", code)
	if err != nil {
		return sum, fmt.Errorf("quote: shop's currency: %w", err)
	}
	for _, l := range q.Lines {
		if sum, err = sum.Add(l.Sum); err != nil {
			return sum, fmt.Errorf("quote: line %s: %w", l.StockNumber, err)
		}
	}
	return sum.Round(), nil
}

// discount works out what is taken off goods; nil where that is nothing.
func discount(given *Discount, goods currency.Amount) (*Discount, error) {
	if given == nil {
		return nil, nil
	}
	d := *given
	var err error
	if d.Reason, err = words("discount_reason", d.Reason); err != nil {
		return nil, err
	}
	if d.Percent != "" {
		d.Amount, err = goods.Mul(d.Percent)
		if err == nil {
			d.Amount, err = d.Amount.Div("100")
		}
		if err != nil {
			return nil, fmt.Errorf("quote: discount of %q percent: %w", d.Percent, err)
		}
	}
	d.Amount = d.Amount.Round()
	switch over, err := d.Amount.Cmp(goods); {
	case err != nil:
		return nil, fmt.Errorf("quote: discount: %w", err)
	case d.Amount.IsNegative():
		return nil, &intake.InvalidError{Field: "discount", Code: "field", Text: "A discount cannot be less than nothing."}
	case over > 0:
		return nil, &intake.InvalidError{Field: "discount", Code: "field", Text: fmt.Sprintf("The discount of %s is more than all that it is taken off, %s.", Money(d.Amount), Money(goods))}
	case d.Amount.IsZero():
		return nil, nil
	}
	return &d, nil
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

// A Sum is one row of money below the lines of a quote.
type Sum struct {
	Name   string
	Amount currency.Amount // below nothing for what is taken off
	Total  bool
}

// Sums are the rows between the lines of a quote and what is to pay, which is the last: letter,
// page and PDF show these. The sum of the lines, discount, delivery and tax make up the total.
func (q Quote) Sums() []Sum {
	var all []Sum
	add := func(name, says string, amount currency.Amount) {
		if says != "" {
			name += " (" + says + ")"
		}
		all = append(all, Sum{Name: name, Amount: amount})
	}
	if q.Discount != nil || q.Delivery != nil {
		goods, err := q.goods(q.Net.CurrencyCode())
		if err == nil { // else there are no lines that anybody could add up
			add("Sum of the lines", "", goods)
		}
	}
	if d := q.Discount; d != nil {
		name := "Discount"
		if d.Percent != "" {
			name += " " + d.Percent + " %"
		}
		less, err := d.Amount.Mul("-1")
		if err == nil { // -1 is a number
			add(name, d.Reason, less)
		}
	}
	if d := q.Delivery; d != nil {
		add("Delivery", d.Text, d.Amount)
	}
	if !q.Tax.IsZero() {
		add("Before tax", "", q.Net)
		add("Tax "+q.TaxRate+" %", "", q.Tax)
	}
	return append(all, Sum{"To pay", q.Total, true})
}

// unusual says, a sentence each, which prices of the quote nobody would offer without meaning to:
// nothing at all, or far from the list price once the discount is taken off.
func (q Quote) unusual(order []ordered) ([]string, error) {
	goods, err := q.goods(q.Net.CurrencyCode())
	if err != nil {
		return nil, err
	}
	left, off := goods, ""
	if q.Discount != nil {
		off = " with the discount"
		if left, err = goods.Sub(q.Discount.Amount); err != nil {
			return nil, fmt.Errorf("quote: discount: %w", err)
		}
	}
	var all []string
	for i, l := range q.Lines {
		name := l.StockNumber
		if name == "" {
			name = "“" + l.Text + "”"
		}
		if l.Each.IsZero() || left.IsZero() {
			all = append(all, name+" costs nothing"+off+".")
			continue
		}
		if order[i].item == nil {
			continue
		}
		list, err := order[i].item.PriceAt(l.Count)
		if err != nil || list.IsZero() {
			continue // nothing to compare with
		}
		low, err1 := isLess(l.Each, left, list, goods, unusuallyLow)
		notHigh, err2 := isLess(l.Each, left, list, goods, unusuallyHigh)
		switch {
		case errors.Join(err1, err2) != nil:
			return nil, fmt.Errorf("quote: price of %s: %w", name, errors.Join(err1, err2))
		case low:
			all = append(all, fmt.Sprintf("%s at %s%s is more than 30 %% below its list price, %s.", name, Money(l.Each), off, Money(list)))
		case !notHigh:
			all = append(all, fmt.Sprintf("%s at %s%s is more than 30 %% above its list price, %s.", name, Money(l.Each), off, Money(list)))
		}
	}
	return all, nil
}

// isLess reports whether each × left / goods is below share of list, or for a share above 1 not
// above it, without dividing.
func isLess(each, left, list, goods currency.Amount, share string) (bool, error) {
	paid, err := each.Mul(left.Number())
	if err != nil {
		return false, err
	}
	if list, err = list.Mul(goods.Number()); err == nil {
		list, err = list.Mul(share)
	}
	if err != nil {
		return false, err
	}
	c, err := paid.Cmp(list)
	return c < 0 || c == 0 && share == unusuallyHigh, err
}

// amountText is a typed amount of money without its currency.
var amountText = regexp.MustCompile(`^(\d*)(?:[.,](\d+))?$`)

// ParseMoney reads an amount as people type it: "4.50", "4,5", "$4.50", "4.50 USD". It returns
// *intake.InvalidError, without its field, for another currency, for less than nothing, and for
// what is no plain number of at most seven digits with no more behind the point than the currency has.
func ParseMoney(text, code string) (currency.Amount, error) {
	typed := strings.TrimSpace(text)
	refuse := func(why string) (currency.Amount, error) {
		return currency.Amount{}, &intake.InvalidError{Code: "field", Text: fmt.Sprintf("The price “%s” %s", short(typed), why)}
	}
	digits, _ := currency.GetDigits(code)
	plain := "4.50"
	if digits == 0 {
		plain = "450"
	}
	number := typed
	for _, sign := range signs(code) {
		if rest, ok := cutFold(number, sign); ok {
			number = rest
			break
		}
	}
	m := amountText.FindStringSubmatch(number)
	switch {
	case strings.HasPrefix(number, "-"), strings.HasPrefix(number, "−"):
		return refuse("is less than nothing. Write it like " + plain + ".")
	case m == nil || m[1]+m[2] == "":
		return refuse("is not an amount in " + code + ". Write it like " + plain + ".")
	case len(m[2]) > int(digits):
		return refuse(fmt.Sprintf("has too many digits behind the point: %s has %d. Write it like %s, and thousands without a mark.", code, digits, plain))
	case len(m[1]) > 7:
		return refuse("has too many digits. Write it like " + plain + ".")
	}
	whole := m[1]
	if whole == "" {
		whole = "0"
	}
	if m[2] != "" {
		whole += "." + m[2]
	}
	a, err := currency.NewAmount(whole, code)
	if err != nil {
		return a, fmt.Errorf("quote: shop's currency: %w", err)
	}
	return a, nil
}

// short is the beginning of what was typed, to name it by.
func short(text string) string {
	if r := []rune(text); len(r) > 24 {
		return string(r[:24]) + " …"
	}
	return text
}

// signs are what people write beside an amount in a currency: its code, its symbol and, for any
// dollar, the plain sign.
func signs(code string) []string {
	all := []string{code}
	if symbol, ok := currency.GetSymbol(code, currency.NewLocale("en")); ok {
		all = append(all, symbol)
		if strings.HasSuffix(symbol, "$") {
			all = append(all, "$")
		}
	}
	return all
}

// cutFold takes sign from the front or the end of text, in small letters or capitals.
func cutFold(text, sign string) (string, bool) {
	at := len(text) - len(sign)
	switch {
	case at < 0:
	case strings.EqualFold(text[:len(sign)], sign):
		return strings.TrimSpace(text[len(sign):]), true
	case strings.EqualFold(text[at:], sign):
		return strings.TrimSpace(text[:at]), true
	}
	return text, false
}

var percentText = regexp.MustCompile(`^(\d{1,3})(?:[.,](\d{1,2}))? *%$`)

// ParseDiscount reads "10 %" or "5.00". It returns nil for none, and *intake.InvalidError for
// what is neither.
func ParseDiscount(text, code string) (*Discount, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return nil, nil
	}
	if !strings.HasSuffix(text, "%") {
		amount, err := ParseMoney(text, code)
		return &Discount{Amount: amount}, err
	}
	m := percentText.FindStringSubmatch(text)
	if m == nil {
		return nil, &intake.InvalidError{Code: "field", Text: "The discount “" + short(text) + "” is not a number of percent. Write it like 10 % or 7.5 %, or as an amount."}
	}
	percent := m[1]
	if m[2] != "" {
		percent += "." + m[2]
	}
	if p, err := strconv.ParseFloat(percent, 64); err != nil || p > 100 {
		return nil, &intake.InvalidError{Code: "field", Text: "A discount is at most 100 %."}
	}
	return &Discount{Percent: percent}, nil
}

// lineText is how one hinge reads on a quote.
func lineText(item catalog.Item) string {
	text := item.Name
	if text == "" {
		text = "Hinge " + item.Size()
	}
	if item.Height > 0 && item.OpenWidth > 0 && !strings.Contains(text, " mm") {
		text += fmt.Sprintf(" (%s × %s mm)", item.Height.Tenths(), item.OpenWidth.Tenths())
	}
	if item.Screw != "" {
		text += ", with " + catalog.ScrewText(item.Screw) + " screws"
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
