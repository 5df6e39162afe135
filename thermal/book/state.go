package book

import (
	"slices"
	"time"
)

// state is the result of the entries so far. A fold changes it; once a book holds
// it, it stays as it is.
type state struct {
	dams         map[string]*damState
	clutches     map[string]*clutchState
	boxes        map[string]*boxState
	calibrations map[string][]*item // by probe

	// otherNames has each further name of a dam, with one that she had before.
	otherNames map[string]string

	// In the order of the first entry.
	damOrder    []*damState
	clutchOrder []*clutchState
	boxOrder    []*boxState

	notes, looks []*item // looks: those that name no dam
}

func newState() *state {
	return &state{
		dams: map[string]*damState{}, clutches: map[string]*clutchState{},
		boxes: map[string]*boxState{}, calibrations: map[string][]*item{}, otherNames: map[string]string{},
	}
}

type damState struct {
	it                     *item // its entry
	called, profile        string
	pairings, looks, rests []*item
	clutches               []string
	retired                *item
}

func (d *damState) name() string { return d.called }

type clutchState struct {
	it      *item
	dams    []*damState
	profile string // its own; empty: that of its dams
	eggs    []eggState
}

type eggState struct {
	box, slot string // where it is, or was last
	fate      Fate
	fateAt    time.Time
	placed    *item
	pipped    *item
	end       *item // hatched or lost
	candled   *item // the last
	stays     []slotStay
	hatchling []*item
	died      *item
}

// slotStay is an egg's time in one slot of one box. It has no end while the egg is
// there.
type slotStay struct {
	box, slot string
	from, to  time.Time
}

type boxState struct {
	id        string
	setup     *item // the box entry of this use; nil when nothing describes it
	stand     stand // where it stands, or stood last
	stands    []stand
	emptied   *item
	in        []inSlot // waiting or pipped
	done      []string // eggs that hatched or were lost in this use
	weighings []*item  // and waterings, of this use
	transfers []Transfer
}

// stand is a box's time in one zone, under one probe. It has no end while the box
// stands there.
type stand struct {
	zone, probe string
	offset      float64 // K
	from, to    time.Time
}

type inSlot struct{ slot, egg string }

// box is a box to change. It is added when there is none.
func (s *state) box(id string) *boxState {
	b := s.boxes[id]
	if b == nil {
		b = &boxState{id: id}
		s.boxes[id] = b
		s.boxOrder = append(s.boxOrder, b)
	}
	return b
}

// put lets the box stand somewhere from a time on.
func (b *boxState) put(s stand, from time.Time) {
	b.leave(from)
	s.from, s.to = from, time.Time{}
	b.stand = s
	b.stands = append(b.stands, s)
}

// leave ends the box's present stand, if it has one.
func (b *boxState) leave(at time.Time) {
	if n := len(b.stands); n > 0 && b.stands[n-1].to.IsZero() {
		b.stands[n-1].to = at
		if !at.After(b.stands[n-1].from) {
			b.stands = b.stands[:n-1]
		}
	}
}

// occupant is the egg in a slot, or empty.
func (b *boxState) occupant(slot string) string {
	for _, s := range b.in {
		if s.slot == slot {
			return s.egg
		}
	}
	return ""
}

func (b *boxState) add(egg, slot string, at time.Time) {
	b.transfers = append(b.transfers, Transfer{at, 1})
	b.in = append(b.in, inSlot{slot: slot, egg: egg})
}

func (b *boxState) remove(egg string, at time.Time) {
	b.transfers = append(b.transfers, Transfer{at, -1})
	b.in = slices.DeleteFunc(b.in, func(s inSlot) bool { return s.egg == egg })
}

// eggs are the waiting and pipped eggs in the box.
func (b *boxState) eggs() []string {
	var eggs []string
	for _, e := range b.in {
		eggs = append(eggs, e.egg)
	}
	return eggs
}

// leave ends the egg's present stay, if it has one.
func (e *eggState) leave(at time.Time) {
	if n := len(e.stays); n > 0 && e.stays[n-1].to.IsZero() {
		e.stays[n-1].to = at
		if !at.After(e.stays[n-1].from) {
			e.stays = e.stays[:n-1]
		}
	}
}
