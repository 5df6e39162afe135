package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/manual"
)

// walkthrough is a shell in which the commands of a topic run as they are printed. What
// belongs to a whole system (services, users) does nothing.
type walkthrough struct {
	t       *testing.T
	config  string            // the station's configuration
	replace *strings.Replacer // of paths and names in the topic
}

const walkShell = `set -euo pipefail
ootherm() { ` + asMain + `=1 "$PROGRAM" "$@"; }
sudo() { "$@"; }
systemctl() { :; }
chown() { :; }
`

// run runs commands and returns what they print.
func (w walkthrough) run(stdin, commands string) string {
	w.t.Helper()
	c := exec.CommandContext(w.t.Context(), "bash", "-c", walkShell+w.replace.Replace(commands))
	c.Env = append(os.Environ(), "PROGRAM="+os.Args[0], "OOTHERM_CONFIG="+w.config)
	c.Stdin = strings.NewReader(stdin)
	out, err := c.CombinedOutput()
	if err != nil {
		w.t.Fatalf("%v\n%s\n%s", err, commands, out)
	}
	return string(out)
}

// commandsUnder returns the code of the first block after a heading of a topic.
func commandsUnder(t *testing.T, name, heading string) string {
	t.Helper()
	return commandsAfter(t, name, "# "+heading+"\n")
}

// commandsAfter returns the code of the first block after a piece of text of a topic.
func commandsAfter(t *testing.T, name, text string) string {
	t.Helper()
	topic, ok := manual.Find(name)
	if !ok {
		t.Fatalf("no topic %s", name)
	}
	_, after, ok := strings.Cut(topic.Markdown(), text)
	m := fences.FindStringSubmatch(after)
	if !ok || m == nil {
		t.Fatalf("%s has no commands after %q", name, text)
	}
	return m[2]
}

// A clutch of a dam without a kind gets its window by the commands of the topic.
func TestWalkNoWindow(t *testing.T) {
	config, _, _ := small(t)
	// The days of the topic are moved to the last weeks: a late clutch gets no
	// window.
	day := func(ago int) string { return time.Now().AddDate(0, 0, -ago).Format(time.DateOnly) }
	w := walkthrough{t, config, strings.NewReplacer("2026-06-01", day(20), "2026-06-12", day(9))}
	w.run("", `echo '{"key":"dam","at":"2026-06-01T08:00:00Z","entry":"dam","dam":"Olive"}' | ootherm book add
ootherm book note box --box B1 --zone room --at 2026-06-01T08:00
ootherm book note found --dam Olive --eggs 2 --box B1 --at 2026-06-12T08:30 --since 72h --key clutch`)
	if got := w.run("", "ootherm windows"); !strings.Contains(got, "no window") {
		t.Fatalf("a dam without a kind has a window: %s", got)
	}
	w.run("", commandsUnder(t, "no-window", "A dam without a kind"))
	if got := w.run("", "ootherm windows"); strings.Contains(got, "no window") || !strings.Contains(got, "hatch window ") {
		t.Errorf("no window after the walk: %s", got)
	}
}

// On a new card the book comes back from a backup, and from the weekly copy.
func TestWalkCardDied(t *testing.T) {
	config, data, _ := small(t)
	stick := t.TempDir()
	w := walkthrough{t, config, strings.NewReplacer("/media/stick", stick, "/var/lib/ootherm", data)}
	w.run("", `ootherm book note dam --name Sorrel --profile "crested gecko" --at 2026-06-01T08:00
ootherm book note box --box B1 --zone room --at 2026-06-01T08:00
ootherm book note found --dam Sorrel --eggs 2 --box B1 --at 2026-06-02T08:30 --since 72h
ootherm backup /media/stick/records-2026-06-01.db
ootherm export >/media/stick/egg-room-book-2026-06-07.jsonl`)
	const list = "ootherm book list | sed 's/,\"recorded\".*//'"
	before := w.run("", list)
	if strings.Count(before, "\n") != 5 {
		t.Fatalf("the book has\n%s", before)
	}
	if err := os.CopyFS(filepath.Join(stick, "card", data), os.DirFS(data)); err != nil {
		t.Fatal(err)
	}
	w.replace = strings.NewReplacer("/media/stick", stick, "/media/old-card", filepath.Join(stick, "card"))
	for _, way := range []string{"A backup:", "The weekly copy of the book.", "The old card, in a reader."} {
		if err := os.RemoveAll(data); err != nil {
			t.Fatal(err)
		}
		w.run("", commandsAfter(t, "card-died", way))
		if after := w.run("", list); after != before {
			t.Errorf("%s: the book has\n%s\nwant\n%s", way, after, before)
		}
	}
}

// A station moves to a new Pi with its readings, its book and its configuration.
func TestWalkNewPi(t *testing.T) {
	config, data, _ := small(t)
	stick := t.TempDir()
	w := walkthrough{t, config, strings.NewReplacer()}
	w.run("", `ootherm book note dam --name Sorrel --profile "crested gecko" --at 2026-06-01T08:00`)
	before := w.run("", "ootherm book list")
	root := filepath.Join(stick, "root")
	if err := os.CopyFS(filepath.Join(root, "var/lib/ootherm"), os.DirFS(data)); err != nil {
		t.Fatal(err)
	}
	put(t, root, "etc/ootherm/ootherm.toml", string(must(t, config)))
	put(t, root, "etc/ootherm/mail.password", "four warm eggs")
	etc := filepath.Dir(config)
	old := filepath.Join(stick, "old-station")
	w.replace = strings.NewReplacer("-C / ", "-C "+root+" ", "/media/stick", stick, " old-station/etc/ootherm", " "+old+"/etc/ootherm",
		" old-station", " "+old, "/etc/ootherm/ootherm.toml", config, "/etc/ootherm/", etc+"/")
	w.run("", commandsAfter(t, "new-pi", "2. Copy two folders"))
	if err := os.RemoveAll(data); err != nil {
		t.Fatal(err)
	}
	w.run("", commandsAfter(t, "new-pi", "4. Unpack beside"))
	if after := w.run("", "ootherm book list"); after != before {
		t.Errorf("the book has\n%s\nwant\n%s", after, before)
	}
	if got := string(must(t, filepath.Join(etc, "mail.password"))); got != "four warm eggs" {
		t.Errorf("the password is %q", got)
	}
}

// A forgotten passphrase gives way to another.
func TestWalkForgottenPassphrase(t *testing.T) {
	config, data, _ := small(t)
	w := walkthrough{t, config, strings.NewReplacer()}
	commands := commandsUnder(t, "forgotten-passphrase", "The passphrase is forgotten")
	kept := make([]string, 0, 2)
	for _, text := range []string{"four warm brown eggs", "another four warm eggs"} {
		w.run(text+"\n", commands)
		hash, err := os.ReadFile(filepath.Join(data, "passphrase"))
		if err != nil {
			t.Fatal(err)
		}
		kept = append(kept, string(hash))
	}
	if kept[0] == kept[1] {
		t.Error("the passphrase stayed")
	}
}

// Before an upgrade a backup is made as the topic says.
func TestWalkUpgrade(t *testing.T) {
	config, _, _ := small(t)
	stick := t.TempDir()
	w := walkthrough{t, config, strings.NewReplacer("/media/stick", stick)}
	w.run("", commandsUnder(t, "upgrade", "Upgrade"))
	if _, err := os.Stat(filepath.Join(stick, "records-2026-06-01.db")); err != nil {
		t.Error(err)
	}
}
