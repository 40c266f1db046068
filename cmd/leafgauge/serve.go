package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"leafgauge/api"
	"leafgauge/intake"
	"leafgauge/paper"
	"leafgauge/quote"
	"leafgauge/store"
	"leafgauge/worker"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/redis/go-redis/v9"
)

type serveCmd struct {
	Config `embed:""`
	Demo   string `hidden:"" help:"Load the demo stock and send the demo inquiry from this folder." placeholder:"DIR"`
}

func (serveCmd) Help() string {
	return `Runs API, pages, mail and workers in one process, or one part of it with --role.
Without any setting everything is kept under ./data and nothing else needs to be installed.

Example:
  leafgauge serve
  LEAFGAUGE_DATABASE_URL=postgres://… LEAFGAUGE_REDIS_URL=redis://… leafgauge serve --role worker`
}

// Run serves until it is told to stop.
func (c serveCmd) Run(s streams) error {
	log := slog.New(slog.NewTextHandler(s.err, &slog.HandlerOptions{Level: slog.LevelInfo}))
	redis.SetLogger(redisLog{log}) // it would write past the log otherwise
	p, err := start(s.ctx, c.Config, log)
	if err != nil {
		return err
	}
	defer p.stop()
	c.print(s.out)
	if p.base != "" {
		fmt.Fprintf(s.out, "\nOpen %s\n", p.base)
	}
	if c.Demo != "" {
		if err := demo(s, p, c.Demo); err != nil && s.ctx.Err() == nil {
			return err
		}
	}
	fmt.Fprintln(s.out, "Ctrl-C stops it.")
	select {
	case <-s.ctx.Done():
		fmt.Fprintln(s.out, "Stopping: work under way is finished first.")
		return nil
	case err := <-p.failed:
		return err
	}
}

// redisLog keeps what the connection to Redis says; what comes of it is logged by its user.
type redisLog struct{ log *slog.Logger }

func (l redisLog) Printf(ctx context.Context, format string, a ...any) {
	l.log.DebugContext(ctx, "redis: "+fmt.Sprintf(format, a...))
}

// A program is one running "serve".
type program struct {
	cfg     Config
	log     *slog.Logger
	doorman intake.Doorman
	repo    *store.Store
	desk    *quote.Desk
	queue   *worker.Queue
	base    string // where its pages are; "" when it has none
	failed  chan error
	undo    []func() // what stop does, last first
}

// start brings everything up. On an error all that was up is down again.
func start(ctx context.Context, cfg Config, log *slog.Logger) (up *program, err error) {
	if err := cfg.check(); err != nil {
		return nil, exitError{exitUsage, err.Error()}
	}
	p := &program{cfg: cfg, log: log, doorman: newDoorman(), failed: make(chan error, 1)}
	defer func() {
		if err != nil {
			p.stop()
		}
	}()

	var listener net.Listener
	if cfg.Role != "worker" {
		if listener, err = listen(cfg.Listen); err != nil {
			return nil, err
		}
		p.undo = append(p.undo, func() { listener.Close() })
		p.base = cfg.baseURL(listener.Addr())
	}
	if err := p.open(ctx); err != nil {
		return nil, err
	}
	if cfg.Role != "api" {
		m := worker.NewMeasurer(p.desk, p.queue, cfg.Cores, log)
		if err := m.Start(); err != nil {
			return nil, fmt.Errorf("start measuring: %w", err)
		}
		p.undo = append(p.undo, m.Stop)
	}
	if cfg.Role != "worker" {
		if err := p.startCounter(ctx, listener); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// open brings up what everything else stands on: folder, database, photos, queue, desk.
func (p *program) open(ctx context.Context) error {
	if err := writable(p.cfg.Data); err != nil {
		return err
	}
	repo, err := store.Open(ctx, p.cfg.databaseURL())
	if err != nil {
		return err
	}
	p.repo = repo
	p.undo = append(p.undo, func() { repo.Close() })
	photos, err := store.OpenPhotos(ctx, p.cfg.photosURL())
	if err != nil {
		return err
	}
	redisURL := p.cfg.RedisURL
	if redisURL == "" {
		local, err := worker.StartLocalRedis()
		if err != nil {
			return err
		}
		p.undo = append(p.undo, local.Close)
		redisURL = local.URL()
	}
	if p.queue, err = worker.OpenQueue(ctx, redisURL); err != nil {
		return err
	}
	p.undo = append(p.undo, func() { p.queue.Close() })
	p.desk = quote.NewDesk(repo, photos, p.cfg.terms(p.base), time.Now)
	go func() { _, _ = p.desk.Stock(ctx) }() // a long list takes seconds: not the first customer's
	return nil
}

// startCounter starts what the outside sees: API and pages, mail, and the relay that queues
// what comes in by them.
func (p *program) startCounter(ctx context.Context, listener net.Listener) error {
	key, err := p.repo.KeepSetting(ctx, "session_key", hex.EncodeToString(randomBytes(32)))
	if err != nil {
		return fmt.Errorf("keep the key of the sessions: %w", err)
	}
	sessionKey, err := hex.DecodeString(key)
	if err != nil {
		return fmt.Errorf("setting session_key is damaged: %w", err)
	}
	handler := api.New(p.desk, p.doorman, api.Options{
		Terms:      p.cfg.terms(p.base),
		Log:        p.log,
		Ready:      p.ready,
		SessionKey: sessionKey,
		Metrics:    queueMetrics(p.queue),
		TrustProxy: p.cfg.TrustProxy,
	})
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       5 * time.Minute, // six photos over a poor mobile line
		WriteTimeout:      5 * time.Minute,
		IdleTimeout:       2 * time.Minute,
		ErrorLog:          slog.NewLogLogger(p.log.Handler(), slog.LevelWarn),
	}
	go func() {
		if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			p.failed <- fmt.Errorf("stopped listening on %s: %w", p.cfg.Listen, err)
		}
	}()
	p.undo = append(p.undo, func() {
		ctx, cancel := context.WithTimeout(context.Background(), 8*time.Second)
		defer cancel()
		if err := server.Shutdown(ctx); err != nil {
			server.Close()
		}
	})

	p.run(worker.NewRelay(p.desk, p.desk, p.queue, worker.RelayOptions{Log: p.log}).Run)
	return p.startMail()
}

