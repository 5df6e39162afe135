package post

import (
	"net/url"
	"slices"
	"strings"
)

// Redactor replaces what may be secret in a text that is shown, such as an answer
// that repeats the address it was asked at.
type Redactor struct{ replacer *strings.Replacer }

// leastSecret is the length from which a part of an address or a header may be a
// secret; shorter ones, as "api", are words.
const leastSecret = 6

// NewRedactor takes the parts of an address behind its host, and of headers' values.
func NewRedactor(address *url.URL, headers map[string]string) Redactor {
	parts := strings.Split(address.Path, "/")
	parts = append(parts, strings.Split(address.EscapedPath(), "/")...)
	parts = append(parts, address.RawQuery)
	for _, values := range address.Query() {
		parts = append(parts, values...)
	}
	if p, ok := address.User.Password(); ok {
		parts = append(parts, p)
	}
	for _, v := range headers {
		parts = append(parts, strings.Fields(v)...)
	}
	// The longest first: one may be a part of another.
	slices.SortFunc(parts, func(a, b string) int { return len(b) - len(a) })
	var pairs []string
	for _, p := range parts {
		if len(p) >= leastSecret {
			pairs = append(pairs, p, "...")
		}
	}
	return Redactor{strings.NewReplacer(pairs...)}
}

// Redact is the text without them.
func (h Redactor) Redact(text string) string { return h.replacer.Replace(text) }
