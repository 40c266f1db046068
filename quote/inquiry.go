package quote

import (
	"errors"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/intake/readings"
	"leafgauge/measure"

	"github.com/bojanz/currency"
)

var (
	ErrNotFound = errors.New("not found")
	ErrStale    = errors.New("somebody changed it meanwhile")
	ErrMove     = errors.New("that step is not possible from here")
	ErrReplaced = errors.New("a newer quote stands in its place")
	ErrExpired  = errors.New("the quote's day is over")
)

// ID numbers inquiries from 1.
type ID int64

// Source is how an inquiry came in.
type Source string

const (
	FromWeb  Source = "web"
	FromAPI  Source = "api"
	FromMail Source = "mail"
)

// Contact is who asks.
type Contact struct {
	Name  string `json:"name"`
	Email string `json:"email"`
}

// An Inquiry is one customer's question.
type Inquiry struct {
	ID       ID             `json:"id"`
	Status   Status         `json:"status"`
	Revision int            `json:"revision"` // counts what is to be measured: photos, text, overrules; from 1
	Version  int            `json:"version"`  // counts every change; a stale one is refused with ErrStale
	Source   Source         `json:"source"`
	Contact  Contact        `json:"contact"`
	Text     string         `json:"text"` // what was typed, answers appended
	Door     catalog.Door   `json:"door"`
	Wishes   catalog.Wishes `json:"wishes"`
	Photos   []Photo        `json:"photos"`
	Overrule []string       `json:"overrules"` // slips that the counter overruled: "height:swapped"
	Question string         `json:"question"`  // the one put to the customer, while it waits
	// Unread: the counter must look. The customer wrote after it was quoted or closed, or it
	// came by automatic mail, which the program does not answer.
	Unread bool `json:"unread"`
	// Automatic: it came by automatic mail, so that the program sends no letter of its own (RFC 3834).
	Automatic bool      `json:"automatic"`
	KeySeed   string    `json:"-"` // the customer's key is made of it and the server's secret
	Created   time.Time `json:"created"`
	Updated   time.Time `json:"updated"`
}

// Readings is what was written, sizes and wishes, as understood. The text may be long: whoever needs
// them twice keeps them.
func (q Inquiry) Readings() measure.Readings { return readings.Inquiry(q.Text, q.Wishes.Text) }

// A Photo is one kept picture of an inquiry.
type Photo struct {
	intake.Photo           // Bytes is empty; the file is in the photo store under SHA256
	N            int       `json:"n"` // from 1
	Added        time.Time `json:"added"`
}

// A Finding is what one photo said at one revision.
type Finding struct {
	Inquiry  ID             `json:"inquiry"`
	Revision int            `json:"revision"`
	PhotoN   int            `json:"photo"`
	Result   measure.Result `json:"result"`
}

// A Proposal is the fits put to the counter at one revision.
type Proposal struct {
	Inquiry  ID                 `json:"inquiry"`
	Revision int                `json:"revision"`
	Readings measure.Readings   `json:"readings"`
	Best     measure.Best       `json:"best"`
	Door     catalog.Door       `json:"door"` // as typed in the form, filled up from the readings
	Fits     []catalog.Fit      `json:"fits"`
	Question *catalog.Question  `json:"question"`
	Advice   []catalog.Advice   `json:"advice"`
	Count    int                `json:"count"`   // hinges wanted or advised
	Counted  catalog.HingeCount `json:"counted"` // by what says so; where these disagree the counter asks
	Made     time.Time          `json:"made"`
}

// An Event is one line of an inquiry's timeline.
type Event struct {
	At   time.Time `json:"at"`
	By   Role      `json:"by"`
	Who  string    `json:"who"`  // the counter's name, or ""
	What string    `json:"what"` // received, photo added, measured, approved, …
	Text string    `json:"text"`
	From Status    `json:"from"`
	To   Status    `json:"to"`
}

// A Quote is the answer with prices.
type Quote struct {
	Number     string          `json:"number"`
	Replaces   string          `json:"replaces"`    // number of the quote that it stands in for, or ""
	ReplacedBy string          `json:"replaced_by"` // number of the one that stands in for it, or ""
	Inquiry    ID              `json:"inquiry"`
	For        string          `json:"for,omitempty"` // the customer's name
	Lines      []Line          `json:"lines"`         // the proposed hinge first
	Discount   *Discount       `json:"discount"`      // nil none
	Delivery   *Delivery       `json:"delivery"`      // nil: not delivered, or nothing was said of it
	Collection string          `json:"collection"`    // where and when it can be collected, or ""
	Net        currency.Amount `json:"net"`           // the lines less the discount, with the delivery
	TaxRate    string          `json:"tax_rate"`      // percent, such as "8.25"
	Tax        currency.Amount `json:"tax"`           // of the net sum
	Total      currency.Amount `json:"total"`
	Valid      time.Time       `json:"valid_until"`
	Made       time.Time       `json:"made"`
	By         string          `json:"by"`
	Message    string          `json:"message"` // from the counter to the customer
	Fit        catalog.Fit     `json:"fit"`     // of the first line
	Old        measure.Best    `json:"old"`
	Notes      []string        `json:"notes"` // pack rounding, lead time, how further hinges sit, what of the old hinge does not agree
	Cautions   []string        `json:"cautions"`
}

// A Line is one line of a quote.
type Line struct {
	StockNumber string          `json:"stock_number"` // "" for what is not on the stock list: screws, shims, cutting
	Text        string          `json:"text"`
	Count       int             `json:"count"`
	Asked       int             `json:"asked"` // how many were asked for: Count is rounded up to what is sold together
	Each        currency.Amount `json:"each"`
	Sum         currency.Amount `json:"sum"`
	Given       bool            `json:"price_given"` // each is the counter's, not the list's
}

// A Discount is taken off the sum of the lines.
type Discount struct {
	Percent string          `json:"percent"` // of the lines, such as "7.5"; "" where an amount was agreed
	Amount  currency.Amount `json:"amount"`  // what is taken off
	Reason  string          `json:"reason"`
}

// A Delivery is what bringing it costs, and how and when it comes.
type Delivery struct {
	Amount currency.Amount `json:"amount"`
	Text   string          `json:"text"`
}

// A Letter is one message on its way out, written in the transaction that caused it and
// sent once. Key makes it unique: "receipt:7:1", "quote:7:5", by
// the version of the inquiry that it goes with.
type Letter struct {
	ID      int64   `json:"id"`
	Key     string  `json:"key"`
	Inquiry ID      `json:"inquiry"`
	Kind    string  `json:"kind"` // receipt, retake, question, quote, declined
	To      Contact `json:"to"`
	Subject string  `json:"subject"`
	Body    string  `json:"body"`        // kept with LinkMark in it; Desk.Letters puts the link there
	Quote   string  `json:"quote"`       // number of the quote to attach as PDF, or ""
	ReplyTo string  `json:"in_reply_to"` // Message-ID that it answers, or ""
	// MessageID is the one to send it under, without angle brackets; an answer that names it
	// finds its inquiry through InquiryByMessage.
	MessageID string    `json:"message_id"`
	Made      time.Time `json:"made"`
	Sent      time.Time `json:"sent"`
}

// A User may sign in at the counter.
type User struct {
	Name  string
	Hash  string // argon2id
	Owner bool
}
