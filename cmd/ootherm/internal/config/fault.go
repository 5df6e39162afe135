package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
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

// nearest returns the known word that is most like a word, or "" if none is close.
func nearest(word string, known []string) string {
	best, least := "", 1+max(1, len(word)/3)
	for _, k := range known {
		if d := distance(strings.ToLower(word), k); d < least {
			best, least = k, d
		}
	}
	return best
}

// suggestion returns the advice for an unknown word.
func suggestion(word string, known []string) string {
	if k := nearest(word, known); k != "" {
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

// distance counts the letters to insert, delete, replace or swap with the next to get from
// a to b (optimal string alignment).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, last := make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := range x {
		row := make([]int, len(y)+1)
		row[0] = i + 1
		for j := range y {
			change := 1
			if x[i] == y[j] {
				change = 0
			}
			row[j+1] = min(last[j]+change, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && x[i] == y[j-1] && x[i-1] == y[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last = last, row
	}
	return last[len(y)]
}
