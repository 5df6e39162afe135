// Package shellword quotes words for the commands that messages print. It owns the rules of
// a POSIX shell. It must not know any command.
package shellword

import (
	"regexp"
	"strings"
)

// plain matches a word that a shell takes as it is.
var plain = regexp.MustCompile(`^[A-Za-z0-9_./:@%+,=-]+$`)

// Quote returns a word as it is typed in a shell. It adds quotes only where they are needed.
func Quote(word string) string {
	if plain.MatchString(word) {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// Join quotes words and puts spaces between them.
func Join(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = Quote(w)
	}
	return strings.Join(quoted, " ")
}
