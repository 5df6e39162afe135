package column

import (
	"encoding/binary"
	"errors"
	"slices"
)

// AppendNames writes a column of names: the distinct ones, then runs of them. A column of empty
// names alone is one zero.
func AppendNames[T ~string](b []byte, v []T) []byte {
	var names []T
	var runs []byte
	for i := 0; i < len(v); {
		j := i + 1
		for j < len(v) && v[j] == v[i] {
			j++
		}
		which := slices.Index(names, v[i])
		if which < 0 {
			which = len(names)
			names = append(names, v[i])
		}
		runs = binary.AppendUvarint(runs, uint64(which))
		runs = binary.AppendUvarint(runs, uint64(j-i))
		i = j
	}
	if len(names) == 1 && names[0] == "" {
		return append(b, 0)
	}
	b = binary.AppendUvarint(b, uint64(len(names)))
	for _, n := range names {
		b = binary.AppendUvarint(b, uint64(len(n)))
		b = append(b, n...)
	}
	return append(b, runs...)
}

// ReadNames gives the n names of a column, nil where all are empty. It uses the memory of v again.
func ReadNames[T ~string](r *Reader, v []T, n int) ([]T, error) {
	count := r.Uvarint()
	if count == 0 || r.Err != nil {
		return nil, r.Err
	}
	if count > uint64(n) {
		return nil, errors.New("a column has more names than rows")
	}
	names := make([]T, count)
	for i := range names {
		names[i] = T(r.Bytes(r.Uvarint()))
	}
	v = slices.Grow(v[:0], n)[:n]
	for at := uint64(0); at < uint64(n); {
		which, run := r.Uvarint(), r.Uvarint()
		if r.Err != nil {
			return nil, r.Err
		}
		if which >= count || run == 0 || run > uint64(n)-at {
			return nil, errors.New("the runs of names do not fit")
		}
		same := v[at : at+run]
		for i := range same {
			same[i] = names[which]
		}
		at += run
	}
	return v, r.Err
}
