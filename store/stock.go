package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"leafgauge/catalog"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

// stockCache holds the stock as read last. Reading 100,000 hinges takes seconds, and every
// inquiry is ranked against all of them; the counter "stock" says when to read again.
type stockCache struct {
	sync.Mutex
	at    int64
	items []catalog.Item
}

// upsertStock writes rows that are new or not as they were.
const upsertStock = " ON CONFLICT (stock_number) DO UPDATE SET item = excluded.item WHERE stock.item <> excluded.item"

// PutStock implements quote.Repository, all of it in one transaction. Hinges that are there
// already as they are given count neither as added nor as changed.
func (s *Store) PutStock(ctx context.Context, items []catalog.Item) (added, changed int, err error) {
	at := map[string]int{} // of a number given twice the last holds
	rows := make([][]any, 0, len(items))
	for _, item := range items {
		text, err := asJSON(item)
		if err != nil {
			return 0, 0, fmt.Errorf("stock number %s: %w", item.StockNumber, err)
		}
		if i, twice := at[item.StockNumber]; twice {
			rows[i][1] = text
			continue
		}
		at[item.StockNumber] = len(rows)
		rows = append(rows, []any{clean(item.StockNumber), text})
	}
	conn, err := s.db.Conn(ctx)
	if err != nil {
		return 0, 0, fmt.Errorf("store: connect: %w", err)
	}
	defer conn.Close()
	err = inTx(ctx, conn, func(tx *sql.Tx) error {
		if _, err := next(ctx, tx, "stock"); err != nil { // one import at a time
			return err
		}
		before, err := countStock(ctx, tx)
		if err != nil {
			return err
		}
		write := writeStock
		if s.postgres {
			write = func(ctx context.Context, tx *sql.Tx, rows [][]any) (int, error) {
				return copyStock(ctx, conn, tx, rows)
			}
		}
		written, err := write(ctx, tx, rows)
		if err != nil {
			return asDomain(err, "write stock")
		}
		after, err := countStock(ctx, tx)
		added, changed = after-before, written-(after-before)
		return err
	})
	if err != nil {
		return 0, 0, err
	}
	return added, changed, nil
}

func countStock(ctx context.Context, tx *sql.Tx) (n int, err error) {
	err = tx.QueryRowContext(ctx, "SELECT count(*) FROM stock").Scan(&n)
	return n, asDomain(err, "count stock")
}

// writeStock writes rows one by one and returns how many were new or changed.
func writeStock(ctx context.Context, tx *sql.Tx, rows [][]any) (written int, err error) {
	insert, err := tx.PrepareContext(ctx, "INSERT INTO stock (stock_number, item) VALUES ($1, $2)"+upsertStock)
	if err != nil {
		return 0, err
	}
	defer insert.Close()
	for _, row := range rows {
		r, err := insert.ExecContext(ctx, row...)
		if err != nil {
			return 0, err
		}
		n, err := r.RowsAffected()
		if err != nil {
			return 0, err
		}
		written += int(n)
	}
	return written, nil
}

// copyStock writes rows by PostgreSQL's COPY into a table of its own and from there in one
// statement, and returns how many were new or changed. tx is a transaction on conn.
func copyStock(ctx context.Context, conn *sql.Conn, tx *sql.Tx, rows [][]any) (written int, err error) {
	if _, err := tx.ExecContext(ctx, "CREATE TEMPORARY TABLE stock_in (stock_number TEXT, item TEXT) ON COMMIT DROP"); err != nil {
		return 0, err
	}
	err = conn.Raw(func(c any) error {
		_, err := c.(*stdlib.Conn).Conn().CopyFrom(ctx, pgx.Identifier{"stock_in"}, []string{"stock_number", "item"}, pgx.CopyFromRows(rows))
		return err
	})
	if err != nil {
		return 0, err
	}
	r, err := tx.ExecContext(ctx, "INSERT INTO stock (stock_number, item) SELECT stock_number, item FROM stock_in"+upsertStock)
	if err != nil {
		return 0, err
	}
	n, err := r.RowsAffected()
	return int(n), err
}

// Stock implements quote.Repository, by stock number. All callers share the slice and leave
// it as it is: a copy for each would cost more than ranking it.
func (s *Store) Stock(ctx context.Context) ([]catalog.Item, error) {
	s.stock.Lock()
	defer s.stock.Unlock()
	err := s.inSnapshot(ctx, func(tx *sql.Tx) error {
		var at int64
		if err := tx.QueryRowContext(ctx, "SELECT value FROM counter WHERE name = 'stock'").Scan(&at); err != nil {
			return err
		}
		if at == s.stock.at && s.stock.items != nil {
			return nil
		}
		items, err := readStock(ctx, tx)
		if err != nil {
			return err
		}
		s.stock.at, s.stock.items = at, items
		return nil
	})
	if err != nil {
		return nil, asDomain(err, "stock")
	}
	return s.stock.items, nil
}

// readStock reads all of the stock. Nearly all of the time goes into taking JSON apart, which
// every core helps with while the rows come in.
func readStock(ctx context.Context, tx *sql.Tx) ([]catalog.Item, error) {
	const batch = 500
	rows, err := tx.QueryContext(ctx, "SELECT item FROM stock ORDER BY stock_number")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	type part struct {
		texts []string
		items []catalog.Item
		err   error
	}
	var parts []*part
	work := make(chan *part)
	var cores sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		cores.Go(func() {
			for p := range work {
				p.items = make([]catalog.Item, len(p.texts))
				for i, text := range p.texts {
					p.err = errors.Join(p.err, json.Unmarshal([]byte(text), &p.items[i]))
				}
				p.texts = nil
			}
		})
	}
	p := &part{}
	hand := func() {
		parts = append(parts, p)
		work <- p
		p = &part{}
	}
	for err == nil && rows.Next() {
		var text string
		err = rows.Scan(&text)
		if p.texts = append(p.texts, text); len(p.texts) == batch {
			hand()
		}
	}
	hand()
	close(work)
	cores.Wait()
	if err = errors.Join(err, rows.Err()); err != nil {
		return nil, err
	}
	items := make([]catalog.Item, 0, batch*len(parts))
	for _, p := range parts {
		if p.err != nil {
			return nil, p.err
		}
		items = append(items, p.items...)
	}
	return items, nil
}

// StockItem implements quote.Repository.
func (s *Store) StockItem(ctx context.Context, number string) (catalog.Item, error) {
	item, err := scanItem(s.db.QueryRowContext(ctx, "SELECT item FROM stock WHERE stock_number = $1", clean(number)))
	return item, asDomain(err, "stock number %s", number)
}

func scanItem(r row) (item catalog.Item, err error) {
	var text string
	if err := r.Scan(&text); err != nil {
		return item, err
	}
	return item, json.Unmarshal([]byte(text), &item)
}
