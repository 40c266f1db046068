package api

import (
	"context"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/quote"
)

// A Doorman admits the photos that come in; intake.Doorman is one.
type Doorman interface {
	Admit(name string, data []byte) (intake.Photo, error)
}

// A Desk is what the handlers call; *quote.Desk is one.
type Desk interface {
	Receive(ctx context.Context, s quote.Submission) (quote.Receipt, error)
	ByKey(ctx context.Context, key string) (quote.Dossier, error)
	Add(ctx context.Context, id quote.ID, by quote.Role, who string, photos []intake.Photo, text, messageID string) (quote.Inquiry, error)
	Dossier(ctx context.Context, id quote.ID) (quote.Dossier, error)
	List(ctx context.Context, f quote.Filter) ([]quote.Summary, int, error)
	PhotoBytes(ctx context.Context, sha256 string) ([]byte, error)
	Stock(ctx context.Context) ([]catalog.Item, error)
	Figures(ctx context.Context) (quote.Figures, error)
	SignIn(ctx context.Context, name, password string) (quote.User, error)

	Price(ctx context.Context, id quote.ID, a quote.Approval) (quote.Quote, error)
	Approve(ctx context.Context, id quote.ID, version int, who string, a quote.Approval) (quote.Quote, error)
	Revise(ctx context.Context, id quote.ID, version int, who string, a quote.Approval) (quote.Quote, error)
	Resend(ctx context.Context, id quote.ID, version int, who string) error
	Extend(ctx context.Context, id quote.ID, version int, who string, until time.Time, message string) error
	AskPhoto(ctx context.Context, id quote.ID, version int, who, message string) error
	AskQuestion(ctx context.Context, id quote.ID, version int, who, question string) error
	Decline(ctx context.Context, id quote.ID, version int, who, message string) error
	Withdraw(ctx context.Context, id quote.ID, by quote.Role, who string) error
	Decide(ctx context.Context, id quote.ID, by quote.Role, who string, dec quote.Decision) error
	Overrule(ctx context.Context, id quote.ID, version int, who, slip string, overrule bool) error
	Note(ctx context.Context, id quote.ID, who, text string) error
}
