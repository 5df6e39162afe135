package main

import (
	"encoding/json"
	"slices"
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

// A shell is offered the keys of the alarms there are, and the zones.
func TestAlarmsAreCompleted(t *testing.T) {
	path, data, listen := small(t)
	const late = `{"key":"b","at":"2026-01-01T00:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"c","at":"2026-01-02T00:00:00Z","entry":"clutch","clutch":"S1","profile":"crested gecko","eggs":1,"laid_after":"2026-01-01T00:00:00Z","laid_by":"2026-01-02T00:00:00Z"}
{"key":"p","at":"2026-01-02T00:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`
	if got := do(t, late, "book", "add", "--config", path); got.code != 0 {
		t.Fatalf("%+v", got)
	}
	r := &eggRoom{t: t, config: path, data: data, listen: listen}
	r.start()
	offered := func(flag, begun string) []string {
		got := do(t, "", "__complete", "alarms", "--config", path, flag, begun)
		if got.code != 0 {
			t.Errorf("%s: %+v", flag, got)
		}
		return slices.DeleteFunc(strings.Split(strings.TrimSpace(got.out), "\n"), func(s string) bool { return s == "" || s[0] == ':' })
	}
	eventually(t, "an alarm of a clutch that is late is offered", func() bool { return len(offered("--acknowledge", "late")) == 1 })
	key := offered("--acknowledge", "late")[0]
	if want := "late.notice/box:B1/clutch:S1\tlate"; !strings.HasPrefix(key, want) {
		t.Errorf("offered is %q, want %q", key, want)
	}
	for _, c := range []struct {
		flag, begun string
		want        []string
	}{
		{"--quiet", "late", []string{key}}, {"--acknowledge", "none", nil}, {"--quiet", "none", nil},
		{"--on", "", []string{"room"}}, {"--off", "ro", []string{"room"}}, {"--on", "attic", nil},
	} {
		if got := offered(c.flag, c.begun); !slices.Equal(got, c.want) {
			t.Errorf("%s %q: offered is %q, want %q", c.flag, c.begun, got, c.want)
		}
	}
	// The whole of a key that was offered is taken.
	if got := do(t, "", "alarms", "--config", path, "--acknowledge", strings.Split(key, "\t")[0]); got.code != 0 || !strings.Contains(got.out, "seen") {
		t.Errorf("%+v", got)
	}
}

// A word after alarms is answered with the flag, and status with the commands that show it.
func TestWordsInTheWrongPlace(t *testing.T) {
	for _, c := range []struct{ args, want []string }{
		{[]string{"alarms", "ack"}, []string{"alarms takes no word such as ack; to acknowledge one: ootherm alarms --acknowledge KEY"}},
		{[]string{"status"}, []string{"unknown command", "alarms", "windows"}},
	} {
		got := do(t, "", c.args...)
		for _, want := range c.want {
			if got.code != exitUsage || !strings.Contains(got.errout, want) {
				t.Errorf("%v: %+v, want %q", c.args, got, want)
			}
		}
	}
}
