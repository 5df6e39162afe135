package daemon

import (
	"os"
	"path/filepath"
	"testing"
)

// An empty file, as a power cut can leave it, gets a new secret. An existing secret stays.
func TestCalendarSecretIsMadeOnce(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "calendar-secret")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	first, err := calendarSecret(dir)
	if err != nil || len(first) < minSecretLength {
		t.Fatalf("%q, %v", first, err)
	}
	again, err := calendarSecret(dir)
	if err != nil || again != first {
		t.Errorf("then %q, %v, want %q", again, err, first)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v: others may read it", info.Mode(), err)
	}
}
