package client

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/storage"
)

// A command of the book neither makes, checks nor changes the readings' file, not even a damaged
// one: its check can take minutes. It keeps no window, because it has no readings.
func TestDialBookLeavesTheReadings(t *testing.T) {
	dir := t.TempDir()
	data := filepath.Join(dir, "data")
	config := filepath.Join(dir, "o.toml")
	text := fmt.Sprintf("[station]\ndata = %q\n[[probe]]\nname = \"p\"\ndriver = \"simulated\"\n[[zone]]\nname = \"room\"\nkind = \"room\"\nprobes = [\"p\"]\n", data)
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	readings := filepath.Join(data, storage.ReadingsName)
	damaged := []byte(strings.Repeat("no readings\n", 1000))
	for i, line := range []string{
		`{"key":"a","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}`,
		`{"key":"b","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"C","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}`,
	} {
		c, err := DialBook(t.Context(), config, daemon.Build{})
		if err != nil {
			t.Fatal(err)
		}
		report, err := c.Add(t.Context(), []byte(line), "a file")
		if err != nil || report != "noted: 1 new entry" {
			t.Errorf("%q, %v", report, err)
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(readings)
		if i == 0 && !os.IsNotExist(err) || i == 1 && !bytes.Equal(got, damaged) {
			t.Errorf("the readings' file has %d bytes, %v", len(got), err)
		}
		if err := os.WriteFile(readings, damaged, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	c, err := DialBook(t.Context(), config, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if e, voids, err := c.Undo(t.Context(), "b"); err != nil || e.Clutch != "C" || len(voids) != 1 {
		t.Errorf("undone %+v by %+v, %v", e, voids, err)
	}
}
