package api

import (
	"encoding/json"
	"testing"
)

// Figures are rounded to nine digits. Texts, whole numbers and what is short stay.
func TestShortFigures(t *testing.T) {
	for in, want := range map[string]string{
		`{"a":21.147338938090634,"b":-0.05607243709622363,"c":[1.5,3,true,null]}`:             `{"a":21.1473389,"b":-0.0560724371,"c":[1.5,3,true,null]}`,
		`{"21.147338938090634":"at 21.147338938090634, \"x\" 1.23456789012\\","d":1}`:         `{"21.147338938090634":"at 21.147338938090634, \"x\" 1.23456789012\\","d":1}`,
		`[12345678901234567,1080.123456789012,1.0000000000000002,2.5e-7,1.23456789012345e-7]`: `[12345678901234567,1080.12346,1,2.5e-7,1.23456789e-07]`,
		`0.1`: `0.1`, `"`: `"`, `"\`: `"\`, ``: ``,
	} {
		got := string(shortFigures([]byte(in)))
		if got != want {
			t.Errorf("%s became %s, want %s", in, got, want)
		}
		if json.Valid([]byte(in)) && !json.Valid([]byte(got)) {
			t.Errorf("%s is no JSON", got)
		}
	}
}
