package worker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"leafgauge/quote"
)

// Intentions is what the Relay reads: the revisions that are to be measured and are not yet.
type Intentions interface {
	Intentions(ctx context.Context, madeBefore time.Time, limit int) ([]quote.Intention, error)
}

// Failer is told of a revision whose every job has come to nothing.
type Failer interface {
	Fail(ctx context.Context, id quote.ID, revision int, cause string) error
}

// A Relay keeps the queue filled with what the database says is still to be measured. It
// puts an intention as soon as it sees it, and looks again after a while for as long as it
// is not fulfilled: a queue that lost the job gets it again, a job that ended without a
// result or is stuck gets a successor. Several relays may run side by side.
type Relay struct {
	intentions Intentions
	failer     Failer
	queue      *Queue
	opt        RelayOptions
	held       map[job]*holding
}

// RelayOptions are the Relay's times; a zero one takes its default.
type RelayOptions struct {
	Every    time.Duration    // between looks into the database: 200 ms
	Patience time.Duration    // until an unfulfilled intention is looked at again: 5 s
	Stalled  time.Duration    // how long a job may be seen active: its timeout and a minute
	Now      func() time.Time // time.Now
	Log      *slog.Logger
}

// holding is what the Relay knows of one intention that it has put.
type holding struct {
	attempt int
	looked  time.Time // when it was last put or looked at
	active  time.Time // since when its job is seen active; zero: it is not
}

const (
	// relayBatch is how many intentions are looked at in one go.
	relayBatch = 1000
	// maxAttempts is how many jobs one intention gets, each with all its retries, before it
	// is given up: a picture that kills its worker must not go round for ever.
	maxAttempts = 3
	// clockSkew is how far the clocks of two machines may differ without delaying a job.
	clockSkew = time.Minute
)

// NewRelay returns a Relay between a database and a queue.
func NewRelay(intentions Intentions, failer Failer, queue *Queue, opt RelayOptions) *Relay {
	if opt.Every == 0 {
		opt.Every = 200 * time.Millisecond
	}
	if opt.Patience == 0 {
		opt.Patience = 5 * time.Second
	}
	if opt.Stalled == 0 {
		opt.Stalled = measureTimeout + time.Minute
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	return &Relay{intentions, failer, queue, opt, map[job]*holding{}}
}

// Run works until ctx ends. An outage of database or queue is logged once and waited out.
func (r *Relay) Run(ctx context.Context) {
	repeat(ctx, r.opt.Every, r.opt.Log, "relay", r.pass)
}

// pass looks once at everything that is to be measured.
func (r *Relay) pass(ctx context.Context) error {
	now := r.opt.Now()
	list, err := r.intentions.Intentions(ctx, now.Add(clockSkew), relayBatch)
	if err != nil {
		return fmt.Errorf("read what is to be measured: %w", err)
	}
	open := make(map[job]bool, len(list))
	for _, i := range list {
		j := job{i.Inquiry, i.Revision}
		open[j] = true
		h := r.held[j]
		if h == nil {
			h = &holding{attempt: 1}
		} else if now.Sub(h.looked) < r.opt.Patience {
			continue
		}
		if err := r.ensure(ctx, j, h); err != nil {
			return fmt.Errorf("inquiry %d: %w", j.Inquiry, err)
		}
		h.looked = now
		r.held[j] = h
	}
	for j := range r.held {
		if !open[j] {
			delete(r.held, j)
		}
	}
	return nil
}

// ensure sees to it that a job of j is in the queue and alive.
func (r *Relay) ensure(ctx context.Context, j job, h *holding) error {
	for ; h.attempt <= maxAttempts; h.attempt++ {
		state, err := r.queue.put(ctx, j, h.attempt)
		if err != nil {
			return fmt.Errorf("put into the queue: %w", err)
		}
		switch {
		case state == "archived", state == "completed": // and yet there is no result
		case state == "active" && h.active.IsZero():
			h.active = r.opt.Now()
			return nil
		case state == "active" && r.opt.Now().Sub(h.active) >= r.opt.Stalled: // its worker is gone
		case state == "active":
			return nil
		default: // put now, waiting already, or ended this moment
			h.active = time.Time{}
			return nil
		}
		h.active = time.Time{}
		r.opt.Log.Warn("a job came to nothing and is put again", "inquiry", j.Inquiry, "revision", j.Revision, "was", state)
	}
	err := r.failer.Fail(ctx, j.Inquiry, j.Revision, "measuring was tried again and again and never came to an end")
	if errors.Is(err, quote.ErrStale) {
		return nil
	}
	return err
}

// repeat calls f until ctx ends, every so often, and less often while it fails. A failure is
// logged when it begins and when it ends.
func repeat(ctx context.Context, every time.Duration, log *slog.Logger, who string, f func(context.Context) error) {
	failing := false
	for {
		err := f(ctx)
		if ctx.Err() != nil {
			return
		}
		pause := every
		switch {
		case err != nil:
			if !failing {
				log.Error(who+" waits: "+err.Error(), "cause", err)
			}
			pause = max(every, time.Second)
		case failing:
			log.Info(who + " works again")
		}
		failing = err != nil
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
	}
}
