package ledger

import (
	"fmt"
	"slices"
	"sync"
	"time"

	"example.com/ootherm/thermal/book"
)

// InMemory is a ledger that ends with the program: for a demonstration, a replay
// and tests. It may be used from any goroutine.
type InMemory struct {
	mu  sync.Mutex
	all []book.Entry
	at  map[string]int
}

// Memory makes an empty ledger in memory.
func Memory() *InMemory { return &InMemory{at: map[string]int{}} }

// Append does as [Ledger.Append], but nothing is durable.
func (m *InMemory) Append(es []book.Entry, recorded time.Time) ([]book.Entry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	all, added := m.all, map[string]int{}
	stored := make([]book.Entry, 0, len(es))
	for _, e := range es {
		i, there := m.at[e.Key]
		if !there {
			i, there = added[e.Key]
		}
		if there {
			if err := checkSame(all[i], e); err != nil {
				return nil, fmt.Errorf("append: %w", err)
			}
			stored = append(stored, all[i])
			continue
		}
		e, err := normalize(e, recorded)
		if err != nil {
			return nil, fmt.Errorf("append: %w", err)
		}
		e.Seq = uint64(len(all) + 1)
		added[e.Key] = len(all)
		all, stored = append(all, e), append(stored, e)
	}
	m.all = all
	for k, i := range added {
		m.at[k] = i
	}
	return stored, nil
}

// Load does as [Ledger.Load].
func (m *InMemory) Load() ([]book.Entry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.all), nil
}
