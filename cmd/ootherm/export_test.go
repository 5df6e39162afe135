package main

import (
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"
)

// The book that is exported is the book: read into a new one it folds to the same,
// whatever the names in it. As a table it does no harm in a spreadsheet.
func TestExportAndBack(t *testing.T) {
	config, _, _ := small(t)
	const hostile = `{"key":"=k1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"=HYPERLINK(\"x\")","profile":"crested gecko"}
{"key":"k2","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"@S,1","dam":"=HYPERLINK(\"x\")","eggs":2,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"k3","at":"2026-04-03T19:00:00Z","entry":"note","about":"-1+1","text":"+1, \"größer\"\nin two lines\tand a tab"}
{"key":"k4","at":"2026-04-03T19:00:00Z","entry":"lost","egg":"@S,1-2","why":"\tmould"}
{"key":"k5","at":"2026-04-04T19:00:00Z","entry":"void","void":"k4"}
`
	if got := do(t, hostile, "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	lines := do(t, "", "export", "--config", config)
	if lines.code != 0 || strings.Count(lines.out, "\n") != 5 {
		t.Fatalf("%d: %s%s", lines.code, lines.out, lines.errout)
	}
	other, _, _ := small(t)
	if got := do(t, lines.out, "book", "add", "--config", other); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	again := do(t, "", "export", "--config", other)
	if bare(t, again.out) != bare(t, lines.out) {
		t.Errorf("came back as\n%s\nnot\n%s", again.out, lines.out)
	}
	for _, command := range [][]string{{"book", "list"}, {"review", "--json", "--from", "2026-01-01", "--to", "2026-12-31"}} {
		a, b := do(t, "", append(command, "--config", config)...), do(t, "", append(command, "--config", other)...)
		if a.code != 0 || command[0] == "review" && a.out != b.out {
			t.Errorf("%v: %d: the two books tell %q and %q", command, a.code, a.out, b.out)
		}
	}
	table := do(t, "", "export", "--config", config, "--csv")
	if table.code != 0 {
		t.Fatalf("%d: %s", table.code, table.errout)
	}
	rows := readCSV(t, table.out)
	if len(rows) != 6 {
		t.Fatalf("%d rows: %q", len(rows), table.out)
	}
	for i, row := range rows {
		for j, cell := range row {
			if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
				t.Errorf("row %d, %s: a spreadsheet takes %q for a formula", i, rows[0][j], cell)
			}
		}
	}
	if !strings.Contains(table.out, "größer\"\"\r\nin two lines") {
		t.Errorf("a text in two lines and two alphabets came out as %q", table.out)
	}
}

// bare are the lines of an export without what the ledger added.
func bare(t *testing.T, lines string) string {
	t.Helper()
	var all []string
	for line := range strings.Lines(lines) {
		var m map[string]any
		if err := json.Unmarshal([]byte(line), &m); err != nil {
			t.Fatal(err)
		}
		delete(m, "recorded")
		b, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, string(b))
	}
	return strings.Join(all, "\n")
}

func readCSV(t *testing.T, table string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}
