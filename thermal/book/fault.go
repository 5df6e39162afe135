package book

import (
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing wrong with one entry.
type Fault struct {
	Key   string // of the entry; empty when it has none
	Line  int    // in the file it was read from, from 1; 0 when there is none
	Field string // empty when the whole entry is meant
	Words string // what is wrong and what to do, for the breeder
}

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
