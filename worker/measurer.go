package worker

import (
	"context"
	"errors"
	"fmt"
	"image"
	"log/slog"
	"runtime"
	"time"

	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/measure/photo"
	"leafgauge/quote"

	"github.com/hibiken/asynq"
)

// Desk is where the Measurer gets its work and leaves its results.
type Desk interface {
	Failer
	Start(ctx context.Context, id quote.ID, revision int) (quote.Inquiry, error)
	PhotoBytes(ctx context.Context, sha256 string) ([]byte, error)
	Finish(ctx context.Context, id quote.ID, revision int, typed measure.Readings, findings []quote.Finding) error
}

// A Measurer takes jobs from the queue, measures their photos, and leaves the findings at
// the desk. It measures one photo a core at most, whatever the queue holds.
type Measurer struct {
	desk Desk
	log  *slog.Logger
	// decode and measure are intake.Decode and photo.Measure, but for tests.
	decode  func(intake.Photo) (image.Image, error)
	measure func(image.Image, measure.Options) measure.Result
	cores   chan struct{}
	server  *asynq.Server
}

// NewMeasurer returns a Measurer that takes from queue once it is started.
// cores bounds how many photos are measured at a time; 0 is one a core.
func NewMeasurer(desk Desk, queue *Queue, cores int, log *slog.Logger) *Measurer {
	if cores <= 0 {
		cores = runtime.GOMAXPROCS(0)
	}
	m := &Measurer{desk: desk, log: log, decode: intake.Decode, measure: photo.Measure, cores: make(chan struct{}, cores)}
	m.server = asynq.NewServerFromRedisClient(queue.redis, asynq.Config{
		Concurrency:              cores,
		Queues:                   map[string]int{queueName: 1},
		TaskCheckInterval:        20 * time.Millisecond, // picks up in 10 ms; the default takes up to a second
		DelayedTaskCheckInterval: time.Second,
		RetryDelayFunc:           retryDelay,
		ShutdownTimeout:          20 * time.Second,
		Logger:                   queueLog{log},
		LogLevel:                 asynq.WarnLevel,
		HealthCheckInterval:      time.Minute,
	})
	return m
}

// Start begins taking jobs.
func (m *Measurer) Start() error {
	return m.server.Start(asynq.HandlerFunc(m.handle))
}

// Stop takes no more jobs, waits for those under way, and puts back what does not end in time.
func (m *Measurer) Stop() { m.server.Shutdown() }

// handle measures one revision. A photo that cannot be measured is an answer; an error from
// here is a fault, and the queue tries again.
func (m *Measurer) handle(ctx context.Context, t *asynq.Task) error {
	j, err := readJob(t)
	if err != nil {
		return err
	}
	err = m.revision(ctx, j)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, quote.ErrStale), errors.Is(err, quote.ErrNotFound), errors.Is(err, quote.ErrMove):
		// Measured already, overtaken by a newer revision, or closed: nothing is left to do.
		m.log.Debug("job is out of date", "inquiry", j.Inquiry, "revision", j.Revision, "why", err)
		return nil
	}
	retried, _ := asynq.GetRetryCount(ctx)
	limit, _ := asynq.GetMaxRetry(ctx)
	m.log.Warn("measuring failed", "inquiry", j.Inquiry, "revision", j.Revision, "try", retried+1, "of", limit+1, "cause", err)
	if retried < limit {
		return err
	}
	// If this cannot be written either, the intention stays open and the Relay comes back to it.
	if failed := m.desk.Fail(context.WithoutCancel(ctx), j.Inquiry, j.Revision, err.Error()); failed != nil && !errors.Is(failed, quote.ErrStale) {
		return errors.Join(err, failed)
	}
	return err
}

// errPhotoGone is a photo that the database knows and the photo store does not: a fault,
// never the customer's doing.
var errPhotoGone = errors.New("its file is missing from the photo store")

func (m *Measurer) revision(ctx context.Context, j job) error {
	q, err := m.desk.Start(ctx, j.Inquiry, j.Revision)
	if err != nil {
		return fmt.Errorf("inquiry %d: begin measuring: %w", j.Inquiry, err)
	}
	typed := q.Readings()
	kept := album{}
	findings, err := q.Measure(typed, func(p quote.Photo, thickness measure.Estimate) (measure.Result, error) {
		r, err := m.photo(ctx, p, thickness, kept)
		if err != nil {
			return r, fmt.Errorf("inquiry %d: photo %d: %w", j.Inquiry, p.N, err)
		}
		return r, nil
	})
	if err != nil {
		return err
	}
	if err := m.desk.Finish(ctx, j.Inquiry, j.Revision, typed, findings); err != nil {
		return fmt.Errorf("inquiry %d: leave the findings: %w", j.Inquiry, err)
	}
	return nil
}

