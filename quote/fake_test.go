package quote_test

import (
	"bytes"
	"context"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"leafgauge/catalog"
	"leafgauge/quote"
)

// memory is a quote.Repository and a quote.PhotoStore without a disk. It keeps the promises
// that the desk leans on: one act at a time, all of a Change or nothing.
type memory struct {
	sync.Mutex
	down   error // acts out an outage
	noDisk error // acts out a full disk under the photos

	dossiers   map[quote.ID]quote.Dossier
	keys       map[string]quote.ID
	onces      map[string]quote.ID
	messages   map[string]quote.ID
	intentions map[quote.ID]quote.Intention
	stock      map[string]catalog.Item
	users      map[string]quote.User
	settings   map[string]string
	photos     map[string][]byte
}

func newMemory() *memory {
	return &memory{
		dossiers: map[quote.ID]quote.Dossier{}, keys: map[string]quote.ID{}, onces: map[string]quote.ID{},
		messages: map[string]quote.ID{}, intentions: map[quote.ID]quote.Intention{}, stock: map[string]catalog.Item{},
		users: map[string]quote.User{}, settings: map[string]string{}, photos: map[string][]byte{},
	}
}

var (
	_ quote.Repository = (*memory)(nil)
	_ quote.PhotoStore = (*memory)(nil)
)

// up takes the lock and reports an outage.
func (m *memory) up() (unlock func(), err error) {
	m.Lock()
	return m.Unlock, m.down
}

func (m *memory) Create(ctx context.Context, keyHash []byte, once string, compose func(quote.ID) quote.Change) (quote.Inquiry, bool, error) {
	unlock, err := m.up()
	defer unlock()
	if err != nil {
		return quote.Inquiry{}, false, err
	}
	if first, ok := m.onces[once]; ok && once != "" {
		return m.dossiers[first].Inquiry, true, nil
	}
	id := quote.ID(len(m.dossiers) + 1)
	c := compose(id)
	m.keys[hex.EncodeToString(keyHash)] = id
	m.onces[once] = id
	return m.write(quote.Dossier{}, c), false, nil
}

func (m *memory) Change(ctx context.Context, id quote.ID, decide func(quote.Dossier) (quote.Change, error)) (quote.Inquiry, error) {
	unlock, err := m.up()
	defer unlock()
	if err != nil {
		return quote.Inquiry{}, err
	}
	d, ok := m.dossiers[id]
	if !ok {
		return quote.Inquiry{}, quote.ErrNotFound
	}
	c, err := decide(d)
	if err != nil {
		return quote.Inquiry{}, err
	}
	return m.write(d, c), nil
}

func (m *memory) write(d quote.Dossier, c quote.Change) quote.Inquiry {
	c.Inquiry.Version = d.Inquiry.Version + 1
	c.Inquiry.Photos = append(slices.Clone(d.Inquiry.Photos), c.Photos...)
	d.Inquiry = c.Inquiry
	id := d.Inquiry.ID
	if i, ok := m.intentions[id]; ok && i.Revision <= c.Settled {
		delete(m.intentions, id)
	}
	if c.Measure {
		m.intentions[id] = quote.Intention{Inquiry: id, Revision: c.Inquiry.Revision, Made: c.Inquiry.Updated}
	}
	if c.Findings != nil {
		d.Findings = c.Findings
	}
	if c.Proposal != nil {
		d.Proposal = c.Proposal
	}
	if c.Former != nil {
		d.Quotes = slices.Clone(d.Quotes)
		for i := range d.Quotes {
			if d.Quotes[i].Number == c.Former.Number {
				d.Quotes[i] = *c.Former
			}
		}
	}
	if c.Quote != nil {
		d.Quotes = append([]quote.Quote{*c.Quote}, d.Quotes...)
	}
	d.Events = append(slices.Clone(d.Events), c.Events...)
	for _, l := range c.Letters {
		if slices.ContainsFunc(d.Letters, func(o quote.Letter) bool { return o.Key == l.Key }) {
			continue
		}
		l.ID = int64(1000*int(id) + len(d.Letters))
		d.Letters = append(slices.Clone(d.Letters), l)
	}
	for _, msg := range c.Messages {
		m.messages[msg] = id
	}
	m.dossiers[id] = d
	return d.Inquiry
}

func (m *memory) Inquiry(ctx context.Context, id quote.ID) (quote.Inquiry, error) {
	d, err := m.Dossier(ctx, id)
	return d.Inquiry, err
}

func (m *memory) InquiryByKey(ctx context.Context, keyHash []byte) (quote.Inquiry, error) {
	return find(m, m.keys, hex.EncodeToString(keyHash), func(id quote.ID) quote.Inquiry { return m.dossiers[id].Inquiry })
}

func (m *memory) InquiryByMessage(ctx context.Context, messageIDs []string) (quote.Inquiry, error) {
	for _, id := range slices.Backward(messageIDs) {
		q, err := find(m, m.messages, id, func(id quote.ID) quote.Inquiry { return m.dossiers[id].Inquiry })
		if err == nil || m.down != nil {
			return q, err
		}
	}
	return quote.Inquiry{}, quote.ErrNotFound
}

