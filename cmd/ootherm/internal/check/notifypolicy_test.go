package check_test

import (
	"bytes"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/check"
)

// Where no sender gets a critical alarm at once, check says so, why, and what to do. For
// each priority it says which senders get it and when.
func TestNotifyPolicy(t *testing.T) {
	sender := func(name, more string) string {
		return "[[sender]]\nname = \"" + name + "\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/" + name + "\"\n" + more + "\n"
	}
	const nobody = "Repair: no sender takes a critical alarm at once"
	for name, c := range map[string]struct {
		senders string
		want    []string
		not     []string
	}{
		"one that takes all": {sender("mail", ""),
			[]string{"is in order.", "A critical alarm (go now): mail at once, day and night.", "A warning (look today): mail at once, day and night.", "A notice (no hurry): mail at once, day and night."},
			[]string{"Repair:"}},
		"the only one waits": {sender("mail", `after = "15m"`),
			[]string{nobody, `mail waits (after = "15m")`, "without after", "A critical alarm (go now): mail after 15 min, unless it has been seen by then.", "A warning (look today): nobody."},
			[]string{"is in order"}},
		"the only one takes notices": {sender("push", `priorities = ["notice"]`),
			[]string{nobody, `push leaves it out (priorities = ["notice"])`, `with "critical" among its priorities`, "A critical alarm (go now): nobody.", "A notice (no hurry): push at once"},
			[]string{"is in order"}},
		"all leave it out": {sender("push", `priorities = ["notice"]`) + sender("mail", `priorities = ["warning", "notice"]`),
			[]string{nobody, "push leaves it out", `mail leaves it out (priorities = ["warning", "notice"])`},
			[]string{"is in order"}},
		"one waits, the other leaves it out": {sender("mail", `after = "1h"`) + sender("push", `priorities = ["warning"]`),
			[]string{nobody, `mail waits (after = "1h")`, "push leaves it out"},
			[]string{"is in order"}},
		"one takes nothing at all": {sender("mail", "") + sender("neighbour", "after = \"15m\"\npriorities = [\"warning\"]"),
			[]string{`Repair: neighbour gets nothing`, `after = "15m"`, "nobody else hears"},
			[]string{"is in order", nobody}},
		"quiet at night": {sender("mail", `quiet = { from = "22:00", to = "07:00" }`),
			[]string{"is in order.", "A critical alarm (go now): mail at once, day and night.", "A warning (look today): mail at once, from 22:00 to 07:00 at 07:00."},
			[]string{"Repair:"}},
		"nobody hears a warning": {sender("mail", `priorities = ["critical"]`),
			[]string{"is in order.", "A warning (look today): nobody.", "Consider: nobody is told of a warning"},
			[]string{"Repair:"}},
		"a bell beside the Pi alone": {"[[sender]]\nname = \"bell\"\nkind = \"buzzer\"\noutput = \"GPIO17\"\n" + sender("mail", `after = "15m"`),
			[]string{"is in order.", "Consider: bell sounds beside the station alone"},
			[]string{"Repair:"}},
		"none at all": {"", []string{"is in order.", "there is no sender"}, []string{"Repair:", "A critical alarm"}},
	} {
		t.Run(name, func(t *testing.T) {
			var said bytes.Buffer
			if err := check.Configuration(&said, benchtest.Written(t, c.senders)); err != nil {
				t.Fatal(err)
			}
			for _, want := range c.want {
				if !strings.Contains(said.String(), want) {
					t.Errorf("it lacks %q:\n%s", want, said.String())
				}
			}
			for _, not := range c.not {
				if strings.Contains(said.String(), not) {
					t.Errorf("it says %q:\n%s", not, said.String())
				}
			}
		})
	}
}

// The command that tries a sender names the file that was checked.
func TestCheckNamesItsFile(t *testing.T) {
	var said bytes.Buffer
	path := benchtest.Written(t, "[[sender]]\nname = \"mail\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/x\"\n")
	if err := check.Configuration(&said, path); err != nil {
		t.Fatal(err)
	}
	if want := "Try it: ootherm check --config " + path + " --send \"mail\"\n"; !strings.Contains(said.String(), want) {
		t.Errorf("it lacks %q:\n%s", want, said.String())
	}
}

// Check says how long a critical alarm can wait behind a sender's limit an hour.
func TestCheckExplainsTheHourlyLimit(t *testing.T) {
	var said bytes.Buffer
	path := benchtest.Written(t, "[[sender]]\nname = \"mail\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/x\"\nmost_an_hour = 1\n")
	if err := check.Configuration(&said, path); err != nil {
		t.Fatal(err)
	}
	if want := "mail gets at most 1 message an hour, and then one that holds the rest; a critical alarm never waits for that longer than 10 min."; !strings.Contains(said.String(), want) {
		t.Errorf("it lacks %q:\n%s", want, said.String())
	}
}