// photo measures one photo, on one core. With a thickness it may be asked for once more,
// without; until then its picture stays in kept.
func (m *Measurer) photo(ctx context.Context, p quote.Photo, thickness measure.Estimate, kept album) (measure.Result, error) {
	if err := ctx.Err(); err != nil {
		return measure.Result{}, err
	}
	// A job that ran out of time goes on beside its retry, so the queue's own limit is not enough.
	select {
	case m.cores <- struct{}{}:
		defer func() { <-m.cores }()
	case <-ctx.Done():
		return measure.Result{}, ctx.Err()
	}
	pic, ok := kept.take(p.N)
	if !ok {
		var err error
		if pic, err = m.open(ctx, p); err != nil {
			return measure.Result{}, err
		}
	}
	if thickness.Known() {
		kept.put(p.N, pic)
	}
	if pic.image == nil {
		return measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.Unreadable},
			Image: measure.ImageInfo{Width: p.Width, Height: p.Height}}, nil
	}
	began := time.Now().Add(-pic.took)
	r := m.measure(pic.image, measure.Options{
		Focal35mm: p.Focal35mm,
		Thickness: thickness,
		Clock:     func() float64 { return milliseconds(time.Since(began)) },
	})
	r.Timing.Decode = milliseconds(pic.took)
	r.Timing.Total = milliseconds(time.Since(began))
	return r, nil
}

// open loads and decodes one photo.
func (m *Measurer) open(ctx context.Context, p quote.Photo) (picture, error) {
	data, err := m.desk.PhotoBytes(ctx, p.SHA256)
	if errors.Is(err, quote.ErrNotFound) {
		return picture{}, errPhotoGone
	}
	if err != nil {
		return picture{}, err
	}
	began := time.Now()
	whole := p.Photo
	whole.Bytes = data
	img, err := m.decode(whole)
	if err != nil {
		// It was admitted, so its beginning was sound; the rest is not.
		m.log.Info("photo cannot be decoded", "photo", p.SHA256, "cause", err)
		return picture{}, nil
	}
	return picture{img, time.Since(began)}, nil
}

// A picture is a decoded photo; one that cannot be decoded has no image.
type picture struct {
	image image.Image
	took  time.Duration // to decode it
}

// bytes is the memory of its pixels, or more.
func (p picture) bytes() int {
	switch img := p.image.(type) {
	case nil:
		return 0
	case *image.YCbCr: // all ordinary photos
		return len(img.Y) + len(img.Cb) + len(img.Cr)
	default:
		return 8 * img.Bounds().Dx() * img.Bounds().Dy() // no other kind has more than 16 bits a colour
	}
}

// albumBytes bounds what a job keeps in memory, and there is one job a core: 450 MB, which is
// the six photos of one submission at 50 megapixels and 12 bits a pixel, as phones take them.
// An inquiry may come to have more; what has no room is opened again.
const albumBytes = 6 * 75_000_000

// An album keeps the pictures of one job that may be measured once more, by Photo.N.
type album map[int]picture

func (a album) take(n int) (picture, bool) {
	p, ok := a[n]
	delete(a, n)
	return p, ok
}

// put keeps p, where there is room.
func (a album) put(n int, p picture) {
	room := albumBytes
	for _, kept := range a {
		room -= kept.bytes()
	}
	if p.bytes() <= room {
		a[n] = p
	}
}

func milliseconds(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// queueLog hands what the queue says to the program's log.
type queueLog struct{ log *slog.Logger }

func (l queueLog) Debug(a ...any) { l.log.Debug("queue: " + fmt.Sprint(a...)) }
func (l queueLog) Info(a ...any)  { l.log.Info("queue: " + fmt.Sprint(a...)) }
func (l queueLog) Warn(a ...any)  { l.log.Warn("queue: " + fmt.Sprint(a...)) }
func (l queueLog) Error(a ...any) { l.log.Error("queue: " + fmt.Sprint(a...)) }
func (l queueLog) Fatal(a ...any) { l.log.Error("queue: " + fmt.Sprint(a...)) }
