package worker

import (
	"crypto/rand"
	"fmt"
	"net/url"

	"github.com/alicebob/miniredis/v2"
)

// A LocalRedis is an in-process Redis for running without a server. It forgets everything
// when it is closed, which the Relay makes good from the database.
type LocalRedis struct {
	m        *miniredis.Miniredis
	password string
}

// StartLocalRedis starts one on a free port of this machine, behind a password of its own.
func StartLocalRedis() (*LocalRedis, error) {
	r := &LocalRedis{m: miniredis.NewMiniRedis(), password: rand.Text()}
	r.m.RequireAuth(r.password)
	// Without this its clock stands still and no lease of a dead job would ever end.
	r.m.ClockTTL(true)
	if err := r.m.StartAddr("127.0.0.1:0"); err != nil {
		return nil, fmt.Errorf("worker: start the in-process queue: %w", err)
	}
	return r, nil
}

// URL is where it answers, password included.
func (r *LocalRedis) URL() string {
	u := url.URL{Scheme: "redis", User: url.UserPassword("", r.password), Host: r.m.Addr()}
	return u.String()
}

// Close stops it.
func (r *LocalRedis) Close() { r.m.Close() }
