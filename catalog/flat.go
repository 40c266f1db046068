package catalog

import (
	"math"
	"strings"

	"leafgauge/measure"
	"leafgauge/measure/flat"
)

// An oldShape is the old hinge as far as it is known, in millimetres.
type oldShape struct {
	height, barrel float64
	width, radius  [2]float64
	leaves         int
	knuckles       int
}

// shapeOf takes what is not known of the old hinge from item.
func shapeOf(old measure.Best, item Item) oldShape {
	s := oldShape{height: item.Height.MM(), barrel: item.Barrel.MM(), leaves: 2, knuckles: old.Knuckles}
	if old.Height.Known() {
		s.height = old.Height.Value.MM()
	}
	if old.BarrelDiameter.Known() {
		s.barrel = old.BarrelDiameter.Value.MM()
	}
	if s.barrel <= 0 {
		s.barrel = 11
	}
	if len(old.Leaves) == 1 {
		s.leaves = 1
	}
	for l := range 2 {
		s.width[l] = item.OpenWidth.MM() / 2
		if old.OpenWidth.Known() {
			s.width[l] = old.OpenWidth.Value.MM() / 2
		}
		s.radius[l] = item.Radius[l].MM()
		if l < len(old.Leaves) {
			if w := old.Leaves[l].Width; w.Known() {
				s.width[l] = w.Value.MM()
			}
			if r, ok := radiusOf(old.Leaves[l]); ok {
				s.radius[l] = r.Value.MM()
			}
		}
	}
	return s
}

// LayFlat lays the candidate over the old hinge, both flat and middle on middle, and says how
// high they are together in millimetres. The candidate's pin lies at x = at.X, the upper end of
// the higher hinge at y = at.Y. Without a height and a width to draw it returns nothing and 0.
// Where the old hinge showed one leaf, one of either is laid out.
func LayFlat(old measure.Best, f Fit, at flat.Point) (l flat.List, high float64) {
	i := f.Item
	if i.Height <= 0 || i.OpenWidth <= 0 || !isNumber(i.Height, i.OpenWidth, old.Height.Value, old.OpenWidth.Value) {
		return nil, 0
	}
	o := shapeOf(old, i)
	add := func(s flat.Shape) { l = append(l, s) }
	nw, axis := i.OpenWidth.MM()/2, at.X
	high = math.Max(i.Height.MM(), o.height)
	mid := at.Y + high/2
	oldTop, newTop := mid-o.height/2, mid-i.Height.MM()/2
	oldEnd, newEnd := mid+o.height/2, mid+i.Height.MM()/2

	// The old leaves lie underneath, each with its outer edge under the new one's, as a leaf is
	// pushed home in its cut-out. Where the widths differ, the pins do not lie together.
	edge := [2]float64{axis - nw, axis + nw}
	for k := range o.leaves {
		add(flat.Shape{Role: flat.OldLeaf, Leaf: k, A: flat.Point{X: edge[k], Y: oldTop}, B: flat.Point{X: edge[k] - flat.Side(k)*o.width[k], Y: oldEnd}, R: o.radius[k]})
	}
	if math.Abs(nw-o.width[0]) <= outlinePlay.MM() {
		barrel := flat.Shape{Role: flat.OldBarrel, A: flat.Point{X: axis, Y: oldTop}, B: flat.Point{X: axis, Y: oldEnd}, R: o.barrel / 2, Size: measure.Estimate{Value: measure.Length(o.height)}}
		add(barrel)
		if o.knuckles < 20 {
			l = append(l, flat.Joints(barrel, o.knuckles)...)
		}
	} else {
		for k := range o.leaves {
			x := edge[k] - flat.Side(k)*o.width[k]
			add(flat.Shape{Role: flat.OldPin, Leaf: k, A: flat.Point{X: x, Y: oldTop}, B: flat.Point{X: x, Y: oldEnd}})
		}
		add(flat.Shape{Role: flat.NewPin, A: flat.Point{X: axis, Y: newTop}, B: flat.Point{X: axis, Y: newEnd}})
	}
	for k := range min(o.leaves, len(old.Leaves)) {
		for n, h := range old.Leaves[k].Holes {
			if h.FromEdge.Known() && h.FromEnd.Known() {
				add(flat.Hole(h, k, n, edge[k], oldTop))
			}
		}
	}
	for k := range o.leaves {
		r := i.Radius[k]
		if strings.Contains(f.Placement, "exchanged") {
			r = i.Radius[1-k]
		}
		add(flat.Shape{Role: flat.NewLeaf, Leaf: k, A: flat.Point{X: edge[k], Y: newTop}, B: flat.Point{X: axis, Y: newEnd}, R: r.MM()})
		l = append(l, newHoles(f, k, edge[k], oldTop, newTop)...)
	}
	if i.Barrel > 0 {
		add(flat.Shape{Role: flat.NewBarrel, A: flat.Point{X: axis, Y: newTop}, B: flat.Point{X: axis, Y: newEnd}, R: i.Barrel.MM() / 2, Size: measure.Estimate{Value: i.Height}})
	}

	listed := func(v measure.Length) measure.Estimate { return measure.Estimate{Value: v} }
	upper := flat.Point{X: edge[0], Y: newTop}
	add(flat.Shape{Role: flat.NewHeight, A: upper, B: flat.Point{X: edge[0], Y: newEnd}, Size: listed(i.Height)})
	if old.Height.Known() {
		add(flat.Shape{Role: flat.OldHeight, A: flat.Point{X: edge[0], Y: oldTop}, B: flat.Point{X: edge[0], Y: oldEnd}, Size: old.Height})
	}
	if o.leaves == 1 {
		add(flat.Shape{Role: flat.NewLeafWidth, A: upper, B: flat.Point{X: axis, Y: newTop}, Size: listed(i.OpenWidth / 2)})
		return l, high
	}
	add(flat.Shape{Role: flat.NewWidth, A: upper, B: flat.Point{X: edge[1], Y: newTop}, Size: listed(i.OpenWidth)})
	if old.OpenWidth.Known() {
		add(flat.Shape{Role: flat.OldWidth, A: flat.Point{X: edge[0], Y: oldTop}, B: flat.Point{X: edge[1], Y: oldTop}, Size: old.OpenWidth})
	}
	return l, high
}

