package book

// blame puts each fault where the breeder can mend it. A new entry that breaks
// a rule is at fault itself. An entry that stood before, and one that would
// stand but for a void, is not: then the new entry that shares most with it is.
func blame(old, next *pages, fresh, newVoids []*item, found []folded, bad []Entry) Faults {
	stands := map[*item]bool{} // without the new voids
	if len(newVoids) > 0 {
		without := pages{voids: old.voids}
		for _, f := range found {
			stands[f.it] = true
		}
		for _, f := range without.fold(old, fresh, fresh[0], bad) {
			delete(stands, f.it)
		}
	}
	next.hint(found)
	var faults Faults
	type charge struct {
		items   []*item
		missing bool // the first fault is that what is undone is missing
		first   Fault
	}
	byVoid, byAny := next.suspects(newVoids), next.suspects(fresh)
	charges := map[*item]*charge{}
	var charged []*item
	for _, f := range found {
		var by *item
		switch {
		case stands[f.it]:
			by = byVoid.closest(f.it)
		case f.it.arrival < old.n:
			by = byAny.closest(f.it)
		default:
			faults = append(faults, f.f)
			continue
		}
		c := charges[by]
		if c == nil {
			c = &charge{first: f.f, missing: f.misses != ""}
			charges[by], charged = c, append(charged, by)
		}
		c.items = append(c.items, f.it)
	}
	for _, by := range charged {
		c := charges[by]
		x := fault("with it, %s could no longer stand (%s): check its date, or undo that first", c.items, c.first)
		if by.Kind == KindVoid {
			verb := "depends"
			if len(c.items) > 1 {
				verb = "depend"
			}
			target, _ := next.keys.get(by.Void) // it is there: the void stood by itself
			x = fault("%s cannot be undone while %s %s on it: undo that first", keyOf{target}, c.items, verb)
			if !c.missing {
				x = fault("%s cannot be undone while %s %s on it (%s): undo that first", keyOf{target}, c.items, verb, c.first)
			}
			x.Field = "void"
		}
		x.Key, x.Line = by.Key, by.line
		faults = append(faults, x)
	}
	return faults
}

// hint says, of what a fault misses, that it is entered later.
func (p *pages) hint(found []folded) {
	entered := map[string]*item{}
	for _, c := range p.chunks {
		for _, it := range c.items {
			if _, undone := p.voids.get(it.Key); undone {
				continue
			}
			switch it.Kind {
			case KindDam:
				entered["dam "+it.Dam[0]] = it
			case KindClutch:
				entered["clutch "+it.Clutch] = it
			case KindBox:
				entered["box "+it.Box] = it
			}
		}
	}
	for i := range found {
		if it := entered[found[i].misses]; it != nil {
			x := fault("%s; it is there only later (%s)", found[i].f, it)
			found[i].f.Words, found[i].f.says = x.Words, x.says
		}
	}
}

// suspects finds the new entry that shares most with a given one.
type suspects struct {
	first *item
	by    map[string]*item
}

func (p *pages) suspects(items []*item) suspects {
	s := suspects{by: map[string]*item{}}
	for _, it := range items {
		if s.first == nil {
			s.first = it
		}
		e := it
		if it.Kind == KindVoid {
			if target, ok := p.keys.get(it.Void); ok {
				e = target
			}
		}
		for _, subject := range subjects(&e.Entry) {
			if s.by[subject] == nil {
				s.by[subject] = it
			}
		}
	}
	return s
}

func (s suspects) closest(it *item) *item {
	for _, subject := range subjects(&it.Entry) {
		if by := s.by[subject]; by != nil {
			return by
		}
	}
	return s.first
}

// subjects is what an entry is about, what it is most about first.
func subjects(e *Entry) []string {
	var s []string
	if e.Egg != "" {
		s = append(s, "egg "+e.Egg)
	}
	if e.Slot != "" {
		s = append(s, "slot "+e.Box+"\x00"+e.Slot)
	}
	if c := clutchOf(e); c != "" {
		s = append(s, "clutch "+c)
	}
	if e.Box != "" {
		s = append(s, "box "+e.Box)
	}
	for _, d := range e.Dam {
		s = append(s, "dam "+d)
	}
	return s
}

func clutchOf(e *Entry) string {
	if e.Egg == "" {
		return e.Clutch
	}
	c, _, _ := splitEgg(e.Egg)
	return c
}
