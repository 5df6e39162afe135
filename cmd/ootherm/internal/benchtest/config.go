package benchtest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Written writes a configuration with one probe, one zone and these senders. It returns the
// file's path.
func Written(t *testing.T, senders string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "ootherm.toml")
	text := `[station]
name = "egg room"
[[probe]]
name = "air"
driver = "simulated"
[[zone]]
name = "room"
probes = ["air"]
wanted = { low = "20C" }
` + senders
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Edited writes the same configuration without senders and replaces one piece of its text.
func Edited(t *testing.T, old, text string) string {
	t.Helper()
	path := Written(t, "")
	original, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(strings.Replace(string(original), old, text, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
