package main

import (
	"testing"
	"time"
)

// A table for a spreadsheet has times that it takes as times, and their zone.
func TestExportForASpreadsheet(t *testing.T) {
	config, _, _ := small(t)
	if got := do(t, `{"key":"k","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Moss"}`+"\n", "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	rows := readCSV(t, do(t, "", "export", "--csv", "--config", config).out)
	if len(rows) != 2 {
		t.Fatalf("%q", rows)
	}
	times := 0
	for i, name := range rows[0] {
		layout := map[string]string{"at": "2006-01-02T15:04:05", "recorded": "2006-01-02T15:04:05", "time_zone": "UTC-07:00"}[name]
		if cell := rows[1][i]; layout != "" {
			if _, err := time.Parse(layout, cell); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			times++
		}
	}
	if times != 3 {
		t.Errorf("%d columns of times and their zone, want 3: %q", times, rows[0])
	}
}
