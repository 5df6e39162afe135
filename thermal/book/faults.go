package book

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Fault is one thing wrong with one entry.
type Fault struct {
	Key   string `json:"key,omitempty"`   // of the entry; empty when it has none
	Line  int    `json:"line,omitempty"`  // in the file it was read from, from 1; 0 when there is none
	Field string `json:"field,omitempty"` // empty when the whole entry is meant
	Words string `json:"words"`           // what is wrong and what to do, for the breeder; times in UTC, other entries by their keys

	message message
}

// Wording says how a reader calls what the words of faults name.
type Wording struct {
	Time  func(time.Time) string
	Entry func(Entry) string // nil: by its key and its time
}

// In returns the same faults in a reader's own wording.
func (f Faults) In(w Wording) Faults {
	all := slices.Clone(f)
	for i := range all {
		if all[i].message.format != "" {
			all[i].Words = all[i].message.in(w)
		}
	}
	return all
}

// message is a text of which a part depends on its reader: times, entries (*item,
// in a list []*item, or by the key alone, keyOf) and other faults (Fault).
type message struct {
	format string
	args   []any
}

type keyOf struct{ *item }

// newFault makes a fault with a message.
func newFault(format string, args ...any) Fault {
	m := message{format, args}
	return Fault{Words: m.in(Wording{Time: utcMinute}), message: m}
}

// NewFault makes a fault of an entry for other rules than the book's own, such as
// which zones there are. Times among the arguments are shown as the reader has
// them.
func NewFault(e Entry, field, format string, args ...any) Fault {
	f := newFault(format, args...)
	f.Key, f.Field = e.Key, field
	return f
}

func (m message) in(w Wording) string {
	entry := func(it *item) string {
		if w.Entry != nil {
			return w.Entry(it.Entry)
		}
		return fmt.Sprintf("entry %s of %s", it.Key, w.Time(it.At))
	}
	key := func(it *item) string {
		if w.Entry != nil {
			return w.Entry(it.Entry)
		}
		return it.Key
	}
	args := make([]any, len(m.args))
	for i, a := range m.args {
		switch a := a.(type) {
		case time.Time:
			args[i] = w.Time(a)
		case *item:
			args[i] = entry(a)
		case keyOf:
			args[i] = key(a.item)
		case []*item:
			args[i] = listed(a, key, w.Entry != nil)
		case Fault:
			args[i] = Faults{a}.In(w)[0].Words
		default:
			args[i] = a
		}
	}
	return fmt.Sprintf(m.format, args...)
}

// How many entries a fault names, by key and by longer names. Our choice.
const (
	maxListedKeys    = 20
	maxListedEntries = 5
)

// listed joins entries to a list that is short enough to be read.
func listed(items []*item, name func(*item) string, long bool) string {
	most, separator := maxListedKeys, ", "
	if long {
		most, separator = maxListedEntries, "; "
	}
	var all []string
	for _, it := range items[:min(most, len(items))] {
		all = append(all, name(it))
	}
	text := strings.Join(all, separator)
	if more := len(items) - len(all); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// utcMinute is the time in a fault whose reader is not known.
func utcMinute(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }

// Error says where the fault is and what it is.
func (f Fault) Error() string { return f.ErrorMessage() }

// ErrorMessage is Error. Having it marks an error whose words are for the breeder.
func (f Fault) ErrorMessage() string {
	var s strings.Builder
	switch {
	case f.Line > 0 && f.Key != "":
		fmt.Fprintf(&s, "line %d, entry %s: ", f.Line, f.Key)
	case f.Line > 0:
		fmt.Fprintf(&s, "line %d: ", f.Line)
	case f.Key != "":
		fmt.Fprintf(&s, "entry %s: ", f.Key)
	}
	if f.Field != "" {
		s.WriteString(f.Field + ": ")
	}
	s.WriteString(f.Words)
	return s.String()
}

// Faults is everything wrong with a set of entries, none of which was taken.
type Faults []Fault

// mostFaults are listed: a file that is no book has one in each line (our choice).
const mostFaults = 100

// Error lists the faults, one a line.
func (f Faults) Error() string {
	var lines []string
	for i, one := range f {
		if i == mostFaults {
			lines = append(lines, fmt.Sprintf("and %d more: is it a book, one JSON object a line?", len(f)-i))
			break
		}
		lines = append(lines, one.Error())
	}
	return strings.Join(lines, "\n")
}

// ErrorMessage is Error. Having it marks an error whose words are for the breeder.
func (f Faults) ErrorMessage() string { return f.Error() }

// err is nil when there is no fault.
func (f Faults) err() error {
	if len(f) == 0 {
		return nil
	}
	return f
}
