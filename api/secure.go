package api

import (
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// pagePolicy lets a page load what this server sends and nothing else.
const pagePolicy = "default-src 'none'; img-src 'self' blob:; style-src 'self'; script-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// headers sets what every answer carries.
func (s *server) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", pagePolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "geolocation=(), microphone=()")
		// A customer's link is a secret, so its pages send no referrer at all. The others
		// send it to this server only: with no-referrer a browser on plain http would post
		// the counter's forms with "Origin: null", which sameOrigin refuses.
		if withKey(r.URL.Path) {
			h.Set("Referrer-Policy", "no-referrer")
		} else {
			h.Set("Referrer-Policy", "same-origin")
		}
		if !strings.HasPrefix(r.URL.Path, "/static/") {
			h.Set("Cache-Control", "no-store")
		}
		if s.secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		next.ServeHTTP(w, r)
	})
}

func withKey(path string) bool {
	return strings.HasPrefix(path, "/i/") || strings.HasPrefix(path, "/api/v1/inquiries/")
}

// sameOrigin refuses forms that another site made a browser send. Addresses with a
// customer's key need no cookie: whoever knows the key may post, so nothing can be forged.
func (s *server) sameOrigin(next http.Handler) http.Handler {
	c := http.NewCrossOriginProtection()
	c.AddInsecureBypassPattern("/i/{key}/{act}")
	c.AddInsecureBypassPattern("/api/v1/inquiries/{key}/{act}")
	refused := func(w http.ResponseWriter, r *http.Request) error {
		return &fault{status: http.StatusForbidden, code: "cross_origin", detail: "Open the page on this site and send the form from there."}
	}
	c.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/api/") {
			s.json(refused).ServeHTTP(w, r)
		} else {
			s.page(refused).ServeHTTP(w, r)
		}
	}))
	return c.Handler(next)
}

func cacheForever(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "public, max-age=3600")
		next.ServeHTTP(w, r)
	})
}

// client is the address a request came from.
func (s *server) client(r *http.Request) netip.Addr {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if s.TrustProxy {
		if all := r.Header.Values("X-Forwarded-For"); len(all) > 0 {
			parts := strings.Split(all[len(all)-1], ",")
			host = strings.TrimSpace(parts[len(parts)-1])
		}
	}
	a, err := netip.ParseAddr(host)
	if err != nil {
		return netip.Addr{}
	}
	return a.Unmap().WithZone("")
}

// near lets through clients of this machine and of private networks only.
func (s *server) near(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if a := s.client(r); a.IsLoopback() || a.IsPrivate() {
			next.ServeHTTP(w, r)
			return
		}
		writeProblem(w, errNoSuchPage)
	})
}

// limited holds back an address that posts too fast.
func (s *server) limited(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !s.posts.allow(network(s.client(r))) {
			return &fault{status: http.StatusTooManyRequests, code: "too_many_posts", after: 30, detail: "Too much was sent from your address in a short time. Wait half a minute and send it again."}
		}
		return h(w, r)
	}
}

// network is what one sender holds: an IPv4 address, or the /64 of an IPv6 one.
func network(a netip.Addr) string {
	if a.Is6() {
		p, _ := a.Prefix(64) // an IPv6 address has 64 bits
		return p.String()
	}
	return a.String()
}

// A limiter allows each name so many events a second, with a burst.
type limiter struct {
	mu    sync.Mutex
	per   rate.Limit
	burst int
	now   func() time.Time
	known map[string]*rate.Limiter
}

// maxNames bounds the memory of a limiter; beyond it the full ones are forgotten.
const maxNames = 10_000

func newLimiter(perSecond float64, burst int, now func() time.Time) *limiter {
	return &limiter{per: rate.Limit(perSecond), burst: burst, now: now, known: map[string]*rate.Limiter{}}
}

func (l *limiter) allow(name string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	at := l.now()
	one, ok := l.known[name]
	if !ok {
		if len(l.known) >= maxNames {
			for n, k := range l.known {
				if k.TokensAt(at) >= float64(l.burst) {
					delete(l.known, n)
				}
			}
			if len(l.known) >= maxNames {
				return false
			}
		}
		one = rate.NewLimiter(l.per, l.burst)
		l.known[name] = one
	}
	return one.AllowN(at, 1)
}
