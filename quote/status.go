package quote

import "slices"

// Status is where an inquiry stands.
type Status string

const (
	Received    Status = "received"
	Measuring   Status = "measuring"
	NeedsPhoto  Status = "needs_photo"
	NeedsAnswer Status = "needs_answer"
	Ready       Status = "ready"
	Approved    Status = "approved"
	Quoted      Status = "quoted"
	Won         Status = "won"
	Lost        Status = "lost"
	Declined    Status = "declined"
	Withdrawn   Status = "withdrawn"
	Stuck       Status = "stuck" // a job has failed for good: a person must look
)

// Statuses lists every Status in the order of an inquiry's life.
var Statuses = []Status{Received, Measuring, NeedsPhoto, NeedsAnswer, Ready, Approved, Quoted,
	Won, Lost, Declined, Withdrawn, Stuck}

// Role is who makes a move.
type Role string

const (
	ByCustomer Role = "customer"
	ByCounter  Role = "counter"
	ByProgram  Role = "program"
)

// Roles lists every Role, the counter first, whose list it is.
var Roles = []Role{ByCounter, ByCustomer, ByProgram}

// A move is one allowed change of status and who may make it.
type move struct {
	from, to Status
	by       []Role
}

// moves is the whole life of an inquiry. A move that is not listed is refused with ErrMove.
var moves = slices.Concat([]move{
	{Received, Measuring, []Role{ByProgram}},
	{Measuring, NeedsPhoto, []Role{ByProgram}},
	{Measuring, NeedsAnswer, []Role{ByProgram}},
	{Measuring, Ready, []Role{ByProgram}},
	{Measuring, Stuck, []Role{ByProgram}},
	{Received, Stuck, []Role{ByProgram}},
	// A new photo, a new reading or an overruled slip is measured again. What a customer
	// writes after the quote is kept for the counter, who may have it measured.
	{Received, Received, []Role{ByCustomer, ByCounter}},
	{Quoted, Measuring, []Role{ByCounter}},
	{NeedsPhoto, Measuring, []Role{ByCustomer, ByCounter}},
	{NeedsAnswer, Measuring, []Role{ByCustomer, ByCounter}},
	{Ready, Measuring, []Role{ByCustomer, ByCounter}},
	{Stuck, Measuring, []Role{ByCounter, ByCustomer}},
	{Measuring, Measuring, []Role{ByCustomer, ByCounter}},
	// The counter asks.
	{Ready, NeedsPhoto, []Role{ByCounter}},
	{Ready, NeedsAnswer, []Role{ByCounter}},
	{NeedsAnswer, NeedsPhoto, []Role{ByCounter}},
	{NeedsPhoto, NeedsAnswer, []Role{ByCounter}},
	{NeedsAnswer, NeedsAnswer, []Role{ByCounter}},
	{NeedsPhoto, NeedsPhoto, []Role{ByCounter}},
	{Stuck, NeedsPhoto, []Role{ByCounter}},
	{Stuck, NeedsAnswer, []Role{ByCounter}},
	// The counter decides. It may approve before an answer came, and by hand from stuck.
	{Ready, Approved, []Role{ByCounter}},
	{NeedsAnswer, Approved, []Role{ByCounter}},
	{NeedsPhoto, Approved, []Role{ByCounter}},
	{Stuck, Approved, []Role{ByCounter}},
	{Approved, Quoted, []Role{ByCounter, ByProgram}},
	// A quote that is out is revised, extended or sent again.
	{Quoted, Quoted, []Role{ByCounter}},
	{Quoted, Won, []Role{ByCustomer, ByCounter}},
	{Quoted, Lost, []Role{ByCustomer, ByCounter}},
},
	fromAnyOpen(Declined, ByCounter),
	fromAnyOpen(Withdrawn, ByCustomer, ByCounter),
)

// fromAnyOpen is the moves to one status from every open one.
func fromAnyOpen(to Status, by ...Role) (all []move) {
	for _, s := range Statuses {
		if s.Open() {
			all = append(all, move{s, to, by})
		}
	}
	return all
}

// Open reports whether an inquiry in s still waits for somebody.
func (s Status) Open() bool {
	switch s {
	case Won, Lost, Declined, Withdrawn:
		return false
	}
	return true
}

// May reports whether by may move an inquiry from one status to another.
func May(from, to Status, by Role) bool {
	return slices.ContainsFunc(moves, func(m move) bool {
		return m.from == from && m.to == to && slices.Contains(m.by, by)
	})
}
