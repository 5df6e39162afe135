package book

import (
	"cmp"
	"io"
	"slices"
	"sync"
)

// Book is what the entries so far come to. It is immutable: noting an entry
// gives another book that shares nearly everything with this one. The zero
// Book is empty. It may be read from any goroutine; what its methods return is
// shared and must not be changed.
type Book struct{ in *pages }

type pages struct {
	st     state
	chunks []*chunk     // the entries in the order of (at, arrival)
	keys   trie[*item]  // by key
	voids  trie[*item]  // by the key undone
	n      int          // entries so far
	views  func() *view // built once, when first asked for
}

// item is one entry in the book, its place in the order of arrival, and the
// line it was read from, if it was.
type item struct {
	Entry
	arrival, line int
}

// chunk is a run of entries, and the state before the first of them: a
// back-dated entry is folded in from there.
type chunk struct {
	before state
	items  []*item
}

const chunkLen = 256

func order(a, b *item) int {
	if c := a.At.Compare(b.At); c != 0 {
		return c
	}
	return cmp.Compare(a.arrival, b.arrival)
}

func (b Book) pages() *pages {
	if b.in == nil {
		return &pages{}
	}
	return b.in
}

// Fold makes a book of entries, in the order of (at, seq); entries without a
// seq come after those with one, in the order given. If any breaks a rule there
// is no book, and the error is a [Faults] of them all.
func Fold(entries []Entry) (Book, error) { return Book{}.Note(entries...) }

// Note makes the book that also holds these entries. They may be dated before
// entries already there. An entry whose key and content are there already is
// passed over; one with the same key and other content is refused. Rules are
// held to the whole that results, so a void and its replacement go together. If
// anything is wrong the error is a [Faults] with all of it, and the book is as
// it was.
//
// To store entries: note them and throw the result away, append them to the
// ledger, and note what the ledger gave back.
func (b Book) Note(entries ...Entry) (Book, error) {
	p := NewParser()
	var faults Faults
	var bad []Entry
	good := make([]*item, 0, len(entries))
	for i := range entries {
		if f := p.check(&entries[i]); len(f) > 0 {
			faults, bad = append(faults, f...), append(bad, entries[i])
			continue
		}
		it := &item{Entry: entries[i]}
		it.At = it.At.UTC()
		good = append(good, it)
	}
	return b.note(good, bad, faults)
}

// Read notes entries from JSON lines: all of them, or none. It gives the book
// that results and the entries that are new in it, in the order of the file.
// The error is a [Faults] of every line that cannot be read and every entry
// that breaks a rule.
func (b Book) Read(r io.Reader) (Book, []Entry, error) {
	good, at, bad, faults, err := readLines(r)
	if err != nil {
		return Book{}, nil, err
	}
	items := make([]*item, len(good))
	for i, e := range good {
		items[i] = &item{Entry: e, line: at[i]}
	}
	next, err := b.note(items, bad, faults)
	if err != nil {
		return Book{}, nil, err
	}
	var fresh []Entry
	seen := map[string]bool{}
	for _, e := range good {
		if _, there := b.pages().keys.get(e.Key); !there && !seen[e.Key] {
			fresh = append(fresh, e)
		}
		seen[e.Key] = true
	}
	return next, fresh, nil
}

// note folds good items in, and may reorder the slice. What bad entries would
// have brought is in doubt.
func (b Book) note(items []*item, bad []Entry, faults Faults) (Book, error) {
	old := b.pages()
	next := *old
	own := new(owner)
	slices.SortStableFunc(items, func(a, b *item) int {
		return cmp.Compare(a.Seq-1, b.Seq-1) // no seq is 0, and comes last
	})
	fresh := items[:0]
	for _, it := range items {
		if was, ok := next.keys.get(it.Key); ok {
			if !was.Same(it.Entry) {
				f := fault("is there already with other content (a %s entry of %s): give a new entry a new key", was.Kind, was.At)
				f.Key, f.Line, f.Field = it.Key, it.line, "key"
				faults = append(faults, f)
			}
			continue
		}
		it.arrival = next.n
		next.n++
		next.keys.set(own, it.Key, it)
		fresh = append(fresh, it)
	}
	if len(fresh) == 0 {
		if len(faults) == 0 {
			return b, nil
		}
		return Book{}, faults
	}
	start := fresh
	var voids []*item
	for _, it := range fresh {
		if it.Kind != KindVoid {
			continue
		}
		target, wrong := next.voidable(it)
		if target == nil {
			if !slices.ContainsFunc(bad, func(e Entry) bool { return e.Key == it.Void }) {
				wrong.Key, wrong.Line, wrong.Field = it.Key, it.line, "void"
				faults = append(faults, wrong)
			}
			continue
		}
		next.voids.set(own, it.Void, it)
		voids = append(voids, it)
		start = append(slices.Clip(start), target)
	}
	sorted := slices.SortedFunc(slices.Values(fresh), order)
	found := next.fold(old, sorted, slices.MinFunc(start, order), bad)
	if len(found) > 0 {
		faults = append(faults, blame(old, &next, sorted, voids, found, bad)...)
	}
	if len(faults) > 0 {
		slices.SortStableFunc(faults, func(a, b Fault) int { return cmp.Compare(a.Line, b.Line) })
		return Book{}, faults
	}
	in := &next
	in.views = sync.OnceValue(func() *view { return look(in) })
	return Book{in}, nil
}

// voidable says why a void cannot stand by itself, or gives what it undoes.
func (p *pages) voidable(it *item) (*item, Fault) {
	target, ok := p.keys.get(it.Void)
	if !ok {
		return nil, fault("no entry has the key %s: check it", it.Void)
	}
	if target.Kind == KindVoid {
		return nil, fault("%s is itself a void: make the entry it undid again, under a new key", it.Void)
	}
	if by, ok := p.voids.get(it.Void); ok {
		return nil, fault("%s is undone already (%s)", keyOf{target}, by)
	}
	return target, Fault{}
}
