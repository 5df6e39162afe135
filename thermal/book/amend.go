package book

// amend corrects what the entry of a dam or of a clutch says.
func (f *folder) amend(it *item) {
	if it.Clutch != "" {
		c, ok := f.clutches[it.Clutch]
		if !ok {
			if what := (subject{"clutch", it.Clutch}); !f.doubted[what] {
				f.miss(it, "clutch", what, "clutch %s is not in the book on %s: check the name and the date", it.Clutch, it.At)
			}
			return
		}
		c.profile = it.Profile
		return
	}
	dams, ok := f.damsOf(it)
	if !ok {
		f.doubt(&it.Entry)
		return
	}
	if f.taken[it] {
		f.fail(it, "name", "another dam is called %s: give another name", it.Name)
		return
	}
	d := dams[0]
	if it.Profile != "" {
		d.profile = it.Profile
	}
	if it.Name != "" {
		d.called = it.Name
	}
}

// nameDams collects the names that amended entries give to dams, before any entry is
// taken: an entry of an earlier day may use a name that was amended later. A name that is
// another dam's is not given.
func (f *folder) nameDams(c *content) {
	f.taken = map[*item]bool{}
	entries := map[string]bool{} // names of dam entries
	for it := range c.standing() {
		if it.Kind == KindDam {
			entries[it.Dam[0]] = true
		}
	}
	for it := range c.standing() {
		if it.Kind != KindAmended || it.Name == "" {
			continue
		}
		hers, other := f.entered(it.Dam[0]), f.entered(it.Name)
		switch {
		case hers == other: // she had the name before
		case other != it.Name || entries[it.Name]:
			f.taken[it] = true
		default:
			f.otherNames[it.Name] = hers
		}
	}
}

// entered is the name in a dam's entry, by any name that she had.
func (s *state) entered(name string) string {
	for {
		before, ok := s.otherNames[name]
		if !ok {
			return name
		}
		name = before
	}
}
