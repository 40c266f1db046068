package store_test

import (
	"fmt"
	"os"
	"syscall"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/internal/testservers"
	"leafgauge/store"

	"github.com/stretchr/testify/require"
)

// manyHinges is the demo shelf over and over under numbers of its own.
func manyHinges(tb testing.TB, n int) []catalog.Item {
	f, err := os.Open("../testdata/stock/demo.csv")
	require.NoError(tb, err)
	defer f.Close()
	sheet, err := catalog.ReadSheet(f)
	require.NoError(tb, err)
	shelf, report := catalog.ParseStock(sheet, catalog.ListOptions{})
	require.Zero(tb, report.Errors)
	items := make([]catalog.Item, n)
	for i := range items {
		items[i] = shelf[i%len(shelf)]
		items[i].StockNumber = fmt.Sprintf("B%06d", i)
	}
	return items
}

// processorTime is what the process has used, in seconds: wall time says little on a busy
// machine. PostgreSQL's own share is not in it.
func processorTime(b *testing.B) float64 {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}

// BenchmarkStock100000 times what a shop with a long list waits for: its first import, an
// import that changes a tenth of the prices, and the first reading of the stock.
func BenchmarkStock100000(b *testing.B) {
	items := manyHinges(b, 100_000)
	changed := append([]catalog.Item{}, items...)
	for i := 0; i < len(changed); i += 10 {
		changed[i].OnHand++
	}
	for _, kind := range []string{"sqlite", "postgres"} {
		fresh := func() *store.Store {
			url := b.TempDir() + "/leafgauge.db"
			if kind == "postgres" {
				url = testservers.Postgres(b)
			}
			s, err := store.Open(b.Context(), url)
			require.NoError(b, err)
			b.Cleanup(func() { s.Close() })
			return s
		}
		var used float64 // by the steps that count
		report := func(b *testing.B) { b.ReportMetric(used/float64(b.N), "cpu-s/op"); used = 0 }
		count := func(step func()) {
			before := processorTime(b)
			step()
			used += processorTime(b) - before
		}
		put := func(s *store.Store, items []catalog.Item) {
			_, _, err := s.PutStock(b.Context(), items)
			require.NoError(b, err)
		}
		b.Run(kind+"/first", func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				s := fresh()
				b.StartTimer()
				count(func() { put(s, items) })
			}
			report(b)
		})
		b.Run(kind+"/again", func(b *testing.B) {
			s := fresh()
			put(s, items)
			for n := 0; b.Loop(); n++ {
				count(func() { put(s, [][]catalog.Item{changed, items}[n%2]) })
			}
			report(b)
		})
		b.Run(kind+"/read", func(b *testing.B) {
			s := fresh()
			put(s, items)
			for b.Loop() {
				b.StopTimer()
				put(s, items[:0]) // the store reads again
				b.StartTimer()
				count(func() {
					got, err := s.Stock(b.Context())
					require.NoError(b, err)
					require.Len(b, got, len(items))
				})
			}
			report(b)
		})
	}
}
