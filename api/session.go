package api

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"time"

	"leafgauge/quote"
)

// A session says who is signed in. It travels in a cookie or a bearer token, signed with
// HMAC-SHA256 (RFC 2104), so that every server with the same key knows it.
type session struct {
	Name  string    `json:"name"`
	Owner bool      `json:"owner"`
	Until time.Time `json:"until"`
}

const (
	sessionCookie = "leafgauge_session"
	sessionLength = 12 * time.Hour // one long day at the counter
)

func (s *server) token(u session) string {
	b, _ := json.Marshal(u) // a name, a bool and a time always marshal
	return base64.RawURLEncoding.EncodeToString(b) + "." + base64.RawURLEncoding.EncodeToString(s.sign(b))
}

func (s *server) sign(b []byte) []byte {
	m := hmac.New(sha256.New, s.SessionKey)
	m.Write([]byte("session "))
	m.Write(b)
	return m.Sum(nil)
}

// session returns who is signed in, by bearer token or by cookie.
func (s *server) session(r *http.Request) (session, bool) {
	token, bearer := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	if !bearer {
		c, err := r.Cookie(sessionCookie)
		if err != nil {
			return session{}, false
		}
		token = c.Value
	}
	body, mac, ok := strings.Cut(token, ".")
	b, err1 := base64.RawURLEncoding.DecodeString(body)
	m, err2 := base64.RawURLEncoding.DecodeString(mac)
	if !ok || err1 != nil || err2 != nil || !hmac.Equal(m, s.sign(b)) {
		return session{}, false
	}
	var u session
	if json.Unmarshal(b, &u) != nil || !s.Now().Before(u.Until) {
		return session{}, false
	}
	return u, true
}

// signedIn lets only the counter through.
func (s *server) signedIn(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if _, ok := s.session(r); !ok {
			return errSignIn
		}
		return h(w, r)
	}
}

// who is the name of whoever is signed in.
func (s *server) who(r *http.Request) string {
	u, _ := s.session(r)
	return u.Name
}

// signIn checks name and password, slowly enough to make guessing hopeless.
func (s *server) signIn(r *http.Request, name, password string) (session, error) {
	slow := &fault{status: http.StatusTooManyRequests, code: "too_many_posts", after: 10, detail: "Too many tries to sign in. Wait ten seconds, then try again."}
	if !s.signIns.allow("from "+network(s.client(r))) || !s.signIns.allow("as "+strings.ToLower(name)) {
		return session{}, slow
	}
	select {
	case s.hashing <- struct{}{}:
		defer func() { <-s.hashing }()
	case <-r.Context().Done():
		return session{}, r.Context().Err()
	}
	u, err := s.desk.SignIn(r.Context(), name, password)
	if errors.Is(err, quote.ErrNotFound) {
		s.Log.Warn("sign-in refused", "from", s.client(r).String())
		return session{}, &fault{status: http.StatusUnauthorized, code: "wrong_sign_in", detail: "Name or password is wrong. The owner can set a new password with: leafgauge user add."}
	}
	if err != nil {
		return session{}, err
	}
	return session{Name: u.Name, Owner: u.Owner, Until: s.Now().Add(sessionLength)}, nil
}

func (s *server) setCookie(w http.ResponseWriter, u session) {
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Value: s.token(u), Path: "/", MaxAge: int(sessionLength.Seconds()),
		HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteLaxMode})
}

func (s *server) postSignIn(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Name     string `json:"name"`
		Password string `json:"password"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	u, err := s.signIn(r, in.Name, in.Password)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, signInAnswer{Token: s.token(u), Name: u.Name, Owner: u.Owner, Until: u.Until})
}

type signInAnswer struct {
	Token string    `json:"token"`
	Name  string    `json:"name"`
	Owner bool      `json:"owner"`
	Until time.Time `json:"until"`
}