// find looks key up and makes of it what is wanted.
func find[K comparable, V, W any](m *memory, in map[K]V, key K, as func(V) W) (w W, err error) {
	unlock, err := m.up()
	defer unlock()
	if err != nil {
		return w, err
	}
	v, ok := in[key]
	if !ok {
		return w, fmt.Errorf("memory: %v: %w", key, quote.ErrNotFound)
	}
	return as(v), nil
}

func same[V any](v V) V { return v }

func (m *memory) Dossier(ctx context.Context, id quote.ID) (quote.Dossier, error) {
	return find(m, m.dossiers, id, same)
}

func (m *memory) List(ctx context.Context, f quote.Filter) ([]quote.Summary, int, error) {
	unlock, err := m.up()
	defer unlock()
	var all []quote.Summary
	for _, id := range slices.Sorted(maps.Keys(m.dossiers)) {
		all = append(all, quote.Summary{Inquiry: m.dossiers[id].Inquiry})
	}
	return all, len(all), err
}

func (m *memory) QuoteByNumber(ctx context.Context, number string) (quote.Quote, error) {
	unlock, err := m.up()
	defer unlock()
	for _, d := range m.dossiers {
		for _, q := range d.Quotes {
			if q.Number == number {
				return q, err
			}
		}
	}
	return quote.Quote{}, quote.ErrNotFound
}

func (m *memory) Tallies(ctx context.Context, newest int) (all []quote.Tally, total int, err error) {
	unlock, err := m.up()
	defer unlock()
	for _, id := range slices.Backward(slices.Sorted(maps.Keys(m.dossiers))) {
		all = append(all, m.dossiers[id].Tally())
	}
	return all[:min(newest, len(all))], len(all), err
}

func (m *memory) Intentions(ctx context.Context, madeBefore time.Time, limit int) ([]quote.Intention, error) {
	unlock, err := m.up()
	defer unlock()
	var all []quote.Intention
	for _, id := range slices.Sorted(maps.Keys(m.intentions)) {
		if i := m.intentions[id]; i.Made.Before(madeBefore) && len(all) < limit {
			all = append(all, i)
		}
	}
	return all, err
}

func (m *memory) Letters(ctx context.Context, limit int) ([]quote.Letter, error) {
	unlock, err := m.up()
	defer unlock()
	var all []quote.Letter
	for _, id := range slices.Sorted(maps.Keys(m.dossiers)) {
		for _, l := range m.dossiers[id].Letters {
			if l.Sent.IsZero() && len(all) < limit {
				all = append(all, l)
			}
		}
	}
	return all, err
}

func (m *memory) LetterSent(ctx context.Context, id int64, at time.Time) error {
	unlock, err := m.up()
	defer unlock()
	for _, d := range m.dossiers {
		for i := range d.Letters {
			if d.Letters[i].ID == id {
				d.Letters[i].Sent = at
			}
		}
	}
	return err
}

func (m *memory) PutStock(ctx context.Context, items []catalog.Item) (added, changed int, err error) {
	unlock, err := m.up()
	defer unlock()
	for _, i := range items {
		m.stock[i.StockNumber] = i
	}
	return len(items), 0, err
}

func (m *memory) Stock(ctx context.Context) ([]catalog.Item, error) {
	unlock, err := m.up()
	defer unlock()
	return slices.SortedFunc(maps.Values(m.stock), func(a, b catalog.Item) int { return bytes.Compare([]byte(a.StockNumber), []byte(b.StockNumber)) }), err
}

func (m *memory) StockItem(ctx context.Context, number string) (catalog.Item, error) {
	return find(m, m.stock, number, same)
}

func (m *memory) PutUser(ctx context.Context, u quote.User) error {
	unlock, err := m.up()
	defer unlock()
	m.users[u.Name] = u
	return err
}

func (m *memory) User(ctx context.Context, name string) (quote.User, error) {
	return find(m, m.users, name, same)
}

func (m *memory) Setting(ctx context.Context, name string) (string, error) {
	unlock, err := m.up()
	defer unlock()
	return m.settings[name], err
}

func (m *memory) PutSetting(ctx context.Context, name, value string) error {
	unlock, err := m.up()
	defer unlock()
	m.settings[name] = value
	return err
}

func (m *memory) KeepSetting(ctx context.Context, name, value string) (string, error) {
	unlock, err := m.up()
	defer unlock()
	if m.settings[name] == "" {
		m.settings[name] = value
	}
	return m.settings[name], err
}

func (m *memory) Put(ctx context.Context, sha256 string, data []byte) error {
	unlock, _ := m.up()
	defer unlock()
	if m.noDisk == nil {
		m.photos[sha256] = bytes.Clone(data)
	}
	return m.noDisk
}

func (m *memory) Get(ctx context.Context, sha256 string) ([]byte, error) {
	unlock, _ := m.up()
	defer unlock()
	data, ok := m.photos[sha256]
	if !ok {
		return nil, quote.ErrNotFound
	}
	return data, nil
}
