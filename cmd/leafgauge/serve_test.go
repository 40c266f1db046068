package main

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leafgauge/internal/testservers"
	"leafgauge/quote"

	"github.com/redis/go-redis/v9"
	"github.com/stretchr/testify/require"
)

const testdata = "../../testdata"

// runCommand runs the program with args and returns its exit status and output.
func runCommand(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(args, streams{t.Context(), strings.NewReader(""), &o, &e, os.Getenv})
	return status, o.String(), e.String()
}

func TestServeSaysWhatToDo(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	notAFolder := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(notAFolder, []byte("x"), 0o600))
	damaged := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(damaged, "leafgauge.db"), bytes.Repeat([]byte("no database "), 1000), 0o600))

	for name, c := range map[string]struct {
		args   []string
		status int
		say    []string
	}{
		"a busy port":          {[]string{"--listen", taken.Addr().String(), "--data", t.TempDir()}, exitFailure, []string{taken.Addr().String(), "is taken", "--listen"}},
		"an unwritable folder": {[]string{"--listen", "127.0.0.1:0", "--data", filepath.Join(notAFolder, "data")}, exitFailure, []string{notAFolder, "make it writable", "--data"}},
		"a damaged database":   {[]string{"--listen", "127.0.0.1:0", "--data", damaged}, exitFailure, []string{"leafgauge.db", "damaged", "restore"}},
		"no such Redis":        {[]string{"--listen", "127.0.0.1:0", "--data", t.TempDir(), "--redis-url", "redis://:secret@127.0.0.1:1"}, exitFailure, []string{"Redis does not answer"}},
		"no such mail server":  {[]string{"--listen", "127.0.0.1:0", "--data", t.TempDir(), "--smtp-url", "mail.example.org"}, exitFailure, []string{"smtps://"}},
		"a worker by itself":   {[]string{"--role", "worker"}, exitUsage, []string{"LEAFGAUGE_DATABASE_URL", "--role all"}},
		"a wrong address":      {[]string{"--listen", "8080"}, exitUsage, []string{"127.0.0.1:8080"}},
		"a wrong currency":     {[]string{"--currency", "dollars"}, exitUsage, []string{"USD"}},
		"a wrong tax rate":     {[]string{"--tax-rate", "eight"}, exitUsage, []string{"8.25"}},
		"a wrong sender":       {[]string{"--mail-from", "us"}, exitUsage, []string{"e-mail address"}},
		"a wrong base":         {[]string{"--base-url", "hinges.example.org"}, exitUsage, []string{"https://"}},
		"an unknown role":      {[]string{"--role", "boss"}, exitUsage, []string{"all", "worker"}},
	} {
		t.Run(name, func(t *testing.T) {
			status, out, errs := runCommand(t, append([]string{"serve"}, c.args...)...)
			require.Equal(t, c.status, status, errs)
			for _, s := range c.say {
				require.Contains(t, errs, s)
			}
			require.NotContains(t, out+errs, "secret")
			if c.status == exitFailure {
				require.Equal(t, 1, strings.Count(errs, "\n"), "one line: %q", errs)
			}
		})
	}
}

func TestConfigIsPrintedWithoutSecrets(t *testing.T) {
	c := Config{place: place{Data: "d", DatabaseURL: "postgres://ann:secret@db/x?password=secret", PhotosURL: "s3://secret:secret@bucket/photos"},
		RedisURL: "redis://:secret@r:6379/1", SMTPURL: "smtps://u:secret@m", Role: "all"}
	var b bytes.Buffer
	c.print(&b)
	require.NotContains(t, b.String(), "secret")
	for _, s := range []string{"postgres://db/x", "redis://r:6379/1", "smtps://m", "s3://bucket/photos"} {
		require.Contains(t, b.String(), s)
	}
}

// A site is a running leafgauge, in one process or as an API and a worker.
type site struct {
	programs []*program
	cfg      Config
}

