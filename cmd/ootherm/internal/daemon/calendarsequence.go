package daemon

import (
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

var _ page.Revisions = (*calendarSequence)(nil)

// calendarSequence gives each content of the calendar's feed a sequence number and keeps
// the last one in a file. A number is the minutes since 2026, or the last number plus one
// if the clock was set back. So a new content has a higher number whatever the clock does.
// If the file is lost, numbers still rise as long as the clock is not set back.
type calendarSequence struct {
	path string

	mu      sync.Mutex
	loaded  bool
	last    int
	content string
}

// Number returns the number of a content at a time. The same content keeps its number. A
// new content has a higher number than all before. The file holds the number before
// Number returns it.
func (f *calendarSequence) Number(content string, at time.Time) (int, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.loaded {
		text, err := os.ReadFile(f.path)
		switch {
		case errors.Is(err, os.ErrNotExist):
		case err != nil:
			return 0, fmt.Errorf("the calendar's number: %w", err)
		default:
			if _, err := fmt.Sscanf(string(text), "%d %s", &f.last, &f.content); err != nil {
				f.last, f.content = 0, "" // a torn file: number by the clock alone
			}
		}
		f.loaded = true
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
