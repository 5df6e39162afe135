package book

import (
	"strings"
	"time"
)

func (f *folder) setUpBox(it *item) {
	if b := f.boxes[it.Box]; b != nil && b.setup != nil && b.emptied == nil && len(b.in) > 0 {
		f.fail(it, "box", "%s still holds %s: move them, or say that it was moved where only its place changed", it.Box, strings.Join(b.eggs(), ", "))
		return
	}
	b := f.box(it.Box)
	if len(b.in) == 0 {
		b.done = nil
	}
	b.setup, b.emptied, b.weighings = it, nil, nil
	b.put(standOf(it), it.At)
}

func standOf(it *item) stand {
	s := stand{zone: it.Zone, probe: it.Probe}
	if it.OffsetK != nil {
		s.offset = *it.OffsetK
	}
	return s
}

// boxOf finds the box of an entry. It is false when it is missing, after it has
// added the fault.
func (f *folder) boxOf(it *item) (*boxState, bool) {
	b, ok := f.boxes[it.Box]
	if what := (subject{"box", it.Box}); !ok && !f.doubted[what] {
		f.miss(it, "box", what, "%s is not in the book on %s: set it up first, or check the name and the date", it.Box, it.At)
	}
	return b, ok
}

// boxInUse finds the box of an entry, which must not be emptied.
func (f *folder) boxInUse(it *item) (*boxState, bool) {
	b, ok := f.boxOf(it)
	if ok && b.emptied != nil {
		f.fail(it, "box", "%s was emptied (%s): set it up again", b.id, b.emptied)
		return nil, false
	}
	return b, ok
}

// tendBox takes a weighing or a watering.
func (f *folder) tendBox(it *item) {
	if b, ok := f.boxInUse(it); ok {
		b.weighings = append(b.weighings, it)
	}
}

func (f *folder) emptyBox(it *item) {
	b, ok := f.boxInUse(it)
	if !ok {
		return
	}
	if len(b.in) > 0 {
		f.fail(it, "box", "%s still holds %s: move them, or say that they hatched or were lost", b.id, strings.Join(b.eggs(), ", "))
		return
	}
	b.leave(it.At)
	b.emptied, b.setup, b.done, b.weighings = it, nil, nil, nil
}

func (f *folder) moveBox(it *item) {
	if b, ok := f.boxOf(it); ok {
		b.emptied = nil
		b.put(standOf(it), it.At)
	}
}

// fill puts an egg into a box, which is in use from then on. It has no zone when
// nothing said where it stands.
func (f *folder) fill(id, egg, slot string, at time.Time) {
	b, ok := f.boxes[id]
	if !ok || b.emptied != nil {
		b = f.box(id)
		b.emptied = nil
		b.put(b.stand, at)
	}
	b.add(egg, slot, at)
}
