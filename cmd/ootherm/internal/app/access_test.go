package app

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A page that is open to the network is refused until there is a passphrase.
func TestOpenPageNeedsAPassphrase(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "ootherm.toml")
	text := "[station]\nlisten = \"0.0.0.0:0\"\ndata = \"" + filepath.Join(dir, "data") + "\"\n[[probe]]\nname = \"p\"\ndriver = \"simulated\"\n[[zone]]\nname = \"room\"\nkind = \"room\"\nprobes = [\"p\"]\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	err := Check(io.Discard, path)
	if err == nil || !Misconfigured(err) || !strings.Contains(err.Error(), "ootherm passphrase") {
		t.Fatalf("check says %v", err)
	}
	if err := SetPassphrase(path, "short"); err == nil {
		t.Error("a short passphrase was taken")
	}
	if err := SetPassphrase(path, "four warm eggs"); err != nil {
		t.Fatal(err)
	}
	if err := Check(io.Discard, path); err != nil {
		t.Errorf("with a passphrase check says %v", err)
	}
}

// An empty secret, as a cut left it when files were not made aside, is made anew, whole;
// one that is there stays.
func TestCalendarSecretIsMadeOnce(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "calendar-secret")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	first, err := calendarSecret(dir)
	if err != nil || len(first) < leastSecret {
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
