package main

import (
	"encoding/json"
	"strings"
	"testing"
	"time"
)

// A station that runs and one that does not tell the same of a span; a span that
// cannot be is refused with what to do.
func TestIncidentRunningAndNot(t *testing.T) {
	config, data, listen := small(t)
	if got := do(t, twoEntries, "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	to := time.Now().UTC().Truncate(time.Minute)
	args := []string{"incident", "--config", config, "--from", to.Add(-time.Hour).Format(time.RFC3339), "--to", to.Format(time.RFC3339)}
	still := do(t, "", args...)
	if still.code != 0 || !strings.Contains(still.out, "nothing was measured here") || strings.Contains(still.out, "whether the eggs are alive") /* no egg was there */ {
		t.Fatalf("%d: %s%s", still.code, still.out, still.errout)
	}
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	if running := do(t, "", args...); running.code != 0 || running.out != still.out {
		t.Errorf("while it runs it tells %q, else %q (%s)", running.out, still.out, running.errout)
	}
	var n struct{ Zones, Alarms, Clutches []any }
	if got := do(t, "", append(args, "--json")...); got.code != 0 || json.Unmarshal([]byte(got.out), &n) != nil || len(n.Zones) == 0 || n.Alarms == nil || n.Clutches == nil {
		t.Errorf("%d: %s%s", got.code, got.out, got.errout)
	}
	for _, bad := range []struct {
		args []string
		code int
	}{{[]string{"--from", "yesterday"}, 2}, {[]string{"--zone", "attic"}, 1}, {[]string{"--from", "2031-01-01T00:00"}, 1}} {
		if got := do(t, "", append([]string{"incident", "--config", config}, bad.args...)...); got.code != bad.code || got.out != "" || got.errout == "" {
			t.Errorf("%v: %d: %s%s", bad.args, got.code, got.out, got.errout)
		}
	}
	if got := do(t, "", "review", "--config", config, "--from", "spring"); got.code != 2 || got.out != "" {
		t.Errorf("a review from spring: %d: %s", got.code, got.errout)
	}
}
