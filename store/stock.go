package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"

	"leafgauge/catalog"
)

// stockCache holds the stock as read last. Reading 100,000 hinges takes a second or so, and
// every inquiry is ranked against all of them; the counter "stock" says when to read again.
type stockCache struct {
	sync.Mutex
	at    int64
	items []catalog.Item
}

// stockBatch is how many rows one INSERT takes: 2 parameters a row, of SQLite's 32766.
const stockBatch = 1000

// PutStock implements quote.Repository, all of it in one transaction. Hinges that are there
// already as they are given count neither as added nor as changed.
func (s *Store) PutStock(ctx context.Context, items []catalog.Item) (added, changed int, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		if _, err := next(ctx, tx, "stock"); err != nil { // one import at a time
			return err
		}
		there := map[string]string{}
		_, err := collect(ctx, tx, func(r row) (struct{}, error) {
			var number, item string
			err := r.Scan(&number, &item)
			there[number] = item
			return struct{}{}, err
		}, "SELECT stock_number, item FROM stock")
		if err != nil {
			return asDomain(err, "stock")
		}
		put := map[string]int{} // place in args of a number given twice: the last one holds
		var args []any
		for _, item := range items {
			text, err := asJSON(item)
			if err != nil {
				return fmt.Errorf("stock number %s: %w", item.StockNumber, err)
			}
			if i, twice := put[item.StockNumber]; twice {
				args[i+1] = text
				continue
			}
			old, known := there[item.StockNumber]
			switch {
			case !known:
				added++
			case old != text:
				changed++
			default:
				continue
			}
			put[item.StockNumber] = len(args)
			args = append(args, item.StockNumber, text)
		}
		for batch := range slices.Chunk(args, 2*stockBatch) {
			rows := make([]string, len(batch)/2)
			for i := range rows {
				rows[i] = fmt.Sprintf("($%d, $%d)", 2*i+1, 2*i+2)
			}
			_, err := tx.ExecContext(ctx, "INSERT INTO stock (stock_number, item) VALUES "+strings.Join(rows, ", ")+
				" ON CONFLICT (stock_number) DO UPDATE SET item = excluded.item", batch...)
			if err != nil {
				return asDomain(err, "write stock")
			}
		}
		return nil
	})
	if err != nil {
		return 0, 0, err
	}
	return added, changed, nil
}

// Stock implements quote.Repository, by stock number.
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
		items, err := collect(ctx, tx, scanItem, "SELECT item FROM stock ORDER BY stock_number")
		if err != nil {
			return err
		}
		s.stock.at, s.stock.items = at, items
		return nil
	})
	if err != nil {
		return nil, asDomain(err, "stock")
	}
	return slices.Clone(s.stock.items), nil
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
