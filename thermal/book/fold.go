package book

import "iter"

// folder takes entries one after another, in order, and collects the faults. A
// faulty entry changes nothing. What it would have added is then in doubt, and an
// entry that depends on that is not a fault as well.
type folder struct {
	*state
	doubted map[subject]bool
	faults  []foldFault
	taken   map[*item]bool // amended entries whose new name is another dam's
}

// subject is a thing that entries are about.
type subject struct{ what, name string }

// foldFault is a fault found in the fold. What it misses may be entered on a later
// day; it is zero when it misses nothing.
type foldFault struct {
	it     *item
	fault  Fault
	misses subject
}

// fold computes the state from the first item to the last.
func (c *content) fold(bad []Entry) []foldFault {
	f := &folder{state: newState(), doubted: map[subject]bool{}}
	for i := range bad {
		f.doubt(&bad[i])
	}
	f.nameDams(c)
	for it := range c.standing() {
		f.apply(it)
	}
	c.state = f.state
	return f.faults
}

// standing yields the items that are not undone, in order.
func (c *content) standing() iter.Seq[*item] {
	return func(yield func(*item) bool) {
		for _, it := range c.items {
			if _, undone := c.undone[it.Key]; !undone && !yield(it) {
				return
			}
		}
	}
}

// miss adds a fault of an entry that needs something which is not there.
func (f *folder) miss(it *item, field string, what subject, format string, args ...any) {
	f.fail(it, field, format, args...)
	f.faults[len(f.faults)-1].misses = what
}

func (f *folder) fail(it *item, field, format string, args ...any) {
	x := newFault(format, args...)
	x.Key, x.Line, x.Field = it.Key, it.line, field
	f.faults = append(f.faults, foldFault{it: it, fault: x})
	f.doubt(&it.Entry)
}

// doubt marks what a faulty entry would have added.
func (f *folder) doubt(e *Entry) {
	switch e.Kind {
	case KindDam:
		for _, d := range e.Dam {
			f.doubted[subject{"dam", d}] = true
		}
	case KindAmended:
		f.doubted[subject{"dam", e.Name}] = true
	case KindClutch:
		f.doubted[subject{"clutch", e.Clutch}] = true
	case KindBox:
		f.doubted[subject{"box", e.Box}] = true
	case KindPlaced:
		f.doubted[subject{"egg", e.Egg}] = true
	case KindHatched:
		f.doubted[subject{"hatch", e.Egg}] = true
	}
}

func (f *folder) apply(it *item) {
	switch it.Kind {
	case KindDam:
		f.addDam(it)
	case KindAmended:
		f.amend(it)
	case KindPairing, KindRested, KindRetired, KindLooked:
		f.applyToDams(it)
	case KindClutch:
		f.addClutch(it)
	case KindBox:
		f.setUpBox(it)
	case KindWeighed, KindWatered:
		f.tendBox(it)
	case KindEmptied:
		f.emptyBox(it)
	case KindMoved:
		if it.Egg == "" {
			f.moveBox(it)
		} else {
			f.applyToEgg(it)
		}
	case KindPlaced, KindCandled, KindPipped, KindHatched, KindLost, KindHatchling:
		f.applyToEgg(it)
	case KindCalibrated:
		f.calibrations[it.Probe] = append(f.calibrations[it.Probe], it)
	case KindNote:
		f.notes = append(f.notes, it)
	}
}
