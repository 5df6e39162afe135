package shown

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
)

// InMemory is windows that end with the program: for a replay and tests. It may be
// used from any goroutine.
type InMemory struct {
	mu  sync.Mutex
	all map[string][]byte
}

// Memory begins with no windows in memory.
func Memory() *InMemory { return &InMemory{all: map[string][]byte{}} }

// Keep does as [Store.Keep], save that nothing is durable.
func (m *InMemory) Keep(ws []Window) error {
	keys, values, err := encode(ws)
	if err != nil {
		return fmt.Errorf("shown: %w", err)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	for i, key := range keys {
		if m.all[string(key)] == nil {
			m.all[string(key)] = values[i]
		}
	}
	return nil
}

// Load does as [Store.Load].
func (m *InMemory) Load(clutch string) ([]Window, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var all []Window
	for _, key := range slices.Sorted(maps.Keys(m.all)) {
		if !strings.HasPrefix(key, string(prefix(clutch))) {
			continue
		}
		w, err := decode([]byte(key), m.all[key])
		if err != nil {
			return nil, fmt.Errorf("shown: load: %w", err)
		}
		all = append(all, w)
	}
	return all, nil
}
