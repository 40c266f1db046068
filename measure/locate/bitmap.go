package locate

import "math/bits"

// A bitmap marks cells of a map, 64 to a word. Bits beyond a row's end are 0.
type bitmap struct {
	w, h, n int // n words to a row
	words   []uint64
}

func newBitmap(w, h int) *bitmap {
	n := (w + 63) / 64
	return &bitmap{w, h, n, make([]uint64, n*h)}
}

func (b *bitmap) row(j int) []uint64 { return b.words[j*b.n : (j+1)*b.n] }
func (b *bitmap) at(i, j int) bool   { return b.words[j*b.n+i>>6]>>(i&63)&1 != 0 }
func (b *bitmap) set(i, j int)       { b.words[j*b.n+i>>6] |= 1 << (i & 63) }

// marked is at for a cell that may lie off the map, where nothing is.
func (b *bitmap) marked(i, j int) bool {
	return i >= 0 && j >= 0 && i < b.w && j < b.h && b.at(i, j)
}

func (b *bitmap) clone() *bitmap {
	out := newBitmap(b.w, b.h)
	copy(out.words, b.words)
	return out
}

// inverse marks what b does not.
func (b *bitmap) inverse() *bitmap {
	out := newBitmap(b.w, b.h)
	for k, v := range b.words {
		out.words[k] = ^v
	}
	out.trim()
	return out
}

// trim clears the bits beyond the rows' ends.
func (b *bitmap) trim() {
	for k := b.n - 1; k < len(b.words); k += b.n {
		b.words[k] &= ^uint64(0) >> (63 - (b.w-1)&63)
	}
}

// and keeps of b what o marks too.
func (b *bitmap) and(o *bitmap) {
	for k := range b.words {
		b.words[k] &= o.words[k]
	}
}

// grown marks the cells that have a marked one among the (2r + 1)² round them.
func (b *bitmap) grown(r int) *bitmap {
	out := b.clone()
	// What reaches have cells to one side leaves no gap there when moved by have + 1 more.
	for have := 0; have < r; {
		s := min(have+1, r-have, 63)
		for j := range out.h {
			row := out.row(j)
			var last uint64
			for k, v := range row {
				next := uint64(0)
				if k+1 < len(row) {
					next = row[k+1]
				}
				row[k] = v | v<<s | last>>(64-s) | v>>s | next<<(64-s)
				last = v
			}
		}
		have += s
	}
	out.trim()
	for have := 0; have < r; {
		s := min(have+1, r-have)
		from := out.clone()
		for k := range max(0, len(from.words)-s*b.n) {
			out.words[k] |= from.words[k+s*b.n]
			out.words[k+s*b.n] |= from.words[k]
		}
		have += s
	}
	return out
}

// shrunk keeps the cells of which all of the (2r + 1)² round them, as far as they lie on the
// map, are marked.
func (b *bitmap) shrunk(r int) *bitmap { return b.inverse().grown(r).inverse() }

// filled marks also what is enclosed: unmarked cells from which no way of unmarked cells,
// side by side, leads to the map's border.
func (b *bitmap) filled() *bitmap {
	out := b.clone()
	for _, p := range b.inverse().parts() {
		if p.atBorder(b.w, b.h) {
			continue
		}
		for _, s := range p.runs {
			row := out.row(s.j)
			for i := s.from; i < s.to; i++ {
				row[i>>6] |= 1 << (i & 63)
			}
		}
	}
	return out
}

// A run is a row's marked cells from…to−1 without a break.
type run struct{ j, from, to int }

// A part is marked cells that hang together side by side, by its runs from the top down.
type part struct {
	runs  []run
	cells int
}

func (p part) atBorder(w, h int) bool {
	for _, s := range p.runs {
		if s.from == 0 || s.to == w || s.j == 0 || s.j == h-1 {
			return true
		}
	}
	return false
}

// parts takes b apart, in the order of the parts' first cells.
func (b *bitmap) parts() []part {
	var runs []run
	var leader []int // a run of the same part that comes no later
	find := func(k int) int {
		for leader[k] != k {
			leader[k] = leader[leader[k]]
			k = leader[k]
		}
		return k
	}
	above := 0 // the first run of the row above that may still touch
	rowStart := 0
	for j := range b.h {
		lastRow := rowStart
		above, rowStart = lastRow, len(runs)
		for i := b.next(j, 0, true); i < b.w; {
			end := b.next(j, i, false)
			k := len(runs)
			runs, leader = append(runs, run{j, i, end}), append(leader, k)
			for above < rowStart && runs[above].to <= i {
				above++
			}
			for q := above; q < rowStart && runs[q].from < end; q++ {
				if x, y := find(q), find(k); x < y {
					leader[y] = x
				} else {
					leader[x] = y
				}
			}
			i = b.next(j, end, true)
		}
	}
	number := make([]int, len(runs))
	var out []part
	for k := range runs {
		if l := find(k); l == k {
			number[k] = len(out)
			out = append(out, part{})
		} else {
			number[k] = number[l]
		}
		p := &out[number[k]]
		p.runs = append(p.runs, runs[k])
		p.cells += runs[k].to - runs[k].from
	}
	return out
}

// each visits the marked cells, row by row.
func (b *bitmap) each(do func(i, j int)) {
	for j := range b.h {
		for i := b.next(j, 0, true); i < b.w; i = b.next(j, i+1, true) {
			do(i, j)
		}
	}
}

// next is the first cell from i on in row j that is marked, or is not; w where there is none.
func (b *bitmap) next(j, i int, marked bool) int {
	row := b.row(j)
	for i < b.w {
		v := row[i>>6]
		if !marked {
			v = ^v
		}
		if v >>= i & 63; v != 0 {
			return min(i+bits.TrailingZeros64(v), b.w)
		}
		i = i&^63 + 64
	}
	return b.w
}
