package finder

import (
	"cmp"
	"image"
	"slices"

	"leafgauge/measure/picture"
)

const (
	// marked is from when on a place counts as card or leaf.
	marked = 0.5
	// leastCard is how many times a card's box goes into a hinge's at the most: the largest hinges are six times as large.
	leastCard = 10
	// roomRound is left round card and hinge, of their longer extent; where the net sees only one of them the other lies
	// beside it, and roomBeside is left.
	roomRound, roomBeside = 0.2, 1.0
	// mostPart is the largest part of the picture, by its longer side, that is worth a second look.
	mostPart = 0.8
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

// subject is the part of the maps that holds the largest hinge seen, the largest card near it, and room round them; ok is
// false where nothing is seen.
func (m *Maps) subject() (box image.Rectangle, ok bool) {
	hinges, cards := m.things(Leaf), m.things(Card, OtherCard)
	if len(hinges) == 0 && len(cards) == 0 {
		return box, false
	}
	room := roomBeside
	if len(hinges) == 0 {
		box = cards[0]
	} else {
		box = hinges[0]
		for _, c := range cards {
			if c.Dx()*c.Dy()*leastCard > box.Dx()*box.Dy() && c.Overlaps(box.Inset(-int(roomBeside*float64(longer(box))))) {
				box, room = box.Union(c), roomRound
				break
			}
		}
	}
	return box.Inset(-int(room * float64(longer(box)))), true
}

func longer(r image.Rectangle) int { return max(r.Dx(), r.Dy()) }

// things are the boxes of what is marked as one of the channels and hangs together, the largest first.
func (m *Maps) things(channels ...Channel) []image.Rectangle {
	on := make([]bool, m.W*m.H)
	for _, c := range channels {
		for i, v := range m.planes[c] {
			on[i] = on[i] || v > marked
		}
	}
	type thing struct {
		box    image.Rectangle
		places int
	}
	var things []thing
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
			for _, d := range [4]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if i, j := x+d.X, y+d.Y; i >= 0 && j >= 0 && i < m.W && j < m.H && on[j*m.W+i] {
					on[j*m.W+i], queue = false, append(queue, j*m.W+i)
				}
			}
		}
		things = append(things, t)
	}
	slices.SortStableFunc(things, func(a, b thing) int { return cmp.Compare(b.places, a.places) })
	boxes := make([]image.Rectangle, len(things))
	for i, t := range things {
		boxes[i] = t.box
	}
	return boxes
}
