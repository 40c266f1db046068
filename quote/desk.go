package quote

import (
	"context"
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
	Sort     string   // "age" (oldest first, the default), "newest", "updated", "status"
	Limit    int      // 0: 50
	Offset   int
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
	Automatic bool   // the mail was an automatic one: nothing is answered (RFC 3834)
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
	StockNumber string
	Count       int
	Each        *currency.Amount // nil: the list price
	Message     string
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
	return &Desk{repo, photos, terms, now}
}

// Receive takes in a new question. It returns only after everything is on disk.
func (d *Desk) Receive(ctx context.Context, s Submission) (Receipt, error) {
	return Receipt{}, errNotBuilt
}

// ByKey returns the dossier behind a customer's secret link.
func (d *Desk) ByKey(ctx context.Context, key string) (Dossier, error) {
	return Dossier{}, errNotBuilt
}

// Add adds photos and text (an answer, a further reading) to an inquiry, which is then
// measured again at the next revision.
func (d *Desk) Add(ctx context.Context, id ID, by Role, who string, photos []intake.Photo, text, messageID string) (Inquiry, error) {
	return Inquiry{}, errNotBuilt
}

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

// Price works out the quote of an approval without writing anything.
func (d *Desk) Price(ctx context.Context, id ID, a Approval) (Quote, error) {
	return Quote{}, errNotBuilt
}

// Approve makes the quote and sends it. version is the one that the counter saw.
func (d *Desk) Approve(ctx context.Context, id ID, version int, who string, a Approval) (Quote, error) {
	return Quote{}, errNotBuilt
}

// AskPhoto asks the customer for another photo.
func (d *Desk) AskPhoto(ctx context.Context, id ID, version int, who, message string) error {
	return errNotBuilt
}

// AskQuestion asks the customer one question.
func (d *Desk) AskQuestion(ctx context.Context, id ID, version int, who, question string) error {
	return errNotBuilt
}

// Decline tells the customer that the shop cannot help, and why.
func (d *Desk) Decline(ctx context.Context, id ID, version int, who, message string) error {
	return errNotBuilt
}

// Withdraw closes an inquiry on the customer's wish.
func (d *Desk) Withdraw(ctx context.Context, id ID, by Role, who string) error { return errNotBuilt }

// Decide records whether a quote was taken.
func (d *Desk) Decide(ctx context.Context, id ID, by Role, who string, won bool, why string) error {
	return errNotBuilt
}

// Overrule accepts or overrules a suggested slip ("height:swapped") and measures again.
func (d *Desk) Overrule(ctx context.Context, id ID, version int, who, slip string, overrule bool) error {
	return errNotBuilt
}

// Note writes a remark into the timeline.
func (d *Desk) Note(ctx context.Context, id ID, who, text string) error { return errNotBuilt }

// Start begins measuring one revision: it moves the inquiry to Measuring and returns it.
// ErrStale means that the revision is measured already, was overtaken, or is closed.
func (d *Desk) Start(ctx context.Context, id ID, revision int) (Inquiry, error) {
	return Inquiry{}, errNotBuilt
}

// Finish takes the findings of one revision, reconciles, ranks, and writes the proposal,
// the retake request or the question. Doing it twice is harmless (ErrStale).
func (d *Desk) Finish(ctx context.Context, id ID, revision int, findings []Finding) error {
	return errNotBuilt
}

// Fail marks an inquiry stuck: its job has failed for good.
func (d *Desk) Fail(ctx context.Context, id ID, revision int, cause string) error {
	return errNotBuilt
}

// SignIn checks a user's password. ErrNotFound covers both a wrong name and a wrong password.
func (d *Desk) SignIn(ctx context.Context, name, password string) (User, error) {
	return User{}, errNotBuilt
}

// AddUser adds a user or sets a new password.
func (d *Desk) AddUser(ctx context.Context, name, password string, owner bool) error {
	return errNotBuilt
}
