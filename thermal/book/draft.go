package book

import "slices"

// Draft holds entries that are not in a book yet, as they were read. It also holds
// the faults of the lines that cannot be read, so that one answer lists all that is
// wrong.
type Draft struct {
	good   []*item // each with its line; 0 where it was not read from lines
	bad    []Entry // as far as they could be read
	faults Faults
}

// NewDraft makes a draft of entries that were not read from lines.
func NewDraft(entries ...Entry) Draft {
	var d Draft
	for i := range entries {
		if f := check(&entries[i]); len(f) > 0 {
			d.faults, d.bad = append(d.faults, f...), append(d.bad, entries[i])
			continue
		}
		it := &item{Entry: entries[i]}
		it.At = it.At.UTC()
		d.good = append(d.good, it)
	}
	return d
}

// Entries returns the entries that could be read, in the order of the lines.
func (d Draft) Entries() (entries []Entry) {
	for _, it := range d.good {
		entries = append(entries, it.Entry)
	}
	return entries
}

// Check adds the faults that a rule finds in the entries. The entries stay in the
// draft, so that the book still finds what else is wrong.
func (d Draft) Check(rule func(Entry) Faults) Draft {
	d.faults = slices.Clone(d.faults)
	for _, it := range d.good {
		for _, f := range rule(it.Entry) {
			f.Line = it.line
			d.faults = append(d.faults, f)
		}
	}
	return d
}

// Prepared is a book that holds a draft which is not stored yet.
type Prepared struct {
	next    Book
	fresh   map[string]*item // the items that the book did not have, by key
	entries []Entry
}

// Prepare folds a draft into the book: all of it or nothing. An entry whose key and
// content are there already is passed over. The error is a [Faults] of every line
// that cannot be read and every entry that breaks a rule.
func (b Book) Prepare(d Draft) (Prepared, error) {
	next, err := b.note(slices.Clone(d.good), d.bad, d.faults)
	if err != nil {
		return Prepared{}, err
	}
	p := Prepared{next: next, fresh: map[string]*item{}, entries: d.Entries()}
	for _, it := range d.good {
		if next.in != b.in && next.in.byKey[it.Key] == it {
			p.fresh[it.Key] = it
		}
	}
	return p, nil
}

// Entries returns the entries of the draft, for the ledger.
func (p Prepared) Entries() []Entry { return p.entries }

// Fresh returns the entries that the book did not have, in the order of the draft.
func (p Prepared) Fresh() (fresh []Entry) {
	seen := map[string]bool{}
	for _, e := range p.entries {
		if p.fresh[e.Key] != nil && !seen[e.Key] {
			fresh = append(fresh, e)
		}
		seen[e.Key] = true
	}
	return fresh
}

// Stored returns the book with the numbers that the ledger gave to the entries. It
// is called once, before the book is published.
func (p Prepared) Stored(entries []Entry) Book {
	for _, e := range entries {
		if it := p.fresh[e.Key]; it != nil {
			it.Seq, it.Recorded = e.Seq, e.Recorded
		}
	}
	return p.next
}
