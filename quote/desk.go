package quote

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"

	"github.com/bojanz/currency"
)

// A Repository keeps inquiries, stock and users.
type Repository interface {
	// Create writes a new inquiry with all that compose returns for its ID, in one transaction.
	// keyHash is the SHA-256 of the customer's secret key. A second call with the same
	// non-empty once token writes nothing and returns the first inquiry with again = true.
	Create(ctx context.Context, keyHash []byte, once string, compose func(ID) Change) (made Inquiry, again bool, err error)
	// Change loads one inquiry under a lock, asks decide what to write, and writes it in the
	// same transaction. An error from decide rolls back and is returned as it is.
	Change(ctx context.Context, id ID, decide func(Dossier) (Change, error)) (Inquiry, error)

	Inquiry(ctx context.Context, id ID) (Inquiry, error)               // ErrNotFound
	InquiryByKey(ctx context.Context, keyHash []byte) (Inquiry, error) // ErrNotFound
	InquiryByMessage(ctx context.Context, messageIDs []string) (Inquiry, error)
	Dossier(ctx context.Context, id ID) (Dossier, error)
	List(ctx context.Context, f Filter) ([]Summary, int, error)
	QuoteByNumber(ctx context.Context, number string) (Quote, error)
	// Tallies returns Dossier.Tally of each of the newest inquiries, and how many there are in all.
	Tallies(ctx context.Context, newest int) (tallies []Tally, total int, err error)

	Intentions(ctx context.Context, madeBefore time.Time, limit int) ([]Intention, error)
	Letters(ctx context.Context, limit int) ([]Letter, error) // not yet sent, oldest first; send them by Desk.Letters
	LetterSent(ctx context.Context, id int64, at time.Time) error

	PutStock(ctx context.Context, items []catalog.Item) (added, changed int, err error)
	Stock(ctx context.Context) ([]catalog.Item, error)
	StockItem(ctx context.Context, number string) (catalog.Item, error)

	PutUser(ctx context.Context, u User) error
	User(ctx context.Context, name string) (User, error)
	Setting(ctx context.Context, name string) (string, error) // "" when unset
	PutSetting(ctx context.Context, name, value string) error
	// KeepSetting writes value unless name is set already, and returns what is kept.
	KeepSetting(ctx context.Context, name, value string) (kept string, err error)
}

// PhotoStore keeps picture files under their SHA-256. Put returns only when the bytes are
// safe on disk or in the bucket; putting the same bytes twice is harmless.
type PhotoStore interface {
	Put(ctx context.Context, sha256 string, data []byte) error
	Get(ctx context.Context, sha256 string) ([]byte, error) // ErrNotFound
}

// A Change is everything that one act writes, in one transaction.
type Change struct {
	Inquiry  Inquiry   // as it shall be; Version is raised by the repository
	Measure  bool      // write the intention to measure Inquiry.Revision
	Settled  int       // intentions up to this revision are fulfilled or overtaken; 0 none
	Photos   []Photo   // added
	Findings []Finding // replaces those of their (revision, photo)
	Proposal *Proposal // replaces that of its revision
	Quote    *Quote    // added
	Former   *Quote    // one that is there, as it stands now: replaced by Quote, or good for longer
	Events   []Event   // added
	Letters  []Letter  // added; a Key that is there already is left alone
	Messages []string  // e-mail Message-IDs that belong to this inquiry from now on
}

// LinkMark stands in a kept letter where the customer's secret link goes.
const LinkMark = "{customer's link}"

// An Intention is a revision that is to be measured and is not yet.
type Intention struct {
	Inquiry  ID
	Revision int
	Made     time.Time
}

// A Dossier is one inquiry with all that belongs to it.
type Dossier struct {
	Inquiry  Inquiry   `json:"inquiry"`
	Findings []Finding `json:"findings"` // of the newest measured revision
	Proposal *Proposal `json:"proposal"` // newest
	Quotes   []Quote   `json:"quotes"`   // newest first
	Events   []Event   `json:"events"`   // oldest first
	Letters  []Letter  `json:"letters"`  // oldest first
}

