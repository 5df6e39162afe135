package check

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// A page that is open to the network is refused until there is a passphrase.
func TestOpenPageNeedsAPassphrase(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "ootherm.toml")
	text := "[station]\nlisten = \"0.0.0.0:0\"\ndata = \"" + filepath.Join(dir, "data") + "\"\n[[probe]]\nname = \"p\"\ndriver = \"simulated\"\n[[zone]]\nname = \"room\"\nkind = \"room\"\nprobes = [\"p\"]\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	err := Configuration(io.Discard, path)
	if err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "ootherm passphrase") {
		t.Fatalf("check says %v", err)
	}
	if err := daemon.SetPassphrase(path, "short"); err == nil {
		t.Error("a short passphrase was taken")
	}
	if err := daemon.SetPassphrase(path, "four warm eggs"); err != nil {
		t.Fatal(err)
	}
	if err := Configuration(io.Discard, path); err != nil {
		t.Errorf("with a passphrase check says %v", err)
	}
}