func testConfig(t *testing.T) Config {
	return Config{
		place: place{Data: t.TempDir()},
		shop:  shop{Shop: "The Test Shop", Currency: "USD", TaxRate: "8.25", ValidDays: 30, MailFrom: "counter@shop.example"},
		Role:  "all", Listen: "127.0.0.1:0", Cores: 2,
	}
}

func (s *site) api() *program { return s.programs[0] }

func (s *site) start(t *testing.T, roles ...string) {
	t.Helper()
	for _, role := range roles {
		c := s.cfg
		c.Role = role
		p, err := start(context.Background(), c, slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		s.programs = append(s.programs, p)
	}
	t.Cleanup(s.stop)
}

func (s *site) stop() {
	for _, p := range s.programs {
		p.stop()
	}
	s.programs = nil
}

// eventually waits for something that another goroutine does.
func eventually(t *testing.T, what string, f func() bool) {
	t.Helper()
	require.Eventually(t, f, 3*time.Minute, 20*time.Millisecond, what)
}

// settled reports whether an inquiry waits for nothing that the program does.
func (s *site) settled(t *testing.T, id quote.ID) bool {
	d, err := s.api().desk.Dossier(t.Context(), id)
	require.NoError(t, err)
	return d.Inquiry.Status != quote.Received && d.Inquiry.Status != quote.Measuring
}

// TestNothingIsLost empties Redis while inquiries wait and while they are being measured.
func TestNothingIsLost(t *testing.T) {
	s := &site{cfg: testConfig(t)}
	s.cfg.DatabaseURL = testservers.Postgres(t)
	s.cfg.RedisURL = testservers.Redis(t)
	s.start(t, "api")
	const n = 12
	for i := range n {
		_, err := s.api().desk.Receive(t.Context(), quote.Submission{Source: quote.FromAPI, Text: fmt.Sprintf("3 1/2 x 3 1/2 in, inquiry %d", i)})
		require.NoError(t, err)
	}
	opt, err := redis.ParseURL(s.cfg.RedisURL)
	require.NoError(t, err)
	r := redis.NewClient(opt)
	defer r.Close()
	eventually(t, "the queue is filled", func() bool {
		d, err := s.api().queue.Depth()
		return err == nil && d.Pending == n
	})
	require.NoError(t, r.FlushDB(t.Context()).Err())
	s.start(t, "worker", "worker")
	for id := quote.ID(1); id <= n; id++ {
		eventually(t, "everything is measured", func() bool { return s.settled(t, id) })
		d, err := s.api().desk.Dossier(t.Context(), id)
		require.NoError(t, err)
		measured := 0
		for _, e := range d.Events {
			if e.From == quote.Measuring && e.To != quote.Measuring {
				measured++
			}
		}
		require.Equal(t, 1, measured, "%+v", d.Events)
	}
	left, err := s.api().desk.Intentions(t.Context(), time.Now().Add(time.Hour), 100)
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestServeStopsCleanly(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var out, errs syncBuffer
	done := make(chan int)
	go func() {
		done <- run([]string{"serve", "--listen", "127.0.0.1:0", "--data", t.TempDir()}, streams{ctx, strings.NewReader(""), &out, &errs, os.Getenv})
	}()
	eventually(t, "it is up", func() bool { return strings.Contains(out.String(), "Ctrl-C") })
	_, rest, _ := strings.Cut(out.String(), "Open ")
	base, _, _ := strings.Cut(rest, "\n")
	for _, path := range []string{"/healthz", "/readyz", "/metrics", "/"} {
		a, err := http.Get(base + path)
		require.NoError(t, err)
		a.Body.Close()
		require.Equal(t, http.StatusOK, a.StatusCode, path)
	}
	cancel()
	select {
	case status := <-done:
		require.Equal(t, exitOK, status, errs.String())
	case <-time.After(30 * time.Second):
		require.Fail(t, "it did not stop")
	}
	_, err := http.Get(base + "/healthz")
	require.Error(t, err)
}
