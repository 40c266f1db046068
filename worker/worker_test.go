package worker

import (
	"context"
	"errors"
	"fmt"
	"image"
	"log/slog"
	"sync"
	"testing"
	"time"

	"leafgauge/intake"
	"leafgauge/internal/testservers"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/hibiken/asynq"
	"github.com/stretchr/testify/require"
)

// fakeDesk keeps inquiries in memory, with the promises that the real desk makes: a revision
// is finished once, and what is finished is no longer an intention.
type fakeDesk struct {
	mu       sync.Mutex
	open     []quote.Intention
	inquiry  map[quote.ID]quote.Inquiry
	started  map[quote.ID]int
	finished map[quote.ID][]quote.Finding
	times    map[quote.ID]int // how often a result was taken
	failed   map[quote.ID]string
	photos   map[string][]byte
	down     error // acts out an outage
	ended    chan quote.ID
}

func newFakeDesk() *fakeDesk {
	return &fakeDesk{
		inquiry: map[quote.ID]quote.Inquiry{}, started: map[quote.ID]int{}, finished: map[quote.ID][]quote.Finding{},
		times: map[quote.ID]int{}, failed: map[quote.ID]string{}, photos: map[string][]byte{"sha": []byte("picture")},
		ended: make(chan quote.ID, 1000),
	}
}

func (d *fakeDesk) receive(text string, photos ...quote.Photo) quote.ID {
	d.mu.Lock()
	defer d.mu.Unlock()
	id := quote.ID(len(d.inquiry) + 1)
	d.inquiry[id] = quote.Inquiry{ID: id, Revision: 1, Text: text, Photos: photos}
	d.open = append(d.open, quote.Intention{Inquiry: id, Revision: 1, Made: time.Now()})
	return id
}

func (d *fakeDesk) setDown(err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.down = err
}

func (d *fakeDesk) Intentions(_ context.Context, before time.Time, limit int) ([]quote.Intention, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.down != nil {
		return nil, d.down
	}
	return append([]quote.Intention(nil), d.open[:min(limit, len(d.open))]...), nil
}

func (d *fakeDesk) settle(id quote.ID) bool {
	for i, o := range d.open {
		if o.Inquiry == id {
			d.open = append(d.open[:i:i], d.open[i+1:]...)
			return true
		}
	}
	return false
}

func (d *fakeDesk) Start(_ context.Context, id quote.ID, revision int) (quote.Inquiry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.down != nil {
		return quote.Inquiry{}, d.down
	}
	q, ok := d.inquiry[id]
	if !ok {
		return quote.Inquiry{}, quote.ErrNotFound
	}
	d.started[id]++
	if _, done := d.finished[id]; done || revision != q.Revision {
		return quote.Inquiry{}, quote.ErrStale
	}
	return q, nil
}

func (d *fakeDesk) PhotoBytes(_ context.Context, sha string) ([]byte, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if b, ok := d.photos[sha]; ok {
		return b, nil
	}
	return nil, quote.ErrNotFound
}

func (d *fakeDesk) Finish(_ context.Context, id quote.ID, revision int, _ measure.Readings, f []quote.Finding) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.down != nil {
		return d.down
	}
	if !d.settle(id) {
		return quote.ErrStale
	}
	d.finished[id] = f
	d.times[id]++
	d.ended <- id
	return nil
}

func (d *fakeDesk) Fail(_ context.Context, id quote.ID, revision int, cause string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.down != nil {
		return d.down
	}
	if !d.settle(id) {
		return quote.ErrStale
	}
	d.failed[id] = cause
	d.ended <- id
	return nil
}

// wait returns once n more inquiries have ended.
func (d *fakeDesk) wait(t *testing.T, n int) {
	t.Helper()
	limit := time.After(2 * time.Minute)
	for range n {
		select {
		case <-d.ended:
		case <-limit:
			d.mu.Lock()
			defer d.mu.Unlock()
			require.Failf(t, "inquiries were not measured", "%d still open", len(d.open))
		}
	}
}

var quiet = slog.New(slog.DiscardHandler)

// bench is a desk with a relay and measurers over one queue.
type bench struct {
	desk     *fakeDesk
	queue    *Queue
	relay    *Relay
	measurer *Measurer
}

