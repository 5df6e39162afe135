package column

import (
	"slices"
	"sync"
)

// scratch is the memory that writing one column needs, used again for the next.
type scratch struct {
	first, second, counted, ints []int64
	distances                    [2][]uint64
}

var scratches = sync.Pool{New: func() any { return new(scratch) }}

// sized is a buffer with n elements, which may hold anything.
func sized[T any](buffer *[]T, n int) []T {
	*buffer = slices.Grow((*buffer)[:0], n)[:n]
	return *buffer
}
