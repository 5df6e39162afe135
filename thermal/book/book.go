package book

import (
	"cmp"
	"maps"
	"slices"
	"sync"
)

// Book is the result of a set of entries. It is immutable: noting an entry makes
// another book. The zero Book is empty. It may be read from any goroutine; what
// its methods return is shared and must not be changed.
type Book struct{ in *content }

// content does not change once a book holds it.
type content struct {
	items  []*item          // in the order of (at, arrival)
	byKey  map[string]*item // all of them
	undone map[string]*item // the void, by the key of the entry that it undoes
	state  *state
	views  func() *views // computed once, when first asked for
}

// item is one entry in the book, its place in the order of arrival, and the line
// from which it was read; 0 when it was not.
type item struct {
	Entry
	arrival, line int
}

func byTime(a, b *item) int {
	if c := a.At.Compare(b.At); c != 0 {
		return c
	}
	return cmp.Compare(a.arrival, b.arrival)
}

func newContent() *content {
	c := &content{byKey: map[string]*item{}, undone: map[string]*item{}, state: newState()}
	c.views = sync.OnceValue(c.state.views)
	return c
}

func (b Book) content() *content {
	if b.in == nil {
		return newContent()
	}
	return b.in
}

// Fold makes a book of entries. Those without a seq come after those with one, in
// the order given. If any breaks a rule there is no book, and the error is a
// [Faults] of them all.
func Fold(entries []Entry) (Book, error) { return Book{}.Note(entries...) }

// Note makes the book that also holds these entries. They may be dated before
// entries that are there already. An entry whose key and content are there already
// is passed over; one with the same key and other content is refused. Rules apply
// to the resulting whole, so a void and its replacement can go together. If
// anything is wrong the error is a [Faults] with all of it.
//
// Each call folds the whole book again, about 2 microseconds an entry (measured on
// one core of a server): note entries that belong together in one call.
//
// To store entries, see [Book.Prepare].
func (b Book) Note(entries ...Entry) (Book, error) {
	p, err := b.Prepare(NewDraft(entries...))
	return p.next, err
}

// note folds good items in, and may reorder the slice. An entry that depends on
// something in a bad entry is not a fault.
func (b Book) note(items []*item, bad []Entry, faults Faults) (Book, error) {
	old := b.content()
	next := &content{byKey: maps.Clone(old.byKey), undone: maps.Clone(old.undone)}
	fresh, conflicts := next.addNew(items)
	faults = append(faults, conflicts...)
	if len(fresh) == 0 {
		if len(faults) == 0 {
			return b, nil
		}
		return Book{}, faults
	}
	voids, wrong := next.addVoids(fresh, bad)
	faults = append(faults, wrong...)
	slices.SortFunc(fresh, byTime)
	next.items = slices.Concat(old.items, fresh)
	slices.SortFunc(next.items, byTime)
	if found := next.fold(bad); len(found) > 0 {
		faults = append(faults, attribute(old, next, fresh, voids, found, bad)...)
	}
	if len(faults) > 0 {
		slices.SortStableFunc(faults, func(a, b Fault) int { return cmp.Compare(a.Line, b.Line) })
		return Book{}, faults
	}
	next.views = sync.OnceValue(next.state.views)
	return Book{next}, nil
}

// addNew adds the items whose keys are new, in the order of seq, and returns them.
func (c *content) addNew(items []*item) (fresh []*item, faults Faults) {
	slices.SortStableFunc(items, func(a, b *item) int {
		return cmp.Compare(a.Seq-1, b.Seq-1) // no seq is 0, and comes last
	})
	for _, it := range items {
		if there, ok := c.byKey[it.Key]; ok {
			if !there.Same(it.Entry) {
				f := newFault("is there already with other content (%s entry of %s): give a new entry a new key", there.Kind.article(), there.At)
				f.Key, f.Line, f.Field = it.Key, it.line, "key"
				faults = append(faults, f)
			}
			continue
		}
		it.arrival = len(c.byKey)
		c.byKey[it.Key] = it
		fresh = append(fresh, it)
	}
	return fresh, faults
}

// addVoids marks what the voids among new items undo, and returns these voids. One
// that undoes a bad entry is not a fault.
func (c *content) addVoids(fresh []*item, bad []Entry) (voids []*item, faults Faults) {
	for _, it := range fresh {
		if it.Kind != KindVoid {
			continue
		}
		f, ok := c.voidable(it)
		if ok {
			c.undone[it.Void] = it
			voids = append(voids, it)
		} else if !slices.ContainsFunc(bad, func(e Entry) bool { return e.Key == it.Void }) {
			f.Key, f.Line, f.Field = it.Key, it.line, "void"
			faults = append(faults, f)
		}
	}
	return voids, faults
}

// voidable reports whether a void can stand by itself, or else why not.
func (c *content) voidable(it *item) (Fault, bool) {
	target, ok := c.byKey[it.Void]
	if !ok {
		return newFault("no entry has the key %s: check it", it.Void), false
	}
	if target.Kind == KindVoid {
		return newFault("%s is itself a void: make the entry it undid again, under a new key", it.Void), false
	}
	if by, ok := c.undone[it.Void]; ok {
		return newFault("%s is undone already (%s)", keyOf{target}, by), false
	}
	return Fault{}, true
}
