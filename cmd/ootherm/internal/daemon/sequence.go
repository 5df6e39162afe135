package daemon

import (
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/web"
)

var _ web.Revisions = (*feedNumber)(nil)

// feedNumber numbers what the calendar's feed says, in a file of the station's
// folder. A number is the minutes since 2026, or one more than the last if the
// clock was set back: so it rises with a new content whatever the clock does, and
// without its file too as long as the clock goes on.
type feedNumber struct {
	path string

	mu      sync.Mutex
	read    bool
	last    int
	content string
}

// Number is the number of a content. The same content keeps its number; another
// has a higher one than all before, kept before it is given.
func (f *feedNumber) Number(content string, at time.Time) (int, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.read {
		text, err := os.ReadFile(f.path)
		switch {
		case errors.Is(err, os.ErrNotExist):
		case err != nil:
			return 0, fmt.Errorf("the calendar's number: %w", err)
		default:
			if _, err := fmt.Sscanf(string(text), "%d %s", &f.last, &f.content); err != nil {
				f.last, f.content = 0, "" // a torn file: the clock alone numbers then
			}
		}
		f.read = true
	}
	if content == f.content {
		return f.last, nil
	}
	next := max(f.last+1, int(at.Sub(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))/time.Minute))
	if err := atomicfile.WriteBytes(f.path, fmt.Appendf(nil, "%d %s\n", next, content)); err != nil {
		return 0, fmt.Errorf("the calendar's number: %w", err)
	}
	f.last, f.content = next, content
	return next, nil
}
