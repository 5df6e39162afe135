package words

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

func TestRehearsedLimit(t *testing.T) {
	lead := (2*time.Hour + 40*time.Minute).Seconds()
	r := Rehearsal{Reader: Reader{Units: Celsius}}
	for want, x := range map[string]snapshot.RehearsedLimit{
		"Too cold: wanted 21.0 °C; 23 of 25 dead heaters called, 2 h 40 min ahead; 1 call for nothing a month; never passed without a failure in 21 days": {
			Band: "wanted", Side: "cold", Limit: 21, Failures: 25, Called: 23, Lead: &lead, Days: 20.9, FalseCalls: 1},
		"Too warm: safe 28.0 °C; 0 of 9 heaters that stick called; 3 calls for nothing in 4 days; passed 1 time without a failure in 4 days": {
			Band: "safe", Side: "warm", Limit: 28, Failures: 9, Days: 3.1, FalseCalls: 3, Passed: 1},
		"Too cold: safe 8.0 °C; ; no failure of up to 10.0 °C reaches it within a day; no call for nothing in 21 days; passed 4 times without a failure a month": {
			Band: "safe", Side: "cold", Limit: 8, Days: 21, Passed: 3},
		"Too cold: safe 8.0 °C; ; nothing is learned yet": {Band: "safe", Side: "cold", Limit: 8},
	} {
		got := r.Limit(x)
		parts := []string{got.Name, got.Short}
		if got.Short == "" {
			parts = []string{got.Name, ""}
		}
		if text := strings.Join(append(parts, got.Lines...), "; "); text != want {
			t.Errorf("got  %s\nwant %s", text, want)
		}
	}
	until := time.Date(2026, 4, 2, 14, 20, 0, 0, time.UTC)
	r.At = until.Add(-time.Hour)
	if got := r.Learning(&until); got != "Learning until 14:20: no early warning before." || r.Learning(nil) != "" {
		t.Errorf("%q", got)
	}
}
