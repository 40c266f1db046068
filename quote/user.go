package quote

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"unicode/utf8"

	"leafgauge/intake"

	"github.com/alexedwards/argon2id"
)

// minPassword is the shortest password, in characters. NIST SP 800-63B asks for 8 at least;
// the counter is reached from outside, so a little more.
const minPassword = 10

// nobody is compared with where there is no such user, so that the answer takes as long.
var nobody = sync.OnceValues(func() (string, error) {
	return argon2id.CreateHash("nobody's password", argon2id.DefaultParams)
})

// SignIn checks a user's password. ErrNotFound covers both a wrong name and a wrong password.
func (d *Desk) SignIn(ctx context.Context, name, password string) (User, error) {
	u, err := d.repo.User(ctx, strings.TrimSpace(name))
	missing := errors.Is(err, ErrNotFound)
	if err != nil && !missing {
		return User{}, err
	}
	hash := u.Hash
	if missing {
		if hash, err = nobody(); err != nil {
			return User{}, fmt.Errorf("quote: sign in: %w", err)
		}
	}
	match, err := argon2id.ComparePasswordAndHash(password, hash)
	if err != nil {
		return User{}, fmt.Errorf("quote: sign in: %w", err)
	}
	if missing || !match {
		return User{}, fmt.Errorf("quote: sign in: %w", ErrNotFound)
	}
	return u, nil
}

// AddUser adds a user or sets a new password.
func (d *Desk) AddUser(ctx context.Context, name, password string, owner bool) error {
	name = strings.TrimSpace(name)
	if name == "" || len(name) > 100 || name != oneLine(name) {
		return &intake.InvalidError{Field: "name", Code: "bad_name", Text: "Give the user a name of one to a hundred letters."}
	}
	if utf8.RuneCountInString(password) < minPassword || len(password) > 1000 {
		return &intake.InvalidError{Field: "password", Code: "bad_password",
			Text: fmt.Sprintf("The password must have at least %d characters.", minPassword)}
	}
	hash, err := argon2id.CreateHash(password, argon2id.DefaultParams)
	if err != nil {
		return fmt.Errorf("quote: add user: %w", err)
	}
	return d.repo.PutUser(ctx, User{Name: name, Hash: hash, Owner: owner})
}
