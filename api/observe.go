package api

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// counted are the figures of /metrics that belong to HTTP.
type counted struct {
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
}

func newCounted(r *prometheus.Registry) *counted {
	c := &counted{
		prometheus.NewCounterVec(prometheus.CounterOpts{Name: "leafgauge_http_requests_total", Help: "Requests answered, by route and status."}, []string{"route", "status"}),
		prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "leafgauge_http_seconds", Help: "Time to answer, by route.", Buckets: prometheus.DefBuckets}, []string{"route"}),
	}
	r.MustRegister(c.requests, c.seconds)
	return c
}

// observed counts and logs every request by its route, never by its path: a path may hold a
// customer's key.
func (s *server) observed(mux *http.ServeMux, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, route := mux.Handler(r)
		start := time.Now()
		o := &observer{ResponseWriter: w, status: http.StatusOK}
		next.ServeHTTP(o, r)
		took := time.Since(start)
		s.counted.requests.WithLabelValues(route, strconv.Itoa(o.status)).Inc()
		s.counted.seconds.WithLabelValues(route).Observe(took.Seconds())
		s.Log.Debug("answered", "route", route, "status", o.status, "ms", took.Milliseconds())
	})
}

// An observer remembers the status of an answer.
type observer struct {
	http.ResponseWriter
	status int
}

func (o *observer) WriteHeader(status int) {
	o.status = status
	o.ResponseWriter.WriteHeader(status)
}

func (o *observer) Unwrap() http.ResponseWriter { return o.ResponseWriter }

func (s *server) readyz(w http.ResponseWriter, r *http.Request) error {
	if s.Ready != nil {
		if err := s.Ready(r.Context()); err != nil {
			s.Log.Error("not ready", "error", err)
			return &fault{status: http.StatusServiceUnavailable, code: "not_ready", after: 5, detail: "A part behind this server does not answer; its log says which."}
		}
	}
	plain(w, http.StatusOK, "ready\n")
	return nil
}

func (s *server) openAPI(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Content-Type", "application/json")
	w.Write(s.openapi)
	return nil
}
