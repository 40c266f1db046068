package quote

import (
	"testing"

	"leafgauge/catalog"
	"leafgauge/intake/readings"
	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

func TestUnderstood(t *testing.T) {
	got := understood(readings.Parse("3 1/2 in high, radius 5/8 in corners, 3 hinges, brass. Front door, not fire rated, loose pin, left hand, swings out, brass"))
	require.Equal(t, []string{"height 3 1/2 in (88.9 mm)", "corner radius 5/8 in (15.9 mm)", "3 hinges wanted", "brass", "outside door", "not fire-rated", "loose pin", "left hand", "swings out"}, got)
	require.Equal(t, []string{"not: loose pin"}, understood(readings.Parse("not loose pin")))
	require.Empty(t, understood(readings.Parse("Hello")))
}

func TestWishesRead(t *testing.T) {
	require.Equal(t, []string{"1 hinge wanted", "satin nickel", "ball bearing", "non-removable pin", "right hand", "no spring"},
		WishesRead(catalog.Wishes{Count: 1, Finish: "satin nickel", Bearing: measure.BallBearing, PinKind: "non-removable", Handing: "right", Spring: "none"}))
	require.Empty(t, WishesRead(catalog.Wishes{}))
}
