//go:build tools

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// formsBook has what forms.mjs notes about: eggs, hatchlings and boxes enough for
// each of its tries to have one of its own.
func formsBook() string {
	var b strings.Builder
	n := 0
	line := func(day, rest string) {
		n++
		fmt.Fprintf(&b, `{"key":"k%d","at":"2026-%sT12:00:00Z",%s}`+"\n", n, day, rest)
	}
	line("02-01", `"entry":"dam","dam":"Sorrel","profile":"crested gecko"`)
	line("02-01", `"entry":"dam","dam":"Tansy","profile":"crested gecko"`)
	for _, name := range []string{"Old 1", "Old 2"} { // one for each of two tries to retire her
		line("02-01", fmt.Sprintf(`"entry":"dam","dam":%q,"profile":"crested gecko"`, name))
	}
	for _, id := range []string{"B1", "B2", "B3"} {
		line("02-01", fmt.Sprintf(`"entry":"box","box":%q,"zone":"room","dry_g":40,"water_g":40,"total_g":112`, id))
	}
	for i := range 10 {
		line("02-01", fmt.Sprintf(`"entry":"box","box":"F%d","zone":"room"`, i+1))
	}
	line("02-02", `"entry":"clutch","clutch":"E1","dam":"Tansy","eggs":14,"laid_after":"2026-02-01T12:00:00Z","laid_by":"2026-02-02T12:00:00Z"`)
	line("02-02", `"entry":"clutch","clutch":"H1","dam":"Tansy","eggs":8,"laid_after":"2026-02-01T12:00:00Z","laid_by":"2026-02-02T12:00:00Z"`)
	line("02-02", `"entry":"clutch","clutch":"P1","dam":"Tansy","eggs":2,"laid_after":"2026-02-01T12:00:00Z","laid_by":"2026-02-02T12:00:00Z"`)
	for i := range 14 {
		line("02-02", fmt.Sprintf(`"entry":"placed","egg":"E1-%d","box":"B3","slot":"%d"`, i+1, i+1))
	}
	for i := range 8 {
		line("05-20", fmt.Sprintf(`"entry":"hatched","egg":"H1-%d"`, i+1))
	}
	fmt.Fprintf(&b, `{"key":"looked","at":%q,"entry":"looked","dam":"Sorrel","found":false}`+"\n", time.Now().Add(-30*time.Hour).UTC().Format(time.RFC3339))
	return b.String()
}

// notebook is a station with that book.
func notebook(t *testing.T) *eggRoom {
	t.Helper()
	config, data, listen := small(t)
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	more := strings.Replace(string(text), "[station]", "[station]\ntime_zone = \"America/New_York\"", 1) +
		"[[probe]]\nname = \"warm\"\ndriver = \"simulated\"\n[[zone]]\nname = \"incubator\"\nkind = \"incubator\"\nprobes = [\"warm\"]\n"
	if err := os.WriteFile(config, []byte(more), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := do(t, formsBook(), "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	return &eggRoom{t: t, config: config, data: data, listen: listen}
}

func (r *eggRoom) browse(args ...string) {
	r.t.Helper()
	r.drive("forms.mjs", args...)
}

// drive runs a program of testdata/browser against the station.
func (r *eggRoom) drive(program string, args ...string) {
	r.t.Helper()
	c := exec.CommandContext(r.t.Context(), "node", append([]string{"../../testdata/browser/" + program, "http://" + r.listen}, args...)...)
	if out, err := c.CombinedOutput(); err != nil {
		r.t.Errorf("the browser found: %v\n%s", err, out)
	}
}

// Every form at a phone's width: two taps store one entry, a lost connection keeps
// what was typed, JavaScript is not needed, every entry can be undone; the time is
// the phone's; another site cannot write.
func TestFormsInABrowser(t *testing.T) {
	t.Parallel() // a browser mostly waits
	r := notebook(t)
	r.start()
	r.browse()
}

// An open page follows the station in place, stays when the station is away, and keeps what is
// noted meanwhile. A reader chooses Celsius without JavaScript.
func TestLivePagesInABrowser(t *testing.T) {
	t.Parallel() // a browser mostly waits
	r := notebook(t)
	r.start()
	r.drive("live.mjs")
}

// The passphrase leads back to where one was, with what was typed.
func TestPassphraseInABrowser(t *testing.T) {
	t.Parallel() // a browser mostly waits
	const words = "four warm eggs here"
	r := notebook(t)
	if got := do(t, words+"\n", "passphrase", "--config", r.config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	r.start()
	r.browse("--passphrase", words)
}

// Every page while the room cools and an alarm is active. Prometheus's own tool
// reads the metrics of the same moment.
func TestPagesInABrowser(t *testing.T) {
	t.Parallel() // a browser mostly waits
	r := newEggRoom(t)
	r.past()
	r.air(21.9)
	r.start()
	if got := do(t, bookOf(time.Now()), "book", "add", "--config", r.config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	eventually(t, "the alarm is active", func() bool { _, ok := r.active(); return ok })
	look(t, r.listen)
	lint(t, r.get("/metrics"))
}

// look looks at the page with a browser, on a phone and on a desk.
func look(t *testing.T, listen string) {
	t.Helper()
	c := exec.CommandContext(t.Context(), "node", "../../testdata/browser/check.mjs", "http://"+listen)
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("the browser found: %v\n%s", err, out)
	}
}

// lint has Prometheus's own tool read the scrape. Celsius days are no base unit,
// on purpose; that is all it may find.
func lint(t *testing.T, scrape []byte) {
	t.Helper()
	c := exec.CommandContext(t.Context(), "promtool", "check", "metrics")
	c.Stdin = bytes.NewReader(scrape)
	out, _ := c.CombinedOutput() // it ends with an error for what is meant, too
	for line := range strings.Lines(string(out)) {
		if !strings.Contains(line, "degree_days use base unit") {
			t.Errorf("promtool: %s", line)
		}
	}
}

// A browser of 2019, on an old tablet beside the boxes, runs the scripts of the pages.
func TestScriptsParseInABrowserOf2019(t *testing.T) {
	t.Parallel()
	scripts, err := filepath.Glob("internal/web/*/*.js")
	if err != nil || len(scripts) < 6 {
		t.Fatalf("%d scripts: %v", len(scripts), err)
	}
	const parser = "../../testdata/browser/node_modules/acorn/bin/acorn"
	for _, name := range scripts {
		if out, err := exec.CommandContext(t.Context(), "node", parser, "--ecma2019", "--silent", name).CombinedOutput(); err != nil {
			t.Errorf("%s: %v: %s", name, err, out)
		}
	}
}
