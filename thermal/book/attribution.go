package book

// attribute turns the faults of a fold into faults of the new entries, where the
// breeder can correct them. A new entry that breaks a rule is at fault itself. An
// entry that stood before, or that would stand but for a void, is not: then the
// new entry that shares most with it is at fault.
func attribute(old, next *content, fresh, voids []*item, found []foldFault, bad []Entry) Faults {
	stands := standing(old, next, voids, found, bad)
	next.hint(found)
	byVoid, byAny := next.suspectsOf(voids), next.suspectsOf(fresh)
	var faults Faults
	charges := map[*item]*charge{}
	var charged []*item
	for _, f := range found {
		var by *item
		switch {
		case stands[f.it]:
			by = byVoid.closest(f.it)
		case f.it.arrival < len(old.items):
			by = byAny.closest(f.it)
		default:
			faults = append(faults, f.fault)
			continue
		}
		c := charges[by]
		if c == nil {
			c = &charge{first: f}
			charges[by], charged = c, append(charged, by)
		}
		c.broken = append(c.broken, f.it)
	}
	for _, by := range charged {
		faults = append(faults, next.accuse(by, charges[by]))
	}
	return faults
}

// standing are the items at fault that would stand without the new voids.
func standing(old, next *content, voids []*item, found []foldFault, bad []Entry) map[*item]bool {
	stands := map[*item]bool{}
	if len(voids) == 0 {
		return stands
	}
	for _, f := range found {
		stands[f.it] = true
	}
	without := &content{items: next.items, undone: old.undone}
	for _, f := range without.fold(bad) {
		delete(stands, f.it)
	}
	return stands
}

// charge is what one new entry breaks.
type charge struct {
	broken []*item
	first  foldFault
}

// accuse makes the fault of a new entry that breaks others.
func (c *content) accuse(by *item, x *charge) Fault {
	f := newFault("with it, %s could no longer stand (%s): check its date, or undo that first", x.broken, x.first.fault)
	if by.Kind == KindVoid {
		verb := "depends"
		if len(x.broken) > 1 {
			verb = "depend"
		}
		target := keyOf{c.byKey[by.Void]} // it is there: the void stands by itself
		if x.first.misses != (subject{}) {
			f = newFault("%s cannot be undone while %s %s on it: undo that first", target, x.broken, verb)
		} else {
			f = newFault("%s cannot be undone while %s %s on it (%s): undo that first", target, x.broken, verb, x.first.fault)
		}
		f.Field = "void"
	}
	f.Key, f.Line = by.Key, by.line
	return f
}

// hint adds to a fault that misses something where that is entered later.
func (c *content) hint(found []foldFault) {
	entered := map[subject]*item{}
	for it := range c.standing() {
		switch it.Kind {
		case KindDam:
			entered[subject{"dam", it.Dam[0]}] = it
		case KindClutch:
			entered[subject{"clutch", it.Clutch}] = it
		case KindBox:
			entered[subject{"box", it.Box}] = it
		}
	}
	for i := range found {
		if it := entered[found[i].misses]; it != nil {
			x := newFault("%s; it is there only later (%s)", found[i].fault, it)
			found[i].fault.Words, found[i].fault.message = x.Words, x.message
		}
	}
}

// suspects finds the new entry that shares most with a given one.
type suspects struct {
	first *item
	by    map[subject]*item
}

func (c *content) suspectsOf(items []*item) suspects {
	s := suspects{by: map[subject]*item{}}
	for _, it := range items {
		if s.first == nil {
			s.first = it
		}
		e := it
		if target, ok := c.byKey[it.Void]; ok { // it is a void
			e = target
		}
		for _, about := range subjects(&e.Entry) {
			if s.by[about] == nil {
				s.by[about] = it
			}
		}
	}
	return s
}

func (s suspects) closest(it *item) *item {
	for _, about := range subjects(&it.Entry) {
		if by := s.by[about]; by != nil {
			return by
		}
	}
	return s.first
}

// subjects lists what an entry is about, its main subject first.
func subjects(e *Entry) []subject {
	var s []subject
	if e.Egg != "" {
		s = append(s, subject{"egg", e.Egg})
	}
	if e.Slot != "" {
		s = append(s, subject{"slot", e.Box + "\x00" + e.Slot})
	}
	if c := clutchOf(e); c != "" {
		s = append(s, subject{"clutch", c})
	}
	if e.Box != "" {
		s = append(s, subject{"box", e.Box})
	}
	for _, d := range e.Dam {
		s = append(s, subject{"dam", d})
	}
	if e.Name != "" {
		s = append(s, subject{"dam", e.Name})
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
