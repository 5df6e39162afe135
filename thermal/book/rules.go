package book

import (
	"strings"
)

// folder takes entries one after another, in order, and notes the faults. A
// faulty entry changes nothing; what it would have brought into the book is
// then in doubt, and what depends on it is not called a fault as well.
type folder struct {
	st     state
	own    *owner
	doubt  map[string]bool
	faults []folded
}

// folded is a fault found in the fold. What it misses, as in "dam Sorrel", may
// be entered on a later day.
type folded struct {
	it     *item
	f      Fault
	misses string
}

// miss is a fault for want of something.
func (f *folder) miss(it *item, field, what, format string, args ...any) {
	f.fail(it, field, format, args...)
	f.faults[len(f.faults)-1].misses = what
}

func (f *folder) fail(it *item, field, format string, args ...any) {
	x := fault(format, args...)
	x.Key, x.Line, x.Field = it.Key, it.line, field
	f.faults = append(f.faults, folded{it: it, f: x})
	f.suspect(&it.Entry)
}

// suspect marks what a faulty entry would have brought into the book.
func (f *folder) suspect(e *Entry) {
	if f.doubt == nil {
		f.doubt = map[string]bool{}
	}
	switch e.Kind {
	case KindDam:
		for _, d := range e.Dam {
			f.doubt["dam "+d] = true
		}
	case KindClutch:
		f.doubt["clutch "+e.Clutch] = true
	case KindBox:
		f.doubt["box "+e.Box] = true
	case KindPlaced:
		f.doubt["egg "+e.Egg] = true
	case KindHatched:
		f.doubt["hatch "+e.Egg] = true
	}
}

func (f *folder) apply(it *item) {
	switch it.Kind {
	case KindDam:
		f.dam(it)
	case KindPairing, KindRested, KindRetired, KindLooked:
		f.female(it)
	case KindClutch:
		f.laid(it)
	case KindBox:
		f.boxed(it)
	case KindWeighed, KindWatered, KindEmptied:
		f.boxWork(it)
	case KindMoved:
		if it.Egg == "" {
			f.boxMoved(it)
		} else {
			f.egg(it)
		}
	case KindPlaced, KindCandled, KindPipped, KindHatched, KindLost, KindHatchling:
		f.egg(it)
	case KindCalibrated:
		p, ok := f.st.probes.get(it.Probe)
		if !ok {
			f.st.probeIDs.add(f.own, it.Probe)
			p = &probeState{}
		}
		c := *p
		c.own = f.own
		c.cals.add(f.own, it)
		f.st.probes.set(f.own, it.Probe, &c)
	case KindNote:
		f.st.notes.add(f.own, it)
	}
}

func (f *folder) dam(it *item) {
	name := it.Dam[0]
	if d, ok := f.st.dams.get(name); ok {
		f.fail(it, "dam", "%s is in the book already (%s): give another name, or undo that entry", name, d.it)
		return
	}
	f.st.dams.set(f.own, name, &damState{own: f.own, name: name, it: it, profile: it.Profile})
	f.st.damNames.add(f.own, name)
}

// known finds the dams of an entry. It is false when one is missing; whether
// that is a fault is settled here.
func (f *folder) known(it *item) ([]*damState, bool) {
	dams, all := make([]*damState, 0, len(it.Dam)), true
	var missing []string
	for _, name := range it.Dam {
		d, ok := f.st.dams.get(name)
		if ok {
			dams = append(dams, d)
			continue
		}
		all = false
		if !f.doubt["dam "+name] {
			missing = append(missing, name)
		}
	}
	if len(missing) > 0 {
		f.miss(it, "dam", "dam "+missing[0], "%s is not in the book on %s: enter her first, or check the name and the date",
			strings.Join(missing, " and "), it.At)
	}
	return dams, all
}

