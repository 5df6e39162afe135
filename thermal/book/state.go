package book

import (
	"slices"
	"time"
)

// state is what the entries so far come to. Objects are shared between the
// states of a book's past; a fold copies one before it changes it.
type state struct {
	dams     trie[*damState]
	clutches trie[*clutchState]
	boxes    trie[*boxState]
	probes   trie[*probeState]

	damNames, clutchIDs, boxIDs, probeIDs list[string] // in order of first entry

	notes, lone list[*item] // notes; looks that name no dam
}

type damState struct {
	own     *owner
	name    string
	it      *item // its entry
	profile string
	pairs   list[*item]
	looks   list[*item]
	rests   list[*item]
	clutch  list[string]
	retired *item
}

type clutchState struct {
	own  *owner
	it   *item
	eggs []eggState
}

type eggState struct {
	box, slot string // where it is, or was last
	fate      Fate
	fateAt    time.Time
	placed    *item
	pipped    *item
	end       *item // hatched or lost
	verdict   string
	verdictAt time.Time
	stays     []place
	growth    []*item // hatchling entries
	died      *item
}

// place is an egg's time in one slot of one box. A zero to is still there.
type place struct {
	box, slot string
	from, to  time.Time
}

type boxState struct {
	own       *owner
	id        string
	setup     *item  // the box entry of this use; nil when nothing describes it
	zone      string // where it stands, or stood last
	probe     string
	offset    float64 // K, the medium against its probe, or its zone's air
	stays     []stand
	emptied   *item
	in        []inSlot // waiting or pipped
	done      []string // eggs that hatched or were lost in this use
	weighings list[*item]
	traffic   list[pass] // of all its uses
}

// stand is a box's time in one zone, under one probe.
type stand struct {
	zone, probe string
	offset      float64
	from, to    time.Time
}

// pass is an egg put in a box (1) or gone from it (-1).
type pass struct {
	at time.Time
	by int
}

type inSlot struct{ slot, egg string }

type probeState struct {
	own  *owner
	cals list[*item]
}

func (s *state) dam(own *owner, name string) *damState {
	d, _ := s.dams.get(name)
	if d.own != own {
		c := *d
		c.own = own
		d = &c
		s.dams.set(own, name, d)
	}
	return d
}

func (s *state) clutch(own *owner, id string) *clutchState {
	c, _ := s.clutches.get(id)
	if c.own != own {
		d := *c
		d.own, d.eggs = own, slices.Clone(c.eggs)
		for i := range d.eggs {
			d.eggs[i].stays = slices.Clone(d.eggs[i].stays)
			d.eggs[i].growth = slices.Clip(d.eggs[i].growth)
		}
		c = &d
		s.clutches.set(own, id, c)
	}
	return c
}

// box gives a box to change; it is made when there is none.
func (s *state) box(own *owner, id string) *boxState {
	b, ok := s.boxes.get(id)
	switch {
	case !ok:
		b = &boxState{own: own, id: id}
		s.boxes.set(own, id, b)
		s.boxIDs.add(own, id)
	case b.own != own:
		c := *b
		c.own = own
		c.stays, c.in, c.done = slices.Clone(b.stays), slices.Clone(b.in), slices.Clip(b.done)
		b = &c
		s.boxes.set(own, id, b)
	}
	return b
}

// stand puts the box in a zone from a time on.
func (b *boxState) stand(zone, probe string, offset float64, from time.Time) {
	b.leave(from)
	b.zone, b.probe, b.offset = zone, probe, offset
	b.stays = append(b.stays, stand{zone: zone, probe: probe, offset: offset, from: from})
}

// leave ends the box's stay, if it has one.
func (b *boxState) leave(at time.Time) {
	if n := len(b.stays); n > 0 && b.stays[n-1].to.IsZero() {
		b.stays[n-1].to = at
		if !at.After(b.stays[n-1].from) {
			b.stays = b.stays[:n-1]
		}
	}
}

func (b *boxState) holder(slot string) string {
	for _, s := range b.in {
		if s.slot == slot {
			return s.egg
		}
	}
	return ""
}

func (b *boxState) take(own *owner, egg string, at time.Time) {
	b.traffic.add(own, pass{at, -1})
	b.in = slices.DeleteFunc(b.in, func(s inSlot) bool { return s.egg == egg })
}

func (e *eggState) leave(at time.Time) {
	if n := len(e.stays); n > 0 && e.stays[n-1].to.IsZero() {
		e.stays[n-1].to = at
		if !at.After(e.stays[n-1].from) {
			e.stays = e.stays[:n-1]
		}
	}
}
