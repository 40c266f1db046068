package quote

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
)

// secretSetting names the setting that holds the server's secret. Whoever has it and an
// inquiry's seed can make the customer's key; it travels with a backup, so that links in
// letters sent long ago go on working.
const secretSetting = "customer_key_secret"

var keyText = base32.StdEncoding.WithPadding(base32.NoPadding)

// key makes the customer's secret key of a seed: 160 bits in 32 letters and digits.
func (d *Desk) key(ctx context.Context, seed string) (string, error) {
	fresh := make([]byte, 32)
	rand.Read(fresh) // it never fails
	kept, err := d.repo.Setting(ctx, secretSetting)
	if err == nil && kept == "" {
		kept, err = d.repo.KeepSetting(ctx, secretSetting, hex.EncodeToString(fresh))
	}
	if err != nil {
		return "", fmt.Errorf("quote: server's secret: %w", err)
	}
	secret, err := hex.DecodeString(kept)
	if err != nil || len(secret) < 16 {
		return "", fmt.Errorf("quote: the setting %s is damaged: restore it from a backup", secretSetting)
	}
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte("customer key\x00" + seed))
	return strings.ToLower(keyText.EncodeToString(mac.Sum(nil)[:20])), nil
}

// KeyHash is what is kept of a customer's key.
func KeyHash(key string) []byte {
	sum := sha256.Sum256([]byte(strings.ToLower(strings.TrimSpace(key))))
	return sum[:]
}

// link is the customer's page.
func (d *Desk) link(key string) string { return strings.TrimRight(d.terms.BaseURL, "/") + "/i/" + key }

// Link returns the customer's secret link to q.
func (d *Desk) Link(ctx context.Context, q Inquiry) (string, error) {
	key, err := d.key(ctx, q.KeySeed)
	if err != nil {
		return "", err
	}
	return d.link(key), nil
}

// seedAndToken makes the key's seed and the token that a repeat is known by. An idempotency
// key that two senders happen to share must not show one the other's inquiry, so over the
// web the seed takes in all that was sent. A Message-ID needs no such care: its link goes
// by letter only.
func seedAndToken(s Submission) (seed, token string) {
	if s.Once == "" {
		fresh := make([]byte, 16)
		rand.Read(fresh)
		return hex.EncodeToString(fresh), ""
	}
	token = digest(string(s.Source), s.Once)
	if s.Source == FromMail {
		return token, token
	}
	parts := []string{token, s.Contact.Name, s.Contact.Email, s.Text, asText(s.Door), asText(s.Wishes)}
	for _, p := range s.Photos {
		parts = append(parts, p.SHA256)
	}
	return digest(parts...), token
}

// digest is the SHA-256 of parts, hex; no two lists of parts run together.
func digest(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// asText prints a struct of plain fields the same way each time.
func asText(v any) string {
	b, err := json.Marshal(v)
	if err != nil { // a NaN typed into a form
		return fmt.Sprint(v)
	}
	return string(b)
}
