package daemon

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// The calendar's number rises with each new content and only then: also after the clock
// was set back, after a restart and after its file was torn.
func TestCalendarSequenceRises(t *testing.T) {
	path := filepath.Join(t.TempDir(), "calendar-sequence")
	f := &calendarSequence{path: path}
	at := time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)
	last := 0
	number := func(content string, at time.Time) int {
		t.Helper()
		n, err := f.Number(content, at)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	rises := func(what, content string, at time.Time) {
		t.Helper()
		if n := number(content, at); n <= last {
			t.Errorf("%s: %d after %d", what, n, last)
		} else {
			last = n
		}
	}
	rises("the first", "a", at)
	if n := number("a", at.Add(time.Hour)); n != last {
		t.Errorf("the same content has %d, then %d", last, n)
	}
	rises("an hour later", "b", at.Add(time.Hour))
	rises("the clock set back by half a day", "c", at.Add(-12*time.Hour))
	rises("and to before 2026", "d", at.AddDate(-30, 0, 0))
	f = &calendarSequence{path: path}
	if n := number("d", at); n != last {
		t.Errorf("after a restart the same content has %d, had %d", n, last)
	}
	f = &calendarSequence{path: path}
	rises("after a restart with the clock set back", "e", at.AddDate(0, -1, 0))
	if err := os.WriteFile(path, []byte("1"), 0o600); err != nil {
		t.Fatal(err)
	}
	f = &calendarSequence{path: path}
	rises("after its file was torn, by the clock", "f", at.Add(2*time.Hour))

	f = &calendarSequence{path: filepath.Join(path, "is a file")}
	if n, err := f.Number("g", at); err == nil || n != 0 {
		t.Errorf("a number that could not be stored was returned: %d, %v", n, err)
	}
}
