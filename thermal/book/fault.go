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

	says says
}

// Told is how a reader calls what the words of faults name.
type Told struct {
	When  func(time.Time) string
	Entry func(Entry) string // nil: by its key and its time
}

// By are the same faults in a reader's own words.
func (f Faults) By(t Told) Faults {
	all := slices.Clone(f)
	for i := range all {
		if all[i].says.format != "" {
			all[i].Words = all[i].says.by(t)
		}
	}
	return all
}

// says are words of which a part hangs on who reads them: times, entries (*item,
// in a list []*item, or by its key alone, keyOf) and other faults (Fault).
type says struct {
	format string
	args   []any
}

type keyOf struct{ *item }

// fault makes one whose words each reader can be told in their own way.
func fault(format string, args ...any) Fault {
	s := says{format, args}
	return Fault{Words: s.by(Told{When: day}), says: s}
}

// Wrong is a fault of an entry, found by who else holds entries to something.
// Times among the arguments are told as the reader's.
func Wrong(e Entry, field, format string, args ...any) Fault {
	f := fault(format, args...)
	f.Key, f.Field = e.Key, field
	return f
}

func (s says) by(t Told) string {
	entry := func(it *item) string {
		if t.Entry != nil {
			return t.Entry(it.Entry)
		}
		return fmt.Sprintf("entry %s of %s", it.Key, t.When(it.At))
	}
	key := func(it *item) string {
		if t.Entry != nil {
			return t.Entry(it.Entry)
		}
		return it.Key
	}
	args := make([]any, len(s.args))
	for i, a := range s.args {
		switch a := a.(type) {
		case time.Time:
			args[i] = t.When(a)
		case *item:
			args[i] = entry(a)
		case keyOf:
			args[i] = key(a.item)
		case []*item:
			args[i] = listed(a, key, t.Entry != nil)
		case Fault:
			args[i] = Faults{a}.By(t)[0].Words
		default:
			args[i] = a
		}
	}
	return fmt.Sprintf(s.format, args...)
}

// listed is a list of entries, not longer than can be read.
func listed(items []*item, key func(*item) string, long bool) string {
	most, between := 20, ", "
	if long {
		most, between = 5, "; "
	}
	var all []string
	for _, it := range items[:min(most, len(items))] {
		all = append(all, key(it))
	}
	text := strings.Join(all, between)
	if more := len(items) - len(all); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// day is how a fault names a time, unless its reader is known.
func day(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }

// Error says where and what, with the package.
func (f Fault) Error() string { return "book: " + f.ErrorMessage() }

// ErrorMessage says the same without the package.
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

// Error lists every fault, one a line.
func (f Faults) Error() string { return f.lines("book: ") }

// ErrorMessage lists every fault, one a line, without the package.
func (f Faults) ErrorMessage() string { return f.lines("") }

func (f Faults) lines(prefix string) string {
	s := make([]string, len(f))
	for i, one := range f {
		s[i] = prefix + one.ErrorMessage()
	}
	return strings.Join(s, "\n")
}

// Unwrap gives each fault as an error of its own.
func (f Faults) Unwrap() []error {
	e := make([]error, len(f))
	for i, one := range f {
		e[i] = one
	}
	return e
}

// Keys are the keys of the entries at fault, each once, in order of the faults.
func (f Faults) Keys() []string {
	var keys []string
	for _, one := range f {
		if one.Key != "" && !slices.Contains(keys, one.Key) {
			keys = append(keys, one.Key)
		}
	}
	return keys
}

// err is nil when there is no fault.
func (f Faults) err() error {
	if len(f) == 0 {
		return nil
	}
	return f
}
