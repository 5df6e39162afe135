package main

import (
	"strings"
	"testing"
)

// Lines that are wider than the terminal break between words, and none changes otherwise.
func TestWordsStayWhole(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"short\n", "short\n"},
		{"exactly twenty here.\n", "exactly twenty here.\n"},
		{"a line that is wider than twenty\n", "a line that is wider \nthan twenty\n"},
		{"  name it, by where it hangs: ", "  name it, by where \n  it hangs: "},
		{"/var/lib/ootherm/with/a/long/name is there\nok\n", "/var/lib/ootherm/with/a/long/name \nis there\nok\n"},
		{"ein Gefäß für drei Eier\n", "ein Gefäß für drei \nEier\n"},
	} {
		var out strings.Builder
		n, err := wordWrapper{&out, 20}.Write([]byte(c.text))
		if err != nil || n != len(c.text) || out.String() != c.want {
			t.Errorf("%q is %q, %d, %v; want %q", c.text, out.String(), n, err, c.want)
		}
	}
}
