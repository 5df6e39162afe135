package benchtest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Written is a configuration file with one probe, one zone and these senders.
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

// Edited is that configuration with one piece of its text put in another's place.
func Edited(t *testing.T, old, text string) string {
	t.Helper()
	path := Written(t, "")
	was, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(strings.Replace(string(was), old, text, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
