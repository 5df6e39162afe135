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

// egg holds an entry about one egg to the egg's own course.
func (f *folder) egg(it *item) {
	clutch, n, _ := splitEgg(it.Egg)
	c, ok := f.st.clutches.get(clutch)
	if !ok {
		if !f.doubt["clutch "+clutch] {
			f.miss(it, "egg", "clutch "+clutch, "clutch %s of egg %s is not in the book on %s: enter the clutch first, or check the name and the date", clutch, it.Egg, it.At)
		}
		return
	}
	if n > len(c.eggs) {
		f.fail(it, "egg", "clutch %s has %d eggs, up to %s: there is no %s", clutch, len(c.eggs), EggID(clutch, len(c.eggs)), it.Egg)
		return
	}
	e := &c.eggs[n-1]
	if it.Kind == KindHatchling {
		if !f.grown(it, e) {
			return
		}
	} else if !e.fate.inside() && (it.Kind != KindCandled || e.fate != Lost) {
		f.fail(it, "egg", "%s %s already (%s): check the egg, or undo that entry", it.Egg, ended(e.fate), e.end)
		return
	}
	switch it.Kind {
	case KindPlaced, KindMoved:
		f.put(it, clutch, n, e)
		return
	case KindPipped:
		if e.pipped != nil {
			f.fail(it, "egg", "%s pipped already (%s): check the egg", it.Egg, e.pipped)
			return
		}
	}
	if (it.Kind == KindHatched || it.Kind == KindPipped) && !it.At.After(c.it.LaidBy) {
		f.fail(it, "at", "%s %s no later than it was laid (by %s): check the date", it.Egg, it.Kind, c.it.LaidBy)
		return
	}
	e = &f.st.clutch(f.own, clutch).eggs[n-1]
	switch it.Kind {
	case KindCandled:
		e.verdict, e.verdictAt = it.Verdict, it.At
	case KindPipped:
		e.fate, e.fateAt, e.pipped = Pipped, it.At, it
	case KindHatchling:
		e.growth = append(e.growth, it)
		if it.What == Died {
			e.died = it
		}
	case KindHatched:
		f.end(it, e, Hatched)
	case KindLost:
		f.end(it, e, Lost)
	}
}

func ended(f Fate) string {
	if f == Hatched {
		return "hatched"
	}
	return "was lost"
}

// grown holds a hatchling's entry to its course.
func (f *folder) grown(it *item, e *eggState) bool {
	switch {
	case e.fate != Hatched:
		if !f.doubt["hatch "+it.Egg] {
			f.fail(it, "egg", "%s has not hatched on %s: say when it hatched first", it.Egg, it.At)
		}
	case e.died != nil:
		f.fail(it, "egg", "the hatchling of %s died (%s): check the egg, or undo that entry", it.Egg, e.died)
	default:
		return true
	}
	return false
}

// put places or moves an egg.
func (f *folder) put(it *item, clutch string, n int, e *eggState) {
	if it.Kind == KindPlaced && e.placed != nil {
		f.fail(it, "egg", "%s was placed already (%s): say that it was moved", it.Egg, e.placed)
		return
	}
	if it.Kind == KindMoved && e.placed == nil && !f.doubt["egg "+it.Egg] {
		f.fail(it, "egg", "%s is in no box on %s: say first where it was placed", it.Egg, it.At)
		return
	}
	b, ok := f.st.boxes.get(it.Box)
	if !ok && it.Kind == KindPlaced {
		if _, ok := f.boxOf(it); !ok {
			f.suspect(&it.Entry)
			return
		}
	}
	if ok {
		if who := b.holder(it.Slot); who != "" && who != it.Egg {
			f.fail(it, "slot", "slot %s of box %s holds %s: choose another slot, or move that egg first", it.Slot, it.Box, who)
			return
		}
	}
	e = &f.st.clutch(f.own, clutch).eggs[n-1]
	if e.placed == nil {
		e.placed = it
	}
	if e.box != "" {
		f.st.box(f.own, e.box).take(f.own, it.Egg, it.At)
	}
	e.box, e.slot = it.Box, it.Slot
	e.leave(it.At)
	e.stays = append(e.stays, place{box: it.Box, slot: it.Slot, from: it.At})
	b = f.st.box(f.own, it.Box)
	if !ok || b.emptied != nil { // no zone when nothing ever said where it stands
		b.emptied = nil
		b.stand(b.zone, b.probe, b.offset, it.At)
	}
	b.in = append(b.in, inSlot{slot: it.Slot, egg: it.Egg})
	b.traffic.add(f.own, pass{it.At, 1})
}

// end takes an egg out of its slot for good.
func (f *folder) end(it *item, e *eggState, fate Fate) {
	e.fate, e.fateAt, e.end = fate, it.At, it
	if e.box != "" {
		b := f.st.box(f.own, e.box)
		b.take(f.own, it.Egg, it.At)
		b.done = append(b.done, it.Egg)
	}
	e.leave(it.At)
}
