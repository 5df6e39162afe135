package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const smallConfig = `[station]
name = "egg room"
data = "DATA"
listen = "LISTEN"
every = "200ms"
flush = "1s"
[[probe]]
name = "shelf"
driver = "simulated"
[[zone]]
name = "room"
kind = "room"
probes = ["shelf"]
`

// small is a configuration file of one simulated probe.
func small(t *testing.T) (path, data, listen string) {
	t.Helper()
	dir := t.TempDir()
	data, listen = filepath.Join(dir, "data"), freePort(t)
	return put(t, dir, "ootherm.toml", strings.NewReplacer("DATA", data, "LISTEN", listen).Replace(smallConfig)), data, listen
}

// Three faults of a configuration are three lines, each with its place.
func TestThreeFaultsAreThreeLines(t *testing.T) {
	path := put(t, t.TempDir(), "bad.toml", `[station]
nam = "egg room"
[[probe]]
name = "shelf"
driver = "simulated"
[[zone]]
name = "room"
kind = "rom"
probes = ["shelf"]
set_point = 74
`)
	for _, args := range [][]string{{"check", "--config", path}, {"run", "--config", path}, {"windows", "--config", path}} {
		got := do(t, "", args...)
		if got.code != 2 || got.out != "" {
			t.Errorf("%s ended with %d and said %q on stdout, want 2 and nothing", args[0], got.code, got.out)
		}
		for _, place := range []string{"bad.toml:2:", "bad.toml:8:", "bad.toml:10:"} {
			if strings.Count(got.errout, place) != 1 {
				t.Errorf("%s does not tell of %s once:\n%s", args[0], place, got.errout)
			}
		}
	}
}

func TestAddressBeyondThisMachineIsRefused(t *testing.T) {
	path, _, listen := small(t)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	open := put(t, t.TempDir(), "open.toml", strings.Replace(string(text), listen, "0.0.0.0:8080", 1))
	if got := do(t, "", "run", "--config", open); got.code != 2 || !strings.Contains(got.errout, "passphrase") {
		t.Errorf("ended with %d: %s", got.code, got.errout)
	}
}

const readings = `time,probe,temperature_c,relative_humidity
2026-04-02T19:00:00Z,shelf,23.3,0.5
2026-04-02T19:01:00Z,shelf,warm,0.5
2026-04-02T19:02:00Z,shelf,23.4,0.5
2026-04-02T19:03:00Z,shelf,23.4
`

// A bad row is named and stops a replay; or is counted by its cause.
func TestBadRows(t *testing.T) {
	config, _, _ := small(t)
	file := put(t, t.TempDir(), "readings.csv", readings)
	got := do(t, "", "replay", "--config", config, "--readings", file, "--json")
	if got.code != 1 || got.out != "" || !strings.Contains(got.errout, "readings.csv:3") || !strings.Contains(got.errout, "warm") {
		t.Errorf("ended with %d, stdout %q: %s", got.code, got.out, got.errout)
	}
	got = do(t, "", "replay", "--config", config, "--readings", file, "--json", "--keep-going")
	var result struct {
		Readings struct {
			Accepted int
			Rejected map[string]int
		}
	}
	if err := json.Unmarshal([]byte(got.out), &result); err != nil || got.code != 0 {
		t.Fatalf("ended with %d, %v: %s", got.code, err, got.errout)
	}
	if r := result.Readings; r.Accepted != 2 || r.Rejected["bad-number"] != 1 || r.Rejected["bad-row"] != 1 {
		t.Errorf("counted %+v, want 2 accepted, a bad number and a bad row", r)
	}
}

const twoEntries = `{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-04-02T19:01:00Z","entry":"box","box":"B1","zone":"room"}
`

// A file with two bad entries has both listed, and nothing of it is kept; a good
// one is kept once, however often it is sent.
func TestBookTakesAllOrNothing(t *testing.T) {
	config, _, _ := small(t)
	got := do(t, twoEntries+`{"key":"bad3","at":"yesterday","entry":"dam","dam":"Tansy"}
{"key":"bad1","at":"2026-04-02T19:02:00Z","entry":"box","box":"B2","zone":"attic"}
{"key":"bad2","at":"2026-04-02T19:02:00Z","entry":"hatched","egg":"Z1-1"}
`, "book", "add", "--config", config)
	if got.code != 1 || !strings.Contains(got.errout, "bad1") || !strings.Contains(got.errout, "bad2") || !strings.Contains(got.errout, "bad3") {
		t.Errorf("ended with %d: %s", got.code, got.errout)
	}
	if got := do(t, "", "book", "list", "--config", config); got.code != 0 || got.out != "" {
		t.Errorf("after a refused file the book holds %q (%d: %s)", got.out, got.code, got.errout)
	}
	for _, file := range [][]string{nil, {"-"}} { // standard input, unnamed and named
		if got := do(t, twoEntries, append([]string{"book", "add", "--config", config}, file...)...); got.code != 0 {
			t.Fatalf("ended with %d: %s", got.code, got.errout)
		}
	}
	got = do(t, "", "export", "--config", config)
	if n := strings.Count(got.out, "\n"); n != 2 || !strings.Contains(got.out, `"key":"a1"`) {
		t.Errorf("the book has %d lines, want 2:\n%s", n, got.out)
	}
}

func TestWrongUsage(t *testing.T) {
	if got := do(t, "", "check", "--config", "nowhere.toml"); got.code != 2 || !strings.Contains(got.errout, "nowhere.toml") {
		t.Errorf("a configuration that is not there ends with %d: %s", got.code, got.errout)
	}
	for _, args := range [][]string{{"replay"}, {"hatch"}, {"windows", "--no-such-flag"}, {"windows", "extra", "--config", "x"}, {"book"}, {"help", "nope"}} {
		if got := do(t, "", args...); got.code != 2 || got.errout == "" || got.out != "" {
			t.Errorf("%v ended with %d, stdout %q, stderr %q; want 2 and words on stderr", args, got.code, got.out, got.errout)
		}
	}
	for _, c := range []string{"run", "demo", "replay", "check", "windows", "book", "export", "backup", "restore", "alarms", "score", "probes", "setup", "calibrate", "review", "version"} {
		if got := do(t, "", c, "--help"); got.code != 0 || !strings.Contains(got.out, "Examples:") {
			t.Errorf("%s --help ended with %d and shows no example", c, got.code)
		}
	}
}
