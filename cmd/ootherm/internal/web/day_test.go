package web

import (
	"math"
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