// queueMetrics counts the jobs in the queue, whoever put them there.
func queueMetrics(q *worker.Queue) *prometheus.Registry {
	r := prometheus.NewRegistry()
	for state, count := range map[string]func(worker.Depth) int{
		"pending":  func(d worker.Depth) int { return d.Pending },
		"active":   func(d worker.Depth) int { return d.Active },
		"retry":    func(d worker.Depth) int { return d.Retry },
		"archived": func(d worker.Depth) int { return d.Archived },
	} {
		r.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "leafgauge_queue_jobs",
			Help: "Jobs in the measuring queue, by what they wait for.", ConstLabels: prometheus.Labels{"state": state}},
			func() float64 {
				d, err := q.Depth()
				if err != nil {
					return math.NaN()
				}
				return float64(count(d))
			}))
	}
	return r
}

// startMail starts taking in mail and sending letters.
func (p *program) startMail() error {
	var sender worker.MailSender
	var err error
	if p.cfg.SMTPURL != "" {
		sender, err = worker.NewSMTPSender(p.cfg.SMTPURL)
	} else {
		sender, err = worker.OpenOutFolder(p.cfg.mailOut())
	}
	if err != nil {
		return err
	}
	in, err := worker.OpenInFolder(p.cfg.mailIn(), time.Now)
	if err != nil {
		return err
	}
	terms := p.desk.Terms()
	pdf := func(q quote.Quote) ([]byte, error) { return paper.PDF(q, terms) }
	p.run(worker.NewPostman(p.desk, sender, terms.From, pdf, time.Now, p.log).Run)
	p.run(worker.NewMailroom(p.desk, in, p.doorman, terms.From.Email, p.log).Run)
	return nil
}

// run runs a long-running piece until the program stops.
func (p *program) run(f func(context.Context)) {
	ctx, cancel := context.WithCancel(context.Background())
	var wg sync.WaitGroup
	wg.Go(func() { f(ctx) })
	p.undo = append(p.undo, func() { cancel(); wg.Wait() })
}

// ready says whether database and queue answer.
func (p *program) ready(ctx context.Context) error {
	if err := p.repo.Ping(ctx); err != nil {
		return fmt.Errorf("the database does not answer: %w", err)
	}
	if err := p.queue.Ping(ctx); err != nil {
		return fmt.Errorf("the queue does not answer: %w", err)
	}
	return nil
}

// stop ends everything in the reverse order of its start, so that work under way still finds
// what it needs.
func (p *program) stop() {
	for i := len(p.undo) - 1; i >= 0; i-- {
		p.undo[i]()
	}
	p.undo = nil
}

// listen opens the address, or says what to do where it is taken.
func listen(address string) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("%s is taken by another program (perhaps another leafgauge): stop that one, or choose another address with --listen 127.0.0.1:8081", address)
	case errors.Is(err, syscall.EACCES):
		return nil, fmt.Errorf("this user may not listen on %s: choose a port above 1024 with --listen 127.0.0.1:8080", address)
	case err != nil:
		return nil, fmt.Errorf("cannot listen on %s: choose another address with --listen 127.0.0.1:8080 (%w)", address, err)
	}
	return l, nil
}

// writable makes the folder and tries to write into it.
func writable(dir string) error {
	advice := func(err error) error {
		var e *os.PathError
		if errors.As(err, &e) {
			err = e.Err
		}
		return fmt.Errorf("cannot write to the folder %s (%v): make it writable, or choose another one with --data DIR", dir, err)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return advice(err)
	}
	f, err := os.CreateTemp(dir, ".try-*")
	if err != nil {
		return advice(err)
	}
	_, err = io.WriteString(f, "leafgauge")
	err = errors.Join(err, f.Close(), os.Remove(f.Name()))
	if err != nil {
		return advice(err)
	}
	return nil
}

func randomBytes(n int) []byte {
	b := make([]byte, n)
	rand.Read(b) // never fails, see its documentation
	return b
}

// keepFile writes a file that only its owner may read, whole or not at all.
func keepFile(name string, data []byte) error {
	tmp := name + ".part"
	if err := os.WriteFile(tmp, data, 0o600); err != nil {
		return err
	}
	return os.Rename(tmp, filepath.Clean(name))
}
