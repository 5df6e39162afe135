package api

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

type source struct{ *snapshot.Snapshot }

func (s source) Now() *snapshot.Snapshot { return s.Snapshot }

// Figures of the state are rounded to nine digits. Texts, whole numbers and what is short stay.
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
	third, w := 64./3, httptest.NewRecorder()
	n := &snapshot.Snapshot{Zones: []snapshot.Zone{{Zone: "room", Celsius: &third}}}
	Programs{&page.Site{Options: page.Options{Source: source{n}}}}.ServeNow(w, httptest.NewRequest(http.MethodGet, "/api/v1/now", nil))
	if !strings.Contains(w.Body.String(), `"temperature_c":21.3333333,`) {
		t.Errorf("the state is %s", w.Body)
	}
}
