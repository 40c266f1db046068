package quote

import (
	"time"

	"github.com/bojanz/currency"
)

// Money writes an amount as "$12.40".
func Money(a currency.Amount) string {
	return currency.NewFormatter(currency.NewLocale("en")).Format(a)
}

// Day writes a date as "2 January 2006".
func Day(t time.Time) string { return t.Format("2 January 2006") }
