package client_test

import (
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/client"
)

// The table of a season says what its shares leave out, and an empty season has none.
func TestDescribeReview(t *testing.T) {
	for body, want := range map[string]string{
		`{"room":{"clutches":0}}`: "By the book no clutch was found in these days.\n",
		`{"room":{"clutches":2,"laid":4,"in_clutches_that_wait":2,"without_a_verdict":1}}`: "Not known yet: 2 eggs of unfinished clutches: left out of “Hatched”.\nNot known yet: 1 egg with no verdict: neither fertile nor not.\n",
	} {
		var b strings.Builder
		if err := client.DescribeReview(&b, []byte(body), ""); err != nil || !strings.Contains(b.String(), want) {
			t.Errorf("%v: no %q in\n%s", err, want, b.String())
		}
	}
}
