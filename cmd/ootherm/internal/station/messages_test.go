package station_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// A room that jumps past both of its limits at once makes one message, which knows the probe
// and the order of both alarms.
func TestBothLimitsAtOnceAreOneMessage(t *testing.T) {
	p := silent(t)
	p.Zones[0].Apart = 3 // K, the default
	b := newBench(t, p)
	b.note(season)
	for at := began; at.Before(began.Add(15 * time.Minute)); at = at.Add(time.Minute) {
		b.observe(at, map[string]float64{"air": 28, "dummy": 28.2, "warm": 27})
	}
	var got []alert.Message
	for _, m := range b.waiting() {
		if strings.HasPrefix(m.Alarm, "temperature-high.") {
			got = append(got, m)
		}
	}
	if len(got) != 1 || got[0].Alarm != "temperature-high.critical/room" || got[0].Subject != "▲ CRITICAL ROOM too warm: 82.4 °F (limit 80.1)" {
		t.Fatalf("messages %+v, want one of the safe limit, which stands for the other", got)
	}
	for _, part := range []string{"\nBy probe air. Second probe (dummy): 82.4 °F (agrees).\n", "\nNext message in 1 h if it lasts.\n"} {
		if !strings.Contains(got[0].Body, part) {
			t.Errorf("it lacks %q:\n%s", part, got[0].Body)
		}
	}
}
