package web

import (
	"errors"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
)

// A page opened again within the minute must not read the history again.
func TestTraceIsKeptForAMinute(t *testing.T) {
	calls := 0
	n := season()
	o := options(n)
	o.Past = past{every: time.Minute, calls: &calls}
	h := handler(t, o)
	get(h, "/")
	first := calls
	if first != 6 {
		t.Fatalf("%d scans, want one for each of 6 probes", first)
	}
	get(h, "/")
	n.At = at.Add(29 * time.Second)
	get(h, "/")
	if calls != first {
		t.Errorf("%d scans more within a minute", calls-first)
	}
	n.At = at.Add(time.Minute)
	get(h, "/")
	if calls != 2*first {
		t.Errorf("%d scans after the minute, want %d", calls-first, first)
	}
}

// With a poll in ten minutes or more the cells grow, or each would be a gap.
func TestSlowPollsAreNoGaps(t *testing.T) {
	n := season()
	o := options(n)
	o.Every = 15 * time.Minute
	o.Past = script{points: func() (all []page.Point) {
		for x := at.Add(-zones.Day).Add(time.Minute); x.Before(at); x = x.Add(o.Every) {
			all = append(all, page.Point{At: x, Celsius: 23, Humidity: math.NaN()})
		}
		return
	}()}
	lines := elementsOf(t, get(handler(t, o), "/")).find("path", "class=temperature")
	for _, line := range lines {
		if n := strings.Count(line.attrs["d"], "M"); n != 1 {
			t.Errorf("a slow poller's line is in %d pieces", n)
		}
	}
	if len(lines) < 2 {
		t.Errorf("%d lines of two zones", len(lines))
	}
}

// A zone's page has its day, its week and its season, or the days that are asked for; what
// cannot be read leaves the page.
func TestZonePage(t *testing.T) {
	o := options(season())
	h := handler(t, o)
	for target, want := range map[string][]string{"/z/room": {"Day", "Week", "Season"}, "/z/room?from=2026-05-01&to=2026-05-03": {"1-3 May"}} {
		page := elementsOf(t, get(h, target))
		var titles []string
		for _, s := range page.find("section", "aria-labelledby") {
			if lines := len(s.inside.find("path", "class=temperature")); lines == 1 {
				titles = append(titles, s.inside.find("h2")[0].text)
			}
		}
		if !slices.Equal(titles, want) {
			t.Errorf("%s draws %v, want %v", target, titles, want)
		}
	}
	if w := get(h, "/z/room?from=x"); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "is no day") {
		t.Errorf("no day: status %d", w.Code)
	}
	if w := get(h, "/z/attic"); w.Code != http.StatusNotFound {
		t.Errorf("no zone: status %d", w.Code)
	}
	o.Past = past{every: time.Minute, fail: errors.New("torn")}
	if w := get(handler(t, o), "/z/room"); w.Code != http.StatusOK || strings.Count(w.Body.String(), "This could not be read") != 3 {
		t.Errorf("a history that cannot be read: status %d: %s", w.Code, w.Body)
	}
}
