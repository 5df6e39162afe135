package main

import (
	"encoding/json"
	"strings"
	"testing"
)

// The alarms of a station that does not run are read from its files and acted on
// there: a zone without readings is switched off for work, which its probe's alarm
// then says.
func TestAlarmsWithoutStation(t *testing.T) {
	path, _, _ := small(t)
	got := do(t, "", "alarms", "--config", path)
	if got.code != 0 || got.out != "All in order.\n" {
		t.Fatalf("a fresh station: %+v", got)
	}
	got = do(t, "", "alarms", "--config", path, "--off", "room", "--json")
	var alarms []struct{ Alarm, State, Key string }
	if err := json.Unmarshal([]byte(got.out), &alarms); err != nil || got.code != 0 {
		t.Fatalf("%v: %+v", err, got)
	}
	out := 0
	for _, a := range alarms {
		if a.State == "out-of-service" {
			out++
		}
	}
	if out == 0 || out != len(alarms) {
		t.Errorf("after --off room the alarms are %+v, want all of them out of service", alarms)
	}
	if got = do(t, "", "alarms", "--config", path); !strings.Contains(got.out, "switched off for work") {
		t.Errorf("a later command does not find it so: %+v", got)
	}
	if got = do(t, "", "alarms", "--config", path, "--on", "room"); got.out != "All in order.\n" {
		t.Errorf("after --on room: %+v", got)
	}
	for _, c := range []struct {
		code int
		args []string
	}{
		{1, []string{"--acknowledge", "no-such-alarm.warning/room"}},
		{1, []string{"--off", "attic"}},
		{1, []string{"--quiet", "probe-silent.critical/room/probe:shelf", "--for", "48h"}},
		{2, []string{"--off", "room", "--on", "room"}},
		{2, []string{"--off", ""}},
		{2, []string{"--on", "room", "--for", "1h"}},
	} {
		if got := do(t, "", append([]string{"alarms", "--config", path}, c.args...)...); got.code != c.code || got.errout == "" || got.out != "" {
			t.Errorf("%v: %+v, want %d and why", c.args, got, c.code)
		}
	}
}
