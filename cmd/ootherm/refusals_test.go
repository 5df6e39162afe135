package main

import (
	"encoding/json"
	"os"
	"os/signal"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// What would pass in silence, or do nothing, is refused with what to do instead.
func TestRefusedWithWhatToDo(t *testing.T) {
	config, data, _ := small(t)
	dir := t.TempDir()
	empty := put(t, dir, "empty.toml", "[station]\ndata = \""+filepath.Join(dir, "nobody")+"\"\n")
	readings := put(t, dir, "r.csv", "time,probe,temperature_c\n2026-04-02T19:00:00Z,shelf,23\n2026-04-02T19:01:00Z,shelf,23\n2026-04-02T19:02:00Z,shelf,23\n")
	short := put(t, data, "calendar-secret", "guess\n")
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"check", "--config", empty}, "nothing to watch"},
		{[]string{"run", "--config", empty}, "nothing to watch"},
		{[]string{"export", "--config", config, "--from", "2026-04-02T19:00:00Z"}, "--probe"},
		{[]string{"export", "--config", config, "--csv", "--to", "2026-04-02T19:00:00Z"}, "--probe"},
		{[]string{"replay", "--config", config, "--readings", readings, "--until", "2026-04-02T18:59:59Z"}, "begins, at 2026-04-02T19:00:00Z"},
		{[]string{"run", "--config", config}, "delete the file"},
		{[]string{"book", "list", "--config", config}, "delete the file"},
		{[]string{"check", "--config", put(t, dir, "known.toml", "[station]\nname = \"x\"\n[[sender]]\nname = \"m\"\nkind = \"mqtt\"\nurl = \"mqtt://h\"\nzzzzzzzz = 1\n")},
			"known are after, all_well, ca_file, discovery, kind, most_an_hour, name, password_file, priorities, quiet, state, topic, url, user"},
	} {
		if got := do(t, "", c.args...); got.code != 2 || !strings.Contains(got.errout, c.says) || got.out != "" {
			t.Errorf("%v: %+v, want 2 and %q", c.args, got, c.says)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "nobody")); err == nil {
		t.Error("a station with nothing to watch made its folder")
	}
	if text := string(must(t, short)); text != "guess\n" {
		t.Errorf("the secret that was refused was changed to %q", text)
	}
}

// A book that goes on after the readings is replayed to its end, and that is said; up
// to the readings' end it is not.
func TestReplayTellsOfEntriesAfterTheReadings(t *testing.T) {
	config, _, _ := small(t)
	dir := t.TempDir()
	readings := put(t, dir, "r.csv", "time,probe,temperature_c\n2026-04-02T19:00:00Z,shelf,23\n2026-04-02T19:01:00Z,shelf,23\n2026-04-02T19:02:00Z,shelf,23\n")
	book := put(t, dir, "book.jsonl", `{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"note","text":"begun"}
{"key":"a2","at":"2026-04-02T20:00:00Z","entry":"note","text":"later"}
`)
	for until, want := range map[string]struct{ at, says string }{
		"":                     {"2026-04-02T20:00:00Z", "1 entry of the book after the last reading, of 2026-04-02T19:02:00Z"},
		"2026-04-02T19:02:00Z": {"2026-04-02T19:02:00Z", ""},
	} {
		args := []string{"replay", "--config", config, "--readings", readings, "--book", book, "--json"}
		if until != "" {
			args = append(args, "--until", until)
		}
		got := do(t, "", args...)
		var result struct{ Now struct{ At string } }
		if err := json.Unmarshal([]byte(got.out), &result); err != nil || got.code != 0 {
			t.Fatalf("%v: %+v", err, got)
		}
		if result.Now.At != want.at || !strings.HasPrefix(got.errout, want.says) || want.says == "" && got.errout != "" {
			t.Errorf("until %q it is %s and says %q, want %+v", until, result.Now.At, got.errout, want)
		}
	}
}

// What the files take on the card is both of them.
func TestStorageIsBothFiles(t *testing.T) {
	config, data, listen := small(t)
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	// A signal that is caught here has its default in the station, also where the tests
	// themselves run under nohup.
	hangup := make(chan os.Signal, 1)
	signal.Notify(hangup, syscall.SIGHUP)
	r.start()
	signal.Stop(hangup)
	line := regexp.MustCompile(`(?m)^ootherm_storage_bytes (\S+)$`) // without labels
	eventually(t, "the metric is what the two files have", func() bool {
		sum := int64(0)
		for _, name := range []string{"readings.db", "records.db"} {
			info, err := os.Stat(filepath.Join(data, name))
			if err != nil {
				t.Fatal(err)
			}
			sum += info.Size()
		}
		found := line.FindSubmatch(r.get("/metrics"))
		if found == nil {
			return false
		}
		got, err := strconv.ParseFloat(string(found[1]), 64)
		return err == nil && got == float64(sum)
	})
	if code := r.end(syscall.SIGHUP); code != 0 {
		t.Errorf("after its terminal is gone it ended with %d", code)
	}
}

// A command makes no data folder beside one that was moved, whether its station runs or not.
func TestNoNewFolderBesideAMovedOne(t *testing.T) {
	config, data, listen := small(t)
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	if err := os.Rename(data, data+".old"); err != nil {
		t.Fatal(err)
	}
	refused := func(says string) {
		t.Helper()
		for _, args := range [][]string{{"book", "add"}, {"windows"}, {"alarms"}} {
			if got := do(t, twoEntries, append(args, "--config", config)...); got.code != 1 || !strings.Contains(got.errout, says) || got.out != "" {
				t.Errorf("%v: %+v, want a refusal with %q", args, got, says)
			}
		}
		if _, err := os.Stat(data); !os.IsNotExist(err) {
			t.Errorf("there is a new folder: %v", err)
		}
	}
	refused("a station runs (process " + strconv.Itoa(r.process.Process.Pid) + ")")
	r.end(syscall.SIGTERM)
	refused("mv " + data + ".old " + data)
	if err := os.Rename(data+".old", data); err != nil {
		t.Fatal(err)
	}
	if got := do(t, twoEntries, "book", "add", "--config", config); got.code != 0 {
		t.Errorf("with the folder in its place again: %+v", got)
	}
	if err := os.Rename(data, data+".old"); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(data, 0o750); err != nil {
		t.Fatal(err)
	}
	if got := do(t, twoEntries, "book", "add", "--config", config); got.code != 0 {
		t.Errorf("with an empty folder in its place: %+v", got)
	}
}

// A data folder that is moved under the running station is a critical alarm.
func TestMovedDataFolderIsAnAlarm(t *testing.T) {
	r := newEggRoom(t)
	r.start()
	eventually(t, "readings are flushed", func() bool { return r.now().Health.Flushed != nil })
	aside := r.data + "-aside"
	if err := os.Rename(r.data, aside); err != nil {
		t.Fatal(err)
	}
	active := func() bool {
		a, ok := find(r.now().Alarms, "storage-failing.critical")
		return ok && a.State == "active"
	}
	eventually(t, "the alarm is raised", active)
	if !strings.Contains(r.said(), "was moved, removed or covered") {
		t.Errorf("it does not say why:\n%s", r.said())
	}
	if err := os.Rename(aside, r.data); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the alarm ends", func() bool { return !active() })
	if code := r.end(syscall.SIGTERM); code != 0 {
		t.Errorf("it ended with %d", code)
	}
}