func newBench(t *testing.T, url string) bench {
	t.Helper()
	queue, err := OpenQueue(t.Context(), url)
	require.NoError(t, err)
	require.NoError(t, queue.redis.FlushDB(t.Context()).Err())
	t.Cleanup(func() { queue.Close() })
	b := bench{desk: newFakeDesk(), queue: queue}
	b.relay = NewRelay(b.desk, b.desk, queue, RelayOptions{Every: 5 * time.Millisecond, Patience: 200 * time.Millisecond, Log: quiet})
	b.measurer = b.newMeasurer()
	return b
}

func (b bench) newMeasurer() *Measurer {
	m := NewMeasurer(b.desk, b.queue, 2, quiet)
	m.decode = func(intake.Photo) (image.Image, error) { return image.NewGray(image.Rect(0, 0, 4, 3)), nil }
	m.measure = func(img image.Image, _ measure.Options) measure.Result {
		return measure.Result{Status: measure.Measured, RetakeReasons: []measure.Reason{}}
	}
	return m
}

// run starts relay and measurers until the test ends.
func (b bench) run(t *testing.T) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { b.relay.Run(ctx); close(done) }()
	t.Cleanup(func() { stop(); <-done })
	require.NoError(t, b.measurer.Start())
	t.Cleanup(b.measurer.Stop)
}

func sent(n int) quote.Photo { return quote.Photo{Photo: intake.Photo{SHA256: "sha"}, N: n} }

func TestQueue(t *testing.T) {
	for name, url := range redisURLs(t) {
		t.Run(name, func(t *testing.T) {
			t.Run("every inquiry is measured once", func(t *testing.T) {
				b := newBench(t, url)
				b.run(t)
				for range 50 {
					b.desk.receive("3 1/2", sent(1), sent(2))
				}
				b.desk.wait(t, 50)
				for id, n := range b.desk.times {
					require.Equal(t, 1, n, "inquiry %d", id)
					require.Len(t, b.desk.finished[id], 2)
					require.Equal(t, 2, b.desk.finished[id][1].PhotoN)
				}
				require.Empty(t, b.desk.open)
			})

			t.Run("a queue that forgets everything is filled again", func(t *testing.T) {
				b := newBench(t, url)
				// The first ten are held up in the middle of measuring while Redis is emptied.
				hold, held := make(chan struct{}), make(chan struct{}, 100)
				plain := b.measurer.measure
				b.measurer.measure = func(img image.Image, o measure.Options) measure.Result {
					held <- struct{}{}
					<-hold
					return plain(img, o)
				}
				for range 40 {
					b.desk.receive("", sent(1))
				}
				b.run(t)
				<-held
				<-held
				require.NoError(t, b.queue.redis.FlushDB(t.Context()).Err())
				close(hold)
				b.desk.wait(t, 40)
				require.Len(t, b.desk.times, 40)
				for id, n := range b.desk.times {
					require.Equal(t, 1, n, "inquiry %d", id)
				}
			})

			t.Run("a job that ended without a result gets a successor", func(t *testing.T) {
				b := newBench(t, url)
				id := b.desk.receive("", sent(1))
				_, err := b.queue.put(t.Context(), job{id, 1}, 1)
				require.NoError(t, err)
				require.NoError(t, asynq.NewInspectorFromRedisClient(b.queue.redis).ArchiveTask(queueName, job{id, 1}.taskID(1)))
				b.run(t)
				b.desk.wait(t, 1)
				require.Equal(t, 1, b.desk.times[id])
			})

			t.Run("a job that is active for ever gets a successor", func(t *testing.T) {
				b := newBench(t, url)
				id := b.desk.receive("", sent(1))
				_, err := b.queue.put(t.Context(), job{id, 1}, 1)
				require.NoError(t, err)
				// What a worker leaves behind that died between taking and its first heartbeat:
				// keys as in asynq v0.26.0, internal/base/base.go and the dequeue script in rdb.go.
				ctx, r := t.Context(), b.queue.redis
				require.NoError(t, r.LMove(ctx, "asynq:{measure}:pending", "asynq:{measure}:active", "RIGHT", "LEFT").Err())
				require.NoError(t, r.HSet(ctx, "asynq:{measure}:t:"+job{id, 1}.taskID(1), "state", "active").Err())
				b.relay.opt.Stalled = 300 * time.Millisecond
				b.run(t)
				b.desk.wait(t, 1)
				require.Equal(t, 1, b.desk.times[id])
			})

			t.Run("an inquiry whose every job dies is given up", func(t *testing.T) {
				b := newBench(t, url)
				id := b.desk.receive("", sent(1))
				for n := 1; n <= maxAttempts; n++ {
					_, err := b.queue.put(t.Context(), job{id, 1}, n)
					require.NoError(t, err)
					require.NoError(t, asynq.NewInspectorFromRedisClient(b.queue.redis).ArchiveTask(queueName, job{id, 1}.taskID(n)))
				}
				b.run(t)
				b.desk.wait(t, 1)
				require.Contains(t, b.desk.failed[id], "again and again")
			})

			t.Run("an outage of the database is waited out", func(t *testing.T) {
				b := newBench(t, url)
				b.desk.setDown(errors.New("connection refused"))
				id := b.desk.receive("", sent(1))
				b.run(t)
				_, err := b.queue.put(t.Context(), job{id, 1}, 1) // fails at Start, and is tried again
				require.NoError(t, err)
				require.Eventually(t, func() bool { d, err := b.queue.Depth(); return err == nil && d.Retry == 1 }, 10*time.Second, 10*time.Millisecond)
				b.desk.setDown(nil)
				b.desk.wait(t, 1)
				require.Equal(t, 1, b.desk.times[id])
			})
		})
	}
}

