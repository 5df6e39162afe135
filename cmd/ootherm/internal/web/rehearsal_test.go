package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// The first page says until when a zone has no early warning.
func TestLearningOnTheFirstPage(t *testing.T) {
	n := season()
	n.Zones[0].LearningUntil = ptr(n.At.Add(time.Hour))
	page := get(handler(t, options(n)), "/").Body.String()
	if want := "The early warning still learns: it begins at 15:30 at the earliest."; strings.Count(page, want) != 1 {
		t.Errorf("the page lacks %q", want)
	}
}

// A page never waits for a rehearsal: it says that it is computed, and reloads. A program
// waits.
func TestRehearsalIsNotWaitedFor(t *testing.T) {
	var asked [3]string
	o := options(season())
	o.Incidents = looking{&asked}
	h := handler(t, o)
	page := get(h, "/rehearsal?zone=shelf")
	if page.Code != http.StatusOK || page.Header().Get("Refresh") == "" || !strings.Contains(page.Body.String(), "It is being computed") {
		t.Errorf("%d, reloads %q: %s", page.Code, page.Header().Get("Refresh"), page.Body)
	}
	if ready := get(h, "/rehearsal?zone=room"); ready.Header().Get("Refresh") != "" {
		t.Error("a page that is ready reloads")
	}
	var x snapshot.Rehearsal
	body := get(h, "/api/v1/rehearsal?zone=shelf").Body
	if err := json.Unmarshal(body.Bytes(), &x); err != nil || x.Zone != "shelf" || len(x.Limits) != 3 || x.Limits[0].Called != 23 {
		t.Errorf("%s: %v", body, err)
	}
	for _, path := range []string{"/rehearsal?zone=attic", "/api/v1/rehearsal?zone=attic"} {
		if got := get(h, path); got.Code != http.StatusUnprocessableEntity || !strings.Contains(strings.ToLower(got.Body.String()), "there is no attic") {
			t.Errorf("%s: %d %s", path, got.Code, got.Body)
		}
	}
}
