package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// inner are words of the program that no refusal shows to a person.
var inner = regexp.MustCompile(`\b(app|book|forms|web|alert|act|readings|incident): |\bUTC\b|\b[a-z]+_[a-z]+\b|\dZ\b|strconv|/api/`)

// A refusal names flags, in the hours of the station, and nothing of how the program
// calls things.
func TestRefusalsNameFlagsAndTheStationsHours(t *testing.T) {
	config, _, _ := small(t)
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	more := strings.Replace(string(text), "[station]", "[station]\ntime_zone = \"America/New_York\"\nunits = \"fahrenheit\"\nurl = \"http://eggroom.local\"", 1)
	if err := os.WriteFile(config, []byte(more), 0o600); err != nil {
		t.Fatal(err)
	}
	r := &eggRoom{t: t, config: config}
	if got := do(t, `{"key":"d","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Sorrel"}
{"key":"b","at":"2026-04-01T00:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"c","at":"2026-04-02T00:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
{"key":"h","at":"2026-07-02T00:30:00Z","entry":"hatched","egg":"S1-1"}
`, "book", "add", "--config", config); got.code != 0 || got.errout != "noted: 4 new entries\n" {
		t.Fatalf("%+v", got)
	}
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"book", "note", "hatched", "--egg", "S1-1"}, 1, "nothing was noted: --egg: S1-1 hatched already (entry h of 1 July 20:30): check"},
		{[]string{"book", "note", "hatched", "--egg", "S1-2", "--mass-g", "-3"}, 1, "--mass-g: -3 is no mass in grams"},
		{[]string{"book", "note", "hatched", "--egg", "S1-2", "--at", "2026-03-30T08:00"}, 1, "--egg: clutch S1 of egg S1-2 is not in the book on 30 March 08:00"},
		{[]string{"book", "note", "hatched", "--egg", "S1-2", "--at", "2126-03-30T08:00"}, 1, "--at: 30 March 2126 08:00 is still to come; it is "},
		{[]string{"book", "note", "hatchling", "--hatchling", "S1-2", "--what", "fed"}, 1, "--hatchling: S1-2 has not hatched on "},
		{[]string{"book", "note", "dam", "--name", "Sorrel", "--profile", "crested gecko"}, 1, "--name: Sorrel is in the book already (entry d of 31 March 20:00)"},
		{[]string{"book", "note", "box", "--box", "B2", "--zone", "attic"}, 1, `--zone: the configuration has no zone "attic"; it has room`},
		{[]string{"book", "note", "box", "--box", "B2", "--dry-g", "0"}, 1, "--dry-g: 0 is no mass"},
		{[]string{"book", "note", "box", "--box", "B2", "--offset", "99"}, 2, `"99" is more than a box may differ`},
		{[]string{"book", "note", "found", "--box", "B1", "--clutch", "S1", "--since", "24h", "--sure"}, 1, "--clutch: S1 is in the book already"},
		{[]string{"book", "note", "note", "--key", strings.Repeat("k", 201), "--text", "x"}, 1, "--key: is longer than 200 letters"},
		{[]string{"book", "undo", "c"}, 1, "nothing was noted: c cannot be undone while h depends on it: undo that first"},
		{[]string{"book", "medium", "--box", "B9"}, 1, `ootherm: no box "B9" is in use; in use: B1`},
		{[]string{"book", "medium", "--dry", "abc"}, 2, `ootherm: --dry: "abc" is no number`},
		{[]string{"labels", "--out", t.TempDir(), "--box", "B9"}, 1, `ootherm: no box "B9" is in use`},
		{[]string{"review", "--from", "x"}, 2, `ootherm: --from: "x" is no day; write it like 2026-03-01`},
		{[]string{"review", "--dam", "Nobody"}, 1, `ootherm: no clutch of "Nobody"`},
		{[]string{"incident", "--to", "x"}, 2, `ootherm: --to: "x" is no time; write it like `},
		{[]string{"incident", "--from", "2020-01-01"}, 1, "ootherm: the span is longer than 31 days"},
		{[]string{"export", "--probe", "attic"}, 1, `ootherm: no probe is called "attic"; there are shelf`},
		{[]string{"alarms", "--quiet", "x"}, 1, `ootherm: there is no alarm "x": "x" is no alarm key`},
		{[]string{"alarms", "--quiet", "x", "--for", "soon"}, 2, `ootherm: --for: "soon" is no length of time; write it like 10m or 1h30m`},
		{[]string{"check", "x.toml"}, 2, `ootherm: check takes no argument, and got "x.toml"; name the configuration with --config x.toml`},
		{[]string{"replay", "x.csv"}, 2, `ootherm: replay takes no argument, and got "x.csv"; name the recording with --readings x.csv`},
		{[]string{"windows", "x"}, 2, `ootherm: windows takes no argument, and got "x"; see ootherm windows --help`},
		{[]string{"windows", "--dam", "Sorrel"}, 2, "ootherm: unknown flag: --dam; see ootherm windows --help"},
		{[]string{"token", "make"}, 2, "ootherm: token make needs the name of a token"},
		{[]string{"calibrate", "attic"}, 2, `ootherm: the configuration has no probe "attic"`},
	} {
		got := do(t, "", append(c.args, "--config", r.config)...)
		if got.code != c.code || got.out != "" || !strings.Contains(got.errout, c.want) || inner.MatchString(strings.Replace(got.errout, "2026-06-01T08:00:00Z", "", 1)) {
			t.Errorf("%v: %+v, want %d, %q and not %q", c.args, got, c.code, c.want, inner.FindString(got.errout))
		}
	}
}

// What came in of a file is counted: all, some, or nothing new.
func TestAFileAddedTwiceSaysNothingNew(t *testing.T) {
	config, _, _ := small(t)
	const third = `{"key":"a3","at":"2026-04-02T19:02:00Z","entry":"note","text":"x"}` + "\n"
	for _, c := range []struct{ lines, want string }{
		{"\n", "nothing new: there is no entry in it\n"},
		{twoEntries, "noted: 2 new entries\n"},
		{twoEntries, "nothing new: all 2 entries were in the book already\n"},
		{twoEntries + third + third, "noted: 1 new entry; 3 more were in the book already\n"},
	} {
		if got := do(t, c.lines, "book", "add", "--config", config); got.code != 0 || got.errout != c.want {
			t.Errorf("%q: %+v, want %q", c.lines, got, c.want)
		}
	}
	got := do(t, `{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Tansy"}`+"\n"+`{"key":"z","at":"2026-04-02T19:00:00Z","entry":"box","box":"B9","zone":"attic"}`+"\n", "book", "add", "--config", config)
	if want := "ootherm: standard input: nothing was noted:\nline 1, entry a1: key: is there already with other content (a dam entry of 2 April 19:00): give a new entry a new key\nline 2, entry z: zone: the configuration has no zone \"attic\"; it has room\n"; got.code != 1 || got.errout != want {
		t.Errorf("%+v, want %q", got, want)
	}
}