func isNumber(ls ...measure.Length) bool {
	for _, l := range ls {
		if math.IsNaN(l.MM()) || math.IsInf(l.MM(), 0) || l > 5000 {
			return false
		}
	}
	return true
}

// newHoles are the candidate's holes on leaf k, as judged, else as listed, each with its ways
// from the leaf's outer edge and from its own upper end.
func newHoles(f Fit, k int, edge, oldTop, newTop float64) flat.List {
	var holes, ways flat.List
	add := func(fromEdge, y float64, fate HoleFate) {
		s := flat.Shape{Role: flat.NewHole, Leaf: k, Hole: len(holes), A: flat.Point{X: edge - flat.Side(k)*fromEdge, Y: y}, R: flat.HoleRadius(f.Item.HoleDia), Fate: string(fate)}
		holes = append(holes, s)
		way := s
		way.Role, way.A, way.B, way.Size = flat.NewFromEnd, flat.Point{X: s.A.X, Y: newTop}, s.A, measure.Estimate{Value: measure.Length(y - newTop)}
		ways = append(ways, way)
		way.Role, way.A, way.Size = flat.NewFromEdge, flat.Point{X: edge, Y: y}, measure.Estimate{Value: measure.Length(fromEdge)}
		ways = append(ways, way)
	}
	for _, h := range f.Holes {
		if h.Leaf == k {
			add(h.New.FromEdge.MM(), oldTop+h.New.FromEnd.MM(), h.Fate)
		}
	}
	if len(holes) == 0 {
		for _, h := range f.Item.Holes {
			y := h.FromEnd.MM()
			if strings.HasPrefix(f.Placement, "end for end") {
				y = f.Item.Height.MM() - y
			}
			add(h.FromEdge.MM(), newTop+y, "")
		}
	}
	return append(holes, ways...)
}
