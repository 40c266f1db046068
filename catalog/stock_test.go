package catalog

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// demoStock reads the demo shelf.
func demoStock(t testing.TB) []Item {
	t.Helper()
	f, err := os.Open("../testdata/stock/demo.csv")
	require.NoError(t, err)
	defer f.Close()
	s, err := ReadSheet(f)
	require.NoError(t, err)
	items, report := ParseStock(s, ListOptions{})
	require.Zero(t, report.Errors, "%v", report.Problems)
	return items
}

func TestDemoStockReadsWithoutErrors(t *testing.T) {
	items := demoStock(t)
	require.GreaterOrEqual(t, len(items), 300)
	for _, i := range items {
		if i.Mortise != "full mortise" {
			continue
		}
		// 3 holes for 3 and 3 1/2 in, 4 for 4 in and larger (common practice, no source), but 3 in
		// some residential 4 in hinges, 5 for 6 in (from memory).
		switch i.Height.Fraction(8) {
		case "3", "3 1/2":
			require.Len(t, i.Holes, 3, i.StockNumber)
		case "6":
			require.Len(t, i.Holes, 5, i.StockNumber)
		default:
			require.Contains(t, []int{3, 4}, len(i.Holes), i.StockNumber)
			require.True(t, len(i.Holes) == 4 || i.Height.Fraction(8) == "4" && i.Thickness < 2.6, i.StockNumber)
		}
	}
}

func TestSoldInIsNoInchColumn(t *testing.T) {
	two := 0
	for _, i := range demoStock(t) {
		if i.SoldIn == 2 {
			two++
		}
	}
	require.Positive(t, two)
}
