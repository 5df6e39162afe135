package client

import (
	"bytes"
	"context"
	"fmt"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Add notes the lines of a file, all or none, and tells how many of its entries are
// new. source names the file in a refusal.
func (c *Client) Add(ctx context.Context, lines []byte, source string) (report string, err error) {
	var before bytes.Buffer
	if err := c.WriteBook(ctx, &before); err != nil {
		return "", err
	}
	if err := c.Note(ctx, lines); err != nil {
		return "", usererr.Reword(err, source+": nothing was noted:\n"+err.Error())
	}
	had, err := book.ReadAll(&before)
	if err != nil {
		return "", err
	}
	entries, err := book.ReadAll(bytes.NewReader(lines))
	if err != nil {
		return "", err
	}
	return addedText(had, entries), nil
}

// addedText tells how many entries are new beside those that a book had.
func addedText(had, entries []book.Entry) string {
	there := map[string]bool{}
	for _, e := range had {
		there[e.Key] = true
	}
	old := 0
	for _, e := range entries {
		if there[e.Key] {
			old++
		}
		there[e.Key] = true
	}
	switch fresh := len(entries) - old; {
	case len(entries) == 0:
		return "nothing new: there is no entry in it"
	case fresh == 0:
		return fmt.Sprintf("nothing new: all %d entries were in the book already", old)
	case old == 0:
		return "noted: " + words.Count(fresh, "new entry", "new entries")
	default:
		return fmt.Sprintf("noted: %s; %d more were in the book already", words.Count(fresh, "new entry", "new entries"), old)
	}
}
