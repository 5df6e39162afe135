package book

// Fate is what became of an egg.
type Fate string

// The fates. A pipped egg is still in its slot.
const (
	Waiting Fate = "waiting"
	Pipped  Fate = "pipped"
	Hatched Fate = "hatched"
	Lost    Fate = "lost"
)

// inside reports whether the animal is still in the egg, and the egg in its box.
func (f Fate) inside() bool { return f == Waiting || f == Pipped }

// ended is the fate of an egg that is no longer inside, as a verb.
func (f Fate) ended() string {
	if f == Hatched {
		return "hatched"
	}
	return "was lost"
}

// eggOf finds the egg of an entry and its clutch. It is false when either is
// missing, after it has added the fault.
func (f *folder) eggOf(it *item) (*clutchState, *eggState, bool) {
	clutch, n, _ := splitEgg(it.Egg)
	c, ok := f.clutches[clutch]
	if !ok {
		if what := (subject{"clutch", clutch}); !f.doubted[what] {
			f.miss(it, "egg", what, "clutch %s of egg %s is not in the book on %s: enter the clutch first, or check the name and the date", clutch, it.Egg, it.At)
		}
		return nil, nil, false
	}
	if n > len(c.eggs) {
		f.fail(it, "egg", "clutch %s has %d eggs, up to %s: there is no %s", clutch, len(c.eggs), EggID(clutch, len(c.eggs)), it.Egg)
		return nil, nil, false
	}
	return c, &c.eggs[n-1], true
}

// applyToEgg takes an entry about one egg, if it fits what happened to the egg
// before.
func (f *folder) applyToEgg(it *item) {
	c, e, ok := f.eggOf(it)
	if !ok {
		return
	}
	switch {
	case it.Kind == KindHatchling:
		f.addHatchling(it, e)
		return
	case it.Kind == KindCandled && e.fate == Lost:
	case !e.fate.inside():
		f.fail(it, "egg", "%s %s already (%s): check the egg, or undo that entry", it.Egg, e.fate.ended(), e.end)
		return
	}
	switch it.Kind {
	case KindPlaced, KindMoved:
		f.placeEgg(it, e)
	case KindCandled:
		e.candled = it
	case KindPipped:
		if e.pipped != nil {
			f.fail(it, "egg", "%s pipped already (%s): check the egg", it.Egg, e.pipped)
		} else if f.afterLaying(it, c) {
			e.fate, e.fateAt, e.pipped = Pipped, it.At, it
		}
	case KindHatched:
		if f.afterLaying(it, c) {
			f.endEgg(it, e, Hatched)
		}
	case KindLost:
		f.endEgg(it, e, Lost)
	}
}

// afterLaying reports whether an egg pips or hatches after it was laid.
func (f *folder) afterLaying(it *item, c *clutchState) bool {
	if it.At.After(c.it.LaidBy) {
		return true
	}
	f.fail(it, "at", "%s %s no later than it was laid (by %s): check the date", it.Egg, it.Kind, c.it.LaidBy)
	return false
}

func (f *folder) addHatchling(it *item, e *eggState) {
	switch {
	case e.fate != Hatched:
		if !f.doubted[subject{"hatch", it.Egg}] {
			f.fail(it, "egg", "%s has not hatched on %s: say when it hatched first", it.Egg, it.At)
		}
	case e.died != nil:
		f.fail(it, "egg", "the hatchling of %s died (%s): check the egg, or undo that entry", it.Egg, e.died)
	default:
		e.hatchling = append(e.hatchling, it)
		if it.What == Died {
			e.died = it
		}
	}
}

// placeEgg places or moves an egg.
func (f *folder) placeEgg(it *item, e *eggState) {
	if it.Kind == KindPlaced && e.placed != nil {
		f.fail(it, "egg", "%s was placed already (%s): say that it was moved", it.Egg, e.placed)
		return
	}
	if it.Kind == KindMoved && e.placed == nil && !f.doubted[subject{"egg", it.Egg}] {
		f.fail(it, "egg", "%s is in no box on %s: say first where it was placed", it.Egg, it.At)
		return
	}
	if it.Kind == KindPlaced {
		if _, ok := f.boxOf(it); !ok {
			f.doubt(&it.Entry)
			return
		}
	}
	if b := f.boxes[it.Box]; b != nil {
		if other := b.occupant(it.Slot); other != "" && other != it.Egg {
			f.fail(it, "slot", "slot %s of box %s holds %s: choose another slot, or move that egg first", it.Slot, it.Box, other)
			return
		}
	}
	if e.placed == nil {
		e.placed = it
	}
	if e.box != "" {
		f.box(e.box).remove(it.Egg, it.At)
	}
	e.box, e.slot = it.Box, it.Slot
	e.leave(it.At)
	e.stays = append(e.stays, slotStay{box: it.Box, slot: it.Slot, from: it.At})
	f.fill(it.Box, it.Egg, it.Slot, it.At)
}

// endEgg takes an egg out of its slot for good.
func (f *folder) endEgg(it *item, e *eggState, fate Fate) {
	e.fate, e.fateAt, e.end = fate, it.At, it
	if e.box != "" {
		b := f.box(e.box)
		b.remove(it.Egg, it.At)
		b.done = append(b.done, it.Egg)
	}
	e.leave(it.At)
}