func (f *folder) female(it *item) {
	dams, ok := f.known(it)
	if !ok {
		return
	}
	if len(dams) == 0 { // a look into a lay box of all
		f.st.lone.add(f.own, it)
		return
	}
	for _, d := range dams {
		if d.retired != nil && (it.Kind == KindPairing || it.Kind == KindRetired) {
			f.fail(it, "dam", "%s was retired (%s): undo that entry first", d.name, d.retired)
			return
		}
	}
	for _, d := range dams {
		d = f.st.dam(f.own, d.name)
		switch it.Kind {
		case KindPairing:
			d.pairs.add(f.own, it)
		case KindRested:
			d.rests.add(f.own, it)
		case KindLooked:
			d.looks.add(f.own, it)
		default:
			d.retired = it
		}
	}
}

func (f *folder) laid(it *item) {
	if c, ok := f.st.clutches.get(it.Clutch); ok {
		f.fail(it, "clutch", "%s is in the book already (%s): give it another name, or undo that entry", it.Clutch, c.it)
		return
	}
	dams, ok := f.known(it)
	if !ok {
		f.suspect(&it.Entry)
		return
	}
	still := len(dams) == 0
	for _, d := range dams {
		still = still || d.retired == nil || !d.retired.At.Before(it.LaidAfter)
	}
	if !still {
		f.fail(it, "dam", "%s was retired before these eggs were laid (%s): check the dam, or undo that entry", dams[0].name, dams[0].retired)
		return
	}
	c := &clutchState{own: f.own, it: it, eggs: make([]eggState, it.Eggs)}
	for i := range c.eggs {
		c.eggs[i].fate = Waiting
	}
	f.st.clutches.set(f.own, it.Clutch, c)
	f.st.clutchIDs.add(f.own, it.Clutch)
	for _, d := range dams {
		f.st.dam(f.own, d.name).clutch.add(f.own, it.Clutch)
	}
}

func (f *folder) boxed(it *item) {
	b, ok := f.st.boxes.get(it.Box)
	if ok && b.setup != nil && b.emptied == nil && len(b.in) > 0 {
		f.fail(it, "box", "%s still holds %s: move them, or say that it was moved where only its place changed", it.Box, eggsIn(b))
		return
	}
	b = f.st.box(f.own, it.Box)
	if len(b.in) == 0 {
		b.done = nil
	}
	b.setup, b.emptied, b.weighings = it, nil, list[*item]{}
	b.stand(it.Zone, it.Probe, offsetOf(it), it.At)
}

// offsetOf is the offset that an entry gives a box, in K; none is 0.
func offsetOf(it *item) float64 {
	if it.OffsetK == nil {
		return 0
	}
	return *it.OffsetK
}

func eggsIn(b *boxState) string {
	s := make([]string, len(b.in))
	for i, e := range b.in {
		s[i] = e.egg
	}
	return strings.Join(s, ", ")
}

// boxOf finds the box of an entry, or says that there is none.
func (f *folder) boxOf(it *item) (*boxState, bool) {
	b, ok := f.st.boxes.get(it.Box)
	if !ok && !f.doubt["box "+it.Box] {
		f.miss(it, "box", "box "+it.Box, "%s is not in the book on %s: set it up first, or check the name and the date", it.Box, it.At)
	}
	return b, ok
}

func (f *folder) boxWork(it *item) {
	b, ok := f.boxOf(it)
	if !ok {
		return
	}
	if b.emptied != nil {
		f.fail(it, "box", "%s was emptied (%s): set it up again", b.id, b.emptied)
		return
	}
	if it.Kind == KindEmptied && len(b.in) > 0 {
		f.fail(it, "box", "%s still holds %s: move them, or say that they hatched or were lost", b.id, eggsIn(b))
		return
	}
	b = f.st.box(f.own, it.Box)
	if it.Kind != KindEmptied {
		b.weighings.add(f.own, it)
		return
	}
	b.leave(it.At)
	b.emptied, b.setup, b.done, b.weighings = it, nil, nil, list[*item]{}
}

func (f *folder) boxMoved(it *item) {
	if _, ok := f.boxOf(it); !ok {
		return
	}
	b := f.st.box(f.own, it.Box)
	b.emptied = nil
	b.stand(it.Zone, it.Probe, offsetOf(it), it.At)
}
