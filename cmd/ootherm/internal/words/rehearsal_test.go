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
		"Colder than the wanted 21.0 °C; It would have warned of 23 of 25 dead heaters, of half of these at least 2 h 40 min before the limit; 1 false warning a month; the readings themselves never passed this limit in 21 days": {
			Band: "wanted", Side: "cold", Limit: 21, Failures: 25, Called: 23, Lead: &lead, Days: 20.9, FalseCalls: 1},
		"Warmer than the safe 28.0 °C; It would have warned of 0 of 9 heaters that stay on; 3 false warnings in 4 days; the readings themselves passed this limit 1 time in 4 days": {
			Band: "safe", Side: "warm", Limit: 28, Failures: 9, Days: 3.1, FalseCalls: 3, Passed: 1},
		"Colder than the safe 8.0 °C; ; no failure of up to 10.0 °C reaches this limit within a day; no false warning in 21 days; the readings themselves passed this limit 4 times a month": {
			Band: "safe", Side: "cold", Limit: 8, Days: 21, Passed: 3},
		"Colder than the safe 8.0 °C; ; nothing is learned yet": {Band: "safe", Side: "cold", Limit: 8},
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
	if got := r.Learning(&until); got != "The early warning still learns: it begins at 14:20 at the earliest." || r.Learning(nil) != "" {
		t.Errorf("%q", got)
	}
	x := snapshot.Rehearsal{From: until.Add(-3 * time.Hour), To: r.At}
	if got := r.Span(x); got != "Heater failures were tried on the readings from 11:20 to 13:20 (2 h)." {
		t.Errorf("%q", got)
	}
	x.From = x.To
	if got := r.Span(x); got != "There are no readings yet to try heater failures on." {
		t.Errorf("%q", got)
	}
}
