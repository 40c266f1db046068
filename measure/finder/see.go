package finder

import (
	"image"

	"leafgauge/measure/picture"
)

const (
	// marked is from when on a place counts as card or leaf.
	marked = 0.5
	// leastPart is how large a thing must be to be looked at, of the largest.
	leastPart = 0.1
	// roomRound is left round card and hinge, of their longer extent; where the net sees only one of them the other lies
	// beside it, and roomBeside is left.
	roomRound, roomBeside = 0.2, 1.2
	// mostPart is the largest part of the picture, by its longer side, that is worth a second look.
	mostPart = 0.7
)

// See has the net look at the picture, and where card and hinge are but a small part of it at that part again: corners
// come out as much sharper as they come out larger.
func See(f *picture.Frame) Maps {
	m := Look(Reduce(f))
	n := f.Reduction()
	from := f.Reduce(n)
	box, ok := m.subject()
	if !ok {
		return m
	}
	scale := m.PerPlace / float64(n)
	part := image.Rect(int(float64(box.Min.X)*scale), int(float64(box.Min.Y)*scale), int(float64(box.Max.X)*scale), int(float64(box.Max.Y)*scale)).
		Intersect(image.Rect(0, 0, from.W, from.H))
	if float64(max(part.Dx(), part.Dy())) > mostPart*float64(max(from.W, from.H)) || min(part.Dx(), part.Dy()) < 32 {
		return m
	}
	return Look(reduce(from, n, part))
}

// subject is the part of the maps that holds card and hinge, with room round them; ok is false where nothing is seen.
func (m *Maps) subject() (box image.Rectangle, ok bool) {
	on := make([]bool, m.W*m.H)
	for i := range on {
		on[i] = max(m.planes[Card][i], m.planes[Leaf][i], m.planes[OtherCard][i]) > marked
	}
	type thing struct {
		box          image.Rectangle
		places, leaf int
	}
	var things []thing
	largest := 0
	var queue []int
	for start := range on {
		if !on[start] {
			continue
		}
		var t thing
		on[start], queue = false, append(queue[:0], start)
		for k := 0; k < len(queue); k++ {
			x, y := queue[k]%m.W, queue[k]/m.W
			t.box = t.box.Union(image.Rect(x, y, x+1, y+1))
			t.places++
			if m.planes[Leaf][queue[k]] > marked {
				t.leaf++
			}
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if i, j := x+d[0], y+d[1]; i >= 0 && j >= 0 && i < m.W && j < m.H && on[j*m.W+i] {
					on[j*m.W+i], queue = false, append(queue, j*m.W+i)
				}
			}
		}
		things = append(things, t)
		largest = max(largest, t.places)
	}
	var leaf, card bool
	for _, t := range things {
		if float64(t.places) >= leastPart*float64(largest) {
			box = box.Union(t.box)
			leaf = leaf || float64(t.leaf) > leastPart*float64(t.places)
			card = card || float64(t.leaf) < (1-leastPart)*float64(t.places)
		}
	}
	room := roomRound
	if !leaf || !card {
		room = roomBeside
	}
	return box.Inset(-int(room * float64(max(box.Dx(), box.Dy())))), largest > 0
}
