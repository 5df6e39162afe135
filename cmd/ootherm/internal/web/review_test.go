package web

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
)

// seasonBook has a dam with 3 of 9 hatched beside one with 26 of 32.
func seasonBook() string {
	var l []string
	add := func(format string, a ...any) { l = append(l, fmt.Sprintf(format, a...)) }
	add(`{"key":"d2","at":"2026-01-01T08:00:00Z","entry":"dam","dam":"Tansy"}`)
	for name, x := range map[string][2]int{"Sorrel": {3, 9}, "Tansy": {26, 32}} {
		add(`{"key":"c%s","at":"2026-04-02T08:00:00Z","entry":"clutch","clutch":"%s","dam":"%s","eggs":%d,"laid_after":"2026-04-01T08:00:00Z","laid_by":"2026-04-02T08:00:00Z"}`, name, name, name, x[1])
		for i := range x[1] {
			what := "lost"
			if i < x[0] {
				what = "hatched"
			}
			add(`{"key":"%s%d","at":"2026-06-01T08:00:00Z","entry":"%s","egg":"%s-%d"}`, name, i, what, name, i+1)
		}
	}
	return strings.Join(l, "\n")
}

func TestReview(t *testing.T) {
	_, h := bookDesk(t, seasonBook())
	page := get(h, "/review?from=2026-03-01&to=2026-06-30")
	body := page.Body.String()
	for _, want := range []string{"3 of 9 of hers hatched, 26 of 32 of the others&#39;", "3 of 9 (12-65\u00a0%)", "Retire no dam on a few eggs"} {
		if page.Code != 200 || !strings.Contains(body, want) {
			t.Errorf("status %d, and the page does not say %q", page.Code, want)
		}
	}
	if strings.Contains(body, "Wilson") || strings.Contains(body, "Fisher") {
		t.Error("the page speaks of its reckoning")
	}
	var v reviewView
	if err := json.Unmarshal(get(h, "/api/v1/review?from=2026-03-01&to=2026-06-30").Body.Bytes(), &v); err != nil || len(v.Dams) != 2 || v.Room.Laid != 41 || v.Room.Hatched.Count != 29 || v.Room.Alive.Low != nil {
		t.Errorf("%+v, %v", v, err)
	}
	if err := json.Unmarshal(get(h, "/api/v1/review?from=2026-05-01&to=2026-06-30").Body.Bytes(), &v); err != nil || v.Room.Laid != 0 {
		t.Errorf("another season holds %d eggs (%v)", v.Room.Laid, err)
	}
	for _, bad := range []string{"from=x", "from=2026-07-01&to=2026-06-01"} {
		if w := get(h, "/review?"+bad); w.Code != 422 {
			t.Errorf("%s: status %d", bad, w.Code)
		}
	}
}
