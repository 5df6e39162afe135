package readtoken

import (
	"os"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

var day = time.Date(2027, 4, 1, 12, 0, 0, 0, time.UTC)

// A token is valid from when it is made until it is revoked, and its text is not stored.
func TestTokenLife(t *testing.T) {
	dir := t.TempDir()
	f := FileIn(dir)
	valid := func(secret string, want bool) {
		t.Helper()
		if got, err := f.Valid(secret); err != nil || got != want {
			t.Errorf("valid is %v, %v; want %v", got, err, want)
		}
	}
	valid("", false) // without a file
	desk, err := f.Make("desk", day)
	if err != nil {
		t.Fatal(err)
	}
	hub, err := f.Make("home hub", day)
	if err != nil {
		t.Fatal(err)
	}
	if desk == hub || len(desk) < 52 {
		t.Errorf("%q and %q can be guessed", desk, hub)
	}
	valid(desk, true)
	valid(hub, true)
	valid(desk+"x", false)
	valid("", false)
	stored, err := os.ReadFile(f.path)
	if err != nil || strings.Contains(string(stored), desk) {
		t.Errorf("%v; the file holds the token: %s", err, stored)
	}
	if info, err := os.Stat(f.path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v: others may read it", info.Mode(), err)
	}
	if err := f.Revoke("desk"); err != nil {
		t.Fatal(err)
	}
	valid(desk, false)
	valid(hub, true)
	all, err := f.List()
	if err != nil || len(all) != 1 || all[0].Name != "home hub" || all[0].Made != "2027-04-01" {
		t.Errorf("%v, %v", all, err)
	}
}

// What cannot be done says so, and changes nothing.
func TestRefused(t *testing.T) {
	f := FileIn(t.TempDir())
	first, err := f.Make("desk", day)
	if err != nil {
		t.Fatal(err)
	}
	for what, try := range map[string]func() error{
		"an empty name":     func() error { _, err := f.Make("", day); return err },
		"a name with a tab": func() error { _, err := f.Make("a\tb", day); return err },
		"a long name":       func() error { _, err := f.Make(strings.Repeat("x", 65), day); return err },
		"a name twice":      func() error { _, err := f.Make("desk", day); return err },
		"a name unknown":    func() error { return f.Revoke("hub") },
	} {
		if err := try(); !usererr.IsUsage(err) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if ok, err := f.Valid(first); err != nil || !ok {
		t.Errorf("the first token is valid: %v, %v", ok, err)
	}
	if err := os.WriteFile(f.path, []byte("[{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Valid(first); err == nil || !strings.Contains(err.Error(), "damaged") {
		t.Errorf("of a damaged file: %v", err)
	}
	if _, err := f.Make("new", day); err == nil {
		t.Error("a damaged file is replaced unasked")
	}
}
