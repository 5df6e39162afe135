package check_test

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/check"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// room is a configuration with one probe, one zone and one sender, in which nothing is
// questioned. Its parts can be replaced.
type room struct{ station, probe, zone, senders string }

func (r room) written(t *testing.T) string {
	t.Helper()
	or := func(s, otherwise string) string {
		if s == "" {
			return otherwise
		}
		return s
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "ootherm.toml")
	text := "[station]\ndata = \"" + filepath.Join(dir, "data") + "\"\n" + r.station + "\n[[probe]]\nname = \"air\"\ndriver = \"simulated\"\n" + r.probe +
		"\n[[zone]]\nname = \"room\"\nprobes = [\"air\"]\n" + or(r.zone, "wanted = { low = \"21C\", high = \"25C\" }\nsafe = { low = \"18C\", high = \"28C\" }") + "\n" +
		or(r.senders, "[[sender]]\nname = \"push\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/x\"\n")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// said gives what check writes of a configuration, and its error.
func said(t *testing.T, path string) (string, error) {
	t.Helper()
	var out bytes.Buffer
	if err := check.Configuration(&out, path); err != nil {
		return out.String(), err
	}
	err := check.Reach(t.Context(), &out, path)
	return out.String(), err
}

// Each setting by which a station can be silent is refused, ends check with an error, or is
// questioned with its key, its value, what it means at night, and what to write instead.
func TestSettingsThatSilence(t *testing.T) {
	const safe = "safe = { low = \"18C\", high = \"28C\" }\n"
	const wanted = "wanted = { low = \"21C\", high = \"25C\" }\n"
	nobody := filepath.Join(t.TempDir(), "missing")
	empty := filepath.Join(t.TempDir(), "empty")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	mail := func(file string) string {
		return "[[sender]]\nname = \"mail\"\nkind = \"email\"\nhost = \"127.0.0.1\"\ntls = \"none\"\nto = [\"keeper@example.org\"]\nuser = \"keeper\"\npassword_file = \"" + file + "\"\n"
	}
	hook := func(name, more string) string {
		return "[[sender]]\nname = \"" + name + "\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/x\"\n" + more + "\n"
	}
	closed := httptest.NewServer(http.NotFoundHandler())
	closed.Close()
	const (
		refused    = "refused"
		questioned = "questioned"
		failed     = "ends with 1"
	)
	for _, c := range []struct {
		way, outcome string
		room         room
		want         []string
	}{
		{"safe waits for ten days", questioned, room{zone: wanted + `safe = { low = "18C", high = "28C", on_delay = "10d" }`}, []string{"zone room: safe has on_delay = 10 d", "at night", `Write on_delay = "10m"`}},
		{"safe waits at some hours", questioned, room{zone: "safe = [{ from = \"22:00\", to = \"06:00\", low = \"18C\", high = \"28C\", on_delay = \"2h\" }, { low = \"18C\", high = \"28C\" }]"}, []string{"zone room: safe has on_delay = 2 h"}},
		{"wanted waits for a day", questioned, room{zone: safe + `wanted = { low = "21C", high = "25C", on_delay = "1d" }`}, []string{"zone room: wanted has on_delay = 1 d"}},
		{"humidity waits for days", questioned, room{zone: wanted + safe + `humidity = { low = "50%", on_delay = "3d" }`}, []string{"zone room: humidity has on_delay = 3 d", `Write on_delay = "30m"`}},
		{"a probe may be silent for a month", questioned, room{probe: `silent_after = "30d"`}, []string{"probe air: silent_after is 30 d", `Write silent_after = "10m"`}},
		{"an offset of 8 K", questioned, room{probe: `offset = "8C"`}, []string{"probe air: offset is 8.0 °C", "run ootherm calibrate"}},
		{"an offset of -8 K", questioned, room{probe: `offset = "-8C"`}, []string{"probe air: offset is −8.0 °C"}},
		{"a rate that air never has", questioned, room{zone: wanted + safe + `rate = "500C"`}, []string{"zone room: rate is 500.0 °C per hour", `Write rate = "5C"`}},
		{"a rate that rings all day", questioned, room{zone: wanted + safe + `rate = "0.2C"`}, []string{"zone room: rate is 0.2 °C per hour"}},
		{"wanted without its high end", questioned, room{zone: safe + `wanted = { low = "21C" }`}, []string{"zone room: wanted has no high end (above 21.0 °C)", "a heater that sticks at night", "Add high"}},
		{"safe without its low end", questioned, room{zone: wanted + `safe = { high = "28C" }`}, []string{"zone room: safe has no low end (below 28.0 °C)", "a heater that dies at night", "Add low"}},
		{"wanted without safe", questioned, room{zone: wanted}, []string{"zone room: wanted is there and safe is not", "freeze at night", "Add safe"}},
		{"safe narrower than wanted", refused, room{zone: wanted + `safe = { low = "22C", high = "24C" }`}, []string{"low is below the low of safe"}},
		{"a zone without bands", questioned, room{zone: "kind = \"room\""}, []string{"room has no wanted band, so it warns of nothing"}},
		{"a zone without probes", refused, room{zone: "[[zone]]\nname = \"shelf\"\nprobes = []"}, []string{"nothing would watch the zone"}},
		{"every sender quiet at one hour", questioned, room{senders: hook("push", `quiet = { from = "22:00", to = "07:00" }`) + hook("chat", `quiet = { from = "23:00", to = "08:00" }`)},
			[]string{"quiet: from 23:00 to 07:00 every sender that takes warnings at once is quiet", "A critical message is sent."}},
		{"quiet for most of a day", questioned, room{senders: hook("push", `quiet = { from = "00:00", to = "23:59" }`)}, []string{"sender push: quiet is from 00:00 to 23:59", `Write quiet = { from = "22:00", to = "07:00" }`}},
		{"a neighbour who hears after ten days", questioned, room{senders: hook("push", "") + hook("neighbour", `after = "10d"`)}, []string{"sender neighbour: ", `Write after = "15m"`}},
		{"no sender", failed, room{senders: "[copy]"}, []string{"there is no sender"}},
		{"no sender takes critical alarms", failed, room{senders: hook("push", `priorities = ["warning"]`)}, []string{`push leaves it out (priorities = ["warning"])`}},
		{"the only password cannot be read", failed, room{senders: mail(nobody)}, []string{"Repair: sender mail cannot use its password_file " + nobody + ": no such file or directory, so it sends nothing, by day or night"}},
		{"the password of a second sender cannot be read", questioned, room{senders: hook("push", "") + mail(nobody)}, []string{"Repair: sender mail cannot use its password_file"}},
		{"a password file that is empty", questioned, room{senders: hook("push", "") + mail(empty)}, []string{"password_file " + empty + ": it is empty"}},
		{"a secret file that is missing", questioned, room{senders: hook("push", "") + hook("chat", `secret_file = "`+nobody+`"`)}, []string{"Repair: sender chat cannot use its secret_file"}},
		{"no heartbeat", questioned, room{}, []string{"there is no heartbeat, so a station that is dead goes unnoticed"}},
		{"a dead heartbeat", questioned, room{station: `heartbeat = "` + closed.URL + `/secret-path"`}, []string{"Repair: heartbeat: it does not get out (", "died at night", "Correct the address"}},
	} {
		t.Run(c.way, func(t *testing.T) {
			out, err := said(t, c.room.written(t))
			got := questioned
			if usererr.IsUsage(err) {
				got = refused
			} else if err != nil {
				got = failed
			}
			if err != nil {
				out += "\n" + err.Error()
			}
			if got != c.outcome {
				t.Errorf("it is %s, want %s:\n%s", got, c.outcome, out)
			}
			for _, want := range c.want {
				if !strings.Contains(out, want) {
					t.Errorf("it lacks %q:\n%s", want, out)
				}
			}
			if got == failed && !strings.Contains(out, "nobody would be told of a critical alarm: ") {
				t.Errorf("it does not say that nobody would be told:\n%s", out)
			}
			if strings.Contains(out, "secret-path") {
				t.Errorf("it shows the address of the heartbeat:\n%s", out)
			}
		})
	}
}

// A configuration with both bands, usual delays, a sender and a heartbeat that answers has
// nothing to question.
func TestNothingToQuestion(t *testing.T) {
	calls := 0
	watcher := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { calls++ }))
	defer watcher.Close()
	out, err := said(t, room{station: `heartbeat = "` + watcher.URL + `/x"`}.written(t))
	if err != nil || calls != 1 || !strings.Contains(out, "The heartbeat was called, and its watcher answered.") || strings.Contains(out, "Repair: ") {
		t.Errorf("%v, %d calls:\n%s", err, calls, out)
	}
	for line := range strings.Lines(out) {
		if strings.HasPrefix(line, "Consider: ") && !strings.Contains(line, "nobody else hears") {
			t.Errorf("it questions: %s", line)
		}
	}
}
