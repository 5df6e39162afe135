package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/spelling"
)

// Fault is one thing wrong in the file.
type Fault struct {
	File   string `json:"file"`
	Line   int    `json:"line"`   // from 1
	Column int    `json:"column"` // from 1, in characters
	Key    string `json:"key"`    // with its sections, such as zone.wanted.low; empty for a syntax error
	Why    string `json:"why"`    // what is wrong and what to do
}

func (f Fault) String() string {
	where := fmt.Sprintf("%s:%d:%d: ", f.File, f.Line, f.Column)
	if f.Key == "" {
		return where + f.Why
	}
	return where + f.Key + ": " + f.Why
}

// Faults lists all errors in the file, in the order of their lines.
type Faults []Fault

var _ error = Faults(nil)

// Usage reports that the configuration is at fault.
func (f Faults) Usage() bool { return true }

// Error returns one line for each fault.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		lines[i] = fault.String()
	}
	return strings.Join(lines, "\n")
}

// sorted returns the faults in the order of their lines and columns.
func (f *file) sorted() Faults {
	slices.SortStableFunc(f.faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return f.faults
}

// suggestion returns the advice for an unknown word.
func suggestion(word string, known []string) string {
	if k := spelling.Nearest(word, known); k != "" {
		return fmt.Sprintf("did you mean %q?", k)
	}
	return "known are " + list(known)
}

// list joins words with commas.
func list(words []string) string {
	if len(words) == 0 {
		return "none"
	}
	return strings.Join(words, ", ")
}
