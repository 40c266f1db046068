package store

import (
	"context"
	"database/sql"
	"errors"

	"leafgauge/quote"
)

// PutUser implements quote.Repository: it adds the user, or replaces the one of the same name.
func (s *Store) PutUser(ctx context.Context, u quote.User) error {
	_, err := s.db.ExecContext(ctx, `INSERT INTO account (name, hash, owner) VALUES ($1, $2, $3)
		ON CONFLICT (name) DO UPDATE SET hash = excluded.hash, owner = excluded.owner`, clean(u.Name), u.Hash, bit(u.Owner))
	return asDomain(err, "user %s", u.Name)
}

// User implements quote.Repository.
func (s *Store) User(ctx context.Context, name string) (u quote.User, err error) {
	err = s.db.QueryRowContext(ctx, "SELECT name, hash, owner FROM account WHERE name = $1", clean(name)).Scan(&u.Name, &u.Hash, &u.Owner)
	return u, asDomain(err, "user")
}

// Setting implements quote.Repository.
func (s *Store) Setting(ctx context.Context, name string) (value string, err error) {
	err = s.db.QueryRowContext(ctx, "SELECT value FROM setting WHERE name = $1", name).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return value, asDomain(err, "setting %s", name)
}

// PutSetting implements quote.Repository.
func (s *Store) PutSetting(ctx context.Context, name, value string) error {
	_, err := s.db.ExecContext(ctx, `INSERT INTO setting (name, value) VALUES ($1, $2)
		ON CONFLICT (name) DO UPDATE SET value = excluded.value`, name, clean(value))
	return asDomain(err, "setting %s", name)
}

// KeepSetting implements quote.Repository.
func (s *Store) KeepSetting(ctx context.Context, name, value string) (string, error) {
	_, err := s.db.ExecContext(ctx, "INSERT INTO setting (name, value) VALUES ($1, $2) ON CONFLICT DO NOTHING", name, clean(value))
	if err != nil {
		return "", asDomain(err, "setting %s", name)
	}
	return s.Setting(ctx, name)
}
