package response

import (
	"net/http"
	"sync"
	"time"
)

// Limits of the shared answers. Both are our choice. All readers ask within a second of a
// change; ages on a page ("read 4 s ago") may be this much too low.
const (
	maxSharedAnswers = 8
	sharedTime       = 2 * time.Second
)

// sharedAnswers keep the last answers for a moment, so that many readers of one change cost
// one page.
type sharedAnswers struct {
	identity func(*http.Request) any
	mu       sync.Mutex
	all      []sharedAnswer // the oldest first
}

type sharedAnswer struct {
	key   any
	until time.Time
	answer
}

// key is what the answer to a request depends on, or nil where it may not be shared.
func (s *sharedAnswers) key(r *http.Request) any {
	if s.identity == nil || r.Method != http.MethodGet {
		return nil
	}
	return s.identity(r)
}

// find gives the answer with a key.
func (s *sharedAnswers) find(key any) (answer, bool) {
	if key == nil {
		return answer{}, false
	}
	now := time.Now()
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.all {
		if x.key == key && now.Before(x.until) {
			return x.answer, true
		}
	}
	return answer{}, false
}

// keep keeps an answer for other readers.
func (s *sharedAnswers) keep(key any, a answer) {
	if key == nil || a.status != http.StatusOK || a.header.Get("Set-Cookie") != "" {
		return
	}
	now := time.Now()
	s.mu.Lock()
	defer s.mu.Unlock()
	for len(s.all) > 0 && (!now.Before(s.all[0].until) || len(s.all) >= maxSharedAnswers) {
		s.all[0] = sharedAnswer{} // so that its state can be freed
		s.all = s.all[1:]
	}
	s.all = append(s.all, sharedAnswer{key, now.Add(sharedTime), a})
}
