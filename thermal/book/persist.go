package book

import "slices"

// owner marks what a fold made itself and may still change in place. A later
// fold has another owner and copies what it changes, so that a book, once
// given out, never changes. It is not empty, so that each has its own address.
type owner struct{ _ byte }

// trie is a persistent map with string keys: setting a key copies the few
// nodes on its path, four ways at each node by two bits of the hash.
type trie[V any] struct{ root *node[V] }

type node[V any] struct {
	own  *owner
	key  string
	val  V
	kids [4]*node[V]
}

// hash is FNV-1a, 64 bits, with its high bits mixed: the walk takes them first.
func hash(s string) uint64 {
	h := uint64(14695981039346656037)
	for i := 0; i < len(s); i++ {
		h = (h ^ uint64(s[i])) * 1099511628211
	}
	h ^= h >> 32
	return h * 0x9E3779B97F4A7C15
}

func (t trie[V]) get(key string) (V, bool) {
	h := hash(key)
	for n := t.root; n != nil; n, h = n.kids[h>>62], h<<2 {
		if n.key == key {
			return n.val, true
		}
	}
	var none V
	return none, false
}

func (t *trie[V]) set(own *owner, key string, val V) {
	h := hash(key)
	at := &t.root
	for *at != nil {
		n := *at
		if n.own != own {
			c := *n
			c.own = own
			n = &c
			*at = n
		}
		if n.key == key {
			n.val = val
			return
		}
		at, h = &n.kids[h>>62], h<<2
	}
	*at = &node[V]{own: own, key: key, val: val}
}

// list is a persistent list that only grows: full parts are shared, the last
// is copied by a new owner.
type list[T any] struct {
	own  *owner
	full [][]T
	tail []T
}

const part = 128

func (l *list[T]) add(own *owner, v T) {
	if l.own != own {
		l.own = own
		l.full = slices.Clip(l.full)
		l.tail = append(make([]T, 0, min(part, len(l.tail)+4)), l.tail...)
	}
	if len(l.tail) == part {
		l.full = append(l.full, l.tail)
		l.tail = nil
	}
	l.tail = append(l.tail, v)
}

// all is a copy of the list.
func (l list[T]) all() []T {
	s := make([]T, 0, part*len(l.full)+len(l.tail))
	for _, p := range l.full {
		s = append(s, p...)
	}
	return append(s, l.tail...)
}