// otherHinge is what a photo says of a hinge that is not the one of otherHingeTyped.
var otherHinge = measure.Result{Status: measure.Measured, Hinge: &measure.Hinge{
	Height: measure.Estimate{Value: 114.3, Sigma: 0.1}, OpenWidth: measure.Estimate{Value: 101.6, Sigma: 0.1}}}

const otherHingeTyped = "height 3 1/2 in, width 3 1/2 in, 0.086 thick"

// giant is a picture of that width and 6,000 px height, at 8 bytes a pixel if it had any.
func giant(width int) image.Image { return &image.NRGBA64{Rect: image.Rect(0, 0, width, 6_000)} }

func TestAlbum(t *testing.T) {
	a := album{}
	has := func(n int) bool { _, ok := a[n]; return ok }
	a.put(1, picture{image: giant(5_000)}) // 240 MB
	a.put(2, picture{image: giant(5_000)})
	a.put(3, picture{})
	require.Equal(t, []bool{true, false, true}, []bool{has(1), has(2), has(3)}, "two have no room beside each other")
	_, ok := a.take(1)
	require.True(t, ok)
	_, ok = a.take(1)
	require.False(t, ok, "it is gone")
	a.put(2, picture{image: giant(5_000)})
	require.True(t, has(2))
}

func TestMeasurer(t *testing.T) {
	task := func(id quote.ID, revision int) *asynq.Task {
		return asynq.NewTask(taskMeasure, fmt.Appendf(nil, `{"inquiry":%d,"revision":%d}`, id, revision))
	}
	setup := func(t *testing.T) (*fakeDesk, *Measurer) {
		b := newBench(t, localRedis(t))
		return b.desk, b.measurer
	}

	t.Run("focal length and typed thickness go into the measuring", func(t *testing.T) {
		desk, m := setup(t)
		var got measure.Options
		m.measure = func(_ image.Image, o measure.Options) measure.Result { got = o; return measure.Result{} }
		p := sent(1)
		p.Focal35mm = 26
		id := desk.receive("0.086 thick", p)
		require.NoError(t, m.handle(t.Context(), task(id, 1)))
		require.Equal(t, 26.0, got.Focal35mm)
		require.InDelta(t, 0.086*25.4, got.Thickness.Value.MM(), 1e-9)
		require.True(t, got.Thickness.Known())
	})
	t.Run("a thickness of another hinge does not bend the photo", func(t *testing.T) {
		desk, m := setup(t)
		var with []bool
		m.measure = func(_ image.Image, o measure.Options) measure.Result {
			with = append(with, o.Thickness.Known())
			return otherHinge
		}
		id := desk.receive(otherHingeTyped, sent(1))
		require.NoError(t, m.handle(t.Context(), task(id, 1)))
		require.Equal(t, []bool{true, false}, with)
		require.Len(t, desk.finished[id], 1)
	})
	t.Run("a photo that is measured twice is decoded once, where memory allows", func(t *testing.T) {
		desk, m := setup(t)
		pictures := map[string]image.Image{
			"photo": image.NewYCbCr(image.Rect(0, 0, 400, 300), image.YCbCrSubsampleRatio420),
			"giant": giant(10_000),
		}
		photos := []quote.Photo{sent(1), sent(2), sent(3)}
		for i, sha := range []string{"photo", "giant", "damaged"} {
			photos[i].SHA256 = sha
			desk.photos[sha] = []byte("picture")
		}
		decoded := map[string]int{}
		m.decode = func(p intake.Photo) (image.Image, error) {
			decoded[p.SHA256]++
			if img, ok := pictures[p.SHA256]; ok {
				return img, nil
			}
			return nil, errors.New("unexpected EOF")
		}
		var with []bool
		m.measure = func(_ image.Image, o measure.Options) measure.Result {
			with = append(with, o.Thickness.Known())
			return otherHinge
		}
		id := desk.receive(otherHingeTyped, photos...)
		require.NoError(t, m.handle(t.Context(), task(id, 1)))
		require.Equal(t, []bool{true, true, false, false}, with)
		require.Equal(t, map[string]int{"photo": 1, "giant": 2, "damaged": 1}, decoded)
		require.Equal(t, []measure.Reason{measure.Unreadable}, desk.finished[id][2].Result.RetakeReasons)
	})
	t.Run("a photo that cannot be decoded is an answer", func(t *testing.T) {
		desk, m := setup(t)
		m.decode = func(intake.Photo) (image.Image, error) { return nil, errors.New("unexpected EOF") }
		id := desk.receive("", sent(1))
		require.NoError(t, m.handle(t.Context(), task(id, 1)))
		require.Equal(t, []measure.Reason{measure.Unreadable}, desk.finished[id][0].Result.RetakeReasons)
	})
	t.Run("a photo whose file is gone is a fault", func(t *testing.T) {
		desk, m := setup(t)
		p := sent(1)
		p.SHA256 = "gone"
		id := desk.receive("", p)
		require.ErrorContains(t, m.handle(t.Context(), task(id, 1)), "missing from the photo store")
		// Outside a queue there is no retry left, so the desk was told.
		require.Contains(t, desk.failed[id], "missing from the photo store")
	})
	t.Run("a job that runs twice does its work once", func(t *testing.T) {
		desk, m := setup(t)
		id := desk.receive("", sent(1))
		require.NoError(t, m.handle(t.Context(), task(id, 1)))
		require.NoError(t, m.handle(t.Context(), task(id, 1)))
		require.Equal(t, 1, desk.times[id])
	})
	t.Run("a job that was overtaken or whose inquiry is gone is done", func(t *testing.T) {
		desk, m := setup(t)
		id := desk.receive("", sent(1))
		require.NoError(t, m.handle(t.Context(), task(id, 7)))
		require.NoError(t, m.handle(t.Context(), task(99, 1)))
		require.Empty(t, desk.finished)
	})
	t.Run("an unreadable job is not tried again", func(t *testing.T) {
		_, m := setup(t)
		for _, payload := range []string{"", "{", "[]", `{"inquiry":0,"revision":1}`, `{"inquiry":"7"}`} {
			require.ErrorIs(t, m.handle(t.Context(), asynq.NewTask(taskMeasure, []byte(payload))), asynq.SkipRetry, payload)
		}
	})
}

func TestRetryDelay(t *testing.T) {
	require.Equal(t, time.Second, retryDelay(0, nil, nil))
	require.Equal(t, 8*time.Second, retryDelay(3, nil, nil))
	require.Equal(t, time.Minute, retryDelay(1000, nil, nil))
}

func TestOpenQueueTellsNoPassword(t *testing.T) {
	_, err := OpenQueue(t.Context(), "http://:secret@localhost")
	require.ErrorContains(t, err, "redis://localhost:6379/0")
	require.NotContains(t, err.Error(), "secret")
	_, err = OpenQueue(t.Context(), "redis://:secret@127.0.0.1:1")
	require.ErrorContains(t, err, "does not answer")
	require.NotContains(t, err.Error(), "secret")
}

func localRedis(t *testing.T) string {
	t.Helper()
	r, err := StartLocalRedis()
	require.NoError(t, err)
	t.Cleanup(r.Close)
	return r.URL()
}

// redisURLs are the kinds of Redis that the queue is tested on.
func redisURLs(t *testing.T) map[string]string {
	return map[string]string{"in-process": localRedis(t), "Redis": testservers.Redis(t)}
}
