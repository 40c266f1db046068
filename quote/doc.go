// Package quote is the inquiry and its life: states, proposal, review, counts and prices,
// the quote. It knows no database, queue or HTTP.
package quote