// A Filter picks inquiries for a list.
type Filter struct {
	Statuses []Status // none: all open ones
	All      bool     // closed ones too
	Search   string   // in name, e-mail, typed text, stock number, inquiry number
	Turn     Role     // whose move it is; "" any
	Sort     Sort     // "" is SortAge
	Limit    int      // 0: 50
	Offset   int
}

// Sort is an order of a list of inquiries.
type Sort string

const (
	SortAge     Sort = "age"     // oldest first
	SortNewest  Sort = "newest"  // newest first
	SortUpdated Sort = "updated" // latest change first
	SortStatus  Sort = "status"  // in the order of an inquiry's life, then oldest first
)

// Sorts lists every Sort, the default first.
var Sorts = []Sort{SortAge, SortNewest, SortUpdated, SortStatus}

// ParseSort returns the Sort of that name, SortAge for none, or *intake.InvalidError.
func ParseSort(name string) (Sort, error) {
	s := cmp.Or(Sort(name), SortAge)
	if !slices.Contains(Sorts, s) {
		return "", &intake.InvalidError{Field: "sort", Code: "unknown_sort", Text: "Sort by age, newest, updated or status."}
	}
	return s, nil
}

// A Summary is one line of a list.
type Summary struct {
	Inquiry
	Best  string  `json:"best"`  // nominal size, or ""
	Top   string  `json:"top"`   // stock number of the first fit
	Fit   string  `json:"fit"`   // its verdict
	P     float64 `json:"p"`     // its probability
	Turn  Role    `json:"turn"`  // whose move it is
	Total string  `json:"total"` // of the newest quote
}

// Turn says whose move it is in a status; "" when nobody's.
func (s Status) Turn() Role {
	switch s {
	case Received, Measuring, Approved:
		return ByProgram
	case NeedsPhoto, NeedsAnswer, Quoted:
		return ByCustomer
	case Ready, Stuck:
		return ByCounter
	}
	return ""
}

// Turn says whose move it is: the counter's too where the customer wrote unasked.
func (q Inquiry) Turn() Role {
	if q.Unread {
		return ByCounter
	}
	return q.Status.Turn()
}

// Terms are the shop's own: its name, money and tax.
type Terms struct {
	Shop      string // name on pages, letters and quotes
	Currency  string // ISO 4217
	TaxRate   string // percent
	ValidDays int
	BaseURL   string // for links in letters, such as http://127.0.0.1:8080
	From      Contact
}

// A Submission is one question as it came in, photos admitted.
type Submission struct {
	Source    Source
	Contact   Contact
	Text      string
	Door      catalog.Door
	Wishes    catalog.Wishes
	Photos    []intake.Photo
	Once      string // Idempotency-Key or Message-ID; "" none
	MessageID string // of the e-mail it came in, or ""
	Automatic bool   // the mail was an automatic one: the program answers nothing (RFC 3834)
}

// A Receipt is what the sender gets once everything is safe.
type Receipt struct {
	Inquiry Inquiry `json:"inquiry"`
	Key     string  `json:"key"` // secret; only its hash is kept. Same Once, same Key.
	Link    string  `json:"link"`
	Again   bool    `json:"again"` // the same submission had come before
}

// An Approval is what the counter decided to offer.
type Approval struct {
	StockNumber string // of the proposed hinge
	Count       int
	Each        *currency.Amount // nil: the list price
	More        []Wanted         // what comes with it
	Discount    *Discount        // its Percent, or else its Amount
	Delivery    *Delivery
	Collection  string
	Message     string
	Confirmed   bool // the counter was asked about an unusual price and stands by it
	// ConfirmedAgainst: the counter stands by a hinge that goes against what the customer said.
	ConfirmedAgainst bool
}

// A Wanted is one line that the counter offers: a hinge of the stock list, or what Text says.
type Wanted struct {
	StockNumber string
	Text        string
	Count       int
	Each        *currency.Amount // nil: the list price
}

// A Decision is whether a quote is taken.
type Decision struct {
	Quote string // number of the quote that was seen; "" the newest
	Won   bool
	Why   string
}

