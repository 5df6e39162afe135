package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/licence"
)

// The text that is linked in is that of the modules as they are now.
func TestTextIsCurrent(t *testing.T) {
	want, err := generate("..")
	if err != nil {
		t.Fatal(err)
	}
	if licence.Text != string(want) {
		t.Error("linked.txt is not what the program writes; run go generate in cmd/ootherm/internal/licence")
	}
	for _, name := range []string{"\nthe Go standard library\n", "\ngo.etcd.io/bbolt v", "Apache License"} {
		if !strings.Contains(licence.Text, name) {
			t.Errorf("%q is not named", name)
		}
	}
}

// A module without a licence is refused.
func TestWithoutLicence(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "README.md"), []byte("free for all"), 0o600); err != nil {
		t.Fatal(err)
	}
	if text, err := licenceOf(dir); err == nil {
		t.Errorf("the licence is %q", text)
	}
}
