package usererr

import (
	"errors"
	"fmt"
	"testing"
)

// told has words for a person that differ from those for the log.
type told struct{}

func (told) Error() string        { return "entry k: is missing" }
func (told) ErrorMessage() string { return "is missing" }

// The person reads the words meant for them, with what was put before them; the
// cause and whether the request was at fault stay known.
func TestErrors(t *testing.T) {
	cause := errors.New("no such file")
	for name, c := range map[string]struct {
		err          error
		log, message string
		usage        bool
	}{
		"new":                     {New("choose one dam"), "choose one dam", "choose one dam", false},
		"usage":                   {Usage(cause), "no such file", "no such file", true},
		"usage, words for people": {Usage(told{}), "entry k: is missing", "is missing", true},
		"usage, words before":     {Usage(fmt.Errorf("sender mail: %w", told{})), "sender mail: entry k: is missing", "sender mail: entry k: is missing", true},
		"reworded":                {Reword(cause, "nothing was noted"), "nothing was noted", "nothing was noted", false},
		"reworded usage":          {Reword(fmt.Errorf("x: %w", Usage(cause)), "--to: no day"), "--to: no day", "--to: no day", true},
		"wrapped":                 {fmt.Errorf("sender mail: %w", New("no host")), "sender mail: no host", "no host", false},
	} {
		message, ok := Message(c.err)
		if c.err.Error() != c.log || message != c.message || !ok || IsUsage(c.err) != c.usage {
			t.Errorf("%s: log %q, message %q (%t), usage %t", name, c.err, message, ok, IsUsage(c.err))
		}
	}
	if !errors.Is(Usage(cause), cause) || !errors.Is(Reword(cause, "x"), cause) {
		t.Error("the cause is not known")
	}
	if _, ok := Message(cause); ok || IsUsage(cause) || IsUsage(nil) {
		t.Error("an error of another kind has words for a person")
	}
}
