// Package spelling finds the known word that a mistyped one stands for. It owns what counts
// as close. It must not know where the words come from.
package spelling

import "strings"

// Nearest returns the known word that is most like a word, or "" if none is close. It ignores
// capitals in the word. One letter in three may differ, and one at least (our choice).
func Nearest(word string, known []string) string {
	best, least := "", 1+max(1, len(word)/3)
	for _, k := range known {
		if d := distance(strings.ToLower(word), k); d < least {
			best, least = k, d
		}
	}
	return best
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