// A Desk is where inquiries are worked on: every act of customer, counter and program.
// Each method checks the move, writes everything in one transaction, and returns ErrMove,
// ErrStale, ErrNotFound or *intake.InvalidError where that is what went wrong.
type Desk struct {
	repo   Repository
	photos PhotoStore
	terms  Terms
	now    func() time.Time
}

// NewDesk returns a desk. now gives the current time.
func NewDesk(repo Repository, photos PhotoStore, terms Terms, now func() time.Time) *Desk {
	// A database keeps microseconds.
	return &Desk{repo, photos, terms, func() time.Time { return now().UTC().Truncate(time.Microsecond) }}
}

// Terms returns the shop's own terms.
func (d *Desk) Terms() Terms { return d.terms }

// Dossier returns one inquiry with all that belongs to it.
func (d *Desk) Dossier(ctx context.Context, id ID) (Dossier, error) {
	return d.repo.Dossier(ctx, id)
}

// List returns one page of inquiries and how many there are in all.
func (d *Desk) List(ctx context.Context, f Filter) ([]Summary, int, error) {
	return d.repo.List(ctx, f)
}

// PhotoBytes returns a kept photo's file.
func (d *Desk) PhotoBytes(ctx context.Context, sha256 string) ([]byte, error) {
	return d.photos.Get(ctx, sha256)
}

// ByMessage returns the inquiry that an e-mail answers: that of the last of messageIDs that
// is known, or ErrNotFound.
func (d *Desk) ByMessage(ctx context.Context, messageIDs []string) (Inquiry, error) {
	return d.repo.InquiryByMessage(ctx, messageIDs)
}

// QuoteByNumber returns one quote, or ErrNotFound.
func (d *Desk) QuoteByNumber(ctx context.Context, number string) (Quote, error) {
	return d.repo.QuoteByNumber(ctx, number)
}

// Stock returns all stock hinges.
func (d *Desk) Stock(ctx context.Context) ([]catalog.Item, error) { return d.repo.Stock(ctx) }

// errNothing makes Change write nothing: what was to be done is done already.
var errNothing = errors.New("nothing to do")

// change lets decide fill in a Change of the inquiry as it stands. Where decide returns
// errNothing, the inquiry is returned as it stands.
func (d *Desk) change(ctx context.Context, id ID, decide func(do Dossier, c *Change) error) (Inquiry, error) {
	var stands Inquiry
	q, err := d.repo.Change(ctx, id, func(do Dossier) (Change, error) {
		stands = do.Inquiry
		c := Change{Inquiry: do.Inquiry}
		c.Inquiry.Updated = d.now()
		err := decide(do, &c)
		return c, err
	})
	if errors.Is(err, errNothing) {
		return stands, nil
	}
	return q, err
}

// move changes the status and notes it in the timeline, or returns ErrMove.
func (d *Desk) move(c *Change, to Status, by Role, who, what, text string) error {
	from := c.Inquiry.Status
	if !May(from, to, by) {
		return fmt.Errorf("inquiry %d from %s to %s by %s: %w", c.Inquiry.ID, from, to, by, ErrMove)
	}
	c.Inquiry.Status = to
	if to != Measuring && to != Received {
		c.Settled = c.Inquiry.Revision // what was still to be measured, is no more
	}
	if by == ByCounter {
		c.Inquiry.Unread = false
	}
	c.Events = append(c.Events, Event{At: c.Inquiry.Updated, By: by, Who: who, What: what, Text: text, From: from, To: to})
	return nil
}

// note writes a line into the timeline without a change of status.
func note(c *Change, by Role, who, what, text string) {
	s := c.Inquiry.Status
	c.Events = append(c.Events, Event{At: c.Inquiry.Updated, By: by, Who: who, What: what, Text: text, From: s, To: s})
}

// measureAgain raises the revision and writes the intention to measure it.
func (d *Desk) measureAgain(c *Change, by Role, who, what, text string) error {
	to := Measuring
	if c.Inquiry.Status == Received {
		to = Received // the first measuring has not begun
	}
	if err := d.move(c, to, by, who, what, text); err != nil {
		return err
	}
	c.Inquiry.Revision++
	c.Inquiry.Question = ""
	c.Measure = true
	return nil
}
