package flat

import (
	"testing"

	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// of are the shapes of a role.
func of(l List, role Role) (out []Shape) {
	for _, s := range l {
		if s.Role == role {
			out = append(out, s)
		}
	}
	return out
}

func TestMeasuredHingeLiesOnItsPin(t *testing.T) {
	e := func(v measure.Length) measure.Estimate { return measure.Estimate{Value: v, Sigma: 0.05} }
	leaf := measure.Leaf{Width: e(44), CornerRadius: e(6.3), Holes: []measure.Hole{{FromEdge: e(19), FromEnd: e(15), Diameter: e(5)}, {FromEdge: e(10), FromEnd: e(44)}}}
	h := measure.Hinge{Height: e(89), OpenWidth: e(90), BarrelDiameter: e(11), Knuckles: 5, Leaves: []measure.Leaf{leaf, leaf}}
	l := Measured(h)

	leaves := of(l, OldLeaf)
	require.Len(t, leaves, 2)
	require.Equal(t, Shape{Role: OldLeaf, A: Point{-45, 0}, B: Point{-5.5, 89}, R: 6.3}, leaves[0], "half the open width, which was measured across both leaves")
	require.Equal(t, Point{45, 0}, leaves[1].A)

	holes := of(l, OldHole)
	require.Len(t, holes, 4)
	require.Equal(t, Point{-26, 15}, holes[0].A)
	require.Equal(t, Point{26, 15}, holes[2].A, "the leaves mirror each other")
	require.Equal(t, 2.5, holes[0].R)
	require.InDelta(t, 25.4*3/32, holes[1].R, 1e-12, "as for a #9 screw, 3/16 in, where nobody measured it")

	require.Len(t, of(l, Joint), 4)
	require.Equal(t, Point{45, 0}, of(l, OldWidth)[0].B)
	way := of(l, OldFromEdge)[0]
	require.Equal(t, 19.0, way.B.X-way.A.X)
	require.Empty(t, of(l, OldLeafWidth))

	h.Leaves, h.OpenWidth = h.Leaves[:1], measure.Estimate{}
	l = Measured(h)
	require.Equal(t, Point{-44, 0}, of(l, OldLeafWidth)[0].A, "a single leaf goes by its own width")
	require.Empty(t, of(l, OldWidth))
}
