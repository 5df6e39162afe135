package main

import (
	"testing"
	"time"
)

// A table for a spreadsheet has times that it takes as times.
func TestExportForASpreadsheet(t *testing.T) {
	config, _, _ := small(t)
	if got := do(t, `{"key":"k","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Moss"}`+"\n", "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	rows := readCSV(t, do(t, "", "export", "--csv", "--config", config).out)
	if len(rows) != 2 {
		t.Fatalf("%q", rows)
	}
	for i, name := range rows[0] {
		if cell := rows[1][i]; cell != "" && (name == "at" || name == "recorded") {
			if _, err := time.Parse(time.DateTime, cell); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}
