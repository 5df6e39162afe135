package passphrase

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestPassphrase(t *testing.T) {
	dir := t.TempDir()
	f := FileIn(dir)
	if set, err := f.IsSet(); set || err != nil {
		t.Fatalf("before it is set: %v, %v", set, err)
	}
	if right, err := f.Right(""); right || err == nil {
		t.Fatal("a text matched before a passphrase was set")
	}
	if version, err := f.Version(); version != "" || err == nil {
		t.Errorf("before it is set its version is %q, %v", version, err)
	}
	versions := map[string]bool{}
	for _, text := range []string{"four warm eggs", "four warm eggs", "another for the room"} {
		if err := f.Set(text); err != nil {
			t.Fatal(err)
		}
		version, err := f.Version()
		if err != nil || versions[version] {
			t.Errorf("a new passphrase keeps its version (%v)", err)
		}
		versions[version] = true
		for try, want := range map[string]bool{text: true, "": false, text + " ": false, strings.ToUpper(text): false, strings.Repeat("a", 1<<20): false} {
			if right, err := f.Right(try); right != want || err != nil {
				t.Errorf("%.30q: %v, %v, want %v", try, right, err, want)
			}
		}
	}
	info, err := os.Stat(filepath.Join(dir, "passphrase"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file's mode is %v (%v)", info.Mode(), err)
	}
	if all, err := os.ReadDir(dir); err != nil || len(all) != 1 {
		t.Errorf("the folder holds %v (%v)", all, err)
	}
	text, err := os.ReadFile(filepath.Join(dir, "passphrase"))
	if err != nil || strings.Contains(string(text), "another") || !strings.HasPrefix(string(text), "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("the file is %q (%v)", text, err)
	}
}

// A torn file is an error, and no passphrase matches it.
func TestTornFile(t *testing.T) {
	f := FileIn(t.TempDir())
	if err := f.Set("four warm eggs"); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(f.path)
	if err != nil {
		t.Fatal(err)
	}
	for n := range len(whole) - 2 {
		if err := os.WriteFile(f.path, whole[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		if set, err := f.IsSet(); set || err == nil {
			t.Fatalf("%d bytes of it are taken for a passphrase", n)
		}
	}
}

// These texts cannot be passphrases.
func TestRefusedPassphrases(t *testing.T) {
	f := FileIn(t.TempDir())
	for _, text := range []string{"", "short", strings.Repeat("a", 257), "a line\nand one", "\xff\xff\xff\xff\xff\xff\xff\xff\xff"} {
		if err := f.Set(text); err == nil {
			t.Errorf("%.20q was accepted", text)
		}
	}
	if set, _ := f.IsSet(); set {
		t.Error("a refused passphrase was stored")
	}
}
