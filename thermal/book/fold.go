package book

import (
	"slices"
	"sort"
)

// fold takes new items, in order, into the pages: from the chunk that holds the
// first that changes, or at the end when that is where all of them belong.
func (p *pages) fold(old *pages, fresh []*item, first *item, bad []Entry) []folded {
	f := &folder{st: old.st, own: new(owner)}
	for i := range bad {
		f.suspect(&bad[i])
	}
	at := len(old.chunks)
	if at > 0 {
		last := old.chunks[at-1]
		if order(last.items[len(last.items)-1], first) >= 0 { // a void may undo the last
			at = max(0, sort.Search(at, func(i int) bool { return order(old.chunks[i].items[0], first) > 0 })-1)
			f.st = old.chunks[at].before
		}
	}
	p.chunks = slices.Clip(old.chunks[:at])
	rest := merge(old.chunks[at:], fresh)
	if at == len(old.chunks) && at > 0 && len(old.chunks[at-1].items) < chunkLen { // go on in the last chunk
		last := old.chunks[at-1]
		more := min(len(rest), chunkLen-len(last.items))
		p.chunks = slices.Clone(p.chunks)
		p.chunks[at-1] = &chunk{before: last.before, items: slices.Concat(last.items, rest[:more])}
		f.take(rest[:more], p.voids)
		rest = rest[more:]
	}
	for c := range slices.Chunk(rest, chunkLen) {
		p.chunks = append(p.chunks, &chunk{before: f.st, items: c})
		f.own = new(owner) // the state just kept may not change any more
		f.take(c, p.voids)
	}
	p.st = f.st
	return f.faults
}

func (f *folder) take(items []*item, voids trie[*item]) {
	for _, it := range items {
		if _, undone := voids.get(it.Key); !undone {
			f.apply(it)
		}
	}
}

func merge(chunks []*chunk, fresh []*item) []*item {
	var all []*item
	for _, c := range chunks {
		all = append(all, c.items...)
	}
	if len(all) == 0 {
		return fresh
	}
	all = append(all, fresh...)
	slices.SortFunc(all, order)
	return all
}
